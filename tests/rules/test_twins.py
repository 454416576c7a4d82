"""Convention C19: every compiled loop has a readable twin, and a test lays the two side by side."""

import ast
import re
from collections.abc import Iterator, Sequence

import pytest

from tests.rules.source import Module, modules, tell

ROOMS = {
    "src/pourwell/physics/kernels": ("tests/unit/physics", ("test_kernels",)),
    "src/pourwell/geometry/kernels": (
        "tests/unit/geometry",
        ("test_crossings", "test_distance", "test_layers_kernels", "test_raster_kernels", "test_touch_kernels"),
    ),
}
"""Where compiled loops live, and in which test modules they stand beside their twins."""
MAKERS = {"compiled", "compiled_lean", "forms"}
"""What makes machine code: as a decorator, or with a function handed to it."""


def called(node: ast.AST) -> str:
    """The plain name of what is called or decorates, else nothing."""
    while isinstance(node, ast.Call):
        node = node.func
    return node.id if isinstance(node, ast.Name) else ""


def compiled_in(module: Module) -> set[str]:
    """Names of the functions of a module that become machine code."""
    decorated = {f.name for f in module.functions if any(called(d) in MAKERS for d in f.decorator_list)}
    handed = {
        arg.id
        for node in ast.walk(module.tree)
        if isinstance(node, ast.Call) and called(node) in MAKERS
        for arg in node.args
        if isinstance(arg, ast.Name)
    }
    return decorated | handed


def names_in(node: ast.AST) -> set[str]:
    return {n.id for n in ast.walk(node) if isinstance(n, ast.Name)}


def calls(loops: Sequence[Module]) -> dict[str, set[str]]:
    """For each function the names in its body, those that stand for the forms of a loop too."""
    stands_for: dict[str, set[str]] = {}
    for node in (node for m in loops for node in m.tree.body if isinstance(node, ast.Assign)):
        for name in set().union(*(names_in(target) for target in node.targets)):
            stands_for[name] = names_in(node.value)
    bodies = {f.name: set().union(*(names_in(node) for node in f.body)) for m in loops for f in m.functions}
    return {name: seen.union(*(stands_for.get(s, set()) for s in seen)) for name, seen in bodies.items()}


def is_reference(module: Module) -> bool:
    return module.path.stem.lstrip("_").startswith("reference")


def twins_of(room: Sequence[Module]) -> dict[str, str]:
    """For each loop that has a twin the twin's name: its own, or another that says "As `module.loop`" in its first line."""
    found = {}
    for f in (f for m in room if is_reference(m) for f in m.functions):
        for_another = re.match(r"As `\w+\.(\w+)`", ast.get_docstring(f) or "")
        found[for_another[1] if for_another else f.name] = f.name
    return found


def without_twin(room: Sequence[Module]) -> Iterator[str]:
    """Compiled functions without a twin that are not said to be done by the twin of a caller either, or that no such caller has."""
    loops = [m for m in room if not is_reference(m) and m.path.stem != "__init__"]
    said = " ".join(ast.get_docstring(m.tree) or "" for m in room if is_reference(m))
    inside, covered = calls(loops), set(twins_of(room)) & {f.name for m in loops for f in m.functions}
    todo = list(covered)
    while todo:
        fresh = {name for name in inside[todo.pop()] - covered if name in inside and f"`{name}`" in said}
        covered |= fresh
        todo += fresh
    yield from (f"{m.name}: {name}" for m in loops for name in sorted(compiled_in(m) - covered))


def spoken_of(module: Module) -> set[str]:
    """Every string and every attribute of a module: a test calls a loop by one or the other."""
    return {*module.strings, *(n.attr for n in ast.walk(module.tree) if isinstance(n, ast.Attribute))}


@pytest.mark.parametrize("room", ROOMS)
def test_every_compiled_loop_has_a_readable_twin(room):
    assert len(set().union(*(compiled_in(m) for m in modules(room)))) > 10, "the rule has something to look at"
    faults = list(without_twin(modules(room)))
    assert not faults, tell(faults, "Write it once more for reading, under the same name, in a reference module of its room.")


@pytest.mark.parametrize("room", ROOMS)
def test_every_twin_is_laid_beside_its_loop(room):
    folder, stems = ROOMS[room]
    tested = set().union(*(spoken_of(m) for m in modules(folder) if m.path.name.startswith(stems)))
    loops = set().union(*(compiled_in(m) for m in modules(room)))
    faults = sorted(twin for loop, twin in twins_of(modules(room)).items() if loop in loops and twin not in tested)
    assert not faults, tell(faults, f"Lay them side by side in {folder}/{stems[0]}*.py.")


def room_of(folder, *, twin: str) -> list[Module]:
    """Two loops, one of which calls the other and one more that is made of a plain function, and a twin."""
    loops = (
        "@compiled()\ndef inner(x):\n    return x\n\n\ndef plain(x):\n    return inner(x)\n\n\n"
        "alone, shared = forms(plain)\n\n\n@compiled(parallel=True)\ndef outer(x):\n    return shared(x)\n"
    )
    for name, text in (("loops.py", loops), ("_reference.py", twin)):
        (folder / name).write_text(text, encoding="utf-8")
    return [Module(folder / name, folder) for name in ("_reference.py", "loops.py")]


def test_the_rule_sees_a_loop_without_a_twin(tmp_path):
    outer = "def outer(x):\n    return x\n"
    assert list(without_twin(room_of(tmp_path, twin=""))) == ["loops.py: inner", "loops.py: outer", "loops.py: plain"]
    assert list(without_twin(room_of(tmp_path, twin=outer))) == ["loops.py: inner", "loops.py: plain"]
    assert list(without_twin(room_of(tmp_path, twin=f'"""`plain` by that of `outer`."""\n{outer}'))) == ["loops.py: inner"]


def test_the_rule_takes_a_twin_of_another_name_that_says_whose_it_is(tmp_path):
    said = '"""`plain` and `inner` by that of `outer`."""\n\n\ndef one(x):\n    """As `loops.outer` for one x."""\n'
    assert list(without_twin(room_of(tmp_path, twin=said))) == []


def test_the_rule_takes_the_twin_of_a_caller_that_is_named(tmp_path):
    outer = "def outer(x):\n    return x\n"
    assert list(without_twin(room_of(tmp_path, twin=f'"""`plain` and `inner` by that of `outer`."""\n{outer}'))) == []
    alone = '"""`plain` by that of `outer`, which is not here."""\n\n\ndef inner(x):\n    return x\n'
    assert list(without_twin(room_of(tmp_path, twin=alone))) == ["loops.py: outer", "loops.py: plain"]
