"""How thick a sprue: by its section against the section that it feeds, in stock gauges; and how thick a stem."""

import math
from collections.abc import Iterable

from pourwell.materials.library import Library


def round_mm2(diameter_mm: float) -> float:
    """Section of a round bar."""
    return math.pi * diameter_mm**2 / 4


def gauges_mm(library: Library) -> tuple[float, ...]:
    """The gauges in stock, the finest first."""
    stock, step = library.rules["sprue_gauge_mm"], library.rule("sprue_gauge_step_mm")
    least, most = stock.low or stock.value, stock.high or stock.value
    return tuple(least + k * step for k in range(round((most - least) / step) + 1))


def fed_mm2(section_mm2: float, *, thickness_mm: float, library: Library) -> float:
    """The section that a sprue feeds: the smallest plane section at its foot, of a wide plate only a stretch beside the sprue.

    A plate much wider than thick freezes as a plate, however wide: beyond some squares of its thickness, more of it asks for
    no thicker sprue but for another one.

    Parameters
    ----------
    section_mm2 : smallest plane section there [mm2]
    thickness_mm : of the piece at the sprue's foot [mm]
    """
    return min(section_mm2, library.rule("sprue_plate_ratio") * thickness_mm**2)


def gauge_mm(fed: float, library: Library) -> float:
    """The finest stock gauge that is thick enough for the section it feeds [mm2]; the heaviest, if none is.

    Where the next stock gauge up would be thicker than is published, the one below is nearer.
    """
    stock = gauges_mm(library)
    least, most = library.rule("sprue_least_ratio"), library.rules["sprue_area_ratio"].high
    enough = [gauge for gauge in stock if round_mm2(gauge) >= least * fed]
    if not enough:
        return stock[-1]
    below = [gauge for gauge in stock if gauge < enough[0]]
    if below and most is not None and round_mm2(enough[0]) > most * fed:
        return below[-1]
    return enough[0]


def stem_mm(gauges: Iterable[float], *, socket_mm: float, library: Library) -> float:
    """Diameter of the stem: as the base's socket where that is usual, thicker for thick sprues and for many.

    Parameters
    ----------
    gauges : of all sprues [mm]
    socket_mm : of the rubber base [mm]
    """
    sprues = list(gauges)
    rule = library.rules["stem_mm"]
    most = rule.high or rule.value
    for_many = 2 * math.sqrt(sum(map(round_mm2, sprues)) / library.rule("stem_sprues_ratio") / math.pi)
    usual = max(rule.value, min(socket_mm, most), min(for_many, most))
    wanted = max(usual, library.rule("stem_to_sprue_ratio") * max(sprues, default=0.0))
    step = library.rule("sprue_gauge_step_mm")
    return math.ceil(wanted / step - step / 100) * step
