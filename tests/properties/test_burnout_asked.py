"""Whatever stands in the form of a burnout: it is asked in words that the command reads, or refused beside a field of the form."""

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from pourwell.app.desk_burnout import MOST_ROWS, burnout_of_form, rows_of
from pourwell.app.typed import FLASK
from pourwell.steps.burnout.legs import Leg, total_min
from pourwell.steps.burnout.nights import Nights, through_the_night
from tests.unit.burnout.test_nights import TWO_FLASKS, nights

NOW = datetime(2026, 11, 26, 8, 30, tzinfo=UTC)
WORDS = st.one_of(
    st.sampled_from(["", "540", "480,5", "1000 °F", "-3", "1e9", "warm", "10:00", "2026-11-28", "2026-13-40", "24:61", "yes", "2"]),
    st.text(max_size=12),
)
KEYS = [f"{name}{k}" for name in ("flask", "level", "count") for k in (1, 2, 8)]
KEYS += ["investment", "pattern", "own", "kiln", "stones", "shorter", "on_day", "on_hour", "pour_day", "pour_hour"]


@given(st.dictionaries(st.sampled_from(KEYS), WORDS))
def test_a_form_is_asked_or_refused_and_never_breaks(form):
    asked, faults = burnout_of_form(form, now=NOW, zone=UTC)
    assert set(faults) <= {f"{name}{k}" for name in ("level", "count") for k in rows_of(form)} | {"on_hour", "pour_hour"}
    assert all(why.endswith(".") for why in faults.values())
    if faults:
        return
    assert len(asked["flasks"]) >= len(rows_of(form))
    for flask in asked["flasks"]:
        assert FLASK.low <= float(flask.rpartition(":")[2]) <= FLASK.high
    for key in ("start", "ready"):
        if key in asked:
            assert datetime.fromisoformat(asked[key]) > NOW
    if "start" in asked and "ready" in asked:
        assert datetime.fromisoformat(asked["start"]) < datetime.fromisoformat(asked["ready"])


@given(st.lists(st.tuples(st.integers(1, MOST_ROWS), st.integers(20, 1100), st.integers(1, 20)), min_size=1))
def test_every_flask_of_every_row_is_asked_for(rows):
    form = {}
    for k, level, count in rows:
        form |= {f"flask{k}": f"f{k}", f"level{k}": str(level), f"count{k}": str(count)}
    asked, faults = burnout_of_form(form, now=NOW, zone=UTC)
    assert not faults
    last = {k: (level, count) for k, level, count in rows}
    assert asked["flasks"] == tuple(f"f{k}:{level}" for k, (level, count) in sorted(last.items()) for _ in range(count))


@given(st.integers(0, 24 * 60 - 1), st.integers(30, 240))
def test_with_a_pour_that_is_fixed_no_setting_is_left_in_the_night_and_no_hold_is_too_long(minute, turn_min):
    """Wherever the pour lies in the day: the course found keeps the night, the rules' longest holds, and the pour itself."""
    legs: tuple[Leg, ...] = TWO_FLASKS
    asked: Nights = nights()
    pour_at = datetime(2026, 11, 28, tzinfo=UTC) + timedelta(minutes=minute)
    end_at = pour_at + timedelta(minutes=total_min(legs[4:]) + turn_min)
    found = through_the_night(legs, asked, end_at=end_at, first=4)
    if found is None:
        return
    grown_after = total_min(found[4:]) - total_min(legs[4:])
    assert asked.asleep(found, end_at + timedelta(minutes=grown_after)) == []
    assert asked.bears(found, legs)
    assert all(new.hold_min >= old.hold_min for new, old in zip(found, legs, strict=True))
