"""Findings at their place on the patterns page: under their pattern, measured in the reader's units, inside the margins."""

from functools import cache

import numpy as np
import pytest

from pourwell.findings import Severity
from pourwell.geometry.rays import Caster
from pourwell.geometry.shapes import signet
from pourwell.sheets.close_up import PrintedCloseUp, Spot, printed_close_up
from pourwell.sheets.run_sheet import run_sheet
from pourwell.sheets.scene import scene_of
from tests.golden.sheets.parts import drawings
from tests.golden.sheets.plans import plan
from tests.golden.sheets.reading import ink, joined, margins_mm, page_texts
from tests.unit.sheets.pieces import pattern, ring_bore


@cache
def seen(severity: Severity) -> PrintedCloseUp:
    mesh = signet()
    scene = scene_of(pattern(mesh, bore=ring_bore(), wall_mm=np.ones(len(mesh.faces))))
    spot = Spot(
        code="wall-thin", severity=severity, at_mm=(1.0, 2.0, 11.8), says="The wall is thin.", measure="{l:0.35}", limit="{l:0.6}"
    )
    return printed_close_up(scene, spot, caster=Caster(scene.mesh), field=None, letter="A1")


@cache
def printed(count: int, display: str = "metric") -> bytes:
    first = plan().patterns[0].piece.id
    shown = [seen(Severity.STOP if number % 2 else Severity.WARN) for number in range(count)]
    return run_sheet(plan(), display=display, pictures=drawings(plan()), close_ups={first: shown})


def patterns_text(pdf: bytes) -> str:
    return "\n".join(text for text in page_texts(pdf) if "times size" in text or "A1" in text)


@pytest.mark.parametrize(
    ("display", "measure", "limit"), [("metric", "0.35 mm", "limit 0.6 mm"), ("imperial", "0.014 in", "limit 0.024 in")]
)
def test_its_measure_stands_under_it_in_the_readers_units(display, measure, limit):
    text = joined(printed(1, display))
    assert measure in text
    assert limit in text
    assert "A1" in text
    assert "across" in text


def test_how_bad_it_is_stands_there_as_a_word():
    assert "STOP" in patterns_text(printed(2))
    assert "WARN" in patterns_text(printed(2))


@pytest.mark.parametrize("count", [1, 4, 8])
def test_any_number_of_them_keeps_inside_the_margins(count):
    for number, grey in enumerate(ink(printed(count)), 1):
        assert min(margins_mm(grey)) >= 9.0, f"page {number}: {margins_mm(grey)}"


def test_the_page_without_them_is_as_it_was():
    none = run_sheet(plan(), pictures=drawings(plan()), close_ups={})
    assert none == run_sheet(plan(), pictures=drawings(plan()))


def test_every_piece_keeps_its_figures_when_close_ups_take_room():
    text = joined(printed(8))
    for one in plan().patterns:
        assert one.piece.file in text
