"""A log becomes measured values: places, words, files, and what is refused."""

import re
from datetime import UTC, datetime
from types import SimpleNamespace

import pytest

from pourwell.app.calibrating import LogWish, calibrate, calibrate_log
from pourwell.app.calibrating_case import default_of, even, made_of, water_band
from pourwell.app.calibrating_keep import becomes, files_of, keep_told, would_go
from pourwell.app.calibrating_picture import draw_log
from pourwell.app.calibrating_scale import ScaleWish, calibrate_weighed
from pourwell.app.measuring import Measuring
from pourwell.app.measuring_work import told_data
from pourwell.app.shop import open_shop
from pourwell.errors import BadFileError, BadRequestError, OutputError, UnknownNameError
from pourwell.files.kiln_log import open_table
from pourwell.materials.calibration import FOLDER, calibrated, load_calibrations
from pourwell.materials.library import load_library
from pourwell.materials.studio import load_studio
from pourwell.physics.mould import compose
from pourwell.steps.flask.plan import parse_flask
from pourwell.units import f_from_c
from tests.unit.app.firing_logs import TAU_S, TRUTH, log_bytes

NOW = datetime(2026, 11, 26, 7, 40, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _own_folder(monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.delenv("POURWELL_STUDIO", raising=False)


@pytest.fixture(scope="module")
def firing(tmp_path_factory):
    """What a log of kiln, core and half radius tells, and what was said meanwhile."""
    path, said = tmp_path_factory.mktemp("log") / "firing.csv", []
    path.write_bytes(log_bytes("kiln", "core", "half"))
    return calibrate_log(path, LogWish(flask="50x60"), now=NOW, tell=said.append), said


@pytest.fixture
def kiln_only(tmp_path):
    path = tmp_path / "kiln.csv"
    path.write_bytes(log_bytes("kiln"))
    return path


def value_of(told, key):
    return next(value for value in told.values if value.key == key)


@pytest.mark.parametrize("name", ["conductivity", "film", "water"])
def test_known_factors_come_back_through_a_file(firing, name):
    value = value_of(firing[0], f"{name}_ratio")
    assert value.measured
    assert value.value == pytest.approx(getattr(TRUTH, name), abs=max(3 * value.uncertainty, 0.03)), f"observed {value}"
    assert value.uncertainty < 0.1


def test_the_kilns_fall_is_read_near_the_flask_temperature(firing):
    value = value_of(firing[0], "fall_c_per_h")
    assert value.value == pytest.approx(480 / TAU_S * 3600, rel=0.05), f"observed {value}"
    assert "default 120" in value.remark


def test_each_value_is_told_against_its_default_band_in_plain_words(firing):
    value = value_of(firing[0], "conductivity_ratio")
    assert "within the default band of 0.67 to 1.33" in value.remark
    assert "times narrower" in value.remark
    assert "W/(m K) dry" in value.remark
    assert "±" in value.shown


def test_the_rounds_of_the_fit_are_told(firing):
    said = firing[1]
    assert said[0] == "Reading the log"
    assert said[1].startswith("Fitting, round 1: ")
    assert len(said) < 40


def test_one_log_makes_a_file_each_of_kiln_flask_and_investment(firing):
    ones = {one.kind: one for one in firing[0].calibrations}
    assert {kind: one.of for kind, one in ones.items()} == {"kiln": "", "flask": "50x60", "investment": "gypsum-resin"}
    assert set(ones["kiln"].measures) == {"film_ratio", "fall_c_per_h", "rise_c_per_h", "overshoot_k", "swing_k"}
    assert ones["investment"].stands_on_w_per_m_k == 0.45
    for one in ones.values():
        assert (one.file, one.way, one.measured_at) == ("firing.csv", "log", NOW)
        assert "50x60 flask, 271 readings over 9.0 h; core within" in one.fitted_from


def test_what_is_kept_is_read_again(firing, tmp_path):
    paths = keep_told(firing[0], folder=tmp_path)
    assert sorted(path.name for path in paths) == [
        "flask-50x60-2026-11-26.toml",
        "investment-gypsum-resin-2026-11-26.toml",
        "kiln-2026-11-26.toml",
    ]
    known = calibrated(load_calibrations(tmp_path), flask="50x60", investment=load_library().investment("gypsum-resin"))
    assert known.film_ratio.value == pytest.approx(value_of(firing[0], "film_ratio").value, rel=1e-5)
    assert load_studio(tmp_path).measured == {"kiln.fall_c_per_h", "kiln.overshoot_k"}


def test_no_uncertainty_of_nought_is_written(firing, tmp_path):
    """An overshoot is as unsure as one reading scatters, a rise as its line; a swing is itself a spread, and has none."""
    (kiln,) = [path for path in keep_told(firing[0], folder=tmp_path) if path.name.startswith("kiln")]
    assert not re.search(r"^uncertainty = 0(\.0)?$", kiln.read_text(encoding="utf-8"), re.MULTILINE)
    (one,) = [c for c in load_calibrations(tmp_path) if c.kind == "kiln"]
    swing = one.swing_k.value
    assert one.swing_k.uncertainty is None
    assert 0 < one.overshoot_k.uncertainty <= swing / 1.645 * 1.001
    assert 0 < one.rise_c_per_h.uncertainty < 0.2 * one.rise_c_per_h.value


def test_the_desk_shows_and_keeps_what_the_command_line_does(firing, tmp_path):
    data = told_data(firing[0])
    for row, value in zip(data["values"], firing[0].values, strict=True):
        shown = " ".join(filter(None, (row["figure"], row["unit"])))
        if value.key == "water_ratio":
            water, off = (float(figure) for figure in value.shown.split(" ± "))
            assert shown == f"{100 * water:.0f} ± {100 * off:.0f} %", "a share of its water, in percent on the desk"
        else:
            assert shown == value.shown
    assert data["becomes"] == becomes(firing[0].calibrations)
    assert [curve["place"] for curve in data["curves"]] == ["kiln", "core", "half"]
    off = [abs(a[1] - b[1]) for curve in data["curves"][1:] for a, b in zip(curve["read"], curve["model"], strict=True)]
    assert sum(off) / len(off) < 2, "the model is drawn at its readings"
    desk = SimpleNamespace(folder=tmp_path / "desk")
    here, there = Measuring(desk).keep(data), keep_told(firing[0], folder=tmp_path / "line")
    assert [path.name for path in here] == [path.name for path in there]
    assert [path.read_bytes() for path in here] == [path.read_bytes() for path in there]


def test_keeping_twice_keeps_both(firing, tmp_path):
    first, second = keep_told(firing[0], folder=tmp_path), keep_told(firing[0], folder=tmp_path)
    assert not set(first) & set(second)
    assert all(path.stem.endswith("-2") for path in second)
    assert len(load_calibrations(tmp_path)) == 6


def test_what_cannot_be_kept_whole_is_not_kept(firing, tmp_path, monkeypatch):
    import pourwell.files.one_file as one_file

    real, calls = one_file.write_file, []

    def failing(path, content, **more):
        calls.append(path)
        if len(calls) == 2:
            raise OutputError("The disk is full.")
        real(path, content, **more)

    monkeypatch.setattr(one_file, "write_file", failing)
    with pytest.raises(OutputError, match="disk is full"):
        keep_told(firing[0], folder=tmp_path)
    assert list((tmp_path / FOLDER).iterdir()) == []


def test_without_a_studio_folder_nothing_is_kept_and_it_is_said(firing):
    with pytest.raises(BadRequestError, match="no studio folder"):
        keep_told(firing[0])
    assert "make one for" in would_go(firing[0].calibrations)


def test_it_is_said_where_it_would_go_and_what_becomes_measured(firing, monkeypatch, tmp_path):
    monkeypatch.setenv("POURWELL_STUDIO", str(tmp_path))
    assert str(tmp_path / FOLDER) in would_go(firing[0].calibrations)
    said = becomes(firing[0].calibrations)
    assert "the heat from kiln to flask and the kiln's fall and how far it overshoots (kiln)" in said
    assert "the water that goes into the kiln (flask 50x60)" in said


def test_the_picture_shows_readings_and_model(firing, tmp_path):
    paths = draw_log(firing[0], tmp_path / "out", replace=False)
    assert [path.name for path in paths] == ["log-against-model.png", "log-against-model.svg"]
    text = paths[1].read_text(encoding="utf-8")
    for words in ("firing.csv against the model", "core (core °C)", "half (half °C)", "dots: read; lines: computed"):
        assert words in text
    with pytest.raises(OutputError):
        draw_log(firing[0], tmp_path / "out", replace=False)


def test_data_for_programs_hold_the_same(firing):
    data = firing[0].data
    film = next(v for v in data["values"] if v["key"] == "film_ratio")
    assert film["value"] == value_of(firing[0], "film_ratio").value
    assert film["measured"] is True
    assert len(data["calibrations"]) == 3
    assert data["doubtful"] == ""


def test_a_log_of_the_kiln_alone_tells_the_kiln(kiln_only):
    told = calibrate_log(kiln_only, LogWish(), now=NOW)
    assert {value.kind for value in told.values} == {"kiln"}
    assert [one.kind for one in told.calibrations] == ["kiln"]
    assert told.calibrations[0].fitted_from == "the kiln alone, 271 readings over 9.0 h"
    assert "film_ratio" not in told.calibrations[0].measures


def test_of_several_kilns_it_is_said_whose_log_may_be_kept(kiln_only, tmp_path, monkeypatch):
    """What is of a kiln is kept as the first one's; where nothing of it would be kept, or there is one, nothing is said."""
    monkeypatch.setenv("POURWELL_STUDIO", str(tmp_path))
    kilns = '[[kilns]]\nname = "large"\n[[kilns]]\nname = "small"\n'
    (tmp_path / "studio.toml").write_text(kilns, encoding="utf-8")
    told, of_kiln = calibrate_log(kiln_only, LogWish(), now=NOW), "Of the kiln “large”, the first "
    assert told.notes[0] == told.of_kiln == f"{of_kiln}of your studio.toml: do not keep a log of another one."
    page = told_data(told)
    assert page["notes"][0] == page["of_kiln"] == f"{of_kiln}among your equipment: do not keep a log of another one."
    weighed = scale("before=1364.3,after=1155,empty=600,pattern=10")
    assert "kiln “large”" not in " ".join((weighed.of_kiln, *weighed.notes)), "water is of the flask"
    (tmp_path / "studio.toml").write_text("[kiln]\n", encoding="utf-8")
    alone = calibrate_log(kiln_only, LogWish(), now=NOW)
    assert not alone.of_kiln
    assert not any("another one" in note for note in alone.notes)


def test_a_log_in_fahrenheit_tells_the_same(tmp_path, kiln_only):
    path = tmp_path / "f.csv"
    path.write_bytes(log_bytes("kiln", header="Time,Kiln", turn=f_from_c))
    here, there = (calibrate_log(p, LogWish(), now=NOW) for p in (path, kiln_only))
    assert value_of(here, "fall_c_per_h").value == pytest.approx(value_of(there, "fall_c_per_h").value, rel=1e-3)
    assert any("Fahrenheit" in remark.says for remark in here.remarks)


def test_a_fall_that_a_controller_held_is_shown_and_not_kept(tmp_path):
    rows = ["Time (min),Kiln"] + [f"{m},{min(20 + 4 * m, 700) if m < 300 else max(500, 700 - (m - 300))}" for m in range(0, 600, 2)]
    path = tmp_path / "held.csv"
    path.write_text("\n".join(rows), encoding="utf-8")
    told = calibrate_log(path, LogWish(), now=NOW)
    fall = next(value for value in told.values if value.what.startswith("falls"))
    assert fall.value == pytest.approx(60, rel=0.1)
    assert "a controller held it" in fall.remark
    assert "fall_c_per_h" not in told.calibrations[0].measures


def test_a_log_up_to_some_hours_is_read_so_far(kiln_only):
    told = calibrate_log(kiln_only, LogWish(until_h=6.0), now=NOW)
    assert "fall_c_per_h" not in [value.key for value in told.values]
    assert any("No fall with the door shut" in note for note in told.notes)
    with pytest.raises(BadRequestError, match="Within 0 h"):
        calibrate_log(kiln_only, LogWish(until_h=0.0), now=NOW)


@pytest.mark.parametrize(
    ("columns", "says"),
    [
        (("core",), "names no place"),
        (("attic=2",), "names no place"),
        (("kiln=2", "kiln=2"), "named twice"),
        (("kiln=2", "core=2"), "named for two places"),
        (("core=2",), "no column of the kiln"),
    ],
)
def test_columns_that_are_named_badly_are_refused(kiln_only, columns, says):
    with pytest.raises(BadRequestError, match=says):
        calibrate_log(kiln_only, LogWish(flask="50x60", columns=columns), now=NOW)


def test_a_column_that_is_not_there_is_refused_with_those_that_are(kiln_only):
    with pytest.raises(BadFileError, match="has no column") as caught:
        calibrate_log(kiln_only, LogWish(columns=("kiln=7",)), now=NOW)
    assert "2 = kiln °C" in caught.value.why


def test_two_columns_that_may_be_the_kilns_are_asked_for(tmp_path):
    path = tmp_path / "two.csv"
    path.write_bytes(log_bytes("kiln", "core", header="Time,Kiln left,Kiln right"))
    with pytest.raises(BadRequestError, match="2 columns that may be the kiln's") as caught:
        calibrate_log(path, LogWish(), now=NOW)
    assert "--column kiln=2" in caught.value.try_this


@pytest.mark.parametrize("place", ["40mm", "10mm@90mm"])
def test_a_probe_outside_the_flask_is_refused(tmp_path, place):
    path = tmp_path / "deep.csv"
    path.write_bytes(log_bytes("kiln", "core"))
    with pytest.raises(BadRequestError, match="lies outside the flask") as caught:
        calibrate_log(path, LogWish(flask="50x60", columns=("kiln=2", f"{place}=3")), now=NOW)
    assert "25 mm from wall to axis and 60 mm high" in caught.value.why


def test_a_probe_wants_to_know_its_flask(tmp_path):
    path = tmp_path / "whose.csv"
    path.write_bytes(log_bytes("kiln", "core"))
    with pytest.raises(BadRequestError, match="Which flask was it"):
        calibrate_log(path, LogWish(), now=NOW)
    with pytest.raises(UnknownNameError):
        calibrate_log(path, LogWish(flask="50x60", investment="mud"), now=NOW)


def test_the_default_case_is_that_of_the_rows():
    library = load_library()
    row, investment = parse_flask("76x100-perforated", load_studio(None), library), library.investment("gypsum-resin")
    case = default_of(row, investment, library)
    assert case.flask.open_share > 0
    assert case.flask.radius == pytest.approx(0.038)
    assert sum(k for _, k in case.mould.dry) / 2 == pytest.approx(0.45, rel=0.01)
    assert case.film_band_ratio[0] < 1 < case.film_band_ratio[1]
    assert case.factors.water == sum(water_band(library)) / 2
    assert case.mould.water_share == 1.0
    assert case.doubt.conductivity == pytest.approx(even(0.30, 0.60) / 0.45)
    assert made_of(investment) == compose(water_ratio=0.40, hemihydrate=0.28, powder_density=2550)


def scale(weighed, **more):
    return calibrate_weighed(ScaleWish(weighed=weighed, flask="76x100", **more), now=NOW)


def test_a_weighing_tells_the_water_and_keeps_how_long_it_stood(tmp_path):
    """By hand: 555 g burnt hold 196.5 g of free and 39.3 g of bound water as mixed; 160 g of the former left is 0.814."""
    told = scale("before=1364.3,after=1155,empty=600,pattern=10", resolution_g=0.1, stood_h=3)
    value = value_of(told, "water_ratio")
    assert value.value == pytest.approx(0.814, abs=0.005), f"observed {value}"
    assert told.calibrations[0].way == "weighing"
    assert "stood 3 h" in told.calibrations[0].fitted_from
    assert told.doubtful == ""
    keep_told(told, folder=tmp_path)
    assert calibrated(load_calibrations(tmp_path), flask="76x100").water_ratio.value == pytest.approx(value.value, rel=1e-5)


def test_what_is_kept_bears_the_day_of_the_studios_clock(tmp_path, kiln_only):
    """22:30 UTC on 26 November is 07:30 on the 27th where clocks are nine hours ahead."""
    (tmp_path / "studio.toml").write_text('time_zone = "Asia/Tokyo"\n', encoding="utf-8")
    shop, now = open_shop(tmp_path), datetime(2026, 11, 26, 22, 30, tzinfo=UTC)
    weighed = ScaleWish(weighed="before=1364,after=1155,empty=600,pattern=10", flask="76x100")
    for told in (
        calibrate(open_table(kiln_only), LogWish(), shop=shop, now=now),
        calibrate_weighed(weighed, now=now, shop=shop),
    ):
        assert [one.measured_at for one in told.calibrations] == [now]
        assert [name.endswith("-2026-11-27.toml") for name in files_of(told.calibrations)] == [True]


def test_a_weighing_without_the_empty_flask_is_less_sure_and_says_so():
    with_it, without = scale("before=1364,after=1155,empty=600,pattern=10"), scale("before=1364,after=1155,pattern=10")
    assert without.values[0].uncertainty > with_it.values[0].uncertainty
    assert "empty flask too" in without.notes[0]


def test_weights_that_cannot_be_are_shown_and_not_kept(tmp_path):
    told = scale("before=1580,after=1155,empty=600,pattern=10")
    assert "percent of the water it was mixed with" in told.doubtful
    with pytest.raises(BadRequestError, match="not kept"):
        keep_told(told, folder=tmp_path)


@pytest.mark.parametrize(
    ("weighed", "says"),
    [
        ("before=1364,after=1155", "lacks pattern"),
        ("pattern=3", "lacks before and after"),
        ("before=1364,after=heavy,pattern=0", "is no weight"),
        ("before=1364,after=1155,lid=3,pattern=0", "is no weight"),
        ("before=nan,after=1155,pattern=0", "is no weight"),
        ("before=1155,after=1364,pattern=0", "was not burnt out"),
    ],
)
def test_a_weighing_that_says_too_little_or_nonsense_is_refused(weighed, says):
    with pytest.raises(BadRequestError, match=says):
        scale(weighed)


@pytest.mark.parametrize("resolution_g", [0.0, -1.0, 500.0, float("nan")])
def test_a_scale_that_shows_no_such_steps_is_refused(resolution_g):
    with pytest.raises(BadRequestError, match="No scale shows"):
        scale("before=1364,after=1155,pattern=10", resolution_g=resolution_g)


def test_a_weighing_wants_to_know_its_flask():
    with pytest.raises(BadRequestError, match="Which flask"):
        calibrate_weighed(ScaleWish(weighed="before=2,after=1,pattern=0", flask=""), now=NOW)


@pytest.mark.parametrize("unit", [None, "C", "F"])
def test_a_kiln_in_fahrenheit_beside_a_core_in_celsius_is_refused_before_anything_is_fitted(tmp_path, unit):
    rows = [line.split(",") for line in log_bytes("kiln", "core", header="Time,Kiln,Core").decode().split("\n")]
    text = "\n".join([",".join(rows[0]), *(f"{at},{f_from_c(float(kiln)):.1f},{core}" for at, kiln, core in rows[1:])])
    path, said = tmp_path / "mixed.csv", []
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadFileError) as caught:
        calibrate_log(path, LogWish(flask="50x60", unit=unit), now=NOW, tell=said.append)
    assert '"Kiln °F" and "Core °C"' in str(caught.value)
    assert not [text for text in said if "Fitting" in text]
