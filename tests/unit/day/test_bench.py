"""How a figure stands in the check list: spans of a clock, wide bands, long waits, and where a caution belongs."""

from dataclasses import replace

import pytest

from pourwell.materials.model import Alloy, Caution
from pourwell.steps.day.bench import clocked, hours, quantified, roughly, waits
from pourwell.steps.day.checklist import checklist
from tests.unit.day.case import bench_of, library, run


@pytest.mark.parametrize(
    ("low_s", "high_s", "told"),
    [
        (74, 251, "1 to 4½ min"),
        (25, 88, "25 s to 1½ min"),
        (7, 38, "5 to 40 s"),
        (58, 59, "55 s to 1 min"),
        (60, 60, "1 min"),
        (91, 150, "1½ to 2½ min"),
        (5, 5, "5 s"),
    ],
)
def test_a_wide_band_is_told_in_what_the_bench_can_tell_apart_and_rounded_outward(low_s: int, high_s: int, told: str) -> None:
    assert roughly(low_s, high_s) == told


def test_a_stop_clock_is_told_to_the_second_and_one_moment_alone() -> None:
    assert (clocked(0, 50), clocked(274, 365), clocked(510, 510)) == ("0:00 to 0:50", "4:34 to 6:05", "8:30")


def test_a_long_wait_is_told_in_half_hours_and_never_too_short() -> None:
    assert [hours(m) for m in (30, 31, 60, 150, 151)] == ["½ h", "1 h", "1 h", "2½ h", "3 h"]
    assert (waits(45, 99), waits(16, 18), waits(16, 16)) == ("45 to 100 min", "16 to 18 min", "16 min")
    assert (waits(51, 111), waits(80, 200), waits(121, 130)) == ("55 to 115 min", "1½ to 3½ h", "2½ h")


def test_degrees_in_a_sentence_of_the_library_become_quantities() -> None:
    assert quantified("Keep it under 24 °C, not 0.5 °C more.") == "Keep it under {t:24}, not {t:0.5} more."
    assert quantified("Shade 10 to 14.") == "Shade 10 to 14."


def test_a_caution_stands_where_it_belongs_and_nowhere_else() -> None:
    made = run(alloy="brass-silicon-875")
    bench = bench_of(made)
    assert "lead" in bench.warned("weigh")
    assert "Zinc boils" in bench.warned("melt", "Shield down.")
    assert bench.warned("melt", "Shield down.").startswith("Shield down. ")
    assert "Slag of silica" in bench.warned("pour")
    assert "stain silver red" in bench.warned("pickle")
    assert "lead" not in bench.warned("melt")


def test_a_caution_without_a_place_stands_at_the_mix_or_at_the_melt() -> None:
    made = run()
    ours = Caution(text="Keep the powder below 24 °C.", source="studio", grade="supplier")
    there = Caution(text="Vent to the north.", source="studio", grade="supplier", when="kiln")
    bag = made.investment.model_copy(update={"cautions": (*made.investment.cautions, ours, there)})
    sheet = made.alloy.model_copy(update={"cautions": (*made.alloy.cautions, ours)})
    steps = checklist(replace(bench_of(made), investment=bag, alloy=sheet))
    said = {s.text: s.caution for s in steps if "Keep the powder below {t:24}." in s.caution}
    assert [text.partition(" ")[0] for text in said] == ["Respirator", "Heat"]
    (kiln,) = (s for s in steps if "Vent to the north." in s.caution)
    assert kiln.text == "Start the programme."
    assert "sulphur dioxide" in kiln.caution


def everything(alloy: Alloy) -> str:
    mould = "phosphate" if alloy.mould == "phosphate" else "gypsum-standard"
    return " ".join(s.caution for s in checklist(bench_of(run(alloy=alloy.id, investment=mould))))


@pytest.mark.parametrize("name", sorted(library().alloys))
def test_every_caution_of_an_alloy_reaches_the_list_once_unless_it_is_told_elsewhere(name: str) -> None:
    alloy = library().alloy(name)
    told = everything(alloy)
    for caution in alloy.cautions:
        if caution.when == "quench" and alloy.quench.way == "air":
            continue
        assert told.count(quantified(caution.text)) == (0 if caution.when == "elsewhere" else 1), caution.text
