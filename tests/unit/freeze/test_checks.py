"""Findings of the freezing."""

import pytest

from pourwell.errors import BadRequestError, UnsoundResultError
from pourwell.findings import Severity, spelt_out
from pourwell.steps.freeze import checks
from tests.unit.freeze.made import change, clock, freezing, pool, spell
from tests.unit.freeze.trees import LIBRARY


def found(*clocks, **given):
    return checks.findings(checks.Facts(freezing=freezing(*clocks, **given), library=LIBRARY))


def codes(*clocks, **given):
    return [finding.code for finding in found(*clocks, **given)]


def test_freeze_cut_off_fires():
    """A piece that loses its feed warns, with the place on the tree, the times and where it will pit."""
    lost = clock(2, "B", "cut off", void=(1.0, 3.4))
    (finding,) = found(clock(1), lost, pools=(pool(1, 2),))
    assert finding.code == "freeze-cut-off"
    assert finding.severity is Severity.WARN
    assert finding.where == "piece B"
    assert "loses its feed before it is solid (number 2 on the tree)" in finding.says
    assert "piece 2, 19 mm from its sprue" in spelt_out(finding.says)
    assert "after 7 s" in finding.says
    assert "until 10 s" in finding.says
    assert finding.measure == "1.0 to 3.4 mm³ not fed"
    assert finding.limit == "followed to a solid fraction of 0.7"


def test_freeze_cut_off_stays_silent():
    assert codes(clock(1), clock(2, "B")) == []
    assert "freeze-cut-off" not in codes(clock(1), clock(2, "B", "uncertain"))


def test_freeze_uncertain_fires():
    (finding,) = found(clock(1), clock(2, "B", "uncertain", void=(0.0, 3.4)), pools=(pool(1, 2, "uncertain"),))
    assert finding.code == "freeze-uncertain"
    assert finding.severity is Severity.NOTE
    assert "may lose its feed before it is solid: a slow and a fast mould disagree" in finding.says


def test_freeze_uncertain_stays_silent():
    assert "freeze-uncertain" not in codes(clock(1), clock(2, "B", "cut off"))
    assert codes(clock(1)) == []


def test_each_kind_of_piece_is_told_once_with_all_its_places_and_its_worst():
    mild, bad = clock(1, "B", "cut off", void=(0.5, 1.0)), clock(3, "B", "cut off", void=(2.0, 5.0))
    (finding,) = found(mild, clock(2), bad, pools=(pool(1, 3), pool(2, 1)))
    assert "numbers 1, 3 on the tree" in finding.says
    assert finding.measure == "2.0 to 5.0 mm³ not fed"
    assert "piece 3, 19 mm" in spelt_out(finding.says)


def test_two_kinds_are_told_apart():
    assert codes(clock(1, "A", "cut off"), clock(2, "B", "cut off")) == ["freeze-cut-off", "freeze-cut-off"]


def test_without_a_pool_in_the_run_as_the_rows_say_only_the_piece_is_told():
    (finding,) = found(clock(2, "B", "uncertain"), pools=(pool(1, 7),))
    assert finding.says == "It may lose its feed before it is solid: a slow and a fast mould disagree (number 2 on the tree)."


def test_what_a_run_has_shown_to_help_is_what_to_do():
    tried = (change(helps=False, does="Pour colder."), change("A", does="Not for this one."), change(helps=True))
    (finding,) = found(clock(2, "B", "cut off"), changes=tried)
    assert spelt_out(finding.do) == "Take a sprue of 3.5 mm in place of 2.5 mm."


def test_where_nothing_that_was_tried_helps_that_is_said_and_where_nothing_was_tried_the_usual_advice_stands():
    (finding,) = found(clock(2, "B", "cut off"), changes=(change(helps=False),))
    assert finding.do.startswith("Nothing that was tried heals it")
    (finding,) = found(clock(2, "B", "cut off"), changes=(change("A"),))
    assert finding.do.startswith("Feed its heaviest section")


def test_freeze_thin_fires():
    (finding,) = found(clock(1), thinnest_cells_count=1.2, edge_mm=0.99)
    assert finding.code == "freeze-thin"
    assert finding.severity is Severity.NOTE
    assert finding.measure == "1.2 cells across"
    assert "--fine" in finding.do


def test_freeze_thin_stays_silent():
    assert codes(clock(1), thinnest_cells_count=1.5) == []
    assert codes(clock(1), thinnest_cells_count=2.0) == []


def test_freeze_not_computed_fires():
    err = BadRequestError("The flask is hot.", why="It is 900 °C.", try_this="Let it cool.")
    finding = checks.not_computed(err)
    assert finding.code == "freeze-not-computed"
    assert finding.severity is Severity.NOTE
    assert finding.says == "How the tree freezes was not computed. The flask is hot. It is 900 °C."
    assert finding.do == "Let it cool."


def test_freeze_not_computed_stays_silent(sound):
    """A tree that freezes has no such note; the check is not among those of a freezing at all."""
    assert "freeze-not-computed" not in [finding.code for finding in sound.findings]
    assert checks.not_computed not in checks.CHECKS


def test_a_fault_without_advice_gets_some():
    finding = checks.not_computed(UnsoundResultError("Heat went missing.", why=""))
    assert finding.says.endswith("Heat went missing.")
    assert finding.do == "Plan again once the cause is mended."


@pytest.mark.parametrize("code", [code.code for code in checks.CODES])
def test_every_code_begins_with_the_step(code):
    assert code.startswith("freeze-")


def test_times_that_round_to_the_same_second_are_told_to_a_tenth():
    quick = pool(1, 2, lost=spell(3.5), solid=spell(4.1))
    (finding,) = found(clock(2, "B", "uncertain"), pools=(quick,))
    assert "after 3.5 s" in finding.says
    assert "until 4.1 s" in finding.says
    assert "would shrink" in finding.says, "of what is not certain nothing is said for certain"
