"""Runs in hand: where each stands by its plan, and what comes next."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any, Final

from pourwell.store.model import KeptResult, KeptRun

OVER_AFTER: Final = timedelta(hours=2)
"""After its last step a run is still in hand for so long."""
GRAVEST: Final = ("stop", "warn", "note")
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
        """What was found in any of its flasks, the worst first."""
        found: list[Mapping[str, Any]] = []
        for plan in self.plans:
            found += [one for one in plan["findings"] if one not in found]
        return tuple(sorted(found, key=lambda one: GRAVEST.index(one["severity"])))


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
    ahead = [step for step in at_work if step.hands_on_min and step.hands_until > now]
    return Standing(
        run=run,
        result=result,
        plan=plans[0],
        steps=steps,
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
    """The run whose next step comes first."""
    waiting = [s for s in standings if s.next is not None and not s.over]
    return min(waiting, key=lambda s: s.next.starts_at if s.next else datetime.max, default=None)
