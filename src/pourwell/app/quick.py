"""A quick answer at the scale: the charge for a tree."""

from dataclasses import dataclass

from pourwell.app.shop import open_shop
from pourwell.findings import Finding
from pourwell.materials.library import Library
from pourwell.materials.studio import Studio
from pourwell.request import Request
from pourwell.steps.flask import plan as flasks
from pourwell.steps.flask.usual import usual_flask
from pourwell.steps.melt import checks as melt_checks
from pourwell.steps.melt import plan as melt
from pourwell.steps.melt.model import Charge
from pourwell.steps.tree import plan as trees
from pourwell.steps.tree.model import WeighedTree

CHARGE_CODES = ("own-row-doubtful", "alloy-poison", "alloy-advisory", "crucible-small", "returns-share", "weight-mixed")
"""Findings of the melt that concern the charge alone, if they are not about the investment."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeAnswer:
    """The charge for a tree on the scale."""

    alloy: str
    alloy_name: str
    charge: Charge
    weighed: WeighedTree
    button_words: str
    """Where the button's weight comes from."""
    findings: tuple[Finding, ...]


def charge_for(
    weight_g: float,
    *,
    base_g: float,
    wax_g: float | None,
    alloy: str,
    pattern: str,
    flask: str,
    returns_fraction: float,
    own_alloying: bool,
) -> ChargeAnswer:
    """The charge for a tree of this weight on the scale.

    Raises BadDataError for weights that cannot be, UnknownNameError for names that the library does not hold.
    """
    from pourwell.files.job_toml import build_request

    shop = open_shop()
    asked = {"weight_g": weight_g, "base_g": base_g, "wax_g": wax_g, "alloy": alloy, "pattern": pattern}
    asked |= {"returns_fraction": returns_fraction, "own_alloying": own_alloying}
    request = build_request(asked, where="command line", try_this="`pourwell weigh --help` says what may stand there.")
    return _charge(request, flask, studio=shop.studio, library=shop.library)


def _charge(request: Request, flask: str, *, studio: Studio, library: Library) -> ChargeAnswer:
    row, material = library.alloy(request.alloy), library.pattern(request.pattern)
    chosen = flasks.parse_flask(flask, studio, library) if flask else usual_flask(studio, library)
    fitted = flasks.fit_out(chosen, studio, library)
    assert request.weight_g is not None
    weighed = trees.weigh(
        request.weight_g - request.base_g,
        wax_g=request.wax_g,
        room=flasks.as_room(fitted),
        alloy=row,
        pattern_material=material,
        library=library,
    )
    charge = melt.charge(
        weighed.metal_g,
        low_g=weighed.metal_low_g,
        high_g=weighed.metal_high_g,
        alloy=row,
        melting=studio.melting,
        returns_fraction=request.returns_fraction,
        own_alloying=request.own_alloying,
        library=library,
    )
    investment = library.investment("phosphate" if row.mould == "phosphate" else "gypsum-standard")
    heat = melt.temperatures(row, investment=investment, section_mm=None, library=library, way=studio.casting.way)
    facts = melt_checks.Facts(
        alloy=row, investment=investment, temperatures=heat, charge=charge, library=library, mixed=weighed.mixed
    )
    dome = f"dome {fitted.dome_diameter_mm:g} x {fitted.dome_height_mm:g} mm of the base for {fitted.diameter_mm:g} mm flasks"
    return ChargeAnswer(
        alloy=row.id,
        alloy_name=row.name,
        charge=charge,
        weighed=weighed,
        button_words=dome + (", assumed: give yours in studio.toml" if fitted.base_assumed else ""),
        findings=tuple(f for f in melt_checks.findings(facts) if f.code in CHARGE_CODES and f.where != investment.id),
    )
