"""Run a 76 x 100 mm flask through twelve hours in the kiln so many times: python benchmarks/one_flask.py COUNT.

The grid is the one of all programmes. With `--fine` it says instead by how much the core's passing of 100 degC differs from a
grid three times as fine, and fails over 2 %.
"""

import sys
import time

from pourwell.materials.library import Library, load_library
from pourwell.materials.studio import Kiln, Studio
from pourwell.physics.burnout.march import Care
from pourwell.steps.burnout.inside import LIKELY, SLOW, Corners, ends_of, run, traits_of, windows
from pourwell.steps.burnout.legs import Case
from pourwell.steps.burnout.plan import case_of
from pourwell.steps.flask import plan as flasks

TWELVE_HOURS: Corners = ((0.0, 20.0), (52.0, 149.0), (172.0, 149.0), (261.0, 371.0), (350.0, 371.0), (441.0, 732.0),
                         (561.0, 732.0), (657.0, 540.0), (720.0, 540.0))  # fmt: skip
"""The wax cycle of a flask of this size, min and degC."""
CONVERGED = 0.02


def usual_case(library: Library) -> Case:
    """The flask with wax in the standard investment."""
    studio = Studio()
    row = flasks.parse_flask("76x100", studio, library)
    base, _ = flasks.base_for(row, studio, library)
    return case_of(
        library.investment("gypsum-standard"),
        pattern_material=library.pattern("wax-injection"),
        flask=flasks.room(row, base, studio=studio, library=library),
        flask_c=540.0,
        kiln=Kiln(),
        stones=False,
        library=library,
    )


def runs(count: int, case: Case) -> float:
    """Seconds that so many runs take, each of another level by a hundredth of a degree."""
    end, begun = ends_of(case)[LIKELY], time.perf_counter()
    for number in range(count):
        run(end, tuple((at, level + number / 100) for at, level in TWELVE_HOURS))
    return time.perf_counter() - begun


def misses(case: Case) -> dict[str, float]:
    """By what share the moment differs from that on a fine grid, as is likely and at the slow end."""
    out = {}
    for name, which in {"likely": LIKELY, "slow": SLOW}.items():
        end, look = ends_of(case)[which], windows(case)
        fine = traits_of(run(end, TWELVE_HOURS, care=Care(rings=40, layers=48, accuracy=1.0)), look).released
        out[name] = abs(traits_of(run(end, TWELVE_HOURS), look).released / fine - 1)
    return out


def main() -> int:
    """Print what was asked; the exit code."""
    case = usual_case(load_library())
    if sys.argv[1] == "--fine":
        found = misses(case)
        print("; ".join(f"{name} {miss:.2%}" for name, miss in found.items()))
        return int(max(found.values()) > CONVERGED)
    print(f"{runs(int(sys.argv[1]), case):.3f} s")
    return 0


if __name__ == "__main__":
    sys.exit(main())
