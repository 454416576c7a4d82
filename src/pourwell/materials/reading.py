"""Reading TOML: the tables of a folder, and faults told as a person would."""

import tomllib
from difflib import get_close_matches
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, get_args

from pydantic import BaseModel, ValidationError

from pourwell.errors import BadDataError


def parse(text: bytes, where: str) -> dict[str, Any]:
    """The table of a TOML text. Raises BadDataError with the place and the reason."""
    try:
        return tomllib.loads(text.decode("utf-8-sig"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as err:
        raise BadDataError(
            f"{where} is not a TOML file.",
            why=f"{err}.",
            try_this='Each line says key = value, with texts in quotes, as name = "Mine"; docs/materials.md shows whole files.',
        ) from err


def texts(folder: Traversable | Path) -> dict[str, bytes]:
    """The TOML files of a folder by name, in order; empty where there is no folder.

    Raises BadDataError for a file that cannot be read.
    """
    out = {}
    if folder.is_dir():
        for entry in sorted(folder.iterdir(), key=lambda e: e.name):
            if entry.name.endswith(".toml"):
                try:
                    out[entry.name] = entry.read_bytes()
                except OSError as err:
                    raise BadDataError(f"{entry} cannot be read.", why=f"{err.strerror}.") from err
    return out


def first_fault(err: ValidationError, model: type[BaseModel] | None = None) -> str:
    """The first fault of a pydantic error as `key: reason`; with the model, an unknown key gets its nearest names."""
    fault = err.errors(include_url=False, include_context=False)[0]
    where = ".".join(str(part) for part in fault["loc"])
    if fault["type"] == "missing":
        return f"{where} is missing"
    if fault["type"] == "extra_forbidden":
        key = str(fault["loc"][-1])
        near = get_close_matches(key, _keys_at(model, fault["loc"][:-1]), n=2, cutoff=0.6)
        ask = f" (nearest: {', '.join(near)})" if near else ""
        return f"{where}: unknown key{ask}"
    reason = fault["msg"].removeprefix("Value error, ")
    return f"{where}: {reason}" if where else reason


def _keys_at(model: type[BaseModel] | None, path: tuple[int | str, ...]) -> list[str]:
    """The keys that may stand at a place in a model, inner models and lists of them looked through."""
    for part in path:
        if model is not None and isinstance(part, str) and part in model.model_fields:
            model = _inner_model(model.model_fields[part].annotation)
    return [] if model is None else list(model.model_fields)


def _inner_model(annotation: Any) -> type[BaseModel] | None:
    """The model inside an annotation such as `tuple[Base, ...]` or `Quantity | None`."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    inner = (_inner_model(part) for part in get_args(annotation))
    return next((found for found in inner if found is not None), None)
