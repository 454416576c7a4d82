"""From the kiln's door to the pour: how the mould cools from its wall, so how long the way may take. The burnout's own solver."""

from functools import lru_cache
from typing import Final

import numpy as np

from pourwell.materials.library import Library
from pourwell.materials.model import Investment
from pourwell.materials.studio import Kiln
from pourwell.physics.burnout.march import Care, Programme, burn
from pourwell.physics.burnout.report import at_depth, at_radius, wall_at
from pourwell.physics.burnout.setting import Face, Flask, Place
from pourwell.physics.burnout.substance import Mould
from pourwell.steps.burnout.inside import HIGH, LOW, MIDDLE, ends_of, three
from pourwell.steps.burnout.legs import Case
from pourwell.steps.flask.model import Flask as FlaskOfTheRun
from pourwell.steps.pour.model import Depth, Transfer
from pourwell.units import c_from_k, k_from_c, m_from_mm

FINE: Final = Care(rings=36, layers=10, accuracy=1.0, first=0.2, longest=10.0)
"""Rings of a millimetre: the cold goes in by few. Own choice."""
LONG_S: Final = 300.0
"""How long the flask is followed: a way of five minutes is no transfer any more. Own choice."""
SHOWN_S: Final = (0, 30, 60, 120, 180, 300)
"""Seconds since the door at which temperatures are told. Own choice."""


def transfer(investment: Investment, *, flask: FlaskOfTheRun, flask_c: float, piece_depth_mm: float, library: Library) -> Transfer:
    """How a burnt-out flask cools in still air from an even temperature, and how long its way may take.

    `piece_depth_mm`: how far the pieces nearest to the wall are from it.
    """
    case = Case(investment=investment, flask=flask, flask_c=flask_c, kiln=Kiln(), library=library)
    rules, drop_k = library.rules, library.rule("transfer_drop_k")
    air, grey = three(rules["flask_air_w_per_m2_k"]), three(rules["flask_emissivity_fraction"])
    ends = ends_of(case)
    depths = (piece_depth_mm, 2 * piece_depth_mm)
    runs = []
    for conducts, reaches in ((MIDDLE, MIDDLE), (LOW, HIGH), (HIGH, HIGH)):
        end = ends[MIDDLE, MIDDLE, MIDDLE] if conducts == MIDDLE else ends[conducts, HIGH, HIGH]
        burnt = Mould(composition=end.mould.composition, water_share=0.0, dry=end.mould.dry)
        face = Face(convection=air[reaches], emissivity=grey[reaches])
        runs.append(_cooled(end.flask, burnt, face, flask_c=flask_c, room_c=library.rule("kiln_start_c"), depths_mm=depths))
    most_s = min(_lost_s(times, traces[1], drop_k) for times, traces in runs)
    shown = [[np.interp(SHOWN_S, times, trace) for trace in traces] for times, traces in runs]
    named = (None, *depths, flask.diameter_mm / 2)
    return Transfer(
        seconds_s=SHOWN_S,
        depths=tuple(
            Depth(
                depth_mm=depth,
                likely_c=tuple(round(float(c)) for c in shown[0][i]),
                low_c=tuple(round(min(float(one[i][j]) for one in shown)) for j in range(len(SHOWN_S))),
            )
            for i, depth in enumerate(named)
        ),
        piece_depth_mm=piece_depth_mm,
        drop_k=drop_k,
        most_s=int(most_s),
    )


Traces = tuple[tuple[float, ...], ...]


@lru_cache(maxsize=256)
def _cooled(
    flask: Flask, mould: Mould, face: Face, *, flask_c: float, room_c: float, depths_mm: tuple[float, ...]
) -> tuple[tuple[float, ...], Traces]:
    """Seconds since the door, and temperatures [degC] of wall, depths and core."""
    room = Programme(times=np.array([0.0, LONG_S]), temperatures=np.array([k_from_c(room_c)] * 2))
    place = Place(side=face, upper=face, lower=face)
    course = burn(flask, mould, room, place=place, start=k_from_c(flask_c), care=FINE)
    inside = [at_depth(course, min(m_from_mm(depth), flask.radius)) for depth in depths_mm]
    traces = (wall_at(course), *inside, at_radius(course, 0.0))
    return tuple(map(float, course.time)), tuple(tuple(c_from_k(float(k)) for k in trace) for trace in traces)


def _lost_s(times: tuple[float, ...], trace: tuple[float, ...], drop_k: float) -> float:
    """Seconds until a trace has lost so much; the whole time followed if it does not."""
    lost = np.array(trace[0]) - np.array(trace)
    over = np.flatnonzero(lost >= drop_k)
    if not over.size:
        return LONG_S
    i = int(over[0])
    return float(np.interp(drop_k, lost[i - 1 : i + 1], times[i - 1 : i + 1])) if i else 0.0
