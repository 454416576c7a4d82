"""What goes onto a page: the papers, and at which scale flask and tiers fit beside each other."""

from dataclasses import dataclass
from typing import Literal

from pourwell.steps.flask.model import Flask

Paper = Literal["a4", "us-letter"]

WIDTH_MM = {"a4": 210.0, "us-letter": 215.9}
HEIGHT_MM = {"a4": 297.0, "us-letter": 279.4}
LEFT_MM, RIGHT_MM, TOP_MM, BOTTOM_MM = 20.0, 12.0, 13.0, 20.0
"""Margins; the template's own numbers, which a test compares."""
ORDINATES_MM = 20.0
"""Left of the elevation, for heights."""
BETWEEN_MM = 2.0
TITLE_MM = 22.0
CARD_MM = 45.0
"""Room kept for the head of the page, and for weights and the first rows of the card."""
TIER_HEAD_MM = 13.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Scales:
    """Of elevation and tiers: millimetres on paper to a millimetre of the flask."""

    elevation: float
    plan: float
    ordinates_mm: float = ORDINATES_MM


def live_mm(paper: Paper) -> tuple[float, float]:
    """Width and height inside the margins."""
    return WIDTH_MM[paper] - LEFT_MM - RIGHT_MM, HEIGHT_MM[paper] - TOP_MM - BOTTOM_MM


def scales(flask: Flask, *, tiers_count: int, paper: Paper) -> Scales:
    """The largest of three pairs at which elevation and tiers stand beside each other: both full, tiers half, both half."""
    width, height = live_mm(paper)
    room = height - TITLE_MM - CARD_MM
    for elevation, plan in ((1.0, 1.0), (1.0, 0.5)):
        wide = ORDINATES_MM + (flask.diameter_mm + 2 * flask.wall_mm) * elevation + BETWEEN_MM + flask.diameter_mm * plan
        tiers = tiers_count * (flask.diameter_mm * plan + TIER_HEAD_MM)
        if wide <= width and flask.height_mm * elevation <= room and (tiers <= height - TITLE_MM or plan < 1):
            return Scales(elevation=elevation, plan=plan)
    return Scales(elevation=0.5, plan=0.5)
