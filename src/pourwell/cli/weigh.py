"""`pourwell weigh`: the charge for a tree on the scale."""

import re
from itertools import pairwise
from typing import TYPE_CHECKING, Annotated

import typer

from pourwell.cli.options import AlloyId, AsJson, BaseG, OwnAlloying, PatternId, WaxG
from pourwell.errors import BadRequestError

if TYPE_CHECKING:
    from pourwell.app.quick import ChargeAnswer
    from pourwell.steps.melt.model import Charge

NAME = "weigh"


def refuse(args: list[str]) -> None:
    """A weight below 0, which would be read as an option. Raises BadRequestError."""
    for before, word in pairwise(("", *args)):
        if re.fullmatch(r"-\.?\d[\d.,]*", word) and not before.startswith("--"):
            raise BadRequestError(
                f"A weight is above 0, and this is {word}.", try_this="Enter what the scale shows, in g, as 41.2."
            )


def command(
    weight: Annotated[float, typer.Argument(help="What the scale shows, in g.")],
    *,
    alloy: AlloyId,
    base: BaseG = 0.0,
    pattern: PatternId = "resin",
    wax: WaxG = None,
    flask: Annotated[str, typer.Option(help="The flask, for the dome of its base.")] = "",
    returns: Annotated[float, typer.Option(help="Share of clean returns in the charge, 0 to 1.")] = 0.0,
    own_alloying: OwnAlloying = False,
    as_json: AsJson = False,
) -> None:
    """The charge for a tree on the scale.

    Example: pourwell weigh 41.2 --base 26.9 --pattern resin --alloy sterling-925
    """
    from pourwell.app.quick import charge_for
    from pourwell.cli.show import end_on_stop, print_json
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
    else:
        _print(answer)
    end_on_stop(answer.findings)


def _print(answer: "ChargeAnswer") -> None:
    from pourwell.cli.show import print_findings, print_rows, print_winners
    from pourwell.steps.flask.model import FIGURES_WIN

    charge, tree = answer.charge, answer.weighed
    band = f"{charge.low_g:.1f} to {charge.high_g:.1f}{', for its share of wax is unknown' if tree.mixed else ''}"
    print_winners((FIGURES_WIN,))
    print_rows(
        [
            ("charge", f"{charge.total_g:.1f} g", f"{band}; melt loss included"),
            ("fresh", f"{charge.fresh_g:.1f} g", _split(charge)),
            *([("returns", f"{charge.returns_g:.1f} g", "clean sprues and buttons, once cast")] if charge.returns_g else []),
            ("tree", f"{tree.pattern_g:.2f} g", f"becomes {tree.body_g:.1f} g of {answer.alloy_name}"),
            ("button", f"{tree.button_g:.1f} g", answer.button_words),
        ]
    )
    print_findings(answer.findings)


def _split(charge: "Charge") -> str:
    if charge.master_g:
        return f"fine {charge.fine} {charge.fine_g:.2f} g, master alloy {charge.master_g:.2f} g"
    return ""
