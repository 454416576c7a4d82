"""Conventions C5: no bare threshold in the steps. A rule of thumb is data; any other number has a name and a source."""

import ast
from collections.abc import Iterator

from tests.rules.source import Module, modules, tell

PLAIN = {0, 0.5, 1, 2, 100, 1000}
"""Numbers that need no name: halves, squares, percent, thousandths."""
FIX = "Make it a rule in materials/data/rules/ with source and grade, or a named constant of the module that says where it is from."


def constants(module: Module) -> Iterator[ast.Assign | ast.AnnAssign]:
    """The named constants of a module: what is assigned at its top level to a name in capitals."""
    for node in module.tree.body:
        targets = node.targets if isinstance(node, ast.Assign) else [node.target] if isinstance(node, ast.AnnAssign) else []
        if targets and all(isinstance(t, ast.Name) and t.id.lstrip("_").isupper() for t in targets):
            yield node


def numbers(tree: ast.AST) -> Iterator[ast.Constant]:
    """The numbers written under a node that would be a threshold: any decimal, and any whole number in a comparison."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, float):
            yield node
        if isinstance(node, ast.Compare):
            for side in (node.left, *node.comparators):
                if isinstance(side, ast.Constant) and isinstance(side.value, int) and not isinstance(side.value, bool):
                    yield side


def bare_numbers(module: Module) -> list[str]:
    named = {id(node) for constant in constants(module) for node in ast.walk(constant)}
    return [f"{module.at(n)}: {n.value}" for n in numbers(module.tree) if id(n) not in named and n.value not in PLAIN]


def test_no_bare_number_stands_in_a_step():
    faults = [fault for module in modules("src/pourwell/steps") for fault in bare_numbers(module)]
    assert not faults, tell(faults, FIX)


def blocks(module: Module) -> Iterator[tuple[list[ast.stmt], ast.stmt | None]]:
    """Runs of assignments on lines that follow each other, each with the statement after it."""
    block: list[ast.stmt] = []
    for node in [*module.tree.body, None]:
        joins = isinstance(node, ast.Assign | ast.AnnAssign) and (not block or block[-1].end_lineno == node.lineno - 1)
        if block and not joins:
            yield block, node
            block = []
        if isinstance(node, ast.Assign | ast.AnnAssign):
            block.append(node)


def unexplained(module: Module) -> list[str]:
    """Named numbers without a comment in or just above their block, and without a string just below it."""
    named, faults = set(constants(module)), []
    for block, after in blocks(module):
        below = isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant) and isinstance(after.value.value, str)
        above = any("#" in line for line in module.lines[max(block[0].lineno - 2, 0) : block[-1].end_lineno])
        faults += [
            module.at(node)
            for node in block
            if node in named and not below and not above and any(n.value not in PLAIN for n in numbers(node))
        ]
    return faults


def test_every_named_number_of_a_step_says_where_it_is_from():
    faults = [fault for module in modules("src/pourwell/steps") for fault in unexplained(module)]
    assert not faults, tell(faults, "Write a string under the constant, or a comment: what it is and its source.")


def test_the_rule_sees_a_bare_number_and_lets_a_named_one_pass(tmp_path):
    path = tmp_path / "step.py"
    body = "\n\n\ndef hot(c):\n    return c > 740.5 or c > 750 or c > LIMIT_C or c / 2.0 > 100\n"
    path.write_text("LIMIT_C = 760.0" + body, encoding="utf-8")
    module = Module(path, tmp_path)
    assert sorted(bare_numbers(module)) == ["step.py:5: 740.5", "step.py:5: 750"]
    assert unexplained(module) == ["step.py:1"]


def test_the_rule_takes_a_comment_or_a_string_for_a_reason(tmp_path):
    path = tmp_path / "step.py"
    path.write_text(
        'HOT_C = 760.0  # where gypsum breaks down\n\nCOLD_C = 3.5\nWARM_C = 4.5\n"""The cellar."""\n', encoding="utf-8"
    )
    assert unexplained(Module(path, tmp_path)) == []
