"""Findings of the tree."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from pourwell.findings import Code, Finding, Severity
from pourwell.materials.library import Library
from pourwell.steps.pattern.model import Piece, Point
from pourwell.steps.tree.attach import Sited
from pourwell.steps.tree.model import Place, Room, Tree
from pourwell.steps.tree.neck import Cut


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What the checks of the tree look at; mappings go by the piece's id."""

    tree: Tree
    pieces: tuple[Piece, ...]
    sites: Mapping[str, Sited]
    """The places of the sprues, as used."""
    ours: Mapping[str, Sited]
    """The places chosen by shape, for pieces with a place of the user's own."""
    cuts: tuple[Cut, ...]
    room: Room
    library: Library


def _at(point: Point) -> str:
    x, y, z = (f"{value:.1f}" for value in point)
    return f"({x}, {y}, {z})"


def _first(tree: Tree, piece: str) -> Place | None:
    return next((place for place in tree.places if place.piece == piece), None)


def _or_moved(cut: Cut) -> str:
    """What the sprue itself can do there: all, or nothing without the other."""
    there = _at(cut.attachment.at_mm) if cut.attachment else ""
    if cut.alone:
        return f", or move the sprue there (sprue_at_mm {there})."
    return f", at {there} mm in its file, beside the first: one sprue alone, there, does not feed it all."


def well_fed(facts: Facts) -> Iterator[Finding]:
    """A heavy section that its sprue reaches only through a thinner neck."""
    rule = facts.library.rules["neck_ratio"]
    for cut in facts.cuts:
        second = (
            f"Set a second sprue of {{l:{cut.gauge_mm:g}}} at the {cut.attachment.words}{_or_moved(cut)}"
            if cut.attachment
            else "No place for a second sprue was found there: thicken the neck in the drawing, or make the section hollow."
        )
        yield Finding(
            code="tree-neck",
            severity=Severity.WARN,
            where=f"piece {cut.piece}",
            says=f"The thickest section, {{l:{cut.section_mm:.1f}}} at {_at(cut.section_at_mm)}, is fed through a neck of "
            f"{{l:{cut.neck_mm:.1f}}} at {_at(cut.neck_at_mm)}. The neck freezes first, and the section shrinks into pits.",
            do=second,
            measure=f"neck {cut.neck_mm:.2f} mm, section {cut.section_mm:.2f} mm, ratio {cut.neck_mm / cut.section_mm:.2f}",
            limit=f"ratio at least {rule.value:g}",
            source=rule.source,
        )


def sprues_match(facts: Facts) -> Iterator[Finding]:
    """A sprue far thinner or thicker than the section that it feeds."""
    rule = facts.library.rules["sprue_area_ratio"]
    least, most = rule.low or rule.value, rule.high or rule.value
    for piece in facts.pieces:
        place = _first(facts.tree, piece.id)
        if place is None or least <= place.sprue.area_ratio <= most:
            continue
        sprue = place.sprue
        thin = sprue.area_ratio < least
        yield Finding(
            code="sprue-ratio",
            severity=Severity.WARN,
            where=f"piece {piece.id}",
            says=f"The {'heaviest' if thin else 'finest'} sprue in stock, {{l:{sprue.gauge_mm:g}}}, has {sprue.area_ratio:.2f} of "
            f"the section that it feeds.",
            do="Set several sprues side by side, or cast a thicker one yourself."
            if thin
            else "Draw the sprue out to the section's size where it meets the piece, so that the piece is not pulled out by it.",
            measure=f"{sprue.area_ratio:.2f}; section {sprue.attachment.section_mm2:.1f} mm2",
            limit=f"{least:g} to {most:g}",
            source=rule.source,
        )


def sprues_short(facts: Facts) -> Iterator[Finding]:
    """Sprues longer than is good."""
    rule = facts.library.rules["sprue_long_mm"]
    long_ = [place for place in facts.tree.places if place.sprue.length_mm > rule.value]
    if long_:
        most = max(place.sprue.length_mm for place in long_)
        yield Finding(
            code="sprue-long",
            severity=Severity.WARN,
            where="tree",
            says=f"{len(long_)} of {len(facts.tree.places)} sprues are up to {{l:{most:g}}} long: the flask is narrow for so many.",
            do="Take a larger flask, or cast fewer pieces at once.",
            measure=f"{most:g} mm",
            limit=f"{rule.value:g} mm",
            source=rule.source,
        )


def enough_to_feed(facts: Facts) -> Iterator[Finding]:
    """Pieces that outweigh stem and button."""
    rule = facts.library.rules["yield_most_fraction"]
    share = facts.tree.yield_fraction
    if share > rule.value:
        yield Finding(
            code="tree-yield",
            severity=Severity.NOTE,
            where="tree",
            says=f"The pieces are {share:.0%} of the metal: stem and button may be too small to feed them.".replace("%", " %"),
            do="Take a base with a larger dome, or a thicker stem.",
            measure=f"{share:.2f}",
            limit=f"{rule.value:g}",
            source=rule.source,
        )


def pieces_alike(facts: Facts) -> Iterator[Finding]:
    """Heavy and light pieces on one tree."""
    rule = facts.library.rules["section_spread_ratio"]
    walls = sorted((piece.wall.typical_mm, piece.id) for piece in facts.pieces)
    (thin, light), (thick, heavy) = walls[0], walls[-1]
    if thick > rule.value * thin:
        yield Finding(
            code="tree-mixed-sections",
            severity=Severity.WARN,
            where=f"pieces {heavy} and {light}",
            says=f"Piece {heavy} is {{l:{thick:.1f}}} thick and piece {light} {{l:{thin:.1f}}}: one flask temperature serves both.",
            do="Cast them in two flasks; if in one, stay nearer to the temperature for the light piece.",
            measure=f"{thick / thin:.1f}",
            limit=f"{rule.value:g}",
            source=rule.source,
        )


def own_place_good(facts: Facts) -> Iterator[Finding]:
    """The user's own place for a sprue, where something is wrong with it."""
    rule = facts.library.rules["attach_thin_ratio"]
    for key, ours in facts.ours.items():
        trouble = facts.sites[key].trouble
        if trouble:
            yield Finding(
                code="attach-user-bad",
                severity=Severity.WARN,
                where=f"piece {key}",
                says=f"Your place for the sprue: {trouble}.",
                do=f"Leave sprue_at_mm out, or use {_at(ours.attachment.at_mm)}: {ours.attachment.words}.",
                measure=f"{facts.sites[key].thickness_mm:.2f} mm thick",
                limit=f"on the piece, at least {rule.value * ours.thickness_mm:.2f} mm, and straight to reach from outside",
                source=rule.source,
            )


def place_found(facts: Facts) -> Iterator[Finding]:
    """A piece without a good place for a sprue."""
    rule = facts.library.rules["attach_support_fraction"]
    for piece in facts.pieces:
        sited = facts.ours.get(piece.id, facts.sites[piece.id])
        if sited.trouble and facts.sites[piece.id] is sited:
            yield Finding(
                code="attach-poor",
                severity=Severity.WARN,
                where=f"piece {piece.id}",
                says=f"The sprue: {sited.trouble}.",
                do="Look at it, and give a place of your own with sprue_at_mm; or draw the sprue into the pattern.",
                measure=_at(sited.attachment.at_mm),
                limit=f"{rule.value:.0%} of the foot carried, smooth, free for the sprue's whole length".replace("%", " %"),
                source=rule.source,
            )


def stem_fits(facts: Facts) -> Iterator[Finding]:
    """A stem that does not fit the socket of the base."""
    rule = facts.library.rules["socket_slack_mm"]
    stem, socket = facts.tree.stem.diameter_mm, facts.room.socket_mm
    if abs(stem - socket) > rule.value:
        way = "Draw the stem's foot out to the socket" if stem > socket else "Build the stem's foot up to the socket"
        yield Finding(
            code="stem-socket",
            severity=Severity.NOTE,
            where="stem",
            says=f"The stem is {{l:{stem:g}}} thick and the base's socket {{l:{socket:g}}}.",
            do=f"{way}, and seal the joint with wax.",
            measure=f"{stem:g} mm",
            limit=f"{socket:g} mm",
            source=facts.library.rules["stem_mm"].source,
        )


CHECKS: tuple[Callable[[Facts], Iterator[Finding]], ...] = (
    own_place_good,
    place_found,
    well_fed,
    sprues_match,
    sprues_short,
    pieces_alike,
    stem_fits,
    enough_to_feed,
)

CODES = (
    Code(code="attach-user-bad", severities=(Severity.WARN,), about="The user's own sprue place is far off, in the bore or thin."),
    Code(code="attach-poor", severities=(Severity.WARN,), about="No good place for a sprue was found on a piece."),
    Code(code="tree-neck", severities=(Severity.WARN,), about="The thickest section is fed through a thinner neck."),
    Code(code="sprue-ratio", severities=(Severity.WARN,), about="A sprue is far thinner or thicker than what it feeds."),
    Code(code="sprue-long", severities=(Severity.WARN,), about="A sprue is longer than is good."),
    Code(code="tree-mixed-sections", severities=(Severity.WARN,), about="Heavy and light pieces share a flask temperature."),
    Code(code="stem-socket", severities=(Severity.NOTE,), about="The stem does not fit the socket of the rubber base."),
    Code(code="tree-yield", severities=(Severity.NOTE,), about="Stem and button may be too small to feed the pieces."),
)


def findings(facts: Facts) -> tuple[Finding, ...]:
    """All findings of the tree."""
    return tuple(f for check in CHECKS for f in check(facts))
