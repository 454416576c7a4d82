"""The words of the trade, the spelling, and what a kept file must not hold."""

import re

import pytest

from tests.rules.source import ROOT, kept_files, kept_lines, tell

HERE = "tests/rules/test_words.py"
TRADE = {
    r"\bcasting temp(erature)?s?\b": "say metal temperature or flask temperature: it may mean either, which is dangerous",
    r"\bin-?gates?\b|\bgate (diameter|gauge|width|length|section)\b": "say sprue: a gate here is a question of the check list",
    r"\btop (end )?of the tree\b|\btree'?s? top\b": "say tip or button end: the tree is turned over between investing and pour",
    r"\b(let|leave) (it|them|the (flask|mould|investment)) (to )?rest\b|\bresting time\b": "say set: let it stand until set",
    r"\brun[- ]?out time\b|\bcasting tree\b|\bsprue tree\b|\bwax tree\b": "say tree",
    r"\bcasting (ring|can)\b": "say flask",
    r"\bplaster mix\b": "say slurry",
}
"""Words that are not used here, and which are."""
SPELLING = {
    "color": "colour",
    "colors": "colours",
    "center": "centre",
    "mold": "mould",
    "molds": "moulds",
    "gray": "grey",
    "fiber": "fibre",
    "aluminum": "aluminium",
    "jewelry": "jewellery",
    "jeweler": "jeweller",
    "catalog": "catalogue",
    "caliper": "calliper",
    "vapor": "vapour",
}
"""Spellings that are not used in what people read, and ours."""
HOSTS = (
    ("pypi", "org"),
    ("pythonhosted", "org"),
    ("npmjs", "org"),
    ("npmjs", "com"),
    ("crates", "io"),
    ("conda", "io"),
    ("anaconda", "org"),
    ("debian", "org"),
    ("ubuntu", "com"),
)
"""Package registries, in two parts, so that this file names none."""
MACHINE = r"(?<![\w.~-])/(work|tmp|root|home|Users|opt|mnt)/"
UNFINISHED = r"\b(TO" + r"DO|FIX" + r"ME|X" + r"XX|HA" + r"CK)\b"


def found(pattern: str, *, flags: int = re.IGNORECASE, but: str = "", among: tuple[str, ...] = ()) -> list[str]:
    """The lines of kept files that hold a pattern, but not those that hold the second one."""
    return [
        f"{at}: {line.strip()[:120]}"
        for at, line in kept_lines()
        if not at.startswith(HERE)
        and (not among or at.rpartition(":")[0].endswith(among))
        and re.search(pattern, line, flags)
        and not (but and re.search(but, line, re.IGNORECASE))
    ]


@pytest.mark.parametrize("pattern", TRADE)
def test_only_words_of_the_trade_are_used(pattern):
    faults = found(pattern, but=r"\bnever\b|\bnot used\b|^title = ")
    assert not faults, tell(faults, TRADE[pattern].capitalize() + ".")


def test_what_people_read_is_spelt_the_british_way():
    pattern = r"\b(" + "|".join(SPELLING) + r")\b"
    faults = found(pattern, among=(".md", ".toml"), but=r"^\s*(title|author|place) = |`[^`]*\b(color|center)\b[^`]*`")
    faults = [f for f in faults if not f.startswith(("locks/", "pyproject.toml"))]
    assert not faults, tell(faults, ", ".join(f"{a}: {b}" for a, b in SPELLING.items()))


def test_no_kept_file_names_a_package_registry():
    faults = found("|".join(rf"\b{name}\.{end}\b" for name, end in HOSTS))
    assert not faults, tell(faults, "Take the host out; pip knows its index by itself.")


def test_no_kept_file_names_a_path_of_one_machine():
    faults = found(MACHINE, flags=0)
    assert not faults, tell(faults, "Take a relative path, an argument or tmp_path.")


def test_nothing_is_left_for_later():
    faults = found(UNFINISHED, flags=0)
    assert not faults, tell(faults, "Do it, or leave it out and say so in the manual.")


def test_the_rules_read_the_whole_house():
    names = {path.relative_to(ROOT).as_posix() for path in kept_files()}
    assert {"README.md", "start.py", "Makefile", "LICENSE", ".ci/run", "locks/run.txt", "src/pourwell/units.py"} <= names


@pytest.mark.parametrize(
    ("line", "caught"),
    [
        ("the casting temp" + "erature is 980", True),
        ("metal temperature 980", False),
        ("the gate diameter", True),
        ("a gate of the check list", False),
    ],
)
def test_the_rule_on_words_knows_them(line, caught):
    assert any(re.search(pattern, line, re.IGNORECASE) for pattern in TRADE) is caught


@pytest.mark.parametrize(
    ("line", "caught"), [("open('/tm" + "p/x')", True), ("https://doi.example/tmp/x", False), ("../shared", False)]
)
def test_the_rule_on_paths_knows_them(line, caught):
    assert bool(re.search(MACHINE, line)) is caught
