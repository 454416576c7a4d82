"""How a pattern is printed, as a page shows it: the figures of the command line, the piece on the plate, letters at its places."""

import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwell.app.desk_words import AFTER, STILL_AFTER, GivenPattern, way_still
from pourwell.app.letters import letter
from pourwell.app.print_view import lettered, print_pattern, standing, turn_of
from pourwell.app.printing import print_file
from pourwell.app.shop import open_shop
from pourwell.errors import BadRequestError
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.shapes import plain_band
from pourwell.steps.pattern.print_checks import place
from pourwell.steps.pattern.print_model import Way
from tests.unit.geometry.distance_samples import box, icosphere
from tests.unit.geometry.printed_samples import block, cup, mesh, stl_file, table, turn_by

LYING = Way(
    direction=(0, 0, 1), words="lying", turn_x_deg=0, turn_y_deg=0, height_mm=1, print_min=1, islands_count=0, cups_count=0,
    proud_mm=0, under_fraction=0, held_mm3=0, hidden_mm2=0,
)  # fmt: skip
OPTION = re.compile(r"(?<![\w-])--[a-z]|studio\.toml|patterns/\*|`pourwell")


def silent(_):
    """Tell nobody."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A studio with a printer and a resin of its own, and files to print."""
    folder = tmp_path_factory.mktemp("studio")
    (folder / "studio.toml").write_text('[printer]\nlayer_mm = 0.1\nstand_mm = 3\ncurrency = "EUR"\n', encoding="utf-8")
    (folder / "patterns").mkdir()
    row = 'id = "dear"\nfamily = "resin"\nname = "Quillmere resin"\ndensity_g_per_cm3 = 1.1\nprice_per_kg = 250\n'
    (folder / "patterns" / "dear.toml").write_text(row, encoding="utf-8")
    stl_file(folder / "table.stl", table(legs=[(0, 0, 0), (9, 5, 0), (4, 2, 2.0)]))
    stl_file(folder / "cup.stl", cup())
    stl_file(folder / "band.stl", plain_band())
    return folder


def shown(folder, file, **more):
    pattern = GivenPattern(path=folder / file, file=file, name="Piece", units="")
    wanted = {"material": "resin", "layer_mm": None, "direction": None, **more}
    return print_pattern(folder, pattern, wanted, tell=silent)


@pytest.fixture(scope="module")
def stood(folder):
    """The table with its short leg, upright."""
    return shown(folder, "table.stl", direction="0,0,1")


@pytest.mark.parametrize(
    ("file", "asked"),
    [
        ("band.stl", {}),
        ("table.stl", {"direction": "0,0,1"}),
        ("cup.stl", {"material": "dear", "layer_mm": 0.05, "direction": "1,2,-1"}),
    ],
)
def test_the_figures_are_those_of_the_command_line_on_the_same_file(folder, file, asked):
    ask = {"material": "resin", "layer_mm": None, "direction": None, **asked}
    line = print_file(
        str(folder / file), pattern=ask["material"], units=None, layer_mm=ask["layer_mm"], direction=ask["direction"], tell=silent,
        shop=open_shop(folder),
    )  # fmt: skip
    data, plan = shown(folder, file, **ask)["data"], line.plan
    assert [figure.replace(" %", "%") for _, figure, _ in data["rows"]] == [figure for _, figure, _ in line.rows[2:]]
    assert data["time"]["print_min"] == pytest.approx(plan.time.print_min)
    assert data["time"]["layers_count"] == plan.time.layers_count
    assert data["resin"]["used_g"] == pytest.approx(plan.resin.used_g)
    assert data["resin"].get("cost_money") == (plan.resin.cost_money and pytest.approx(plan.resin.cost_money))
    first, *others = data["ways"]
    assert (first["words"], first["turn_x_deg"]) == (plan.way.words, pytest.approx(plan.way.turn_x_deg, abs=1e-3))
    assert [(one["words"], one["time"]) for one in others] == [(words, time) for words, time, _ in line.other_rows]
    assert all(measures.endswith(one["asked"]) for one, (_, _, measures) in zip(others, line.other_rows, strict=True))
    assert [one["code"] for one in data["findings"]] == [one.code for one in line.findings]
    assert data["cautions"] == list(plan.cautions)
    assert len(data["assumed"]) == len(plan.assumed)


def test_the_piece_stands_on_its_supports_over_the_plate_with_its_direction_up(folder):
    """3 mm of supports under a cup that lies on its side, 10 mm across; its middle over that of the plate."""
    answer = shown(folder, "cup.stl", direction="1,0,0")
    points = np.frombuffer(answer["files"][AFTER], "<f4", 9 * answer["data"]["head"]["shown_count"]).reshape(-1, 3)
    low, high = points.min(axis=0), points.max(axis=0)
    assert low[2] == pytest.approx(3.0, abs=1e-5)
    assert high[2] == pytest.approx(13.0, abs=0.01)
    assert low[:2] + high[:2] == pytest.approx((0, 0), abs=1e-4)
    assert answer["data"]["head"]["plate"]["radius_mm"] > np.linalg.norm(points[:, :2], axis=1).max()


@pytest.mark.parametrize("direction", [(0, 0, 1), (0, 0, -1), (1, 0, 0), (0, -1, 0), (0.48, -0.6, 0.64), (-0.36, 0.48, -0.8)])
def test_the_two_turns_bring_a_direction_up(direction):
    """The turns that a user types, about x first (Rodrigues' formula in the samples), bring the direction along z."""
    up = np.array(direction)
    x, y, z = direction
    turns = {"turn_x_deg": np.degrees(np.arctan2(y, z)), "turn_y_deg": np.degrees(np.arctan2(-x, np.hypot(y, z)))}
    way = replace(LYING, direction=direction, **turns)
    turn = turn_of(way)
    apart = turn_by((0, 1, 0), np.radians(way.turn_y_deg)) @ turn_by((1, 0, 0), np.radians(way.turn_x_deg))
    assert turn == pytest.approx(apart)
    assert turn @ up == pytest.approx((0, 0, 1))
    frame = standing(cup(), way, stand_mm=2.0)
    assert (cup().vertices @ frame[:3, :3].T + frame[:3, 3])[:, 2].min() == pytest.approx(2.0)


def test_what_begins_in_mid_air_bears_a_letter_at_its_place_and_so_does_its_finding(stood):
    """The short leg begins 2 mm up over the middle of the table's 10 x 6 mm; the plate's middle is the table's."""
    data = stood["data"]
    first = data["places"][0]
    assert (first["letter"], first["says"]) == ("A", "Begins in mid-air, 2.00 mm up")
    assert first["at_mm"] == pytest.approx((4.5 - 5, 2.5 - 3, 3 + 2.05), abs=0.01)
    assert first["in_file"] == "x 4.5, y 2.5, z 2.1", "in the middle of its first layer of 0.1 mm"
    (found,) = data["findings"]
    assert (found["code"], found["letter"], found["where"]) == ("print-island", "A", "its place")
    assert "2.00 mm up, at A, grows to" in found["says"].replace("\xa0", " ")
    assert "{l:2.00} up, at A, grows to" in found["marked"]["says"]


def test_the_largest_ceiling_and_the_most_of_what_needs_supports_bear_letters(stood):
    """Both are the underside of the table's top, 5 mm up: one place, one letter."""
    told = {one["letter"]: one for one in stood["data"]["places"]}
    (mine,) = (one for one in told.values() if "ceiling" in one["says"])
    assert mine["at_mm"][2] == pytest.approx(3 + 5)
    rows = {name: remark for name, _, remark in stood["data"]["rows"]}
    assert rows["largest ceiling"].endswith(f"at {mine['letter']}")
    figures = {name: figure for name, figure, _ in stood["data"]["rows"]}
    assert figures["needs supports"] == f"{stood['data']['supports']['under_mm2']:.0f} mm²"
    assert rows["needs supports"].startswith("undersides flatter than 30° to the level, most at ")


def test_undersides_are_coloured_by_how_flat_they_lie_and_nothing_that_looks_up(folder):
    """A box of 10 x 6 x 1 mm on legs: level undersides are 0 degrees from the level; faces that look up have no value."""
    answer = shown(folder, "table.stl", direction="0,0,1")
    head = answer["data"]["head"]
    under, steps = head["fields"]
    assert (under["name"], under["limit"], steps["name"]) == ("under", 30, "steps")
    count = 3 * head["shown_count"]
    values = np.frombuffer(answer["files"][AFTER], "<f4", count, offset=under["offsets"][0])
    assert set(np.round(values, 3)) == {0.0, -1e6}
    assert np.frombuffer(answer["files"][AFTER], "<f4", count, offset=steps["offsets"][0]).max() == 0


def test_each_way_has_its_picture(stood):
    count = len(stood["data"]["ways"])
    assert set(stood["files"]) == {AFTER, STILL_AFTER, *(way_still(k) for k in range(count))}
    assert count > 1
    assert all(content.startswith(b"\x89PNG") for name, content in stood["files"].items() if name != AFTER)


def test_a_page_says_nothing_of_the_command_line_or_of_files(folder, stood):
    closed = shown(folder, "cup.stl", direction="0,0,-1")["data"]
    said = [text for data in (stood["data"], closed) for one in data["findings"] for text in (one["says"], one["do"])]
    said += [remark for data in (stood["data"], closed) for _, _, remark in data["rows"]]
    assert said
    assert [text for text in said if OPTION.search(text)] == []


def test_the_printer_s_figures_that_nobody_entered_are_named_as_its_page_does(stood):
    assert stood["data"]["assumed"] == [
        "light on a layer 2.5 s",
        "all else of a layer 7 s",
        "first layers 5",
        "light on these 30 s",
    ]


def test_letters_stand_only_for_places_that_bear_one():
    letters = {"x 1, y -2.5, z 3": "B"}
    assert lettered("most near x 1, y -2.5, z 3.", letters) == "most at B."
    assert lettered("near x 1, y -2.5, z 3.4, up", letters) == "near x 1, y -2.5, z 3.4, up"


def test_what_is_not_printed_is_refused(folder):
    with pytest.raises(BadRequestError, match="not printed"):
        shown(folder, "cup.stl", material="wax-injection")


# ---- what else may be wrong with it, and what all of it has in common


@pytest.mark.parametrize("file", ["band.stl", "table.stl", "cup.stl"])
def test_all_letters_are_different_in_their_order_and_at_places_of_the_solid(folder, file):
    data = shown(folder, file)["data"]
    letters = [one["letter"] for one in data["places"]]
    assert letters == [letter(k) for k in range(len(letters))]
    assert len({one["in_file"] for one in data["places"]}) == len(letters)
    radius, high = data["head"]["plate"]["radius_mm"], data["ways"][0]["height_mm"]
    for one in data["places"]:
        x, y, z = one["at_mm"]
        assert np.hypot(x, y) <= radius
        assert 3 - 1e-6 <= z <= 3 + high + 0.1, "on 3 mm of supports"


@given(st.tuples(*(st.floats(-300, 300) for _ in range(3))))
def test_a_place_is_known_again_in_a_sentence_whatever_its_figures(at):
    """What findings and rows write of a place is what a letter is put for."""
    assert lettered(f"most near {place(at)}, it is", {place(at): "K"}) == "most at K, it is"
    assert lettered(f"near {place(at)}.", {place(at): "K"}) == "at K."


@given(st.tuples(*(st.floats(-1, 1) for _ in range(3))).filter(lambda d: np.linalg.norm(d) > 0.1))
def test_whatever_the_direction_two_turns_bring_it_up_and_mirror_nothing(direction):
    x, y, z = np.array(direction) / np.linalg.norm(direction)
    way = replace(LYING, turn_x_deg=np.degrees(np.arctan2(y, z)), turn_y_deg=np.degrees(np.arctan2(-x, np.hypot(y, z))))
    turn = turn_of(way)
    assert turn @ (x, y, z) == pytest.approx((0, 0, 1), abs=1e-12)
    assert np.linalg.det(turn) == pytest.approx(1)
    assert turn @ turn.T == pytest.approx(np.eye(3), abs=1e-12)


def test_a_mesh_that_is_no_solid_stops_and_its_stand_in_is_shown(folder):
    whole = icosphere(4.0, halvings=2)
    stl_file(folder / "shell.stl", Mesh(whole.vertices, whole.faces[3:]))
    data = shown(folder, "shell.stl")["data"]
    (stop,) = (one for one in data["findings"] if one["severity"] == "stop")
    assert stop["code"] == "print-unsound"
    assert stop["letter"] == ""
    assert stop["do"] == "See on its own page what was found, mend it there and look again before you print."
    assert data["head"]["triangle_count"] == len(whole.faces), "its hole of five sides is closed by three triangles"


def test_a_size_that_no_piece_has_stops_and_sends_to_the_page_of_the_pattern(folder):
    stl_file(folder / "speck.stl", box((0, 0, 0), (0.02, 0.01, 0.02)))
    data = shown(folder, "speck.stl")["data"]
    assert [one["code"] for one in data["findings"] if one["severity"] == "stop"] == ["print-units"]
    assert data["findings"][0]["do"] == "Say the unit of the file on the page of the pattern."
    assert "{l:" in data["findings"][0]["marked"]["says"]


def test_a_hollow_that_is_closed_all_round_bears_a_letter_in_its_middle(folder):
    """A box of 10 mm with a room of 6 in its middle: 216 mm³ of resin, 8 mm over the plate on 3 mm of supports."""
    stl_file(folder / "box.stl", mesh(block((0, 0, 0), (10, 10, 10)) - block((2, 2, 2), (8, 8, 8))))
    data = shown(folder, "box.stl", direction="0,0,1")["data"]
    (found,) = (one for one in data["findings"] if one["code"] == "print-cup")
    mine = next(one for one in data["places"] if one["letter"] == found["letter"])
    assert mine["says"].startswith("A hollow that is closed all round, 216.0 mm³")
    assert mine["at_mm"] == pytest.approx((0, 0, 3 + 5), abs=0.11)
    assert f"at {found['letter']}" in found["says"]


def test_each_of_many_parts_in_mid_air_bears_a_letter_though_a_sentence_names_three(folder):
    legs = [(0, 0, 0), *((2.0 * k, 2.0, 1.0 + 0.5 * k) for k in range(1, 5))]
    stl_file(folder / "legs.stl", table(legs=legs))
    data = shown(folder, "legs.stl", direction="0,0,1")["data"]
    assert [one["letter"] for one in data["places"] if one["says"].startswith("Begins in mid-air")] == ["A", "B", "C", "D"]
    (found,) = (one for one in data["findings"] if one["code"] == "print-island")
    assert "and 1 more" in found["says"]
    assert all(f"at {mine}, grows" in found["says"] for mine in "ABC")


def test_a_cleaner_way_is_named_in_words_and_stands_in_the_table(folder, stood):
    (found,) = stood["data"]["findings"]
    cleaner = found["do"].rpartition("stand: ")[2].removesuffix(".")
    assert cleaner in [one["words"] for one in stood["data"]["ways"][1:]]
    taken = next(one for one in stood["data"]["ways"] if one["words"] == cleaner)
    again = shown(folder, "table.stl", direction=taken["asked"])["data"]
    assert again["ways"][0]["words"] == cleaner
    assert not [one for one in again["findings"] if one["code"] == "print-island"]


def test_a_file_in_another_unit_is_larger_and_takes_more(folder):
    pattern = GivenPattern(path=folder / "cup.stl", file="cup.stl", name="Cup", units="inch")
    wanted = {"material": "resin", "layer_mm": 0.5, "direction": "0,0,1"}
    inch = print_pattern(folder, pattern, wanted, tell=silent)["data"]
    mm = shown(folder, "cup.stl", layer_mm=0.5, direction="0,0,1")["data"]
    assert inch["resin"]["used_g"] == pytest.approx(25.4**3 * mm["resin"]["used_g"], rel=1e-4)
    assert inch["ways"][0]["height_mm"] == pytest.approx(25.4 * 6, rel=1e-6)


def test_each_stage_is_told_under_the_file_s_own_name(folder):
    said = []
    pattern = GivenPattern(path=folder / "band.stl", file="../Dove band.stl", name="Dove", units="")
    print_pattern(folder, pattern, {"material": "resin", "layer_mm": None, "direction": "0,1,0"}, tell=said.append)
    assert said == ["Reading Dove band.stl", "Comparing ways to stand for Dove band.stl", "Drawing it"]


def test_where_a_printer_is_entered_nothing_is_assumed(tmp_path):
    keys = "layer_mm = 0.1\nlight_s = 2\nlift_s = 6\nbottom_layers_count = 4\nbottom_light_s = 20\nstand_mm = 0\n"
    (tmp_path / "studio.toml").write_text(f"[printer]\n{keys}", encoding="utf-8")
    stl_file(tmp_path / "cup.stl", cup())
    answer = shown(tmp_path, "cup.stl", direction="0,0,1")
    assert answer["data"]["assumed"] == []
    points = np.frombuffer(answer["files"][AFTER], "<f4", 9 * answer["data"]["head"]["shown_count"]).reshape(-1, 3)
    assert points[:, 2].min() == pytest.approx(0, abs=1e-6), "it lies on the plate itself"
