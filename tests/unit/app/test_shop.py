"""The studio's folder: where it lies, what it holds, and what is said when it does not say what it must."""

from pathlib import Path

import pytest

from pourwell.app.calibrating_keep import keep
from pourwell.app.shop import open_shop, studio_folder
from pourwell.errors import BadDataError, BadRequestError, UnknownNameError
from pourwell.materials.calibration import Calibration
from tests.unit.app.test_measuring import FLASK, KILN

OWN_ALLOY = """
id = "{id}"
name = "house silver"
like = "sterling-925"
composition_percent = {{ Ag = 93.0, Cu = 7.0 }}
solidus_c = 800
liquidus_c = 890
density_g_per_cm3 = 10.37
"""


def test_without_a_folder_the_defaults_of_a_small_studio_are_taken() -> None:
    shop = open_shop()
    assert shop.folder is None
    assert shop.studio.name == "Studio"
    assert "casting.way" in shop.studio.assumed


def test_the_variable_wins_over_the_usual_place(studio, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    usual = tmp_path / "data" / "pourwell"
    usual.mkdir(parents=True)
    (usual / "studio.toml").write_text('name = "Usual"\n')
    assert studio_folder() == usual
    named = studio({"studio.toml": 'name = "Named"\n'})
    assert (studio_folder(), open_shop().studio.name) == (named, "Named")
    monkeypatch.setenv("POURWELL_STUDIO", "")
    assert open_shop().studio.name == "Usual", "an empty variable is as good as none"


def test_a_folder_that_is_handed_in_wins_over_both(studio, tmp_path: Path) -> None:
    studio({"studio.toml": 'name = "Named"\n'})
    (tmp_path / "other").mkdir()
    (tmp_path / "other/studio.toml").write_text('name = "Other"\n')
    assert open_shop(tmp_path / "other").studio.name == "Other"


@pytest.mark.parametrize("kind", ["missing", "file"])
def test_a_variable_that_names_no_folder_is_never_passed_over(kind: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A slip in the name must not bring the defaults of another studio in silence."""
    if kind == "file":
        (tmp_path / "place").write_text("")
    monkeypatch.setenv("POURWELL_STUDIO", str(tmp_path / "place"))
    with pytest.raises(BadDataError, match="no folder") as caught:
        open_shop()
    assert str(tmp_path / "place") in caught.value.what
    assert "unset" in caught.value.try_this


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("name = Quillmere\n", "studio.toml"),
        ("[kiln\n", "studio.toml"),
        ("alttitude_m = 40\n", "altitude_m"),
        ("[kiln]\nsegment_count = 4\n", "segments_count"),
        ("[casting]\nway = 'sling'\n", "centrifuge"),
        ("altitude_m = 'high'\n", "altitude_m"),
        ("altitude_m = 9000\n", "altitude_m"),
        ("[melting]\ncrucible_cm3 = 0\n", "crucible_cm3"),
        ("work_from = 18:00:00\nwork_to = 09:00:00\n", "not before"),
        ("time_zone = 'Europe/Lisboa'\n", "Europe/Lisboa"),
        ("flasks = ['76x100', '76x999']\n", "76x999"),
        ("flasks = ['76x100', '76x100']\n", "stands twice"),
        ("flasks = 3\n", "flasks"),
        ("given = ['name']\n", "given"),
        ("[[bases]]\ndome_height_mm = -1\n", "dome_height_mm"),
        ("name = 1\nname = 2\n", "studio.toml"),
    ],
)
def test_a_studio_file_that_says_something_else_is_refused_with_file_and_reason(studio, text: str, says: str) -> None:
    folder = studio({"studio.toml": text})
    with pytest.raises(BadDataError) as caught:
        open_shop()
    assert says in str(caught.value)
    assert str(folder / "studio.toml") in str(caught.value)


def test_a_studio_file_that_is_no_text_is_refused(studio) -> None:
    folder = studio({"studio.toml": ""})
    (folder / "studio.toml").write_bytes(b"\xff\xfename")
    with pytest.raises(BadDataError, match=r"studio\.toml"):
        open_shop()


def test_an_own_alloy_stands_beside_the_shipped_ones_and_leaves_them_alone(studio) -> None:
    before = open_shop().library
    studio({"alloys/house-silver.toml": OWN_ALLOY.format(id="house-silver")})
    after = open_shop().library
    assert set(after.alloys) - set(before.alloys) == {"house-silver"}
    assert after.alloy("house-silver").name == "house silver"
    own, like = after.alloy("house-silver"), before.alloy("sterling-925")
    assert (own.density_g_per_cm3.value, own.density_g_per_cm3.source) == (10.37, "studio")
    assert own.returns_limit_fraction == like.returns_limit_fraction, "what belongs to the family is taken over"
    assert after.alloy("sterling-925") == like
    assert after.digest != before.digest, "a plan must tell which library made it"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('id = "house"\nname = "x"\nlike = "sterling-952"\n', "sterling-925"),
        (OWN_ALLOY.format(id="house") + "liqidus_c = 900\n", "liquidus_c"),
        ('id = "house"\nname = "x"\nlike = "sterling-925"\n', "composition_percent missing"),
        ("id = \n", "house.toml"),
    ],
)
def test_an_own_alloy_with_a_fault_is_refused_with_its_file(studio, text: str, says: str) -> None:
    studio({"alloys/house.toml": text})
    with pytest.raises((BadDataError, UnknownNameError)) as caught:
        open_shop()
    assert says in str(caught.value)
    assert "house" in str(caught.value)


def test_in_another_kiln_what_was_measured_of_the_first_does_not_hold_and_what_is_of_the_flask_does(studio) -> None:
    folder = studio({"studio.toml": '[[kilns]]\nname = "tall"\n\n[[kilns]]\nname = "small"\n'})
    keep([Calibration.model_validate(one) for one in (KILN, FLASK)], folder, doubtful="")
    shop = open_shop()
    assert [one.kind for one in shop.library.calibrations] == ["flask", "kiln"]
    assert shop.in_kiln(None) is shop
    assert shop.in_kiln("tall") is shop
    small = shop.in_kiln("small")
    assert (small.studio.kiln.name, [one.kind for one in small.library.calibrations]) == ("small", ["flask"])
    assert small.library.digest == shop.library.digest, "a plan is reproduced from the whole library"
    assert (shop.studio.kiln.fall_c_per_h, small.studio.kiln.fall_c_per_h) == (107.0, 120.0)
    with pytest.raises(BadRequestError, match="No kiln is called"):
        shop.in_kiln("wide")
