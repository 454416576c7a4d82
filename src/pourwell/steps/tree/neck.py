"""Is the thickest section reached from the sprue only through a thinner neck; and where a second sprue would stand."""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from pourwell.geometry.balls import SMALL_SHARE, SURFACE_COUNT, Ways, inner_balls
from pourwell.geometry.mesh import Floats
from pourwell.materials.library import Library
from pourwell.steps.pattern.model import Point
from pourwell.steps.tree.attach import Sited, point_of, sites_near
from pourwell.steps.tree.gauge import gauges_mm
from pourwell.steps.tree.model import Attachment, Proposal
from pourwell.steps.tree.probe import Ready

FINER: Final = 4
"""Where no way is found, the piece is sampled so many times more densely once. Own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """A heavy section that the sprue reaches only through a thinner neck."""

    piece: str
    neck_mm: float
    neck_at_mm: Point
    section_mm: float
    section_at_mm: Point
    gauge_mm: float = 0.0
    attachment: Attachment | None = None
    """Of a second sprue there; None where nothing can be brought to the section."""
    alone: bool = False
    """Would a single sprue there feed all heavy sections, so that the first could be left out."""


def cut_off(piece: Ready, sited: Sited, library: Library) -> Cut | None:
    """The thickest section of a piece to which the way from the sprue is too thin; None if all heavy ones are well fed.

    A second sprue is no thicker than the section that it stands on.
    The sprue itself keeps the piece about its foot hot: the way counts from one gauge away.
    """
    wall = piece.pattern.piece.wall
    thickest = np.asarray(wall.thickest_at_mm), wall.thickest_mm / 2
    at = np.asarray(sited.attachment.at_mm)
    for count in (SURFACE_COUNT, FINER * SURFACE_COUNT):
        ways = Ways(piece.balls if count == SURFACE_COUNT else inner_balls(piece.mesh, surface_count=count), [thickest])
        start = ways.near(at, sited.gauge_mm)
        necks = ways.necks(start)
        if necks[0] > 0:
            break
    necks[0] = necks[0] or SMALL_SHARE * wall.thickest_mm
    section = _cut_off(necks, 2 * ways.radii, library)
    if section is None:
        return None
    section_mm, centre = float(2 * ways.radii[section]), ways.centres[section]
    least_mm = library.rule("neck_ratio") * section_mm
    places = sites_near(piece, centre, radius_mm=section_mm / 2, library=library)
    second = next((s for s in places if _way_mm(ways, s, section) >= least_mm), None)
    cut = Cut(
        piece=piece.pattern.piece.id,
        neck_mm=float(necks[section]),
        neck_at_mm=point_of(ways.neck(start, section).at_mm),
        section_mm=section_mm,
        section_at_mm=point_of(centre),
    )
    if second is None:
        return cut
    finest, *others = gauges_mm(library)
    most_mm = max((gauge for gauge in others if gauge <= section_mm), default=finest)
    moved = ways.necks(ways.near(np.asarray(second.attachment.at_mm), second.gauge_mm))
    alone = _cut_off(moved, 2 * ways.radii, library) is None
    return replace(cut, gauge_mm=min(second.gauge_mm, most_mm), attachment=second.attachment, alone=alone)


def _way_mm(ways: Ways, sited: Sited, section: int) -> float:
    """How thick the way is from under a sprue to a section [mm]."""
    start = ways.near(np.asarray(sited.attachment.at_mm), sited.gauge_mm / 2)
    return float(ways.necks(start)[section])


def _cut_off(necks: Floats, sections: Floats, library: Library) -> int | None:
    """The thickest of the heavy sections whose way from the sprue is too thin; both (k,) [mm], the thickest of all first."""
    heavy = sections >= library.rule("neck_heavy_ratio") * sections[0]
    thin = np.flatnonzero(heavy & (necks > 0) & (necks < library.rule("neck_ratio") * sections))
    return int(thin[np.argmax(sections[thin])]) if len(thin) else None


def proposal(cut: Cut) -> Proposal | None:
    """The second sprue for a section, where it has a place."""
    if cut.attachment is None:
        return None
    return Proposal(
        piece=cut.piece,
        neck_mm=cut.neck_mm,
        neck_at_mm=cut.neck_at_mm,
        section_mm=cut.section_mm,
        section_at_mm=cut.section_at_mm,
        gauge_mm=cut.gauge_mm,
        attachment=cut.attachment,
    )
