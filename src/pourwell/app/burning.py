"""The burnout of one kiln load by itself: which programme, what it does inside the flask, when to be there."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, Final

from pourwell.app.burning_sizes import OfSize, drawn, of_sizes, unsaid
from pourwell.app.shop import Shop, open_shop
from pourwell.errors import BadRequestError
from pourwell.files.plan_json import plain
from pourwell.findings import Finding
from pourwell.job import fit_out
from pourwell.materials.library import Library, own_row
from pourwell.steps.burnout import checks
from pourwell.steps.burnout.legs import Case, legs_as_typed
from pourwell.steps.burnout.load import Served, Wanted, served
from pourwell.steps.burnout.model import Programme, TimedSegment
from pourwell.steps.burnout.plan import case_of, slept, stretched, timed
from pourwell.steps.day.clock import after, minutes_between, read
from pourwell.steps.flask import plan as flasks

ROUNDS: Final = 4
"""Most times that a programme set by hand is fitted to its hour. Own choice."""


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
class Burnout:
    """A burnout with its hours."""

    programme: Programme
    segments: tuple[TimedSegment, ...]
    kiln_on_at: datetime
    ready_at: datetime
    out: tuple[Out, ...]
    by_hand: tuple[Moment, ...]
    findings: tuple[Finding, ...]
    sizes: tuple[OfSize, ...] = ()
    """What it does in each different flask."""

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
            }
        )
        return whole


def burn_out(asked: Asked, *, now: datetime) -> Burnout:
    """The safest programme for these flasks, or the user's own judged by the same computation, with its hours.

    Without an hour it starts now. Raises PourwellError for what cannot be: no such name, a flask without a temperature, too short a
    time between start and ready.
    """
    shop, own = _with_own(open_shop(), asked.own)
    zone = shop.studio.zone
    load = tuple(_wanted(text, asked, shop) for text in asked.flasks)
    turn_min = round(shop.library.rule("melt_min") + shop.library.rule("pour_min"))
    programme, out, worst = served(load, turn_min=turn_min, own=own, shorter=asked.shorter)
    start = read(asked.start, zone=zone) if asked.start else None
    ready = read(asked.ready, zone=zone) if asked.ready else None
    fixed = own is not None
    if start and ready:
        programme, out = _filled(programme, out, worst, minutes=minutes_between(start, ready), fixed=fixed)
    elif programme.by_hand and not fixed:
        programme, out = _slept(programme, out, worst, start=start or now if ready is None else None, ready=ready, shop=shop)
    first_min = out[0].out_min
    begin = after(ready, -first_min, zone=zone) if ready else start or after(now, 0, zone=zone)
    told = _findings(programme, worst, own=fixed)
    sizes, others = of_sizes(load, programme, out, own=fixed)
    programme = drawn(programme, sizes)
    return Burnout(
        programme=programme,
        segments=timed(programme, after(begin, programme.total_min, zone=zone), zone=zone),
        kiln_on_at=begin,
        ready_at=after(begin, first_min, zone=zone),
        out=tuple(Out(label=o.label, flask_c=o.flask_c, soak_min=o.soak_min, at=after(begin, o.out_min, zone=zone)) for o in out),
        by_hand=tuple(
            Moment(at=after(begin, p.at_min, zone=zone), set_c=p.set_c, seen_c=p.seen_c, why=p.why) for p in programme.by_hand
        ),
        findings=(*told, *unsaid(others, told)),
        sizes=sizes,
    )


def _with_own(shop: Shop, own: str | None) -> tuple[Shop, str | None]:
    """The shop with the programme of a file in its library, and its id; a name that is no file is an id already."""
    if own is None or not (own.endswith(".toml") or Path(own).is_file()):
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
        flask=fit_out(flasks.parse_flask(size, shop.studio, library), shop.studio, library),
        flask_c=flask_c,
        kiln=shop.studio.kiln,
        stones=asked.stones,
        library=library,
    )
    return Wanted(case=case, label=size)


def _filled(
    programme: Programme, out: tuple[Served, ...], worst: Case, *, minutes: float, fixed: bool
) -> tuple[Programme, tuple[Served, ...]]:
    """The programme with the time between start and ready in its holds. Raises BadRequestError if that is too short."""
    spare = int(minutes - out[0].out_min)
    if spare < 0:
        hours, rest = divmod(-spare, MINUTES)
        raise BadRequestError(
            f"The time from start to ready is {hours} h {rest:02d} min too short.",
            why=f"The programme takes {out[0].out_min // MINUTES} h {out[0].out_min % MINUTES:02d} min to the first pour.",
            try_this="Start earlier or pour later.",
        )
    if len({o.segment for o in out}) > 1 or fixed:
        return programme, out
    longer = stretched(programme, worst, spare_min=spare, turns_min=0, own=False)
    more = longer.total_min - programme.total_min
    return longer, tuple(replace(o, out_min=o.out_min + more) for o in out)


def _slept(
    programme: Programme,
    out: tuple[Served, ...],
    worst: Case,
    *,
    start: datetime | None,
    ready: datetime | None,
    shop: Shop,
) -> tuple[Programme, tuple[Served, ...]]:
    """The programme for a kiln set by hand, with no setting between bedtime and rising."""
    studio, fitted, moved = shop.studio, programme, out
    for _ in range(ROUNDS):
        end_after = timedelta(minutes=fitted.total_min - moved[0].out_min)
        last = ready + end_after if ready else (start + timedelta(minutes=fitted.total_min) if start else None)
        assert last is not None
        next_one = slept(programme, worst, pour_at=last, sleeps=(studio.sleep_from, studio.sleep_to), zone=studio.zone)
        if next_one.total_min == fitted.total_min:
            fitted = next_one
            break
        fitted = next_one
        moved = _moved(out, programme, fitted)
    return fitted, _moved(out, programme, fitted)


def _moved(out: tuple[Served, ...], before: Programme, later: Programme) -> tuple[Served, ...]:
    """When the flasks come out of a programme whose legs have longer holds."""
    old, new = legs_as_typed(before), legs_as_typed(later)
    return tuple(
        replace(o, out_min=o.out_min + sum(b.minutes - a.minutes for a, b in zip(old[: o.segment], new[: o.segment], strict=True)))
        for o in out
    )


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


MINUTES: Final = 60
"""By definition."""
