"""Places for the sprue of a pattern, and what speaks for each: the desk asks for them when a user wants to set one by hand."""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from pourwell.app.checking import measure_pieces
from pourwell.app.desk_words import GivenPattern
from pourwell.app.desk_work import Tell, named, piece_asked
from pourwell.app.shop import open_shop
from pourwell.errors import BadRequestError
from pourwell.files.plan_json import plain
from pourwell.files.worker import read_safely
from pourwell.findings import spelt_out
from pourwell.geometry.mesh import joined
from pourwell.geometry.soup import Soup
from pourwell.steps.pattern.bodies import cast_of
from pourwell.steps.pattern.model import Point
from pourwell.steps.tree.choices import Weighed, choices, own_choice
from pourwell.steps.tree.probe import Ready, ready

KEPT_COUNT = 4
"""Patterns that stay ready, so that a point that is moved along one is judged at once."""


def places(folder: Path, given: GivenPattern, wanted: Mapping[str, Any], *, tell: Tell) -> dict[str, Any]:
    """Places to choose from, the one by shape first, and under `own` the point `at_mm` that is wanted, if one is.

    `wanted` also names the `alloy` and the `material`. Raises what reading raises, BadRequestError for what is no closed solid.
    """
    tell("Looking over the piece")
    shop = open_shop(folder)
    library, rows = shop.library, f"{shop.library.digest} {shop.studio!r}"
    piece = _ready(folder, given, alloy=str(wanted["alloy"]), material=str(wanted["material"]), rows=rows)
    found = _choices(folder, given, alloy=str(wanted["alloy"]), material=str(wanted["material"]), rows=rows)
    at: Point | None = wanted.get("at_mm")
    own = own_choice(piece, at, library) if at is not None else None
    return {
        "choices": [told(one, first=k == 0) for k, one in enumerate(found)],
        "no_cure": spelt_out(no_cure(found)),
        "own": told(own) | {"used": own.sited.attachment.chosen_by == "user"} if own is not None else None,
    }


def off_mm(given: GivenPattern, at_mm: Point, *, tell: Tell) -> float:
    """How far from the surface of a pattern a point lies [mm], both in the frame of its file. Raises what reading raises."""
    tell("Looking whether the sprue can stay where it is")
    with named([given]) as (path,):
        found = read_safely(path, units=given.units or None)
    cast, _ = cast_of([(body.name, body.mesh) for body in found.bodies], given.leave_out)
    return float(Soup(joined(cast)).distances(np.array([at_mm], dtype=float))[0])


@lru_cache(KEPT_COUNT)
def _ready(folder: Path, given: GivenPattern, *, alloy: str, material: str, rows: str) -> Ready:
    """A piece that is ready; `rows` says how library and equipment stand, so that nothing stays that rests on what they were."""
    shop = open_shop(folder)
    with named([given]) as paths:
        pieces = [piece_asked(given, paths[0])]
        row, made_of = shop.library.alloy(alloy), shop.library.pattern(material)
        pattern, _ = measure_pieces(pieces, alloy=row, material=made_of, shop=shop, tell=lambda _: None)[0]
    if pattern.as_read is not None or pattern.piece.doubt:
        raise BadRequestError(f"{given.name} is not sound.", why="No place on it can be judged.", try_this="Mend it first.")
    return ready(pattern)


@lru_cache(KEPT_COUNT)
def _choices(folder: Path, given: GivenPattern, *, alloy: str, material: str, rows: str) -> tuple[Weighed, ...]:
    return choices(_ready(folder, given, alloy=alloy, material=material, rows=rows), open_shop(folder).library)


def told(one: Weighed, *, first: bool = False) -> dict[str, Any]:
    """A place as a page shows it."""
    attachment = one.sited.attachment
    data: dict[str, Any] = plain(
        {
            "at_mm": attachment.at_mm,
            "words": attachment.words,
            "gauge_mm": one.sited.gauge_mm,
            "thickness_mm": one.sited.thickness_mm,
            "fed": one.cut is None,
            "reason": spelt_out(reason(one, first=first)),
            "trouble": spelt_out(one.sited.trouble),
        }
    )
    return data


def reason(one: Weighed, *, first: bool = False) -> str:
    """What speaks for and against a place, in a sentence or two."""
    if one.cut is None:
        fed = "The heaviest section is fed without a neck."
    else:
        fed = f"The section of {{l:{one.cut.section_mm:.1f}}} is fed through {{l:{one.cut.neck_mm:.1f}}} only, and may pit."
    return f"{'Proposed. ' if first else ''}{fed} Its stump is {one.sight}."


def no_cure(found: Sequence[Weighed]) -> str:
    """That no single place of these feeds the piece, and what does; empty where one of them does."""
    ours = found[0].cut
    if ours is None or any(one.cut is None for one in found):
        return ""
    if ours.attachment is None:
        return "No place here feeds every heavy section: thicken the neck in the drawing, or make the section hollow."
    return (
        "No single sprue at one of these places feeds every heavy section. When you sprue it, set a second one of "
        f"{{l:{ours.gauge_mm:g}}} at the {ours.attachment.words}, beside the proposed one. The gauges below are of a single sprue "
        "that feeds the whole piece; a second one may be thinner."
    )
