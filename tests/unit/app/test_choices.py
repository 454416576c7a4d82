"""What can be chosen on the desk: the library's rows, or the studio's own."""

import subprocess
import sys

import pytest

from pourwell.app.choices import choices
from pourwell.errors import BadDataError


def test_without_a_studio_file_the_whole_library_can_be_chosen(tmp_path):
    lists = choices(tmp_path)
    assert len(lists.alloys) >= 20
    assert ("sterling-925", lists.alloy_name("sterling-925")) in lists.alloys
    assert len(lists.flasks) >= 6
    assert all(name.endswith(("mm", "perforated")) for _, name in lists.flasks)
    assert f"{lists.work_from:%H:%M}" == "08:00"


def test_the_studio_s_own_flasks_are_the_flasks(tmp_path):
    (tmp_path / "studio.toml").write_text('name = "Quillmere"\nflasks = ["76x100", "64x64"]\n', encoding="utf-8")
    lists = choices(tmp_path)
    assert lists.studio == "Quillmere"
    assert [flask for flask, _ in lists.flasks] == ["64x64", "76x100"]


def test_only_what_is_printed_is_a_resin_the_studio_s_own_among_them(tmp_path):
    (tmp_path / "patterns").mkdir()
    row = 'id = "mine"\nfamily = "{}"\nname = "Quillmere {}"\ndensity_g_per_cm3 = 1.1\n'
    (tmp_path / "patterns" / "mine.toml").write_text(row.format("resin", "resin"), encoding="utf-8")
    (tmp_path / "patterns" / "block.toml").write_text(row.replace("mine", "block").format("wax", "wax"), encoding="utf-8")
    lists = choices(tmp_path)
    resins = dict(lists.resins)
    assert resins["mine"] == "Quillmere resin"
    assert "resin" in resins
    assert not {"block", "wax-carving", "wax-injection", "wax-sprue"} & set(resins)
    assert set(lists.resins) < set(lists.materials)


def test_a_studio_file_that_says_what_it_must_not_is_told(tmp_path):
    (tmp_path / "studio.toml").write_text("altitude = 3\n", encoding="utf-8")
    with pytest.raises(BadDataError, match="altitude"):
        choices(tmp_path)


def test_a_name_that_is_not_known_is_shown_as_it_is(tmp_path):
    assert choices(tmp_path).alloy_name("own-mix") == "own-mix"


def test_the_process_of_the_pages_loads_nothing_that_computes():
    """The first page waits for none of it, and its memory is kept for patterns."""
    loaded = (
        "import sys, pourwell.app.desk, pourwell.app.desk_form, pourwell.web.server, pourwell.web.desk.pages;"
        "print([m for m in ('numba', 'scipy', 'trimesh', 'manifold3d', 'ortools', 'typst', 'matplotlib') if m in sys.modules])"
    )
    said = subprocess.run([sys.executable, "-W", "ignore", "-c", loaded], capture_output=True, text=True, check=True, timeout=120)
    assert said.stdout.strip() == "[]", said.stdout
