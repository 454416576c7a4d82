"""Runs in hand: where each stands by its plan, and what comes next."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any, Final

from pourwell.store.model import KeptResult, KeptRun

OVER_AFTER: Final = timedelta(hours=2)
"""After its last step a run is still in hand for so long."""
GRAVEST: Final = ("stop", "warn", "note")
KILN_TAKEN: Final = "kiln-taken"
"""The code of a finding that stops a run at the kiln, before there is anything to pour."""
HANDS_TWICE: Final = "hands-twice"
"""The code of a finding that both runs have, and that names both."""
BY_ITSELF: Final = {"set": "setting", "kiln": "in the kiln", "stand": "standing", "pickle": "in the pickle"}
"""What a run does when nobody has to do anything."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One line of the day."""

    key: str
    says: str
    starts_at: datetime
    ends_at: datetime
    hands_on_min: float

    @property
    def hands_until(self) -> datetime:
        """Until when somebody must be there."""
        return self.starts_at + timedelta(minutes=self.hands_on_min)


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A run and where it stands."""

    run: KeptRun
    result: KeptResult | None
    plan: Mapping[str, Any] | None
    """Of its first flask; None while it is not worked out."""
    steps: tuple[Step, ...]
    """Of all its flasks, by the clock."""
    hands: tuple[Step, ...] = ()
    """Every time that somebody must be there, by the clock: also each setting of a kiln that is set by hand."""
    clashes: tuple[Mapping[str, Any], ...] = ()
    """Findings about this run and others in hand, which no plan can know."""
    burnout: bool = False
    """Is it a burnout by itself, which has no pieces that could go into another run."""
    former: bool = False
    """Whether its form was changed since: hours and weights are those of a former plan."""
    doing: str
    """In words, what it does now."""
    next: Step | None
    """The next step with hands on; None if there is none left, or no plan."""
    over: bool

    @property
    def plans(self) -> Sequence[Mapping[str, Any]]:
        """Of all its flasks; none while it is not worked out."""
        found: Sequence[Mapping[str, Any]] = self.result.data["plans"] if self.result else ()
        return found

    @property
    def findings(self) -> Sequence[Mapping[str, Any]]:
        """What was found in any of its flasks and between it and other runs, the worst first."""
        return worst_first(self.clashes, *(plan["findings"] for plan in self.plans))

    @property
    def forbidden(self) -> str:
        """What must not be done with it while a finding stops it, and why; empty if none does."""
        return forbidden(self.findings)


def worst_first(*several: Sequence[Mapping[str, Any]]) -> tuple[Mapping[str, Any], ...]:
    """Findings of several lists as one, stops first; what stands in two of them stands once."""
    found: list[Mapping[str, Any]] = []
    for findings in several:
        found += [one for one in findings if one not in found]
    return tuple(sorted(found, key=lambda one: GRAVEST.index(one["severity"])))


def forbidden(findings: Iterable[Mapping[str, Any]]) -> str:
    """What findings forbid, in a sentence: "Do not pour: ..." with the first that stops; empty if none does.

    Its quantities are left marked where they are, for pages show them in the units of their reader.
    """
    stops = [found for found in findings if found["severity"] == "stop"]
    if not stops:
        return ""
    grave = next((found for found in stops if found["code"] != KILN_TAKEN), stops[0])
    more = f" (and {len(stops) - 1} more)" if len(stops) > 1 else ""
    says = {**grave, **grave.get("marked", {})}["says"]
    return f"{forbids(stops)}: {says.rstrip('.')}{more}."


def forbids(findings: Iterable[Mapping[str, Any]]) -> str:
    """In three words what findings forbid: of a kiln that is taken the fire, of every other stop the pour; empty if none stops."""
    codes = {found["code"] for found in findings if found["severity"] == "stop"}
    return ("Do not fire" if codes == {KILN_TAKEN} else "Do not pour") if codes else ""


def steps_of(plan: Mapping[str, Any]) -> tuple[Step, ...]:
    """The day of a plan. A kiln that is set by hand takes no hands at its start: `settings_of` has them."""
    return tuple(
        Step(
            key=entry["key"],
            says=entry["says"],
            starts_at=datetime.fromisoformat(entry["starts_at"]),
            ends_at=datetime.fromisoformat(entry["ends_at"]),
            hands_on_min=0 if entry.get("moments") else entry["hands_on_min"],
        )
        for entry in plan["timeline"]
    )


def settings_of(plan: Mapping[str, Any]) -> tuple[Step, ...]:
    """Each setting of a kiln that is set by hand, with its share of the hands; none for a controller that takes all."""
    out = []
    for entry in plan["timeline"]:
        moments = [datetime.fromisoformat(moment) for moment in entry.get("moments") or ()]
        for moment in moments:
            hands_min = entry["hands_on_min"] / len(moments)
            ends_at = moment + timedelta(minutes=hands_min)
            out.append(Step(key="setting", says="Set the kiln", starts_at=moment, ends_at=ends_at, hands_on_min=hands_min))
    return tuple(out)


def standing(run: KeptRun, result: KeptResult | None, now: datetime) -> Standing:
    """Where a run stands by its plan."""
    if result is None:
        return Standing(run=run, result=None, plan=None, steps=(), doing="not worked out yet", next=None, over=False)
    plans = result.data["plans"]
    steps, settings = _of_all(plans, steps_of), _of_all(plans, settings_of)
    at_work = sorted((*steps, *settings), key=lambda step: step.starts_at)
    hands = tuple(step for step in at_work if step.hands_on_min)
    ahead = [step for step in hands if step.hands_until > now]
    return Standing(
        run=run,
        result=result,
        plan=plans[0],
        steps=steps,
        hands=hands,
        doing=_doing(steps, now),
        next=ahead[0] if ahead else None,
        over=max(step.ends_at for step in steps) + OVER_AFTER < now,
    )


def _of_all(plans: Sequence[Mapping[str, Any]], read: Callable[[Mapping[str, Any]], tuple[Step, ...]]) -> tuple[Step, ...]:
    """Steps of all flasks by the clock; what all of them do at once stands once, else it says of which flask it is."""
    own = [read(plan) for plan in plans]
    if len(own) == 1:
        return own[0]
    of: dict[Step, list[int]] = {}
    for number, steps in enumerate(own, 1):
        for step in steps:
            of.setdefault(step, []).append(number)
    told = [
        step if len(of[step]) == len(own) else replace(step, says=f"{step.says} (flask {' and '.join(map(str, of[step]))})")
        for step in of
    ]
    return tuple(sorted(told, key=lambda step: (step.starts_at, step.ends_at)))


def _doing(steps: Sequence[Step], now: datetime) -> str:
    if now < steps[0].starts_at:
        return "planned, can still change"
    going = [step for step in steps if step.starts_at <= now < step.ends_at]
    for step in sorted(going, key=lambda step: now >= step.hands_until):  # where hands are needed first
        return step.says.lower() if now < step.hands_until else BY_ITSELF.get(step.key, "waiting")
    return "done, by plan" if now >= max(step.ends_at for step in steps) else "waiting"


def soonest(standings: Iterable[Standing]) -> Standing | None:
    """The run whose next step comes first, of those that nothing stops: what must not be done is not what is next."""
    waiting = [s for s in standings if s.next is not None and not s.over and not s.forbidden]
    return min(waiting, key=lambda s: s.next.starts_at if s.next else datetime.max, default=None)
