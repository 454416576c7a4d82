"""How a plan freezes, as the desk shows it: triangles as the nearest cell has it, words with their places."""

from types import SimpleNamespace

import numpy as np
import pytest

from pourwell.app.freezing_view import freezing_page, freezing_view
from pourwell.app.shown import Shown
from pourwell.sheets.display import Display
from tests.unit.freeze.made import change, clock, freezing, pool
from tests.unit.sheets.frozen import FOOT_MM, HIGH, SOLID, block


def plan(*clocks, fields=None, **given):
    return SimpleNamespace(
        fields=block() if fields is None else fields,
        freezing=freezing(*clocks, **given),
        tree_cast=SOLID,
        flask=SimpleNamespace(diameter_mm=76.2, height_mm=101.6),
        quench=SimpleNamespace(way="water", low_min=9, high_min=15),
        pour=SimpleNamespace(vacuum_kpa=88.0),
        studio=SimpleNamespace(display="metric"),
    )


def numbers(view, head, name, which=0):
    field = next(f for f in head["fields"] if f["name"] == name)
    return np.frombuffer(view, dtype="<f4", count=3 * head["shown_count"], offset=field["offsets"][which])


def test_the_tree_bears_the_times_of_its_cells():
    """The block's cells are solid after 5 s and one more for each millimetre of height."""
    view, head = freezing_view(plan())
    places = np.frombuffer(view, dtype="<f4", count=9 * head["shown_count"]).reshape(-1, 3)
    end = numbers(view, head, "end")
    assert end.min() >= 15 - 1e-3
    assert end.max() <= 15 + HIGH - 1 + 1e-3
    top, foot = places[:, 2] > FOOT_MM + HIGH - 0.1, places[:, 2] < FOOT_MM + 0.1
    assert end[top].mean() > end[foot].mean() + HIGH - 3
    assert numbers(view, head, "local") == pytest.approx(0.75 * end, rel=1e-4)


def test_the_time_has_a_slider_and_the_flask_stands_round_it():
    _, head = freezing_view(plan())
    assert [f["slide"] for f in head["fields"] if f["name"] == "end"] == ["Time"]
    assert head["flask"] == {"diameter_mm": 76.2, "height_mm": 101.6}
    assert head["shown_count"] > len(SOLID.faces), "long edges are halved, or a cube's sides would have no times between"


def test_warnings_and_hot_spots_come_with_their_places():
    page = freezing_page(plan(clock(1), clock(2, "B", "cut off", void=(1.0, 3.4)), pools=(pool(1, 2),), changes=(change(),)))
    assert page["verdict"] == "Piece 2 is cut off from the button before it is solid."
    assert [one["at_mm"] for one in page["pools"]] == [[-26.0, 2.0, 26.0]]
    assert [one["at_mm"] for one in page["rows"]] == [[1.0, 2.0, 3.0]] * 2
    assert page["tried"][0]["lead"] == "Change:"
    assert page["fine"] is False
    assert {line["style"] for line in page["curves"]["lines"]} >= {"piece", "sprue", "button"}
    assert page["facts"][0][3].startswith("Hold the vacuum")


def test_words_keep_workshop_units_and_differences_marked_whatever_the_studio_prints_in():
    """27 degF are a difference of 15 K; read as a temperature they would be 59 degF."""
    printed_in_inches = plan(clock(1), curve="computed", curve_band_k=15.0)
    printed_in_inches.studio.display = "imperial"
    page = freezing_page(printed_in_inches)
    told = Shown(Display(temperature_in="F", length_in="inch")).text(page["source"]).replace("\u00a0", " ")
    assert told.endswith("either end within 27 °F.")
    assert page["curves"]["unit"] == "°C"
    assert " mm" in page["grid"]


def test_without_freezing_there_is_nothing():
    bare = plan()
    bare.fields = bare.freezing = None
    assert freezing_view(bare) is None
    assert freezing_page(bare) is None
