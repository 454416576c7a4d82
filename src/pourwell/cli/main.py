"""The program `pourwell`: its commands, and the one place where errors become sentences and exit codes.

Exit 0 fine, 1 our bug, 2 a bad request, 3 a plan or a check with a stop, 130 interrupted, 143 asked to end.
"""

import gc
import re
import signal
import sys
import tempfile
import time
import traceback
from math import inf
from pathlib import Path
from typing import Any

import typer
from typer.core import TyperCommand

from pourwell.cli import (
    burnout,
    calibrate,
    check,
    day,
    demo,
    desk,
    fit,
    freeze,
    materials,
    mend,
    mix,
    plan,
    shape,
    size,
    watch,
    weigh,
)
from pourwell.cli import print as printing
from pourwell.cli.show import complain
from pourwell.errors import OutputError, PourwellError

app = typer.Typer(
    name="pourwell",
    help="From a pattern file, or a weight, to a run sheet for lost-wax casting.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode="rich",
)

COMMANDS = {
    module.NAME: module
    for module in (
        check,
        mend,
        plan,
        day,
        freeze,
        burnout,
        printing,
        weigh,
        mix,
        size,
        fit,
        calibrate,
        materials,
        shape,
        demo,
        desk,
    )
}
"""Every command by its name, in the order of the help."""
BARE = ("demo", "desk", "materials")
"""Commands that need no argument."""

WATCHED = ("check", "mend", "plan", "freeze", "print", "fit")
"""Commands that read patterns, which may hold anything."""

COMMA = re.compile(r"(-?\d+),(\d+)")
DIGITS_APART = 3
"""So many digits stand behind a comma that parts thousands."""


class Command(TyperCommand):
    """A command that says what is wrong with 41,2, and with what its own module refuses before words are taken apart."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Take the words apart; a number that is refused for its comma is told with a point."""
        refuse = getattr(COMMANDS.get(self.name or ""), "refuse", None)
        if refuse is not None:
            refuse(args)
        try:
            return super().parse_args(ctx, args)
        except typer.BadParameter as err:
            from pydantic import ValidationError

            faults = err.__cause__.errors() if isinstance(err.__cause__, ValidationError) else []
            comma = next((COMMA.fullmatch(str(f["input"])) for f in faults if f["type"] == "float_parsing"), None)
            if comma:
                whole, part = comma.groups()
                thousands = f", or {whole}{part} if it parts thousands" if len(part) == DIGITS_APART else ""
                err.message = f"{whole},{part} has a comma: write {whole}.{part}{thousands}"
            raise


for name, module in COMMANDS.items():
    app.command(name, no_args_is_help=name not in BARE, cls=Command)(module.command)


interrupts: list[int] = []
"""The signals that came: a library that wraps an interrupt into a fault of its own must not make it ours."""


ONE_REQUEST_S = 0.8
"""A terminal and a watcher both pass on the same request: what comes so soon after another is that one."""
ENOUGH_S = 10.0
"""What clears up for longer than this may be broken off."""

_heard_s = [-inf, -inf]
"""When a request was raised last, and when one came last."""


def interrupt(number: int, _: object) -> None:
    """Note the interrupt, and raise it: once for one request, and not into what clears up after an earlier one."""
    now = time.monotonic()
    raised, last = _heard_s if interrupts else (-inf, -inf)
    interrupts.append(number)
    _heard_s[1] = now
    if now - last < ONE_REQUEST_S or (now - raised < ENOUGH_S and _clears_up()):
        return
    _heard_s[0] = now
    raise KeyboardInterrupt


def _clears_up() -> bool:
    """Is a KeyboardInterrupt being handled where the signal came."""
    fault = sys.exc_info()[1]
    while fault is not None and not isinstance(fault, KeyboardInterrupt):
        fault = fault.__context__
    return fault is not None


SELDOM = 500_000
"""So many new objects before those that hold one another are looked for: loading makes hundreds of thousands, and drops none."""


def main() -> None:
    """Entry point of the installed program: a command that computes with patterns goes on in a process that is watched."""
    gc.set_threshold(SELDOM)
    if sys.argv[1:2] and sys.argv[1] in WATCHED and "--help" not in sys.argv:
        watch.apart()
    try:
        run()
    except SystemExit as end:
        watch.leave(code_of(end))
    watch.leave(0)


def code_of(end: SystemExit) -> int:
    """The exit code that Python itself would end with: a text is said, and is no success."""
    if end.code is None or isinstance(end.code, int):
        return end.code or 0
    complain(PourwellError(str(end.code)))
    return 1


def run() -> None:
    """Run the command that was asked for, and end with its code."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    interrupts.clear()
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, interrupt)
    try:
        _run_app()
    except PourwellError as err:
        complain(err)
        sys.exit(2)
    except OSError as err:
        where = f" with {err.filename}" if err.filename else ""
        complain(OutputError(f"The system refuses to go on{where}.", why=f"It says: {err.strerror or err}."))
        sys.exit(2)
    except MemoryError:
        complain(watch.too_much(""))
        sys.exit(2)
    except Exception:
        if interrupts:
            sys.exit(watch.ASKED + interrupts[-1])
        with tempfile.NamedTemporaryFile(
            "w", prefix="pourwell-fault-", suffix=".txt", delete=False, encoding="utf-8", errors="backslashreplace"
        ) as file:
            traceback.print_exc(file=file)
        sys.stderr.write(f"This is a fault in Pourwell, not in your request. What happened stands in {Path(file.name)}.\n")
        sys.exit(1)
    finally:
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, _heard)


def _heard(_: int, __: object) -> None:
    """Nothing: a terminal and a watcher both pass on the same request, and the second must not meet a program that is ending."""


def _run_app() -> None:
    """Run the command; one that an interrupt ended says by which."""
    try:
        app()
    except SystemExit as end:
        if end.code == watch.ASKED + signal.SIGINT and interrupts:
            sys.exit(watch.ASKED + interrupts[-1])
        raise
