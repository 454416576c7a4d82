"""From the bodies of a file to one solid: stones and supports left out, copies dropped, the rest united."""

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from pourwell.errors import BadRequestError
from pourwell.geometry.heap import heap_of
from pourwell.geometry.mending import NO_NEW_SURFACE, Change, Deed, hull, mend
from pourwell.geometry.mesh import Mesh, joined
from pourwell.geometry.nesting import nested
from pourwell.geometry.places import Fault, FaultKind, crossing_places, find_faults, flakes, place_on, sliver_places
from pourwell.geometry.solidity import SAME_SHARE, Faults, bodies, faults, hosts, inside_out, repeats, turned_out, unite
from pourwell.steps.pattern.model import Body, Point

STONES: Final = (
    *("stone", "gem", "gemstone", "diamond", "brilliant", "ruby", "sapphire", "emerald", "topaz", "amethyst", "citrine"),
    *("garnet", "opal", "pearl", "tourmaline", "peridot", "aquamarine", "moissanite", "zirconia", "zircon", "cz", "cabochon"),
    "melee",
)
SUPPORTS: Final = ("support", "raft", "brim", "skirt", "scaffold")
NOT_CAST: Final = frozenset((*STONES, *SUPPORTS))
"""Words in the name of a body that is not cast: stones, and what holds a print while it grows."""

CAST: Final = frozenset(
    (
        *("seat", "setting", "bezel", "prong", "claw", "head", "basket", "mount", "mounting", "holder", "collet"),
        *("shank", "ring", "band", "gallery", "bail", "halo", "channel"),
    )
)
"""Words that make a body metal all the same: a stone seat is no stone."""

Out = Literal["", "by name", "as asked"]
"""Why a body is not cast; empty for one that is."""
FIRST_NAMES: Final = 12
"""So many names of bodies are listed where one is asked for that is not there."""
MENDED: Final = "the mesh closed and turned by guess"
HULLED: Final = "a skin stretched tight over all its points, which holds more than the piece"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class United:
    """One solid, and what was found on the way to it."""

    mesh: Mesh
    triangle_count: int
    """Of all bodies of the file."""
    bodies: tuple[Body, ...]
    overlap_mm3: float
    unsound: tuple[tuple[str, Faults], ...]
    """Bodies that are no solids, with their faults."""
    places: tuple[Fault, ...]
    """Where they are at fault, kind by kind and the largest first."""
    changes: tuple[Change, ...]
    """What was done to them for a stand-in, and mending would do."""
    flakes: tuple[Fault, ...]
    """Specks that touch nothing, and are not counted."""
    slivers: tuple[Fault, ...]
    """Triangles without height in bodies that are all sound."""
    stand_in: str
    """What the figures rest on where a body is unsound."""
    as_read: Mesh | None
    """The triangles of the bodies to cast as the file has them, where one is unsound."""
    left_out: tuple[str, ...]
    as_asked: tuple[str, ...]
    """Which of those the user left out, and not their names."""
    all_named: bool
    """Every body bore the name of a stone or a support, so all were kept."""
    doubled: tuple[str, ...]
    turned: tuple[str, ...]
    nested: tuple["Nested", ...]
    """Bodies that lie wholly within another, turned outward like it."""
    apart_mm3: tuple[float, ...]
    """Volumes of the solids that do not touch one another, largest first."""
    void_mm3: float
    at_mm: Mapping[str, Point]
    """A place of what there is to see: "turned", "doubled", "nested", "void", "apart", "overlap"."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Nested:
    """A body within another, by name."""

    inner: str
    outer: str
    volume_mm3: float


def words_of(name: str) -> set[str]:
    """The words in a name, small, without a plural s: "SideStone_01" holds side and stone."""
    parts = re.findall(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+", name)
    found = {part.lower() for part in parts}
    return found | {word.removesuffix("s") for word in found}


def is_left_out(name: str) -> bool:
    """Does the name say stone or support, and nothing that is metal."""
    words = words_of(name)
    return bool(words & NOT_CAST) and not words & CAST


def united(named: Sequence[tuple[str, Mesh]], leave_out: Sequence[str]) -> United:
    """One solid of all bodies that are cast.

    Parameters
    ----------
    leave_out : bodies that are not cast, besides those that their names tell: by their names, or of the unconnected parts of one
        body those of these numbers, "ring (2)"

    Raises BadRequestError if a body to be left out is not there, or nothing is left.
    """
    found, all_named = told_apart(named, leave_out)
    kept = [(label, part) for label, part, out in found if not out]
    specks = flakes([part for _, part in kept])
    flaky = find_faults(joined([part for _, part in kept])) if specks else ()
    kept = _heaped([body for k, body in enumerate(kept) if k not in specks])
    bad = {k: told for k, (_, part) in enumerate(kept) if not (told := faults(part)).sound}
    solids, stand_in, changes = _stood_in(kept, set(bad))
    labels = [label for label, _ in solids]
    copies = repeats([mesh for _, mesh in solids])
    single = [mesh for k, (_, mesh) in enumerate(solids) if k not in copies]
    outward, turned = turned_out(single)
    mesh, overlap = (outward[0], 0.0) if len(outward) == 1 else unite(outward)
    outer, inner, shown = _shells(mesh, len(outward))
    within = nested(outward)
    shown |= _shown(outward, within, overlap_mm3=overlap)
    firsts = {"turned": [outward[k] for k in turned], "doubled": [solids[k][1] for k in copies]}
    shown |= {what: place_on(some[0]) for what, some in firsts.items() if some}
    kept_labels = [label for k, label in enumerate(labels) if k not in copies]
    return United(
        mesh=mesh,
        triangle_count=sum(len(part.faces) for _, part in named),
        bodies=_told(found, [kept_labels[k] for k in turned]),
        overlap_mm3=overlap,
        unsound=tuple((kept[k][0], told) for k, told in bad.items()),
        places=find_faults(joined([kept[k][1] for k in bad])) if bad else (),
        changes=changes,
        flakes=tuple(fault for fault in flaky if fault.kind is FaultKind.FLAKE),
        slivers=() if bad else sliver_places(joined([part for _, part in kept])),
        stand_in=stand_in,
        as_read=joined([part for _, part in kept]) if bad else None,
        left_out=tuple(label for label, _, out in found if out),
        as_asked=tuple(label for label, _, out in found if out == "as asked"),
        all_named=all_named,
        doubled=tuple(labels[k] for k in copies),
        turned=tuple(kept_labels[k] for k in turned),
        nested=tuple(Nested(inner=kept_labels[k], outer=kept_labels[i], volume_mm3=outward[k].volume_mm3) for k, i in within),
        apart_mm3=outer,
        void_mm3=inner,
        at_mm=shown,
    )


def told_apart(named: Sequence[tuple[str, Mesh]], leave_out: Sequence[str]) -> tuple[list[tuple[str, Mesh, Out]], bool]:
    """The unconnected bodies: name, mesh, why it is not cast; and whether all were named as what is not cast, so that all are.

    Raises BadRequestError as `united` does.
    """
    parts = _labelled(named)
    asked = _asked(parts, leave_out)
    by_name = {name for name, _ in named if is_left_out(name)}
    all_named = bool(named) and len(by_name) == len({name for name, _ in named})
    named_out: Mapping[str, Out] = {} if all_named else dict.fromkeys(by_name, "by name")
    found = [(label, part, "as asked" if label in asked else named_out.get(name, "")) for name, label, part in parts]
    found = _with_their_hollows(found) if asked else found
    if all(out for _, _, out in found):
        raise BadRequestError("Every body of the file is to be left out.", try_this="Keep at least one to cast.")
    return found, all_named


def _with_their_hollows(found: Sequence[tuple[str, Mesh, Out]]) -> list[tuple[str, Mesh, Out]]:
    """The same, but that a hollow is left out with the body that it lies in, and never alone; others stand outward.

    Raises BadRequestError for a hollow alone: it would count as metal, and the file that is printed would have it still.
    """
    if all(part.volume_mm3 > 0 for _, part, _ in found):
        return list(found)
    closed = [k for k, (_, part, _) in enumerate(found) if faults(part).sound]
    inner = {closed[k]: closed[host] for k, host in hosts([found[k][1] for k in closed]).items()}
    out: list[tuple[str, Mesh, Out]] = []
    for k, (label, part, why) in enumerate(found):
        if k not in inner:
            out.append((label, inside_out(part) if why and part.volume_mm3 < 0 else part, why))
            continue
        if why == "as asked" and not found[inner[k]][2]:
            raise BadRequestError(
                f'"{label}" is a hollow in "{found[inner[k]][0]}", and cannot be left out by itself.',
                why="It would count as metal, and the file that is printed would have it still.",
                try_this="Fill it in the drawing, or open it with two holes.",
            )
        out.append((label, part, found[inner[k]][2]))
    return out


def cast_of(named: Sequence[tuple[str, Mesh]], leave_out: Sequence[str]) -> tuple[list[Mesh], tuple[str, ...]]:
    """What of a file is cast, body by body, and the names of what is not. Raises BadRequestError as `united` does.

    Where nothing is asked for, bodies stay as the file has them, torn as they may be.
    """
    if not leave_out:
        cast = [mesh for name, mesh in named if not is_left_out(name)]
        return (cast, tuple(name for name, _ in named if is_left_out(name))) if cast else ([mesh for _, mesh in named], ())
    found, _ = told_apart(named, leave_out)
    return [part for _, part, out in found if not out], tuple(label for label, _, out in found if out)


def _asked(parts: Sequence[tuple[str, str, Mesh]], leave_out: Sequence[str]) -> set[str]:
    """The labels that the user wants left out: the one called just so, else the parts of that body; then the same in any case."""
    ways: list[dict[str, set[str]]] = [{}, {}, {}, {}]
    for name, label, _ in parts:
        for way, key in zip(ways, (label, name, label.casefold(), name.casefold()), strict=True):
            way.setdefault(key, set()).add(label)
    found: set[str] = set()
    for wanted in leave_out:
        small = wanted.casefold()
        mine = next((way[key] for way, key in zip(ways, (wanted, wanted, small, small), strict=True) if key in way), set())
        if not mine:
            known = [label for _, label, _ in parts]
            more = f" and {len(known) - FIRST_NAMES:,} more" if len(known) > FIRST_NAMES else ""
            raise BadRequestError(
                f'No body of the file is called "{wanted}".', why=f"Its bodies are: {', '.join(known[:FIRST_NAMES])}{more}."
            )
        found |= mine
    return found


def _heaped(kept: list[tuple[str, Mesh]]) -> list[tuple[str, Mesh]]:
    """The bodies; open patches that are too many to be looked at one by one are one, by the name of the first."""
    heap = heap_of([part for _, part in kept])
    if not heap:
        return kept
    patches = set(heap)
    name = kept[heap[0]][0].rsplit(" (", 1)[0]
    whole = joined([kept[k][1] for k in heap])
    return [(name, whole), *(body for k, body in enumerate(kept) if k not in patches)]


def _labelled(named: Sequence[tuple[str, Mesh]]) -> list[tuple[str, str, Mesh]]:
    """The unconnected parts: name of the body, own label, mesh. Parts of one body, and bodies of one name, are numbered."""
    often = Counter(name for name, _ in named)
    found: list[tuple[str, str, Mesh]] = []
    taken, numbers = set(often), Counter[str]()
    for name, mesh in named:
        parts = bodies(mesh)
        for part in parts:
            label = name
            while label in taken and (len(parts) > 1 or often[name] > 1):
                numbers[name] += 1
                label = f"{name} ({numbers[name]})"
            taken.add(label)
            found.append((name, label, part))
    return found


def _stood_in(kept: Sequence[tuple[str, Mesh]], bad: set[int]) -> tuple[list[tuple[str, Mesh]], str, tuple[Change, ...]]:
    """The bodies with a stand-in for each that is no solid, which stand-in that is, and what was done for it.

    Patches without volume are dropped.
    """
    solids, hulls, done = [], False, Counter[Deed]()
    for k, (label, part) in enumerate(kept):
        solid: Mesh | None = part
        if k in bad:
            mending = mend([part], NO_NEW_SURFACE)
            solid = mending.mesh
            if solid is None:
                solid, hulls = hull(part), True
            else:
                done.update({change.deed: change.count for change in mending.changes})
        if solid is not None:
            solids.append((label, solid))
    if not solids and (whole := hull(joined([part for _, part in kept]))) is not None:
        solids, hulls = [(kept[0][0], whole)], True
    if not solids:
        raise BadRequestError("Nothing in the file encloses a volume.", try_this="Export the piece as a closed solid.")
    changes = tuple(Change(deed=deed, count=done[deed]) for deed in Deed if done[deed])
    return solids, (HULLED if hulls else MENDED) if bad else "", changes


def _shells(mesh: Mesh, count: int) -> tuple[tuple[float, ...], float, dict[str, Point]]:
    """Volumes of the solids that lie apart, largest first, that of the closed hollows; places of the least and the largest."""
    parts = [(part.volume_mm3, part) for part in ((mesh,) if count == 1 else bodies(mesh))]
    outer = sorted((shell for shell in parts if shell[0] > 0), key=lambda shell: -shell[0])
    inner = sorted((shell for shell in parts if shell[0] < 0), key=lambda shell: shell[0])
    shown = {"apart": place_on(outer[-1][1])} if len(outer) > 1 else {}
    if inner:
        shown["void"] = place_on(inner[0][1])
    return tuple(volume for volume, _ in outer), float(-sum(volume for volume, _ in inner)), shown


def _shown(outward: Sequence[Mesh], within: Sequence[tuple[int, int]], *, overlap_mm3: float) -> dict[str, Point]:
    """Where one body lies within another, and where bodies overlap: on the deepest of the lines along which they cross."""
    shown = {"nested": place_on(outward[within[0][0]])} if within else {}
    if overlap_mm3 > SAME_SHARE * sum(abs(part.volume_mm3) for part in outward):
        across = crossing_places(joined(outward))
        shown["overlap"] = across[0].at_mm if across else shown.get("nested", place_on(outward[-1]))
    return shown


def _told(found: Sequence[tuple[str, Mesh, Out]], turned: Sequence[str]) -> tuple[Body, ...]:
    """The bodies as found; a hollow has a negative volume, one that was inside out a positive one."""
    return tuple(
        Body(name=label, volume_mm3=abs(part.volume_mm3) if label in turned else part.volume_mm3, kept=not out)
        for label, part, out in found
    )
