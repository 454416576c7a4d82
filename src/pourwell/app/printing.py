"""How a pattern is printed in resin: which way it stands, time, resin, and what goes wrong."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from pydantic import ValidationError

from pourwell.app.checking import unit_of_files
from pourwell.app.print_asked import direction_of, hours, numbers
from pourwell.app.shop import Shop, open_shop
from pourwell.errors import BadRequestError
from pourwell.files.patterns import shown_name
from pourwell.files.worker import read_safely
from pourwell.findings import Finding, Severity
from pourwell.materials.studio import Printer
from pourwell.steps.pattern.model import Point
from pourwell.steps.pattern.plan import PatternSource
from pourwell.steps.pattern.print_model import PrintPlan, Steps, Way
from pourwell.steps.pattern.print_plan import plan_print
from pourwell.steps.pattern.stances import Subject

CEILING_MM2: Final = 1.0
"""A ceiling smaller than this is not worth a row: own choice, less than a support's head."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Printed:
    """How one file is printed."""

    plan: PrintPlan
    findings: tuple[Finding, ...]
    subject: Subject
    """The solid that was looked at, as its file lies."""

    @property
    def stopped(self) -> bool:
        """Can the figures not be trusted."""
        return any(f.severity is Severity.STOP for f in self.findings)

    @property
    def rows(self) -> list[tuple[str, str, str]]:
        """What a user needs first: name, figure, remark."""
        plan, resin, way = self.plan, self.plan.resin, self.plan.way
        rows = [
            ("in the printer", way.words, f"{plan.why} {plan.compared_count} ways compared" if plan.chosen == "best" else plan.why),
            ("turn", _turn(way), f"the file's ({numbers(way.direction)}) then points away from the plate"),
            (
                "time",
                hours(plan.time.print_min),
                f"{plan.time.layers_count:,} layers of {plan.time.layer_mm:g} mm, piece {way.height_mm:.1f} mm high; "
                "washing and curing not counted",
            ),
            (
                "resin",
                f"{resin.used_g:.2f} g",
                f"{resin.used_ml:.2f} ml: piece {resin.piece_g:.2f} g ({resin.piece_low_g:.2f} to {resin.piece_high_g:.2f} g) and "
                f"{resin.waste_fraction:.0%} for supports and vat ({resin.waste_grade}; {resin.waste_low_fraction:.0%} to "
                f"{resin.waste_high_fraction:.0%})",
            ),
            self._cost(),
        ]
        rows += [_stepped(steps) for steps in plan.steps if steps.area_mm2 > 0]
        under = f", most near {_place(plan.under_at_mm)}" if plan.under_at_mm else ""
        flatter = f"undersides flatter than {plan.under_deg:g}° to the level{under}"
        rows.append(("needs supports", f"{plan.under_mm2:.0f} mm²", flatter))
        if plan.ceiling_mm2 >= CEILING_MM2:
            at = f", near {_place(plan.ceiling_at_mm)}" if plan.ceiling_at_mm else ""
            remark = f"in one layer, {plan.ceiling_height_mm:.2f} mm up{at}"
            rows.append(("largest ceiling", f"{plan.ceiling_mm2:.1f} mm²", remark))
        return rows

    @property
    def other_rows(self) -> list[tuple[str, str, str]]:
        """Other ways to stand: words, time, what each costs."""
        return [(other.words, hours(other.print_min), _measures(other)) for other in self.plan.others]

    def _cost(self) -> tuple[str, str, str]:
        resin = self.plan.resin
        if resin.cost_money is None:
            return "cost", "not known", "write price_per_kg or price_per_l into your row of the resin, patterns/*.toml"
        unit = f" {resin.currency}" if resin.currency else ""
        return (
            "cost",
            f"{resin.cost_money:.2f}{unit}",
            f"{resin.cost_low_money:.2f} to {resin.cost_high_money:.2f} by waste; resin alone",
        )


def _turn(way: Way) -> str:
    return f"{round(way.turn_x_deg, 1) + 0.0:g}° about x, then {round(way.turn_y_deg, 1) + 0.0:g}° about y"


def _place(at: Point) -> str:
    return ", ".join(f"{name} {round(value, 1) + 0.0:g}" for name, value in zip("xyz", at, strict=True))


def _stepped(steps: Steps) -> tuple[str, str, str]:
    name = {"open": "steps on open faces", "bore": "steps in the bore", "recess": "steps out of reach"}[steps.reach]
    if steps.at_mm is None:
        return name, "none", f"over {steps.seen_mm:g} mm, on {steps.area_mm2:.0f} mm²"
    share = f"{steps.stepped_mm2 / steps.area_mm2:.0%}"
    proud = f"up to {steps.proud_mm:.3f} mm proud and {steps.wide_mm:.2f} mm wide"
    return name, share, f"of {steps.area_mm2:.0f} mm²; {proud}, most near {_place(steps.at_mm)}"


def _measures(way: Way) -> str:
    faults = [f"{way.islands_count} in mid-air"] if way.islands_count else []
    faults += [f"{way.cups_count} holding {way.held_mm3:.0f} mm³ of resin"] if way.cups_count else []
    faults += [f"{way.hidden_mm2:.0f} mm² on supports inside"] if way.hidden_mm2 >= CEILING_MM2 else []
    means = [f"steps {way.proud_mm:.3f} mm on average", f"supports on {way.under_fraction:.0%}", numbers(way.direction)]
    return "; ".join([*faults, *means])


def print_file(
    file: str,
    *,
    pattern: str,
    units: str | None,
    layer_mm: float | None,
    direction: str | None,
    leave_out: tuple[str, ...] = (),
    tell: Callable[[str], None],
    shop: Shop | None = None,
) -> Printed:
    """How a file is printed but for bodies that are left out, in the usual studio if no `shop` is given.

    Raises BadFileError, BadRequestError, UnknownNameError, BadDataError.
    """
    shop = shop or open_shop()
    material, towards = shop.library.pattern(pattern), direction_of(direction)
    printer, assumed = shop.studio.printer, shop.studio.printer_assumed
    if layer_mm is not None:
        printer, assumed = _with_layer(printer, layer_mm), tuple(name for name in assumed if name != "layer_mm")
    path = Path(file)
    tell(f"Reading {path.name}")
    read = read_safely(path, units=unit_of_files(units))
    source = PatternSource(
        name=shown_name(path.stem),
        file=shown_name(path.name),
        count=1,
        bodies=tuple((body.name, body.mesh) for body in read.bodies),
        units=read.units,
        units_from=read.units_from,
        own_units=read.own_units,
        remarks=read.remarks,
        step_mm=read.step_mm,
        leave_out=leave_out,
    )
    tell(f"Comparing ways to stand for {path.name}")
    plan, found, subject = plan_print(
        source, material=material, printer=printer, library=shop.library, assumed=assumed, direction=towards
    )
    return Printed(plan=plan, findings=found, subject=subject)


def _with_layer(printer: Printer, layer_mm: float) -> Printer:
    try:
        return Printer(**{**printer.model_dump(), "layer_mm": layer_mm})
    except ValidationError as err:
        raise BadRequestError(f"No printer makes layers of {layer_mm:g} mm.", try_this="Take one over 0 and up to 0.5 mm.") from err
