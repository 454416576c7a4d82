"""`pourwell mix`: powder, water and the working clock for a flask."""

from typing import TYPE_CHECKING, Annotated, Literal

import typer

from pourwell.cli.options import AsJson

if TYPE_CHECKING:
    from pourwell.findings import Finding
    from pourwell.steps.flask.model import Mix

NAME = "mix"


def command(
    flask: Annotated[str, typer.Argument(help="Flask id, or inside diameter x height in mm as 76x100.")],
    *,
    investment: Annotated[str, typer.Option(help="Investment id; see `pourwell materials`.")] = "gypsum-resin",
    section: Annotated[
        Literal["thin", "medium", "heavy"], typer.Option(help="Of the pieces: thin ones take more water.")
    ] = "medium",
    as_json: AsJson = False,
) -> None:
    """What to weigh and mix for a flask.

    Example: pourwell mix 76x100
    """
    from pourwell.app.mixing import mix_for
    from pourwell.cli.show import end_on_stop, print_json
    from pourwell.files.plan_json import plain

    mix, found = mix_for(flask, investment=investment, section=section)
    if as_json:
        print_json(plain({"investment": mix, "findings": found}))
    else:
        _print(mix, found)
    end_on_stop(found)


def _print(mix: "Mix", found: "tuple[Finding, ...]") -> None:
    from pourwell.cli.show import console, print_findings, print_rows, print_winners
    from pourwell.steps.flask.clock import WETTING
    from pourwell.steps.flask.model import who_wins

    print_winners(who_wins(mix.binder))
    print_rows(
        [
            ("powder", f"{mix.powder_g:g} g", f"{mix.name}; weigh it with the respirator on"),
            (
                "water",
                f"{mix.water_g:g} g",
                f"{mix.ratio_g_per_100_g:g} to 100, {mix.water_low_c:g} to {mix.water_high_c:g} °C; water first",
            ),
            ("bowl", f"{mix.bowl_cm3 / 1000:.1f} l", f"or more; slurry {mix.slurry_cm3:.0f} cm³"),
        ]
    )
    console().print()
    if mix.wetting_min:
        console().print(f"  first  {WETTING} {mix.wetting_min:g} min")
    for step in mix.clock:
        span = f"{step.at_s // 60}:{step.at_s % 60:02d}"
        console().print(f"  [bold]{span:>6}[/]  {_spelt(step.says)}")
    console().print(f"  then   not moved for {mix.still_min:g} min; {mix.set_h:g} h in all before the kiln")
    print_findings(found)


def _spelt(sentence: str) -> str:
    from pourwell.findings import spelt_out

    return spelt_out(sentence)
