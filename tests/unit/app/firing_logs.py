"""An invented firing of a 50x60 flask with known factors, written as a logger writes it."""

from functools import cache

import numpy as np

from pourwell.app.calibrating_case import default_of
from pourwell.materials.library import load_library
from pourwell.materials.studio import load_studio
from pourwell.physics.burnout.fit import Factors
from pourwell.physics.burnout.march import Care, Programme, burn
from pourwell.physics.burnout.report import at_radius
from pourwell.steps.flask.plan import parse_flask
from pourwell.units import c_from_k, k_from_c

TRUTH = Factors(conductivity=0.85, film=1.15, water=0.85)
HOURS = 9
CORNERS = np.array([0, 30, 90, 150, 210, 300, 360]) * 60.0
LEVELS = (20, 150, 150, 370, 370, 700, 700)
TAU_S = 4.5 * 3600


def kiln_k(t):
    """The kiln: climbs and holds, then left to fall to 500 with its door shut, as Newton says."""
    level = np.interp(t, CORNERS, [k_from_c(c) for c in LEVELS])
    fall = k_from_c(20) + 680 * np.exp(-np.clip(t - CORNERS[-1], 0, None) / TAU_S)
    return np.where(t > CORNERS[-1], np.maximum(fall, k_from_c(500)), level)


@cache
def columns():
    """Times [s] and readings [degC] of kiln, core and half radius, a row every two minutes."""
    library = load_library()
    case = default_of(parse_flask("50x60", load_studio(None), library), library.investment("gypsum-resin"), library)
    mould, place = TRUTH.on(case.mould, case.place)
    fine = np.arange(0.0, HOURS * 3600 + 1, 300.0)
    kiln = Programme(times=fine, temperatures=kiln_k(fine))
    course = burn(case.flask, mould, kiln, place=place, start=k_from_c(20), care=Care(rings=21, layers=22, accuracy=1.5))
    t, rng = np.arange(0.0, HOURS * 3600 + 1, 120.0), np.random.default_rng(4)

    def read(k):
        return np.array([round(c_from_k(v), 1) for v in k + rng.normal(0, 0.5, t.size)])

    inside = (np.interp(t, course.time, at_radius(course, share)) for share in (0.04, 0.5))
    return t, read(kiln_k(t)), *(read(k) for k in inside)


def kiln_log():
    """A log of the kiln alone, by formula: no firing of a flask has to be computed for it."""
    t = np.arange(0.0, HOURS * 3600 + 1, 120.0)
    rng = np.random.default_rng(4)
    rows = [f"{s / 60:.0f},{c_from_k(k):.1f}" for s, k in zip(t, kiln_k(t) + rng.normal(0, 0.5, t.size), strict=True)]
    return "\n".join(["Time (min),Kiln °C", *rows]).encode()


def log_bytes(*names, header=None, turn=lambda c: c):
    """A log with some of the columns: kiln, core, half."""
    t, *readings = columns()
    wanted = [dict(zip(("kiln", "core", "half"), readings, strict=True))[name] for name in names]
    stamps = [f"{(int(s) // 3600 + 19) % 24:02d}:{int(s) // 60 % 60:02d}" for s in t]
    rows = [",".join([stamp, *(f"{turn(v):.1f}" for v in row)]) for stamp, *row in zip(stamps, *wanted, strict=True)]
    return "\n".join([header or "Time," + ",".join(f"{name} °C" for name in names), *rows]).encode()
