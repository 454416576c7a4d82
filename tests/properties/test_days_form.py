"""Whatever stands in the address of the days ahead, its page can be built: a field is read, or says why not."""

from datetime import UTC, datetime, time

from hypothesis import given
from hypothesis import strategies as st

from pourwell.app.desk import NEW_RUN
from pourwell.app.desk_days_form import InHand, is_ticked, listed, numbers_in, read_form, trees_of
from pourwell.store.model import KeptRun

NOW = datetime(2026, 11, 26, 8, 30, tzinfo=UTC)
RUNS = (1, 2, 7)
OF_DAYS = ("work_from", "work_to", "days_off", "overnight", "start_day", "start_hour", "pour_day", "pour_hour", "wait", "title")
OF_ONE = (
    "pour",
    "day",
    "hour",
    "ready_day",
    "ready_hour",
    "kiln",
    "alloy",
    "flask",
    "pattern",
    "flasks",
    "pieces",
    "weight",
    "name",
)
KEYS = (*OF_DAYS, "bag", "apart", "off", "on", "trees", *(f"{at}.{key}" for at in ("r1", "r7", "t1", "t3") for key in OF_ONE))
LIKELY = (
    "", "1", "1.3", "7", "0", "-2", "9:30", "25:00", "17", "2026-11-28", "2026-02-30", "Sunday", "none", "yes", "no", "free", "own",
    "at", "by", "sterling-925", "24,5", "10 dwt", "1e9", "nan", "\u0661", "*",
)  # fmt: skip
TEXTS = st.sampled_from(LIKELY) | st.text(max_size=12)
TYPED = st.dictionaries(st.sampled_from(KEYS), TEXTS, max_size=20)


def kept(run_id, form):
    return KeptRun(id=run_id, number=run_id, form={**NEW_RUN, **form}, pieces=(), made_at=NOW, changed_at=NOW)


FORMS = st.fixed_dictionaries(
    {}, optional={key: TEXTS for key in ("weight", "pour_day", "pour_hour", "returns", "metal_c", "kiln")}
)


@given(TYPED, st.lists(FORMS, min_size=3, max_size=3), st.lists(st.booleans(), min_size=3, max_size=3))
def test_every_form_is_read_and_each_run_is_placed_or_told_why_not(typed, forms, begun):
    runs = [
        InHand(run=kept(run_id, form), begun_at=NOW if has else None) for run_id, form, has in zip(RUNS, forms, begun, strict=True)
    ]
    read = read_form(typed, runs, now=NOW, zone=UTC, liquidus_c={"sterling-925": 893.0}, free=8)
    placed = [entry["run_id"] for entry in read.entries if "run_id" in entry]
    wanted = [one.run.id for one in runs if is_ticked(one, typed)]
    assert placed == [run_id for run_id in wanted if run_id not in read.unreadable]
    assert all(why.strip() for why in (*read.faults.values(), *read.unreadable.values()))
    assert set(read.faults) <= {
        *typed,
        *(f"{at}.{key}" for at in _at(typed) for key in ("hour", "alloy")),
        "start_hour",
        "pour_hour",
    } | {f"{at}.ready_hour" for at in _at(typed)}
    numbers = [entry["number"] for entry in read.entries]
    assert len(set(numbers)) == len(numbers)
    assert [n for n in numbers if n >= 8] == list(range(8, 8 + len(trees_of(typed)))), "trees come after all runs"


def _at(typed):
    return [f"r{run_id}" for run_id in RUNS] + [f"t{tree}" for tree in trees_of(typed)]


@given(TYPED)
def test_what_is_read_without_a_fault_is_what_a_week_may_say(typed):
    read = read_form(typed, [], now=NOW, zone=UTC, liquidus_c={}, free=1)
    week = read.week
    assert week["work_from"] is None or isinstance(week["work_from"], time)
    assert week["overnight_firing"] in (None, True, False)
    assert week["wait_max_min"] is None or 0 <= week["wait_max_min"] <= 2880
    assert all(week[key] is None or week[key] > NOW for key in ("start_at", "pour_at")), "what is over is told"
    for entry in read.entries:
        assert 1 <= entry["flasks_count"] <= 12
        assert 0 <= entry["pieces_count"] <= 500
        assert entry["request"].get("weight_g", 1.0) > 0
        assert all(entry["when"].get(key) is None or entry["when"][key] > NOW for key in ("pour_at", "pour_by", "ready_at"))


@given(st.sets(st.integers(min_value=0, max_value=10**6)))
def test_a_list_of_numbers_comes_back_from_the_address(numbers):
    assert numbers_in(listed(numbers)) == sorted(numbers)
