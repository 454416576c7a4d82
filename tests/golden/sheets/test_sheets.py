"""Every invented plan is set, printed and read back: as text a jeweller can read, and as ink on paper."""

import difflib
import os
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

from pourwell.plan import Plan
from pourwell.sheets.display import Display
from pourwell.sheets.front_view import figures
from pourwell.sheets.run_sheet import run_sheet
from pourwell.steps.flask.model import FIGURES_WIN
from tests.golden.sheets.parts import drawings
from tests.golden.sheets.plans import plan
from tests.golden.sheets.reading import font_names, images, ink, joined, letters, margins_mm, page_texts
from tests.golden.sheets.variants import PLANS, far_scripts

HERE = Path(__file__).parent / "expected"
READ: dict[str, tuple[int, ...]] = {
    "example": (),
    "imperial": (),
    "by-weight": (),
    "one-stop": (1,),
    "stopped": (1, 7, 8),
    "small-controller": (3,),
    "hand-kiln": (3,),
    "clock-change": (1, 3),
    "forty": (2, 3),
}
"""Sheets whose text is kept beside this file: all of it, or the pages that differ from the example."""
LEAST_MARGIN_MM = 9.0
LETTER_OR_A4_MM = {"a4": (210.0, 297.0), "us-letter": (215.9, 279.4)}
STOPPED = tuple(name for name in PLANS if "stop" in name)


@cache
def made(name: str) -> Plan:
    return PLANS[name][0]()


@cache
def printed(name: str) -> bytes:
    _, paper, display = PLANS[name]
    return run_sheet(made(name), paper=paper, display=display, pictures=drawings(made(name)))


@pytest.fixture
def keep(request: pytest.FixtureRequest) -> Callable[[str, str], None]:
    """Compare with the kept text, or keep it anew with --update-golden (or UPDATE_GOLDEN=1)."""
    anew = request.config.getoption("--update-golden", default=False) or bool(os.environ.get("UPDATE_GOLDEN"))

    def compare(name: str, text: str) -> None:
        path = HERE / f"{name}.txt"
        if anew:
            path.parent.mkdir(exist_ok=True)
            path.write_text(text, encoding="utf-8")
        kept = path.read_text(encoding="utf-8")
        change = "\n".join(difflib.unified_diff(kept.splitlines(), text.splitlines(), "kept", "now", lineterm=""))
        assert not change, change

    return compare


@pytest.mark.parametrize("name", READ)
def test_the_sheet_reads_as_it_was_approved(name, keep):
    pages = enumerate(page_texts(printed(name)), 1)
    kept = [f"---- page {i}\n{text}" for i, text in pages if not READ[name] or i in READ[name]]
    keep(name, "\n".join(kept) + "\n")


@pytest.mark.parametrize("name", PLANS)
def test_no_ink_comes_nearer_to_an_edge_than_a_printer_reaches(name):
    for number, grey in enumerate(ink(printed(name)), 1):
        assert min(margins_mm(grey)) >= LEAST_MARGIN_MM, f"page {number}: {margins_mm(grey)}"


@pytest.mark.parametrize("name", PLANS)
def test_no_page_is_empty_or_of_another_size(name):
    width, height = LETTER_OR_A4_MM[PLANS[name][1]]
    for number, grey in enumerate(ink(printed(name)), 1):
        assert grey.shape == pytest.approx((height * 4, width * 4), abs=2)
        body = grey[(4 * 15) : int(4 * (height - 20)), (4 * 20) :]
        assert (body < 128).sum() > 500, f"page {number} carries nothing"


@pytest.mark.parametrize("name", PLANS)
def test_the_seven_figures_are_the_largest_letters_of_the_sheet_and_stand_first(name):
    _, _, display = PLANS[name]
    seven = [f["value"] for f in figures(made(name), Display(display))]
    front = letters(printed(name), 1)
    large = [c for c in front if c.size_pt > 30]
    assert "".join(c.char for c in large) == "".join(seven)
    assert {round(c.size_pt, 1) for c in large} == {40.0}
    assert max(c.size_pt for c in front if c.size_pt <= 30) <= 22.1
    if name not in STOPPED:
        above = [c.char for c in front if c.bottom_mm < min(c.top_mm for c in large)]
        assert len(above) < 220 + len(FIGURES_WIN), "only the title, the labels and who wins over them stand over them"


@pytest.mark.parametrize("name", PLANS)
def test_the_figures_lie_on_the_first_page_and_do_not_touch_each_other(name):
    large = [c for c in letters(printed(name), 1) if c.size_pt > 30]
    width, _ = LETTER_OR_A4_MM[PLANS[name][1]]
    assert all(c.left_mm >= 20.0 and c.right_mm <= width - 12.0 for c in large)
    for a, b in pairwise(large):
        same_row = abs(a.bottom_mm - b.bottom_mm) < 2
        assert not same_row or b.left_mm > a.right_mm - 0.5, f"{a.char} and {b.char}"
    bottoms = sorted(c.bottom_mm for c in large)
    assert sum(b - a > 2 for a, b in pairwise(bottoms)) == 1, "two rows, and no figure has fallen out of its own"


@pytest.mark.parametrize("name", PLANS)
def test_every_finding_stands_whole_somewhere(name):
    text = joined(printed(name))
    _, _, display = PLANS[name]
    for finding in made(name).findings:
        says = Display(display).text(finding.says).replace("\u00a0", " ")
        do = Display(display).text(finding.do).replace("\u00a0", " ")
        assert says in text, says
        assert do.split("{page:")[0].strip() in text, do


@pytest.mark.parametrize("name", PLANS)
def test_every_step_caution_and_gate_stands_whole(name):
    text = joined(printed(name))
    _, _, display = PLANS[name]
    for line in made(name).checklist:
        for words in (line.text, line.caution, line.prevents, *line.checks):
            shown = Display(display).text(words).replace("\u00a0", " ").split("{page:")[0].strip()
            assert shown in text, shown


@pytest.mark.parametrize("name", PLANS)
def test_every_line_of_the_day_stands_whole(name):
    text = joined(printed(name))
    for entry in made(name).timeline:
        assert entry.says in text


@pytest.mark.parametrize("name", PLANS)
def test_each_page_says_which_run_and_which_page_of_how_many(name):
    pages = page_texts(printed(name))
    for number, text in enumerate(pages, 1):
        assert f"Run 47, page {number} of {len(pages)}" in text
        assert "Local codes, material" in text


@pytest.mark.parametrize("name", PLANS)
def test_no_sentence_points_to_nowhere(name):
    text = joined(printed(name))
    assert "{page:" not in text
    assert "(not in this plan)" not in text


@pytest.mark.parametrize("name", PLANS)
def test_one_family_sets_every_sheet(name):
    assert {n.split("-")[0] for n in font_names(printed(name))} == {"SourceSansPro"}


@pytest.mark.parametrize("name", PLANS)
def test_no_letter_is_smaller_than_eight_points(name):
    for number in range(1, len(page_texts(printed(name))) + 1):
        small = [c for c in letters(printed(name), number) if c.size_pt < 7.9]
        assert not small, f"page {number}: {''.join(c.char for c in small)}"


# ---- a run that must not be poured


@pytest.mark.parametrize("name", PLANS)
def test_only_a_stopped_run_is_stamped_and_then_on_every_page(name):
    for number, text in enumerate(page_texts(printed(name)), 1):
        assert text.count("DO NOT POUR") == (5 if name in STOPPED else 0), f"page {number}"


@pytest.mark.parametrize("name", STOPPED)
def test_every_page_of_a_stopped_run_says_which_stop(name):
    first = next(f for f in made(name).findings if f.severity == "stop")
    says = Display(PLANS[name][2]).text(first.says).replace("\u00a0", " ")
    for number, text in enumerate(page_texts(printed(name)), 1):
        assert says in " ".join(text.split()), f"page {number}"


@pytest.mark.parametrize("name", STOPPED)
def test_the_stamp_is_heavy_after_a_photocopy_in_one_ink(name):
    """A hard copy keeps what is darker than a third grey: the stamp must still be one black bar at the side and one on top."""
    for grey in ink(printed(name)):
        black = grey < 85
        side = black[:, int(4 * 9.9) : int(4 * 16.1)]
        assert side.mean() > 0.6
        bar = black[(4 * 10) : (4 * 26), (4 * 20) : int(-4 * 12.2)]
        assert bar.mean() > 0.4


def test_the_stamp_hides_no_figure():
    """As much ink lies on and around the figures of a stopped run as on those of the same run without its stop."""
    stopped = made("one-stop")
    clean = run_sheet(replace(stopped, findings=()), paper="a4", display="metric", pictures={})
    assert _ink_of_figures(printed("one-stop")) == pytest.approx(_ink_of_figures(clean), rel=0.005)


def _ink_of_figures(pdf: bytes) -> list[float]:
    """Grey summed over both rows of large figures, whatever lies in them [mm2 of full black]."""
    large = [c for c in letters(pdf, 1) if c.size_pt > 30]
    grey = ink(pdf, dots_per_mm=8)[0].astype(float)
    tops = sorted({round(c.top_mm, 1) for c in large if c.char.isdigit()})
    rows = []
    for top in (tops[0], tops[-1]):
        strip = grey[round(8 * (top - 0.4)) : round(8 * (top + 11.0)), 8 * 20 : 8 * 198]
        rows.append(float((255 - strip).sum() / 255 / 64))
    return rows


# ---- bytes, pictures, scripts


def test_the_same_plan_gives_the_same_bytes():
    again = run_sheet(plan(), paper="a4", display="metric", pictures=drawings(plan()))
    assert again == printed("example")


def test_the_date_of_the_file_is_the_plans_own():
    assert b"D:20261202164000" in printed("example")


def test_each_pattern_has_its_picture_and_a_missing_one_is_said():
    last = len(page_texts(printed("example")))
    assert images(printed("example"), last) == 4
    assert images(printed("pendant"), last) == 3
    assert "No picture." in page_texts(printed("pendant"))[-1]


def test_names_are_data_and_never_markup():
    text = joined(printed("scripts"))
    assert "Nhẫn Hoa Sữa #1 *đẹp* $x_2$" in text
    assert 'Prsten "Křišťál" \\ @half [b] <c>' in text


def test_far_scripts_are_set_with_what_the_machine_has():
    pdf = run_sheet(far_scripts(), paper="a4", display="metric", pictures={})
    assert "Band Heddle" in joined(pdf)
    assert "SourceSansPro" in {n.split("-")[0] for n in font_names(pdf)}


def test_a_tree_by_weight_has_neither_tree_nor_patterns_but_says_what_is_not_known():
    pages = page_texts(printed("by-weight"))
    heads = [text.splitlines()[0].split(" Run 47")[0] for text in pages[1:]]
    assert heads == ["By weight", "Kiln", "Patterns, tree and mould", "Melt, pour, quench"]
    assert "What a weight cannot tell" in pages[1]
    for words in made("by-weight").unknown:
        assert words in " ".join(pages[1].split())
