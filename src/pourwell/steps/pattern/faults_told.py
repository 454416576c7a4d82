"""Faults of a surface, and what mending does about them, in a jeweller's words."""

from collections.abc import Iterable, Sequence
from typing import Final

from pourwell.geometry.mending import Change, Deed
from pourwell.geometry.places import Fault, FaultKind

HUNDREDTHS: Final = 2
"""Decimals in which the findings tell millimetres: what a calliper shows."""

CHORD_MM: Final = 0.02
"""A measure short of its limit by no more than this is at the limit: by so much the facets of a mesh lie off the round surfaces
that they stand for, a hundredth on each of two sides. Own choice: less than a printer keeps or a calliper tells."""

MOST_PLACES: Final = 3
"""Places of one kind that a sentence lists before it says how many more there are: what a reader goes and looks at."""

ONE_AND_MANY: Final = {
    FaultKind.OPEN: ("hole", "holes"),
    FaultKind.WINDING: ("place where triangles disagree which way is out", "places where triangles disagree which way is out"),
    FaultKind.EDGE: ("place where more than two triangles share an edge", "places where more than two triangles share an edge"),
    FaultKind.VERTEX: ("corner where parts touch in a point only", "corners where parts touch in a point only"),
    FaultKind.CROSSING: ("place where the surface crosses itself", "places where the surface crosses itself"),
    FaultKind.SLIVER: ("patch of slivers", "patches of slivers"),
    FaultKind.FLAKE: ("loose flake", "loose flakes"),
    FaultKind.INVERTED: ("body inside out", "bodies inside out"),
}

DONE: Final = {
    Deed.SEAM: ("sews 1 open edge", "sews {:,} open edges"),
    Deed.REPEAT: ("drops 1 repeated triangle", "drops {:,} repeated triangles"),
    Deed.WALL: ("drops 1 triangle of an inner wall", "drops {:,} triangles of inner walls"),
    Deed.TURNED: ("turns 1 triangle", "turns {:,} triangles"),
    Deed.BODY_TURNED: ("turns 1 body", "turns {:,} bodies"),
    Deed.FILLED: ("covers 1 hole", "covers {:,} holes"),
    Deed.FLAKE: ("drops 1 flake", "drops {:,} flakes"),
    Deed.COPY: ("drops 1 copy", "drops {:,} copies"),
    Deed.UNITED: ("unites 1 body", "unites {:,} bodies"),
    Deed.UNCROSSED: ("unites 1 body with itself", "unites {:,} bodies with themselves"),
    Deed.REMESHED: ("makes 1 body anew, edges a little rounded", "makes {:,} bodies anew, edges a little rounded"),
}


def under(measure: float, limit: float, *, decimals: int = HUNDREDTHS) -> bool:
    """Whether a measure is told as less than a limit: as it is written, so that no finding says 0.80 of 0.8.

    What is told to the hundredth is besides short by more than the facets of a mesh explain.
    """
    spare = CHORD_MM if decimals == HUNDREDTHS else 0.0
    return round(float(measure) + spare, decimals) < round(float(limit), decimals)


def near(at: tuple[float, float, float]) -> str:
    """A place in the frame of the file."""
    x, y, z = (f"{round(value, 1) + 0.0:g}" for value in at)  # + 0: no minus zero
    return f"near x {x}, y {y}, z {z}"


def place_told(fault: Fault) -> str:
    """One place with its measure."""
    length = f"{{l:{fault.measure_mm:.2f}}}"
    told = {
        FaultKind.OPEN: f"a rim of {fault.count:,} {_edges(fault.count)}, {length} round",
        FaultKind.WINDING: f"{fault.count:,} {_edges(fault.count)}, {length} long together",
        FaultKind.EDGE: f"{fault.count:,} {_edges(fault.count)}, {length} long together",
        FaultKind.VERTEX: "",
        FaultKind.CROSSING: f"{length} deep, over {{l:{fault.extent_mm:.2f}}}",
        FaultKind.SLIVER: f"{fault.count:,}, up to {length} long",
        FaultKind.FLAKE: f"{length} large",
        FaultKind.INVERTED: f"{length} large",
    }[fault.kind]
    return " ".join(filter(None, (told, near(fault.at_mm))))


def _edges(count: int) -> str:
    return "edge" if count == 1 else "edges"


def faults_told(faults: Iterable[Fault], *, most: int = MOST_PLACES) -> list[str]:
    """A clause for every kind of fault: how many places, and the first so many of them with their measures."""
    listed = list(faults)
    out = []
    for kind, (one, many) in ONE_AND_MANY.items():
        found = [fault for fault in listed if fault.kind is kind]
        if found:
            places = "; ".join(place_told(fault) for fault in found[:most])
            rest = len(found) - most
            more = f"; and {rest:,} more" if rest > 0 else ""
            out.append(f"{len(found):,} {one if len(found) == 1 else many} ({places}{more})")
    return out


def changes_told(changes: Sequence[Change]) -> list[str]:
    """What mending does, a clause a deed."""
    return [DONE[change.deed][change.count > 1].format(change.count) for change in changes]
