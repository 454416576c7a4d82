"""Findings about gaps, holes and grooves that are too narrow: their widths by rays and by balls, the lesser one told."""

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Final

import numpy as np

from pourwell.findings import Code, Finding, Severity
from pourwell.geometry.mesh import Floats
from pourwell.geometry.recesses import Recesses
from pourwell.geometry.thin import agreed, agreeing
from pourwell.steps.pattern.faults_told import under

if TYPE_CHECKING:
    from pourwell.steps.pattern.feature_checks import FeatureFacts


def by_rays(sunk: Recesses, width_mm: Floats) -> Floats:
    """A width that rays across find [mm], or what rays straight from the sides find, if that is less."""
    return np.fmin(width_mm, sunk.rays_mm)


def by_ball(sunk: Recesses) -> Floats:
    """The width by the largest ball between sides that face each other [mm]; infinite where the floor stops it before."""
    return np.where(sunk.parallel & sunk.between, sunk.ball_mm, np.inf)


def lesser(rays_mm: Floats, ball_mm: Floats) -> Floats:
    """The width by rays where the ball agrees, else the lesser of both, (k,) [mm]."""
    return np.where(agreeing(rays_mm, ball_mm), rays_mm, np.minimum(rays_mm, ball_mm))


def gap_width(slits: Recesses) -> Floats:
    """The width of gaps and holes, the lesser one by rays and by balls [mm]."""
    return np.minimum(by_rays(slits, slits.width_mm), slits.ball_mm)


def line_width(grooves: Recesses) -> Floats:
    """The width of the tongue of mould in a groove or a short one [mm]: by rays at the mouth; the lesser where the ball differs."""
    return lesser(np.minimum(grooves.mouth_mm, grooves.long_mm), by_ball(grooves))


def told_width(width_mm: float, *, rays_mm: float, ball_mm: float) -> str:
    """A width in words, with both figures where they differ."""
    both = f"rays across it find {{l:{rays_mm:.2f}}}, the largest ball that fits in finds {{l:{ball_mm:.2f}}}: look there"
    one_sided = not (np.isfinite(rays_mm) and np.isfinite(ball_mm)) or agreed(rays_mm, ball_mm)
    return f"{{l:{width_mm:.2f}}} wide" + ("" if one_sided else f" ({both})")


def gaps_wide(facts: "FeatureFacts") -> Iterator[Finding]:
    """A gap or hole through the piece so narrow that it prints shut or its mould breaks."""
    slits, lone, rule = facts.slits, facts.lone_gaps, facts.rule("gap_width_mm")
    least = gap_width(slits)
    told: list[tuple[float, float, float, Floats]] = []
    if (place := facts.worst(slits, least)) is not None:
        rays = float(by_rays(slits, slits.width_mm)[place])
        told.append((float(least[place]), rays, float(slits.ball_mm[place]), slits.at_mm[place]))
    if (place := lone.worst(facts.library.rule("feature_patch_mm2"))) is not None:
        told.append((float(lone.width_mm[place]), float(lone.rays_mm[place]), float(lone.ball_mm[place]), lone.at_mm[place]))
    for width, rays, ball, at in sorted(told, key=lambda gap: gap[0])[:1]:
        if under(width, rule.value):
            yield Finding(
                code="gap-narrow",
                severity=Severity.WARN,
                **facts.seen(at),
                says=f"The gap or hole is {told_width(width, rays_mm=rays, ball_mm=ball)}. Resin or wax closes it, and the thin "
                "skin of mould in it breaks: it is likely to be cast shut.",
                do=f"Open it to {{l:{rule.value:g}}}, or close it in the drawing and saw or drill it in the metal.",
                measure=f"{width:.2f} mm",
                limit=f"{rule.value:g} mm",
                source=rule.source,
            )


def engraving_wide(facts: "FeatureFacts") -> Iterator[Finding]:
    """A groove so narrow that the tongue of mould in it breaks, or that it does not even come out of the pattern material."""
    grooves, limit = facts.engraved, facts.detail(facts.rule("groove_width_mm"))
    width = line_width(grooves)
    place = facts.worst(grooves, width)
    if place is not None and under(width[place], limit.value):
        rays, ball = float(min(grooves.mouth_mm[place], grooves.long_mm[place])), float(by_ball(grooves)[place])
        yield Finding(
            code="engraving-narrow",
            severity=Severity.WARN,
            **facts.seen(grooves.at_mm[place]),
            says=f"The groove there is {told_width(float(width[place]), rays_mm=rays, ball_mm=ball)} and "
            f"{{l:{grooves.depth_mm[place]:.2f}}} deep. So thin a tongue of mould breaks, or the pattern closes: parts of the line "
            "will be missing.",
            do=f"Draw it {{l:{limit.value:g}}} wide or more, or cut it into the metal.",
            measure=f"{width[place]:.2f} mm",
            limit=f"{limit.value:g} mm",
            source=limit.source,
        )


WIDTH_CODES: Final[tuple[Code, ...]] = (
    Code(code="gap-narrow", severities=(Severity.WARN,), about="A gap or hole through the piece that is cast shut"),
    Code(code="engraving-narrow", severities=(Severity.WARN,), about="A groove whose tongue of mould breaks"),
)
WIDTH_CHECKS: Final[tuple[Callable[["FeatureFacts"], Iterator[Finding]], ...]] = (gaps_wide, engraving_wide)
