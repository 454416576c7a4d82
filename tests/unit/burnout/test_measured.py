"""What a studio has kept of its own logs and weighings goes into the burnout of its flasks, and into no other's."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from pourwell.materials.calibration import FOLDER, Calibration, Measure, to_toml
from pourwell.materials.library import load_library
from pourwell.materials.studio import Kiln
from pourwell.sheets.kiln_view import _computed, _over_published
from pourwell.steps.burnout.inside import LIKELY, ends_of
from pourwell.steps.burnout.model import Measured
from pourwell.steps.burnout.plan import case_of, programme
from tests.unit.burnout.case import flask_of, library

WHEN = datetime(2026, 11, 20, 9, 0, tzinfo=UTC)


def ratio(value, uncertainty=0.02):
    return Measure(value=value, uncertainty=uncertainty, unit="1")


def kept(folder, **ratios):
    """The library of a studio that has measured its kiln, its flask 76x100 and its powder."""
    kinds = {
        "film_ratio": ("kiln", ""),
        "water_ratio": ("flask", "76x100"),
        "conductivity_ratio": ("investment", "gypsum-standard"),
    }
    (folder / FOLDER).mkdir()
    for key, measure in ratios.items():
        kind, of = kinds[key]
        one = Calibration(kind=kind, of=of, measured_at=WHEN, way="log", file="night.csv", fitted_from="core", **{key: measure})
        (folder / FOLDER / f"{kind}.toml").write_bytes(to_toml(one))
    return load_library(folder)


def case(books, *, diameter_mm=76.0, **more):
    return case_of(
        books.investment("gypsum-standard"),
        pattern_material=books.pattern("wax-injection"),
        flask=flask_of(diameter_mm, 100.0),
        library=books,
        **{"flask_c": 540.0, "kiln": Kiln(), "stones": False, **more},
    )


def test_without_calibrations_nothing_is_measured():
    assert case(library()).known == Measured()
    assert library().calibrations == ()


def test_what_was_kept_replaces_the_default_with_its_two_deviations(tmp_path):
    books = kept(tmp_path, conductivity_ratio=ratio(0.8), film_ratio=ratio(1.2), water_ratio=ratio(0.7, 0.01))
    known = case(books).known
    assert (known.conductivity.low, known.conductivity.value, known.conductivity.high) == pytest.approx((0.76, 0.8, 0.84))
    assert known.film.value == 1.2
    assert known.water.source == "log of 2026-11-20 (night.csv)"
    usual, own = ends_of(case(library()))[LIKELY], ends_of(case(books))[LIKELY]
    assert own.mould.dry[1][1] == pytest.approx(0.8 * usual.mould.dry[1][1])
    assert own.mould.water_share == 0.7


def test_a_weighing_of_one_flask_says_nothing_of_another(tmp_path):
    books = kept(tmp_path, water_ratio=ratio(0.7, 0.01))
    assert case(books).known.water
    assert case(books, diameter_mm=89.0).known.water is None


def test_a_value_of_which_its_uncertainty_leaves_nothing_is_not_used(tmp_path):
    books = kept(tmp_path, conductivity_ratio=ratio(0.8, 0.5))
    assert case(books).known.conductivity is None


def test_what_is_given_wins_over_what_was_kept(tmp_path):
    books = kept(tmp_path, film_ratio=ratio(1.2))
    assert case(books, measured=Measured()).known == Measured()


def test_the_programme_names_what_it_was_worked_out_from_and_its_bands_are_narrower(tmp_path):
    books = kept(tmp_path, conductivity_ratio=ratio(1.0), film_ratio=ratio(1.0), water_ratio=ratio(0.9, 0.01))
    usual, own = programme(case(library())), programme(case(books))
    assert [name.split(":")[0] for name in own.inside.measured] == ["conductivity", "film of the kiln", "water"]
    wide, narrow = usual.inside.dry_min, own.inside.dry_min
    assert narrow.high - narrow.low < 0.5 * (wide.high - wide.low)


def test_a_calibration_changes_the_digest_of_the_library(tmp_path):
    assert kept(tmp_path, film_ratio=ratio(1.2)).digest != library().digest


def test_the_sheet_says_what_core_and_dryness_rest_on(tmp_path):
    usual = programme(case(library()))
    assert _computed(usual).startswith(
        "Core and dryness are computed, not measured: an upper estimate. By heat and steam alone drying takes"
    )
    assert _computed(usual).endswith(", no advice.")
    own = programme(case(kept(tmp_path, water_ratio=ratio(0.7, 0.01))))
    assert "from what you measured (water: log of 2026-11-20 (night.csv))" in _computed(own)


def test_the_sheet_says_the_margin_over_the_published_programme():
    made = programme(case(library()))
    assert _over_published(replace(made, published_min=made.total_min)) == "as published"
    assert _over_published(replace(made, published_min=made.total_min - 70)).endswith(", 1:10 longer")
    assert _over_published(replace(made, published_min=made.total_min + 5)).endswith(", 0:05 SHORTER")
    assert _over_published(replace(made, published_min=0)) == ""
