"""What a wide band wants on a finger that was measured with a narrow gauge: a larger size."""

from itertools import product

from pourwell.materials.library import Library
from pourwell.steps.pattern.ranges import ends


def wide_around(width_mm: float, library: Library, *, comfort: bool, gauge_mm: float = 0.0) -> tuple[float, float, float]:
    """How much larger around a band must be than the gauge that went over the same finger [mm]: value, low and high.

    It grows with the width [mm] over a least one, up to a most; a comfort curve takes some of it back, never more than all. A gauge
    that is wide itself has taken part of it already: what it took, by the same rule, is less to add; a band narrower than its
    gauge wants a smaller size.

    Parameters
    ----------
    gauge_mm : width of the gauge [mm]; 0: a narrow one
    """
    rules = [library.rules[name] for name in ("wide_from_mm", "wide_band_ratio", "wide_most_mm", "comfort_loose_mm")]

    def larger(start_mm: float, ratio: float, most_mm: float, *, loose_mm: float) -> float:
        band, gauge = (max(min((wide_mm - start_mm) * ratio, most_mm), 0.0) for wide_mm in (width_mm, gauge_mm))
        return max(band - loose_mm, 0.0) - gauge if comfort else band - gauge

    cases = [larger(*case[:3], loose_mm=case[3]) for case in product(*((rule.value, *ends(rule)) for rule in rules))]
    return cases[0], min(cases), max(cases)
