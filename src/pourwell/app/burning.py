"""The burnout of one kiln load by itself: which programme, what it does inside the flask, when to be there."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from pourwell.app.burning_hours import Firing, Span, Times, hours_of, in_time, placed, refuse_backwards
from pourwell.app.burning_sizes import OfSize, drawn, of_sizes, unsaid
from pourwell.app.shop import Shop, open_shop
from pourwell.errors import BadRequestError
from pourwell.files.plan_json import plain
from pourwell.findings import Finding, folded
from pourwell.materials.library import Library, own_row
from pourwell.steps.burnout import checks, hour_checks, room
from pourwell.steps.burnout.legs import Case
from pourwell.steps.burnout.load import Wanted, evenly, served
from pourwell.steps.burnout.model import Programme, Reading, TimedSegment, ruled_words
from pourwell.steps.burnout.plan import case_of, timed
from pourwell.steps.day.clock import after, to_five
from pourwell.steps.day.open_hours import read_soon
from pourwell.steps.flask import plan as flasks


def _nothing(_: str) -> None:
    """Nobody listens."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the user wants burnt out."""

    flasks: tuple[str, ...]
    """Each an id or a size, with its flask temperature after a colon where it has one of its own: "76x100:480"."""
    flask_c: float | None = None
    investment: str = "gypsum-resin"
    pattern: str = "resin"
    stones: bool = False
    own: str | None = None
    """An id of the library, or a file with the user's own programme."""
    shorter: bool = False
    kiln: str | None = None
    """Its name, of several; None: the first."""
    start: str | None = None
    ready: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Out:
    """When a flask comes out."""

    label: str
    flask_c: float
    soak_min: int
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """When to be at the kiln, what to set, and what it should show just before."""

    at: datetime
    set_c: float
    seen_c: float | None
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """What one flask of a load takes after another, each of it from the rules of the day [min]."""

    pour_min: int
    quench_min: int
    set_out_min: int
    melt_min: int

    @classmethod
    def of(cls, library: Library) -> "Turn":
        """That of a library's rules."""
        pour, quench, set_out, melt = (
            round(library.rule(key)) for key in ("pour_min", "quench_min", "set_out_next_min", "melt_min")
        )
        return cls(pour_min=pour, quench_min=quench, set_out_min=set_out, melt_min=melt)

    @property
    def words(self) -> str:
        """What lies between two pours, and what does not."""
        return (
            f"At one temperature {self.minutes} min lie between pours: {self.pour_min} to pour, {self.quench_min} to quench, "
            f"{self.set_out_min} to set out and {self.melt_min} to melt the next. How long a casting stands before its quench is "
            "its alloy's and not in it"
        )

    @property
    def minutes(self) -> int:
        """From one pour to the next, but for the time that a casting stands before its quench, which is its alloy's."""
        return self.pour_min + self.quench_min + self.set_out_min + self.melt_min


@dataclass(frozen=True, slots=True, kw_only=True)
class Burnout:
    """A burnout with its hours."""

    programme: Programme
    segments: tuple[TimedSegment, ...]
    kiln_on_at: datetime
    ready_at: datetime
    out: tuple[Out, ...]
    by_hand: tuple[Moment, ...]
    takes_count: int
    """How many segments the controller takes."""
    reading: Reading
    """What the kiln may show."""
    turn: Turn
    """From pour to pour at one flask temperature."""
    findings: tuple[Finding, ...]
    sizes: tuple[OfSize, ...] = ()
    """What it does in each different flask."""

    @property
    def typed(self) -> tuple[TimedSegment, ...]:
        """The segments that are typed into the controller."""
        return self.segments[: self.takes_count]

    @property
    def by_hand_segments(self) -> tuple[TimedSegment, ...]:
        """The segments that are set by hand, by the clock."""
        return self.segments[self.takes_count :] if self.by_hand else ()

    @property
    def data(self) -> dict[str, Any]:
        """The same for a program."""
        whole: dict[str, Any] = plain(
            {
                "programme": self.programme,
                "kiln_on_at": self.kiln_on_at,
                "ready_at": self.ready_at,
                "segments": self.segments,
                "out": self.out,
                "by_hand": self.by_hand,
                "findings": self.findings,
                "sizes": self.sizes,
                "reading": self.reading,
                "turn": self.turn,
            }
        )
        return whole


OWN, ITS = "your own programme", "its "
"""What rules a segment of which nothing else is said, and how words begin that tell of its ramp or level alone."""


def rules_of(segment: TimedSegment, programme: Programme) -> str:
    """What rules a segment, in words; marked with quantities."""
    words = ruled_words(
        segment.ruled_by, grade=programme.published_grade, target_c=segment.target_c, lowered_to_c=programme.lowered_to_c
    )
    return f"{OWN}; {words}" if words.startswith(ITS) else words or OWN


def burn_out(asked: Asked, *, now: datetime, shop: Shop | None = None, tell: Callable[[str], None] = _nothing) -> Burnout:
    """The safest programme for these flasks, or the user's own judged by the same computation, with its hours.

    Without an hour it starts now; without a shop it is the usual one; `tell` hears what is being done. Raises PourwellError for
    what cannot be: no such name, a flask without a temperature, too short a time between start and ready.
    """
    shop, own = _with_own(shop or open_shop(), asked.own)
    shop = shop.in_kiln(asked.kiln)
    zone = shop.studio.zone
    load = tuple(_wanted(text, asked, shop) for text in asked.flasks)
    span = Span(
        start=read_soon(asked.start, now=now, zone=zone) if asked.start else None,
        ready=read_soon(asked.ready, now=now, zone=zone) if asked.ready else None,
    )
    refuse_backwards(span)
    turn = Turn.of(shop.library)
    tell("Judging it" if own is not None else "Looking for the safest programme")
    programme, out, worst = served(load, turn_min=turn.minutes, pour_min=turn.pour_min, own=own, shorter=asked.shorter)
    firing = Firing(programme=programme, out=out, worst=worst, fixed=own is not None and not asked.shorter)
    tell("Fitting it to its hours")
    firing = placed(firing, span, shop=shop, now=after(now, 0, zone=zone))
    programme, out = firing.programme, firing.out
    first_min = out[0].out_min
    begin = after(span.ready, -first_min, zone=zone) if span.ready else span.start or after(now, 0, zone=zone)
    in_time(firing, span, begin=begin, shop=shop, now=after(now, 0, zone=zone))
    programme = evenly(programme, out, flasks_count=len(load))
    tell("Looking into each flask")
    told = _findings(programme, worst, own=own is not None)
    sizes, others = of_sizes(load, programme, out, own=own is not None)
    programme = drawn(programme, sizes)
    outs = tuple(Out(label=o.label, flask_c=o.flask_c, soak_min=o.soak_min, at=after(begin, o.out_min, zone=zone)) for o in out)
    moments = tuple(
        Moment(at=to_five(after(begin, p.at_min, zone=zone), first=not p.at_min), set_c=p.set_c, seen_c=p.seen_c, why=p.why)
        for p in programme.by_hand
    )
    times = Times(
        begin=begin,
        end=outs[-1].at,
        settings=tuple(m.at for m in moments if m.at > begin or (span.ready and not span.start)),
        pours=tuple(o.at for o in outs),
        chosen=span.start is not None or span.ready is None,
    )
    return Burnout(
        programme=programme,
        segments=timed(programme, after(begin, programme.total_min, zone=zone), zone=zone),
        kiln_on_at=begin,
        ready_at=after(begin, first_min, zone=zone),
        out=outs,
        by_hand=moments,
        takes_count=worst.kiln.segments_count,
        reading=programme.reading(worst.kiln.unseen_k),
        turn=turn,
        findings=(
            *folded((*told, *unsaid(others, told))),
            *room.findings(room.Facts(kiln=worst.kiln, flasks=tuple(one.case.flask for one in load), library=worst.library)),
            *hour_checks.findings(hours_of(firing, times, shop.studio)),
        ),
        sizes=sizes,
    )


def _with_own(shop: Shop, own: str | None) -> tuple[Shop, str | None]:
    """The shop with the programme of a file in its library, and its id; a name of the library or of no file is an id already."""
    if own is None or own in shop.library.programmes or not (own.endswith(".toml") or Path(own).is_file()):
        return shop, own
    row = own_row("programmes", Path(own))
    library: Library = replace(shop.library, programmes={**shop.library.programmes, row.id: row})
    return replace(shop, library=library), row.id


def _wanted(text: str, asked: Asked, shop: Shop) -> Wanted:
    """One flask of the load."""
    size, _, level = text.partition(":")
    try:
        flask_c = float(level) if level else asked.flask_c
    except ValueError as err:
        raise BadRequestError(f'"{level}" is no flask temperature.', try_this='Write it in °C, as "76x100:540".') from err
    if flask_c is None:
        raise BadRequestError(f'The flask "{size}" has no temperature to end at.', try_this="Give --flask-c 540, or 76x100:540.")
    if not 0 < flask_c <= shop.studio.kiln.hottest_c:
        raise BadRequestError(
            f"A flask temperature of {flask_c:g} °C cannot be.",
            why=f"The kiln reaches {shop.studio.kiln.hottest_c:g} °C.",
            try_this="Give degrees Celsius; hottest_c in studio.toml says what the kiln reaches.",
        )
    library = shop.library
    case = case_of(
        library.investment(asked.investment),
        pattern_material=library.pattern(asked.pattern),
        flask=flasks.fit_out(flasks.parse_flask(size, shop.studio, library), shop.studio, library),
        flask_c=flask_c,
        kiln=shop.studio.kiln,
        stones=asked.stones,
        library=library,
    )
    return Wanted(case=case, label=size)


def _findings(programme: Programme, worst: Case, *, own: bool) -> tuple[Finding, ...]:
    assert worst.pattern_material is not None
    return checks.findings(
        checks.Facts(
            programme=programme,
            investment=worst.investment,
            pattern_material=worst.pattern_material,
            flask=worst.flask,
            flask_c=worst.flask_c,
            kiln=worst.kiln,
            stones=worst.stones,
            own=own,
            library=worst.library,
        )
    )
