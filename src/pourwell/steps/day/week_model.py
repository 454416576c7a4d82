"""Words of several days: runs, kilns and open hours as whole minutes from the first moment, and what was found for them."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final, Literal

Span = tuple[int, int]
"""From one minute to another, counted from the first moment of the week."""

STEP_MIN: Final = 5
"""Work begins at full five minutes: no bench keeps a closer clock. Own choice."""

KEYS: Final = ("patterns", "tree", "wrap", "invest", "strip", "hot", "quench", "cut")
"""The lines of a run that are placed, in their order. `hot` is set-out, melt, pour and, for a flask that goes into water, the wait
and the quench: nobody leaves it. What lies between them (set, burnout, stand, pickle) follows."""


ROOM: Final = 27720
"""A kiln's room in parts, so that a half to a twelfth of it are whole numbers: one flask of n that fit takes ROOM // n."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """How long a line takes, and its hands-on part, which comes first [min]."""

    whole_min: int = 0
    hands_min: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Firing:
    """What a run needs of one kiln."""

    total_min: int
    """From kiln on to the earliest pour."""
    set_at_min: tuple[int, ...] = ()
    """When its set-points are set by hand, counted from kiln on."""
    free_after_min: int = 0
    """From this flask's pour, if it is the last, until the kiln is cool enough for the next load."""
    fall_c_per_h: float = 0.0
    """How fast this kiln falls with its door shut."""
    room_parts: int = 1
    """What it takes of the kiln's room, of ROOM parts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekRun:
    """One flask of the week."""

    name: str
    alloy: str
    flask_c: float
    soak_min: int
    """How long it stands at its own flask temperature at the least."""
    lines: Mapping[str, Line]
    """`patterns` to `invest`, `strip`, `quench` and `cut`; a line that is not there takes no time."""
    set_min: int
    """From the end of investing to the strip, at the least."""
    stand_max_min: int
    """... and at the most, unless it is bagged damp."""
    first_set_out_min: int
    next_set_out_min: int
    melt_min: int
    pour_min: int
    vacuum_min: int = 0
    """How long after the pour the vacuum keeps the casting place."""
    cool_min: int = 0
    """From the poured flask to its quench or knock-out."""
    water: bool = True
    pickle_min: int = 0
    firings: tuple[Firing | None, ...] = ()
    """For each kiln; None: it does not fit, or may not go in."""
    wait_max_min: int = 0
    """How long it may be held at temperature beyond its programme."""
    shares_with: frozenset[int] = frozenset()
    """Places in the week of the runs that it may share a kiln load with."""
    ready_min: int = 0
    """Before this nothing of it can be done."""
    pour_at_min: int | None = None
    pour_by_min: int | None = None

    @property
    def tail_min(self) -> int:
        """From the pour until the hands are free for another flask."""
        if self.water:
            return self.pour_min + self.cool_min + self.lines["quench"].hands_min
        return self.pour_min + max(0, self.vacuum_min - self.next_set_out_min - self.melt_min)


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekKiln:
    """One kiln."""

    name: str
    delayed_start: bool = False
    """Can it be told to begin when nobody is there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Calendar:
    """Open hours, in order, without overlaps."""

    work: tuple[Span, ...]
    easy: tuple[Span, ...]
    """The comfortable ones of them."""
    awake: tuple[Span, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Week:
    """All that the rota is made from."""

    runs: tuple[WeekRun, ...]
    kilns: tuple[WeekKiln, ...]
    calendar: Calendar
    horizon_min: int
    overnight: bool = True
    """May a kiln be on while nobody is awake."""
    bag_damp: bool = False
    """May a flask be bagged damp and stand longer."""
    bag_max_min: int = 0
    crucible_change_min: int = 0
    set_point_min: int = 0
    """At the kiln for one set-point."""
    first_pour_min: int | None = None
    """When the first of all pours must be; None: as it comes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RunTimes:
    """When the lines of a run begin [min]."""

    starts: Mapping[str, int]
    """For each of KEYS that takes time; `hot` is its set-out."""
    pour_min: int
    set_out_min: int
    """How long its set-out is: longer for the first flask and after another alloy."""
    bagged: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadTimes:
    """One firing: which runs, in the order of their pours, in which kiln, from when."""

    kiln: int
    runs: tuple[int, ...]
    ruling: int
    """The run with the longest programme, which is that of the load."""
    on_min: int


Status = Literal["proven", "found", "nothing", "unknown"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Goal:
    """One thing that was made as small as can be, the earlier ones first."""

    key: Literal["last_pour", "odd", "bagged"]
    value: int
    """Of the last pour minutes from the first moment, of odd work minutes, of bagged flasks how many."""
    bound: int
    """It surely cannot be smaller than this; the same as the value where the optimum is proven."""

    @property
    def proven(self) -> bool:
        """Is it surely the best."""
        return self.value <= self.bound


@dataclass(frozen=True, slots=True, kw_only=True)
class Rota:
    """What was found for a week."""

    status: Status
    """`proven`: every goal is at its best; `found`: it holds, but something better may exist; `nothing`: surely nothing fits;
    `unknown`: nothing was found in the time given."""
    runs: tuple[RunTimes, ...] = ()
    loads: tuple[LoadTimes, ...] = ()
    goals: tuple[Goal, ...] = ()

    @property
    def fits(self) -> bool:
        """Is there a rota."""
        return bool(self.runs)


def with_runs(week: Week, **changes: object) -> Week:
    """The week with the same change to every run."""
    return replace(week, runs=tuple(replace(run, **changes) for run in week.runs))  # type: ignore[arg-type]
