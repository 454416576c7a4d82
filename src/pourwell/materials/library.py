"""The library: shipped rows from `data/`, with the studio's own rows merged over them by id."""

import hashlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any, Self, TypeVar

from pydantic import ValidationError

from pourwell.errors import BadDataError, UnknownNameError
from pourwell.materials.assessed import GibbsElement, GibbsPair, Melts
from pourwell.materials.calibration import Calibration, load_calibrations
from pourwell.materials.model import (
    WEAK_GRADES,
    Alloy,
    Element,
    FlaskRow,
    Investment,
    PatternMaterial,
    Programme,
    Quantity,
    Row,
    Rule,
    Source,
)
from pourwell.materials.own import complete
from pourwell.materials.reading import first_fault, parse, texts

T = TypeVar("T")

SHELVES: Mapping[str, type[Row]] = {
    "alloys": Alloy,
    "investments": Investment,
    "patterns": PatternMaterial,
    "flasks": FlaskRow,
    "programmes": Programme,
}
"""Folder of `data/` (and of a studio) to the model of its rows: one file a row, which holds its id."""

MISSING_SHOWN = 6
"""Of a row that lacks much, so many keys are named."""

LISTS: Mapping[str, type[Row]] = {
    "rules": Rule,
    "sources": Source,
    "elements": Element,
    "gibbs_elements": GibbsElement,
    "gibbs_pairs": GibbsPair,
}
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
    elements: Mapping[str, Element] = field(default_factory=dict)
    gibbs_elements: Mapping[str, GibbsElement] = field(default_factory=dict)
    gibbs_pairs: Mapping[str, GibbsPair] = field(default_factory=dict)
    calibrations: tuple[Calibration, ...] = ()
    """What the studio measured, oldest first."""
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

    def flask(self, name: str) -> FlaskRow:
        """The flask with this id. Raises UnknownNameError with the nearest ids."""
        return _get("flask", self.flasks, name)

    def programme(self, name: str) -> Programme:
        """The burnout programme with this id. Raises UnknownNameError with the nearest ids."""
        return _get("burnout programme", self.programmes, name)

    def elsewhere(self) -> Self:
        """The library for another kiln than the studio's first: what was measured in that one does not hold there."""
        return replace(self, calibrations=tuple(one for one in self.calibrations if one.kind != "kiln"))

    def rule(self, name: str) -> float:
        """The value of a rule of thumb; a KeyError here is our bug, for the names stand in the code."""
        return self.rules[name].value


def _get(kind: str, shelf: Mapping[str, T], name: str) -> T:
    try:
        return shelf[name]
    except KeyError:
        raise UnknownNameError(kind, name, shelf) from None


def weak_values(row: Row) -> Iterator[tuple[str, Quantity]]:
    """The values of a row that are estimates or from memory: (key, value); of a table inside the row as `quench.wait_64_mm_min`."""
    for key in type(row).model_fields:
        value = getattr(row, key)
        if isinstance(value, Quantity):
            if value.grade in WEAK_GRADES:
                yield key, value
        elif isinstance(value, Row):
            yield from ((f"{key}.{inner}", weak) for inner, weak in weak_values(value))


def _row(model: type[Row], table: dict[str, Any], where: str, *, own: bool) -> Any:
    try:
        return model.model_validate(table, context={"own": own})
    except ValidationError as err:
        raise BadDataError(f"{where}: {first_fault(err, model)}.", try_this="See docs/materials.md for the form of a row.") from err


@cache
def _texts(shelf: str) -> Mapping[str, bytes]:
    """The shipped files of a shelf, by name."""
    return texts(files("pourwell.materials") / "data" / shelf)


@cache
def _digest() -> str:
    """Of all shipped files."""
    digest = hashlib.sha256()
    for shelf in (*SHELVES, *LISTS):
        for name, text in _texts(shelf).items():
            digest.update(f"{shelf}/{name}\n".encode() + text)
    return digest.hexdigest()


@cache
def _listed(shelf: str) -> dict[str, dict[str, Any]]:
    """The shipped tables of a shelf with many rows a file, by id."""
    pairs = [pair for name, text in _texts(shelf).items() for pair in parse(text, f"data/{shelf}/{name}").items()]
    tables = dict(pairs)
    if len(tables) < len(pairs):
        raise BadDataError(f"data/{shelf}: an id stands twice.")
    return tables


@cache
def _table(shelf: str, id_: str) -> dict[str, Any]:
    """A shipped table. A file of one row is called by its id, so that no other need be read to find it."""
    if shelf in LISTS:
        return _listed(shelf)[id_]
    return parse(_texts(shelf)[f"{id_}.toml"], f"data/{shelf}/{id_}.toml")


@cache
def _shipped_row(shelf: str, id_: str) -> Any:
    """A shipped row; frozen, so every library may share it."""
    return _row({**SHELVES, **LISTS}[shelf], _table(shelf, id_), f"{shelf}: {id_}", own=False)


class _Shipped(Mapping[str, Any]):
    """The shipped rows of a shelf by id, or their tables; each is read as it is first asked for: most commands need few."""

    def __init__(self, shelf: str, read: Callable[[str, str], Any]) -> None:
        self._shelf, self._read = shelf, read

    def __getitem__(self, id_: str) -> Any:
        return self._read(self._shelf, id_)

    def __iter__(self) -> Iterator[str]:
        names = _listed(self._shelf) if self._shelf in LISTS else (name.removesuffix(".toml") for name in _texts(self._shelf))
        return iter(names)

    def __len__(self) -> int:
        return len(list(iter(self)))


def own_rows(shelf: str, studio_folder: Path | None, *, melts: Melts | None = None) -> dict[str, Any]:
    """The rows of a shelf in the studio's own folder by id, made whole; `melts` as for `load_library`.

    Raises BadDataError with the file, the key and the reason.
    """
    rows: dict[str, Any] = {}
    seen: dict[str, str] = {}
    folder = studio_folder / shelf if studio_folder else None
    for name, text in texts(folder).items() if folder else ():
        where = str(folder and folder / name)
        row = row_of(shelf, parse(text, where), where, melts=melts)
        if row.id in rows:
            raise BadDataError(f'{where}: the id "{row.id}" stands in {seen[row.id]} too.')
        rows[row.id], seen[row.id] = row, where
    return rows


def own_row(shelf: str, path: Path) -> Any:
    """One row of a shelf from a file of the user's own, wherever it lies.

    Raises BadDataError with the file, the key and the reason.
    """
    try:
        table = parse(path.read_bytes(), str(path))
    except OSError as err:
        raise BadDataError(
            f"{path} cannot be read.",
            why=f"{err.strerror}.",
            try_this="Look at its name and folder. What is in the library is named by its id, without .toml.",
        ) from err
    return row_of(shelf, table, str(path))


def shipped_tables(shelf: str) -> Mapping[str, dict[str, Any]]:
    """The tables of the shipped rows of a shelf by id, as they stand in their files."""
    return _Shipped(shelf, _table)


def shipped_rows(shelf: str) -> Mapping[str, Any]:
    """The shipped rows of a shelf by id, whatever a studio's folder says."""
    return _Shipped(shelf, _shipped_row)


def row_of(shelf: str, table: dict[str, Any], where: str, *, melts: Melts | None = None) -> Any:
    """One row from the table of a file in the studio's own folder, made whole. Raises BadDataError as `own_rows`."""
    shipped, model = _Shipped(shelf, _table), SHELVES[shelf]
    if shelf == "flasks":
        table = {**table, "id": _row(FlaskRow, table, where, own=True).id} if "id" not in table else table
    name = table.get("id")
    if not isinstance(name, str) or not name:
        raise BadDataError(f"{where}: id is missing.", try_this=f'Write a line such as id = "my-{shelf.removesuffix("s")}".')
    try:
        whole = complete(shelf, table, shipped=shipped, elements=_Shipped("elements", _shipped_row), melts=melts)
    except UnknownNameError as err:
        raise BadDataError(f"{where}: like: {err.what}", why=err.why) from err
    missing = [key for key, part in model.model_fields.items() if part.is_required() and key not in whole]
    if missing and name not in shipped:
        near = [] if "like" in table else get_close_matches(name, shipped, n=1, cutoff=0.0)
        raise BadDataError(
            f"{where}: {', '.join(missing[:MISSING_SHOWN])}{' and others' * (len(missing) > MISSING_SHOWN)} missing.",
            why=f'"{name}" is a new id, so its row must be whole.',
            try_this="".join(f'Write like = "{id_}" to take the rest from that row, or id = "{id_}" to change it.' for id_ in near)
            or f"Add {missing[0]}: it belongs to each row alone.",
        )
    return _row(model, whole, where, own=True)


def load_library(studio_folder: Path | None = None, *, melts: Melts | None = None) -> Library:
    """The shipped library, with the rows of a studio's folder merged over it by id, key by key.

    A studio's row with a known id need hold only what differs; one with a new id must be whole or say which row it is like. `melts`
    gives the melting range of an own recipe that does not say it.
    Raises BadDataError with the file, the key and the reason.
    """
    rows: dict[str, Any] = {shelf: _Shipped(shelf, _shipped_row) for shelf in (*SHELVES, *LISTS)}
    mark = hashlib.sha256(_digest().encode())
    for shelf in SHELVES:
        own = own_rows(shelf, studio_folder, melts=melts)
        rows[shelf] = {**rows[shelf], **own} if own else rows[shelf]
        for row in own.values():
            mark.update(f"{shelf}/{row!r}\n".encode())
    calibrations = load_calibrations(studio_folder)
    for one in calibrations:
        mark.update(f"calibrations/{one!r}\n".encode())
    return Library(**rows, calibrations=calibrations, digest=mark.hexdigest()[:8])
