"""STEP files, through an add-on that cuts their curved faces into triangles; each body by name, in the unit that the file says."""

import re
from pathlib import Path
from typing import Final

from pourwell.errors import BadFileError
from pourwell.files.pattern_limits import DamagedError
from pourwell.files.pattern_scene import bodies_of
from pourwell.geometry.mesh import Mesh
from pourwell.steps.pattern.model import MM_PER_UNIT

MARK: Final = b"ISO-10303-21"
FARTHEST_MM: Final = 0.005
"""Triangles lie no farther from the curved face than this: a tenth of a print layer."""

TURN: Final = 0.1
"""Two triangles side by side lean against one another by no more than this [rad] on a curve: a bore has over sixty sides."""

LENGTH_UNIT: Final = re.compile(rb"=\s{0,9}\(([^;=]{0,400}?\bLENGTH_UNIT\b[^;=]{0,400}?)\)\s{0,9};")
SI: Final = re.compile(rb"SI_UNIT\s*\(\s*(\$|\.\w+\.)\s*,\s*\.METRE\.\s*\)")
OTHER: Final = re.compile(rb"CONVERSION_BASED_UNIT\s*\(\s*'([^']*)'")
SI_UNITS: Final = {b"$": "m", b".MILLI.": "mm", b".CENTI.": "cm", b".MICRO.": "um"}
OTHER_UNITS: Final = {b"INCH": "inch", b"FOOT": "foot"}
"""How the text of a file names its units (ISO 10303-41)."""

MISSING: Final = "Install it with: pip install 'pourwell[step]'. Or save the pattern as STL or 3MF in your drawing program."


def own_unit(data: bytes) -> str:
    """The unit of length that the file says: the only one, or mm where it says none or several, as a STEP reader takes it.

    An inch is said in metres, so the metre stands in such a file too.
    """
    units = [match.group(1) for match in LENGTH_UNIT.finditer(data)]
    other = {OTHER_UNITS.get(found.group(1).strip().upper(), "mm") for unit in units if (found := OTHER.search(unit))}
    metric = {SI_UNITS.get(found.group(1).upper(), "mm") for unit in units if (found := SI.search(unit))}
    said = other or metric
    return said.pop() if len(said) == 1 else "mm"


def read_step(path: Path, limit_count: int) -> tuple[list[tuple[str, Mesh]], str, tuple[str, ...], float]:
    """The bodies of a file in the unit that it says, that unit, what is odd, and by how much numbers step.

    Raises BadFileError, also without the add-on.
    """
    try:
        import cascadio
    except ImportError as err:
        raise BadFileError(f"{path.name} is a STEP file, which needs an add-on.", why="It is not here.", try_this=MISSING) from err
    data = path.read_bytes()
    unit = own_unit(data)
    try:
        packed = bytes(cascadio.load(data, file_type="step", tol_linear=FARTHEST_MM, tol_angular=TURN, use_parallel=False))
    except (RuntimeError, ValueError, OSError) as err:
        raise DamagedError(f"its faces make no sense ({str(err)[:80]})").of(path.name) from err
    if not packed:
        raise DamagedError("no body could be made out of its faces").of(path.name)
    try:
        bodies, remarks, step = bodies_of(packed, None, name=path.name, limit_count=limit_count, turn=False)
    except DamagedError as err:
        raise err.of(path.name) from err
    metre = MM_PER_UNIT["m"] / MM_PER_UNIT[unit]
    return [(name, mesh.scaled(metre)) for name, mesh in bodies], unit, remarks, metre * step
