"""Printing a pattern: which way it stands, what it takes in resin and time, what shows, and what goes wrong on the way."""

from math import hypot
from typing import Final

import numpy as np

from pourwell.errors import BadRequestError
from pourwell.findings import Finding
from pourwell.geometry.ceiling import ceiling_place
from pourwell.geometry.layers import Layers
from pourwell.geometry.orient import footprint, looks_down, patches, proud
from pourwell.materials.library import Library
from pourwell.materials.model import PatternMaterial
from pourwell.materials.studio import Printer
from pourwell.steps.pattern.bodies import united
from pourwell.steps.pattern.model import Point
from pourwell.steps.pattern.plan import PatternSource
from pourwell.steps.pattern.print_checks import PrintFacts, print_findings
from pourwell.steps.pattern.print_model import Holds, MidAir, PrintPlan, Reach, Resin, Steps
from pourwell.steps.pattern.print_time import print_time
from pourwell.steps.pattern.ranges import ends
from pourwell.steps.pattern.stances import (
    MOST_TRIED,
    SAGS,
    Subject,
    best,
    holding,
    lasting,
    look_at,
    ranked,
    reasons,
    way,
    well_apart,
)
from pourwell.units import cm3_from_mm3, kg_from_g

MOST_LAYERS: Final = 20_000
"""A print of more layers than this is no jewellery but a slip of a unit: own choice, 1 m at 0.05 mm."""

LITRE_ML: Final = 1000.0
"""By definition."""

CAUTIONS: Final = (
    "Eyes: safety glasses wherever resin is poured, washed or cut from its supports; rinse at once and long, and see a doctor.",
    "The resin's own safety sheet and local rules come first.",
)
"""Common practice, no source; besides what the row of the pattern material says."""


def plan_print(
    source: PatternSource,
    *,
    material: PatternMaterial,
    printer: Printer,
    library: Library,
    assumed: tuple[str, ...] = (),
    direction: Point | None = None,
) -> tuple[PrintPlan, tuple[Finding, ...], Subject]:
    """How a pattern is printed, what is to be known about it, and the solid that was looked at.

    Parameters
    ----------
    printer : the studio's figures
    assumed : those of them that the studio does not say
    direction : away from the plate, in the file's own frame, of any length but zero [-]; None: the best of many

    Raises
    ------
    BadRequestError for a material that is not printed, a direction without length, layers without end, or nothing to print.
    """
    _sensible(source, material=material, printer=printer, direction=direction)
    subject = look_at(united(source.bodies, source.leave_out), library)
    mesh = subject.mesh
    stances = ranked(subject, printer, library, asked=direction)
    stance, cut = best(subject, stances, printer, library=library, tries=MOST_TRIED if direction is None else 1)
    under_deg = library.rule("print_under_deg")
    down = looks_down(mesh, stance.direction, flatter_than_deg=under_deg)
    under, hidden = patches(mesh, subject.mate, down), patches(mesh, subject.mate, down & subject.shut)
    sags = f" But {SAGS}." if stance.wire_sags else ""
    plan = PrintPlan(
        name=source.name,
        file=source.file,
        material=material.name,
        volume_mm3=mesh.volume_mm3,
        layers_mm3=cut.volume_mm3,
        resin=resin(mesh.volume_mm3, material=material, currency=printer.currency, library=library),
        time=print_time(cut.height_mm, printer),
        way=way(stance, subject, printer),
        chosen="best" if direction is None else "asked",
        why=f"{reasons(stance, stances, cut, library=library) if direction is None else 'As you asked.'}{sags}",
        others=tuple(way(other, subject, printer) for other in well_apart(stance, stances, subject)),
        compared_count=len(stances),
        steps=tuple(_steps(subject, reach, stance.direction, printer=printer, library=library) for reach in subject.reach),
        under_deg=under_deg,
        under_mm2=float(mesh.areas[down].sum()),
        under_at_mm=under[0].at_mm if under else None,
        hidden_mm2=stance.hidden_mm2,
        hidden_at_mm=hidden[0].at_mm if hidden else None,
        ceiling_mm2=cut.ceiling_mm2,
        ceiling_height_mm=cut.ceiling_height_mm,
        ceiling_at_mm=_ceiling_at(subject, stance.direction, cut),
        islands=_islands(cut, library),
        cups=_cups(cut, library),
        assumed=assumed,
        cautions=(*(caution.text for caution in material.cautions), *CAUTIONS),
    )
    return plan, print_findings(_facts(plan, subject, source, printer=printer, library=library)), subject


def _facts(plan: PrintPlan, subject: Subject, source: PatternSource, *, printer: Printer, library: Library) -> PrintFacts:
    return PrintFacts(
        plan=plan,
        unsound=tuple(name for name, _ in subject.solid.unsound),
        stand_in=subject.solid.stand_in,
        left_out=subject.solid.left_out,
        side_mm=max(subject.mesh.envelope_mm),
        units=source.units,
        units_sure=source.units_from == "user",
        footprint_mm=footprint(subject.mesh, plan.way.direction, width_mm=printer.width_mm, depth_mm=printer.depth_mm),
        printer=printer,
        library=library,
    )


def _sensible(source: PatternSource, *, material: PatternMaterial, printer: Printer, direction: Point | None) -> None:
    if material.family != "resin":
        raise BadRequestError(
            f"{material.name} is not printed in layers of resin.",
            try_this="Name a resin with --pattern, such as resin or resin-waxed.",
        )
    if direction is not None and not (np.isfinite(direction).all() and hypot(*direction) > 0):
        raise BadRequestError("This direction points nowhere.", try_this="Write one such as 0,0,1: away from the plate.")
    longest = max((max(mesh.envelope_mm) for _, mesh in source.bodies), default=0.0)
    if longest > MOST_LAYERS * printer.layer_mm:
        raise BadRequestError(
            f"{longest:g} mm in layers of {printer.layer_mm:g} mm would be more than {MOST_LAYERS:,} layers.",
            try_this="Check the unit of the file (--units), or take thicker layers.",
        )


def resin(volume_mm3: float, *, material: PatternMaterial, currency: str, library: Library) -> Resin:
    """What a piece of this volume takes out of the bottle, and what that costs if a price is known."""
    rule = library.rules["print_waste_fraction"]
    low, high = ends(rule)
    density = material.density_g_per_cm3
    least, most = density.ends
    volume_ml = cm3_from_mm3(volume_mm3)
    used_ml = volume_ml * (1 + rule.value)
    each_ml = None
    if material.price_per_kg is not None:
        each_ml = material.price_per_kg.value * kg_from_g(density.value)
    elif material.price_per_l is not None:
        each_ml = material.price_per_l.value / LITRE_ML
    return Resin(
        piece_g=volume_ml * density.value,
        piece_low_g=volume_ml * least,
        piece_high_g=volume_ml * most,
        piece_ml=volume_ml,
        waste_fraction=rule.value,
        waste_low_fraction=low,
        waste_high_fraction=high,
        waste_source=rule.source,
        waste_grade=rule.grade.value,
        used_g=used_ml * density.value,
        used_ml=used_ml,
        cost_money=None if each_ml is None else used_ml * each_ml,
        cost_low_money=None if each_ml is None else volume_ml * (1 + low) * each_ml,
        cost_high_money=None if each_ml is None else volume_ml * (1 + high) * each_ml,
        currency=currency,
    )


def _steps(subject: Subject, reach: Reach, direction: Point, *, printer: Printer, library: Library) -> Steps:
    """Steps on the faces of one reach: they stand a layer times the normal's rise proud and are a layer over the slope wide."""
    mesh, mine = subject.mesh, subject.reach[reach]
    rise = proud(mesh, direction)
    seen = library.rule("print_step_seen_mm")
    shown = mine & (rise * printer.layer_mm >= seen)
    found = patches(mesh, subject.mate, shown)
    most = float(rise[shown].max(initial=0.0))
    return Steps(
        reach=reach,
        area_mm2=float(mesh.areas[mine].sum()),
        stepped_mm2=float(mesh.areas[shown].sum()),
        proud_mm=most * printer.layer_mm,
        wide_mm=stair_width_mm(printer.layer_mm, most),
        at_mm=found[0].at_mm if found else None,
        seen_mm=seen,
    )


def stair_width_mm(layer_mm: float, rise: float) -> float:
    """How wide the steps of a face are: a layer over the tangent of its slope to the level.

    Parameters
    ----------
    rise : how far its normal points up or down, 0 to 1 [-]
    """
    return layer_mm * rise / float(np.sqrt(1 - rise * rise)) if rise < 1 else float("inf")


def _ceiling_at(subject: Subject, direction: Point, cut: Layers) -> Point | None:
    """A place on the largest ceiling; None where there is none."""
    if cut.ceiling_mm2 <= 0:
        return None
    return ceiling_place(subject.mesh, subject.mate, direction, height_mm=cut.ceiling_height_mm, layer_mm=cut.layer_mm)


def _islands(cut: Layers, library: Library) -> tuple[MidAir, ...]:
    return tuple(
        MidAir(
            at_mm=island.at_mm,
            height_mm=island.height_mm,
            first_mm2=island.first_mm2,
            largest_mm2=island.largest_mm2,
            layers_count=island.layers_count,
        )
        for island in (cut.islands[k] for k in lasting(cut, library))
    )


def _cups(cut: Layers, library: Library) -> tuple[Holds, ...]:
    return tuple(
        Holds(
            kind=cup.kind,
            at_mm=cup.at_mm,
            volume_mm3=cup.volume_mm3,
            low_mm=cup.low_mm,
            high_mm=cup.high_mm,
            mouth_mm2=cup.mouth_mm2,
        )
        for cup in (cut.cups[k] for k in holding(cut, library))
    )
