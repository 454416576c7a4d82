"""Which pieces share a tier, and in which order they go round."""

import math
from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import pairwise
from typing import Final

ALIKE_COST: Final = 10.0
EVEN_COST: Final = 0.5
"""How bad a second kind in a tier is, in squares of pieces off the mean: where like is kept with like, and where tiers are kept
even. Own choice."""


def dealt(group: Sequence[int]) -> list[int]:
    """A tier's pieces in the order in which they go round: heavy and light in turn."""
    half = (len(group) + 1) // 2
    out: list[int] = []
    for k in range(half):
        out.append(group[k])
        if half + k < len(group):
            out.append(group[half + k])
    return out


FEW_START_DEG: Final = {1: 90.0, 2: 65.0}
"""Where the first of one or two pieces hangs: none of them, nor of two turned by half a step, hides behind the stem. Own choice."""


def first_azimuth_deg(count: int) -> float:
    """Where the first piece of the lowest tier hangs, so that in elevation as few as may be hide each other or the stem.

    Mirrored at the line of sight the pieces fall half way between themselves; an odd number is turned on by a sixth of a step, so
    that none stands straight behind the stem.
    """
    if count in FEW_START_DEG:
        return FEW_START_DEG[count]
    step = 360 / count
    return float(round((90 + step / 4 + (step / 6 if count % 2 else 0)) % step))


@lru_cache(maxsize=256)
def partition(items: tuple[int, ...], tiers_count: int, mixed_cost: float = ALIKE_COST) -> tuple[tuple[int, ...], ...]:
    """Divide kinds in a row into so many tiers, as even and as much alike as may be; the lower ones come first."""
    size, mean = len(items), len(items) / tiers_count
    best: list[list[tuple[float, int]]] = [[(0.0 if end == 0 else math.inf, 0) for end in range(size + 1)]]
    for _ in range(tiers_count):
        row = [(math.inf, 0)] * (size + 1)
        for end in range(1, size + 1):
            for start in range(end):
                if best[-1][start][0] < math.inf:
                    kinds = len(set(items[start:end]))
                    cost = best[-1][start][0] + mixed_cost * (kinds - 1) + (end - start - mean) ** 2
                    row[end] = min(row[end], (round(cost, 9), start))
        best.append(row)
    cuts = [size]
    for row in reversed(best[1:]):
        cuts.append(row[cuts[-1]][1])
    cuts.reverse()
    return tuple(items[start:end] for start, end in pairwise(cuts))


def plans(
    items: tuple[int, ...], tiers_count: int, *, finely: bool
) -> Iterator[tuple[tuple[tuple[int, ...], ...], tuple[int, ...]]]:
    """Divisions of kinds in a row into so many tiers, the most orderly first, each with the spokes of its tiers.

    Equal angles come first; then as many spokes in every tier, so that all nest; then one spoke left free in one tier, as the tree
    of one more piece would have it.

    Parameters
    ----------
    finely : go through them all, not only the first two
    """
    if not items:
        yield (), ()
        return
    for groups in dict.fromkeys((partition(items, tiers_count), partition(items, tiers_count, EVEN_COST))):
        own = tuple(len(group) for group in groups)
        free = [tuple(n + (k == j) for j, n in enumerate(own)) for k in range(len(own))]
        for spokes in dict.fromkeys((own, tuple(max(own) for _ in own), *(free if finely else ()))):
            yield groups, spokes
        if not finely:
            return
