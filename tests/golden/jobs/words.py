"""A plan as text that a jeweller can read: what was asked, then what came out, in the order of the bench.

Every figure is rounded to what the bench uses: a charge to 0.1 g, a pattern to 0.01 g, lengths to 0.1 mm, a finished ring to a
quarter of a US size. Finer digits may differ from one machine to the next, and nobody can act on them.
"""

from collections.abc import Iterable, Iterator
from datetime import datetime

from pourwell.findings import Finding, spelt_out
from pourwell.plan import Plan
from pourwell.steps.pattern.model import Bore, Piece
from pourwell.steps.tree.model import Tree

Row = tuple[object, ...]


def told(plans: Iterable[Plan]) -> str:
    """All runs of a job, one after the other."""
    return "\n\n\n".join("\n".join(_run(plan)) for plan in plans) + "\n"


def _run(plan: Plan) -> Iterator[str]:
    yield f"RUN {plan.number}: {plan.title}".upper()
    yield f"{plan.studio.name}; planned {_moment(plan.made_at)}, poured {_moment(plan.pour_at)}"
    if plan.stopped:
        yield "DO NOT POUR"
    yield from _block("Asked for", _asked(plan))
    yield from _block("Pieces", [row for p in plan.patterns for row in _piece(p.piece)])
    if plan.tree is not None:
        yield from _block("Tree", _tree(plan.tree))
        yield from _block("Sprues", _sprues(plan.tree))
    if plan.weighed is not None:
        yield from _block("Tree on the scale", _weighed(plan))
    yield from _block("Flask", _flask(plan))
    yield from _block("Investment", _mix(plan))
    yield from _block("Working clock", [(f"{s.at_s // 60}:{s.at_s % 60:02d}", s.says) for s in plan.mix.clock])
    yield from _block("Charge", _charge(plan))
    yield from _block("Pour", _pour(plan))
    yield from _block("Kiln", _kiln(plan))
    yield from _block("Day", [(_moment(e.starts_at), f"{e.ends_at:%H:%M}", _hands(e.hands_on_min), e.says) for e in plan.timeline])
    yield from _findings(plan.findings)
    yield from _block("Cannot be known", [(sentence,) for sentence in plan.unknown])


def _block(title: str, rows: Iterable[Row]) -> Iterator[str]:
    """A heading with rows under it, columns lined up; nothing at all without rows."""
    table = [[str(cell) for cell in row] for row in rows]
    if not table:
        return
    widths = [max((len(row[k]) for row in table if len(row) > k + 1), default=0) for k in range(max(map(len, table)))]
    yield f"\n{title}"
    for row in table:
        yield "  " + "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=False)).rstrip()


def _moment(when: datetime) -> str:
    return f"{when:%a %d %b %H:%M}"


def _grams(g: float) -> str:
    """As finely as a bench scale shows it."""
    return f"{g:.2f} g" if g < 10 else f"{g:.1f} g"


def _band(low: float, high: float, digits: int = 0) -> str:
    return f"{low:.{digits}f} to {high:.{digits}f}"


def _hands(minutes: int) -> str:
    return f"{minutes} min at hand" if minutes else "waiting"


def _asked(plan: Plan) -> list[Row]:
    """The set-up: what stands in the job and in the studio."""
    asked, studio, kiln = plan.request, plan.studio, plan.studio.kiln
    vacuum = [name for name in ("bowl", "flask") if getattr(studio.investing_vacuum, name)]
    rows: list[Row] = [
        ("metal", f"{plan.alloy.name} ({plan.alloy.id}), {100 * asked.returns_fraction:.0f} % returns"),
        ("pieces in", plan.pattern_material.name + (", with stones in place" if asked.stones else "")),
        ("cast by", f"{studio.casting.way}, melted by {studio.melting.way}"),
        ("vacuum for", " and ".join(vacuum) or "neither bowl nor flask"),
        ("kiln", f"{kiln.segments_count or 'no'} segments, falls {kiln.fall_c_per_h:g} K/h, {kiln.error_k:g} K wrong at most"),
        ("place", f"{studio.altitude_m:g} m up, work {studio.work_from:%H:%M} to {studio.work_to:%H:%M}"),
    ]
    return rows


def _piece(piece: Piece) -> Iterator[Row]:
    """Sizes, walls, weights of one kind, and its bore."""
    x, y, z = piece.envelope_mm
    wall = piece.wall
    yield piece.id, f"{piece.count} {piece.name}", f"{piece.file}, {x:.1f} x {y:.1f} x {z:.1f} mm, {piece.volume_mm3:.0f} mm3"
    yield "", "walls", f"{wall.thinnest_mm:.1f} mm at least, mostly {wall.typical_mm:.1f}, {wall.thickest_mm:.1f} at most"
    cast = f"{_grams(piece.metal_g)} cast, {_band(piece.finished_low_g, piece.finished_high_g, 1)} g finished"
    yield "", "weighs", f"{_grams(piece.pattern_g)} as a pattern, {cast}"
    if piece.overlap_mm3 >= 0.05:
        kept = sum(body.kept for body in piece.bodies)
        left = ", ".join(body.name for body in piece.bodies if not body.kept)
        yield "", "bodies", f"{kept} united, {piece.overlap_mm3:.1f} mm3 of them twice; left out: {left or 'none'}"
    if piece.bore is not None:
        yield "", "bore", _bore(piece.bore)


def _bore(bore: Bore) -> str:
    drawn, done = bore.sizes, bore.finished_sizes
    ends = f"US {bore.finished_low_sizes.us} to {bore.finished_high_sizes.us}"
    scale = "" if bore.scale_ratio is None else f"; scale by {bore.scale_ratio:.3f} to hit the size"
    return f"{bore.diameter_mm:.2f} mm, US {drawn.us}, UK {drawn.uk}; finished US {done.us}, UK {done.uk}, {ends}{scale}"


def _tree(tree: Tree) -> list[Row]:
    gaps = tree.clearances
    pieces = "one piece" if gaps.pieces_mm is None else f"{gaps.pieces_mm:.1f} mm (at least {gaps.pieces_limit_mm:g})"
    parts = f"pieces {tree.pieces_g:.1f}, sprues {tree.sprues_g:.1f}, stem {tree.stem_g:.1f}, button {tree.button_g:.1f}"
    return [
        ("metal", f"{tree.metal_g:.1f} g: {parts}"),
        ("yield", f"{100 * tree.yield_fraction:.0f} %"),
        ("on the scale", f"{tree.pattern_g:.1f} g without its base"),
        ("stem", f"{tree.stem.diameter_mm:g} mm, from {tree.stem.foot_mm:.0f} to {tree.stem.top_mm:.0f} mm"),
        ("button", f"{tree.button.diameter_mm:g} x {tree.button.height_mm:g} mm"),
        ("tiers", ", ".join(f"{tier.height_mm:.0f} mm" for tier in tree.tiers)),
        ("between pieces", pieces),
        ("to the wall", f"{gaps.wall_mm:.1f} mm (at least {gaps.wall_limit_mm:g})"),
        ("over the tip", f"{gaps.tip_mm:.1f} mm (at least {gaps.tip_limit_mm:g})"),
        *[("proposed", f"a second sprue on {p.piece}, {p.gauge_mm:g} mm: {p.attachment.words}") for p in tree.proposals],
    ]


def _sprues(tree: Tree) -> Iterator[Row]:
    """The sprueing card: one line a piece."""
    for place in tree.places:
        sprue = place.sprue
        gauge = f"{sprue.gauge_mm:g} x {sprue.length_mm:.0f} mm"
        fed = f"on a section of {sprue.attachment.section_mm2:.1f} mm2, ratio {sprue.area_ratio:.1f}"
        yield place.number, place.piece, f"tier {place.tier}", gauge, fed, sprue.attachment.words


def _weighed(plan: Plan) -> list[Row]:
    tree = plan.weighed
    assert tree is not None
    return [
        ("weight", f"{tree.pattern_g:.1f} g without its base, {tree.wax_g:.1f} g of it sprue wax"),
        ("metal", f"{tree.metal_g:.1f} g ({_band(tree.metal_low_g, tree.metal_high_g, 1)}), button {tree.button_g:.1f} g"),
    ]


def _flask(plan: Plan) -> list[Row]:
    flask = plan.flask
    held = f"{flask.base_depth_mm:g} mm for the base, {flask.cover_mm:g} cover, {flask.headspace_mm:g} headspace"
    return [
        ("size", f"{flask.id}, {flask.diameter_mm:g} x {flask.height_mm:g} mm, {flask.volume_cm3:.0f} cm3"),
        ("room", f"{flask.usable_mm:.1f} mm high: {held}"),
    ]


def _mix(plan: Plan) -> list[Row]:
    mix = plan.mix
    warmth = f"{mix.water_low_c:g} to {mix.water_high_c:g} C"
    return [
        ("powder", f"{mix.powder_g:g} g", mix.name),
        ("water", f"{mix.water_g:g} g, {mix.water_ml:g} ml", f"{mix.ratio_g_per_100_g:g} to 100, {warmth}"),
        ("bowl", f"{mix.bowl_cm3 / 1000:.1f} l", f"or more; slurry {mix.slurry_cm3:.0f} cm3, collar {mix.collar_mm:g} mm"),
        ("set", f"{mix.set_h:g} h", f"not moved for {mix.still_min:g} min, not left over {mix.stand_max_h:g} h"),
    ]


def _charge(plan: Plan) -> list[Row]:
    charge = plan.charge
    rows: list[Row] = [
        ("charge", f"{charge.total_g:.1f} g", f"{_band(charge.low_g, charge.high_g, 1)}; melt loss {charge.melt_loss_g:.1f} g"),
        ("fresh", f"{charge.fresh_g:.1f} g", ", ".join(f"{name} {g:.1f}" for name, g in charge.parts_g.items())),
        ("returns", f"{charge.returns_g:.1f} g", ""),
    ]
    crucible = "crucible not known" if charge.crucible_cm3 is None else f"crucible of {charge.crucible_cm3:g} cm3"
    return [*rows, ("molten", f"{charge.liquid_cm3:.1f} cm3", crucible)]


def _pour(plan: Plan) -> list[Row]:
    heat, pour, quench = plan.temperatures, plan.pour, plan.quench
    section = "not known, taken as medium" if heat.section_mm is None else f"{heat.section_mm:.1f} mm, {heat.section}"
    drive = "none" if pour.vacuum_kpa is None else f"{pour.vacuum_kpa:g} kPa"
    rows: list[Row] = [
        ("metal", f"{heat.metal_c:.0f} C", f"{_band(heat.metal_low_c, heat.metal_high_c)}; liquid from {heat.liquidus_c:.0f}"),
        ("flask", f"{heat.flask_c:.0f} C", _band(heat.flask_low_c, heat.flask_high_c)),
        ("section", section, ""),
        ("vacuum", drive, f"door to pour {pour.transfer_s} s"),
        ("button solid", f"{pour.button_solid_s} s", _band(pour.button_solid_low_s, pour.button_solid_high_s)),
        ("quench", f"in {quench.way}, {quench.wait_min} min", f"{_band(quench.low_min, quench.high_min)} min: {quench.sign}"),
    ]
    return rows


def _kiln(plan: Plan) -> list[Row]:
    programme = plan.programme
    rows: list[Row] = [
        (
            s.number,
            _moment(s.starts_at),
            f"{s.ramp_c_per_h:+.0f} K an hour to {s.target_c:.0f} C by {s.reached_at:%H:%M}",
            f"hold {s.hold_min} min to {s.ends_at:%H:%M}",
            s.why,
        )
        for s in plan.segments
    ]
    rows += [("hand", f"after {p.at_min // 60}:{p.at_min % 60:02d}", f"set {p.set_c:.0f} C", p.why) for p in programme.by_hand]
    whole = f"{programme.total_min // 60} h {programme.total_min % 60} min, hottest {programme.peak_c:.0f} C"
    energy = f"{_band(programme.energy_low_kwh, programme.energy_high_kwh)} kWh"
    return [*rows, ("all", whole, f"never over {programme.ceiling_c:.0f} C", energy)]


def _findings(findings: Iterable[Finding]) -> Iterator[str]:
    """Every finding with its sentences, its measure and its limit; which open edge of many it names first is left out."""
    yield "\nFindings"
    for finding in findings:
        where = finding.where.partition(", near ")[0]
        held = [finding.measure and f"is {finding.measure}", finding.limit and f"limit {finding.limit}", finding.source]
        yield f"  {finding.severity.value.upper()}  {finding.code}, {where}"
        yield f"        {spelt_out(finding.says)}"
        yield f"        {spelt_out(finding.do)}"
        if any(held):
            yield f"        ({spelt_out('; '.join(filter(None, held)))})"
