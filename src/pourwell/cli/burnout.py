"""`pourwell burnout`: the safest programme for a flask, or one's own judged, and when to be at the kiln."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pourwell.cli.options import AsJson

if TYPE_CHECKING:
    from datetime import datetime

    from pourwell.app.burning import Burnout, Moment
    from pourwell.app.burning_sizes import OfSize
    from pourwell.steps.burnout.model import Band, Programme, TimedSegment, Verdict

NAME = "burnout"
MINUTES_AN_HOUR = 60


def command(
    flasks: Annotated[list[str], typer.Argument(metavar="FLASK[:°C]...", help="All flasks of the kiln load, as 76x100:540.")],
    *,
    flask_c: Annotated[float | None, typer.Option("--flask-c", help="Flask temperature of those that name none, °C.")] = None,
    investment: Annotated[str, typer.Option(help="Investment id; see `pourwell materials`.")] = "gypsum-resin",
    pattern: Annotated[str, typer.Option(help="Pattern material id.")] = "resin",
    stones: Annotated[bool, typer.Option("--stones", help="Stones are in place.")] = False,
    own: Annotated[str | None, typer.Option(help="Your own programme, a file or an id; judged as it stands.")] = None,
    shorter: Annotated[bool, typer.Option("--shorter", help="Shorter than published; a proven programme must cover it.")] = False,
    kiln: Annotated[str | None, typer.Option(help="Where there are several: the kiln's name; the first if not said.")] = None,
    start: Annotated[str | None, typer.Option(help='When the kiln goes on, as "2030-05-17 21:00".')] = None,
    ready: Annotated[str | None, typer.Option(help="When the first flask is to be poured.")] = None,
    as_json: AsJson = False,
) -> None:
    """What the kiln does, what that does inside the flask, and when to be there.

    With --start and --ready the time between goes into drying and carbon.

    Example: pourwell burnout 76x100 --flask-c 540 --ready "2030-05-17 10:00"
    """
    from datetime import UTC, datetime

    from pourwell.app.burning import Asked, burn_out
    from pourwell.cli.show import end_on_stop, print_json
    from pourwell.files.plan_json import document

    named = str(Path(own)) if own and own.endswith(".toml") else own
    asked = Asked(
        flasks=tuple(flasks), flask_c=flask_c, investment=investment, pattern=pattern, stones=stones, own=named,
        shorter=shorter, kiln=kiln, start=start, ready=ready,
    )  # fmt: skip
    found = burn_out(asked, now=datetime.now(UTC))
    if as_json:
        print_json(document(NAME, found.data))
    else:
        _print(found)
    end_on_stop(found.findings)


def _print(found: "Burnout") -> None:
    from rich.markup import escape

    from pourwell.cli.show import console, print_findings, print_rows
    from pourwell.steps.burnout.model import BAG_WINS

    out, programme = console(), found.programme
    stops = [one for one in found.findings if one.severity == "stop"]
    if stops:
        out.print("\n[bold white on red] DO NOT FIRE [/] what follows stops this burnout")
        print_findings(stops)
    out.print(f"\n[bold]{escape(programme.name)}[/]")
    out.print(f"[dim]{BAG_WINS}[/]")
    reading = found.reading
    out.print(f"Reading never above {reading.never_over_c} °C; at {reading.off_c} °C switch off: the run is lost.")
    print_rows(
        [
            ("kiln on", _clock(found.kiln_on_at), ""),
            ("ready", _clock(found.ready_at), f"after {_span(found_min(found))}"),
            ("kiln off", _clock(found.out[-1].at), "at the mains, as the last flask comes out"),
        ]
    )
    out.print()
    typed = found.typed
    if typed:
        print_rows([_segment(s, programme) for s in typed])
        out.print()
    if found.by_hand:
        if typed:
            out.print("  then by hand")
        print_rows([(_clock(m.at), f"set {m.set_c:.0f} °C", _told(m)) for m in found.by_hand])
        ruled = [
            (f"{s.number}", f"to {s.target_c:.0f} °C, {_span(s.hold_min)}", _ruled(s, programme)) for s in found.by_hand_segments
        ]
        out.print("  what rules them")
        print_rows(ruled)
        out.print()
    if len(found.out) > 1:
        print_rows([(f"out {o.label}", _clock(o.at), f"{o.flask_c:.0f} °C, soaked {_span(o.soak_min)}") for o in found.out])
        out.print(f"  {found.turn.words}: `pourwell day` counts that too.")
        out.print()
    _print_inside(programme)
    if len(found.sizes) > 1:
        print_rows([_of_size(size) for size in found.sizes])
        out.print()
    print_findings(one for one in found.findings if one.severity != "stop")


def _of_size(size: "OfSize") -> tuple[str, str, str]:
    """A row of one size of flask."""
    name = f"in {size.count} x {size.label}" if size.count > 1 else f"in {size.label}"
    return (name, f"water gone {_moments(size.dry_min)}", f"heat needed {_band(size.heat_kwh, 2)} kWh each")


def found_min(found: "Burnout") -> float:
    """Minutes from kiln on to the first pour."""
    return (found.ready_at - found.kiln_on_at).total_seconds() / 60


def _told(moment: "Moment") -> str:
    from pourwell.findings import spelt_out

    shows = "" if moment.seen_c is None else f"shows {moment.seen_c:.0f}"
    return "; ".join(words for words in (shows, spelt_out(moment.why)) if words)


def _ruled(s: "TimedSegment", programme: "Programme") -> str:
    """What happens in a segment, and what rules it."""
    from pourwell.app.burning import rules_of

    return "; ".join(words for words in (s.why, f"ruled by: {rules_of(s, programme)}") if words)


def _segment(s: "TimedSegment", programme: "Programme") -> tuple[str, str, str]:
    return (
        f"{s.number}  {_clock(s.starts_at)}  {s.ramp_c_per_h:+.0f} °C/h to {s.target_c:.0f} °C",
        f"there {s.reached_at:%H:%M}, hold {_span(s.hold_min)} to {_clock(s.ends_at)}",
        _ruled(s, programme),
    )


def _print_inside(programme: "Programme") -> None:
    from pourwell.cli.show import console, print_rows
    from pourwell.findings import spelt_out
    from pourwell.steps.burnout.telling import row_words

    inside, low, high = programme.inside, programme.energy_low_kwh, programme.energy_high_kwh
    assert inside is not None
    measured = "measured: " + ", ".join(inside.measured) if inside.measured else "computed, not measured"
    print_rows(
        [
            ("hours after kiln on", "likely (from to)", "at the ends of what nobody knows well of mould, kiln and water"),
            ("core passes 100 °C", _moments(inside.core_passes_100_min), measured),
            ("water gone", _moments(inside.dry_min), "an upper estimate: moulds also wick and vent"),
            ("heat needed", _band(inside.heat_kwh, 2), "kWh for each flask"),
            (
                "kiln draws",
                f"{programme.energy_kwh:.0f}",
                f"kWh, {low:.0f} to {high:.0f}",
            ),
            ("steam pressure", _band(inside.pressure_kpa, 0), "kPa; the mould's pores are hardly known"),
            (_table(programme), _span(programme.published_min), _margin(programme)),
            (
                "shortest found",
                f"about {_span(programme.shortest_min)}",
                "keeps the limits at the likely inputs; no advice",
            ),
            ("drying at least", _span(programme.least_drying_min), "by heat and steam alone"),
        ]
    )
    if programme.published:
        console().print(f"  {spelt_out(row_words(programme))}", markup=False)
    console().print("\n  limits, each where its margin is least")
    print_rows(
        [
            (
                v.what,
                f"{_figure(v.measure)} {v.unit}",
                _limit(v),
            )
            for v in programme.verdicts
        ]
    )
    console().print()


def _table(programme: "Programme") -> str:
    """What the programme that this one is compared with is to be called."""
    from pourwell.steps.burnout.model import published_word

    word = published_word(programme.published_grade)
    return word if word == "published" else f"table, {word}"


def _margin(programme: "Programme") -> str:
    """How this one differs from the published one."""
    over = programme.total_min - programme.published_min
    kept = " by itself it keeps every limit" if all(v.keeps for v in programme.verdicts) else ""
    words = f"{_short(abs(over))} {'longer' if over > 0 else 'SHORTER'}" if over else f"no longer than the table;{kept}".rstrip(";")
    return f"this one {_span(programme.total_min)}: {words}"


def _short(minutes: float) -> str:
    """Hours and minutes, without hours that are none."""
    return f"{round(minutes)} min" if round(minutes) < MINUTES_AN_HOUR else _span(minutes)


def _figure(value: float) -> str:
    """A computed measure, as fine as it is worth."""
    return f"{value:.1f}" if abs(value) < 10 else f"{value:.0f}"


def _limit(verdict: "Verdict") -> str:
    """A limit with its source and how it is kept, the table's own figure, and the end at which that is so."""
    limit = f"{'at most' if verdict.at_most else 'at least'} {_figure(verdict.limit)} ({verdict.source}){_kept(verdict)}"
    if not verdict.judged:
        return f"{verdict.at_end}; elsewhere {limit}"
    wider = verdict.at_most and verdict.widest is not None
    widest = f", widened up to {_figure(verdict.widest or 0.0)} at other ends by the published cycle for wax" if wider else ""
    return f"{limit}{widest}{_reached(verdict)}; {_beside(verdict)}; {verdict.at_end}"


def _reached(verdict: "Verdict") -> str:
    """The most at any end, where that is over the rule's own figure."""
    if verdict.reached is None or verdict.rule is None:
        return ""
    return f"; at its highest {_figure(verdict.reached)}, OVER the rule's own {_figure(verdict.rule)}"


def _kept(verdict: "Verdict") -> str:
    """Whether a limit is missed, or only by less than the grid of the computation."""
    from pourwell.steps.burnout.model import SLACK

    if verdict.meets or _figure(verdict.measure) == _figure(verdict.asked):
        return ""
    if not verdict.keeps:
        short = verdict.held_to is not None and verdict.measure >= verdict.limit
        return " kept, but LESS THAN THE TABLE" if short else " NOT KEPT"
    return f" ({'over' if verdict.at_most else 'under'}, within the grid's {SLACK:.0%})" if verdict.held_to is None else ""


def _beside(verdict: "Verdict") -> str:
    """The table's own figure beside it: for a pattern's time the difference too, which is none where the programme is the table."""
    if verdict.at_most:
        return f"by the table {_figure(verdict.published)}"
    more = round(verdict.measure - verdict.published)
    than = f"{abs(more)} min {'more' if more > 0 else 'less'}" if more else "the same"
    return f"the table's own course {_figure(verdict.published)}: {than}"


def _moments(band: "Band") -> str:
    return f"{_span(band.likely)} ({_span(band.low)} to {_span(band.high)})"


def _band(band: "Band", digits: int) -> str:
    return f"{band.likely:.{digits}f} ({band.low:.{digits}f} to {band.high:.{digits}f})"


def _span(minutes: float) -> str:
    import math

    if math.isinf(minutes):
        return "not before the end"
    hours, rest = divmod(round(minutes), 60)
    return f"{hours} h {rest:02d} min"


def _clock(moment: "datetime") -> str:
    return f"{moment:%a %d %b %H:%M}"
