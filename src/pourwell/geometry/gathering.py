"""Regions of many layers followed from layer to layer: which come together, and which stay apart."""

from collections.abc import Iterator
from dataclasses import dataclass

from pourwell.geometry.mesh import Floats, Ints


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Regions:
    """The regions of all layers.

    Attributes
    ----------
    layer : (r,) int array
    area : (r,) float array [mm2]
    middle : (r, 2) float array [mm]
    pairs : (p, 2) int array: a region and one of the layer beneath that it lies over; the outside is the number after the last
    common : (p,) float array [mm2]: what they have in common
    """

    layer: Ints
    area: Floats
    middle: Floats
    pairs: Ints
    common: Floats

    def __post_init__(self) -> None:
        for array in (self.layer, self.area, self.middle, self.pairs, self.common):
            array.setflags(write=False)

    def turned_over(self, count: int) -> "Regions":
        """The same seen from the other end of so many layers."""
        pairs = self.pairs[:, ::-1].copy()
        return Regions(layer=count - 1 - self.layer, area=self.area, middle=self.middle, pairs=pairs, common=self.common)


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """What comes together in one layer.

    Attributes
    ----------
    name : by which it goes from now on: the outside, else its eldest part, else its first new region
    old : names of the parts beneath; the outside is the number after the last region
    new : regions of this layer
    """

    name: int
    old: tuple[int, ...]
    new: tuple[int, ...]


def groups(found: Regions, count: int, *, open_first: bool) -> Iterator[tuple[int, list[Group]]]:
    """What comes together layer by layer, parts that no layer joins left apart.

    Parameters
    ----------
    open_first : the regions of the first layer belong to the outside
    """
    outside = len(found.layer)
    began = [*found.layer.tolist(), -1]
    parent = list(range(outside + 1))
    regions: list[list[int]] = [[] for _ in range(count)]
    pairs: list[list[tuple[int, int]]] = [[] for _ in range(count)]
    for number in range(outside):
        regions[began[number]].append(number)
    for upper, lower in found.pairs.tolist():
        if upper < outside or lower < outside:
            pairs[began[upper] if upper < outside else began[lower] + 1].append((upper, lower))
    for layer in range(count):
        old = {lower: _head(parent, lower) for _, lower in pairs[layer]}
        linked = [(upper, old[lower]) for upper, lower in pairs[layer]]
        if open_first and layer == 0:
            linked += [(number, outside) for number in regions[0]]
        out = []
        for members in _together({outside, *regions[layer], *old.values()}, linked):
            new = tuple(m for m in members if m < outside and began[m] == layer)
            before = tuple(m for m in members if m == outside or began[m] < layer)
            name = min(before or new, key=lambda m: (began[m], m))
            for member in members:
                parent[member] = name
            out.append(Group(name=name, old=before, new=new))
        yield layer, out


def _head(parent: list[int], item: int) -> int:
    while parent[item] != item:
        parent[item] = parent[parent[item]]
        item = parent[item]
    return item


def _together(items: set[int], linked: list[tuple[int, int]]) -> list[list[int]]:
    """Items in sets that hang together over links."""
    parent = {item: item for item in items}
    for a, b in linked:
        while parent[a] != a:
            a = parent[a]
        while parent[b] != b:
            b = parent[b]
        parent[a] = b
    out: dict[int, list[int]] = {}
    for item in sorted(items):
        head = item
        while parent[head] != head:
            head = parent[head]
        out.setdefault(head, []).append(item)
    return list(out.values())
