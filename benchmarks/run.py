"""Time whole commands against budgets.toml: `make bench`, or `python benchmarks/run.py [NAME ...] [--write]`.

Every benchmark runs the installed program as its own process, on two cores, and counts from start to exit; those of the desk say
themselves what they measured. The exit code is 1 if one goes over its budget or fails. `--write` keeps the table in
benchmarks/results.md.
"""

import argparse
import os
import platform
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent))

from benchmarks.pieces import paved, ring, torn, write_stl  # noqa: E402

CORES = 2
POURWELL = [shutil.which("pourwell", path=str(Path(sys.executable).parent)) or "pourwell"]
MB = 2**20
MEASURED = re.compile(r"measured ([\d.]+) s, ([\d.]+) MB\s*\Z")
"""The last line of a benchmark that says itself what it measured."""


@dataclass(frozen=True, kw_only=True)
class Result:
    """What one benchmark took."""

    name: str
    about: str
    seconds: tuple[float, ...]
    peak_mb: float
    over_s: float
    """Taken off the median before it is held against the budget."""
    median_limit_s: float | None
    peak_limit_mb: float | None

    @property
    def median_s(self) -> float:
        """Median of the runs, less what it is measured over."""
        return statistics.median(self.seconds) - self.over_s

    @property
    def kept(self) -> bool:
        """Whether both budgets are kept; a benchmark without one keeps it."""
        slow = self.median_limit_s is not None and self.median_s > self.median_limit_s
        fat = self.peak_limit_mb is not None and self.peak_mb > self.peak_limit_mb
        return not (slow or fat)


def empty_typer(folder: Path) -> list[str]:
    """The program that does nothing."""
    return [sys.executable, str(HERE / "empty.py"), "--help"]


def bare_help(folder: Path) -> list[str]:
    """The first thing that anyone types."""
    return [*POURWELL, "--help"]


def mix(folder: Path) -> list[str]:
    """Powder and water for a common flask."""
    return [*POURWELL, "mix", "76x100"]


def burnout(folder: Path) -> list[str]:
    """The safest programme of a common flask, at every end of its inputs."""
    return [*POURWELL, "burnout", "76x100:540", "--ready", "2030-05-17 10:00"]


def flask_loaded(folder: Path) -> list[str]:
    """What stands before the runs of `flask-12h`."""
    return [sys.executable, str(HERE / "one_flask.py"), "0"]


def flask_12h(folder: Path) -> list[str]:
    """Ten runs of a common flask through twelve hours."""
    return [sys.executable, str(HERE / "one_flask.py"), "10"]


def check_100k(folder: Path) -> list[str]:
    """One ring of 100,000 triangles."""
    fine = ring(bore_mm=17.3, width_mm=4.0, wall_mm=2.0, around=250, across=200)
    return [*POURWELL, "check", str(write_stl(folder / "fine.stl", fine))]


def print_20k(folder: Path) -> list[str]:
    """How one usual ring of 20,000 triangles is printed."""
    usual = ring(bore_mm=17.3, width_mm=4.0, wall_mm=2.0, around=125, across=80)
    return [*POURWELL, "print", str(write_stl(folder / "usual.stl", usual))]


def print_100k(folder: Path) -> list[str]:
    """How one ring of 100,000 triangles is printed."""
    fine = ring(bore_mm=17.3, width_mm=4.0, wall_mm=2.0, around=250, across=200)
    return [*POURWELL, "print", str(write_stl(folder / "fine.stl", fine))]


def check_100k_pictures(folder: Path) -> list[str]:
    """The same ring with its pictures."""
    return [*check_100k(folder), "--pictures", str(folder / "pictures"), "--replace"]


def check_20k_pictures(folder: Path) -> list[str]:
    """A ring as drawing programs export them, with its pictures."""
    usual = ring(bore_mm=17.3, width_mm=4.0, wall_mm=2.0, around=125, across=80)
    return [*POURWELL, "check", str(write_stl(folder / "usual.stl", usual)), "--pictures", str(folder / "pictures"), "--replace"]


def check_2m_pictures(folder: Path) -> list[str]:
    """A ring of two million triangles, with its pictures."""
    most = ring(bore_mm=17.3, width_mm=4.0, wall_mm=2.0, around=1250, across=800)
    return [*POURWELL, "check", str(write_stl(folder / "most.stl", most)), "--pictures", str(folder / "pictures"), "--replace"]


def check_pave(folder: Path) -> list[str]:
    """A ring of 20,000 triangles with 300 beads, each a body of its own."""
    return [*POURWELL, "check", str(write_stl(folder / "pave.stl", paved(300)))]


def mend_100k(folder: Path) -> list[str]:
    """A ring of 100,000 triangles, of which 60 are lost and 40 wound the wrong way."""
    fine = torn(ring(bore_mm=17.3, width_mm=4.0, wall_mm=2.0, around=250, across=200), lost=60, turned=40)
    out = folder / "mended.stl"
    return [*POURWELL, "mend", str(write_stl(folder / "torn.stl", fine)), "--out", str(out), "--replace", "--yes"]


def six_rings(folder: Path) -> list[str]:
    """Six different rings of 20,000 triangles."""
    sizes = [{"bore_mm": 16.5 + 0.4 * n, "width_mm": 3.5, "wall_mm": 1.8, "around": 125, "across": 80} for n in range(6)]
    return [str(write_stl(folder / f"ring-{n}.stl", ring(**size))) for n, size in enumerate(sizes)]


def plan_six_rings(folder: Path) -> list[str]:
    """Six rings on one tree; a new output folder each time."""
    out = tempfile.mkdtemp(dir=folder)
    return [*POURWELL, "plan", *six_rings(folder), "--alloy", "sterling-925", "--out", str(Path(out) / "plan"), "--no-freezing"]


def freeze_six_rings(folder: Path) -> list[str]:
    """How the same tree freezes."""
    return [*POURWELL, "freeze", *six_rings(folder), "--alloy", "sterling-925", "--json"]


def freeze_six_rings_fine(folder: Path) -> list[str]:
    """The same with half the cells' edge."""
    return [*freeze_six_rings(folder), "--fine"]


def day_six_runs(folder: Path) -> list[str]:
    """A week of six runs, three alloys, one kiln of three, to the proven best."""
    alloys = ("sterling-925", "gold-585-yellow", "bronze-silicon-873")
    runs = [
        f'[[runs]]\nalloy = "{alloys[k % 3]}"\nflask = "{("76x100", "64x64")[k % 2]}"\npieces_count = {4 + k}\n' for k in range(6)
    ]
    (folder / "week.toml").write_text('start_at = "Monday 8:00"\ndays_off = ["Sunday"]\n' + "".join(runs), encoding="utf-8")
    return [*POURWELL, "day", str(folder / "week.toml"), "--json"]


def desk(what: str) -> Callable[[Path], list[str]]:
    """One of the measures of `desk.py`."""
    return lambda _: [sys.executable, str(HERE / "desk.py"), what]


BENCHMARKS: dict[str, Callable[[Path], list[str]]] = {
    "empty-typer": empty_typer,
    "help": bare_help,
    "mix": mix,
    "burnout": burnout,
    "flask-loaded": flask_loaded,
    "flask-12h": flask_12h,
    "check-100k": check_100k,
    "print-20k": print_20k,
    "print-100k": print_100k,
    "check-20k-pictures": check_20k_pictures,
    "check-100k-pictures": check_100k_pictures,
    "check-2m-pictures": check_2m_pictures,
    "check-pave": check_pave,
    "mend-100k": mend_100k,
    "plan-six-rings": plan_six_rings,
    "freeze-six-rings": freeze_six_rings,
    "freeze-six-rings-fine": freeze_six_rings_fine,
    "day-six-runs": day_six_runs,
    "desk-start": desk("start"),
    "desk-frame": desk("frame"),
    "desk-redraw": desk("redraw"),
    "desk-drop": desk("drop"),
    "desk-reply": desk("reply"),
    "desk-library": desk("library"),
    "desk-memory": desk("memory"),
}


def timed(command: list[str]) -> tuple[float, float]:
    """Seconds from start to exit, and most memory at once [MB] (0 where the system does not say); or what it says itself.

    Raises RuntimeError with what the command said if it does not exit with 0.
    """
    with tempfile.TemporaryFile() as said:
        begun = time.perf_counter()
        ours = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}  # as a user has it
        child = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=said, stderr=subprocess.STDOUT, env=ours)
        if hasattr(os, "wait4"):
            _, status, usage = os.wait4(child.pid, 0)
            child.returncode = os.waitstatus_to_exitcode(status)
            peak_mb = usage.ru_maxrss / (MB if sys.platform == "darwin" else MB / 1024)
        else:
            child.wait()
            peak_mb = 0.0
        seconds = time.perf_counter() - begun
        if child.returncode:
            said.seek(0)
            raise RuntimeError(f"{' '.join(command)} exits with {child.returncode}: {said.read().decode(errors='replace')[-2000:]}")
        said.seek(0)
        own = MEASURED.search(said.read().decode(errors="replace"))
    return (float(own[1]), float(own[2])) if own else (seconds, peak_mb)


def measure(name: str, budget: dict) -> Result:
    """Run one benchmark as often as its budget says, after one run that nobody counts.

    What it is measured over runs in turn with it, so that both meet the same machine.
    """
    with tempfile.TemporaryDirectory() as folder:
        names = [name, budget["over"]] if "over" in budget else [name]
        rounds = [[timed(BENCHMARKS[n](Path(folder))) for n in names] for _ in range(budget["runs_count"] + 1)][1:]
    return Result(
        name=name,
        about=budget["about"],
        seconds=tuple(own[0] for own, *_ in rounds),
        peak_mb=max(own[1] for own, *_ in rounds),
        over_s=statistics.median(under[0][0] for _, *under in rounds) if "over" in budget else 0.0,
        median_limit_s=budget.get("median_s"),
        peak_limit_mb=budget.get("peak_mb"),
    )


def machine() -> str:
    """What the figures were taken on: processor, cores used, system, Python, and the libraries that count."""
    info = Path("/proc/cpuinfo")
    names = (
        [line.partition(":")[2].strip() for line in info.read_text().splitlines() if "model name" in line] if info.exists() else []
    )
    libraries = ", ".join(f"{name} {version(name)}" for name in ("numpy", "manifold3d", "trimesh", "typst"))
    return (
        f"{names[0] if names else platform.processor() or platform.machine()}, {CORES} cores, {platform.system()}, "
        f"Python {platform.python_version()}, {libraries}"
    )


def table(results: list[Result]) -> str:
    """The results as a table in Markdown."""
    lines = ["| benchmark | median | budget | peak | budget | kept |", "|---|---|---|---|---|---|"]
    for r in results:
        limits = [f"{r.median_limit_s:g} s" if r.median_limit_s else "", f"{r.peak_limit_mb:g} MB" if r.peak_limit_mb else ""]
        kept = "" if not any(limits) else "yes" if r.kept else "NO"
        lines.append(f"| {r.about} | {r.median_s:.2f} s | {limits[0]} | {r.peak_mb:.0f} MB | {limits[1]} | {kept} |")
    return "\n".join(lines)


def commit() -> str:
    """The commit that is checked out, or "unknown"."""
    git = ["git", "describe", "--always", "--dirty"]
    asked = subprocess.run(git, cwd=HERE, capture_output=True, text=True, check=False)
    return asked.stdout.strip() or "unknown"


def main() -> int:
    """Run what is asked for, or all; the exit code."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"one of {', '.join(BENCHMARKS)}; all if none is given")
    parser.add_argument("--write", action="store_true", help="keep the table in benchmarks/results.md")
    asked = parser.parse_args()
    budgets = tomllib.loads((HERE / "budgets.toml").read_text(encoding="utf-8"))
    unknown = [name for name in asked.names if name not in BENCHMARKS]
    if unknown:
        parser.error(f"no benchmark is called {', '.join(unknown)}; there are {', '.join(BENCHMARKS)}")
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, sorted(os.sched_getaffinity(0))[:CORES])
    done: dict[str, Result] = {}
    for name in asked.names or BENCHMARKS:
        print(f"{name} ...", file=sys.stderr, flush=True)
        try:
            done[name] = measure(name, budgets[name])
        except (RuntimeError, OSError) as err:
            print(f"{name} failed: {err}", file=sys.stderr)
            return 1
    said = f"{machine()}\n\n{table(list(done.values()))}\n"
    print(said)
    if asked.write:
        stamp = f"{datetime.now(UTC):%Y-%m-%d}, commit {commit()}"
        page = f"# Benchmarks\n\nMade by `make bench`, on {stamp}.\n\n{said}"
        (HERE / "results.md").write_text(page, encoding="utf-8")
    return 0 if all(result.kept for result in done.values()) else 1


if __name__ == "__main__":
    sys.exit(main())
