"""What stands against a printed sheet and is not on it: a page before it, and a stamp in the margin of each of its pages."""

import io
import json
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import typst
from pypdf import PdfReader, PdfWriter

from pourwell.sheets import fonts
from pourwell.sheets.display import Display, day
from pourwell.sheets.paper import Paper
from pourwell.sheets.run_sheet import TEMPLATES


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """One thing that stands against it, as a finding says it."""

    severity: str
    says: str
    do: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Notice:
    """All that stands against a sheet, as the studio's clock showed `seen_at`."""

    number: int
    """Of the run."""
    title: str
    stamp: str
    """For the margin of every page, as DO NOT FIRE; empty for none."""
    reasons: Sequence[Reason]
    seen_at: datetime


def with_notice(sheet: bytes, notice: Notice, *, studio: str, paper: Paper, show: Display) -> bytes:
    """The sheet as a PDF with a page more before it; nothing on its own pages is covered but the margin to bind it by."""
    front = PdfReader(io.BytesIO(_front(notice, studio=studio, paper=paper, show=show)))
    out = PdfWriter(clone_from=io.BytesIO(sheet))
    if notice.stamp:
        for page in out.pages:
            page.merge_page(front.pages[-1])
    for place, page in enumerate(front.pages[:-1]):
        out.insert_page(page, place)
    written = io.BytesIO()
    out.write(written)
    return written.getvalue()


def _front(notice: Notice, *, studio: str, paper: Paper, show: Display) -> bytes:
    """The pages that come before, and behind them an empty one with the stamp."""
    seen = f"Seen {day(notice.seen_at)} {notice.seen_at.year}, {show.clock(notice.seen_at)}"
    view = {
        "paper": paper,
        "studio": studio,
        "number": str(notice.number),
        "title": notice.title,
        "which": f"Run {notice.number}",
        "stamp": notice.stamp,
        "reasons": [{"severity": r.severity, "says": show.text(r.says), "do": show.text(r.do)} for r in notice.reasons],
        "seen": f"{seen}, when this sheet was opened. The sheet behind knows nothing of it; what comes later is on the desk alone.",
    }
    text = json.dumps(view, ensure_ascii=False)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        fonts.gather(folder)
        made: bytes = typst.compile(
            TEMPLATES / "notice.typ",
            root=TEMPLATES,
            format="pdf",
            font_paths=fonts.load(folder, machine=bool(fonts.beyond_family(text))),
            sys_inputs={"view": text},
            timestamp=int(notice.seen_at.timestamp()),
        )
    return made
