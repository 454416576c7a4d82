"""A flask weighed before and after its burnout: how much of its free water went into the kiln."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from importlib.metadata import version
from math import isfinite, pi
from typing import Final

from pourwell.app.calibrating import Told
from pourwell.app.calibrating_case import even, made_of, water_band
from pourwell.app.calibrating_words import Value
from pourwell.app.shop import Shop, open_shop
from pourwell.errors import BadRequestError
from pourwell.materials.calibration import Calibration, Measure
from pourwell.materials.model import FlaskRow, Investment
from pourwell.physics.burnout.weighing import WaterWeighed, Weighing, water_share
from pourwell.physics.mould import Composition
from pourwell.steps.day.clock import local
from pourwell.steps.flask.plan import parse_flask
from pourwell.units import kg_from_g, m3_from_cm3, m_from_mm

FILLED_OFF: Final = 0.05
"""How far the mould's volume by the flask's size may be off, as a share: headspace and dome; own estimate."""
PATTERN_G_PER_CM3: Final = 1.1
"""Of a resin pattern, for the room that it leaves; wax differs by a tenth."""
KEYS: Final = ("before", "after", "empty", "pattern")
CERTAIN: Final = 2.0
"""Standard uncertainties by which a share must be outside 0 to 1 to be impossible."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleWish:
    """What was weighed."""

    weighed: str
    """`before=1480,after=1210,empty=410,pattern=9.4` in g."""
    flask: str
    investment: str = "gypsum-resin"
    resolution_g: float = 1.0
    stood_h: float | None = None
    """How long it stood before the kiln; kept beside the value, for it decides it."""


def calibrate_weighed(wish: ScaleWish, *, now: datetime, shop: Shop | None = None) -> Told:
    """What a weighing tells of the water; what is kept of it bears the day of the studio's clock.

    Raises BadRequestError for weights that no burnout gives, UnknownNameError for names unknown.
    """
    shop = shop or open_shop()
    if not wish.flask:
        raise BadRequestError("Which flask was it?", try_this="Say --flask 76x100.")
    row, investment = parse_flask(wish.flask, shop.studio, shop.library), shop.library.investment(wish.investment)
    weights = _weights(wish.weighed)
    if not 0 < wish.resolution_g <= min(weights["before"], weights["after"]) / 10:
        raise BadRequestError(
            f"No scale shows steps of {wish.resolution_g:g} g here.", try_this="Say --resolution-g 1, or what yours shows."
        )
    found = _found(weights, row, investment, resolution_g=wish.resolution_g)
    share, off = found.share, found.uncertainty
    low, high = water_band(shop.library)
    parts = ", ".join(f"{name} {abs(part):.3f}" for name, part in sorted(found.parts.items(), key=lambda p: -abs(p[1]))[:3])
    value = Value(
        key="water_ratio",
        kind="flask",
        what="water that went into the kiln",
        value=min(1.0, max(0.0, share)),
        uncertainty=off,
        low=low,
        high=high,
        unit="1",
        measured=True,
        remark=f"{1000 * found.free:.0f} g of {1000 * found.mixed:.0f} g as mixed; uncertain by {parts}",
    )
    stood = f", stood {wish.stood_h:g} h" if wish.stood_h is not None else ""
    about = f"{row.id} flask weighed to {wish.resolution_g:g} g: {wish.weighed}{stood}"
    kept = Calibration(
        kind="flask",
        of=row.id,
        measured_at=local(now, shop.studio.zone),
        way="weighing",
        fitted_from=about,
        package_version=version("pourwell"),
        water_ratio=Measure(value=value.value, uncertainty=off, unit="1"),
    )
    notes = () if "empty" in weights else ("Weigh the empty flask too (empty=...): its mould's volume is then not guessed.",)
    return Told(values=(value,), calibrations=(kept,), notes=notes, doubtful=_doubt(found))


def _doubt(found: WaterWeighed) -> str:
    if not -CERTAIN * found.uncertainty <= found.share <= 1 + CERTAIN * found.uncertainty:
        return (
            f"The flask lost {100 * found.share:.0f} percent of the water it was mixed with: look at the weights, the "
            "pattern's, and the investment's water."
        )
    return ""


def _weights(text: str) -> Mapping[str, float]:
    """The weights [g] by name. Raises BadRequestError for what is none."""
    out: dict[str, float] = {}
    for entry in filter(None, (part.strip() for part in text.split(","))):
        name, _, figure = entry.partition("=")
        try:
            weight = float(figure.strip().removesuffix("g"))
        except ValueError:
            weight = float("nan")
        if name.strip() not in KEYS or not (isfinite(weight) and 0 <= weight < 1e5):
            raise BadRequestError(
                f'"{entry}" is no weight.', try_this="Write before=1480,after=1210,empty=410,pattern=9.4, in g with points."
            )
        out[name.strip()] = weight
    missing = [name for name in ("before", "after", "pattern") if name not in out]
    if missing:
        raise BadRequestError(
            f"The weighing lacks {' and '.join(missing)}.",
            why="The burnout takes water and pattern; one must be known to tell the other.",
            try_this="Write before=1480,after=1210,pattern=9.4 in g; pattern=0 for a flask without.",
        )
    return out


def _found(weights: Mapping[str, float], row: FlaskRow, investment: Investment, *, resolution_g: float) -> WaterWeighed:
    water, binder = investment.water_g_per_100_g, investment.hemihydrate_fraction
    doubts: dict[str, Composition] = {
        "water ratio": made_of(investment, water_g=water.value + even(*water.ends)),
        "binder": made_of(investment, binder_fraction=binder.value + even(*binder.ends)),
    }
    inside = pi * m_from_mm(row.diameter_mm / 2) ** 2 * m_from_mm(row.height_mm)
    return water_share(
        Weighing(
            before=kg_from_g(weights["before"]),
            after=kg_from_g(weights["after"]),
            empty=kg_from_g(weights["empty"]) if "empty" in weights else None,
            pattern=kg_from_g(weights["pattern"]),
            resolution=kg_from_g(resolution_g),
        ),
        made_of(investment),
        volume=inside - m3_from_cm3(weights["pattern"] / PATTERN_G_PER_CM3),
        doubts=doubts,
        volume_off=FILLED_OFF,
    )
