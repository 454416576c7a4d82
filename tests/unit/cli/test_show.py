"""How the commands print: words for people that lose nothing, data for programs."""

import io
import json
import sys
from dataclasses import replace
from datetime import time

import pytest
import typer

from pourwell.app.planning import Written
from pourwell.cli import show
from pourwell.cli.plan_summary import print_plans
from pourwell.findings import Finding, Severity
from tests.golden.sheets.plans import plan


def finding(severity: Severity, code: str = "wall-thin", **more: str) -> Finding:
    words = {"where": "A", "says": f"The wall of {code} is {{l:0.4}} thin.", "do": "Make it {l:0.8} thick.", **more}
    return Finding(code=code, severity=severity, **words)


@pytest.fixture(autouse=True)
def wide(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "160")


def test_findings_are_shown_stops_first_each_with_what_to_do(capsys: pytest.CaptureFixture[str]) -> None:
    found = [finding(Severity.NOTE, "a"), finding(Severity.STOP, "b"), finding(Severity.WARN, "c"), finding(Severity.STOP, "d")]
    show.print_findings(found)
    out = capsys.readouterr().out
    places = [out.index(f"The wall of {code} is") for code in "bdca"]
    assert places == sorted(places)
    assert [out.count(mark) for mark in ("STOP", "WARN", "note")] == [2, 1, 1]
    assert out.count("Make it 0.8 mm thick.") == 4


def test_quantities_are_spelt_out_and_place_measure_and_limit_follow(capsys: pytest.CaptureFixture[str]) -> None:
    show.print_findings([finding(Severity.WARN, measure="0.40 mm", limit="0.80 mm")])
    out = capsys.readouterr().out
    assert "is 0.4 mm thin" in out
    assert "A; 0.40 mm; limit 0.80 mm" in out
    assert "{" not in out


def test_a_finding_without_measure_ends_with_its_place(capsys: pytest.CaptureFixture[str]) -> None:
    show.print_findings([finding(Severity.WARN, where="the stem")])
    assert capsys.readouterr().out.splitlines()[-1].strip() == "the stem"


@pytest.mark.parametrize("name", ["band[bold].stl", "band[/].stl", "[red]", "a\\[b]", ":ring: band", "band[1] (2).stl"])
def test_a_name_with_brackets_or_colons_is_printed_as_it_is(capsys: pytest.CaptureFixture[str], name: str) -> None:
    show.print_rows([(name, name, name)])
    assert capsys.readouterr().out.split("  ")[0] == name
    show.print_findings([finding(Severity.NOTE, where=name, says=name, do=name)])
    assert capsys.readouterr().out.count(name) == 3


def test_figures_of_a_table_stand_under_one_another_at_the_right(capsys: pytest.CaptureFixture[str]) -> None:
    show.print_rows([("charge", "174.2 g", "all"), ("fresh", "5.0 g", "some")])
    first, second = capsys.readouterr().out.splitlines()
    assert first.index(" g ") == second.index(" g ")


def test_data_are_written_in_full_in_our_letters(capsys: pytest.CaptureFixture[str]) -> None:
    data = {"size": "N½", "name": "Zoë [bold]", "g": 0.1, "list": [1, None, True]}
    show.print_json(data)
    out = capsys.readouterr().out
    assert json.loads(out) == data
    assert "N½" in out
    assert out.endswith("}\n")


@pytest.mark.parametrize("severities", [[], [Severity.NOTE], [Severity.WARN, Severity.NOTE]])
def test_without_a_stop_a_command_goes_on(severities: list[Severity]) -> None:
    show.end_on_stop([finding(s) for s in severities])


def test_one_stop_among_others_ends_a_command_with_three() -> None:
    with pytest.raises(typer.Exit) as caught:
        show.end_on_stop([finding(Severity.NOTE), finding(Severity.STOP), finding(Severity.WARN)])
    assert caught.value.exit_code == 3


def test_progress_is_silent_where_nobody_looks(capsys: pytest.CaptureFixture[str]) -> None:
    with show.progress() as tell:
        tell("Growing the tree")
    assert capsys.readouterr() == ("", "")


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


def test_progress_goes_to_the_error_stream_of_a_terminal_and_takes_any_name(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr(sys, "stderr", Terminal())
    with show.progress() as tell:
        tell("Drawing band[/] of Zoë [bold]")
    assert capsys.readouterr().out == ""


def test_a_missing_ray_engine_is_said_once_with_what_it_means(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    with show.progress():
        pass
    assert capsys.readouterr().err == "", "it is here"
    monkeypatch.setattr(show, "FAST_RAYS", "no_such_engine")
    with show.progress() as tell:
        tell("Measuring one")
        tell("Measuring another")
    err = capsys.readouterr().err
    assert err.count("The fast ray engine has no build for this machine") == 1
    assert "minutes, not seconds" in err
    assert "Export patterns coarser" in err


def test_a_plan_that_fires_in_the_night_says_so_above_its_findings(capsys: pytest.CaptureFixture[str]) -> None:
    print_plans(Written(plans=(plan(),), paths=()))
    said = " ".join(capsys.readouterr().out.split())
    assert said.index("It fires overnight: extraction on") < said.index("Returns are 40 %")
    awake = plan().studio.model_copy(update={"sleep_from": time(10, 30), "sleep_to": time(11, 30)})
    print_plans(Written(plans=(replace(plan(), studio=awake),), paths=()))
    assert "overnight" not in capsys.readouterr().out
