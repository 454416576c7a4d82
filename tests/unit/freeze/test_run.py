"""One run: its mesh, its times, and what is refused before it starts."""

from dataclasses import replace

import numpy as np
import pytest

from pourwell.errors import BadRequestError, UnsoundResultError
from pourwell.geometry.solidity import from_manifold, to_manifold
from pourwell.physics.mesh import METAL, WALL
from pourwell.steps.freeze import run as running
from pourwell.steps.freeze.cast import Ends, Shape, metal_substance
from pourwell.steps.freeze.run import meshed, run
from tests.unit.freeze import trees

LIBRARY = trees.LIBRARY
QUIET = {"tell": lambda _: None, "probes": np.empty((0, 3)), "library": LIBRARY}


@pytest.fixture(scope="module")
def made():
    cast = trees.cast()
    shape = Shape(cast)
    return cast, shape, meshed(cast, shape, edge_mm=1.5)


def ran(made, *, ends=None, glow=False, cast=None, **other):
    basis, _, mesh = made
    given = cast or basis
    return run(given, mesh, metal=metal_substance(given.alloy, LIBRARY), ends=ends or Ends(), glow=glow, **{**QUIET, **other})


def test_the_mesh_holds_all_metal_and_the_wall(made):
    cast, shape, mesh = made
    metal = float(mesh.mesh.volume[mesh.mesh.metal].sum()) * 1e9
    assert metal == pytest.approx(cast.metal.volume_mm3, rel=0.02)
    assert np.count_nonzero(mesh.mesh.kind == WALL) > 0
    assert set(mesh.mesh.body[mesh.mesh.kind == METAL]) == set(range(len(shape.names)))


def test_the_deepest_place_of_each_body_lies_in_it(made):
    cast, shape, mesh = made
    again = shape.body(mesh.deepest)
    assert list(again) == list(range(len(cast.bodies)))
    assert (shape.distance(mesh.deepest) < 0).all()


def test_the_button_freezes_last_and_the_thin_band_first(made):
    got = ran(made)
    shape, mesh = made[1], made[2].mesh
    body, end = mesh.body[got.frozen.cells], got.frozen.end
    last = {name: float(end[body == i].max()) for i, name in enumerate(shape.names)}
    assert max(last, key=last.get) == "button"
    assert last["piece 1 A"] < last["piece 2 B"] < last["stem"] < last["button"]
    assert got.frozen.ledger.share < 1e-6


def test_a_slow_mould_freezes_slower_and_a_fast_one_faster(made):
    slow, mid, fast = (ran(made, ends=Ends(mould=e, touch=e)).frozen.end.max() for e in (-1, 0, 1))
    assert fast < mid < slow
    assert slow / fast > 1.3, "the mould's conductivity is known to a third only"


def test_a_hotter_flask_freezes_slower(made):
    """Trend of the trade and of Chvorinov's rule: time goes as the inverse square of solidus less mould temperature."""
    hot = ran(made, cast=replace(made[0], flask_c=600.0)).frozen.end.max()
    assert hot > 1.2 * ran(made).frozen.end.max()


def test_hotter_metal_freezes_later_but_little(made):
    warm = ran(made, cast=replace(made[0], metal_c=1050.0)).frozen.end.max()
    cool = ran(made).frozen.end.max()
    assert 1.0 < warm / cool < 1.3


def test_the_glow_goes_after_the_metal_is_solid(made):
    got = ran(made, glow=True)
    assert got.dark_s > got.frozen.time
    assert 100 < got.dark_s < 900, "minutes, as at the bench"


def test_a_flask_that_never_stops_glowing_is_given_up(made, monkeypatch):
    """A quarter of a minute is too short for any flask; two hours are told as no time at all."""
    monkeypatch.setattr(running, "LONGEST_S", 15.0)
    with pytest.raises(UnsoundResultError, match="still glows"):
        ran(made, glow=True)


def test_the_coldest_glow_holds_at_the_slow_end(made):
    """480 of 480 to 525 degC: who sees well in the shade waits longest."""
    slow, usual = (ran(made, glow=True, ends=Ends(mould=which)).dark_s for which in (-1, 0))
    assert slow > usual


def test_the_cooling_after_the_freezing_can_be_ended_too(made):
    told = []

    def ended(text):
        told.append(text)
        if "glows" in text:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        ran(made, glow=True, tell=ended)
    assert told[-1] == "Cooling until nothing glows"


def test_without_asking_nothing_is_said_of_the_glow(made):
    assert np.isnan(ran(made).dark_s)


def test_the_outside_is_colder_than_the_flask_was_and_hotter_than_the_room(made):
    assert 20 < ran(made).outside_c < 500


def test_probes_are_read_where_they_lie(made):
    got = ran(made, probes=made[2].deepest[:2])
    assert got.frozen.probe_temperatures.shape == (got.frozen.steps + 1, 2)
    assert got.frozen.probe_temperatures[0] == pytest.approx(970.0 + 273.15)


def test_curves_run_on_until_nothing_glows(made):
    """Deep in every body and in the mould at the wall; the last of the metal is at 500 degC then."""
    shape, mesh = made[1], made[2]
    got = ran(made, probes=mesh.probes, glow=True)
    assert got.curve_times.shape == got.curve_temperatures.shape[:1]
    assert got.curve_temperatures.shape[1] == len(shape.names) + 1
    assert (np.diff(got.curve_times) > 0).all()
    assert got.curve_times[-1] == got.dark_s
    assert got.curve_temperatures[-1, :-1].max() <= 500 + 273.15
    solid = int(np.searchsorted(got.curve_times, got.frozen.time))
    assert got.curve_temperatures[: solid + 1] == pytest.approx(got.frozen.probe_temperatures), "as the solver read them"


def test_without_glow_the_curves_end_with_the_freezing(made):
    got = ran(made, probes=made[2].probes)
    assert got.curve_times[-1] == got.frozen.time


def test_the_rim_lies_at_the_flasks_wall_half_way_up_the_metal(made):
    cast, shape, mesh = made
    x, y, z = shape.frame.to_tree(mesh.rim[None])[0]
    assert np.hypot(x, y) == pytest.approx(cast.flask.diameter_mm / 2, abs=3.0)
    assert z == pytest.approx(21.0, abs=3.0), "metal reaches from 6 to 36 mm"
    read = ran(made, probes=mesh.rim[None]).frozen.probe_temperatures[:, 0]
    assert read[0] == pytest.approx(500 + 273.15), "it starts as the flask, not as the metal"


def test_progress_is_told_in_rising_percents_and_what_it_raises_ends_the_run(made):
    heard = []
    ran(made, tell=heard.append)
    numbers = [int(text.split()[1]) for text in heard]
    assert numbers == sorted(set(numbers))
    assert numbers[-1] >= 95

    def stop(text):
        if "50" in text or int(text.split()[1]) > 50:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        ran(made, tell=stop)


def test_cells_that_do_not_fit_the_flask_are_refused():
    with pytest.raises(BadRequestError, match="do not fit a mould"):
        meshed(trees.cast(), Shape(trees.cast()), edge_mm=30.0)


def test_a_body_of_which_no_cell_is_left_is_named():
    cast = trees.cast()
    bodies = (*cast.bodies, ("sprue 1 second", from_manifold(to_manifold(cast.bodies[0][1]).scale((1e-3, 1e-3, 1e-3)))))
    more = replace(cast, bodies=bodies)
    with pytest.raises(BadRequestError, match="nothing is left of sprue 1 second"):
        meshed(more, Shape(more), edge_mm=1.5)


@pytest.mark.parametrize("edge", [2.5, 3.0, 4.0])
def test_a_grid_without_doublings_has_its_cells_too(edge):
    """3 mm fit the mould's 40 mm thirteen times, which no larger cell divides."""
    cast = trees.cast(pieces=((1, 0.0),))
    made = meshed(cast, Shape(cast), edge_mm=edge)
    metal = float(made.mesh.volume[made.mesh.metal].sum()) * 1e9
    assert metal == pytest.approx(cast.metal.volume_mm3, rel=0.1)
