"""A page laid before a sheet, and its stamp: read back from the PDF."""

from datetime import datetime

import pytest
import typst

from pourwell.sheets.display import Display
from pourwell.sheets.notice_sheet import Notice, Reason, with_notice
from tests.golden.sheets.reading import joined, opened, page_texts

AT = datetime.fromisoformat("2026-11-26T15:40:00+01:00")
HOT = Reason(severity="stop", says="The kiln is hotter than {t:150} then.", do="Do not open it.")
CHANGED = Reason(severity="warn", says="Since then changed: flask.", do="Work it out again.")


@pytest.fixture(scope="module")
def sheet(tmp_path_factory):
    """Three pages, each with a word of its own."""
    path = tmp_path_factory.mktemp("typst") / "sheet.typ"
    path.write_text('#set page("a4")\n#for word in ("first", "second", "third") { page(word) }\n', encoding="utf-8")
    return typst.compile(path, format="pdf")


def noticed(sheet, *, stamp="DO NOT FIRE", reasons=(HOT,), paper="a4", show="metric", title="Do not fire"):
    notice = Notice(number=2, title=title, stamp=stamp, reasons=reasons, seen_at=AT)
    return with_notice(sheet, notice, studio="Quillmere Studio", paper=paper, show=Display(show))


def test_the_page_comes_first_and_the_sheet_is_whole_behind_it(sheet):
    pages = page_texts(noticed(sheet))
    assert len(pages) == 4
    assert ["first" in pages[1], "second" in pages[2], "third" in pages[3]] == [True] * 3
    said = joined(noticed(sheet))
    assert "Do not fire Run 2" in said
    assert "STOP" in said
    assert "Seen Thu 26 Nov 2026, 15:40" in said


def test_every_page_bears_the_stamp_beside_its_own_words(sheet):
    assert [page.count("DO NOT FIRE") for page in page_texts(noticed(sheet))] == [4, 4, 4, 4]


def test_without_a_stamp_the_pages_of_the_sheet_stay_as_they_are(sheet):
    pages = page_texts(noticed(sheet, stamp="", reasons=(CHANGED,), title="Beside your other runs"))
    assert pages[1:] == page_texts(sheet)
    assert "Work it out again." in pages[0]


def test_it_speaks_the_units_of_the_studio_on_its_paper(sheet):
    assert "302\N{NO-BREAK SPACE}°F" in page_texts(noticed(sheet, show="imperial"))[0]
    with opened(noticed(sheet, paper="us-letter")) as document:
        assert document[0].get_size() == pytest.approx((612, 792))


def test_more_reasons_than_a_page_holds_go_on_a_second_one_and_the_stamp_is_still_on_the_sheet(sheet):
    many = [Reason(severity="stop", says=f"Reason {k}. " + "It is told at length. " * 12, do="Wait.") for k in range(30)]
    pages = page_texts(noticed(sheet, reasons=many))
    assert len(pages) > 5
    assert "third" in pages[-1]
    assert pages[-1].count("DO NOT FIRE") == 4
    assert all(f"Reason {k}." in " ".join(pages[:-3]) for k in range(30))
