"""What goes onto a page: the papers, and at which scale flask and tiers fit beside each other."""

from dataclasses import dataclass
from typing import Literal

from pourwell.steps.flask.model import Flask

Paper = Literal["a4", "us-letter"]

WIDTH_MM = {"a4": 210.0, "us-letter": 215.9}
HEIGHT_MM = {"a4": 297.0, "us-letter": 279.4}
LEFT_MM, RIGHT_MM, TOP_MM, TOP_STOPPED_MM, BOTTOM_MM = 20.0, 12.0, 14.5, 28.5, 20.0
"""Margins; the template's own numbers, which a test compares."""
ORDINATES_MM = 18.0
"""Left of the elevation, for heights."""
BETWEEN_MM = 3.0
"""Between elevation and tiers, with the line round a tier."""
TITLE_MM = 16.0
CARD_MM = 45.0
"""Room kept for the head of the page, and for weights and the first rows of the card."""
TIER_HEAD_MM = 11.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Scales:
    """Of elevation and tiers: millimetres on paper to a millimetre of the flask."""

    elevation_ratio: float
    plan_ratio: float
    beside_count: int
    """Tiers that stand beside the elevation; the others stand below."""
    ordinates_mm: float = ORDINATES_MM


def live_mm(paper: Paper, *, stopped: bool = False) -> tuple[float, float]:
    """Width and height inside the margins; a stamp over the page takes its share."""
    top = TOP_STOPPED_MM if stopped else TOP_MM
    return WIDTH_MM[paper] - LEFT_MM - RIGHT_MM, HEIGHT_MM[paper] - top - BOTTOM_MM


def scales(flask: Flask, *, tiers_count: int, paper: Paper, stopped: bool = False) -> Scales:
    """The largest of three pairs at which elevation and tiers stand beside each other: both full, tiers half, both half."""
    width, height = live_mm(paper, stopped=stopped)
    room = height - TITLE_MM - CARD_MM
    for elevation, plan in ((1.0, 1.0), (1.0, 0.5), (0.5, 0.5)):
        wide = ORDINATES_MM + (flask.diameter_mm + 2 * flask.wall_mm) * elevation + BETWEEN_MM + flask.diameter_mm * plan
        fit = int((height - TITLE_MM) // (flask.diameter_mm * plan + TIER_HEAD_MM))
        if wide <= width and flask.height_mm * elevation <= room and (fit >= tiers_count or plan < 1):
            break
    return Scales(elevation_ratio=elevation, plan_ratio=plan, beside_count=max(fit, 1))


def scale_alone(flask: Flask, *, beside_mm: float, paper: Paper, stopped: bool = False) -> Scales:
    """Full or half size for an elevation without tiers, with so much room at its side."""
    width, height = live_mm(paper, stopped=stopped)
    full = (
        ORDINATES_MM + flask.diameter_mm + 2 * flask.wall_mm + beside_mm <= width and flask.height_mm <= height - TITLE_MM - CARD_MM
    )
    size = 1.0 if full else 0.5
    return Scales(elevation_ratio=size, plan_ratio=size, beside_count=0)
