"""The whole job on one page: calls the steps in their order. Every loop between steps lives here and nowhere else."""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Final

from pourwell.assembly import Figures, Load, Measured, Setting, assemble
from pourwell.errors import BadRequestError
from pourwell.findings import Finding
from pourwell.leaning import recording
from pourwell.materials.library import Library
from pourwell.materials.model import Alloy, FlaskRow, PatternMaterial
from pourwell.materials.studio import Studio
from pourwell.plan import Plan
from pourwell.request import Request
from pourwell.steps.burnout import plan as burnout
from pourwell.steps.burnout import room
from pourwell.steps.burnout.legs import Case
from pourwell.steps.burnout.model import Programme
from pourwell.steps.burnout.sizes import for_all, told_for
from pourwell.steps.day import checks as day_checks
from pourwell.steps.day import plan as day
from pourwell.steps.day.model import Hours, KilnLoad, Work
from pourwell.steps.day.slept import ByHand, course_min, slept
from pourwell.steps.day.slept import calmer as calmer_by_hand
from pourwell.steps.day.turns import turns_min
from pourwell.steps.flask import plan as flasks
from pourwell.steps.flask.usual import usual_flask
from pourwell.steps.freeze import plan as freezes
from pourwell.steps.freeze.cast import Cast, fed_of
from pourwell.steps.melt import plan as melt
from pourwell.steps.pattern.model import Pattern
from pourwell.steps.pour import plan as pours
from pourwell.steps.tree import plan as trees
from pourwell.units import cm3_from_mm3, min_from_s

MOST_FLASKS: Final = 12
"""No studio kiln holds more of them, and no day has the hours to pour them in turn. Own choice."""
MORE_THAN_FOUND: Final = 1.25
"""A flask may take so many times the pieces that a search found place for: fewer flasks than that asks for are not tried."""


def plan_runs(
    request: Request, measured: Sequence[Measured], *, studio: Studio, library: Library, now: datetime, tell: Callable[[str], None]
) -> tuple[Plan, ...]:
    """Plan a job: one plan a flask. The flasks of a job share one kiln load and are poured in turn.

    `now` is aware. Raises BadRequestError for what cannot be planned: a piece larger than every flask, a pour in the past, a kiln
    that the studio does not have.
    """
    first, studio = studio, studio.in_kiln(request.kiln)
    library = library if studio is first else library.elsewhere()
    if request.pour_at and request.pour_at <= now:
        raise BadRequestError(
            f"The pour at {request.pour_at:%Y-%m-%d %H:%M} lies in the past.",
            why=f"It is {now:%Y-%m-%d %H:%M} now.",
            try_this="Leave --pour-at out to take the earliest pour.",
        )
    books = recording(library)
    setting = settle(request, measured, studio=studio, library=books, now=now, tell=tell)
    tell("Choosing the flask and growing the tree")
    loads = weighed_load(setting) if request.weight_g is not None else grown_loads(setting, tuple(measured))
    tell("Computing mix, charge, burnout and pour")
    figures = [work_out(setting, load) for load in loads]
    cases = [
        burnout.case_of(
            setting.investment,
            pattern_material=setting.material,
            flask=one.load.flask,
            flask_c=setting.heat.flask_c,
            kiln=studio.kiln,
            stones=request.stones,
            library=books,
            flasks_count=len(figures),
        )
        for one in figures
    ]
    programme, case = for_all(cases, own=request.programme)
    tell("Fitting the day")
    load = tuple(one.load.flask for one in figures)
    crowded = room.findings(room.Facts(kiln=studio.kiln, flasks=load, library=library))  # it says itself what it assumes
    return dated(setting, figures, programme, case=case, crowded=crowded)


def settle(
    request: Request, measured: Sequence[Measured], *, studio: Studio, library: Library, now: datetime, tell: Callable[[str], None]
) -> Setting:
    """Alloy, investment and temperatures of the job. Raises UnknownNameError for names that the library does not hold."""
    alloy, material = library.alloy(request.alloy), library.pattern(request.pattern)
    investment = library.investment(request.investment or usual_investment(alloy, material, stones=request.stones))
    walls = [pattern.piece.wall.typical_mm for pattern, _ in measured]
    heat = melt.temperatures(
        alloy,
        investment=investment,
        section_mm=min(walls) if walls else None,  # the published rule: a mixed tree is poured nearer to its light pieces
        metal_c=request.metal_c,
        flask_c=request.flask_c,
        library=library,
        way=studio.casting.way,
        stones=request.stones,
    )
    return Setting(
        request=request,
        alloy=alloy,
        investment=investment,
        material=material,
        studio=studio,
        library=library,
        heat=heat,
        now=now,
        tell=tell,
    )


def usual_investment(alloy: Alloy, material: PatternMaterial, *, stones: bool) -> str:
    """The investment when none is named: by the mould the alloy needs, then by stones, then by the pattern."""
    if alloy.mould == "phosphate":
        return "phosphate"
    if stones:
        return "gypsum-stone"
    return "gypsum-resin" if material.family == "resin" else "gypsum-standard"


def weighed_load(setting: Setting) -> tuple[Load, ...]:
    """The one flask of a job known by weight."""
    request, studio, library = setting.request, setting.studio, setting.library
    row = flasks.parse_flask(request.flask, studio, library) if request.flask else usual_flask(studio, library)
    flask = flasks.fit_out(row, studio, library)
    assert request.weight_g is not None
    weighed = trees.weigh(
        request.weight_g - request.base_g,
        wax_g=request.wax_g,
        room=flasks.as_room(flask),
        alloy=setting.alloy,
        pattern_material=setting.material,
        library=library,
    )
    return (Load(flask=flask, measured=(), tree=None, weighed=weighed, bodies=(), cast=None, tree_facts=None),)


def grown_loads(setting: Setting, measured: tuple[Measured, ...]) -> tuple[Load, ...]:
    """The trees of a job: in the smallest flask that takes all; if none does, split evenly over as few flasks as can be.

    Raises BadRequestError if a single piece fits no flask.
    """
    request, studio, library = setting.request, setting.studio, setting.library
    rows = (flasks.parse_flask(request.flask, studio, library),) if request.flask else flasks.flasks(studio, library)
    whole = sum(pattern.piece.count for pattern, _ in measured)
    prepared = trees.prepare([pattern for pattern, _ in measured], library)
    rooms = [flasks.tree_room_cm3(flasks.fit_out(row, studio, library), library) for row in rows]
    pieces_cm3 = cm3_from_mm3(sum(pattern.piece.volume_mm3 * pattern.piece.count for pattern, _ in measured))
    fill = library.rule("tree_fill_fraction")
    parts = min(whole, math.ceil(pieces_cm3 / (fill * max(rooms))))
    last: trees.NoRoom | None = None
    while parts <= min(whole, MOST_FLASKS):
        loads: list[Load] = []
        for share in shares(measured, parts):
            setting.tell(f"Growing tree {len(loads) + 1} of {parts}")
            load, last = smallest(setting, share, rows, prepared=prepared)
            if load is None:
                break
            loads.append(load)
        if len(loads) == parts:
            return tuple(loads)
        assert last is not None
        if not last.placed_count:
            break
        parts = max(parts + 1, math.ceil(whole / (MORE_THAN_FOUND * last.placed_count)))
    fills = f"They are {pieces_cm3:.0f} cm³, and a tree fills at most {fill:g} of the {max(rooms):.0f} cm³ in the largest."
    why = last.why if last else fills
    if min(whole, parts) > MOST_FLASKS:
        raise BadRequestError(
            f"{whole} pieces take more than {MOST_FLASKS} flasks.",
            why=why,
            try_this="Take a larger flask, or plan fewer pieces at once: one kiln and one pair of hands serve them all.",
        )
    raise BadRequestError(
        "These pieces do not fit the flask." if request.flask else "A piece is larger than every flask.",
        why=why,
        try_this="Take a larger flask: name it with --flask, or list it in studio.toml.",
    )


def smallest(
    setting: Setting, share: tuple[Measured, ...], rows: Sequence[FlaskRow], *, prepared: trees.Prepared
) -> tuple[Load | None, trees.NoRoom | None]:
    """The smallest flask that takes these pieces, with their tree; or why the largest does not."""
    no_room = None
    for row in rows:
        flask = flasks.fit_out(row, setting.studio, setting.library)
        grown = trees.grow(
            tuple(p for p, _ in share),
            room=flasks.as_room(flask),
            alloy=setting.alloy,
            pattern_material=setting.material,
            library=setting.library,
            prepared=prepared,
        )
        if isinstance(grown, trees.NoRoom):
            if no_room is None or grown.placed_count >= no_room.placed_count:
                no_room = grown
            continue
        return Load(
            flask=flask, measured=share, tree=grown.tree, weighed=None, bodies=grown.bodies, cast=grown.cast, tree_facts=grown.facts
        ), None
    return None, no_room


def shares(measured: Sequence[Measured], parts: int) -> Iterator[tuple[Measured, ...]]:
    """The pieces in so many nearly equal parts, alike sections together."""
    heavy_first = sorted(measured, key=lambda m: -m[0].piece.wall.typical_mm)
    single = [i for i, (pattern, _) in enumerate(heavy_first) for _ in range(pattern.piece.count)]
    for part in range(parts):
        mine = single[part * len(single) // parts : (part + 1) * len(single) // parts]
        counts = {i: mine.count(i) for i in mine}
        kept = [(_counted(heavy_first[i][0], n), heavy_first[i][1]) for i, n in counts.items()]
        yield tuple(sorted(kept, key=lambda m: (len(m[0].piece.id), m[0].piece.id)))


def _counted(pattern: Pattern, count: int) -> Pattern:
    return pattern if pattern.piece.count == count else replace(pattern, piece=replace(pattern.piece, count=count))


def work_out(setting: Setting, load: Load) -> Figures:
    """Mix, charge, pour and quench of one flask."""
    studio, library, heat, alloy = setting.studio, setting.library, setting.heat, setting.alloy
    mix = flasks.mix(load.flask, investment=setting.investment, section=heat.section, studio=studio, library=library)
    metal_g, low_g, high_g = metal_band(load, alloy)
    charge = melt.charge(
        metal_g,
        low_g=low_g,
        high_g=high_g,
        alloy=alloy,
        melting=studio.melting,
        returns_fraction=setting.request.returns_fraction,
        own_alloying=setting.request.own_alloying,
        library=library,
    )
    froze: freezes.Froze | None = None
    unfrozen: Finding | None = None
    if setting.request.freeze in ("draft", "fine") and load.tree is not None and load.cast is not None:
        found = freezes.freeze_or_why(
            Cast(
                bodies=load.bodies,
                metal=load.cast,
                fed=fed_of(load.tree),
                flask=load.flask,
                alloy=alloy,
                investment=setting.investment,
                metal_c=heat.metal_c,
                flask_c=heat.flask_c,
                flask_band_c=(heat.flask_low_c, heat.flask_high_c),
            ),
            fine=setting.request.freeze == "fine",
            library=library,
            tell=setting.tell,
        )
        froze, unfrozen = (found, None) if isinstance(found, freezes.Froze) else (None, found)
    lowest = min((float(mesh.bounds[0][2]) for name, mesh in load.bodies if name.startswith("piece")), default=None)
    pour = pours.pour(
        alloy=alloy,
        investment=setting.investment,
        temperatures=heat,
        flask=load.flask,
        thinnest_mm=load.thinnest_mm,
        head_mm=None if lowest is None else lowest - load.flask.base_depth_mm,
        solid=froze.freezing.button if froze else None,
        piece_depth_mm=load.tree.clearances.wall_mm if load.tree else None,
        studio=studio,
        library=library,
    )
    quench = pours.quench(
        alloy=alloy,
        investment=setting.investment,
        temperatures=heat,
        flask=load.flask,
        metal_g=metal_g,
        pour=pour,
        stones=setting.request.stones,
        dark=froze.freezing.dark if froze else None,
        library=library,
    )
    return Figures(load=load, mix=mix, charge=charge, pour=pour, quench=quench, froze=froze, unfrozen=unfrozen)


def metal_band(load: Load, alloy: Alloy) -> tuple[float, float, float]:
    """Metal of the tree, and its ends: the same volume at the ends of the alloy's density."""
    if load.weighed:
        return load.weighed.metal_g, load.weighed.metal_low_g, load.weighed.metal_high_g
    assert load.tree is not None
    density = alloy.density_g_per_cm3
    low, high = (load.tree.metal_g * end / density.value for end in density.ends)
    return load.tree.metal_g, low, high


def dated(
    setting: Setting, figures: Sequence[Figures], programme: Programme, *, case: Case, crowded: tuple[Finding, ...]
) -> tuple[Plan, ...]:
    """The clock times of every flask, and the plans. Raises BadRequestError if the pour asked for comes too soon.

    `crowded`: what there is to know of the kiln that they share.
    """
    studio, library, now = setting.studio, setting.library, setting.now
    hours = Hours(work_from=studio.work_from, work_to=studio.work_to, zone=studio.zone)
    works = works_of(setting, figures, programme)
    found = poured(setting, works, hours)
    takes: Callable[[int], int | None] | None = None
    by_hand: ByHand | None = None
    if programme.by_hand and setting.request.programme is None:
        by_hand = ByHand(programme=programme, case=case, works=works, studio=studio, hours=hours, library=library, now=now)
        programme, found = slept(by_hand, found)
        works, takes = works_of(setting, figures, programme), course_min(by_hand, found.pour_at)
    held = day.held_longer(works, found.longer_min)
    days = day.schedules(held, pour_at=found.pour_at, hours=hours, library=library)
    calmer = None
    if found.asked and not day.calm(days, hours):
        longest_min = longest_hold_min(setting)
        calmer = (
            calmer_by_hand(by_hand, found.pour_at)
            if by_hand
            else day.calmer_hold(works, pour_at=found.pour_at, now=now, hours=hours, library=library, longest_min=longest_min)
        )
    in_turn_min = round(turns_min(works, library)[-1])
    fixed = setting.request.programme is not None or bool(programme.by_hand)  # what is set by hand must not move into the night
    own = burnout.stretched(programme, case, spare_min=found.longer_min, turns_min=in_turn_min, own=fixed)
    runs = tuple(setting.request.run_number + i for i in range(len(figures)))
    plans = []
    for number, f, entries in zip(runs, figures, days, strict=True):
        facts = day_checks.Facts(
            entries=entries,
            hours=hours,
            studio=studio,
            base_assumed=f.load.flask.base_assumed,
            calmer=calmer,
            now=now,
            stand_max_h=f.mix.stand_max_h,
            takes=takes,
        )
        load = KilnLoad(
            runs=runs,
            comes_out_at=next(e.starts_at for e in entries if e.key == "pour"),
            longer_for_turns_min=in_turn_min,
            longer_for_hours_min=found.longer_min,
        )
        mine = told_for(f.load.flask, own, like=case, until_min=day.minutes_in(entries, "kiln", "pour"))
        told = (*crowded, *day_checks.findings(facts))
        plans.append(assemble(setting, f, mine, entries=entries, found=told, number=number, kiln_load=load))
    return tuple(plans)


def works_of(setting: Setting, figures: Sequence[Figures], programme: Programme) -> tuple[Work, ...]:
    """What the day of each flask depends on."""
    return tuple(
        Work(
            kinds_count=len(f.load.measured),
            pieces_count=sum(p.piece.count for p in f.load.patterns),
            resin=setting.material.family == "resin",
            mix=f.mix,
            programme=programme,
            quench=f.quench,
            vacuum_min=min_from_s(f.pour.button_solid_high_s) if f.pour.vacuum_kpa else 0.0,
        )
        for f in figures
    )


def longest_hold_min(setting: Setting) -> float:
    """By how much holds may be longer for the pour; not with stones, nor by hand, nor where the user's own programme is taken."""
    fixed = setting.request.stones or setting.request.programme is not None or not setting.studio.kiln.segments_count
    return 0.0 if fixed else setting.library.rule("hold_longer_max_min")


def poured(setting: Setting, works: tuple[Work, ...], hours: Hours) -> day.Found:
    """The first pour: the one asked for, else the earliest. Raises BadRequestError if the one asked for comes too soon."""
    library, now, pour_at, longest_min = setting.library, setting.now, setting.request.pour_at, longest_hold_min(setting)
    if pour_at is not None:
        days = day.schedules(works, pour_at=pour_at, hours=hours, library=library)
        invest = min(e.starts_at for entries in days for e in entries if e.key == "wrap")
        if invest >= now:
            longer = day.calm_longer_min(works, pour_at=pour_at, now=now, hours=hours, library=library, longest_min=longest_min)
            return day.Found(pour_at=pour_at, longer_min=longer, asked=True)
    awake = setting.studio.awake if setting.request.programme is not None else None
    found = day.find_pour(works, now=now, hours=hours, library=library, longest_min=longest_min, awake=awake)
    if pour_at is not None:
        raise BadRequestError(
            f"A pour at {pour_at:%Y-%m-%d %H:%M} comes too soon.",
            why=f"Investing would have had to begin at {invest:%H:%M on %A}: set and burnout take that long.",
            try_this=f"The earliest pour is {found.pour_at:%Y-%m-%d %H:%M}; leave --pour-at out to take it.",
        )
    return found
