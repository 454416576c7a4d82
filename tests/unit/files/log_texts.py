"""Logs of an invented firing as loggers write them."""

from collections.abc import Callable

import numpy as np

ROWS = 400
"""Minutes of it."""


def kiln_c(minute: float) -> float:
    """A kiln that climbs, holds, climbs and holds."""
    return 20.0 + 1.5 * min(minute, 180) + 4.0 * min(max(0.0, minute - 300), 90)


def core_c(minute: float) -> float:
    """A core that follows it."""
    return 4.0 + 0.8 * kiln_c(max(0.0, minute - 20))


def clock(minute: int, *, begin: int = 1200) -> str:
    """HH:MM from eight in the evening on."""
    return f"{(minute + begin) // 60 % 24:02d}:{(minute + begin) % 60:02d}"


def text(
    stamp: Callable[[int], str] = clock,
    *,
    header: str = "Time,Kiln,Core",
    mark: str = ",",
    comma: bool = False,
    rows: int = ROWS,
    turn: Callable[[float], float] = lambda c: c,
) -> str:
    """The log as text: a row a minute, two columns."""
    lines = [header] if header else []
    for minute in range(rows):
        cells = [f"{turn(value(minute)):.1f}" for value in (kiln_c, core_c)]
        lines.append(mark.join([stamp(minute), *(cell.replace(".", ",") if comma else cell for cell in cells)]))
    return "\n".join(lines) + "\n"


def data(*args, **named) -> bytes:
    """The same as bytes."""
    return text(*args, **named).encode()


def truth(rows: int = ROWS) -> tuple[np.ndarray, np.ndarray]:
    """What both columns hold [degC]."""
    return np.array([kiln_c(m) for m in range(rows)]), np.array([core_c(m) for m in range(rows)])


def changed(line: int, old: str, new: str, *, lines: str = "") -> bytes:
    """The plain log with one line (from 1) changed; the change must take."""
    rows = (lines or text()).split("\n")
    assert old in rows[line - 1], rows[line - 1]
    rows[line - 1] = rows[line - 1].replace(old, new)
    return "\n".join(rows).encode()
