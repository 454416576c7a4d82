"""Words that the desk and its work share. Nothing heavy is loaded here: the first page waits for none of it."""

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Final

TIMES, MINUS, DASH = "\u00d7", "\u2212", "\u2014"
"""Signs as they are printed: between two sides, before a fall, and instead of a figure that is not to be worked by."""

VIEW, HEAD, PICTURE, SHEET = "view.bin", "view.json", "picture.png", "run-sheet.pdf"
FREEZING_VIEW, FREEZING_HEAD = "freezing-view.bin", "freezing-view.json"
"""Files of results that pages show."""
BEFORE, AFTER, MADE = "before.bin", "after.bin", "made.stl"
STILL_BEFORE, STILL_AFTER = "before.png", "after.png"
"""Files of a pattern that is not kept yet: solids for the viewer, pictures where it cannot draw, and the pattern."""
DAYS_SHEET, DAYS_CALENDAR = "day.pdf", "day.ics"
DAYS_FILES: Final = (DAYS_SHEET, DAYS_CALENDAR)
"""Files of the days ahead that are loaded down."""
NOT_IN_NAMES: Final = re.compile(r"[\x00-\x1f\x7f/\\:*?\"<>|]+")
LONGEST_NAME: Final = 100
LONGEST_ENDING: Final = 8
WORK: Final = "pourwell.app.desk_work"
"""Where the work is; named, for only its own process loads it."""
DRAFTS: Final = "pourwell.app.desk_drafts_work"
"""Where that of patterns that are not kept yet is."""
DAYS: Final = "pourwell.app.desk_days_work"
"""Where that of the days ahead is."""
PRINTS: Final = "pourwell.app.print_view"
"""Where that of how a pattern is printed is."""
MEASURING: Final = "pourwell.app.measuring_work"
"""Where that of logs and weighings is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenPattern:
    """A kept pattern as work takes it: where its content lies, and what it is called."""

    path: Path
    file: str
    name: str
    units: str
    count: int = 1
    sprue_at_mm: tuple[float, float, float] | None = None
    """The user's own place for its sprue; None: by shape."""
    size: str | None = None
    """The finished ring size that is wanted; None: as it is."""
    leave_out: tuple[str, ...] = ()
    """Bodies that are not cast, besides those that their names tell."""


def frozen_names(piece_id: str) -> tuple[str, str]:
    """The files of a run's result in which a piece lies as it freezes: numbers for the viewer, and their head."""
    return f"frozen-{piece_id}.bin", f"frozen-{piece_id}.json"


def way_still(number: int) -> str:
    """The picture of a way to stand in the printer."""
    return f"way-{number}.png"


def safe_name(file: str, *, without: str = "pattern") -> str:
    """A file's name as it may stand in a folder of ours: no path, no control character, not too long; its ending kept.

    without : how one is called that has no name
    """
    stem, dot, ending = NOT_IN_NAMES.sub("_", file).rpartition(".")
    if not dot:
        stem, ending = ending, ""
    kept = stem.strip("._ ")[: LONGEST_NAME - LONGEST_ENDING - 1]
    return f"{kept or without}{dot}{ending[:LONGEST_ENDING]}"


def called(file: str) -> str:
    """What a pattern is called at first: its file's name without ending, in words."""
    words = Path(safe_name(file)).stem.replace("_", " ").replace("-", " ").split()
    return " ".join(words).capitalize() if words else "Pattern"


PHRASES: Final = (
    ("Leave --pour-at out", "Leave day and hour of the pour empty"),
    ("leave --pour-at out", "leave day and hour of the pour empty"),
    ("or leave --start out", "or leave “Kiln on” open"),
    (
        "Give degrees Celsius; hottest_c in studio.toml says what the kiln reaches.",
        "Enter less; how hot your kiln gets stands among the equipment.",
    ),
    ("name it under leave_out in a job file", "untick it under Bodies, on its own page"),
    ("or leave out those that are not cast, under leave_out in a job file", "or untick under Bodies those that are not cast"),
    ("leave it out no longer", "tick it under Bodies"),
    ("name it so in the drawing, and it is not cast", "untick it under Bodies, and it is not cast"),
    ("Name yours with --flask", "Choose yours"),
    ("name it with --flask", "choose it"),
    ("or list it in studio.toml", "or list it among your flasks"),
    ("list it in studio.toml with its wall", "list it among your flasks with its wall"),
    ("To forbid it, write overnight_firing = false in studio.toml.", "To forbid it, say so in the settings."),
    ("our studio.toml forbids firing overnight", "our settings forbid firing overnight"),
    ("change the hours in studio.toml", "change your hours in the settings"),
    ("Write studio.toml once (docs/studio.md), and", "Say once what you have, under Materials and in the Settings, and"),
    ("write that into studio.toml", "enter it among the equipment"),
    ("write its error into studio.toml", "enter its error among the equipment"),
    ("set hottest_c in studio.toml right", "set right how hot it gets, among the equipment"),
    (
        "write delayed_start = true under [kiln] in studio.toml",
        "say among the equipment that it begins by itself",
    ),
    ("mend the kiln's width_mm, depth_mm and height_mm in studio.toml", "mend width, depth and height of the kiln's room"),
    ("write flasks_count of the kiln into studio.toml", "enter among the equipment how many it takes"),
    ("mend flasks_count of the kiln in studio.toml", "mend among the equipment how many it takes"),
    ("Your studio.toml does not say how many", "Your equipment does not say how many"),
    ("into studio.toml or into the week's file (docs/day.md)", "among the equipment, in the settings, or in the form of the days"),
    ("figures in studio.toml", "figures among the equipment"),
    (
        "Check the unit of the file (--units), or take thicker layers.",
        "Set its unit right on its own page, or take thicker layers.",
    ),
    (
        "See what `pourwell check` says of it, mend it and look again",
        "See on its own page what was found, mend it there and look again",
    ),
    (
        "write price_per_kg or price_per_l into your row of the resin, patterns/*.toml",
        "enter its price in a row of your own of this resin",
    ),
    ("the first of your studio.toml", "the first among your equipment"),
    ("your studio.toml says", "your equipment says"),
    ("studio.toml says", "your equipment says"),
    ("and give a place of your own with sprue_at_mm", "and set a place of your own under Sprue points"),
    ("with --units; `pourwell check` names those that fit", "on the page of the pattern"),
    ("with --units: ", "on the page of the pattern: "),
    (
        "Give --ready with an hour at which you work; with --start too, the time between goes into drying and carbon.",
        "Choose another hour.",
    ),
    ("(--units)", "(on the page of the pattern)"),
    ("with --pattern", "as pattern material"),
    ("Say --stones (stones = true in a job)", "Tick “Stones are in place”"),
    ("Scale it (leave --offset away)", "Scale the whole piece"),
    ("where stones are set use --offset or bend", "where stones are set move the bore alone, or bend"),
    ("See `pourwell check`, and set that right first.", "Set right first what stops it."),
    ("`pourwell shape list` names them all.", "Choose one of the list."),
    ("as width=4", "as 4.5"),
    ("say --base if the base stood on it too", "take the base off if it stood on it too"),
    (", and say --wax", ""),
    ("add --fine, or give --edge-mm", "the command line does that"),
    ("--fine, or --edge-mm", "the command line does that"),
    ("with --edge-mm", "on the command line"),
    ("`pourwell plan --help` and docs/job-file.md say what may stand there.", ""),
    ("`pourwell materials` lists them all.", "Choose one of the list."),
    ("Say --unit F, or C if it is true.", "Choose °F as the unit of the readings, or °C if it is true."),
    ("say --unit F.", "choose °F as the unit of the readings."),
    ("Say --unit C or --unit F.", "Choose the unit of the readings."),
    ("say --until-h.", "read it only so far."),
    ("Give --until-h in hours", "Enter hours"),
    ("Say --time s, --time min or --time h.", "Choose what the times count."),
    ("Name it, as --column kiln=2.", "Choose which column is the kiln's."),
    ("Name one, as --column ", "Choose one, as "),
    ("; such as --column core=3", ""),
    ("Say --flask 76x100.", "Choose it, or enter its size."),
    ("Say --resolution-g 1, or what yours shows.", "Enter 1 g, or what yours shows."),
)
"""Words of the command line, and what a page says instead."""


MEND: Final = re.compile(r"(?P<stop>^|\. )?`pourwell mend [^`]*`")
"""The command that mends a file; on the page of a pattern a button does it."""
STAND: Final = re.compile(r"`pourwell print [^`]*`")
"""The command that tells how a file stands in the printer; on the desk it is a page."""
WAY: Final = re.compile(r" \(--direction( -?[\d.]+,-?[\d.]+,-?[\d.]+\)|(?= |$))")
"""A way to stand as the command line takes it; on a page it is picked."""
PLACE: Final = re.compile(r",? at \(-?[\d.]+, -?[\d.]+, -?[\d.]+\)(?: mm in its file)?")
"""A place in figures."""
JOB_KEY: Final = re.compile(r" \([a-z]+_at_mm \([^)]*\)\)")
"""A place as a job file has it; on a page the place is shown."""


OWN_PLACE: Final = re.compile(r"Leave sprue_at_mm out, or use \([^)]*\): ")
"""What a plan says of a place of the user's own that is bad; on a page there is a button."""


def for_desk(sentence: str) -> str:
    """A sentence without words of the command line."""
    for there, here in PHRASES:
        sentence = sentence.replace(there, here)
    sentence = MEND.sub(
        lambda found: f"{found['stop']}Mending it here" if found["stop"] is not None else "mending it here", sentence
    )
    sentence = WAY.sub("", STAND.sub("how it is printed", sentence))
    sentence = OWN_PLACE.sub("Go back to the proposed place: ", sentence)
    return PLACE.sub("", JOB_KEY.sub("", sentence)).strip()
