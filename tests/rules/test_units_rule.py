"""Conventions C1 to C3: one module converts; names say their unit."""

import ast
import dataclasses
import types
import typing
from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Union

import pytest
from pydantic import BaseModel

from pourwell import units
from tests.rules.source import modules, our_classes, tell

CONVERSIONS = {273.15, 459.67, 25.4, 0.0254, 304.8, 31.1035, 28.35, 453.59, 1.5552, 101.325, 3386.39} | {
    value for name, value in vars(units).items() if name.isupper() and isinstance(value, float) and value not in (1.0, 9.80665)
}
UNITLESS = {
    "Attachment.normal": "unit vector",
    "Bore.axis": "unit vector",
    "SectionPart.normal": "unit vector",
    "Cylinder.axis": "unit vector",
    "Way.direction": "unit vector",
    "Strokes.opacity": "a share of the ink below",
    "Strokes.width": "pixels of the drawing",
    "Words.x": "pixels of the drawing",
    "Words.y": "pixels of the drawing",
}
"""Fields of floats that have no unit, and why."""
CARRIERS = {"value", "low", "likely", "high", "least", "uncertainty", "table", "measure", "limit", "published"} | {
    "held_to",
    "reached",
    "rule",
    "widest",
    "ticks",
}
"""Fields whose unit stands in a field beside them: `unit`, or `quantity`."""


def test_only_units_converts():
    faults = [
        f"{module.at(node)}: {node.value}"
        for module in modules()
        if module.name != "src/pourwell/units.py"
        for node in ast.walk(module.tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, float) and node.value in CONVERSIONS
    ]
    assert not faults, tell(faults, "Call a function of pourwell.units instead of writing the factor.")


def test_the_rule_on_conversions_knows_the_two_that_matter():
    assert {273.15, 25.4} <= CONVERSIONS


def holds_floats(annotation: Any) -> bool:
    """Whether a field of this type holds a float, or floats in one row: not outlines and matrices, whose type says their unit."""
    origin, parts = typing.get_origin(annotation), typing.get_args(annotation)
    if origin is Annotated:
        return holds_floats(parts[0])
    if origin in (Union, types.UnionType):
        return any(holds_floats(part) for part in parts)
    if origin is tuple:
        return float in parts
    if isinstance(origin, type) and issubclass(origin, Mapping | list | frozenset | set):
        return parts[-1] is float
    return annotation is float


def models() -> Iterator[type]:
    """Every class whose fields a person types, reads or stores: pydantic models, the words of the steps, and what shows them."""
    for cls in our_classes():
        room, *inner = cls.__module__.split(".")[1:]
        words = room in ("plan", "app", "sheets", "files") or (room == "steps" and inner[-1].endswith(("model", "checks")))
        if issubclass(cls, BaseModel) or (words and dataclasses.is_dataclass(cls)):
            yield cls


def test_every_float_field_ends_in_its_unit():
    faults = []
    for cls in models():
        hints = typing.get_type_hints(cls, include_extras=True)
        own = cls.model_fields if issubclass(cls, BaseModel) else cls.__dataclass_fields__
        for name in own:
            carried = name in CARRIERS and {"unit", "quantity"} & set(own)
            if holds_floats(hints[name]) and not units.unit_of(name) and not carried and f"{cls.__name__}.{name}" not in UNITLESS:
                faults.append(f"{cls.__module__}: {cls.__name__}.{name}")
    assert not faults, tell(faults, f"End the name in a suffix of units.SUFFIXES ({', '.join(units.SUFFIXES)}).")


def test_the_suffix_rule_sees_the_models():
    assert sum(1 for _ in models()) >= 40


@pytest.mark.parametrize(
    ("annotation", "expected"),
    [
        (float, True),
        (float | None, True),
        (Annotated[float, "positive"], True),
        (tuple[float, float], True),
        (tuple[float, ...], True),
        (Mapping[str, float], True),
        (int, False),
        (str | None, False),
        (tuple[tuple[float, float], ...], False),
    ],
)
def test_the_suffix_rule_knows_a_float_when_it_sees_one(annotation, expected):
    assert holds_floats(annotation) is expected
