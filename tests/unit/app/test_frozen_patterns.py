"""A piece as it freezes, as its pattern lies: every place has the time of the metal that fills it on the tree."""

import json
from math import cos, radians, sin
from types import SimpleNamespace

import numpy as np
import pytest

from pourwell.app.frozen_patterns import frozen_patterns
from pourwell.app.shapes import build_shape

EDGE_MM = 0.4
TURN = radians(30)
SHIFT = (12.0, -3.0, 40.0)
ROWS = ((cos(TURN), 0.0, sin(TURN), SHIFT[0]), (0.0, 1.0, 0.0, SHIFT[1]), (-sin(TURN), 0.0, cos(TURN), SHIFT[2]))


def plan_of(mesh, **more):
    """A tree on which the pattern hangs turned and shifted; its metal is solid from below, a millimetre a second."""
    low, high = (
        (mesh.vertices @ np.array(ROWS)[:, :3].T + SHIFT).min(axis=0),
        (mesh.vertices @ np.array(ROWS)[:, :3].T + SHIFT).max(axis=0),
    )
    axes = [np.arange(a - EDGE_MM, b + EDGE_MM, EDGE_MM) for a, b in zip(low, high, strict=True)]
    centres = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    patterns = tuple(SimpleNamespace(piece=SimpleNamespace(id=name, bore=None), mesh=mesh) for name in ("A", "B"))
    given = {
        "fields": SimpleNamespace(centre_mm=centres, end_s=(centres[:, 2] - 20).astype(np.float32)),
        "freezing": SimpleNamespace(edge_mm=EDGE_MM),
        "tree": SimpleNamespace(places=(SimpleNamespace(piece="B", transform=ROWS),)),
        "patterns": patterns,
    }
    return SimpleNamespace(**{**given, **more})


@pytest.fixture(scope="module")
def stud():
    return build_shape("stud", ())


def test_every_place_has_the_time_of_its_metal_on_the_tree(stud):
    files = frozen_patterns(plan_of(stud))
    assert set(files) == {"frozen-B.bin", "frozen-B.json"}, "A does not hang on this tree"
    head, view = json.loads(files["frozen-B.json"]), files["frozen-B.bin"]
    (field,) = head["fields"]
    assert (field["title"], field["unit"], field["slide"]) == ("Solid after", "s", "Still liquid at")
    n = 3 * head["shown_count"]
    places = np.frombuffer(view, "<f4", 3 * n).reshape(-1, 3)
    times = np.frombuffer(view, "<f4", n, field["offsets"][0])
    expected = places @ np.array(ROWS)[2, :3] + SHIFT[2] - 20
    assert np.median(np.abs(times - expected)) < EDGE_MM / 2
    assert np.abs(times - expected).max() < 4 * EDGE_MM, "edges are blended over a few cells"
    assert np.allclose(np.ptp(places, axis=0), np.ptp(stud.vertices, axis=0), atol=1e-4), "it lies as its pattern does"
    assert head["shown_count"] > len(stud.faces) / 2


@pytest.mark.parametrize("missing", ["fields", "freezing", "tree"])
def test_what_was_not_computed_is_not_shown(stud, missing):
    assert frozen_patterns(plan_of(stud, **{missing: None})) == {}


def test_cells_that_never_froze_have_no_say(stud):
    plan = plan_of(stud)
    end_s = plan.fields.end_s.copy()
    end_s[::2] = np.nan
    files = frozen_patterns(plan_of(stud, fields=SimpleNamespace(centre_mm=plan.fields.centre_mm, end_s=end_s)))
    head, view = json.loads(files["frozen-B.json"]), files["frozen-B.bin"]
    n = 3 * head["shown_count"]
    places, times = np.frombuffer(view, "<f4", 3 * n).reshape(-1, 3), np.frombuffer(view, "<f4", n, head["fields"][0]["offsets"][0])
    expected = places @ np.array(ROWS)[2, :3] + SHIFT[2] - 20
    assert np.median(np.abs(times - expected)) < EDGE_MM
