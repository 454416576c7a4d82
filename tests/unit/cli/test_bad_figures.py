"""Figures that nobody can mean are refused in a sentence, with 2, before anything is computed."""

from pathlib import Path

import pytest

from tests.journeys.call import Caller


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("plan", "--weight", "20", "--alloy", "sterling-925", "--metal", "nan"), "metal_c"),
        (("plan", "--weight", "20", "--alloy", "sterling-925", "--metal", "inf"), "metal_c"),
        (("plan", "--weight", "20", "--alloy", "sterling-925", "--flask-temperature", "1e9"), "flask_c"),
        (("plan", "--weight", "1e300", "--alloy", "sterling-925"), "weight_g"),
        (("weigh", "1e308", "--alloy", "sterling-925"), "weight_g"),
        (("weigh", "-3", "--alloy", "sterling-925"), "A weight is above 0, and this is -3."),
        (("weigh", "--alloy", "sterling-925", "-.5"), "A weight is above 0, and this is -.5."),
        (("weigh", "20", "--alloy", "sterling-925", "--base", "-3"), "base_g"),
        (("weigh", "-y", "20", "--alloy", "sterling-925"), "No such option: -y"),
        (("weigh", "20", "--base", "26.9", "--alloy", "sterling-925"), "`pourwell weigh --help` says what may stand there."),
        (("plan", "--weight", "20", "--alloy", "sterling-925", "--pour-at", "0001-01-01 10:00"), "year 1"),
        (("plan", "--weight", "20", "--alloy", "sterling-925", "--pour-at", "9999-12-31 23:00"), "year 9999"),
    ],
)
def test_a_figure_that_cannot_be_meant_is_refused(pourwell: Caller, words: tuple[str, ...], says: str) -> None:
    answer = pourwell(*words)
    assert answer.code == 2, answer.err
    assert says in answer.err


def test_a_flask_is_shown_with_its_sizes(pourwell: Caller) -> None:
    answer = pourwell("materials", "76x100")
    assert "diameter_mm   76" in answer.out
    assert "100" in answer.out


def test_a_new_alloy_that_says_like_is_told_what_is_its_own(
    pourwell: Caller, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "alloys").mkdir()
    (tmp_path / "alloys" / "house.toml").write_text('id = "house"\nname = "house"\nlike = "sterling-925"\n', encoding="utf-8")
    monkeypatch.setenv("POURWELL_STUDIO", str(tmp_path))
    answer = pourwell("materials", "house")
    assert answer.code == 2
    assert "composition_percent" in answer.err
    assert "Write like" not in answer.err
