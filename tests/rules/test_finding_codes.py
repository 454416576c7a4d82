"""Conventions C11: codes are unique, registered, documented, and each has a test that fires it and one that stays silent."""

import ast
import importlib
import re
from functools import cache

import pytest

from pourwell.findings import Code
from tests.rules.source import ROOT, modules, tell

STEPS = ("pattern", "tree", "flask", "melt", "burnout", "pour", "day")
FEWEST = 40
"""Codes that a whole job has at the least."""


@cache
def registers() -> dict[str, tuple[Code, ...]]:
    """The codes of every module that has some, by module."""
    here = [m.dotted for m in modules() if re.search(r"^CODES\b", m.text, flags=re.MULTILINE)]
    return {name: importlib.import_module(name).CODES for name in here}


def codes() -> list[str]:
    return [code.code for register in registers().values() for code in register]


def names_of_tests() -> set[str]:
    """The names of all test functions."""
    return {f.name for m in modules("tests") for f in m.functions if f.name.startswith("test_")}


@pytest.mark.parametrize("step", STEPS)
def test_every_step_registers_its_codes_and_lists_its_checks(step):
    checks = importlib.import_module(f"pourwell.steps.{step}.checks")
    assert checks.CODES
    assert isinstance(checks.CHECKS, tuple), "CHECKS is a tuple, so that nothing can grow it"
    assert isinstance(checks.CODES, tuple)


def test_there_are_as_many_codes_as_a_job_needs():
    assert len(codes()) >= FEWEST


def test_no_code_stands_twice():
    twice = sorted({code for code in codes() if codes().count(code) > 1})
    assert not twice, tell(twice, "Give one of them another name.")


def test_every_code_is_written_in_words_and_dashes():
    faults = [code for code in codes() if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)+", code)]
    assert not faults, tell(faults, "Two words or more, small letters, dashes between.")


@pytest.mark.parametrize("kind", ["fires", "stays_silent"])
def test_every_code_has_a_test_that_fires_it_and_one_that_stays_silent(kind):
    there = names_of_tests()
    faults = [
        f"{code}: no test_{code.replace('-', '_')}_{kind}"
        for code in codes()
        if f"test_{code.replace('-', '_')}_{kind}" not in there
    ]
    assert not faults, tell(faults, "Write the test, under exactly this name.")


def test_every_code_is_documented():
    page = ROOT / "docs" / "findings.md"
    text = page.read_text(encoding="utf-8") if page.is_file() else ""
    faults = [code for code in codes() if f"`{code}`" not in text]
    assert not faults, tell(faults, "Write docs/findings.md again from the registers.")


def test_every_finding_made_has_a_registered_code_and_every_code_is_made():
    made = {}
    for module in modules():
        for node in ast.walk(module.tree):
            if isinstance(node, ast.Call):
                for word in node.keywords:
                    if word.arg == "code" and isinstance(word.value, ast.Constant) and getattr(node.func, "id", "") != "Code":
                        made[word.value.value] = module.at(node)
    strangers = [f"{at}: {code}" for code, at in made.items() if code not in codes()]
    assert not strangers, tell(strangers, "Register the code in CODES of its step's checks.")
    idle = [code for code in codes() if code not in made and not any(_says(module, code) for module in modules())]
    assert not idle, tell(idle, "Nothing makes this finding: take the code out, or write its check.")


def _says(module, code: str) -> bool:
    """Whether a module of the package holds a code in another place than its register."""
    return sum(text == code for text in module.strings) > (1 if module.path.name == "checks.py" else 0)
