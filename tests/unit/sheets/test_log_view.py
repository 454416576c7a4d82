"""The picture of a log against the model."""

import re
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from pourwell.sheets.log_view import ABOVE, BELOW, HEIGHT, LEFT, RIGHT, WIDTH, Trace, log_view

T = np.linspace(0, 10 * 3600, 200)
KILN = Trace(name="kiln (2)", times=T, readings=np.linspace(20, 730, 200))
CORE = Trace(name="core (TC <1>)", times=T, readings=np.linspace(20, 700, 200), modelled=np.linspace(20, 705, 200))


def drawn(*probes, **more):
    return log_view(KILN, probes, title="firing.csv against the model", about="76x100 flask", **more)


def test_it_is_a_picture_in_both_forms():
    view = drawn(CORE)
    assert Image.open(BytesIO(view.png)).size == (WIDTH, HEIGHT)
    assert view.svg.startswith(b"<svg")
    assert b"TC &lt;1&gt;" in view.svg


def test_axes_are_named_and_end_above_the_hottest_reading():
    text = drawn(CORE).svg.decode()
    words = re.findall(r">([^<>]+)</text>", text)
    assert {"0", "100", "800", "10", "°C", "hours from the first reading"} <= set(words)
    assert "900" not in words


def test_dots_and_lines_are_explained_only_where_there_is_a_model():
    assert "dots: read; lines: computed" in drawn(CORE).svg.decode()
    bare = Trace(name="core", times=T, readings=CORE.readings)
    assert "lines: computed" not in drawn(bare).svg.decode()
    assert "lines: computed" not in drawn().svg.decode()


@pytest.mark.parametrize("count", [0, 1, 6, 11])
def test_any_number_of_probes_is_shown_by_name(count):
    probes = [Trace(name=f"probe {i}", times=T, readings=CORE.readings - 5 * i, modelled=CORE.modelled) for i in range(count)]
    text = drawn(*probes).svg.decode()
    assert all(f"probe {i}" in text for i in range(count))


def test_all_that_is_drawn_lies_on_the_plot():
    holes = CORE.readings.copy()
    holes[50:60] = np.nan
    view = drawn(Trace(name="core", times=T, readings=holes, modelled=CORE.modelled))
    lines = [part.lines for part in view.parts if hasattr(part, "lines") and len(part.lines) > 20]
    assert lines
    for part in lines:
        known = part[np.isfinite(part).all(axis=1)]
        assert known[:, [0, 2]].min() >= LEFT - 1
        assert known[:, [0, 2]].max() <= WIDTH - RIGHT + 1
        assert known[:, [1, 3]].min() >= ABOVE - 1
        assert known[:, [1, 3]].max() <= HEIGHT - BELOW + 1


def test_a_long_name_is_shortened_and_stays_in_the_picture():
    view = drawn(Trace(name="core " + "x" * 80, times=T, readings=CORE.readings))
    assert "…" in view.svg.decode()
