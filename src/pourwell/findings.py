"""What the user should know about a plan: a Finding, its severity, and the register of codes."""

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum


class Severity(StrEnum):
    """How much a finding matters; the order of the members is the order in which they are shown.

    STOP: a person could be hurt, the metal or flask is surely lost, or the plan rests on a file that we do not understand.
    WARN: outside published practice. NOTE: worth knowing.
    """

    STOP = "stop"
    WARN = "warn"
    NOTE = "note"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing to know about a plan.

    `says` and `do` are sentences. Quantities in them are written `{t:500}` (degC), `{m:734}` (degC that must not be passed: in no
    unit rounded up), `{k:20}` (K), `{l:6}` (mm), `{p:98}` (kPa) and `{g:4.2}` (g of metal or pattern), pages `{page:kiln}`, so that
    a sheet can show them in the reader's units; `spelt_out` writes them in workshop units.
    """

    code: str
    severity: Severity
    where: str
    says: str
    do: str
    measure: str = ""
    """What was found, with its unit."""
    limit: str = ""
    """What it was held against, with its unit."""
    source: str = ""
    """Where the limit comes from: a source key, or "common practice, no source"."""
    at_mm: tuple[float, float, float] | None = None
    """The place on the pattern, in its file's own frame [mm]; none for what has no single place."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Code:
    """A kind of finding: its name, the severities it can have, and what it is for."""

    code: str
    severities: tuple[Severity, ...]
    about: str


def in_order(findings: Iterable[Finding]) -> list[Finding]:
    """Stops first, then warns, then notes; otherwise in the order of the job."""
    order = list(Severity)
    return sorted(findings, key=lambda f: order.index(f.severity))


_TOKEN = re.compile(r"\{([tmklpg]):(-?[\d.]+(?:e[+-]?\d+)?)\}|\{page:(\w+)\}")
_UNITS = {"t": "°C", "m": "°C", "k": "K", "l": "mm", "p": "kPa", "g": "g"}


def spelt_out(sentence: str) -> str:
    """A sentence with its quantities in workshop units: `{t:500}` becomes "500 °C", `{page:tree}` "(tree)"."""
    return _TOKEN.sub(lambda m: f"{m[2]} {_UNITS[m[1]]}" if m[1] else f'"{m[3]}"', sentence)


def folded(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Those of one kind, severity and remedy as one: the first, with the places and measures of the others behind what it says."""
    kinds: dict[tuple[str, Severity, str], list[Finding]] = {}
    for finding in findings:
        kinds.setdefault((finding.code, finding.severity, finding.do), []).append(finding)
    out = []
    for first, *others in kinds.values():
        places = [f"{one.where.rpartition(': ')[0] or one.where}, {one.measure}".removesuffix(", ") for one in others]
        out.append(replace(first, says=f"{first.says} Likewise {'; '.join(places)}.") if places else first)
    return tuple(out)
