"""What `pourwell plan` and `pourwell demo` print: the figures one must not get wrong, the findings, the files."""

from typing import TYPE_CHECKING

from pourwell.cli.show import console, print_findings, print_rows

if TYPE_CHECKING:
    from pourwell.app.planning import Written
    from pourwell.plan import Plan

DASH = "\u2014"
"""Instead of a figure that is not to be worked by."""


def print_plans(written: "Written") -> None:
    """One block a run, then every file that was made."""
    from pourwell.app.planning import unprintable

    out = console()
    for plan in written.plans:
        _print_plan(plan)
    strange = unprintable(written.plans)
    if strange:
        out.print(f"No font here has {' '.join(strange)}: on the sheet a box stands in its place.", markup=False)
    out.print("\n[bold]Written[/]")
    for path in written.paths:
        out.print(f"  {path}", soft_wrap=True, markup=False)


def _off_words(plan: "Plan") -> str:
    """When the kiln goes off: with this flask, or with the last of its load; for this one it is off at the mains all the same."""
    stays = plan.kiln_load.runs and plan.kiln_load.runs[-1] != plan.number
    return (
        f"for the tongs; on again, until run {plan.kiln_load.runs[-1]} is out" if stays else "at the mains, as the flask comes out"
    )


def _print_plan(plan: "Plan") -> None:
    from rich.markup import escape

    from pourwell.cli.show import print_winners
    from pourwell.steps.day.night import IN_A_LINE
    from pourwell.steps.flask.model import who_wins

    heat, mix, charge, flask = plan.temperatures, plan.mix, plan.charge, plan.flask
    out = console()
    where = f"{plan.alloy.name}, flask {flask.diameter_mm:g} x {flask.height_mm:g} mm"
    out.print(f"\n[bold]Run {plan.number}[/]  {escape(plan.title)}: {escape(where)}")
    if plan.stopped:
        out.print("[bold white on red] DO NOT POUR [/] a finding below stops this run")
    print_winners(who_wins(mix.binder))
    wax = ", for its share of wax is unknown" if plan.weighed and plan.weighed.mixed else ""
    returns = f"{charge.fresh_g:.1f} fresh and {charge.returns_g:.1f} returns" if charge.returns_g else "all fresh"
    weighed = [
        ("charge", f"{charge.total_g:.1f} g", f"{charge.low_g:.1f} to {charge.high_g:.1f}{wax}; {returns}"),
        ("powder", f"{mix.powder_g:g} g", mix.name),
        (
            "water",
            f"{mix.water_g:g} g",
            f"{mix.water_low_c:g} to {mix.water_high_c:g} °C; bowl of {mix.bowl_cm3 / 1000:.1f} l or more",
        ),
    ]
    if plan.doubt:
        weighed = [(name, DASH, plan.doubt) for name, _, _ in weighed]
    print_rows(
        [
            *weighed,
            ("flask temperature", f"{heat.flask_c:.0f} °C", _band(heat.flask_low_c, heat.flask_high_c)),
            ("metal temperature", f"{heat.metal_c:.0f} °C", _band(heat.metal_low_c, heat.metal_high_c)),
            ("kiln on", f"{plan.kiln_on_at:%H:%M}", f"{plan.kiln_on_at:%A %d %B}"),
            ("pour", f"{plan.pour_at:%H:%M}", f"{plan.pour_at:%A %d %B}"),
            ("kiln off", f"{plan.kiln_load.comes_out_at:%H:%M}", _off_words(plan)),
        ]
    )
    if plan.fires_overnight:
        out.print(f"[bold]{escape(IN_A_LINE)}[/]")
    out.print()
    print_findings(plan.findings)
    for sentence in plan.unknown:
        out.print(f"[dim]Not known without a shape: {escape(sentence)}[/]")


def _band(low_c: float, high_c: float) -> str:
    """A band of temperatures, or nothing where it has no width."""
    return f"{low_c:.0f} to {high_c:.0f}" if round(low_c) < round(high_c) else ""
