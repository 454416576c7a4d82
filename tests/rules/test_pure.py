"""Conventions C9: the cores compute and do nothing else. The import contract catches more; this catches calls."""

import ast
from collections.abc import Iterator

import pytest

from tests.rules.source import Module, modules, tell

CORES = ("src/pourwell/physics", "src/pourwell/geometry", "src/pourwell/steps")
IMPORTS = {"time", "random", "logging", "secrets", "subprocess", "socket", "shutil", "tempfile"}
CLOCK = {"now", "utcnow", "today", "monotonic", "perf_counter", "localtime"}
FILES = {"open", "read_text", "write_text", "read_bytes", "write_bytes", "mkdir", "unlink", "print", "input"}
RANDOM = {"rand", "randn", "seed", "shuffle", "permutation", "choice", "uniform", "normal", "random"}


def dotted(node: ast.expr) -> str:
    """A name or chain of names as written, "" for anything else."""
    if isinstance(node, ast.Attribute):
        return f"{dotted(node.value)}.{node.attr}"
    return node.id if isinstance(node, ast.Name) else ""


def impurities(module: Module) -> Iterator[str]:
    """What a core must not do, with its place."""
    for node in ast.walk(module.tree):
        if isinstance(node, ast.Import | ast.ImportFrom):
            names = {a.name for a in node.names} if isinstance(node, ast.Import) else {node.module or ""}
            yield from (f"{module.at(node)}: imports {name}" for name in sorted(names) if name.split(".")[0] in IMPORTS)
        elif isinstance(node, ast.Global):
            yield f"{module.at(node)}: global {', '.join(node.names)}"
        elif isinstance(node, ast.Call):
            called = dotted(node.func)
            owner, _, name = called.rpartition(".")
            if name in CLOCK and owner.rpartition(".")[2] in ("datetime", "date", "time"):
                yield f"{module.at(node)}: reads the clock ({called})"
            if name in FILES and (owner or name in ("open", "print", "input")):
                yield f"{module.at(node)}: {called}"
            if (owner.endswith("random") and name in RANDOM) or (name == "default_rng" and not node.args):
                yield f"{module.at(node)}: random without an rng of the caller ({called})"


def test_the_cores_touch_no_clock_no_file_no_log_and_no_chance():
    faults = [fault for core in CORES for module in modules(core) for fault in impurities(module)]
    assert not faults, tell(faults, "Take the time, the text or the rng as an argument; the caller owns them.")


def test_only_the_command_line_reads_the_clock():
    faults = [
        f"{module.at(node)}: {dotted(node.func)}"
        for module in modules()
        if "/cli/" not in module.name
        for node in ast.walk(module.tree)
        if isinstance(node, ast.Call) and dotted(node.func).rpartition(".")[2] in ("now", "utcnow", "today")
    ]
    assert not faults, tell(faults, "Take `now` as an argument; cli passes it in.")


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("from datetime import datetime; datetime.now()", "clock"),
        ("import logging", "imports logging"),
        ("open('a')", "open"),
        ("import numpy as np; np.random.normal(3)", "random"),
        ("import numpy as np; np.random.default_rng()", "random"),
    ],
)
def test_the_rule_sees_each_impurity(line, said, tmp_path):
    path = tmp_path / "core.py"
    path.write_text(line, encoding="utf-8")
    assert any(said in fault for fault in impurities(Module(path, tmp_path)))


def test_pattern_files_are_read_apart_everywhere_but_in_their_own_room():
    """A hostile file is read in a process with limits (decision 0005): no use case reads one in its own."""
    faults = [
        f"{module.path}: imports read_pattern"
        for module in modules("src/pourwell")
        if "/files/" not in str(module.path)
        for node in ast.walk(module.tree)
        if isinstance(node, ast.ImportFrom) and any(alias.name == "read_pattern" for alias in node.names)
    ]
    assert not faults, tell(faults, "Use files.worker.read_safely.")
