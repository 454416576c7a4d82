"""Measured values in the studio's folder: their files, which of them hold, and what of a plan they replace."""

from datetime import UTC, datetime

import pytest
from pydantic import ValidationError

from pourwell.errors import BadDataError
from pourwell.materials.calibration import FOLDER, Calibration, Known, Measure, calibrated, load_calibrations, to_toml
from pourwell.materials.library import load_library
from pourwell.materials.studio import FALL, load_studio

WHEN = datetime(2026, 11, 26, 7, 40, tzinfo=UTC)
INVESTMENT = load_library().investment("gypsum-resin")


def measure(value, uncertainty=0.02, unit="1"):
    return Measure(value=value, uncertainty=uncertainty, unit=unit)


def kiln(fall=110.0, when=WHEN, **more):
    return Calibration(
        kind="kiln", measured_at=when, way="log", fitted_from="the kiln alone", fall_c_per_h=measure(fall, 4, "K/h"), **more
    )


def powder(ratio=0.9, stands_on=0.45, when=WHEN, of="gypsum-resin"):
    return Calibration(
        kind="investment",
        of=of,
        measured_at=when,
        way="log",
        file='core "a".csv',
        digest="ab" * 32,
        fitted_from="core of a 76x100 flask",
        package_version="0.1.0",
        stands_on_w_per_m_k=stands_on,
        conductivity_ratio=measure(ratio),
    )


def flask(share=0.85, when=WHEN, of="76x100", way="weighing"):
    return Calibration(kind="flask", of=of, measured_at=when, way=way, fitted_from="weighed", water_ratio=measure(share))


def written(folder, *ones):
    (folder / FOLDER).mkdir(exist_ok=True)
    for number, one in enumerate(ones):
        (folder / FOLDER / f"{one.name}-{number}.toml").write_bytes(to_toml(one))
    return folder


@pytest.mark.parametrize("one", [kiln(), powder(), flask(), kiln(overshoot_k=measure(0.0, 0.0, "K"), film_ratio=measure(1.1))])
def test_a_calibration_survives_its_file(tmp_path, one):
    assert load_calibrations(written(tmp_path, one)) == (one,)


def test_a_file_is_called_by_what_it_is_of_and_its_day():
    assert [one.name for one in (kiln(), powder(), flask(of="My Flask #3"))] == [
        "kiln-2026-11-26",
        "investment-gypsum-resin-2026-11-26",
        "flask-my-flask--3-2026-11-26",
    ]


def test_a_file_says_when_from_what_and_how_sure():
    text = to_toml(powder()).decode()
    for part in ('digest = "abab', "measured_at = ", "fitted_from = ", "uncertainty = 0.02", 'file = "core \\"a\\".csv"'):
        assert part in text


def test_no_folder_no_calibrations(tmp_path):
    assert load_calibrations(None) == ()
    assert load_calibrations(tmp_path) == ()


def test_the_oldest_stands_first_whatever_the_files_are_called(tmp_path):
    later = datetime(2026, 12, 1, tzinfo=UTC)
    found = load_calibrations(written(tmp_path, kiln(130, later), kiln(110)))
    assert [one.fall_c_per_h.value for one in found] == [110, 130]


def test_the_newest_wins_and_the_older_stays(tmp_path):
    later = datetime(2026, 12, 1, tzinfo=UTC)
    found = load_calibrations(written(tmp_path, flask(0.9), flask(0.7, later), flask(0.95)))
    known = calibrated(found, flask="76x100").water_ratio
    assert known.value == 0.7
    assert len(found) == 3


def test_a_newer_file_of_the_kiln_keeps_what_it_does_not_measure():
    later = datetime(2026, 12, 1, tzinfo=UTC)
    film = Calibration(kind="kiln", measured_at=later, way="log", fitted_from="x", film_ratio=measure(1.2))
    both = calibrated((kiln(110), film))
    assert (both.fall_c_per_h.value, both.film_ratio.value) == (110, 1.2)


def test_a_value_holds_for_its_own_flask_and_investment_alone():
    found = (flask(), powder(), kiln())
    other = load_library().investment("gypsum-standard")
    assert calibrated(found, flask="50x60", investment=other).water_ratio is None
    assert calibrated(found, flask="50x60", investment=other).conductivity_ratio is None
    mine = calibrated(found, flask="76x100", investment=INVESTMENT)
    assert None not in (mine.water_ratio, mine.conductivity_ratio, mine.fall_c_per_h)
    assert mine.rise_c_per_h is None


def test_a_conductivity_stands_on_the_row_as_it_is_now():
    """Measured 0.9 times 0.5; the row now says 0.45: the ratio over it is 1.0."""
    known = calibrated((powder(0.9, stands_on=0.5),), investment=INVESTMENT).conductivity_ratio
    assert known.value == pytest.approx(0.9 * 0.5 / INVESTMENT.conductivity_dry_w_per_m_k.value)
    assert known.uncertainty == pytest.approx(0.02 * 0.5 / 0.45)


def test_the_ends_of_a_known_value_are_two_deviations_away_and_not_under_zero():
    known = Known(value=0.9, uncertainty=0.05, unit="1", source="log")
    assert (known.low, known.high) == (pytest.approx(0.8), pytest.approx(1.0))
    assert Known(value=0.05, uncertainty=0.05, unit="1", source="log").low == 0.0


def test_a_known_value_says_where_it_comes_from():
    assert calibrated((powder(),), investment=INVESTMENT).conductivity_ratio.source == 'log of 2026-11-26 (core "a".csv)'
    assert calibrated((flask(),), flask="76x100").water_ratio.source == "weighing of 2026-11-26"


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ("oven = 3", "oven: unknown key"),
        ('[film_ratio]\nvalue = 1.1\nuncertainty = 0.1\nunit = "1"\ncolour = 3', "film_ratio.colour: unknown key"),
        ('[water_ratio]\nvalue = 0.9\nuncertainty = 0.1\nunit = "1"', "water_ratio is no matter of a kiln"),
        ('[film_ratio]\nvalue = -1\nuncertainty = 0.1\nunit = "1"', "film_ratio.value"),
        ('[film_ratio]\nvalue = 0\nuncertainty = 0.1\nunit = "1"', "film_ratio: value must be above zero"),
        ('[film_ratio]\nvalue = nan\nuncertainty = 0.1\nunit = "1"', "film_ratio.value"),
        ('[film_ratio]\nvalue = 1.1\nuncertainty = -0.1\nunit = "1"', "film_ratio.uncertainty"),
        ('[film_ratio]\nvalue = 1.1\nunit = "1"', "film_ratio.uncertainty is missing"),
        ('[film_ratio]\nvalue = 1.1\nuncertainty = 0.1\nunit = "K"', 'its unit is "1", not "K"'),
    ],
)
def test_a_file_that_does_not_say_what_it_must_is_refused_with_its_name_and_key(tmp_path, change, says):
    written(tmp_path, kiln())
    path = tmp_path / FOLDER / "kiln-2026-11-26-0.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(change + "\n" + text if "[" not in change else text + "\n" + change + "\n", encoding="utf-8")
    with pytest.raises(BadDataError) as caught:
        load_calibrations(tmp_path)
    assert says in caught.value.what
    assert path.name in caught.value.what
    assert "docs/calibration.md" in caught.value.try_this


def test_a_file_that_is_no_toml_is_refused(tmp_path):
    (tmp_path / FOLDER).mkdir()
    (tmp_path / FOLDER / "kiln.toml").write_text("kind = kiln", encoding="utf-8")
    with pytest.raises(BadDataError, match="is not a TOML file"):
        load_calibrations(tmp_path)


@pytest.mark.parametrize(
    "given",
    [
        {"kind": "flask", "of": ""},
        {"kind": "kiln", "measured_at": datetime(2026, 11, 26)},
        {"kind": "kiln", "fall_c_per_h": None},
    ],
)
def test_a_calibration_of_nothing_or_of_no_time_does_not_exist(given):
    whole = {"measured_at": WHEN, "way": "log", "fitted_from": "x", "fall_c_per_h": measure(100, 1, "K/h")}
    with pytest.raises(ValidationError):
        Calibration(**(whole | given))


def test_how_the_kiln_falls_is_taken_from_its_calibration_where_the_studio_does_not_say_it(tmp_path):
    found = load_studio(written(tmp_path, kiln(97.5)))
    assert found.kiln.fall_c_per_h == 97.5
    assert found.measured == {FALL}
    assert FALL not in found.assumed
    assert not found.is_given(FALL)


def test_what_the_studio_says_itself_wins(tmp_path):
    (tmp_path / "studio.toml").write_text("[kiln]\nfall_c_per_h = 140\n", encoding="utf-8")
    found = load_studio(written(tmp_path, kiln(97.5)))
    assert found.kiln.fall_c_per_h == 140
    assert found.measured == frozenset()


def test_a_measured_overshoot_counts_among_what_the_kiln_may_be_hotter(tmp_path):
    over = kiln(97.5).model_copy(update={"overshoot_k": measure(6.0, None, "K")})
    found = load_studio(written(tmp_path, over))
    assert found.kiln.overshoot_k == 6.0
    assert found.kiln.wrong_k == 5.5 + 6.0
    assert found.kiln.unseen_k == 5.5, "the thermocouple shows an overshoot itself"
    assert found.measured == {FALL, "kiln.overshoot_k"}
    (tmp_path / "studio.toml").write_text("[kiln]\novershoot_k = 2\n", encoding="utf-8")
    assert load_studio(tmp_path).kiln.wrong_k == 5.5 + 2.0


def test_the_first_of_several_kilns_is_the_one_that_was_measured(tmp_path):
    (tmp_path / "studio.toml").write_text('[[kilns]]\nname = "a"\n[[kilns]]\nname = "b"\n', encoding="utf-8")
    found = load_studio(written(tmp_path, kiln(97.5)))
    assert [one.fall_c_per_h for one in found.all_kilns] == [97.5, 120.0]


def test_without_a_measured_fall_the_kiln_is_assumed_as_before(tmp_path):
    found = load_studio(written(tmp_path, flask()))
    assert found.kiln.fall_c_per_h == 120
    assert FALL in found.assumed


def test_the_studio_does_not_name_its_own_measured_values(tmp_path):
    (tmp_path / "studio.toml").write_text('measured = ["kiln"]\n', encoding="utf-8")
    with pytest.raises(BadDataError, match="measured: unknown key"):
        load_studio(tmp_path)
