"""`pourwell weigh`: the charge for a tree on the scale."""

from typing import Annotated

import typer

NAME = "weigh"


def command(
    weight: Annotated[float, typer.Argument(help="What the scale shows, in g.")],
    alloy: Annotated[str, typer.Option(help="Alloy id; see `pourwell materials`.")],
    base: Annotated[float, typer.Option(help="The base, if it is on the scale too, in g.")] = 0.0,
    pattern: Annotated[str, typer.Option(help="What the pieces are made of.")] = "resin",
    wax: Annotated[float, typer.Option(help="How much of the tree is sprue wax, in g.")] = 0.0,
    flask: Annotated[str, typer.Option(help="The flask, for the dome of its base.")] = "",
    returns: Annotated[float, typer.Option(help="Share of clean returns in the charge, 0 to 1.")] = 0.0,
    own_alloying: Annotated[
        bool, typer.Option("--own-alloying", help="Split fresh metal into fine metal and master alloy.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print data instead of text.")] = False,
) -> None:
    """The charge for a tree on the scale.

    Example: pourwell weigh 41.2 --base 26.9 --pattern resin --alloy sterling-925
    """
    from pourwell.app.quick import charge_for
    from pourwell.cli.show import print_findings, print_json, print_rows
    from pourwell.files.plan_json import plain

    answer = charge_for(
        weight,
        base_g=base,
        wax_g=wax,
        alloy=alloy,
        pattern=pattern,
        flask=flask,
        returns_fraction=returns,
        own_alloying=own_alloying,
    )
    if as_json:
        print_json(plain(answer))
        return
    charge, tree = answer.charge, answer.weighed
    print_rows(
        [
            ("charge", f"{charge.total_g:.1f} g", f"{charge.low_g:.1f} to {charge.high_g:.1f}; melt loss included"),
            ("fresh", f"{charge.fresh_g:.1f} g", _split(charge)),
            *([("returns", f"{charge.returns_g:.1f} g", "clean sprues and buttons, once cast")] if charge.returns_g else []),
            ("tree", f"{tree.pattern_g:.2f} g", f"becomes {tree.body_g:.1f} g of {answer.alloy_name}"),
            ("button", f"{tree.button_g:.1f} g", answer.button_words),
        ]
    )
    print_findings(answer.findings)


def _split(charge) -> str:  # type: ignore[no-untyped-def]
    if charge.master_g:
        return f"fine {charge.fine} {charge.fine_g:.1f} g, master alloy {charge.master_g:.1f} g"
    return ""
