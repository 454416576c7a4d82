"""Figures of a burnout as pages say them: margins by hand arithmetic, bands, the words of a flask, what rules a level."""

import pytest

from pourwell.app.burning import Turn, rules_of
from pourwell.steps.burnout.model import SLACK
from pourwell.web.desk.burnout_told import _of_size, flask_name
from pourwell.web.desk.firing import is_kept, margin_share, margin_told, measures_table, span_band
from pourwell.web.desk.kiln_told import controller
from tests.unit.app.burnt import burnt
from tests.unit.web.built import Built
from tests.unit.web.deep import deep


def measure(value, limit, *, at_most=True, **more):
    return {"measure": value, "limit": limit, "at_most": at_most, **more}


@pytest.mark.parametrize(
    ("one", "share", "says"),
    [
        (measure(2.5, 5.0), 0.5, "+50 %"),
        (measure(5.0, 5.0), 0.0, "none"),
        (measure(6.0, 5.0), -0.2, "\u221220 %"),
        (measure(120.0, 60.0, at_most=False), 1.0, "+100 %"),
        (measure(45.0, 60.0, at_most=False), -0.25, "\u221225 %"),
        (measure(5.01, 5.0), -0.002, "none"),
        (measure(3.0, 0.0), 0.0, "none"),
        (measure(135.0, 60.0, at_most=False, held_to=135.0), 0.0, "none"),
        (measure(162.0, 60.0, at_most=False, held_to=135.0), 0.2, "+20 %"),
        (measure(108.0, 60.0, at_most=False, held_to=135.0), -0.2, "\u221220 %"),
    ],
)
def test_a_margin_is_what_a_measure_leaves_of_what_it_is_held_to(one, share, says):
    """Arithmetic: (limit - measure) / limit where it must stay under, the other way round where it must be reached."""
    assert margin_share(one) == pytest.approx(share)
    assert margin_told(one) == says


def test_no_minute_to_spare_of_a_table_s_own_time_is_said_where_the_margin_stands():
    """135 min are over the 60 that draining takes, and none of them may be spared."""
    more = {"what": "draining", "unit": "min", "published": 135.0, "at_end": "dense", "source": "rule", "held_source": "row"}
    draining, steam = (
        {**measure(135.0, 60.0, at_most=False, held_to=135.0), **more},
        {**measure(2.5, 5.0), **more, "what": "steam"},
    )
    band = {"likely": 90.0, "low": 60.0, "high": 120.0}
    size = {"label": "tall", "count": 1, "core_passes_100_min": band, "dry_min": band, "heat_kwh": band}

    def build():
        measures_table(deep(), [draining, steam], label="Measures")
        _of_size({**size, "verdicts": [steam, draining]}, "Tall one")

    page = Built(build)
    rows = [page.words(row) for row in page.all("tr")[1:]]
    assert "held to 135, its table's own time none its table's own time 135 min" in rows[0]
    assert rows[1].startswith("Steam 2.5 min at most 5.0 min +50 % 135 min"), "no word more where there is something to spare"
    assert [page.words(e) for e in page.all("td", "why")][-1] == "none, its table's own time: draining"


def test_what_is_not_judged_says_so_and_is_no_fault():
    one = measure(0.0, 60.0, at_most=False, judged=False)
    assert margin_told(one) == "not judged"
    assert is_kept(one)


@pytest.mark.parametrize(
    ("one", "kept"),
    [
        (measure(100.0, 100.0), True),
        (measure(100.0 * (1 + SLACK), 100.0), True),
        (measure(100.0 * (1 + SLACK) + 0.1, 100.0), False),
        (measure(100.0 * (1 - SLACK) - 0.1, 100.0, at_most=False), False),
        (measure(90.0, 60.0, at_most=False, held_to=168.0), False),
        (measure(170.0, 60.0, at_most=False, held_to=168.0), True),
        (measure(90.0, 60.0, at_most=False, held_to=None), True),
    ],
)
def test_a_mark_stands_at_what_is_not_kept_by_more_than_the_grid(one, kept):
    """Held to a table's longer time, a time over the limit alone does not do."""
    assert is_kept(one) is kept


@pytest.mark.parametrize(
    ("band", "likely", "ends"),
    [
        ({"low": 354.0, "likely": 436.4, "high": 533.0}, "7 h 16", "5 h 54 to 8 h 53"),
        ({"low": 60.0, "likely": 90.0, "high": None}, "1 h 30", "1 h to not before the end"),
        ({"low": None, "likely": None, "high": None}, "not before the end", "not before the end to not before the end"),
    ],
)
def test_minutes_are_hours_with_their_ends_and_none_is_not_before_the_end(band, likely, ends):
    """436 min are 7 h 16 min."""
    assert span_band(band) == (likely, ends)


@pytest.mark.parametrize(("label", "says"), [("76x102", "76.2 by 101.6 mm"), ("tall", "Tall one"), ("99x99", "99x99")])
def test_a_flask_is_called_as_the_lists_of_the_page_do(label, says):
    heard = []
    Built(lambda: heard.append(flask_name(label, Page())))
    assert heard == [says]


def test_what_lies_between_two_pours_is_the_sum_of_its_parts():
    turn = Turn(pour_min=3, quench_min=15, set_out_min=5, melt_min=15)
    assert turn.minutes == 38
    assert turn.words.startswith(
        "At one temperature 38 min lie between pours: 3 to pour, 15 to quench, 5 to set out and 15 to melt"
    )


class Segment:
    """Of a segment what its words take."""

    def __init__(self, ruled_by, target_c=732.0):
        self.ruled_by, self.target_c = ruled_by, target_c


class Programme:
    """Of a programme the same."""

    def __init__(self, grade="supplier", lowered_to_c=None):
        self.published_grade, self.lowered_to_c = grade, lowered_to_c


@pytest.mark.parametrize(
    ("segment", "programme", "says"),
    [
        (Segment(""), Programme(), "your own programme"),
        (Segment("its ramp by what the kiln climbs"), Programme(), "your own programme; its ramp by what the kiln climbs"),
        (Segment("the published programme"), Programme(), "the published programme"),
        (Segment("the published programme"), Programme("memory"), "the programme put together from memory"),
        (Segment("carbon burns off"), Programme(lowered_to_c=732.0), "carbon burns off; its level by what your kiln may be wrong"),
        (Segment("", 540.0), Programme(lowered_to_c=732.0), "your own programme"),
    ],
)
def test_what_rules_a_level_is_said_and_where_nothing_does_it_is_ones_own(segment, programme, says):
    assert rules_of(segment, programme) == says


def test_what_rules_a_segment_stands_in_its_row_where_it_is_known():
    found = burnt()["plan"]
    shown = []

    def build():
        controller(found, Page())
        shown.append(True)

    page = Built(build)
    rows = [page.words(row) for row in page.all("tr")]
    typed = found["burnout"]["segments"][: found["inputs"]["studio"]["kiln"]["segments_count"]]
    for one in typed:
        assert any(f"Ruled by: {one['ruled']}" in row for row in rows), one["ruled"]
    plain = Built(lambda: controller(deep(), Page()))
    assert "Ruled by" not in plain.text, "a plan that does not hold it shows none"


class Page:
    """Of a page what a controller and the name of a flask take: the studio's clock and its flasks."""

    class lists:  # noqa: N801
        zone, flasks = None, (("76x102", "76.2 by 101.6 mm"), ("tall", "Tall one"))
