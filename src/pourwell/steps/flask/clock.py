"""The working clock: from the first powder on the water until the gloss goes off."""

from collections.abc import Sequence
from typing import Final

from pourwell.materials.library import Library
from pourwell.materials.model import Rule
from pourwell.materials.studio import InvestingVacuum
from pourwell.steps.flask.model import ClockStep

STEP_S: Final = 5
"""What a stop-clock is read to."""
MIXING: Final = 1
"""Which of the stages takes what time is left: mixing, for a slurry that stands finished leaves water marks."""

WET = ("wet", "clock_wet_s", "Powder onto the water, never water onto powder. Start the clock at the first powder; let it wet in.")
MIX = ("mix", "clock_mix_s", "Mix to an even cream without beating air in.")
BOWL = ("bowl", "clock_bowl_s", "Vacuum the bowl: let it rise, boil and fall back, then some seconds more.")
POUR = ("pour", "clock_pour_s", "Pour down the wall of the flask, not onto the tree.")
FLASK = ("flask", "clock_flask_s", "Vacuum the flask; tap it for the last 30 s.")
HAND_MIX = ("mix", "clock_hand_mix_s", "Mix slowly by hand, the spatula under the surface, without beating air in.")
TAP = ("bowl", "clock_tap_s", "Tap the bowl on the bench so that bubbles rise; break them.")
BRUSH = ("brush", "clock_brush_s", "Brush slurry over the tree, dry from its wetting agent, into every recess and setting.")
TILT = ("pour", "clock_tilt_s", "Tilt the flask and pour slowly down its wall, so that the slurry climbs the tree from below.")
WETTING: Final = "Dip the tree in wetting agent, let it drain, and dry it wholly in moving air: no drop, no foam."
"""Before the clock, where the pump does not take the bubbles off."""
VIBRATE = ("flask", "clock_vibrate_s", "Set it level; tap or vibrate the flask so that bubbles let go and rise.")


def working_clock(gloss_off_s: float, finish_s: float, *, vacuum: InvestingVacuum, library: Library) -> tuple[ClockStep, ...]:
    """The stages one after another, stretched or shortened so that the last ends at `finish_s`; then the gloss.

    Without vacuum the work goes another way: slow mixing, a brush coat on a tree dipped in wetting agent, a tilted pour, vibration.
    """
    first = (MIX, BOWL) if vacuum.bowl else (HAND_MIX, TAP)
    coat = () if vacuum.bowl or vacuum.flask else (BRUSH,)
    last = (POUR, FLASK) if vacuum.flask else (TILT, VIBRATE)
    stages = (WET, *first, *coat, *last)
    lengths = _lengths([library.rules[rule] for _, rule, _ in stages], finish_s)
    ends = [round(sum(lengths[: i + 1]) / STEP_S) * STEP_S for i in range(len(stages))]
    finish, gloss = ends[-1], round(gloss_off_s)
    return (
        *(
            ClockStep(key=key, at_s=start, until_s=end, says=says)
            for (key, _, says), start, end in zip(stages, [0, *ends[:-1]], ends, strict=True)
        ),
        ClockStep(key="finish", at_s=finish, until_s=finish, says="Finished: top up, set it down, and do not touch it again."),
        ClockStep(key="gloss", at_s=gloss, until_s=gloss, says="The gloss goes about now. Write down when: your bag's own time."),
    )


def _lengths(rules: Sequence[Rule], whole_s: float) -> list[float]:
    """How long each stage takes [s], to fill the whole: all stretch alike within their published ends, and mixing takes the rest.

    Where the published ends do not fit, all are shortened alike; a finding says so.
    """
    stretch = whole_s / sum(rule.value for rule in rules)
    lengths = [min(rule.high or rule.value, max(rule.low or rule.value, rule.value * stretch)) for rule in rules]
    lengths[MIXING] += whole_s - sum(lengths)
    if lengths[MIXING] < (rules[MIXING].low or rules[MIXING].value):
        return [rule.value * stretch for rule in rules]
    return lengths
