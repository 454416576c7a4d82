"""The store: patterns, runs and results are kept as they were given, and nothing is lost by being removed."""

import threading
from datetime import UTC, datetime, timedelta, timezone

import pytest

from pourwell.errors import BadDataError, BadRequestError, OutputError
from pourwell.store.store import Store

NOW = datetime(2026, 11, 26, 8, 30, tzinfo=timezone(timedelta(hours=1)))
LATER = NOW + timedelta(minutes=5)


@pytest.fixture
def store(tmp_path):
    kept = Store(tmp_path / "studio")
    yield kept
    kept.close()


def band(store, content=b"solid", name="Band"):
    return store.add_pattern(content, file=f"{name.lower()}.stl", name=name, now=NOW)[0]


def test_a_pattern_comes_back_as_it_was_given(store):
    kept = band(store)
    again = store.pattern(kept.id)
    assert again == kept
    assert (again.name, again.file, again.size_bytes, again.units) == ("Band", "band.stl", 5, "")
    assert again.added_at == NOW
    assert store.shelf.path(again.digest).read_bytes() == b"solid"


def test_a_pattern_may_come_as_a_file(store, tmp_path):
    path = tmp_path / "large.stl"
    path.write_bytes(b"x" * 3_000_000)
    kept, new = store.add_pattern(path, file=path.name, name="Large", now=NOW)
    assert new
    assert kept.size_bytes == 3_000_000
    assert store.shelf.path(kept.digest).read_bytes() == path.read_bytes()


def test_the_same_file_twice_is_one_pattern(store):
    first = band(store)
    second, new = store.add_pattern(b"solid", file="other.stl", name="Other", now=LATER)
    assert not new
    assert second == first
    assert len(store.patterns()) == 1


def test_the_library_lists_the_newest_first(store):
    first, second = band(store, b"1"), band(store, b"2")
    assert [p.id for p in store.patterns()] == [second.id, first.id]


def test_a_removed_pattern_leaves_the_library_and_can_be_put_back(store):
    kept = band(store)
    store.remove_pattern(kept.id, now=LATER)
    assert store.patterns() == []
    assert store.pattern(kept.id).removed_at == LATER
    store.remove_pattern(kept.id, now=None)
    assert store.patterns() == [kept]


def test_a_removed_pattern_comes_back_when_its_file_is_dropped_again(store):
    kept = band(store)
    store.remove_pattern(kept.id, now=LATER)
    again, new = store.add_pattern(b"solid", file="band.stl", name="Band", now=LATER)
    assert not new
    assert again.removed_at is None
    assert store.patterns() == [kept]


def test_name_and_unit_of_a_pattern_can_be_changed_each_by_itself(store):
    kept = band(store)
    assert store.change_pattern(kept.id, units="inch").units == "inch"
    changed = store.change_pattern(kept.id, name="<b>Heddle</b>")
    assert (changed.name, changed.units) == ("<b>Heddle</b>", "inch")
    assert store.pattern(kept.id) == changed


@pytest.mark.parametrize("deed", ["pattern", "run", "result"])
def test_what_is_not_there_is_told_in_a_sentence(store, deed):
    with pytest.raises(BadRequestError, match=f"There is no {deed} 77 here"):
        getattr(store, deed)(77)


def test_runs_are_numbered_in_their_order(store):
    first, second = store.add_run({}, now=NOW), store.add_run({}, now=NOW)
    assert (first.number, second.number) == (1, 2)
    assert [r.number for r in store.runs()] == [2, 1]


def test_a_run_keeps_what_was_typed_also_what_is_not_yet_right(store):
    run = store.add_run({"alloy": "sterling-925"}, now=NOW)
    changed = store.change_run(run.id, fields={"flask": "76x", "metal_c": "9 hundred"}, now=LATER)
    assert changed.form == {"alloy": "sterling-925", "flask": "76x", "metal_c": "9 hundred"}
    assert (changed.made_at, changed.changed_at) == (NOW, LATER)
    assert store.run(run.id) == changed


def test_pieces_keep_their_order_and_none_is_none(store):
    a, b = band(store, b"a"), band(store, b"b")
    run = store.add_run({}, pieces=[(b.id, 2)], now=NOW)
    assert store.change_run(run.id, pieces={a.id: 4}, now=NOW).pieces == ((b.id, 2), (a.id, 4))
    assert store.change_run(run.id, pieces={b.id: 3}, now=NOW).pieces == ((b.id, 3), (a.id, 4))
    assert store.change_run(run.id, pieces={b.id: 0}, now=NOW).pieces == ((a.id, 4),)
    assert store.change_run(run.id, pieces={b.id: 0}, now=NOW).pieces == ((a.id, 4),)
    assert store.change_run(run.id, pieces={b.id: 1}, now=NOW).pieces == ((a.id, 4), (b.id, 1))


def test_two_windows_on_one_run_change_what_they_change_and_nothing_else(store, tmp_path):
    run = store.add_run({"alloy": "sterling-925", "flask": ""}, now=NOW)
    other = Store(tmp_path / "studio")
    store.change_run(run.id, fields={"alloy": "fine-silver-999"}, now=NOW)
    other.change_run(run.id, fields={"flask": "76x100"}, now=NOW)
    assert store.run(run.id).form == {"alloy": "fine-silver-999", "flask": "76x100"}
    other.close()


def test_many_writers_at_once_lose_nothing(store):
    run = store.add_run({}, now=NOW)

    def write(key):
        for value in range(10):
            store.change_run(run.id, fields={key: value}, now=NOW)

    writers = [threading.Thread(target=write, args=(f"field-{k}",)) for k in range(4)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    assert store.run(run.id).form == {f"field-{k}": 9 for k in range(4)}


def test_a_run_laid_away_can_be_taken_up_again(store):
    run = store.add_run({}, now=NOW)
    store.remove_run(run.id, now=LATER)
    assert store.runs() == []
    store.remove_run(run.id, now=None)
    assert store.runs() == [run]


def test_a_run_of_a_pattern_that_is_not_there_is_refused_whole(store):
    from sqlalchemy.exc import IntegrityError

    with pytest.raises(IntegrityError, match="FOREIGN KEY"):
        store.add_run({}, pieces=[(99, 1)], now=NOW)
    assert store.runs() == []


def test_a_result_is_kept_with_its_files(store):
    kept = band(store)
    made = store.add_result(pattern_id=kept.id, asked={"alloy": "x"}, data={"g": 3.25}, files={"a.png": b"PNG"}, now=NOW)
    again = store.latest(pattern_id=kept.id)
    assert again == made == store.result(made.id)
    assert again.data == {"g": 3.25}
    assert store.shelf.path(again.files["a.png"]).read_bytes() == b"PNG"


def test_the_last_result_counts_and_the_older_stay(store):
    kept, other = band(store, b"1"), band(store, b"2")
    first = store.add_result(pattern_id=kept.id, asked={}, data={"n": 1}, now=NOW)
    second = store.add_result(pattern_id=kept.id, asked={}, data={"n": 2}, now=LATER)
    assert store.latest(pattern_id=kept.id) == second
    assert store.result(first.id).data == {"n": 1}
    assert store.latest_of_patterns() == {kept.id: second}
    assert store.latest(pattern_id=other.id) is None


def test_results_of_runs_and_of_patterns_are_kept_apart(store):
    kept, run = band(store), store.add_run({}, now=NOW)
    assert (kept.id, run.id) == (1, 1)
    of_run = store.add_result(run_id=run.id, asked={}, data={"of": "run"}, now=NOW)
    assert store.latest(pattern_id=1) is None
    assert store.latest(run_id=1) == of_run


def test_a_result_belongs_to_one_thing(store):
    from sqlalchemy.exc import IntegrityError

    with pytest.raises(IntegrityError, match="of_one"):
        store.add_result(asked={}, data={}, now=NOW)


def test_a_form_that_json_cannot_hold_is_refused_before_anything_is_written(store):
    run = store.add_run({"a": 1}, now=NOW)
    with pytest.raises(ValueError, match="JSON"):
        store.change_run(run.id, fields={"a": float("nan")}, now=NOW)
    assert store.run(run.id).form == {"a": 1}


def test_sweeping_takes_only_what_nobody_speaks_of(store):
    kept = band(store)
    made = store.add_result(pattern_id=kept.id, asked={}, data={}, files={"a": b"file"}, now=NOW)
    stray = store.shelf.put(b"stray")
    (store.shelf.folder / ".new-half").write_bytes(b"half")
    assert store.shelf.sweep(store.spoken_of()) == 2
    assert set(store.shelf.digests()) == {kept.digest, made.files["a"]}
    assert stray not in set(store.shelf.digests())


def test_a_digest_that_is_none_leads_nowhere(store):
    for name in ("../../studio.toml", "ab", "G" * 64, "a" * 64 + "/x", ""):
        with pytest.raises(BadDataError):
            store.shelf.path(name)


def test_damage_on_the_shelf_is_seen(store):
    kept = band(store)
    assert list(store.shelf.damaged()) == []
    store.shelf.path(kept.digest).write_bytes(b"other")
    assert list(store.shelf.damaged()) == [kept.digest]


def test_moments_are_kept_as_moments_whatever_the_zone(store):
    store.add_run({}, now=NOW)
    assert store.runs()[0].made_at == NOW.astimezone(UTC)


def test_what_cannot_be_kept_is_told_and_not_called_saved(store):
    run = store.add_run({"a": 1}, now=NOW)
    with store.engine.execution_options(pourwell_writes=True).begin() as connection:
        connection.exec_driver_sql("ALTER TABLE run RENAME TO run_away")
    with pytest.raises(OutputError, match=r"could not be kept\. The store says: no such table"):
        store.change_run(run.id, fields={"a": 2}, now=NOW)
    with store.engine.execution_options(pourwell_writes=True).begin() as connection:
        connection.exec_driver_sql("ALTER TABLE run_away RENAME TO run")
    assert store.run(run.id).form == {"a": 1}


def test_the_last_results_of_runs_are_found(store):
    one, two = store.add_run({}, now=NOW), store.add_run({}, now=NOW)
    made = [store.add_result(run_id=one.id, asked={}, data={"n": n}, now=NOW) for n in range(3)]
    other = store.add_result(run_id=two.id, asked={}, data={"n": 9}, now=NOW)
    assert store.last_of_run(one.id) == [made[2], made[1]]
    assert store.last_of_run(one.id, most=1) == [made[2]]
    assert store.latest_of_runs() == {one.id: made[2], two.id: other}


def test_the_last_results_follow_what_is_added_and_nothing_else_is_read_again(store):
    kept, other = band(store), store.add_pattern(b"2", file="b.stl", name="B", now=NOW, units="mm")[0]
    assert other.units == "mm"
    first = store.add_result(pattern_id=kept.id, asked={}, data={"n": 1}, files={"a.bin": b"1"}, now=NOW)
    found = store.latest_of_patterns()
    assert found == {kept.id: first}
    again = store.latest_of_patterns()
    assert again[kept.id] is found[kept.id]
    second = store.add_result(pattern_id=other.id, asked={}, data={"n": 2}, now=NOW)
    third = store.add_result(pattern_id=kept.id, asked={}, data={"n": 3}, now=LATER)
    assert store.latest_of_patterns() == {kept.id: third, other.id: second}


def test_plans_of_all_runs_are_listed_newest_first_without_those_laid_away(store):
    first, second = (store.add_run({}, now=NOW) for _ in range(2))
    for run in (first, second, first):
        store.add_result(run_id=run.id, asked={}, data={"plans": []}, now=NOW)
    assert [(result, run) for result, run, _ in store.planned()] == [(3, first.id), (2, second.id), (1, first.id)]
    assert store.planned(1) == [(3, first.id, NOW)]
    store.remove_run(first.id, now=LATER)
    assert [run for _, run, _ in store.planned()] == [second.id]
