"""The freezing of a whole tree."""

from dataclasses import fields as fields_of
from dataclasses import replace

import numpy as np
import pytest

from pourwell.errors import BadDataError, BadRequestError
from pourwell.findings import Finding
from pourwell.geometry.mesh import Mesh
from pourwell.steps.freeze import plan
from pourwell.steps.freeze.cast import Shape
from pourwell.steps.freeze.run import TooCoarseError, meshed
from tests.unit.freeze import trees


def times(froze):
    freezing = froze.freezing
    yield freezing.button
    yield freezing.last
    yield freezing.dark
    for piece in freezing.pieces:
        yield piece.last
    for clock in freezing.clocks:
        yield clock.sprue
        yield clock.section


def test_every_time_lies_within_its_band_and_no_band_is_empty(froze):
    for spell in times(froze):
        assert 0 < spell.low_s <= spell.value_s <= spell.high_s
        assert spell.high_s > 1.2 * spell.low_s, "the mould's conductivity is known to a third only"


def test_the_button_is_the_last_to_freeze_and_then_the_glow_goes(froze):
    freezing = froze.freezing
    assert freezing.last == freezing.button
    assert freezing.dark.low_s > freezing.last.low_s
    assert freezing.last_at_mm[2] < 13, "in the dome"


def test_pieces_are_told_by_their_number_and_kind(froze):
    assert [(p.place, p.piece) for p in froze.freezing.pieces] == [(1, "A"), (2, "B")]
    thin, heavy = froze.freezing.pieces
    assert thin.first_s < thin.last.value_s < heavy.last.value_s
    assert thin.local_s < heavy.last.value_s


def test_the_audit_of_the_runs_is_told(froze):
    freezing = froze.freezing
    assert freezing.ledger_fraction < 1e-6
    assert freezing.edge_mm == pytest.approx(1.5, rel=0.05)
    mesh = meshed(trees.cast(), Shape(trees.cast()), edge_mm=1.5).mesh
    assert (freezing.cells_count, freezing.metal_cells_count) == (mesh.volume.size, mesh.metal.size)
    assert freezing.steps_count > 30
    assert freezing.curve == "computed"
    assert not freezing.fine
    assert freezing.not_modelled


def test_changes_are_tried_only_where_a_piece_is_not_fed(froze, sound):
    assert sound.freezing.changes == ()
    assert {change.piece for change in froze.freezing.changes} == {"B"}


def test_what_is_done_is_told_in_order(froze, told):
    assert told[0] == "Meshing the tree"
    assert told.index("Following the liquid") > 10
    assert any(text.startswith("Freezing: ") and text.endswith("run 3 of 3") for text in told)
    assert any(text.startswith("Trying: ") for text in told)


def test_the_findings_are_those_of_the_freezing(froze, sound):
    assert {finding.code for finding in froze.findings} <= {"freeze-cut-off", "freeze-uncertain"}
    assert froze.findings
    assert sound.findings == ()


def test_fields_have_one_row_for_each_cell_of_metal_and_are_shut(froze):
    fields, count = froze.fields, froze.freezing.metal_cells_count
    assert fields.centre_mm.shape == (count, 3)
    assert fields.passed_s.shape == (count, fields.solid_fraction.size)
    for name in ("size_mm", "body", "begin_s", "end_s", "rate_k_per_s", "gradient_k_per_mm", "niyama", "pool"):
        assert getattr(fields, name).shape == (count,), name
    for field in fields_of(fields):
        value = getattr(fields, field.name)
        if isinstance(value, np.ndarray):
            with pytest.raises(ValueError, match="read-only"):
                value[...] = 0


def test_fields_are_in_the_trees_frame_and_in_its_units(froze):
    fields = froze.fields
    low, high = fields.centre_mm.min(axis=0), fields.centre_mm.max(axis=0)
    assert 6 < low[2] < 8, "the button's face is at the foot"
    assert 34 < high[2] < 36, "the stem ends at 36 mm"
    assert -32 < low[0] < -27 < 27 - 3 < high[0] < 32
    doublings = np.log2(np.unique(fields.size_mm) / fields.size_mm.min())
    assert doublings == pytest.approx(np.round(doublings), abs=1e-3), "edges double"
    assert fields.bodies == ("piece 1 A", "sprue 1", "piece 2 B", "sprue 2", "stem", "button")


def test_a_freezing_says_what_was_poured_into_what(froze):
    told = froze.freezing
    assert (told.alloy, told.investment, told.flask) == ("sterling-925", "gypsum-resin", "64x50")
    assert (told.metal_c, told.flask_c) == (trees.cast().metal_c, trees.cast().flask_c)


def test_levels_are_passed_in_their_order_from_liquidus_to_solid(froze):
    fields = froze.fields
    assert (np.diff(fields.passed_s, axis=1) >= -1e-3).all()
    assert fields.passed_s[:, 0] == pytest.approx(fields.begin_s, rel=1e-3, abs=1e-2)
    assert fields.passed_s[:, -1] == pytest.approx(fields.end_s, rel=1e-3)
    assert (fields.rate_k_per_s > 0).mean() > 0.95


def test_cooling_curves_begin_at_the_metal_and_fall(froze):
    fields = froze.fields
    assert fields.curve_names == (*fields.bodies, "mould at the wall")
    assert fields.curve_c[0, :-1] == pytest.approx(970.0)
    assert fields.curve_c[0, -1] == pytest.approx(500.0)
    assert (fields.curve_c[-1] <= 500).all(), "until no metal glows"
    assert fields.curve_s[-1] == pytest.approx(froze.freezing.dark.value_s, rel=1e-5)
    assert fields.curve_s[0] == 0
    assert np.all(np.diff(fields.curve_s) > 0)


def test_curves_lie_between_those_of_the_slow_and_the_fast_run(froze):
    fields = froze.fields
    known = np.isfinite(fields.curve_low_c)
    assert (fields.curve_low_c <= fields.curve_c)[known].all()
    assert (fields.curve_high_c >= fields.curve_c)[known].all()
    assert known[fields.curve_s < froze.freezing.last.low_s].all(), "all three are still running"
    button = fields.curve_names.index("button")
    assert np.nanmax(fields.curve_high_c[:, button] - fields.curve_low_c[:, button]) > 20


def test_the_source_of_the_freezing_curve_is_told_with_its_band(froze):
    """Ag-Cu eutectic 779.1 degC (Murray 1984)."""
    freezing = froze.freezing
    assert (freezing.curve, freezing.curve_source) == ("computed", "ag-au-cu")
    assert freezing.solidus_c == pytest.approx(779.1, abs=1.0)
    assert 890 < freezing.liquidus_c < 905
    assert freezing.curve_band_k == 10.0
    assert freezing.feeds_to_fraction == trees.LIBRARY.rule("feeding_solid_low_fraction")


def test_slivers_do_not_go_their_own_ways(froze):
    """Every cell near to others of its body freezes about when they do: none is tens of seconds late."""
    fields = froze.fields
    at = fields.passed_s[:, list(fields.solid_fraction.round(2)).index(0.7)]
    for body in range(2):
        mine = fields.body == fields.bodies.index(f"piece {body + 1} {'AB'[body]}")
        assert at[mine].max() < 1.6 * np.quantile(at[mine], 0.95)


def test_what_cannot_be_computed_becomes_a_finding_and_the_plan_stands():
    found = plan.freeze_or_why(trees.cast(flask_c=850.0), fine=False, library=trees.LIBRARY, tell=lambda _: None)
    assert isinstance(found, Finding)
    assert found.code == "freeze-not-computed"
    assert "hotter than the metal's solidus" in found.says


def test_what_makes_no_sense_is_refused_before_anything_runs():
    heard = []
    with pytest.raises(BadRequestError, match="below its liquidus"):
        plan.freeze(trees.cast(metal_c=800.0), fine=False, library=trees.LIBRARY, tell=heard.append)
    assert heard == []


def test_a_body_that_is_not_closed_is_refused():
    cast = trees.cast()
    open_ = Mesh(cast.bodies[0][1].vertices, cast.bodies[0][1].faces[1:])
    with pytest.raises(BadDataError, match="not a closed solid"):
        plan.freeze(
            replace(cast, bodies=((cast.bodies[0][0], open_), *cast.bodies[1:])),
            fine=False,
            library=trees.LIBRARY,
            tell=lambda _: None,
            edge_mm=2.0,
        )


def test_a_cancelled_run_leaves_through_what_the_listener_raises():
    def stop(text):
        if text.startswith("Freezing"):
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        plan.freeze_or_why(trees.cast(), fine=False, library=trees.LIBRARY, tell=stop)


@pytest.mark.parametrize("alloy", ["fine-silver-999", "gold-585-white-nickel"])
def test_other_alloys_freeze_too(alloy):
    """A pure metal without a range, a computed gold and a tabulated one: all to the end, ledger closed, plain bands fed."""
    row = trees.LIBRARY.alloy(alloy)
    metal_c = row.liquidus_c.value + 80
    cast = trees.cast(alloy=alloy, metal_c=metal_c, pieces=((1, 0.0),))
    got = plan.freeze(cast, fine=False, library=trees.LIBRARY, tell=lambda _: None)
    assert got.freezing.ledger_fraction < 1e-6
    assert got.freezing.clocks[0].verdict == "fed"
    assert got.freezing.curve == ("straight" if "nickel" in alloy else "computed")
    assert (got.freezing.curve_band_k == 0.0) == ("nickel" in alloy)
    assert got.freezing.solidus_c <= got.freezing.liquidus_c < metal_c
    if alloy.startswith("fine"):
        assert not np.isfinite(got.fields.niyama).any(), "a pure metal has no mush"
    else:
        assert np.isfinite(got.fields.niyama).mean() > 0.9


def test_a_tree_that_falls_apart_on_the_drafts_grid_is_meshed_finer(monkeypatch):
    """But not where the edge is the user's own: then it is said."""
    cast = trees.cast(alloy="gold-750-yellow-3n", metal_c=985.0, pieces=((1, 0.0),), gauge=0.6)
    with pytest.raises(TooCoarseError, match="falls into 2 parts") as err:
        plan.freeze(cast, fine=False, library=trees.LIBRARY, tell=lambda _: None, edge_mm=2.0)
    assert "--fine" in err.value.try_this
    monkeypatch.setattr(plan, "DRAFT_MM", 2.0)
    got = plan.freeze(cast, fine=False, library=trees.LIBRARY, tell=lambda _: None)
    assert got.freezing.edge_mm == pytest.approx(1.0, rel=0.05)


def test_the_fine_edge_is_half_of_the_drafts():
    assert plan.FINE_MM == plan.DRAFT_MM / 2


def test_a_few_knife_edges_are_no_thin_wall():
    """Where two faces meet at an acute angle metal is as thin as one likes; a wall is thin in many places."""
    knife = np.concatenate([np.full(9, 0.1), np.full(3, 1.7)])
    assert plan.thinnest(knife, 1000) == 1.7
    assert plan.thinnest(knife[:9], 1000) == 2.0
    assert plan.thinnest(np.full(200, 0.8), 1000) == 0.8
    assert plan.thinnest(np.empty(0), 1000) == 2.0
