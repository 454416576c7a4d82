"""What the commands print for programs is headed by its schema and version."""

import re

import pytest

from pourwell.files.plan_json import SCHEMA_VERSION, document
from pourwell.geometry.shapes import plain_band
from tests.rules.source import ROOT
from tests.unit.geometry.printed_samples import stl_file


@pytest.fixture
def band(tmp_path):
    return stl_file(tmp_path / "band.stl", plain_band())


def headed(data, name):
    assert list(data)[:2] == ["schema", "schema_version"]
    assert (data["schema"], data["schema_version"]) == (f"pourwell.{name}", SCHEMA_VERSION)


def documented(data, name):
    """Every key of a command's data stands in its section of the page."""
    page = (ROOT / "docs" / "plan-format.md").read_text(encoding="utf-8")
    section = page.split(f"## `{name}`\n", 1)[1].split("\n## ", 1)[0]
    told = set(re.findall(r"`([a-z0-9_]+)(?:\[\])?`", section))
    assert set(data) - told == set()


def test_every_checked_file_is_a_document_by_itself(pourwell, band):
    both = pourwell("check", band, band, "--json").data
    assert len(both) == 2
    for one in both:
        headed(one, "check")
        documented(one, "check")
        assert one["piece"]["file"] == "band.stl"


@pytest.mark.parametrize(
    ("name", "more"), [("mend", ()), ("fit", ("--size", "US 7")), ("print", ("--direction", "0,0,1", "--layer", "0.1"))]
)
def test_what_is_said_of_a_file_is_headed(pourwell, band, name, more):
    data = pourwell(name, band, *more, "--json").data
    headed(data, name)
    documented(data, name)


def test_a_burnout_is_headed_and_tells_each_size(pourwell):
    data = pourwell("burnout", "76x100", "50x60", "50x60", "--flask-c", "540", "--start", "2030-05-17 08:00", "--json").data
    headed(data, "burnout")
    assert [(one["label"], one["count"]) for one in data["sizes"]] == [("50x60", 2), ("76x100", 1)]
    small, large = (one["heat_kwh"]["likely"] for one in data["sizes"])
    assert small < large


def test_a_size_is_headed(pourwell):
    data = pourwell("size", "US 7", "--json").data
    headed(data, "size")
    assert data["diameter_mm"] == pytest.approx(17.32, abs=0.01)


def test_a_document_holds_plain_data_in_the_order_given():
    assert list(document("check", {"b": (1, 2), "a": 0})) == ["schema", "schema_version", "b", "a"]
    assert document("check", {"b": (1, 2)})["b"] == [1, 2]
