"""The printed sheet of a run by URL: GET /runs/N/sheet.pdf. What the desk knows against it comes first and is stamped on it."""

from pathlib import Path
from typing import Any, Final

from fastapi import APIRouter, HTTPException
from fastapi.responses import FileResponse, PlainTextResponse, Response

from pourwell.app.desk import Desk
from pourwell.app.desk_words import SHEET
from pourwell.app.sheet_notice import against
from pourwell.errors import PourwellError
from pourwell.findings import spelt_out
from pourwell.steps.day.clock import local
from pourwell.web.desk.plans import WORDS, file_of, placed
from pourwell.web.kept import KINDS, NOT_KEPT

NOTICE: Final = "pourwell.app.sheet_notice:laid_before"
WAIT_S: Final = 60.0
"""For the page that is laid before a sheet; it takes a quarter of a second once its process is there."""


def run_sheets(desk: Desk) -> APIRouter:
    """The way to the sheets of the newest plans."""
    router = APIRouter()

    @router.get("/runs/{run_id}/sheet.pdf")
    def get_sheet(run_id: int, flask: int = 1) -> Response:
        """The sheet of a flask. A sheet that cannot be stamped is not given out without its stamp."""
        try:
            path, notice = _found(desk, run_id, flask - 1)
        except PourwellError as err:  # what stands against it cannot be told while a file of the studio is being written
            return PlainTextResponse(f"The sheet could not be made ready.\n{err}", 503, NOT_KEPT)
        if notice is None:
            return FileResponse(path, media_type=KINDS["pdf"], headers=NOT_KEPT)
        job = desk.crew.answer(NOTICE, desk.folder, path, notice)
        job.over.wait(WAIT_S)
        if job.state != "done":
            why = f" {job.fault.what}" if job.fault else ""
            says = " ".join(spelt_out(reason["says"]) for reason in notice["reasons"])
            return PlainTextResponse(f"The sheet could not be made ready.{why}\nDo not use it as it is. {says}", 503, NOT_KEPT)
        return Response(job.outcome, media_type=KINDS["pdf"], headers=NOT_KEPT)

    return router


def _found(desk: Desk, run_id: int, place: int) -> tuple[Path, dict[str, Any] | None]:
    """Where the sheet lies, and what stands against it."""
    try:
        run, result = desk.store.run(run_id), desk.store.latest(run_id=run_id)
        if result is None:
            raise HTTPException(404, "This run is not worked out yet.")
        if place != placed(result, place)[1]:
            raise HTTPException(404, "The run has no such flask.")
        path = desk.store.shelf.path(result.files[file_of(SHEET, place)])
    except (PourwellError, KeyError):
        raise HTTPException(404, "There is no such sheet.") from None
    if not path.is_file():
        raise HTTPException(404, "The sheet is gone from the studio's folder: have the run worked out again.")
    standing = desk.standing_of(run_id)
    if standing is None:
        return path, None
    changed = [WORDS[key] for key in desk.changed(run, result)]
    return path, against(standing, place=place, changed=changed, now=local(desk.clock(), desk.choices().zone))


def sheet_link(run_id: int, place: int) -> str:
    """The URL of the sheet of a flask, counted from 0."""
    return f"/runs/{run_id}/sheet.pdf?flask={place + 1}" if place else f"/runs/{run_id}/sheet.pdf"
