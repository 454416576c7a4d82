"""A burnout by itself as its page takes it: the same data as the command gives, in the form that pages know from plans."""

from datetime import UTC, datetime

import pytest

from pourwell.app.burning import Asked, burn_out
from pourwell.app.burning_page import burn
from pourwell.app.calibrating_keep import keep
from pourwell.app.shop import open_shop
from pourwell.errors import BadRequestError, UnknownNameError
from pourwell.materials.calibration import Calibration
from pourwell.steps.day.night import OVERNIGHT
from tests.unit.app.burnt import ASKED, NOW, burnt
from tests.unit.app.test_measuring import FLASK

FILM = {
    "kind": "kiln", "measured_at": NOW.isoformat(), "way": "log", "fitted_from": "a log of the first kiln",
    "film_ratio": {"value": 1.1, "uncertainty": 0.03, "unit": "1"},
}  # fmt: skip


@pytest.fixture(scope="module")
def answer():
    return burnt()


def test_it_is_what_the_command_gives_to_a_program(answer, tmp_path):
    (tmp_path / "studio.toml").write_text("[kiln]\nsegments_count = 2\n", encoding="utf-8")
    assert answer["told"] == burn_out(Asked(**ASKED), now=NOW, shop=open_shop(tmp_path)).data


def test_the_form_of_a_plan_holds_the_same_figures(answer):
    told, plan = answer["told"], answer["plan"]
    burnout = plan["burnout"]
    assert burnout["verdicts"] == told["programme"]["verdicts"]
    assert burnout["inside"] == told["programme"]["inside"]
    assert [one["target_c"] for one in burnout["segments"]] == [one["target_c"] for one in told["segments"]]
    assert all(one["ruled"] for one in burnout["segments"])
    assert (burnout["starts_at"], burnout["ends_at"]) == (told["kiln_on_at"], told["out"][-1]["at"])
    assert plan["reading_c"] == {"never_above": told["reading"]["never_over_c"], "off": told["reading"]["off_c"]}
    assert plan["timeline"][0]["moments"] == [one["at"] for one in told["by_hand"]]
    assert [step["starts_at"] for step in plan["timeline"][1:]] == [one["at"] for one in told["out"]]
    assert {f["code"] for f in plan["findings"]} == {f["code"] for f in told["findings"]}
    assert plan["overnight"] == OVERNIGHT
    judged = [v for size in told["sizes"] for v in size["verdicts"]]
    assert {v["source"] for v in judged} <= set(plan["limit_sources"])
    assert datetime.fromisoformat(plan["kiln_free_at"]) > datetime.fromisoformat(burnout["ends_at"])


def test_of_several_kilns_the_one_that_is_named_counts(tmp_path):
    (tmp_path / "studio.toml").write_text(
        '[[kilns]]\nname = "tall"\n\n[[kilns]]\nname = "small"\nerror_k = 12\nsegments_count = 3\nflasks_count = 1\n',
        encoding="utf-8",
    )
    keep([Calibration.model_validate(one) for one in (FILM, FLASK | {"of": "64x64"})], tmp_path, doubtful="")
    told = [burn(tmp_path, ASKED | {"kiln": kiln}, NOW, tell=lambda _: None)["plan"] for kiln in (None, "small")]
    kilns = [plan["inputs"]["studio"]["kiln"] for plan in told]
    assert [kiln["name"] for kiln in kilns] == ["tall", "small"]
    assert kilns[1]["segments_count"] == 3
    assert told[1]["reading_c"]["never_above"] < told[0]["reading_c"]["never_above"]
    crowded = [[f["severity"] for f in plan["findings"] if f["code"] == "kiln-crowded"] for plan in told]
    assert crowded == [[], ["stop"]], "two flasks, and the small kiln takes one"
    inside = [" ".join(plan["burnout"]["inside"]["measured"]) for plan in told]
    assert ["film of the kiln" in words for words in inside] == [True, False], f"that was measured in the first: {inside}"
    with pytest.raises(BadRequestError, match="No kiln is called"):
        burn(tmp_path, ASKED | {"kiln": "wide"}, NOW, tell=lambda _: None)


def test_what_cannot_be_is_a_sentence(tmp_path):
    past = {"flasks": ("50x55:540",), "ready": datetime(2026, 11, 26, 10, 0, tzinfo=UTC).isoformat(), "own": "gypsum-wax"}
    with pytest.raises(BadRequestError, match="and that is past"):
        burn_out(Asked(**past), now=NOW, shop=open_shop(tmp_path))


@pytest.mark.parametrize("name", ["own.toml", "../own.toml", "gypsum-wacks", "/etc/hostname"])
def test_an_address_opens_no_file_of_the_machine(tmp_path, name):
    """A file is a matter of the command line; what a link names as a programme is a name of the library, or refused."""
    (tmp_path / "studio").mkdir()
    for folder in (tmp_path, tmp_path / "studio"):
        (folder / "own.toml").write_text("secret = 1\n", encoding="utf-8")
    with pytest.raises(UnknownNameError, match="burnout programme") as refused:
        burn(tmp_path / "studio", ASKED | {"own": str(tmp_path / name)}, NOW, tell=lambda _: None)
    assert "secret" not in str(refused.value)


@pytest.mark.parametrize(
    ("flasks", "says"),
    [
        (("76x100:hot",), '"hot" is no flask temperature'),
        (("76x100:300:540",), '"300:540" is no flask temperature'),
        ((":540",), '"" is no flask'),
        (("76x100:1200",), "A flask temperature of 1200 °C cannot be"),
        (("76x100:nan",), "A flask temperature of nan °C cannot be"),
        (("9x9:540",), "It would be 9 mm wide and 9 mm high"),
        (("<i>76</i>:540",), "is no flask"),
    ],
)
def test_a_flask_that_an_address_makes_up_is_refused_before_anything_is_computed(tmp_path, flasks, says):
    with pytest.raises(BadRequestError) as refused:
        burn(tmp_path, ASKED | {"flasks": flasks}, NOW, tell=lambda _: None)
    assert says in str(refused.value)
