"""The check list: order of the bench, a number and a caution where they belong, other ways of working."""

import re
from dataclasses import replace

import pytest

from pourwell.materials.studio import Studio
from pourwell.steps.day.checklist import checklist
from pourwell.steps.day.model import CheckStep
from tests.unit.burnout.case import altered
from tests.unit.day.case import bench_of, library, run

ORDER = (
    "Weigh the tree",
    "collar",
    "Respirator on",
    "Weigh the powder, dry",
    "Weigh the water",
    "Powder onto the water",
    "Mix",
    "Vacuum the bowl",
    "Pour down the wall",
    "Vacuum the flask",
    "not moved, not touched",
    "rubber base off",
    "Start the programme",
    "Weigh the charge",
    "Melt under flux",
    "Flask from the kiln",
    "pour in one go",
    "Stand the flask",
    "deep bucket",
    "Knock out and wash under water",
    "Pickle",
    "Weigh the whole casting",
    "Cut off",
)
"""How the bench goes, from the tree on the scale to the cut."""


def texts(steps: tuple[CheckStep, ...]) -> list[str]:
    return [s.text for s in steps]


def position(steps: tuple[CheckStep, ...], words: str) -> int:
    places = [i for i, text in enumerate(texts(steps)) if words in text]
    assert places, f'no step says "{words}"'
    return places[0]


def test_the_steps_stand_in_the_order_of_the_bench() -> None:
    steps = checklist(bench_of(run(pattern="resin")))
    places = [position(steps, words) for words in ORDER]
    assert places == sorted(places)


def test_the_numbers_of_the_plan_stand_at_their_steps() -> None:
    made = run()
    steps = checklist(bench_of(made))
    values = {s.quantity: s.value for s in steps if s.value is not None and s.quantity != "metal_g"}
    assert steps[position(steps, "Weigh the powder")].value == made.mix.powder_g
    assert steps[position(steps, "Weigh the water")].value == made.mix.water_g
    assert steps[position(steps, "Weigh the charge")].value == made.charge.total_g
    assert values["temperature_c"] == made.temperatures.flask_c  # the last of the two: metal before flask
    assert steps[position(steps, "Start the programme")].at is not None


def test_a_respirator_is_named_before_the_bag_is_opened_and_wet_after_the_knock_out() -> None:
    steps = checklist(bench_of(run()))
    assert "P100 or P3" in steps[position(steps, "Respirator on")].caution
    assert "wet" in steps[position(steps, "Knock out")].caution


@pytest.mark.parametrize(
    ("words", "caution"),
    [
        ("Start the programme", "vented outdoors"),
        ("Heat the crucible", "damp throws metal"),
        ("Flask from the kiln", "tongs"),
        ("deep bucket", "Steam"),
        ("Pickle", "Acid into water"),
    ],
)
def test_where_it_can_hurt_a_caution_stands(words: str, caution: str) -> None:
    steps = checklist(bench_of(run()))
    assert caution in steps[position(steps, words)].caution


def test_three_places_where_one_goes_on_only_when_all_is_ticked() -> None:
    gates = [s for s in checklist(bench_of(run())) if s.kind == "gate"]
    assert [g.text for g in gates] == ["Before powder meets water", "Before the kiln", "Before the flask leaves the kiln"]
    kiln = " ".join(gates[1].checks)
    assert "rubber base is OFF" in kiln
    assert "DOWN" in kiln
    assert "raised rack" in kiln
    assert "NO water" in " ".join(gates[2].checks)


def test_an_alloy_that_is_never_quenched_is_said_so() -> None:
    steps = checklist(bench_of(run(alloy="gold-585-white-nickel")))
    assert position(steps, "Do NOT quench")
    assert not any("deep bucket" in text for text in texts(steps))


def test_without_vacuum_no_step_asks_for_a_pump() -> None:
    bare = Studio(casting={"way": "gravity"}, investing_vacuum={"bowl": False, "flask": False})
    steps = checklist(bench_of(run(studio=bare), studio=bare))
    assert not any("acuum" in text for text in texts(steps))
    assert any("etting agent" in text or "brush" in text for text in texts(steps))


def test_a_centrifuge_is_balanced_and_guarded() -> None:
    spun = Studio(casting={"way": "centrifuge"})
    steps = checklist(bench_of(run(studio=spun), studio=spun))
    assert position(steps, "Balance the arm") < position(steps, "guard shut")


def test_a_thermometer_makes_the_signs_needless() -> None:
    read = Studio(melting={"thermometer": True})
    with_signs, without = (checklist(bench_of(run(studio=s), studio=s)) for s in (Studio(), read))
    assert "Without a thermometer" in with_signs[position(with_signs, "Melt under flux")].text
    assert "Without a thermometer" not in without[position(without, "Melt under flux")].text


@pytest.mark.parametrize("alloy", sorted(library().alloys))
def test_no_step_of_any_alloy_holds_an_unfinished_figure(alloy: str) -> None:
    mould = "phosphate" if library().alloy(alloy).mould == "phosphate" else "gypsum-standard"
    for step in checklist(bench_of(run(alloy=alloy, investment=mould))):
        for sentence in (step.text, step.plan, step.caution, step.prevents, *step.checks):
            left = re.sub(r"\{([tmklpg]):-?[\d.]+\}|\{page:\w+\}", "", sentence)
            assert "{" not in left
            assert "None" not in left
            assert "nan" not in left.split()


def step_of(steps: tuple[CheckStep, ...], words: str) -> CheckStep:
    return steps[position(steps, words)]


def test_the_clock_of_the_slurry_is_told_in_minutes_and_two_digits_of_seconds() -> None:
    steps = checklist(bench_of(run()))
    plans = [
        step_of(steps, words).plan for words in ("Powder onto the water", "Mix to an even", "Vacuum the bowl", "Pour down the wall")
    ]
    assert plans == ["0:00 to 0:50", "0:50 to 4:35", "4:35 to 6:05", "6:05 to 7:10"]
    assert step_of(steps, "Finished").plan == "8:30"


def test_the_bowl_is_told_in_litres_and_the_way_to_the_table_in_seconds() -> None:
    made = run()
    steps = checklist(bench_of(made))
    assert "(1.5 l or more)" in step_of(steps, "Weigh the water").text
    assert step_of(steps, "Flask from the kiln").plan == "within 20 s"
    assert "{t:21} to {t:24}" in step_of(steps, "Weigh the water").text


def test_the_kiln_and_the_pour_have_their_hours() -> None:
    bench = bench_of(run())
    steps = checklist(bench)
    assert step_of(steps, "Start the programme").at == bench.starts("kiln")
    assert step_of(steps, "pour in one go").at == bench.starts("pour")
    assert bench.starts("kiln") != bench.starts("strip")


def test_only_an_alloy_that_orders_is_brittle_when_it_is_quenched_too_late() -> None:
    rose, plain = (checklist(bench_of(run(alloy=name))) for name in ("gold-750-rose", "sterling-925"))
    assert "brittle if too late" in step_of(rose, "Stand the flask").prevents
    assert "brittle" not in step_of(plain, "Stand the flask").prevents


def test_each_phase_begins_at_its_own_line_of_the_day() -> None:
    bench = bench_of(run())
    begins = {s.text: s.starts_at for s in checklist(bench) if s.kind == "phase"}
    lines = {
        "Tree": "wrap",
        "Investing": "wrap",
        "Into the kiln": "strip",
        "Setting out": "setout",
        "Melt and pour": "melt",
        "Quench and knock-out": "stand",
    }
    assert begins == {text: bench.starts(key) for text, key in lines.items()}


def test_a_mould_that_stands_over_two_hours_is_bagged_damp() -> None:
    made = bench_of(run(pattern="resin", investment="gypsum-resin"))
    stands_h = (made.starts("strip") - made.starts("set")).total_seconds() / 3600
    said = [s.text for s in checklist(made) if "bag it damp" in s.text]
    assert stands_h > made.mix.bag_after_h == library().rule("stand_max_h")
    assert said == [
        "Then bag it damp: a damp cloth round it, a closed bag, away from draughts, until its base comes off. "
        f"It stands {stands_h:.1f} h."
    ]
    brief = replace(made, mix=replace(made.mix, bag_after_h=stands_h))
    assert not [s for s in checklist(brief) if "bag it damp" in s.text]


def test_an_investment_that_does_not_say_how_long_it_may_stand_stands_two_hours() -> None:
    """Its own row wins where it says: 2.5 h; else the rule."""
    row = library().investment("gypsum-standard")
    assert run(investment=row).mix.stand_max_h == 2.5
    assert run(investment=altered(row, stand_max_h=None)).mix.stand_max_h == library().rule("stand_max_h") == 2
