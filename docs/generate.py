"""Write the pages that follow from the code: plan-format.md, findings.md, cli.md. A rule test holds that they are current.

python docs/generate.py
"""

import ast
import inspect
import re
import textwrap
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any, get_args, get_type_hints

from pourwell import findings
from pourwell.app import burning, burning_sizes, clashes
from pourwell.assembly import CHECKS
from pourwell.files.fields import ABOUT, COLOURED, DATA, HEADER
from pourwell.files.plan_json import JOB_SCHEMA, SCHEMA, SCHEMA_VERSION
from pourwell.plan import Leaned
from pourwell.steps.burnout import model as burnout
from pourwell.steps.day import model as day
from pourwell.steps.day import week_plan as week
from pourwell.steps.flask import model as flask
from pourwell.steps.freeze import model as freeze
from pourwell.steps.melt import model as melt
from pourwell.steps.pattern import model as pattern
from pourwell.steps.pattern import print_model as printing
from pourwell.steps.pour import model as pour
from pourwell.steps.tree import model as tree

DOCS = Path(__file__).parent

SECTIONS: tuple[tuple[str, str, tuple[type, ...]], ...] = (
    ("pieces[]", "One kind of piece. Absent in a plan by weight.", (pattern.Piece,)),
    ("tree", "The tree as it will be cast. Absent in a plan by weight.", (tree.Tree,)),
    ("weighed", "The tree known only by its weight; only in a plan by weight.", (tree.WeighedTree,)),
    ("flask", "The flask and the room in it.", (flask.Flask,)),
    ("investment", "What to weigh and mix.", (flask.Mix,)),
    ("charge", "What to weigh for the melt.", (melt.Charge,)),
    ("burnout", "The kiln programme, with `starts_at` and `ends_at`.", (burnout.Programme,)),
    ("burnout.segments[]", "The segments with their clock times.", (burnout.TimedSegment,)),
    (
        "burnout.inside",
        "What the programme does inside the flask: computed, with bands; each band has `low`, `likely`, `high`.",
        (burnout.Inside,),
    ),
    ("burnout.inside.curves", "Rows of equal length.", (burnout.Curves,)),
    ("burnout.verdicts[]", "A measure against its limit.", (burnout.Verdict,)),
    ("kiln_load", "Which runs share the kiln, and why its last hold is longer than the programme's own.", (day.KilnLoad,)),
    ("pour", "Temperatures and the pour itself, with `at`.", (melt.Temperatures, pour.Pour)),
    ("pour.transfer", "How the flask cools on its way from the kiln.", (pour.Transfer,)),
    ("pour.transfer.depths[]", "Temperatures at one depth.", (pour.Depth,)),
    (
        "freezing",
        "How the tree freezes, where it was computed; the fields are files beside the plan, see below.",
        (freeze.Freezing,),
    ),
    ("freezing.pieces[]", "When and where each piece is solid.", (freeze.PieceFreezing,)),
    ("freezing.clocks[]", "Each sprue against the section behind it.", (freeze.SprueClock,)),
    ("freezing.pools[]", "Liquid that loses its way to the button.", (freeze.Pool,)),
    ("freezing.changes[]", "What was tried, each by a run of its own.", (freeze.Change,)),
    ("quench", "When the flask goes into water, if it does.", (pour.Quench,)),
    ("timeline[]", "The day, in order of time.", (day.Entry,)),
    ("checklist[]", "The check list with its gates, in the order of the bench.", (day.CheckStep,)),
    ("findings[]", "What the user should know, stops first.", (findings.Finding,)),
    ("leaned_on[]", "Values of weak grade that the plan leaned on.", (Leaned,)),
    (
        "day",
        "Not of a plan: what `pourwell day` writes as `day.json` and says with `--json`, beside `schema` (`pourwell.day`) and "
        "`schema_version` (1).",
        (week.WeekPlan,),
    ),
    (
        "burnout by itself",
        "Not of a plan: what `pourwell burnout --json` says, beside `schema` (`pourwell.burnout`) and `schema_version`; "
        "`programme` as the section burnout above, `sizes[]` for each different flask.",
        (burning.Burnout, burning.Out, burning.Moment, burning_sizes.OfSize),
    ),
    (
        "calibrate",
        "Not of a plan: what `pourwell calibrate --json` says, beside `schema` (`pourwell.calibrate`) and `schema_version`: "
        "`values[]`, what was found, `calibrations[]`, what would be kept, as in the studio's file, `remarks[]` on lines of the "
        "log (`line`, `says`), `notes[]`, `doubtful`, why it should not be kept, empty if nothing speaks against it, `files[]`.",
        (),
    ),
    (
        "check",
        "Not of a plan: what `pourwell check --json` says, a list with an entry for each file, each beside `schema` "
        "(`pourwell.check`) and `schema_version`: `piece`, as in the section pieces above; `doubtful`, why its figures are not "
        "to be worked by, empty if nothing is against them; `findings[]`, as above.",
        (),
    ),
    (
        "fit",
        "Not of a plan: what `pourwell fit --json` says, beside `schema` (`pourwell.fit`) and `schema_version`: `way`, `scale` or "
        "`offset`; `scale_ratio`, by which all was scaled, or `offset_mm`, by which the bore was moved all round; `file`, the new "
        "pattern file, if one was asked for; `before` and `after`, the piece as in section pieces; `findings[]` of the new one.",
        (),
    ),
    (
        "mend",
        "Not of a plan: what `pourwell mend --json` says, beside `schema` (`pourwell.mend`) and `schema_version`: `file`, the "
        "original; `faults_before[]` and `faults_after[]`, each with `kind` (in words), `at_mm` (a place on it), `count`, "
        "`measure_mm` and `extent_mm` (how deep or long, how far it reaches); `changes`, how often each thing was done; "
        "`left_out[]`, bodies that are not cast; `volume_before_mm3`, `volume_mm3`, `volume_change_fraction`; `moved_mm`, the "
        "farthest that surface moved, `new_surface_mm`, the farthest that new surface lies from the old, both at points "
        "`sampled_every_mm`; `overlapping`, in words; `apart`, how many solids do not touch, and `apart_mm`, the distance between "
        "two of them; `asks`, whether it changes so much that the user is asked; `written`, the mended file, empty if none; "
        "`pictures[]`.",
        (),
    ),
    (
        "print",
        "Not of a plan: what `pourwell print --json` says as `print`, beside `schema`, `schema_version`, `findings[]`.",
        (printing.PrintPlan,),
    ),
)

HEAD = f"""# The plan as data

One `plan.json` a run is the contract between the core, the sheet and anybody's scripts. Keys carry their units: `powder_g`,
`flask_c`, `hold_min`; a key without one is a word, a count or a moment. Moments are ISO 8601 with their offset; durations are
elapsed time. A key whose value is not known is absent, never null; a section that was not computed is absent. Numbers hold seven
significant digits.

- `schema` is `{SCHEMA}`, `schema_version` is {SCHEMA_VERSION}; it rises when a key changes its meaning or goes away.
- `package_version` and `library_digest` say what computed it; `inputs` holds the request and the studio as they were given.
- `run`: `number`, `title`, `studio`, `made_at`, `stopped` (a finding stops this run), `time_zone`.
- `alloy`, `pattern_material`: id, name and the values that the plan stands on, each with `..._source` and `..._grade`.
- `unknown[]`: sentences; what cannot be known without a shape.

`job.json` lists the runs of a job (`schema` `{JOB_SCHEMA}`): `runs[]` with `number`, `folder`, `title`, `pour_at`, `flask`,
`charge_g`, `pieces_count`, `stopped`; and `files[]`, every file of the folder: `--replace` touches a folder only if it holds
nothing else. A single run lies in the output folder itself, several in `run-1`, `run-2` and so on.

This page is written by `docs/generate.py` from the code.
"""


FIELDS = f"""
## The fields of the freezing

`{HEADER}` tells the arrays of `{DATA}` one by one: name, type (little-endian), shape, offset and length in bytes, least and most.
q is the number of the metal's cells, k of the levels of solid fraction, s of the times of the cooling curves, p of their places
(`curve_names`: each body where it lies deepest in metal, and the mould at the wall). The local freezing time is `end_s` less
`begin_s`; the temperature of any cell on its way from liquidus to solidus follows from `passed_s` and the alloy's curve.
`{COLOURED}` is the tree as glTF, coloured by `end_s`, with the freezing times, cooling rate, gradient, Niyama number and pool at
each corner.
"""


def attribute_docs(cls: type) -> dict[str, str]:
    """The string under each field of a class, joined to one line."""
    body = ast.parse(textwrap.dedent(inspect.getsource(cls))).body[0].body  # type: ignore[attr-defined]
    out: dict[str, str] = {}
    for node, follows in zip(body, [*body[1:], None], strict=True):
        if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            told = isinstance(follows, ast.Expr) and isinstance(follows.value, ast.Constant)
            out[node.target.id] = " ".join(str(follows.value.value).split()) if told else ""
    return out


def inner(hint: Any) -> Iterator[type]:
    """The dataclasses inside a type hint."""
    if is_dataclass(hint) and isinstance(hint, type):
        yield hint
    for part in get_args(hint):
        yield from inner(part)


def kind(hint: Any) -> str:
    """A type hint in plain words."""
    text = str(hint) if get_args(hint) else getattr(hint, "__name__", str(hint))
    text = re.sub(r"\b[a-z_]+(?:\.[a-z_]+)*\.(\w+)", r"\1", text).replace(" | None", "").replace("datetime", "moment")
    return text.replace("|", "or")


def table(cls: type) -> Iterator[str]:
    """The fields of a dataclass as a table."""
    hints, docs = get_type_hints(cls), attribute_docs(cls)
    yield "| key | type | what |\n|---|---|---|"
    for field in fields(cls):
        yield f"| `{field.name}` | {kind(hints[field.name])} | {docs.get(field.name, '')} |"


def plan_format() -> str:
    """docs/plan-format.md."""
    out = [HEAD]
    shown = {cls for _, _, classes in SECTIONS for cls in classes} | {burnout.Segment}
    for name, about, classes in SECTIONS:
        out.append(f"\n## `{name}`\n\n{about}\n")
        queue = list(classes)
        while queue:
            cls = queue.pop(0)
            if cls not in classes:
                out.append(f"### {cls.__name__}\n\n{(cls.__doc__ or '').strip()}\n")
            out.append("\n".join(table(cls)) + "\n")
            for hint in get_type_hints(cls).values():
                fresh = [n for n in inner(hint) if n not in shown]
                shown.update(fresh)
                queue += fresh
    out += [FIELDS, "| array | shape | what |\n|---|---|---|"]
    shapes = attribute_docs(freeze.Fields)
    out += [f"| `{name}` | {re.search(r'[(][^)]*[)]', shapes[name])[0]} | {about} |" for name, about in ABOUT.items()]
    return "\n".join(out) + "\n"


def findings_page() -> str:
    """docs/findings.md."""
    out = [
        "# Findings\n\nA *stop*: a person could be hurt, the metal or the flask is surely lost, or the plan rests on a file that"
        "\nwe do not understand. A *warn*: outside published practice. A *note*: worth knowing. A plan with a stop is still written"
        "\nwhole, stamped on every page, and the command ends with 3.\n"
        "\nThis page is written by `docs/generate.py` from the code.\n",
    ]
    for step, checks in {**CHECKS, "desk": clashes}.items():
        out.append(f"## {step}\n\n| code | severity | when |\n|---|---|---|")
        out += [f"| `{c.code}` | {' or '.join(s.value for s in c.severities)} | {c.about} |" for c in checks.CODES]
        out.append("")
    return "\n".join(out)


def cli_page() -> str:
    """docs/cli.md."""
    from typer.testing import CliRunner

    from pourwell.cli.main import COMMANDS, app

    out = [
        "# Command line\n\nExit 0 fine, 1 a fault of ours, 2 a bad request, 3 a stop in a plan or a check, 130 interrupted, "
        "143 asked to end (SIGTERM). Every"
        "\ncommand that prints data takes `--json`. The studio's folder is named by `POURWELL_STUDIO`, else it is the user's"
        "\ndata folder.\n"
        "\nThe data of `check` (of each file), `mend`, `fit`, `print` and `size` are headed by `schema` (`pourwell.` and the"
        f"\nname of the command) and `schema_version`, now {SCHEMA_VERSION}: it counts up when a key is renamed, taken away"
        "\nor means something else.\n"
        "\nThis page is written by `docs/generate.py` from the code.\n",
    ]
    for name in COMMANDS:
        plain = {"COLUMNS": "110", "TERMINAL_WIDTH": "110", "TERM": "dumb", "NO_COLOR": "1"}
        text = CliRunner().invoke(app, [name, "--help"], env=plain, prog_name="pourwell").output
        lines = (line.rstrip() for line in re.sub(r"\x1b\[[0-9;]*m", "", text).strip("\n").splitlines())
        out.append(f"## pourwell {name}\n\n```text\n" + "\n".join(lines) + "\n```\n")
    return "\n".join(out)


PAGES = {"plan-format.md": plan_format, "findings.md": findings_page, "cli.md": cli_page}

if __name__ == "__main__":
    for name, make in PAGES.items():
        (DOCS / name).write_text(make(), encoding="utf-8")
