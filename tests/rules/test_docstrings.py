"""Conventions C6: every public module, class, function and method says what it is."""

import ast
from collections.abc import Iterator

from tests.rules.source import Function, Module, modules, tell


def public(module: Module) -> Iterator[ast.Module | ast.ClassDef | Function]:
    """The module itself and its public classes, functions and methods; what is nested in a function is private."""
    yield module.tree
    waiting = list(module.tree.body)
    while waiting:
        node = waiting.pop()
        if isinstance(node, ast.ClassDef | Function) and not node.name.startswith("_"):
            yield node
            if isinstance(node, ast.ClassDef):
                waiting += node.body


def test_everything_public_has_a_docstring():
    faults = []
    for module in (*modules(), *modules("start.py"), *modules("benchmarks")):
        for node in public(module):
            if not ast.get_docstring(node):
                faults.append(f"{module.name}:{getattr(node, 'lineno', 1)}: {getattr(node, 'name', 'the module')}")
    assert not faults, tell(faults, "Say in one line what it is; then [unit] and shape of arguments, Raises, Source.")


def test_every_test_module_says_what_it_tests():
    faults = [m.name for m in modules("tests") if m.path.name != "__init__.py" and not ast.get_docstring(m.tree)]
    assert not faults, tell(faults, "Begin the module with a docstring.")
