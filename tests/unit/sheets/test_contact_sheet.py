"""Several pieces on one sheet: at one scale, each with its words, none a speck."""

from xml.etree import ElementTree

import numpy as np
import pytest

from pourwell.findings import Severity
from pourwell.geometry.shapes import pendant_with_bail, plain_band, signet, stud_with_wire
from pourwell.sheets.colours import TRAY
from pourwell.sheets.contact_sheet import CELL, MOST_COLUMNS, Entry, contact_sheet
from pourwell.sheets.drawing import Raster, Words
from pourwell.sheets.scene import scene_of
from tests.unit.sheets.pieces import pattern, ring_bore


def entry(mesh, name: str, *, ring: bool = True, worst: Severity | None = None) -> Entry:
    made = pattern(mesh, bore=ring_bore() if ring else None, name=name, wall_mm=np.ones(len(mesh.faces)))
    return Entry(scene=scene_of(made), figures="5.00 g, ISO 54", worst=worst)


def said(sheet) -> list[str]:
    return [part.text for part in sheet.parts if isinstance(part, Words)]


def shown(sheet) -> list[int]:
    """Pixels that each piece covers."""
    return [int((np.abs(p.rgb.astype(int) - TRAY).sum(axis=2) > 30).sum()) for p in sheet.parts if isinstance(p, Raster)]


def test_every_piece_has_its_name_its_figures_and_the_worst_that_was_found():
    sheet = contact_sheet(
        [entry(signet(), "Signet", worst=Severity.STOP), entry(plain_band(), "Band"), entry(stud_with_wire(), "Stud", ring=False)],
        title="3 patterns",
    )
    words = said(sheet)
    assert {"3 patterns", "A  Signet", "A  Band", "A  Stud", "STOP", "10 mm"} <= set(words)
    assert words.count("5.00 g, ISO 54") == 3
    assert "WARN" not in words
    root = ElementTree.fromstring(sheet.svg)
    assert [child.text for child in root][:2] == ["3 patterns", "3 pieces at one scale: Signet, Band, Stud."]


def test_pieces_are_drawn_at_one_scale():
    """The same ring four fifths as large covers 0.64 of the pixels."""
    ring = plain_band()
    areas = shown(contact_sheet([entry(ring, "Large"), entry(ring.scaled(0.8), "Small")], title="t"))
    assert areas[1] / areas[0] == pytest.approx(0.64, abs=0.03)


def test_a_wrong_unit_does_not_make_specks_of_the_others():
    ring = plain_band()
    sheet = contact_sheet([entry(ring, "A"), entry(ring, "B"), entry(ring.scaled(25.4), "Inch")], title="t")
    areas = shown(sheet)
    assert areas[0] == areas[1]
    assert areas[0] > 0.1 * CELL**2
    assert areas[2] == pytest.approx(areas[0], rel=0.05)
    assert "drawn 25.4 times smaller" in said(sheet)


def test_a_speck_is_drawn_larger_and_says_so():
    ring = plain_band()
    sheet = contact_sheet([entry(ring, "A"), entry(ring, "B"), entry(ring.scaled(0.05), "Tiny")], title="t")
    assert "drawn 5.0 times larger" in said(sheet)
    assert shown(sheet)[2] > 0.005 * CELL**2


@pytest.mark.parametrize("count", [1, 2, 5, 6, 11])
def test_rows_fill_up(count):
    one = entry(pendant_with_bail(), "Pendant", ring=False)
    sheet = contact_sheet([one] * count, title="t")
    rasters = [part for part in sheet.parts if isinstance(part, Raster)]
    assert len({part.x for part in rasters}) == min(count, MOST_COLUMNS)
    assert len({part.y for part in rasters}) == -(-count // MOST_COLUMNS)
    assert max(part.x for part in rasters) + CELL < sheet.width
    assert max(part.y for part in rasters) + CELL < sheet.height


def test_a_long_name_is_cut_beside_the_mark():
    sheet = contact_sheet([entry(plain_band(), "R" * 200, worst=Severity.WARN)], title="T" * 500)
    assert any(text.startswith("A  R") and text.endswith("…") for text in said(sheet))
    assert said(sheet)[0].endswith("…")
