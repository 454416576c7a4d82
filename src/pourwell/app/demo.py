"""The built-in scenario: Quillmere Studio, an invented workshop, casts a small commission of invented pieces in silver."""

from collections.abc import Callable
from datetime import datetime, time, timedelta
from pathlib import Path

from pourwell.app.planning import SILENT, Written, plan_job, write
from pourwell.app.shapes import build_shape, mesh_bytes
from pourwell.app.shop import Shop
from pourwell.errors import OutputError
from pourwell.files.folder import check_folder
from pourwell.files.job_toml import read_job
from pourwell.materials.library import load_library
from pourwell.materials.studio import load_studio
from pourwell.steps.day.clock import at, local

POUR_HOUR = time(10, 0)
POUR_AFTER = timedelta(days=2)

STUDIO = """\
# Invented, for the demo: write your own from docs/studio.md.
name = "Quillmere Studio"
work_from = 08:00:00
work_to = 19:00:00
altitude_m = 40
flasks = ["64x64", "76x76", "76x100", "89x102"]

[casting]
way = "vacuum"
vacuum_kpa = 88

[melting]
way = "torch"
crucible_cm3 = 30
thermometer = false

[investing_vacuum]
bowl = true
flask = true

[kiln]
segments_count = 8
fall_c_per_h = 110
error_k = 5
holding_kw = 0.9

[[bases]]
fits_mm = 64
depth_mm = 7
dome_diameter_mm = 25
dome_height_mm = 8
socket_mm = 8
weight_g = 61

[[bases]]
depth_mm = 8
dome_diameter_mm = 28
dome_height_mm = 9
socket_mm = 8
weight_g = 84
"""

PATTERNS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("heddle-band-54.stl", "plain-band", ("size=ISO 54", "width=4", "thickness=1.8")),
    ("larch-band-60.stl", "comfort-band", ("size=ISO 60",)),
    ("oriel-signet-58.3mf", "signet", ("size=ISO 58",)),
    ("plover-pendant.stl", "pendant", ()),
)
"""File, shape, dimensions."""

JOB = """\
# Invented, for the demo. Run it again with: pourwell plan job.toml --out another-folder
title = "Bands, signet, pendant"
run_number = 47
alloy = "sterling-925"
pattern = "resin"
investment = "gypsum-resin"
returns_fraction = 0.4

[[pieces]]
file = "patterns/heddle-band-54.stl"
name = "Heddle band"
count = 2
size = "ISO 54"

[[pieces]]
file = "patterns/larch-band-60.stl"
name = "Larch band"
count = 2

[[pieces]]
file = "patterns/oriel-signet-58.3mf"
name = "Oriel signet"

[[pieces]]
file = "patterns/plover-pendant.stl"
name = "Plover pendant"
"""


def demo_files() -> dict[str, bytes]:
    """The scenario as the files that a user would have."""
    files = {"studio/studio.toml": STUDIO.encode(), "job.toml": JOB.encode()}
    for name, shape, dimensions in PATTERNS:
        files[f"patterns/{name}"] = mesh_bytes(build_shape(shape, dimensions), Path(name).suffix)
    return files


def run_demo(out: Path, *, now: datetime, tell: Callable[[str], None] = SILENT) -> Written:
    """Make the scenario's files, plan it from them as a user would, and write plan and files into one folder.

    The pour is at 10:00 the day after tomorrow. An older demo in the folder is replaced.
    Raises OutputError if the folder holds something else, or cannot be written.
    """
    import tempfile

    files = demo_files()
    if out.is_dir() and any(out.iterdir()) and not all((out / name).is_file() for name in files):
        raise OutputError(
            f"The folder {out} holds something other than a demo.",
            why="The demo replaces only an older demo.",
            try_this="Name another folder with --out.",
        )
    check_folder(out, replace=True)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for path, content in files.items():
            (folder / path).parent.mkdir(parents=True, exist_ok=True)
            (folder / path).write_bytes(content)
        studio = load_studio(folder / "studio")
        shop = Shop(folder=folder / "studio", studio=studio, library=load_library(folder / "studio"))
        request = read_job(folder / "job.toml", zone=studio.zone)
        pour = at((local(now, studio.zone) + POUR_AFTER).date(), POUR_HOUR, zone=studio.zone)
        plans = plan_job(request.model_copy(update={"pour_at": pour, "freeze": "draft"}), shop=shop, now=now, tell=tell)
    return write(plans, out=out, replace=True, beside=files, tell=tell)
