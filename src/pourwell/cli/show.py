"""How the commands print: tables for people, JSON for programs, complaints in sentences."""

import json
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any

import typer

from pourwell.cli.watch import stage
from pourwell.errors import PourwellError, shown

if TYPE_CHECKING:
    from rich.console import Console

    from pourwell.findings import Finding


FAST_RAYS = "embreex"
"""The package of the fast ray engine; it has no build for every machine."""

SLOW_RAYS = """The fast ray engine has no build for this machine: rays are cast one by one, and a ring takes minutes, not seconds.
Export patterns coarser, or work on a machine that has one: Linux or Windows on x86-64, or a Mac.
"""


def console() -> "Console":
    """The console for people."""
    from rich.console import Console

    return Console(highlight=False, soft_wrap=False, emoji=False)


def complain(err: PourwellError) -> None:
    """Say what was wrong, why, and what to try, on the error stream."""
    for part in (err.what, err.why, err.try_this):
        if part:
            sys.stderr.write("".join(f"{shown(line)}\n" for line in part.split("\n")))


def print_json(data: Any) -> None:
    """Print data as JSON on the output stream."""
    sys.stdout.write(json.dumps(data, ensure_ascii=False, indent=1) + "\n")


def print_findings(found: Iterable["Finding"]) -> None:
    """Findings, stops first, each with what to do."""
    from rich.markup import escape
    from rich.table import Table

    from pourwell.findings import in_order, spelt_out

    marks = {"stop": "[bold white on red] STOP [/]", "warn": "[bold black on yellow] WARN [/]", "note": "[dim] note [/]"}
    table = Table.grid(padding=(0, 1))
    for finding in in_order(found):
        table.add_row(marks[finding.severity.value], escape(shown(spelt_out(finding.says))))
        table.add_row("", escape(shown(spelt_out(finding.do))))
        limit = finding.limit and f"limit {spelt_out(finding.limit)}"
        tail = "; ".join(part for part in (finding.where, spelt_out(finding.measure), limit) if part)
        table.add_row("", f"[dim]{escape(shown(tail))}[/]")
    console().print(table)


def print_winners(sentences: Iterable[str]) -> None:
    """Who wins over the figures that follow; after the first sentence it is grave."""
    for number, sentence in enumerate(sentences):
        console().print(f"[bold]{sentence}[/]" if number else f"[dim]{sentence}[/]", soft_wrap=False)


def print_rows(rows: Iterable[tuple[str, str, str]]) -> None:
    """Rows of name, figure, remark; the figure stands out."""
    from rich.markup import escape
    from rich.table import Table

    table = Table.grid(padding=(0, 2))
    table.add_column()
    table.add_column(justify="right", style="bold")
    table.add_column(style="dim")
    for row in rows:
        table.add_row(*(escape(shown(cell)) for cell in row))
    console().print(table)


def end_on_stop(found: Iterable["Finding"]) -> None:
    """End the command with 3 if one of the findings is a stop."""
    if any(finding.severity == "stop" for finding in found):
        raise typer.Exit(3)


@contextmanager
def stopped_in_words() -> Iterator[None]:
    """Say at Ctrl-C that nothing was written; about work whose last step puts all its files in place at once."""
    try:
        yield
    except KeyboardInterrupt:
        sys.stderr.write("Stopped; nothing was written.\n")
        raise


@contextmanager
def progress() -> Iterator[Callable[[str], None]]:
    """A line on the error stream that tells what is being done; silent when that stream is no terminal.

    Whoever watches the program is told in any case. Where the fast ray engine is missing, that is said once.
    """
    if find_spec(FAST_RAYS) is None:
        sys.stderr.write(SLOW_RAYS)
    if not sys.stderr.isatty():
        yield stage
        return
    from rich.console import Console
    from rich.markup import escape

    with Console(stderr=True).status("") as status:

        def tell(text: str) -> None:
            stage(text)
            status.update(escape(shown(text)))

        yield tell
