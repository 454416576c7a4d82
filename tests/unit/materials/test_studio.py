"""The studio: what it says, what is assumed for it, and its flasks from two places."""

from datetime import time
from pathlib import Path

import pytest

from pourwell.errors import BadDataError, BadRequestError
from pourwell.materials.library import load_library
from pourwell.materials.studio import HARMLESS, STUDIO_FILE, Printer, Studio, dotted, load_studio

QUILLMERE = Path(__file__).parents[3] / "docs" / "studio.md"


def studio(folder, text):
    (folder / "studio.toml").write_text(text, encoding="utf-8")
    return load_studio(folder)


@pytest.mark.parametrize("folder", [None, "empty"])
def test_without_a_file_everything_is_assumed(tmp_path, folder):
    loaded = load_studio(tmp_path if folder else None)
    assert loaded == Studio()
    assert loaded.given == frozenset()
    assert {"kiln.error_k", "casting.way", "bases", "flasks", "altitude_m"} <= set(loaded.assumed)


def test_what_is_given_is_no_longer_assumed(tmp_path):
    loaded = studio(tmp_path, "altitude_m = 1500\n[kiln]\nsegments_count = 0\n")
    assert (loaded.altitude_m, loaded.kiln.segments_count, loaded.kiln.error_k) == (1500, 0, Studio().kiln.error_k)
    assert loaded.is_given("kiln.segments_count")
    assert not loaded.is_given("kiln.error_k")
    assert {"altitude_m", "kiln.segments_count"}.isdisjoint(loaded.assumed)
    assert "kiln.error_k" in loaded.assumed


def test_a_value_given_as_the_default_counts_as_given(tmp_path):
    loaded = studio(tmp_path, f"altitude_m = {Studio().altitude_m}\n")
    assert "altitude_m" not in loaded.assumed


def test_nobody_is_asked_for_what_changes_no_figure(tmp_path):
    assert HARMLESS.isdisjoint(load_studio(tmp_path).assumed)


def test_dotted_names_reach_every_depth():
    assert dotted({"a": 1, "b": {"c": {"d": 2}}, "e": [{"f": 1}]}) == {"a", "b", "b.c", "b.c.d", "e"}


def test_hours_are_read_as_the_bench_writes_them(tmp_path):
    loaded = studio(tmp_path, 'work_from = "07:30"\nwork_to = 16:00:00\n')
    assert (loaded.work_from, loaded.work_to) == (time(7, 30), time(16))


def test_a_time_zone_is_known_or_refused(tmp_path):
    assert str(studio(tmp_path, 'time_zone = "Europe/Lisbon"\n').zone) == "Europe/Lisbon"
    assert Studio().zone is None
    with pytest.raises(BadDataError, match='"Lisbon" is not a time zone; write one such as "Europe/Lisbon"'):
        studio(tmp_path, 'time_zone = "Lisbon"\n')


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("given = []\n", "given: unknown key"),
        ("[kiln]\nfall_c_per_h = 0\n", "kiln.fall_c_per_h: Input should be greater than 0"),
        ("[kiln]\nfall_per_h = 100\n", r"kiln.fall_per_h: unknown key \(nearest: fall_c_per_h"),
        ('work_from = "19:00"\nwork_to = "08:00"\n', "work_from 19:00 is not before work_to 08:00"),
        ('[casting]\nway = "vacum"\n', "casting.way: Input should be 'vacuum'"),
        ("flasks = 3\n", "flasks: Input should be a valid tuple"),
        ("flasks = [3]\n", "flasks.0: Input should be a valid dictionary"),
        ('flasks = ["76x101"]\n', 'flasks: No flask is called "76x101". Did you mean "76x10'),
        ('flasks = ["76x100", "76x100"]\n', 'flasks: the id "76x100" stands twice'),
        ("name = \n", "is not a TOML file"),
    ],
)
def test_a_wrong_studio_is_refused_with_file_key_and_reason(tmp_path, text, said):
    with pytest.raises(BadDataError, match=said) as err:
        studio(tmp_path, text)
    assert str(tmp_path / "studio.toml") in str(err.value)


def test_flasks_may_be_listed_by_the_id_of_a_shipped_row(tmp_path):
    loaded = studio(tmp_path, 'flasks = ["64x64", "89x102"]\n')
    assert loaded.flasks == (load_library().flask("64x64"), load_library().flask("89x102"))


def test_flasks_may_be_listed_with_their_size(tmp_path):
    loaded = studio(tmp_path, 'flasks = ["64x64", { diameter_mm = 70, height_mm = 90, wall_mm = 2, mark = "B" }]\n')
    assert [(f.id, f.mark) for f in loaded.flasks] == [("64x64", ""), ("70x90", "B")]


def test_flasks_of_the_folder_are_the_studios_too(tmp_path):
    (tmp_path / "flasks").mkdir()
    (tmp_path / "flasks" / "tall.toml").write_text("diameter_mm = 60\nheight_mm = 120\nwall_mm = 1.5\n", encoding="utf-8")
    assert [f.id for f in load_studio(tmp_path).flasks] == ["60x120"]
    assert "flasks" not in load_studio(tmp_path).assumed
    assert [f.id for f in studio(tmp_path, 'flasks = ["64x64", "60x120"]\n').flasks] == ["64x64", "60x120"]


def test_the_example_of_the_manual_is_a_studio(tmp_path):
    """docs/studio.md shows one whole studio.toml; it must load, and say everything."""
    text = QUILLMERE.read_text(encoding="utf-8").partition("```toml\n")[2].partition("```")[0]
    loaded = studio(tmp_path, text)
    assert loaded.name == "Quillmere Studio"
    assert loaded.assumed == ()


def test_the_manual_names_every_key_of_the_studio():
    page = QUILLMERE.read_text(encoding="utf-8")
    printer = [f"printer.{name}" for name in Printer.model_fields]
    missing = [name for name in (*Studio().assumed, *printer, *sorted(HARMLESS - {"given", "measured"})) if f"`{name}`" not in page]
    assert missing == []


def test_a_plan_of_a_casting_asks_for_no_figure_of_the_printer():
    assert not [name for name in Studio().assumed if name.startswith("printer")]


def test_what_the_printer_is_not_told_is_assumed_for_printing(tmp_path):
    assert "light_s" in studio(tmp_path, "").printer_assumed
    told = studio(tmp_path, "[printer]\nlight_s = 3\nstand_mm = 0\n")
    assert told.printer.light_s == 3
    assert told.printer_assumed == ("layer_mm", "lift_s", "bottom_layers_count", "bottom_light_s")


def test_what_changes_no_figure_of_a_print_is_not_assumed():
    assert {"width_mm", "depth_mm", "height_mm", "currency"}.isdisjoint(Studio().printer_assumed)


@pytest.mark.parametrize(
    "line",
    [
        "layer_mm = 0",
        "layer_mm = 2",
        "light_s = 0",
        "lift_s = -1",
        "bottom_layers_count = -1",
        "stand_mm = -1",
        "width_mm = 0",
        "x = 1",
    ],
)
def test_a_printer_that_cannot_be_is_refused(tmp_path, line):
    with pytest.raises(BadDataError, match=line.partition(" ")[0]):
        studio(tmp_path, f"[printer]\n{line}\n")


@pytest.mark.parametrize("text", ['name = "one\\ntwo"', '[kiln]\nname = "one\\ntwo"'])
def test_a_name_with_a_line_break_is_refused(tmp_path, text):
    with pytest.raises(BadDataError, match="name: a line break"):
        studio(tmp_path, text)


KILNS = """
[[kilns]]
name = "large"
fall_c_per_h = 90

[[kilns]]
name = "small"
segments_count = 0
"""


def test_a_plan_may_name_the_kiln_that_it_is_fired_in(tmp_path):
    (tmp_path / STUDIO_FILE).write_text(KILNS, encoding="utf-8")
    studio = load_studio(tmp_path)
    assert studio.in_kiln(None) is studio
    assert studio.in_kiln("large") is studio
    small = studio.in_kiln("small")
    assert (small.kiln.name, small.kiln.segments_count, small.kilns) == ("small", 0, studio.kilns)
    assert ("kiln.fall_c_per_h" in studio.assumed, "kiln.fall_c_per_h" in small.assumed) == (False, True)
    assert ("kiln.segments_count" in studio.assumed, "kiln.segments_count" in small.assumed) == (True, False)
    with pytest.raises(BadRequestError, match='No kiln is called "old"') as refused:
        studio.in_kiln("old")
    assert '"large", "small"' in refused.value.why
    with pytest.raises(BadRequestError, match="No kiln is called"):
        Studio().in_kiln("small")


def test_what_was_measured_in_the_first_kiln_is_not_said_of_another(tmp_path):
    (tmp_path / STUDIO_FILE).write_text(KILNS.replace("fall_c_per_h = 90\n", ""), encoding="utf-8")
    studio = load_studio(tmp_path).model_copy(update={"measured": frozenset({"kiln.fall_c_per_h"})})
    assert "kiln.fall_c_per_h" not in studio.assumed
    assert "kiln.fall_c_per_h" in studio.in_kiln("small").assumed
