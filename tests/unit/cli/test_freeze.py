"""What `pourwell freeze` prints, and its exit codes."""

import io

import pytest
from rich.console import Console

from pourwell.cli import freezing_summary
from pourwell.cli.freezing_summary import print_freezing
from tests.unit.freeze.made import change, clock, freezing


@pytest.fixture
def printed(monkeypatch):
    """Prints a freezing on wide paper and returns the text."""

    def show(given):
        paper = io.StringIO()
        console = Console(file=paper, width=200, highlight=False)
        monkeypatch.setattr(freezing_summary, "console", lambda: console)
        monkeypatch.setattr("pourwell.cli.show.console", lambda: console)
        print_freezing(given)
        return paper.getvalue()

    return show


def test_the_verdict_stands_first_and_each_sprue_has_its_row(printed):
    lines = printed(freezing(clock(1), clock(2, "B", "cut off", sprue=14.2, section=23.6, void=(1.0, 3.4)))).splitlines()
    assert lines[0] == "Piece 2 is cut off from the button before it is solid."
    assert lines[1].split() == [
        "sprue",
        "1",
        "feeds",
        "until",
        "9",
        "s",
        "piece",
        "A",
        "behind",
        "it",
        "needs",
        "feed",
        "until",
        "8",
        "s:",
        "fed",
    ]
    assert "sprue 2" in lines[2]
    assert "14 s" in lines[2]
    assert "cut off, pits up to a ball of 1.9 mm" in lines[2]


def test_the_button_is_told_with_the_vacuum_and_the_glow_with_the_sign(printed):
    said = printed(freezing())
    assert "button solid" in said
    assert "53 s to 2 min" in said
    assert "vacuum is held 2 min at least" in said
    assert "red inside until" in said
    assert "7 to 11 min" in said
    assert "No red on the button in the shade, never minutes alone." in said


def test_the_flasks_outside_is_told_with_its_hottest(printed):
    assert "418 °C" in printed(freezing())
    assert "up to 436" in printed(freezing())


def test_what_was_tried_is_told_with_what_it_gave(printed):
    said = printed(freezing(changes=(change(helps=False, after=1.8), change(does="Pour into a flask at {t:450}."))))
    assert "Tried: Take a sprue of 3.5 mm in place of 2.5 mm. misses a ball of 1.5 mm, was 1.6" in said
    assert "Tried: Pour into a flask at 450 °C. stays fed" in said


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({}, "Freezing curve computed for the recipe (Scheil): 779 to 896 °C, either end within 10 K."),
        ({"curve": "straight", "curve_source": "studio"}, "Freezing range of studio: 779 to 896 °C, straight between."),
    ],
)
def test_where_the_freezing_curve_comes_from_is_told(printed, given, told):
    assert told in printed(freezing(**given))


def test_the_audit_and_what_is_not_modelled_stand_last(printed):
    last = printed(freezing()).splitlines()[-1]
    assert last.startswith("Draft: cells of 1.00 mm, 70334 of them, heat missing 2e-11 percent.")
    assert last.endswith("Not modelled: filling; gas.")
    assert printed(freezing(fine=True, edge_mm=0.5)).splitlines()[-1].startswith("Fine: cells of 0.50 mm")
