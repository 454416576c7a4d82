"""Conventions C12 and C13: every shipped value has unit, source and grade; every source exists and is used."""

import re
from collections.abc import Iterator
from typing import Any

import pytest

from pourwell.materials.library import LISTS, SHELVES, load_library
from pourwell.materials.model import OWN_CHOICE, OWN_ESTIMATE, PRACTICE_SOURCE, Grade
from pourwell.units import unit_of
from tests.rules.source import DATA, ROOT, data_files, data_rows, modules, tell

WHOLE = {"alloys": 20, "investments": 4, "patterns": 4, "flasks": 6, "programmes": 4, "rules": 60, "sources": 30}
"""How many rows there are at least in a library that is whole."""
STEPS = ("pattern", "tree", "flask", "melt", "burnout", "pour", "day")
IDENTITY = {"composition_percent", "fineness_permille"}
"""What makes an alloy this alloy and no other: not measured by anyone, so without a source."""
VALUED = [shelf for shelf in (*SHELVES, *LISTS) if shelf != "sources"]


def is_number(thing: Any) -> bool:
    return isinstance(thing, int | float) and not isinstance(thing, bool)


def unsourced(thing: Any, key: str, *, sourced: bool) -> Iterator[str]:
    """The keys under which a number stands without source and grade, in its own table or one around it."""
    if key.rpartition(".")[2] in IDENTITY:
        return
    if isinstance(thing, dict):
        sourced = sourced or (bool(thing.get("source")) and bool(thing.get("grade")))
        for inner, value in thing.items():
            yield from unsourced(value, f"{key}.{inner}".lstrip("."), sourced=sourced)
    elif isinstance(thing, list):
        for value in thing:
            yield from unsourced(value, key, sourced=sourced)
    elif is_number(thing) and not sourced:
        yield key


def tables(thing: Any, key: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """All tables in a data file, outer ones first, each with its dotted key."""
    if isinstance(thing, dict):
        yield key, thing
        for inner, value in thing.items():
            yield from tables(value, f"{key}.{inner}".lstrip("."))
    elif isinstance(thing, list):
        for value in thing:
            yield from tables(value, key)


def shipped() -> Iterator[tuple[str, str, dict[str, Any]]]:
    """All tables of all data files that hold values: (file, dotted key, table)."""
    for shelf in VALUED:
        for name, file in data_files(shelf).items():
            for key, table in tables(file):
                yield name, key, table


@pytest.mark.parametrize("shelf", WHOLE)
def test_the_library_is_whole(shelf):
    count = len(data_rows(shelf)) if shelf in LISTS else len(data_files(shelf))
    assert count >= WHOLE[shelf], f"{shelf}: {count} rows; add what is missing under materials/data/{shelf}/"


@pytest.mark.parametrize("step", STEPS)
def test_every_step_has_its_rules_as_data(step):
    assert (DATA / "rules" / f"{step}.toml").is_file(), f"write materials/data/rules/{step}.toml"


def test_the_ids_that_the_manual_names_exist():
    library = load_library()
    assert library.alloy("sterling-925").fineness_permille == 925
    assert library.investment("gypsum-standard").binder == "gypsum"


def test_a_file_is_called_by_its_id():
    faults = [name for shelf in SHELVES for name, file in data_files(shelf).items() if not name.endswith(f"/{file.get('id')}.toml")]
    assert not faults, tell(faults, "Give the file the name of its id.")


def test_every_number_has_source_and_grade():
    faults = [
        f"{n}: {key}" for shelf in VALUED for n, file in data_files(shelf).items() for key in unsourced(file, "", sourced=False)
    ]
    assert not faults, tell(faults, "Write it as a table with value, unit, source and grade.")


def test_every_value_says_its_unit_and_the_key_says_the_same():
    faults = []
    for name, key, table in shipped():
        if "value" in table or "table" in table:
            unit, meant = table.get("unit"), unit_of(key.rpartition(".")[2])
            if not unit or unit != meant:
                faults.append(f"{name}: {key} is in {unit}, its key says {meant}")
    assert not faults, tell(faults, "Give the unit, and end the key in its suffix of units.SUFFIXES.")


def test_no_range_is_inverted():
    faults = []
    for name, key, table in shipped():
        if is_number(table.get("value")):
            low, high = table.get("low", table["value"]), table.get("high", table["value"])
            if not low <= table["value"] <= high:
                faults.append(f"{name}: {key}: {low} .. {table['value']} .. {high}")
            if key.endswith("_fraction") and not 0 <= low <= high <= 1:
                faults.append(f"{name}: {key} lies outside 0 to 1")
    assert not faults, tell(faults, "Put low, value and high in order.")


def test_no_alloy_melts_before_it_softens():
    faults = [a.id for a in load_library().alloys.values() if a.solidus_c.value > a.liquidus_c.value]
    assert not faults, tell(faults, "The solidus lies at or under the liquidus.")


def cited(source: str) -> str:
    """The key of a source as it is written in a value: "key" or "key:place"."""
    return source.partition(":")[0]


def test_every_source_used_exists():
    known = {*data_rows("sources"), PRACTICE_SOURCE, OWN_ESTIMATE, OWN_CHOICE}
    faults = [
        f"{name}: {key}: {table['source']}"
        for name, key, table in shipped()
        if "source" in table and cited(table["source"]) not in known
    ]
    assert not faults, tell(faults, "Add the source to materials/data/sources/, or mend the key.")


def test_a_value_without_a_source_says_which_kind_it_is():
    of = {PRACTICE_SOURCE: {Grade.PRACTICE}, OWN_ESTIMATE: {Grade.ESTIMATE}, OWN_CHOICE: {Grade.CHOICE}}
    faults = [
        f"{name}: {key}: {table['source']}, grade {table.get('grade')}"
        for name, key, table in shipped()
        if table.get("source") in of and table.get("grade") not in of[table["source"]]
    ]
    assert not faults, tell(
        faults, f'"{PRACTICE_SOURCE}" goes with grade practice, "{OWN_ESTIMATE}" with estimate, "{OWN_CHOICE}" with choice.'
    )


def test_every_source_listed_is_used():
    used = {cited(table["source"]) for _, _, table in shipped() if "source" in table}
    texts = [module.text for folder in ("src/pourwell", "tests") for module in modules(folder)]
    texts += [page.read_text(encoding="utf-8") for page in (ROOT / "docs").rglob("*.md")]
    words = {word for text in texts for word in re.findall(r"[a-z][a-z0-9-]+", text)}
    faults = sorted(set(data_rows("sources")) - used - words)
    assert not faults, tell(faults, "Take it out of materials/data/sources/, or name it where its figure is used.")


def test_every_source_says_who_what_when_and_under_which_terms():
    faults = [
        f"{key}: {part}"
        for key, row in data_rows("sources").items()
        for part in ("author", "title", "year", "licence")
        if not str(row.get(part, "")).strip()
    ]
    assert not faults, tell(faults, "Fill it in; write undated where there is no year.")


def test_every_rule_is_read_somewhere():
    said = {text for module in modules() for text in module.strings}
    faults = sorted(set(data_rows("rules")) - said)
    assert not faults, tell(faults, "Use the rule by its name in src, or take it out of materials/data/rules/.")


def test_every_rule_read_exists():
    faults = []
    for module in modules():
        for number, line in enumerate(module.lines, start=1):
            for name in re.findall(r"""\.rule\(\s*["']([^"'{]+)["']|\brules\[\s*["']([^"'{]+)["']""", line):
                if "".join(name) not in data_rows("rules"):
                    faults.append(f"{module.name}:{number}: {''.join(name)}")
    assert not faults, tell(faults, "Write the rule into materials/data/rules/, or mend its name.")


def test_the_rule_on_sources_sees_a_bare_number_at_any_depth():
    row = {
        "id": "x",
        "a_mm": 3,
        "b_mm": {"value": 3, "source": "s", "grade": "handbook"},
        "steps": [{"c_min": 4}],
        "fineness_permille": 9,
    }
    assert list(unsourced(row, "", sourced=False)) == ["a_mm", "steps.c_min"]
