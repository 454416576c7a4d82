"""Is the thickest section reached from the sprue only through a thinner neck; and where a second sprue would stand."""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from pourwell.geometry.balls import SMALL_SHARE, SURFACE_COUNT, Ways, inner_balls
from pourwell.materials.library import Library
from pourwell.steps.pattern.model import Point
from pourwell.steps.tree.attach import Sited, point_of, site_near
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


def cut_off(piece: Ready, sited: Sited, library: Library) -> Cut | None:
    """The thickest section of a piece, if the way to it from the sprue is too thin; None if it is well fed.

    The sprue itself keeps the piece about its foot hot: the way counts from one gauge away.
    """
    wall = piece.pattern.piece.wall
    thickest = np.asarray(wall.thickest_at_mm), wall.thickest_mm / 2
    at = np.asarray(sited.attachment.at_mm)
    for count in (SURFACE_COUNT, FINER * SURFACE_COUNT):
        ways = Ways(piece.balls if count == SURFACE_COUNT else inner_balls(piece.mesh, surface_count=count), [thickest])
        neck = ways.neck(ways.near(at, sited.gauge_mm), 0)
        if neck.diameter_mm > 0:
            break
    neck_mm = neck.diameter_mm or SMALL_SHARE * wall.thickest_mm
    if neck_mm >= library.rule("neck_ratio") * wall.thickest_mm:
        return None
    second = site_near(piece, thickest[0], radius_mm=thickest[1], library=library)
    cut = Cut(
        piece=piece.pattern.piece.id,
        neck_mm=neck_mm,
        neck_at_mm=point_of(neck.at_mm),
        section_mm=wall.thickest_mm,
        section_at_mm=wall.thickest_at_mm,
    )
    return cut if second is None else replace(cut, gauge_mm=second.gauge_mm, attachment=second.attachment)


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
