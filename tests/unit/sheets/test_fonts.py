"""Which characters the family covers, and which print as boxes."""

from pathlib import Path

import pytest

from pourwell.sheets import fonts, run_sheet
from tests.golden.sheets.plans import plan
from tests.golden.sheets.variants import far_scripts, scripts

NOWHERE = "\U0001f9ff\ue123"
"""A picture sign and a private character, which no text font has."""


def covered(text: str) -> bool:
    return not fonts.beyond_family(text)


def test_the_family_covers_all_that_is_taken_for_granted():
    """Latin-1 and the constant of often used signs skip the look into the font; here they do not."""
    taken = {chr(c) for c in [*range(0x20, 0x7F), *range(0xA0, 0x100)]} | fonts.OFTEN
    with fonts.as_file(fonts.files("font_source_sans_pro") / "files") as folder:
        for weight in fonts.WEIGHTS:
            has = fonts._covered(Path(folder) / f"SourceSansPro-{weight}.otf")
            assert not {ord(c) for c in taken} - has - {0xA0, 0xAD}, weight


def test_every_sign_of_the_template_is_covered():
    folder = Path(run_sheet.__file__).parent
    for source in folder.glob("*.typ"):
        assert covered(source.read_text(encoding="utf-8")), source.name


@pytest.mark.parametrize("text", ["Κρίκος Ανεμώνη", "Кольцо «Журавль»", "Nhẫn Hoa Sữa đẹp", "Żółw, Őrség, İğüş", "½ ⅓ ≥ \u2212"])
def test_greek_cyrillic_and_marked_latin_need_no_other_font(text):
    assert covered(text)


@pytest.mark.parametrize("text", ["印台戒指", "خاتم", "अंगूठी", NOWHERE])
def test_other_scripts_are_seen_to_be_beyond_the_family(text):
    assert fonts.beyond_family(text) == {ord(c) for c in text}


def test_characters_that_no_font_here_has_are_named():
    assert "\ue123" in fonts.boxes(f"Ring {NOWHERE}")
    assert fonts.boxes("Ring Κρίκος") == ""


def test_a_plan_with_common_scripts_prints_whole_and_one_with_far_ones_names_what_may_not():
    assert run_sheet.boxes(plan()) == run_sheet.boxes(scripts()) == ""
    names = "".join(p.piece.name for p in far_scripts().patterns) + far_scripts().title
    assert set(run_sheet.boxes(far_scripts())) <= set(names)


def test_only_three_files_are_taken_so_that_no_order_of_a_folder_matters(tmp_path):
    fonts.gather(tmp_path)
    found = fonts.load(tmp_path, machine=False).fonts()
    assert sorted(f.weight for f in found) == [400, 700, 900]
    assert {f.family for f in found} == {fonts.FAMILY}


def test_the_machines_fonts_come_in_only_when_asked(tmp_path):
    fonts.gather(tmp_path)
    alone, more = (len(fonts.load(tmp_path, machine=m).fonts()) for m in (False, True))
    assert alone == 3 <= more
