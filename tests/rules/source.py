"""What the rule tests look at: the tracked files, our modules as syntax trees, our classes, our data as it is written."""

import ast
import importlib
import pkgutil
import subprocess
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path
from typing import Any

import pourwell

ROOT = Path(__file__).resolve().parents[2]
SRC = ROOT / "src" / "pourwell"
DATA = SRC / "materials" / "data"
TEXTS = {".py", ".toml", ".md", ".txt", ".typ", ".json", ".yml", ".yaml", ".cfg", ".ini", ".sh", ".csv", ".svg", ""}
"""Endings of files that people read; the empty one is Makefile, LICENSE and .ci/run."""
Function = ast.FunctionDef | ast.AsyncFunctionDef


@dataclass(frozen=True)
class Module:
    """One of our modules as it is written."""

    path: Path
    root: Path = ROOT

    @property
    def name(self) -> str:
        """Its path from the root, with forward slashes."""
        return self.path.relative_to(self.root).as_posix()

    @property
    def dotted(self) -> str:
        """Its import name, for a module of the package."""
        return ".".join(self.path.relative_to(self.root / "src").with_suffix("").parts).removesuffix(".__init__")

    @cached_property
    def text(self) -> str:
        return self.path.read_text(encoding="utf-8")

    @cached_property
    def lines(self) -> list[str]:
        return self.text.splitlines()

    @cached_property
    def tree(self) -> ast.Module:
        return ast.parse(self.text, filename=self.name)

    @property
    def functions(self) -> Iterator[Function]:
        """All functions and methods, nested ones too."""
        return (node for node in ast.walk(self.tree) if isinstance(node, Function))

    @property
    def strings(self) -> Iterator[str]:
        """All string constants, docstrings too."""
        return (n.value for n in ast.walk(self.tree) if isinstance(n, ast.Constant) and isinstance(n.value, str))

    def at(self, node: Any) -> str:
        """Where a node stands, as file:line."""
        return f"{self.name}:{node.lineno}"


@cache
def module(path: Path) -> Module:
    return Module(path)


@cache
def modules(folder: str = "src/pourwell") -> tuple[Module, ...]:
    """All modules under a folder of the repository, or the one module of that name."""
    where = ROOT / folder
    return tuple(module(path) for path in (sorted(where.rglob("*.py")) if where.is_dir() else [where]))


@cache
def kept_files() -> tuple[Path, ...]:
    """Every file that git keeps or would keep."""
    asked = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    said = subprocess.run(asked, cwd=ROOT, capture_output=True, check=True).stdout.decode()
    return tuple(path for path in (ROOT / name for name in sorted(said.split("\0")) if name) if path.is_file())


def kept_lines() -> Iterator[tuple[str, str]]:
    """Every line of every text file that git keeps, with its file:line."""
    for path in kept_files():
        if path.suffix in TEXTS:
            name = path.relative_to(ROOT).as_posix()
            for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
                yield f"{name}:{number}", line


@cache
def our_classes() -> tuple[type, ...]:
    """Every class that the package defines, with all its modules imported."""
    found: dict[str, type] = {}
    for info in pkgutil.walk_packages(pourwell.__path__, "pourwell."):
        loaded = importlib.import_module(info.name)
        for thing in vars(loaded).values():
            if isinstance(thing, type) and thing.__module__ == info.name:
                found[f"{thing.__module__}.{thing.__qualname__}"] = thing
    return tuple(found.values())


@cache
def data_files(shelf: str) -> dict[str, dict[str, Any]]:
    """The data files of a shelf as they are written, by their path from the root."""
    folder = DATA / shelf
    return {
        path.relative_to(ROOT).as_posix(): tomllib.loads(path.read_text(encoding="utf-8")) for path in sorted(folder.glob("*.toml"))
    }


def data_rows(shelf: str) -> dict[str, dict[str, Any]]:
    """The rows of a shelf that has many in a file (rules, sources), by id."""
    return {key: row for table in data_files(shelf).values() for key, row in table.items()}


def tell(faults: list[str], fix: str) -> str:
    """What a failing rule says: every place, and the way out."""
    return "\n".join([f"{len(faults)} against this rule. {fix}", *faults])
