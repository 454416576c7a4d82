"""How long a print takes, from the printer's own figures."""

from math import ceil
from typing import Final

from pourwell.materials.studio import Printer
from pourwell.steps.pattern.print_model import PrintTime
from pourwell.units import min_from_s

SLACK: Final = 1e-3
"""A height within this share of a layer of a whole number of them is one: own choice, for files hold numbers in single precision,
which rounds those of 100 mm by 4e-6 mm."""


def print_time(height_mm: float, printer: Printer) -> PrintTime:
    """The time for a piece so high on its supports: every layer takes its light and its lift, the first ones more light.

    Parameters
    ----------
    height_mm : of the piece as it stands, without supports [mm]
    """
    count = ceil((height_mm + printer.stand_mm) / printer.layer_mm - SLACK)
    bottom = min(printer.bottom_layers_count, count)
    seconds = count * (printer.light_s + printer.lift_s) + bottom * (printer.bottom_light_s - printer.light_s)
    return PrintTime(layer_mm=printer.layer_mm, layers_count=count, bottom_layers_count=bottom, print_min=min_from_s(seconds))
