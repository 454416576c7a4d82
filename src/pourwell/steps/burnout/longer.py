"""A programme with a longer last hold: for flasks that are poured in turn, or for a pour that waits for somebody's hours."""

from dataclasses import replace

from pourwell.materials.library import Library
from pourwell.materials.studio import Kiln
from pourwell.steps.burnout.energy import HOLDING_AT_C
from pourwell.steps.burnout.model import Programme
from pourwell.units import h_from_min


def held_longer(programme: Programme, minutes: int, *, kiln: Kiln, library: Library) -> Programme:
    """The same programme with its last hold longer by so many minutes, and the current that this takes."""
    last = programme.segments[-1]
    draw = library.rules["kiln_draw_ratio"]
    share = (last.target_c - programme.start_c) / (HOLDING_AT_C - programme.start_c)  # loss goes with the distance from the room
    held_kwh = kiln.holding_kw * share * h_from_min(minutes)
    return replace(
        programme,
        segments=(*programme.segments[:-1], replace(last, hold_min=last.hold_min + minutes)),
        total_min=programme.total_min + minutes,
        energy_kwh=programme.energy_kwh + held_kwh * draw.value,
        energy_low_kwh=programme.energy_low_kwh + held_kwh * (draw.low or draw.value),
        energy_high_kwh=programme.energy_high_kwh + held_kwh * (draw.high or draw.value),
    )
