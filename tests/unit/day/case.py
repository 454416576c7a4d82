"""A whole day of one flask, for the tests of the day: made by the number steps, dated by the day."""

from collections.abc import Sequence
from datetime import UTC, datetime, time
from zoneinfo import ZoneInfo

from pourwell.materials.library import Library
from pourwell.materials.studio import Studio
from pourwell.steps.day.checklist import Bench
from pourwell.steps.day.model import Entry
from pourwell.steps.day.plan import Hours, Work, find_pour, schedules
from pourwell.steps.flask.plan import as_room
from pourwell.steps.tree.plan import weigh
from tests.unit.burnout.case import Run, library, run

ZONE = ZoneInfo("Europe/Lisbon")
HOURS = Hours(work_from=time(8), work_to=time(19), zone=ZONE)
POUR = datetime(2027, 3, 5, 10, 0, tzinfo=UTC)


def schedule(work: Work, *, pour_at: datetime, hours: Hours, library: Library) -> tuple[Entry, ...]:
    """The day of one flask alone in its kiln."""
    return schedules((work,), pour_at=pour_at, hours=hours, library=library)[0]


def earliest_pour(works: Sequence[Work], *, now: datetime, hours: Hours, library: Library) -> datetime:
    """The earliest pour from now by the programme as it stands."""
    return find_pour(works, now=now, hours=hours, library=library).pour_at


def work_of(made: Run, *, kinds: int = 0, pieces: int = 0) -> Work:
    """The day's work for what the number steps made."""
    return Work(
        kinds_count=kinds,
        pieces_count=pieces,
        resin=made.pattern_material.family == "resin",
        mix=made.mix,
        programme=made.programme,
        quench=made.quench,
    )


def entries_of(made: Run, *, pour_at: datetime = POUR, hours: Hours = HOURS, kinds: int = 0) -> tuple[Entry, ...]:
    """Its lines."""
    return schedule(work_of(made, kinds=kinds, pieces=2 * kinds), pour_at=pour_at, hours=hours, library=library())


def bench_of(made: Run, *, studio: Studio | None = None) -> Bench:
    """Everything that the check list of a weighed tree speaks of."""
    weighed = weigh(
        14.3,
        wax_g=0.0,
        room=as_room(made.flask),
        alloy=made.alloy,
        pattern_material=made.pattern_material,
        library=library(),
    )
    return Bench(
        pieces=(),
        tree=None,
        weighed=weighed,
        alloy=made.alloy,
        investment=made.investment,
        pattern_material=made.pattern_material,
        flask=made.flask,
        mix=made.mix,
        charge=made.charge,
        temperatures=made.temperatures,
        programme=made.programme,
        soak_min=made.programme.segments[-1].hold_min,
        pour=made.pour,
        quench=made.quench,
        entries=entries_of(made),
        studio=studio or made.studio,
    )


__all__ = ["HOURS", "POUR", "ZONE", "bench_of", "earliest_pour", "entries_of", "library", "run", "schedule", "work_of"]
