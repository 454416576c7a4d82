"""The plan as data: JSON's own types, nothing null, nothing lost."""

import json
from dataclasses import dataclass
from datetime import UTC, datetime, time
from pathlib import PurePosixPath

import pytest

from pourwell.files.plan_json import plain, to_bytes
from pourwell.findings import Finding, Severity
from pourwell.materials.studio import Studio


@dataclass(frozen=True)
class Sample:
    """One of everything."""

    name: str
    weight_g: float
    missing_g: float | None
    parts: tuple[float, ...]
    at: datetime
    severity: Severity


SAMPLE = Sample("x", 1 / 3, None, (1.0, 2.5), datetime(2027, 3, 5, 10, tzinfo=UTC), Severity.STOP)


def test_a_dataclass_becomes_an_object_without_what_is_not_known() -> None:
    assert plain(SAMPLE) == {
        "name": "x",
        "weight_g": 0.3333333,
        "parts": [1.0, 2.5],
        "at": "2027-03-05T10:00+00:00",
        "severity": "stop",
    }


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (time(8, 30), "08:30:00"),
        (PurePosixPath("a/b.stl"), "a/b.stl"),
        (frozenset({"b", "a"}), ["a", "b"]),
        ({"x": None, "y": 1}, {"y": 1}),
        (float("inf"), None),
        (True, True),
    ],
)
def test_other_values_have_a_plain_form(value: object, expected: object) -> None:
    assert plain(value) == expected


def test_what_has_no_plain_form_is_our_bug() -> None:
    with pytest.raises(TypeError, match="complex"):
        plain(1j)


def test_a_model_is_written_field_by_field() -> None:
    data = plain(Studio(name="Quillmere Studio"))
    assert data["name"] == "Quillmere Studio"
    assert data["kiln"]["segments_count"] == 8
    assert "crucible_cm3" not in data["melting"]


def test_bytes_are_readable_json_in_any_script() -> None:
    finding = Finding(code="x", severity=Severity.NOTE, where="piece Å", says="指輪", do="")
    text = to_bytes(plain(finding))
    assert "指輪".encode() in text
    assert json.loads(text)["where"] == "piece Å"
    assert text.endswith(b"\n")
