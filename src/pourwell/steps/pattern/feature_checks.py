"""Findings about the features of a pattern: wires, gaps, engraving, recesses, raised lines, inner corners."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from pourwell.findings import Code, Finding, Severity
from pourwell.geometry.corners import Corners
from pourwell.geometry.features import Features, Looked
from pourwell.geometry.gaps_outside import Gaps
from pourwell.geometry.hollows import Hollow
from pourwell.geometry.mesh import Floats
from pourwell.geometry.recesses import Recesses, within
from pourwell.geometry.rolling import Flags
from pourwell.geometry.thin import agreed
from pourwell.geometry.wires import Wires
from pourwell.materials.library import Library
from pourwell.materials.model import Alloy, PatternMaterial, Quantity, Rule
from pourwell.steps.pattern.faults_told import near, under
from pourwell.steps.pattern.model import Piece, Point
from pourwell.steps.pattern.relief_checks import RELIEF_CHECKS, RELIEF_CODES
from pourwell.steps.pattern.width_checks import WIDTH_CHECKS, WIDTH_CODES, by_ball, gap_width, lesser, line_width, told_width

TENTHS: Final = 1
"""Decimals in which the findings tell how many times as deep as wide something is."""

WIRE_REACH: Final = 2.0
"""A thin wall within so many gauges of a place on a thin wire is that wire: own choice, a wire is at least as long."""


GROOVE, BLIND_HOLE, THROUGH = 0, 1, 2
"""What a recess is. The width of a blind hole is also that of the ball in it: rays beside its axis are chords, all too short."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FeatureFacts:
    """What the checks of the features look at."""

    piece: Piece
    found: Features
    alloy: Alloy
    material: PatternMaterial
    library: Library
    told_hollows: tuple[Hollow, ...] = ()
    """Those that are told as such: no pocket is told there besides."""

    def rule(self, name: str) -> Rule:
        """A rule of the library."""
        return self.library.rules[name]

    def detail(self, rule: Rule) -> Rule | Quantity:
        """The stricter of a rule of casting and what the pattern material holds."""
        own = self.material.min_detail_mm
        return own if own is not None and own.value > rule.value else rule

    def seen(self, at: Floats) -> dict[str, Any]:
        """Where a finding is to be looked at: on the piece in the frame of its file."""
        return {"where": f"piece {self.piece.id}, {near(point(at))}", "at_mm": point(at)}

    def worst(self, places: Recesses, values: Floats) -> int | None:
        """The place whose value is least, specks left out."""
        return places.worst(values, self.library.rule("feature_patch_mm2"))

    @property
    def engraved(self) -> Recesses:
        """Recesses with a floor that are engraving: narrow, and shallow or at least no wider than deep."""
        sunk, most = self.found.sunk, self.library.rule("engraving_width_mm")
        return sunk.only(~sunk.through & sunk.flush & (sunk.mouth_mm <= most) & (sunk.depth_mm <= most))

    @property
    def lettered(self) -> Recesses:
        """Raised lines that are no walls, being no higher than one is thick, nor the land between two grooves narrower than it."""
        raised = self.found.raised
        line = ~raised.through & raised.flush & raised.parallel & (raised.beside_mm >= raised.width_mm)
        return raised.only(line & (raised.depth_mm <= self.library.rule("relief_roll_mm")))

    def faulty(self, places: Recesses, values: Floats, limit: float) -> Recesses:
        """The places under a limit, if that is told at all."""
        place = self.worst(places, values)
        told = place is not None and under(values[place], limit)
        return places.only((values < limit) & told)

    @property
    def slits(self) -> Recesses:
        """Gaps and holes through the piece."""
        return self.found.sunk.only(self.found.sunk.through & self.found.sunk.parallel)

    @property
    def lone_gaps(self) -> Gaps:
        """Gaps judged as no recess: no ball rolls in, or their sides are round; not those in hollows that are told as such."""
        gaps = self.found.gaps
        gaps = gaps.only(gaps.width_mm < self.rule("gap_width_mm").value)
        for judged in (self.closed_gaps, self.tight_lines, self.pockets, self.engraved):
            gaps = gaps.only(~within(gaps.at_mm, judged.at_mm, judged.reach_mm))
        for hollow in self.told_hollows:
            gaps = gaps.only(np.linalg.norm(gaps.at_mm - np.array(hollow.at_mm), axis=1) > hollow.length_mm)
        return gaps

    @property
    def closed_gaps(self) -> Recesses:
        """Those of them that are too narrow."""
        slits = self.slits
        return self.faulty(slits, gap_width(slits), self.rule("gap_width_mm").value)

    @property
    def tight_lines(self) -> Recesses:
        """Engraving that is too narrow."""
        grooves = self.engraved
        return self.faulty(grooves, line_width(grooves), self.detail(self.rule("groove_width_mm")).value)

    @property
    def pockets(self) -> Recesses:
        """Recesses wider within than at their mouths."""
        sunk = self.found.sunk
        return self.faulty(sunk, self.mouth_share(sunk), self.rule("undercut_mouth_ratio").value)

    @property
    def fine_lines(self) -> Recesses:
        """Raised lines that are too thin."""
        lines = self.lettered
        return self.faulty(lines, lines.width_mm, self.detail(self.rule("relief_width_mm")).value)

    def mouth_share(self, sunk: Recesses) -> Floats:
        """The mouth over the width within; infinite for what is no pocket: it goes through, or it is open on several sides."""
        pocket = ~sunk.through & sunk.flush & (sunk.open_fraction <= self.library.rule("undercut_open_fraction"))
        for hollow in self.told_hollows:
            pocket &= np.linalg.norm(sunk.at_mm - np.array(hollow.at_mm), axis=1) > hollow.length_mm
        return np.where(pocket, sunk.mouth_mm / np.maximum(sunk.width_mm, np.finfo(float).tiny), np.inf)

    @property
    def wires(self) -> Wires:
        """Thin wires but for the raised lines that are told as such."""
        thin, lines = self.found.wires, self.fine_lines
        return thin.only(~within(thin.at_mm, lines.at_mm, lines.reach_mm))

    @property
    def corners(self) -> Corners:
        """Sharp inner corners but for those in gaps and grooves that are told as such: sides with a gap between do not meet."""
        corners = self.found.corners
        tight, engraved = self.tight_lines, self.engraved
        slanted = engraved.only(~engraved.parallel & bool((~tight.parallel).any()))  # where parts cross, all along
        for told in (self.closed_gaps, tight, slanted):
            corners = corners.only(~within(corners.at_mm, told.at_mm, told.reach_mm))
        lone = self.lone_gaps
        if lone.worst(self.library.rule("feature_patch_mm2")) is None:
            return corners
        lone = lone.only(np.isfinite(lone.width_mm))
        return corners.only(~within(corners.at_mm, lone.at_mm, lone.width_mm + np.sqrt(lone.area_mm2)))

    def explained(self, points: Floats) -> Flags:
        """Which points, (k, 3) [mm], lie on a thin wire or raised line that is told as such: no wall is told there besides."""
        thin, lines = self.wires, self.fine_lines
        thinnest = thin.thinnest()
        told = thinnest is not None and under(thinnest[0], self.alloy.min_wire_mm.value)
        on_wire = within(points, thin.at_mm, WIRE_REACH * thin.gauge_mm) & told
        return on_wire | within(points, lines.at_mm, lines.reach_mm)


def point(at: Floats) -> Point:
    """A place as three numbers."""
    x, y, z = (float(value) for value in at)
    return x, y, z


def looked(alloy: Alloy, library: Library) -> Looked:
    """What is looked for on a piece of an alloy."""
    return Looked(
        gap_mm=library.rule("recess_roll_mm"),
        gap_least_mm=library.rule("gap_width_mm"),
        ridge_mm=library.rule("relief_roll_mm"),
        least_mm=library.rule("feature_least_mm"),
        wire_mm=alloy.min_wire_mm.value,
        corner_deg=library.rule("inner_corner_deg"),
        corner_mm=library.rule("inner_corner_mm"),
    )


def wires_thick(facts: FeatureFacts) -> Iterator[Finding]:
    """A wire or prong thinner than this alloy usually fills."""
    wires, limit = facts.wires, facts.alloy.min_wire_mm
    place = wires.worst()
    if place is not None and under(wires.gauge_mm[place], limit.value):
        gauge, ball, at = float(wires.gauge_mm[place]), float(wires.ball_mm[place]), wires.at_mm[place]
        flat = "" if agreed(gauge, ball) else f" as a round one, {{l:{ball:.2f}}} its thinner way"
        yield Finding(
            code="wire-thin",
            severity=Severity.WARN,
            **facts.seen(at),
            says=f"The wire or prong there is {{l:{gauge:.2f}}} thick{flat}; {facts.alloy.name} fills wires of "
            f"{{l:{limit.value:g}}} safely. Metal that runs in from one end only freezes in a thin wire before it is full.",
            do=f"Thicken it to {{l:{limit.value:g}}}; else feed both its ends, cast with a hotter flask, and expect some not to "
            "fill.",
            measure=f"{gauge:.2f} mm",
            limit=f"{limit.value:g} mm",
            source=limit.source,
        )


def engraving_deep(facts: FeatureFacts) -> Iterator[Finding]:
    """Engraving so shallow that filing and polishing take it off."""
    grooves, rule = facts.engraved, facts.rule("engraving_depth_mm")
    place = facts.worst(grooves, grooves.depth_mm)
    if place is None or not under(grooves.depth_mm[place], rule.value):
        return
    depth, finish = float(grooves.depth_mm[place]), facts.rule("finishing_face_mm")
    left = depth - finish.value
    gone = under(left, facts.library.rule("engraving_left_mm"))
    yield Finding(
        code="engraving-shallow",
        severity=Severity.WARN if gone else Severity.NOTE,
        **facts.seen(grooves.at_mm[place]),
        says=f"The engraving there is {{l:{depth:.2f}}} deep. Finishing takes about {{l:{finish.value:g}}} off a face and rounds "
        "the edges by as much: "
        f"{'nothing' if not under(0.0, left) else ('only ' if gone else '') + f'{{l:{left:.2f}}}'} is left.",
        do=f"Draw it {{l:{rule.value:g}}} deep or more, or engrave the finished metal.",
        measure=f"{depth:.2f} mm",
        limit=f"{rule.value:g} mm",
        source=rule.source,
    )


def _limits(facts: FeatureFacts, sunk: Recesses) -> tuple[Floats, tuple[Rule, Rule, Rule], np.ndarray]:
    """For every recess how deep over its width it may be, the three rules, and which of them it is."""
    rules = facts.rule("groove_depth_ratio"), facts.rule("blind_hole_depth_ratio"), facts.rule("through_hole_length_ratio")
    hole = sunk.long_mm <= facts.library.rule("hole_length_ratio") * sunk.width_mm
    which = np.where(sunk.through, THROUGH, np.where(hole, BLIND_HOLE, GROOVE))
    return np.array([rule.value for rule in rules])[which], rules, which


def recesses_shallow(facts: FeatureFacts) -> Iterator[Finding]:
    """A groove, hole or pocket so deep for its width that the mould standing in it breaks, and air stays in it.

    As deep as its sides stand; not where it is told already that it is too narrow or has a neck.
    """
    sunk = facts.found.sunk.only(facts.found.sunk.parallel)
    for told in (facts.closed_gaps, facts.tight_lines, facts.pockets):
        sunk = sunk.only(~within(sunk.at_mm, told.at_mm, told.reach_mm))
    most, rules, which = _limits(facts, sunk)
    deep = np.minimum(sunk.depth_mm, sunk.walled_mm)
    hole = which == BLIND_HOLE
    rays = np.where(hole & np.isfinite(sunk.ball_mm), np.maximum(sunk.mouth_mm, sunk.ball_mm), sunk.mouth_mm)
    wide = lesser(rays, ball := by_ball(sunk))
    slender = deep / np.maximum(wide, np.finfo(float).tiny)
    place = facts.worst(sunk, most / np.maximum(slender, np.finfo(float).tiny))
    if place is None or not under(most[place], slender[place], decimals=TENTHS):
        return
    rule, kind = rules[which[place]], ("groove", "blind hole", "hole or slot through the piece")[which[place]]
    width = float(wide[place])
    told_wide = told_width(width, rays_mm=float(rays[place]), ball_mm=float(ball[place]))
    yield Finding(
        code="recess-deep",
        severity=Severity.WARN,
        **facts.seen(sunk.at_mm[place]),
        says=f"The {kind} there is {{l:{deep[place]:.2f}}} deep and {told_wide}: {slender[place]:.1f} times as "
        "deep as wide. The mould stands in it as a thin tongue, which breaks as the metal runs in, and air bubbles stay in it when "
        "the slurry is poured.",
        do=f"Make it wider or no deeper than {{l:{rule.value * width:.2f}}}, or cut it into the metal; else brush the slurry into "
        "it before pouring and hold the vacuum.",
        measure=f"{slender[place]:.1f} times its width",
        limit=f"{rule.value:g} times its width",
        source=rule.source,
    )


def mouths_open(facts: FeatureFacts) -> Iterator[Finding]:
    """A recess that is wider within than at its mouth."""
    sunk, rule = facts.found.sunk, facts.rule("undercut_mouth_ratio")
    share = facts.mouth_share(sunk)
    place = facts.worst(sunk, share)
    if place is not None and under(share[place], rule.value):
        yield Finding(
            code="recess-undercut",
            severity=Severity.WARN,
            **facts.seen(sunk.at_mm[place]),
            says=f"The recess there is {{l:{sunk.width_mm[place]:.2f}}} wide within and {{l:{sunk.mouth_mm[place]:.2f}}} at its "
            "mouth. Air stays in it when investing, the neck of mould breaks, and what breaks off cannot get out.",
            do="Open the mouth to the width within, or make a second opening; else fill it by brush and look for a bubble.",
            measure=f"{share[place]:.0%} of its width",
            limit=f"{rule.value:.0%}",
            source=rule.source,
        )


def corners_blunt(facts: FeatureFacts) -> Iterator[Finding]:
    """A sharp inner corner: there the mould ends in a knife edge."""
    corners = facts.corners
    rule, radius = facts.rule("inner_corner_deg"), facts.rule("inner_corner_mm")
    place = corners.sharpest()
    if place is None or not under(corners.angle_deg[place], rule.value, decimals=0):
        return
    if corners.length_mm.sum() >= facts.library.rule("inner_corner_length_mm"):
        yield Finding(
            code="inner-corner-sharp",
            severity=Severity.NOTE,
            **facts.seen(corners.at_mm[place]),
            says=f"The faces there meet in an inner corner of {corners.angle_deg[place]:.0f} degrees without a rounding, about "
            f"{{l:{corners.length_mm.sum():.0f}}} long. The mould ends in an edge as sharp, which crumbles as the metal runs in: "
            "expect a rough corner, and grains of mould elsewhere in the metal.",
            do=f"Round it by {{l:{radius.value:g}}} or more, or open the corner.",
            measure=f"{corners.angle_deg[place]:.0f} degrees",
            limit=f"{rule.value:g} degrees",
            source=rule.source,
        )


CODES: tuple[Code, ...] = (
    Code(code="wire-thin", severities=(Severity.WARN,), about="A wire or prong thinner than the alloy fills"),
    *WIDTH_CODES,
    Code(
        code="engraving-shallow",
        severities=(Severity.WARN, Severity.NOTE),
        about="Engraving that finishing takes off, or nearly so",
    ),
    Code(code="recess-deep", severities=(Severity.WARN,), about="A groove or hole too deep for its width: the mould in it breaks"),
    Code(code="recess-undercut", severities=(Severity.WARN,), about="A recess wider within than at its mouth"),
    *RELIEF_CODES,
    Code(code="inner-corner-sharp", severities=(Severity.NOTE,), about="An inner corner that is a knife edge of mould"),
)

CHECKS: tuple[Callable[[FeatureFacts], Iterator[Finding]], ...] = (
    wires_thick,
    *WIDTH_CHECKS,
    engraving_deep,
    recesses_shallow,
    mouths_open,
    *RELIEF_CHECKS,
    corners_blunt,
)


def findings(facts: FeatureFacts) -> tuple[Finding, ...]:
    """All findings about features, in the order of the checks."""
    return tuple(finding for check in CHECKS for finding in check(facts))
