"""Places for a sprue to choose from: the one by shape first, then others that can bear one, and what speaks for each."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal, get_args

import numpy as np

from pourwell.materials.library import Library
from pourwell.steps.pattern.model import Bore, Point
from pourwell.steps.tree.attach import (
    APART_SHARE,
    CELL_SHARE,
    SHOWING,
    Sited,
    cost_of,
    foot_radii_mm,
    hidden_of,
    one_a_cell,
    probed,
    round_ring,
    site,
    site_of_user,
    sited,
    sites_near,
    size_mm,
    well_standing,
)
from pourwell.steps.tree.neck import Cut, cut_off
from pourwell.steps.tree.probe import Ready, probe

MOST: Final = 5
"""Of more places nobody chooses with care. Own choice."""
TURNS_DEG: Final = (90.0, -90.0, 135.0, -135.0)
"""Round a ring with a head, from straight opposite it: both sides of the shank, both shoulders. Own choice."""

Sight = Literal["out of sight", "seen from the side", "in sight"]
SIGHTS: Final[tuple[Sight, ...]] = get_args(Sight)
"""The best first. A band shows itself all round; a ring with a head hides what lies within 60 degrees of its back."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Weighed:
    """A place for a sprue, and what it does."""

    sited: Sited
    cut: Cut | None
    """The heavy section that it reaches only through a neck; None: all are well fed."""
    sight: Sight
    """Is its stump seen: on a show face, from the side, or not."""


def choices(piece: Ready, library: Library) -> tuple[Weighed, ...]:
    """The place by shape, then others that lie apart from it and from each other; the best fed of those first."""
    ours = weighed(piece, site(piece, library), library)
    found = [ours]
    for one in _others(piece, ours, library):
        if len(found) == MOST:
            break
        if all(_apart(piece, one, other.sited) for other in found):
            found.append(weighed(piece, one, library))
    return (ours, *sorted(found[1:], key=lambda one: (one.cut is not None, SIGHTS.index(one.sight))))


def own_choice(piece: Ready, wanted: Point, library: Library) -> Weighed:
    """The user's own place on the surface, as a plan would use it: with ours, and the reason, where it cannot be used."""
    return weighed(piece, site_of_user(piece, wanted, ours=site(piece, library), library=library), library)


def weighed(piece: Ready, one: Sited, library: Library) -> Weighed:
    """A place, and what it does."""
    return Weighed(sited=one, cut=cut_off(piece, one, library), sight=_sight(piece, one))


def _sight(piece: Ready, one: Sited) -> Sight:
    """How a stump is seen: on a ring by where round the finger it stands, else by the way its face looks."""
    faces, bore = piece.faces, piece.pattern.piece.bore
    away = np.asarray(one.attachment.normal)
    if bore is not None:
        if faces.head is None:
            return "in sight"
        axis = np.asarray(bore.axis)
        away = np.asarray(one.attachment.at_mm) - np.asarray(bore.centre_mm)
        away = away - axis * (away @ axis)
    toward = float(away @ faces.show) / (float(np.linalg.norm(away)) or 1.0)
    return "in sight" if toward > SHOWING else "out of sight" if toward < -SHOWING else "seen from the side"


def _apart(piece: Ready, one: Sited, other: Sited) -> bool:
    away = np.linalg.norm(np.asarray(one.attachment.at_mm) - np.asarray(other.attachment.at_mm))
    return bool(away > APART_SHARE * size_mm(piece))


def _others(piece: Ready, ours: Weighed, library: Library) -> Iterator[Sited]:
    """First what feeds a section that ours leaves cut off, then places round a ring, or the least seen of other pieces."""
    if ours.cut is not None:
        centre = np.asarray(ours.cut.section_at_mm)
        yield from sites_near(piece, centre, radius_mm=ours.cut.section_mm / 2, library=library)
    bore = piece.pattern.piece.bore
    if bore is None:
        yield from _on_piece(piece, library)
    elif piece.faces.head is not None:
        yield from _round(piece, bore, library)


def _round(piece: Ready, bore: Bore, library: Library) -> Iterator[Sited]:
    for turn in TURNS_DEG:
        points, normals = round_ring(piece, bore, {turn})
        if not len(points):
            continue
        spots = probe(piece, points, normals, radius_mm=foot_radii_mm(piece.thickness_mm(points), library))
        good = np.flatnonzero(well_standing(spots, library))
        if len(good):
            yield sited(piece, spots.one(int(good[0])), library=library)


def _on_piece(piece: Ready, library: Library) -> Iterator[Sited]:
    chosen = one_a_cell(piece.balls.points, hidden_of(piece), CELL_SHARE * size_mm(piece))
    spots, thickness = probed(piece, chosen, library)
    cost = cost_of(piece, spots, thickness)
    good = np.flatnonzero(well_standing(spots, library))
    taken: list[int] = []
    for k in good[np.argsort(cost[good], kind="stable")].tolist():
        if all(np.linalg.norm(spots.points[k] - spots.points[other]) > APART_SHARE * size_mm(piece) for other in taken):
            taken.append(k)
            yield sited(piece, spots.one(k), library=library)
        if len(taken) == MOST:
            return
