"""Own TOML files changed at one key: comments and order stay, nothing of another hand is lost, a file is whole or as it was."""

import os
import stat
import sys

import pytest

from pourwell.errors import BadDataError, OutputError
from pourwell.files import own_toml
from pourwell.files.own_toml import ABSENT, ChangedOutsideError, add_to_list, bring_back, change, set_aside, table_of, value_at

STUDIO = """\
# ours
name = "Quillmere"   # on every sheet

flasks = [
    "64x64",   # the small one
    { diameter_mm = 89.5, height_mm = 102, wall_mm = 2.2 },  # the big one
]

[kiln]
# timed in May
fall_c_per_h = 110   # from 732 to 550
error_k = 4
"""


@pytest.fixture
def path(tmp_path):
    made = tmp_path / "studio.toml"
    made.write_text(STUDIO, encoding="utf-8")
    return made


def test_one_figure_is_changed_and_every_other_letter_stays(path):
    change(path, {("kiln", "fall_c_per_h"): 125.0})
    assert path.read_text(encoding="utf-8") == STUDIO.replace("fall_c_per_h = 110 ", "fall_c_per_h = 125 ")


def test_a_key_inside_a_list_is_changed_in_its_line(path):
    change(path, {("flasks", 1, "wall_mm"): 2.5})
    assert path.read_text(encoding="utf-8") == STUDIO.replace("wall_mm = 2.2", "wall_mm = 2.5")


def test_a_key_and_its_table_are_made_where_they_are_missing_and_go_again(path):
    change(path, {("kiln", "hot_spot_k"): 2, ("shown", "weight"): "dwt"})
    assert table_of(path)["kiln"]["hot_spot_k"] == 2
    assert table_of(path)["shown"] == {"weight": "dwt"}
    change(path, {("kiln", "hot_spot_k"): ABSENT, ("shown", "weight"): ABSENT})
    assert table_of(path)["shown"] == {}
    assert path.read_text(encoding="utf-8").startswith(STUDIO.rstrip())
    change(path, {("nothing", "here"): ABSENT})
    assert "nothing" not in table_of(path)


def test_what_stands_there_already_writes_nothing(path):
    before = path.stat().st_mtime_ns
    change(path, {("kiln", "error_k"): 4.0})
    assert path.stat().st_mtime_ns == before


def test_another_key_changed_outside_meanwhile_is_kept(path):
    path.write_text(STUDIO.replace("error_k = 4", "error_k = 3  # new thermocouple"), encoding="utf-8")
    change(path, {("kiln", "fall_c_per_h"): 125}, was={("kiln", "fall_c_per_h"): 110})
    assert "error_k = 3  # new thermocouple" in path.read_text(encoding="utf-8")
    assert table_of(path)["kiln"]["fall_c_per_h"] == 125


@pytest.mark.parametrize(("now", "words"), [("fall_c_per_h = 90", "the file says 90 now"), ("", "it is not in the file any more")])
def test_the_same_key_changed_outside_is_refused_with_what_it_says_now(path, now, words):
    outside = STUDIO.replace("fall_c_per_h = 110   # from 732 to 550", now)
    path.write_text(outside, encoding="utf-8")
    with pytest.raises(ChangedOutsideError, match=words) as refused:
        change(path, {("kiln", "fall_c_per_h"): 125, ("name",): "Other"}, was={("kiln", "fall_c_per_h"): 110})
    assert "Enter yours again" in str(refused.value)
    assert path.read_text(encoding="utf-8") == outside


def test_two_hands_that_write_the_same_are_of_one_mind(path):
    path.write_text(STUDIO.replace("= 110 ", "= 125 "), encoding="utf-8")
    change(path, {("kiln", "fall_c_per_h"): 125}, was={("kiln", "fall_c_per_h"): 110})
    assert table_of(path)["kiln"]["fall_c_per_h"] == 125


def test_a_change_in_the_very_moment_of_writing_begins_anew_with_it(path):
    turns = []

    def check(_table):
        turns.append(1)
        if len(turns) == 1:  # another program writes between our reading and our writing
            path.write_text(STUDIO.replace('"Quillmere"', '"Heddle"'), encoding="utf-8")

    change(path, {("kiln", "error_k"): 5}, check=check)
    assert len(turns) == 2
    assert table_of(path)["name"] == "Heddle"
    assert table_of(path)["kiln"]["error_k"] == 5


def test_a_file_that_never_rests_is_told_and_left(path):
    def check(_table):
        path.write_text(path.read_text(encoding="utf-8") + "# again\n", encoding="utf-8")

    with pytest.raises(OutputError, match="changed by another program all the time"):
        change(path, {("kiln", "error_k"): 5}, check=check)
    assert table_of(path)["kiln"]["error_k"] == 4


def test_what_the_check_refuses_is_not_written(path):
    def check(table):
        assert table["kiln"]["error_k"] == -1
        raise BadDataError("No.")

    with pytest.raises(BadDataError):
        change(path, {("kiln", "error_k"): -1}, check=check)
    assert path.read_text(encoding="utf-8") == STUDIO


def test_a_fall_in_mid_writing_leaves_the_file_as_it_was_and_nothing_beside(path, monkeypatch):
    def falls(_handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", falls)
    with pytest.raises(OutputError, match="cannot be written"):
        change(path, {("kiln", "error_k"): 5})
    assert path.read_text(encoding="utf-8") == STUDIO
    assert [one.name for one in path.parent.iterdir()] == ["studio.toml"]


def test_it_is_on_the_disk_before_it_takes_the_name(path, monkeypatch):
    done = []
    monkeypatch.setattr(os, "fsync", lambda handle: done.append(table_of(path)["kiln"]["error_k"]))
    change(path, {("kiln", "error_k"): 5})
    assert done[0] == 4  # the content was put on the disk while the old file still stood


def test_line_ends_mark_and_rights_of_the_file_stay(path):
    path.write_bytes(b"\xef\xbb\xbf" + STUDIO.replace("\n", "\r\n").encode())
    path.chmod(0o600)
    change(path, {("kiln", "error_k"): 5, ("kiln", "segments_count"): 12})
    content = path.read_bytes()
    assert content.startswith(b"\xef\xbb\xbf#")
    assert content.count(b"\n") == content.count(b"\r\n")
    assert table_of(path)["kiln"]["segments_count"] == 12
    if sys.platform != "win32":
        assert stat.S_IMODE(path.stat().st_mode) == 0o600


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
def test_a_link_stays_a_link(path, tmp_path):
    there = tmp_path / "elsewhere.toml"
    path.rename(there)
    path.symlink_to(there)
    change(path, {("kiln", "error_k"): 5})
    assert path.is_symlink()
    assert table_of(there)["kiln"]["error_k"] == 5


def test_a_file_that_is_no_toml_is_told_and_left(path):
    path.write_text("name = \n", encoding="utf-8")
    with pytest.raises(BadDataError, match="is not a TOML file"):
        change(path, {("name",): "x"})
    assert path.read_text(encoding="utf-8") == "name = \n"


def test_a_missing_file_is_begun(tmp_path):
    change(tmp_path / "new" / "studio.toml", {("kiln", "error_k"): 4.5, ("days_off",): ["Sunday"]})
    assert table_of(tmp_path / "new" / "studio.toml") == {"kiln": {"error_k": 4.5}, "days_off": ["Sunday"]}


def test_tables_are_added_to_a_list_and_put_back_at_their_place(path):
    for fits in (50.0, 63.5, 76.0):
        add_to_list(path, ("bases",), {"fits_mm": fits})
    change(path, {("bases", 1): ABSENT})
    assert [base["fits_mm"] for base in table_of(path)["bases"]] == [50, 76]
    add_to_list(path, ("bases",), {"fits_mm": 63.5}, place=1)
    assert [base["fits_mm"] for base in table_of(path)["bases"]] == [50, 63.5, 76]
    assert "# timed in May" in path.read_text(encoding="utf-8")
    assert "\n\n[[bases]]" in path.read_text(encoding="utf-8")


def test_entries_of_a_list_in_line_come_and_go(path):
    change(path, {("flasks", 0): ABSENT})
    assert len(table_of(path)["flasks"]) == 1
    add_to_list(path, ("flasks",), "64x64", place=0)
    add_to_list(path, ("flasks",), {"diameter_mm": 50.0, "height_mm": 55.0, "wall_mm": 1.5}, place=9)
    listed = table_of(path)["flasks"]
    assert [listed[0], listed[2]["diameter_mm"]] == ["64x64", 50]
    assert "# the big one" in path.read_text(encoding="utf-8")


def test_true_is_no_number(path):
    change(path, {("kiln", "segments_count"): 1})
    change(path, {("kiln", "segments_count"): True})
    assert table_of(path)["kiln"]["segments_count"] is True


def test_a_value_that_is_not_there_is_absent(path):
    table = table_of(path)
    assert value_at(table, ("flasks", 1, "wall_mm")) == 2.2
    for key in (("flasks", 7), ("kiln", "x", "y"), ("name", "x"), ("kiln", 0)):
        assert value_at(table, key) is ABSENT
    assert repr(ABSENT) == "ABSENT"


def test_what_is_set_aside_comes_back_and_never_over_another(tmp_path):
    path = tmp_path / "alloys" / "house.toml"
    path.parent.mkdir()
    path.write_text("one", encoding="utf-8")
    there = set_aside(path, tmp_path)
    assert there.parent == tmp_path / own_toml.REMOVED / "alloys"
    assert not path.exists()
    path.write_text("two", encoding="utf-8")
    with pytest.raises(OutputError, match="there again"):
        bring_back(there, path)
    second = set_aside(path, tmp_path)
    assert second != there
    bring_back(there, path)
    assert path.read_text(encoding="utf-8") == "one"
    with pytest.raises(OutputError, match="cannot be brought back"):
        bring_back(there, tmp_path / "alloys" / "other.toml")
    with pytest.raises(OutputError, match="cannot be removed"):
        set_aside(tmp_path / "alloys" / "nothing.toml", tmp_path)
