"""Ring sizes hold together whatever the bore."""

import math

from hypothesis import given
from hypothesis import strategies as st

from pourwell.errors import BadRequestError
from pourwell.steps.pattern.bore_plan import finished_bore_mm, scale_for
from pourwell.steps.pattern.sizes import diameter_of, sizes

FINGERS = st.floats(13.1, 22.6)
STEP_MM = {"US": 0.8128 / 4 / 2, "UK": 1.25 / math.pi / 2 / 2, "JP": 1 / 3 / 2, "ISO": 0.1 / math.pi / 2, "CH": 0.1 / math.pi / 2}
"""Half the step that each system is written in, in diameter."""


@given(FINGERS)
def test_what_is_written_is_read_back_within_half_a_step(diameter_mm):
    said = sizes(diameter_mm)
    for system, half_step in STEP_MM.items():
        text = f"{system} {getattr(said, system.lower())}"
        assert abs(diameter_of(text) - diameter_mm) <= half_step + 1e-9, text


@given(FINGERS, FINGERS)
def test_a_larger_bore_never_has_a_smaller_size(one, other):
    small, large = sorted((one, other))
    for system in STEP_MM:
        ends = [diameter_of(f"{system} {getattr(sizes(d), system.lower())}") for d in (small, large)]
        assert ends[0] <= ends[1]


@given(st.floats(0.1, 200))
def test_every_length_has_a_text_in_every_system(diameter_mm):
    said = sizes(diameter_mm)
    assert all((said.iso, said.us, said.uk, said.jp, said.ch))


@given(st.text(max_size=12))
def test_no_text_breaks_the_reader(text):
    try:
        diameter = diameter_of(text)
    except BadRequestError:
        return
    assert 10 <= diameter <= 27


@given(st.floats(13, 24), st.floats(13, 24), st.floats(0, 0.03), st.floats(0, 0.4), st.floats(0, 0.03), st.floats(0, 0.4))
def test_the_scale_undoes_the_prediction_and_bands_stay_in_order(wanted, drawn, shrink, finish, shrink_more, finish_more):
    scale = scale_for(wanted, drawn, shrinkage=shrink, finishing_mm=finish)
    assert math.isclose(finished_bore_mm(drawn * scale, shrink, finish), wanted)
    assert finished_bore_mm(drawn, shrink + shrink_more, finish) <= finished_bore_mm(drawn, shrink, finish + finish_more)
