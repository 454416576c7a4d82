"""The check list at the cold end: wetting, seat and collar, clean-up, stripping."""

from pourwell.materials.studio import Studio
from pourwell.steps.day.checklist import checklist
from pourwell.steps.day.model import CheckStep
from tests.unit.day.case import bench_of, run

BARE = Studio(investing_vacuum={"bowl": False, "flask": False})
HALF = Studio(investing_vacuum={"bowl": True, "flask": False})


def listed(**asked: object) -> tuple[CheckStep, ...]:
    made = run(**asked)
    return checklist(bench_of(made, studio=made.studio))


def words(steps: tuple[CheckStep, ...]) -> str:
    return " | ".join(" ".join((s.text, *s.checks)) for s in steps)


def test_without_the_pump_the_tree_is_dipped_and_dried_before_it_is_seated() -> None:
    for studio in (BARE, HALF):
        steps = listed(studio=studio)
        (dip,) = (i for i, s in enumerate(steps) if "wetting agent, let it drain" in s.text)
        assert steps[dip].plan == "15 min"
        assert "Seat the flask" in steps[dip + 1].text
    assert "wetting" not in words(listed())


def test_no_collar_of_nothing_is_raised_ticked_or_taken_off() -> None:
    bare = listed(studio=BARE)
    assert "ollar" not in words(bare)
    assert "base seals" in words(bare)
    assert "Rubber base off, rim scraped" in words(bare)
    assert "{l:30}" in words(listed())


def test_what_was_put_on_comes_off() -> None:
    assert "Collar off, rubber base off" in words(listed())
    wrapped = words(listed(perforated=True, studio=BARE))
    assert "Wrap the perforated flask and raise a collar of {l:10}" in wrapped
    assert "Wrap and collar off, rubber base off" in wrapped


def test_the_slurry_is_cleaned_up_before_it_sets_and_never_down_the_sink() -> None:
    steps = listed()
    (at,) = (i for i, s in enumerate(steps) if s.text.startswith("Clean up"))
    assert "settle" in steps[at].text
    assert "sink" in steps[at].caution
    assert "gloss" in steps[at - 1].text
    assert "not touched" in steps[at + 1].text
