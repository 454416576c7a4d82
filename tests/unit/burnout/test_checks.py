"""Findings of the burnout step: each fires and stays silent."""

import pytest

from pourwell.findings import spelt_out
from pourwell.materials.model import Proof
from pourwell.materials.studio import Kiln, Studio
from tests.unit.burnout.case import own_programme, run, with_row

TIGHT = ((149, 100, 120), (371, 100, 45), (732, 150, 180), ("flask", 100, 90))
GENTLE = ((149, 100, 120), (371, 100, 240), (732, 150, 180), ("flask", 100, 90))


def kiln(**changes):
    return Studio(kiln=Kiln(**changes))


def own(*steps, **more):
    """A run by the maker's schedule."""
    stones = more.pop("stones_schedule", False)
    return run(own="maker", shelf=with_row("programmes", own_programme(*steps, stones=stones)), **more)


def test_stones_without_schedule_fires():
    resin = run(pattern="resin", investment="gypsum-stone", stones=True)
    assert resin.severity("stones-without-schedule") == "stop"
    assert own(*GENTLE, stones=True, pattern="resin").severity("stones-without-schedule") == "stop"
    assert own(*GENTLE, stones=True).severity("stones-without-schedule") == "warn"


def test_stones_without_schedule_stays_silent():
    assert "stones-without-schedule" not in run(investment="gypsum-stone", stones=True).codes
    assert "stones-without-schedule" not in run(pattern="resin", investment="gypsum-resin").codes
    makers = own(*GENTLE, stones=True, pattern="resin", stones_schedule=True)
    assert "stones-without-schedule" not in makers.codes


def test_the_published_wax_cycle_does_not_make_resin_with_stones_safe():
    named = run(pattern="resin", investment="gypsum-stone", stones=True, own="stone-wax")
    assert named.severity("stones-without-schedule") == "stop"


def test_stones_unsaid_fires():
    """The investment's own programme is for stones, or the user's is: without stones said it would quench them wet."""
    found = run(investment="gypsum-stone").finding("stones-unsaid")
    assert found.severity == "stop"
    assert "--stones (stones = true" in found.do
    assert own(*GENTLE, stones_schedule=True).severity("stones-unsaid") == "stop"


def test_stones_unsaid_stays_silent():
    assert "stones-unsaid" not in run(investment="gypsum-stone", stones=True).codes
    assert "stones-unsaid" not in own(*GENTLE).codes


def test_resin_without_schedule_fires():
    found = run(pattern="resin", investment="gypsum-stone").finding("resin-without-schedule")
    assert found.severity == "stop"
    assert "{t:415}" in found.says


def test_resin_in_a_mould_with_only_an_advisory_schedule_is_warned():
    made = run(alloy="platinum-950-ruthenium", investment="phosphate", pattern="resin")
    assert made.severity("resin-without-schedule") == "warn"
    assert "No schedule for printed resin in phosphate is published" in made.finding("resin-without-schedule").says
    assert "programme-advisory" not in made.codes, "said once"
    assert not any("wax" in s.why for s in made.programme.segments)


def test_resin_without_schedule_stays_silent():
    assert "resin-without-schedule" not in run(alloy="platinum-950-ruthenium", investment="phosphate").codes
    assert "resin-without-schedule" not in run(pattern="resin", investment="gypsum-resin").codes
    assert "resin-without-schedule" not in run(investment="gypsum-stone").codes
    assert "resin-without-schedule" not in own(*GENTLE, pattern="resin", investment="gypsum-stone").codes


@pytest.mark.parametrize(("peak_c", "severity"), [(738, "warn"), (752, "warn"), (758, "stop"), (800, "stop")])
def test_kiln_over_ceiling_fires(peak_c, severity):
    made = own((149, 100, 120), (371, 100, 240), (peak_c, 150, 180), ("flask", 100, 90))
    assert made.severity("kiln-over-ceiling") == severity


@pytest.mark.parametrize("flask_c", [733, 745])
def test_flask_over_peak_fires(flask_c):
    """gypsum-resin goes to 732 degC."""
    assert run(flask_c=flask_c).severity("flask-over-peak") == "stop"


@pytest.mark.parametrize("flask_c", [700, 732])
def test_flask_over_peak_stays_silent(flask_c):
    assert "flask-over-peak" not in run(flask_c=flask_c).codes


@pytest.mark.parametrize("peak_c", [720, 734])
def test_kiln_over_ceiling_stays_silent(peak_c):
    made = own((149, 100, 120), (371, 100, 240), (peak_c, 150, 180), ("flask", 100, 90))
    assert "kiln-over-ceiling" not in made.codes
    assert "kiln-over-ceiling" not in run(studio=kiln(error_k=30)).codes
    assert "kiln-over-ceiling" not in run(alloy="platinum-950-cobalt", investment="phosphate").codes


@pytest.mark.parametrize(("error_k", "severity"), [(10, "warn"), (25, "warn"), (66, "stop")])
def test_stones_have_a_lower_ceiling_than_the_mould(error_k, severity):
    """Published: never over 454 degC; 482 to 510 is also done with boric acid. Set-point 445 and the kiln's error."""
    made = run(investment="gypsum-stone", stones=True, studio=kiln(error_k=error_k))
    found = made.finding("kiln-over-ceiling")
    assert (str(found.severity), spelt_out(found.limit)) == (severity, "454 °C, stop over 510 °C")
    assert "stones" in found.says
    assert f"{{t:{454 - error_k}}}, for the flask at the pour too" in found.do


def test_a_common_kiln_stays_under_what_stones_stand():
    for investment in ("gypsum-stone", "gypsum-standard"):
        made = run(investment=investment, stones=True)
        assert "kiln-over-ceiling" not in made.codes
        assert (made.programme.ceiling_c, made.programme.stones) == (454, True)
    assert (run().programme.ceiling_c, run().programme.stones) == (760, False)


def test_peak_low_fires():
    found = run(studio=kiln(error_k=45)).finding("peak-low")
    assert found.severity == "warn"
    assert "{k:45}" in found.says
    assert "lowered" not in own((149, 100, 120), (371, 100, 240), (650, 150, 180), ("flask", 100, 90)).finding("peak-low").says


def test_a_peak_that_never_burns_carbon_is_a_stop_and_says_where_to_go():
    found = own((149, 100, 120), (371, 100, 240), (390, 100, 180), ("flask", 100, 90)).finding("peak-low")
    assert found.severity == "stop"
    assert found.do.startswith("Go to {t:732}")
    assert own((149, 100, 120), (371, 100, 240), (660, 150, 180), ("flask", 100, 90)).severity("peak-low") == "warn"


def test_peak_low_stays_silent():
    assert "peak-low" not in run(studio=kiln(error_k=40)).codes
    assert "peak-low" not in run(investment="gypsum-stone", stones=True).codes


def test_core_dry_fires():
    """A drying hold of 45 min: dry in time by the likely inputs, not at their slow end."""
    found = own(*TIGHT).finding("core-dry")
    assert found.severity == "note"
    assert "at the slow end too late" in found.says
    assert "cold after a burnout without metal" in found.do


def test_core_dry_stays_silent():
    assert "core-dry" not in run().codes
    assert "core-dry" not in own((149, 150, 30), (732, 240, 120), ("flask", 120, 60)).codes


def test_core_wet_fires():
    found = own((149, 150, 30), (732, 240, 120), ("flask", 120, 60)).finding("core-wet")
    assert found.severity == "stop"
    percent = int(found.says.partition("% of the free water")[0].rpartition(" ")[2])
    assert 20 < percent < 100


def test_a_mould_that_never_dries_is_a_stop_though_it_never_passes_400():
    found = own((90, 100, 60), ("flask", 100, 60), flask_c=80).finding("core-wet")
    assert found.severity == "stop"
    assert "never dry" in found.says


def test_a_wet_core_of_a_programme_that_is_proven_in_such_flasks_is_a_warning():
    row = own_programme((149, 150, 30), (732, 240, 120), ("flask", 120, 60))
    for to_mm, severity in ((150, "warn"), (20, "stop")):
        proof = row.model_copy(update={"proven": Proof(to_mm=to_mm, pattern="wax")})
        made = run(own="maker", pattern="wax-injection", shelf=with_row("programmes", proof))
        assert made.severity("core-wet") == severity


@pytest.mark.parametrize("diameter_mm", [40, 64, 89, 102, 130])
def test_core_wet_stays_silent(diameter_mm):
    assert "core-wet" not in run(size=(diameter_mm, 120)).codes
    assert "core-wet" not in run(size=(diameter_mm, 120), pattern="resin", investment="gypsum-resin").codes


def test_ramp_fast_fires():
    cold = own((300, 200, 240), (732, 200, 180), ("flask", 100, 90)).finding("ramp-fast")
    assert cold.where == "burnout, segment 1"
    large = own(*GENTLE[:2], (732, 240, 180), ("flask", 100, 90), size=(127, 150)).finding("ramp-fast")
    assert large.where == "burnout, segment 3"
    assert large.severity == "warn"


@pytest.mark.parametrize("diameter_mm", [40, 64, 89, 102, 130])
def test_ramp_fast_stays_silent(diameter_mm):
    assert "ramp-fast" not in run(size=(diameter_mm, 120)).codes
    assert "ramp-fast" not in run(size=(diameter_mm, 120), alloy="platinum-950-cobalt", investment="phosphate").codes


def test_flask_hold_short_fires():
    assert own(*GENTLE[:3], ("flask", 100, 30)).severity("flask-hold-short") == "warn"


def test_flask_hold_short_stays_silent():
    assert "flask-hold-short" not in own(*GENTLE[:3], ("flask", 100, 60)).codes
    assert "flask-hold-short" not in run(size=(40, 50)).codes


def test_flask_under_inversion_fires():
    for flask_c in (200, 280, 300):
        assert run(flask_c=flask_c).severity("flask-under-inversion") == "warn"


def test_a_flask_heated_again_after_it_has_cooled_is_a_stop():
    found = own((149, 100, 120), (371, 100, 240), (750, 150, 180), (200, 100, 30), ("flask", 100, 90)).finding(
        "flask-under-inversion"
    )
    assert found.severity == "stop"
    assert "heating it again" in found.says
    assert (found.measure, found.limit) == ("{t:200}", "{t:305.5}")


def test_a_level_under_300_on_the_way_up_is_no_fall():
    assert "flask-under-inversion" not in own((149, 100, 120), (120, 100, 30), *GENTLE[1:]).codes


def test_flask_under_inversion_stays_silent():
    assert "flask-under-inversion" not in run(flask_c=306).codes
    assert "flask-under-inversion" not in run(flask_c=300, studio=kiln(error_k=0)).codes


def test_kiln_by_hand_fires():
    made = run(studio=kiln(segments_count=0))
    assert made.severity("kiln-by-hand") == "note"
    assert f"{len(made.programme.by_hand)} settings" in made.finding("kiln-by-hand").says


def test_kiln_by_hand_stays_silent():
    assert "kiln-by-hand" not in run(studio=kiln(segments_count=4)).codes


def test_kiln_few_segments_fires():
    found = run(studio=kiln(segments_count=2)).finding("kiln-few-segments")
    assert found.severity == "note"
    assert (found.measure, found.limit) == ("4 segments", "2 segments")


def test_one_segment_left_to_the_hand_is_told_in_the_singular():
    says = run(studio=kiln(segments_count=3)).finding("kiln-few-segments").says
    assert "the last one is set by hand, 1 setting by the clock" in says


def test_kiln_few_segments_stays_silent():
    assert "kiln-few-segments" not in run(studio=kiln(segments_count=4)).codes
    assert "kiln-few-segments" not in run(studio=kiln(segments_count=0)).codes


def test_programme_advisory_fires():
    assert run(alloy="platinum-950-ruthenium", investment="phosphate").severity("programme-advisory") == "note"


def test_programme_advisory_stays_silent():
    assert "programme-advisory" not in run().codes
    assert "programme-advisory" not in run(pattern="resin").codes
    assert "programme-advisory" not in own(*GENTLE, pattern="resin").codes


@pytest.mark.parametrize("diameter_mm", [28, 140])
def test_burnout_size_unchecked_fires(diameter_mm):
    assert run(size=(diameter_mm, 100)).severity("burnout-size-unchecked") == "warn"


@pytest.mark.parametrize("diameter_mm", [30, 130])
def test_burnout_size_unchecked_stays_silent(diameter_mm):
    assert "burnout-size-unchecked" not in run(size=(diameter_mm, 100)).codes
    assert "burnout-size-unchecked" not in own(*GENTLE, size=(140, 100)).codes
