"""What is done on the day and how long it takes; and how the flasks of one kiln load take turns at one pair of hands."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from pourwell.materials.library import Library
from pourwell.steps.day.model import Task, Work
from pourwell.units import min_from_h


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A line of the day with its start, in minutes after the first pour."""

    task: Task
    start_min: float

    @property
    def end_min(self) -> float:
        """Its end, in minutes after the first pour."""
        return self.start_min + self.task.whole_min


def tasks(work: Work, library: Library, *, later: bool = False) -> tuple[tuple[Task, ...], tuple[Task, ...]]:
    """The lines of a flask's day: those up to the pour, and those from the pour on; `later`: not the first of its kiln load."""
    rule, mix = library.rule, work.mix
    set_out = rule("set_out_next_min") if later else rule("set_out_min")
    points = len(work.programme.by_hand) * rule("set_point_min")
    before = [
        _patterns(work, library),
        _hands("tree", "Sprue, build and weigh the tree", _tree_min(work, library), free=True),
        _wrap(work, library),
        _hands("invest", "Mix, pour the slurry, clean up", mix.finish_min + rule("mix_clean_min")),
        Task(key="set", says=f"Set; not touched for {mix.still_min:.0f} min", whole_min=min_from_h(mix.set_h), hands_on_min=0),
        _hands("strip", "Base off, scrape, into the kiln", rule("strip_min")),
        Task(key="kiln", says="Burnout", hands_on_min=points, whole_min=work.programme.total_min - set_out - rule("melt_min")),
        _hands("setout", "Weigh and set out the next charge" if later else "Set out, weigh the charge", set_out),
        _hands("melt", "Melt", rule("melt_min")),
    ]
    wet = work.quench.way == "water"
    stand = "Stand" if wet else "Leave to cool in air"
    if work.vacuum_min > rule("pour_min"):
        stand = f"Vacuum on until the button is solid, then {stand[0].lower()}{stand[1:]}"
    behind = [
        _hands("pour", "Pour", rule("pour_min")),
        Task(key="stand", says=stand, whole_min=work.quench.cool_min, hands_on_min=0),
        _hands("quench", "Quench, knock out wet" if wet else "Knock out wet", rule("quench_min")),
        Task(key="pickle", says="Pickle", whole_min=rule("pickle_min"), hands_on_min=0),
        _hands("cut", "Cut off, weigh, write results", _cut_min(work, library)),
    ]
    return tuple(before if work.kinds_count else before[2:]), tuple(behind)


def _patterns(work: Work, library: Library) -> Task:
    """Looking over and washing by hand, then drying and curing."""
    rule = library.rule
    look = rule("look_over_min") * max(work.kinds_count, 1)
    if not work.resin:
        return _hands("patterns", "Look over and weigh the patterns", look, free=True)
    wash = rule("resin_wash_min")
    wait = rule("resin_dry_min") + rule("resin_cure_min")
    says = "Look over, wash, dry, cure, weigh the patterns"
    return Task(key="patterns", says=says, whole_min=look + wash + wait, hands_on_min=look + wash, free=True)


def _wrap(work: Work, library: Library) -> Task:
    """Wrapping and weighing, after the tree was dipped and has dried where the work goes without vacuum."""
    hands, dries = library.rule("wrap_min"), work.mix.wetting_min
    dip = "Dip and dry, wrap" if dries else "Wrap"
    return Task(key="wrap", says=f"{dip}, collar, weigh powder and water", whole_min=hands + dries, hands_on_min=hands)


def _hands(key: str, says: str, minutes: float, *, free: bool = False) -> Task:
    """A line that is hands on from end to end."""
    return Task(key=key, says=says, whole_min=minutes, hands_on_min=minutes, free=free)


def _tree_min(work: Work, library: Library) -> float:
    return library.rule("tree_set_up_min") + library.rule("sprue_one_min") * work.pieces_count


def _cut_min(work: Work, library: Library) -> float:
    return library.rule("cut_min") + library.rule("cut_one_min") * work.pieces_count


def turns_min(works: Sequence[Work], library: Library) -> tuple[float, ...]:
    """When each flask of a kiln load is poured, in minutes after the first.

    Before a flask that goes into water is quenched no other is melted for. One that cools in air stands by itself: the next is
    melted for at once, but not poured before the vacuum of this one may be let go.
    """
    rule = library.rule
    next_melt = rule("set_out_next_min") + rule("melt_min")
    at = [0.0]
    for work in works[:-1]:
        if work.quench.way == "water":
            busy = work.quench.cool_min + rule("quench_min") + next_melt
        else:
            busy = max(next_melt, work.vacuum_min)
        at.append(at[-1] + rule("pour_min") + busy)
    return tuple(at)


def timetable(works: Sequence[Work], library: Library) -> tuple[tuple[Placed, ...], ...]:
    """The lines of every flask from the wrap on, in minutes after the first pour; no two hands-on parts overlap.

    Invested in turn, stripped in turn, into the kiln together, poured in turn; knocked out in turn, and cut off after the last
    quench. From wrap to end the lines of a flask touch each other: waiting for a turn is part of the line that waits.
    """
    return tuple((*before, *behind) for before, behind in zip(_until_kiln(works, library), _from_kiln(works, library), strict=True))


def _by_key(work: Work, library: Library, *, later: bool) -> dict[str, Task]:
    return {task.key: task for part in tasks(work, library, later=later) for task in part}


def _until_kiln(works: Sequence[Work], library: Library) -> list[tuple[Placed, ...]]:
    """Wrap, invest, set and strip, backward from kiln on: the last flask stands the shortest."""
    out: list[tuple[Placed, ...]] = []
    kiln_on = strip_free = -float(works[0].programme.total_min)
    bench_free = kiln_on
    for work in reversed(works):
        by_key = _by_key(work, library, later=False)
        wrap, invest, stand, strip = (by_key[key] for key in ("wrap", "invest", "set", "strip"))
        strip_at = strip_free - strip.whole_min
        set_at = min(bench_free, strip_at - stand.whole_min)
        invest_at = set_at - invest.whole_min
        wrap_at = invest_at - wrap.whole_min
        out.append(
            (
                Placed(task=wrap, start_min=wrap_at),
                Placed(task=invest, start_min=invest_at),
                Placed(task=replace(stand, whole_min=strip_at - set_at), start_min=set_at),
                Placed(task=replace(strip, whole_min=kiln_on - strip_at), start_min=strip_at),
            )
        )
        strip_free, bench_free = strip_at, wrap_at
    return out[::-1]


def _from_kiln(works: Sequence[Work], library: Library) -> list[tuple[Placed, ...]]:
    """Burnout, melt, pour, stand, knock-out, pickle and cut, forward from kiln on."""
    kiln_on = -float(works[0].programme.total_min)
    turns = turns_min(works, library)
    all_keys = [_by_key(work, library, later=i > 0) for i, work in enumerate(works)]
    knocked = _knocked_out(works, turns, all_keys)
    hands_free = max(at + lines["quench"].whole_min for at, lines in zip(knocked, all_keys, strict=True))
    out: list[tuple[Placed, ...]] = []
    for by_key, pour_at, quench_at in zip(all_keys, turns, knocked, strict=True):
        kiln, setout, melt, pour, stand, quench, pickle, cut = (by_key[k] for k in FROM_KILN)
        melt_at = pour_at - melt.whole_min
        setout_at = melt_at - setout.whole_min
        stand_at, pickle_at = pour_at + pour.whole_min, quench_at + quench.whole_min
        cut_at = max(hands_free, pickle_at + pickle.whole_min)
        if cut_at > pickle_at + pickle.whole_min:
            pickle = replace(pickle, says="Pickle, rinse, lay aside until its turn", whole_min=cut_at - pickle_at)
        out.append(
            (
                Placed(task=replace(kiln, whole_min=setout_at - kiln_on), start_min=kiln_on),
                Placed(task=setout, start_min=setout_at),
                Placed(task=melt, start_min=melt_at),
                Placed(task=pour, start_min=pour_at),
                Placed(task=replace(stand, whole_min=quench_at - stand_at), start_min=stand_at),
                Placed(task=quench, start_min=quench_at),
                Placed(task=pickle, start_min=pickle_at),
                Placed(task=cut, start_min=cut_at),
            )
        )
        hands_free = cut_at + cut.whole_min
    return out


FROM_KILN = ("kiln", "setout", "melt", "pour", "stand", "quench", "pickle", "cut")


def _knocked_out(works: Sequence[Work], turns: Sequence[float], by_key: Sequence[dict[str, Task]]) -> list[float]:
    """When each flask goes into water, or is opened: what cools in air after the last pour, and when the hands are free for it."""
    over = turns[-1] + by_key[-1]["pour"].whole_min
    ready = [at + lines["pour"].whole_min + lines["stand"].whole_min for at, lines in zip(turns, by_key, strict=True)]
    wet = [work.quench.way == "water" for work in works]
    busy = sorted((at, at + lines["quench"].whole_min) for at, lines, w in zip(ready, by_key, wet, strict=True) if w)
    for i, lines in enumerate(by_key):
        if wet[i]:  # its moment is the metal's
            continue
        ready[i] = max(ready[i], over)
        for begins, ends in busy:
            if begins < ready[i] + lines["quench"].whole_min and ends > ready[i]:
                ready[i] = ends
        busy = sorted([*busy, (ready[i], ready[i] + lines["quench"].whole_min)])
    return ready
