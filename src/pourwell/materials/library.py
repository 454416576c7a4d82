"""The library: shipped rows from `data/`, with the studio's own rows merged over them by id."""

import hashlib
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from pourwell.errors import BadDataError, UnknownNameError
from pourwell.materials.model import (
    WEAK_GRADES,
    Alloy,
    FlaskRow,
    Investment,
    PatternMaterial,
    Programme,
    Quantity,
    Row,
    Rule,
    Source,
)
from pourwell.materials.studio import first_fault

T = TypeVar("T")

SHELVES: Mapping[str, type[Row]] = {
    "alloys": Alloy,
    "investments": Investment,
    "patterns": PatternMaterial,
    "flasks": FlaskRow,
    "programmes": Programme,
}
"""Folder of `data/` (and of a studio) to the model of its rows: one file a row, which holds its id."""

LISTS: Mapping[str, type[Row]] = {"rules": Rule, "sources": Source}
"""Folder of `data/` to the model of its rows: many rows a file, each a table named by its id."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Library:
    """All rows by id, the rules and the sources, with a digest of the files they came from."""

    alloys: Mapping[str, Alloy]
    investments: Mapping[str, Investment]
    patterns: Mapping[str, PatternMaterial]
    flasks: Mapping[str, FlaskRow]
    programmes: Mapping[str, Programme]
    rules: Mapping[str, Rule]
    sources: Mapping[str, Source]
    digest: str

    def alloy(self, name: str) -> Alloy:
        """The alloy with this id. Raises UnknownNameError with the nearest ids."""
        return _get("alloy", self.alloys, name)

    def investment(self, name: str) -> Investment:
        """The investment with this id. Raises UnknownNameError with the nearest ids."""
        return _get("investment", self.investments, name)

    def pattern(self, name: str) -> PatternMaterial:
        """The pattern material with this id. Raises UnknownNameError with the nearest ids."""
        return _get("pattern material", self.patterns, name)

    def programme(self, name: str) -> Programme:
        """The burnout programme with this id. Raises UnknownNameError with the nearest ids."""
        return _get("burnout programme", self.programmes, name)

    def rule(self, name: str) -> float:
        """The value of a rule of thumb; a KeyError here is our bug, for the names stand in the code."""
        return self.rules[name].value


def _get(kind: str, shelf: Mapping[str, T], name: str) -> T:
    try:
        return shelf[name]
    except KeyError:
        raise UnknownNameError(kind, name, shelf) from None


def weak_values(row: Row) -> Iterator[tuple[str, Quantity]]:
    """The values of a row that are estimates or from memory: (key, value)."""
    for key in type(row).model_fields:
        value = getattr(row, key)
        if isinstance(value, Quantity) and value.grade in WEAK_GRADES:
            yield key, value


def _tables(folder: Traversable | Path) -> dict[str, dict[str, Any]]:
    """The tables of a folder's TOML files by file name, in order."""
    out = {}
    if folder.is_dir():
        for entry in sorted(folder.iterdir(), key=lambda e: e.name):
            if entry.name.endswith(".toml"):
                out[entry.name] = _parse(entry.read_text(encoding="utf-8"), str(entry))
    return out


def _parse(text: str, where: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as err:
        raise BadDataError(f"{where} is not a TOML file.", why=f"{err}.") from err


def _row(model: type[Row], table: dict[str, Any], where: str, *, own: bool) -> Any:
    try:
        return model.model_validate(table, context={"own": own})
    except ValidationError as err:
        raise BadDataError(f"{where}: {first_fault(err)}.", try_this="See docs/materials.md for the form of a row.") from err


@cache
def _shipped() -> tuple[dict[str, dict[str, dict[str, Any]]], str]:
    """The shipped tables by shelf and id, plus rules and sources, and the digest of all files."""
    root = files("pourwell.materials") / "data"
    digest = hashlib.sha256()
    shelves: dict[str, dict[str, dict[str, Any]]] = {}
    for shelf in (*SHELVES, *LISTS):
        tables = _tables(root / shelf)
        for name, table in tables.items():
            digest.update(f"{shelf}/{name}\n{table!r}\n".encode())
        rows = [(t["id"], t) for t in tables.values()] if shelf in SHELVES else [row for t in tables.values() for row in t.items()]
        shelves[shelf] = dict(rows)
        if len(shelves[shelf]) < len(rows):
            raise BadDataError(f"data/{shelf}: an id stands twice.")
    return shelves, digest.hexdigest()


def load_library(studio_folder: Path | None = None) -> Library:
    """The shipped library, with the rows of a studio's folder merged over it by id, key by key.

    A studio's row with a known id need hold only what differs; one with a new id must be whole.
    Raises BadDataError with the file, the key and the reason.
    """
    shipped, digest = _shipped()
    rows: dict[str, Any] = {}
    mark = hashlib.sha256(digest.encode())
    for shelf, model in SHELVES.items():
        out = {i: _row(model, t, f"{shelf}/{i}.toml", own=False) for i, t in shipped[shelf].items()}
        for name, table in _tables(studio_folder / shelf).items() if studio_folder else ():
            where = str(studio_folder and studio_folder / shelf / name)
            key = table.get("id")
            if not isinstance(key, str) or not key:
                raise BadDataError(f"{where}: id is missing.", try_this='Write a line such as id = "my-alloy".')
            out[key] = _row(model, {**shipped[shelf].get(key, {}), **table}, where, own=True)
            mark.update(f"{shelf}/{name}\n{table!r}\n".encode())
        rows[shelf] = out
    return Library(
        **rows,
        **{
            shelf: {k: _row(model, t, f"{shelf}: {k}", own=False) for k, t in shipped[shelf].items()}
            for shelf, model in LISTS.items()
        },
        digest=mark.hexdigest()[:8],
    )
