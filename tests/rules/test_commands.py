"""Conventions C23: one file a command, one word a command; every command has help with an example and stands in the manual."""

import click
import pytest
import typer

from pourwell.cli import main
from tests.rules.source import ROOT, SRC

NAMES = (
    "check",
    "mend",
    "plan",
    "day",
    "freeze",
    "burnout",
    "print",
    "weigh",
    "mix",
    "size",
    "fit",
    "calibrate",
    "materials",
    "shape",
    "demo",
    "desk",
)


def command(name: str) -> click.Command:
    group = typer.main.get_command(main.app)
    found = group.get_command(click.Context(group), name)
    assert found is not None, f"pourwell has no command {name}"
    return found


def test_the_program_has_these_commands_and_no_others():
    group = typer.main.get_command(main.app)
    assert set(group.list_commands(click.Context(group))) == set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_every_command_has_a_file_of_its_own(name):
    assert (SRC / "cli" / f"{name}.py").is_file()


@pytest.mark.parametrize("name", NAMES)
def test_every_command_has_help_with_an_example(name):
    said = command(name).help or ""
    assert f"pourwell {name}" in said, f'write "Example: pourwell {name} ..." into the docstring of cli/{name}.py'


@pytest.mark.parametrize("name", NAMES)
def test_every_option_of_a_command_is_explained(name):
    dumb = [p.name for p in command(name).params if not getattr(p, "help", None) and p.name != "help"]
    assert not dumb, f"pourwell {name}: no help for {', '.join(dumb)}"


@pytest.mark.parametrize("name", NAMES)
def test_every_command_stands_in_the_manual(name):
    page = ROOT / "docs" / "cli.md"
    assert page.is_file(), "write docs/cli.md"
    assert f"pourwell {name}" in page.read_text(encoding="utf-8")


@pytest.mark.parametrize("name", [n for n in NAMES if n not in ("demo", "desk", "plan")])
def test_every_command_that_prints_data_prints_json_too(name):
    assert any("--json" in p.opts for p in command(name).params), f"pourwell {name} lacks --json"
