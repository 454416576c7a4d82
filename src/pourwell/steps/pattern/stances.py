"""Which way a pattern stands in the printer: many compared, the best cut into layers, and why."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import acos, atan2, cos, degrees, hypot, radians, sin
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pourwell.geometry.bore import Cylinder, find_bore
from pourwell.geometry.layers import Layers, closed_halves, layers
from pourwell.geometry.mesh import Floats, Ints, Mesh
from pourwell.geometry.orient import Stance, Wants, compare, free_outside, looks_down, on_bore, ways_to_stand
from pourwell.geometry.pin import pin_of
from pourwell.geometry.rays import Caster
from pourwell.geometry.reach import shut_in
from pourwell.materials.library import Library
from pourwell.materials.studio import Printer
from pourwell.steps.pattern.bodies import United
from pourwell.steps.pattern.model import Point
from pourwell.steps.pattern.print_model import Reach, Way
from pourwell.steps.pattern.print_time import print_time
from pourwell.steps.pattern.ranges import ends

BORE_SHARE: Final = 0.15
"""Faces that look at the axis of the bore from no farther than its radius and this share of it belong to it: own choice, so that
the rounded edges of a comfort fit do."""

HEAD_SHARE: Final = 0.05
"""The metal's middle must lie this share of the bore's radius off its axis before a ring is said to have a head: own choice."""

ALONG_DEG: Final = 10.0
"""A bore or an axis within this of a direction is said to lie along it: own choice."""

HEAD_ASIDE_DEG: Final = 60.0
"""A head farther than this from up and down is said to lie aside: own choice."""

RIGHT_DEG: Final = 90.0
"""A right angle."""

APART_COS: Final = 0.94
"""Other ways that are told lie at least 20 degrees from each other: own choice."""

MOST_OTHERS: Final = 4
"""Other ways that are told: own choice, what fits on a screen beside the best."""

MOST_TRIED: Final = 4
"""Of the best by quick measures so many are cut into layers until one is without fault: own choice."""

PIN_MM: Final = 1.6
"""A wire thicker than this holds its shape as it lies level: own choice, twice the usual post of an ear stud."""

ALIKE_SHARE: Final = 0.02
"""Ways whose height, steps and supports differ by less than this are the same to the eye: own choice."""

SAGS: Final = "a thin wire that lies so flat sags between its supports and carries their stubs"

FRONT_COS: Final = 0.5
"""The front of a head on a wire looks away from the wire, within 60 degrees: own choice; its edge counts, its sides do not."""

NEAR_LEAST: Final = 1.05
"""A measure within this ratio of the least of all ways is called the least: own choice."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Subject:
    """A pattern made ready to be looked at from all sides."""

    solid: United
    mesh: Mesh
    mate: Ints
    bore: Cylinder | None
    head: Floats | None
    """(3,) from the bore's axis to the middle of the metal, if the ring has a head [mm]."""
    pin: Floats | None
    """(3,) from the tip of a thin wire to the head it stands on, if a piece without a bore is such a one [-]."""
    reach: dict[Reach, NDArray[np.bool_]]
    """Which triangles are open to tools, in the bore, out of reach."""
    weight: Floats
    """(m,): how much steps on each matter."""
    shut: NDArray[np.bool_]
    """(m,): with room for supports, but nobody takes them out."""


def look_at(solid: United, library: Library) -> Subject:
    """A united pattern with its bore, and where tools reach. Raises NotSolidError."""
    mesh, mate = closed_halves(solid.mesh)
    rays = Caster(mesh)
    bore = find_bore(mesh, rays)
    if bore and bore.diameter_mm < ends(library.rules["finger_bore_mm"])[0]:
        bore = None
    in_bore = np.zeros(len(mesh.faces), dtype=bool)
    head = None
    if bore:
        in_bore = on_bore(mesh, bore.centre, bore.axis, diameter_mm=bore.diameter_mm, share=BORE_SHARE)
        off = mesh.areas @ mesh.centres / mesh.area_mm2 - np.array(bore.centre)
        off -= (off @ np.array(bore.axis)) * np.array(bore.axis)
        head = off if np.linalg.norm(off) > HEAD_SHARE * bore.diameter_mm / 2 else None
    narrow = free_outside(mesh, rays) < library.rule("print_polish_tool_mm")
    recess, shut = ~in_bore & narrow, shut_in(mesh, rays) & ~narrow
    weight = np.ones(len(mesh.faces))
    weight[in_bore] = library.rule("print_steps_bore_ratio")
    weight[recess] = library.rule("print_steps_recess_ratio")
    pin = None if bore else pin_of(mesh, most_mm=PIN_MM)
    reach: dict[Reach, NDArray[np.bool_]] = {"open": ~in_bore & ~recess, "bore": in_bore, "recess": recess}
    return Subject(solid=solid, mesh=mesh, mate=mate, bore=bore, head=head, pin=pin, reach=reach, weight=weight, shut=shut)


def ranked(subject: Subject, printer: Printer, library: Library, *, asked: Point | None) -> tuple[Stance, ...]:
    """Ways to stand, the best first: without islands, cups and supports for good; else least of them; then steps, supports, height.

    Parameters
    ----------
    asked : a direction that the user wants [-]; then it comes first
    """
    axis = subject.bore.axis if subject.bore else subject.pin
    wants = Wants(
        layer_mm=printer.layer_mm,
        lasting_mm=library.rule("print_island_layers_count") * printer.layer_mm,
        cup_mm3=library.rule("print_cup_mm3"),
        under_deg=library.rule("print_under_deg"),
    )
    ways = ways_to_stand(axis, subject.head)
    towards = ways if asked is None else np.vstack((ways, asked))
    compared = compare(subject.mesh, towards, weight=subject.weight, wants=wants, shut=subject.shut)
    found = [_on_its_wire(stance, subject, under_deg=wants.under_deg) for stance in compared]
    first = [] if asked is None else [found[-2]]
    rest = found if asked is None else found[:-2]
    longest = max(stance.height_mm for stance in found)
    under, height = library.rule("print_under_ratio"), library.rule("print_height_ratio")
    front = library.rule("print_front_ratio")

    def cost(stance: Stance) -> tuple[bool, float]:
        supports = under * (stance.under_fraction + (front - 1) * stance.front_fraction)
        soft = stance.steps_ratio + supports + height * stance.height_mm / longest
        grave = faults(stance, library)
        return grave > 0, grave + soft

    return (*first, *sorted(rest, key=cost))


def faults(stance: Stance, library: Library) -> float:
    """How bad a way to stand is: islands, hollows by kind and by what they hold, supports that stay inside, a sagging wire [-]."""
    held = library.rule("print_suction_ratio") * stance.suction_mm3 + stance.bowl_mm3
    grave = stance.islands_count + stance.cups_count + stance.wire_sags
    return grave + held / library.rule("print_cup_grave_mm3") + _hidden(stance, library)


def _hidden(stance: Stance, library: Library) -> float:
    """Undersides whose supports nobody takes out, in faults."""
    least = library.rule("print_hidden_mm2")
    return stance.hidden_mm2 / least if stance.hidden_mm2 >= least else 0.0


def faults_in_layers(stance: Stance, cut: Layers, library: Library) -> float:
    """The same as the layers tell it [-]."""
    cups = [cut.cups[k] for k in holding(cut, library)]
    suction_mm3 = sum(cup.volume_mm3 for cup in cups if cup.kind == "suction")
    seen = replace(
        stance,
        islands_count=len(lasting(cut, library)),
        cups_count=len(cups),
        suction_mm3=suction_mm3,
        bowl_mm3=sum(cup.volume_mm3 for cup in cups) - suction_mm3,
    )
    return faults(seen, library)


def best(subject: Subject, stances: Sequence[Stance], printer: Printer, *, library: Library, tries: int) -> tuple[Stance, Layers]:
    """The first of some stances that is without fault in layers, else the one with the least; and it in layers."""
    found = []
    for stance in stances[:tries]:
        cut = layers(subject.mesh, stance.direction, layer_mm=printer.layer_mm, on_plate=printer.stand_mm == 0)
        grave = faults_in_layers(stance, cut, library)
        if not grave:
            return stance, cut
        found.append((grave, stance, cut))
    _, stance, cut = min(found, key=lambda each: each[0])
    return stance, cut


def lasting(cut: Layers, library: Library) -> list[int]:
    """The numbers of the islands that count."""
    least = library.rule("print_island_layers_count")
    return [k for k, island in enumerate(cut.islands) if island.layers_count >= least]


def holding(cut: Layers, library: Library) -> list[int]:
    """The numbers of the hollows that count."""
    least = library.rule("print_cup_mm3")
    return [k for k, cup in enumerate(cut.cups) if cup.volume_mm3 >= least]


def well_apart(chosen: Stance, stances: Sequence[Stance], subject: Subject) -> tuple[Stance, ...]:
    """The best of the others: each well away from the chosen one and those before, of another kind, and no mirror image."""
    kept, kinds = [chosen], {_kind(chosen, subject)}
    for stance in stances:
        if len(kept) > MOST_OTHERS:
            break
        kind = _kind(stance, subject)
        apart = all(np.dot(stance.direction, other.direction) < APART_COS and not _alike(stance, other) for other in kept)
        if kind not in kinds and apart:
            kept.append(stance)
            kinds.add(kind)
    return tuple(kept[1:])


def _kind(stance: Stance, subject: Subject) -> str:
    """The way to stand of a ring or of a piece on a pin without its degrees; any other piece's in full."""
    words = in_words(stance.direction, subject)
    return words if subject.bore is None and subject.pin is None else re.sub(r"\d+", "", words)


def _alike(one: Stance, other: Stance) -> bool:
    """Are two ways the same to the eye and on the clock, as those of a piece are that is the same on both sides."""
    if (one.islands_count, one.cups_count) != (other.islands_count, other.cups_count):
        return False
    mine, its = ((s.height_mm, s.steps_ratio, s.under_fraction) for s in (one, other))
    return bool(np.allclose(mine, its, rtol=ALIKE_SHARE, atol=ALIKE_SHARE**2))


def way(stance: Stance, subject: Subject, printer: Printer) -> Way:
    """A stance in the words of the plan."""
    x, y, z = stance.direction
    return Way(
        direction=stance.direction,
        words=in_words(stance.direction, subject),
        turn_x_deg=degrees(atan2(y, z)) + 0.0,
        turn_y_deg=degrees(atan2(-x, hypot(y, z))) + 0.0,
        height_mm=stance.height_mm,
        print_min=print_time(stance.height_mm, printer).print_min,
        islands_count=stance.islands_count,
        cups_count=stance.cups_count,
        proud_mm=stance.steps_ratio * printer.layer_mm,
        under_fraction=stance.under_fraction,
        held_mm3=stance.suction_mm3 + stance.bowl_mm3,
        hidden_mm2=stance.hidden_mm2,
    )


def in_words(direction: Point, subject: Subject) -> str:
    """How a piece stands: by its bore, if it has one, else by the file's axes."""
    if subject.pin is not None:
        return _on_a_pin(float(np.dot(direction, subject.pin)))
    if subject.bore is None:
        k = int(np.argmax(np.abs(direction)))
        if degrees(acos(min(abs(direction[k]), 1.0))) <= ALONG_DEG:
            return f"the file's {'+' if direction[k] > 0 else '-'}{'xyz'[k]} away from the plate"
        return f"leaning, the file's {', '.join(f'{round(v, 2) + 0.0:g}' for v in direction)} away from the plate"
    lean = degrees(acos(min(abs(float(np.dot(direction, subject.bore.axis))), 1.0)))
    if lean <= ALONG_DEG:
        return "lying flat, the bore upright"
    words = "standing, the bore level" if lean >= RIGHT_DEG - ALONG_DEG else f"leaning, the bore {lean:.0f}° from upright"
    if subject.head is None:
        return words
    rise = float(np.dot(direction, subject.head) / np.linalg.norm(subject.head))
    aside = cos(radians(HEAD_ASIDE_DEG))
    return f"{words}, head {'away from the plate' if rise > aside else 'towards the plate' if rise < -aside else 'aside'}"


def _on_a_pin(rise: float) -> str:
    """How a piece on a thin wire stands.

    Parameters
    ----------
    rise : cosine of the angle between away from the plate and from the wire to the head [-]
    """
    lean = degrees(acos(max(-1.0, min(rise, 1.0))))
    if lean <= ALONG_DEG:
        return "upright, head away from the plate, wire down"
    if lean >= 2 * RIGHT_DEG - ALONG_DEG:
        return "upright, head down on the plate, wire up"
    if abs(lean - RIGHT_DEG) <= ALONG_DEG:
        return "lying, the wire level"
    return f"leaning, the wire {min(lean, 2 * RIGHT_DEG - lean):.0f}° from upright, {'head up' if rise > 0 else 'wire up'}"


def _on_its_wire(stance: Stance, subject: Subject, *, under_deg: float) -> Stance:
    """The way to stand of a piece on a thin wire: does that sag, and how much of the front of the head is on supports."""
    if subject.pin is None:
        return stance
    mesh = subject.mesh
    front = looks_down(mesh, stance.direction, flatter_than_deg=under_deg) & (mesh.normals @ subject.pin > FRONT_COS)
    flat = abs(float(np.dot(stance.direction, subject.pin))) <= sin(radians(under_deg))
    return replace(stance, front_fraction=float(mesh.areas[front].sum()) / mesh.area_mm2, wire_sags=flat)


def reasons(chosen: Stance, stances: Sequence[Stance], cut: Layers, *, library: Library) -> str:
    """Why a stance is the best of many, in a sentence."""
    islands, cups = len(lasting(cut, library)), len(holding(cut, library))
    hides = _hidden(chosen, library) > 0
    clean = [s for s in stances if not faults(s, library)]
    said = [_counted(islands, "nothing begins in mid-air", "part begins in mid-air", many="parts begin in mid-air")]
    said.append(_counted(cups, "no hollow holds resin", "hollow holds resin", many="hollows hold resin"))
    if hides:
        said.append("supports inside a hollow cannot be taken out")
    if any(s.front_fraction for s in stances) and not chosen.front_fraction:
        said.append("no supports on the front of its head")
    if islands or cups or hides:
        said.append("no better way was found")
    least = [
        ("the least steps where they are seen", chosen.steps_ratio, min(s.steps_ratio for s in clean or stances)),
        ("the fewest supports", chosen.under_fraction, min(s.under_fraction for s in clean or stances)),
        ("the lowest, so the soonest done", chosen.height_mm, min(s.height_mm for s in clean or stances)),
    ]
    said += [words for words, mine, best_of in least if mine <= NEAR_LEAST * best_of]
    return "; ".join(said) + "."


def _counted(count: int, none: str, one: str, *, many: str) -> str:
    return f"{count} {one if count == 1 else many}" if count else none
