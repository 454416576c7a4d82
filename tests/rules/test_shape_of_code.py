"""Conventions C7, C8 and C25: size and shape of modules, functions and classes."""

import ast
import dataclasses
import inspect
import re

import pytest
from pydantic import BaseModel

from tests.rules.source import ROOT, Function, modules, our_classes, tell

LONGEST_MODULE = 400
LONGEST_FUNCTION = 60
MOST_POSITIONAL = 3
ALL_CODE = ("src/pourwell", "start.py", "benchmarks", "tests")
RUBBISH_DRAWERS = {"utils", "util", "helpers", "common", "misc", "tools"}


def all_modules():
    return [module for folder in ALL_CODE for module in modules(folder)]


def test_no_module_is_longer_than_a_sitting():
    faults = [f"{m.name}: {len(m.lines)} lines" for m in all_modules() if len(m.lines) > LONGEST_MODULE]
    assert not faults, tell(faults, f"Split it at a seam of the job; {LONGEST_MODULE} lines at most.")


def test_no_function_is_longer_than_a_screen():
    faults = [
        f"{m.at(f)}: {f.name}, {f.end_lineno - f.lineno + 1} lines"
        for m in all_modules()
        for f in m.functions
        if f.end_lineno - f.lineno + 1 > LONGEST_FUNCTION
    ]
    assert not faults, tell(faults, f"Take a step out and name it; {LONGEST_FUNCTION} lines at most.")


def positional(function: Function) -> list[str]:
    """Names of the arguments that may be given by place, without self and cls."""
    names = [a.arg for a in (*function.args.posonlyargs, *function.args.args)]
    return names[1:] if names[:1] in (["self"], ["cls"]) else names


def test_no_function_takes_more_by_place_than_one_can_keep_apart():
    faults = [
        f"{m.at(f)}: {f.name}({', '.join(positional(f))})"
        for folder in ALL_CODE[:3]
        for m in modules(folder)
        for f in m.functions
        if len(positional(f)) > MOST_POSITIONAL
    ]
    assert not faults, tell(faults, f"Put a bare * after the first {MOST_POSITIONAL} arguments at the latest.")


def dataclasses_of_ours() -> list[type]:
    """The public ones: a private one is a module's own scratch paper."""
    return [cls for cls in our_classes() if dataclasses.is_dataclass(cls) and not cls.__name__.startswith("_")]


def test_no_dataclass_takes_more_by_place_than_one_can_keep_apart():
    faults = []
    for cls in dataclasses_of_ours():
        by_place = [p for p in inspect.signature(cls).parameters.values() if p.kind is p.POSITIONAL_OR_KEYWORD]
        if len(by_place) > MOST_POSITIONAL:
            faults.append(f"{cls.__module__}: {cls.__name__}")
    assert not faults, tell(faults, "Add kw_only=True.")


def test_what_we_compute_is_frozen():
    faults = [f"{cls.__module__}: {cls.__name__}" for cls in dataclasses_of_ours() if not cls.__dataclass_params__.frozen]
    assert not faults, tell(faults, "Write @dataclass(frozen=True, slots=True, kw_only=True).")


def test_what_comes_from_outside_is_frozen_and_takes_no_unknown_key():
    faults = [
        f"{cls.__module__}: {cls.__name__}"
        for cls in our_classes()
        if issubclass(cls, BaseModel) and not (cls.model_config.get("frozen") and cls.model_config.get("extra") == "forbid")
    ]
    assert not faults, tell(faults, 'Write model_config = ConfigDict(frozen=True, extra="forbid").')


def test_a_result_with_arrays_is_not_compared_by_its_fields():
    faults = [
        f"{cls.__module__}: {cls.__name__}"
        for cls in dataclasses_of_ours()
        if cls.__dataclass_params__.eq
        and any(re.search(r"NDArray|ndarray|\bFloats\b|\bInts\b|\bMesh\b", str(f.type)) for f in dataclasses.fields(cls))
    ]
    assert not faults, tell(faults, "Add eq=False: comparing arrays by == raises.")


def test_no_star_import():
    faults = [
        m.at(node)
        for m in all_modules()
        for node in ast.walk(m.tree)
        if isinstance(node, ast.ImportFrom) and any(alias.name == "*" for alias in node.names)
    ]
    assert not faults, tell(faults, "Import the names, so that everyone can see where they live.")


def test_no_rubbish_drawer():
    faults = [m.name for m in all_modules() if m.path.stem in RUBBISH_DRAWERS]
    assert not faults, tell(faults, "Call a module by what it knows.")


def test_only_a_package_lists_its_public_names():
    faults = [m.name for m in modules() if m.path.name != "__init__.py" and re.search(r"^__all__\b", m.text, flags=re.MULTILINE)]
    assert not faults, tell(faults, "Take __all__ out; a leading underscore says private.")


@pytest.mark.parametrize("step", ["pattern", "tree", "flask", "melt", "burnout", "pour", "day"])
def test_every_step_has_its_words_its_plan_and_its_checks(step):
    rooms = ROOT / "src" / "pourwell" / "steps" / step
    missing = [name for name in ("model.py", "plan.py", "checks.py") if not (rooms / name).is_file()]
    assert not missing, f"steps/{step} lacks {', '.join(missing)}"


def test_there_is_a_line_of_test_for_every_line_of_code():
    code, tests = (sum(len(m.lines) for m in modules(folder)) for folder in ("src/pourwell", "tests"))
    assert tests >= code, f"{tests} lines of tests for {code} of code: {tests / code:.2f}"
