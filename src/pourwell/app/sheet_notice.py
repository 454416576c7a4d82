"""What stands against the printed sheet of a run and is not on it: other runs, and what was changed since.

`against` is asked by the page; `laid_before` is the work, in its own process.
"""

from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from pourwell.app.in_hand import Standing, forbids

FORMER: Final = "FORMER SHEET"
BESIDE: Final = "Beside your other runs"


def against(standing: Standing, *, place: int, changed: Sequence[str], now: datetime) -> dict[str, Any] | None:
    """The notice for the sheet of a flask, counted from 0, as plain data; None where nothing stands against it.

    `changed`: what was changed since it was worked out, in words. A sheet that is stopped by itself has its own stamp.
    """
    reasons = [{"severity": f["severity"], "says": f["marked"]["says"], "do": f["marked"]["do"]} for f in standing.clashes]
    never = forbids(standing.clashes)
    if changed:
        reasons.append(
            {
                "severity": "warn",
                "says": f"This is a former sheet. Since it was worked out, changed: {', '.join(changed)}.",
                "do": "Have the run worked out again, and print that sheet.",
            }
        )
    if not reasons:
        return None
    stopped = any(f["severity"] == "stop" for f in standing.plans[place]["findings"])
    stamp = never.upper() or (FORMER if changed else "")
    return {
        "number": standing.run.number,
        "title": never or (FORMER.capitalize() if changed else BESIDE),
        "stamp": "" if stopped else stamp,
        "reasons": reasons,
        "seen_at": now.isoformat(),
    }


def laid_before(folder: Path, sheet: Path, notice: Mapping[str, Any], *, tell: Any) -> bytes:
    """The sheet with the notice before it and its stamp on each page, in the units and on the paper of the studio."""
    from pourwell.materials.studio import load_studio
    from pourwell.sheets.display import display_of
    from pourwell.sheets.notice_sheet import Notice, Reason, with_notice

    tell("Laying a page before it")
    studio = load_studio(folder)
    made = Notice(
        number=notice["number"],
        title=notice["title"],
        stamp=notice["stamp"],
        reasons=[Reason(**reason) for reason in notice["reasons"]],
        seen_at=datetime.fromisoformat(notice["seen_at"]),
    )
    return with_notice(sheet.read_bytes(), made, studio=studio.name, paper=studio.paper, show=display_of(studio))
