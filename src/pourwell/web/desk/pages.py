"""Which page is where."""

from collections.abc import Callable
from typing import Any, Final

from fastapi import Request
from nicegui import ui

from pourwell.app.desk import Desk
from pourwell.errors import PourwellError
from pourwell.web.desk import parts
from pourwell.web.desk.burnout import burnout_page
from pourwell.web.desk.compare import compare_page
from pourwell.web.desk.days import MOST_WORDS as MOST_OF_DAYS
from pourwell.web.desk.days import days_page
from pourwell.web.desk.equipment import equipment_page
from pourwell.web.desk.firing import firing_page
from pourwell.web.desk.freezing import freezing_page
from pourwell.web.desk.log_page import log_page
from pourwell.web.desk.material import material_page
from pourwell.web.desk.materials import calibrations_page, shelf_page, sources_page
from pourwell.web.desk.pattern import pattern_page
from pourwell.web.desk.patterns import patterns_page
from pourwell.web.desk.printing import printing_page
from pourwell.web.desk.run import run_page
from pourwell.web.desk.runs import runs_page
from pourwell.web.desk.scale_page import scale_page
from pourwell.web.desk.settings import settings_page
from pourwell.web.desk.shape import only_words, shape_page
from pourwell.web.desk.sprues import sprues_page
from pourwell.web.desk.studio import studio_page
from pourwell.web.desk.tag import Tag

KEEP_S: Final = 600.0
"""A page waits so long for a silent server before it is loaded anew."""


MOST_WORDS: Final = 200
"""Fields of a log: some of each of its columns."""


def add_pages(desk: Desk) -> None:
    """Tell the framework of all pages of a desk."""

    def page(path: str) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
        return ui.page(path, reconnect_timeout=KEEP_S)

    @page("/")
    def studio(request: Request) -> None:
        _or_told(lambda: studio_page(desk, only_words(request.query_params.multi_items())))

    @page("/patterns")
    def patterns() -> None:
        _or_told(lambda: patterns_page(desk))

    @page("/patterns/new")
    def shape(request: Request) -> None:
        _or_told(lambda: shape_page(desk, only_words(request.query_params.multi_items())))

    @page("/patterns/{pattern_id}")
    def pattern(pattern_id: int, request: Request) -> None:
        size = only_words(request.query_params.multi_items()).get("size", "")
        _or_told(lambda: pattern_page(desk, pattern_id, size=size))

    @page("/patterns/{pattern_id}/printing")
    def printing(pattern_id: int, request: Request) -> None:
        _or_told(lambda: printing_page(desk, pattern_id, only_words(request.query_params.multi_items())))

    @page("/runs")
    def runs() -> None:
        _or_told(lambda: runs_page(desk))

    @page("/runs/days")
    def days(request: Request) -> None:
        _or_told(lambda: days_page(desk, only_words(request.query_params.multi_items(), most=MOST_OF_DAYS)))

    @page("/runs/{run_id}")
    def run(run_id: int, flask: int = 1) -> None:
        _or_told(lambda: run_page(desk, run_id, flask=flask))

    @page("/runs/{run_id}/sprues")
    def sprues(run_id: int, piece: int = 0) -> None:
        _or_told(lambda: sprues_page(desk, run_id, piece=piece))

    @page("/runs/{run_id}/freezing")
    def freezing(run_id: int, flask: int = 1) -> None:
        _or_told(lambda: freezing_page(desk, run_id, flask=flask))

    @page("/runs/{run_id}/burnout")
    def burnout(run_id: int, flask: int = 1) -> None:
        _or_told(lambda: firing_page(desk, run_id, flask=flask))

    @page("/runs/{run_id}/compare")
    def compare(run_id: int, a: int = 0, b: int = 0) -> None:
        _or_told(lambda: compare_page(desk, run_id, a=a, b=b))

    @page("/burnout")
    def judged(request: Request) -> None:
        _or_told(lambda: burnout_page(desk, only_words(request.query_params.multi_items())))

    _add_own_things(desk, page)


def _add_own_things(desk: Desk, page: Callable[[str], Callable[..., Any]]) -> None:
    """Materials, equipment, settings."""

    @page("/materials")
    def materials() -> None:
        _or_told(lambda: equipment_page(desk))

    @page("/materials/calibrations")
    def calibrations() -> None:
        _or_told(lambda: calibrations_page(desk))

    @page("/materials/calibrations/log")
    def log(request: Request) -> None:
        _or_told(lambda: log_page(desk, only_words(request.query_params.multi_items(), most=MOST_WORDS)))

    @page("/materials/calibrations/scale")
    def scale(request: Request) -> None:
        _or_told(lambda: scale_page(desk, only_words(request.query_params.multi_items())))

    @page("/materials/sources")
    def sources() -> None:
        _or_told(lambda: sources_page(desk))

    @page("/materials/{shelf}")
    def shelf_of(shelf: str) -> None:
        _or_told(lambda: shelf_page(desk, shelf))

    @page("/materials/{shelf}/{name}")
    def material(shelf: str, name: str) -> None:
        _or_told(lambda: material_page(desk, shelf, name))

    @page("/settings")
    def settings() -> None:
        _or_told(lambda: settings_page(desk))


def _or_told(build: Callable[[], None]) -> None:
    """The page, or why there is none, with a way on: a number that nothing has, a studio file that says what it must not."""
    try:
        build()
    except PourwellError as err:
        ui.page_title("Not here · Pourwell")
        with Tag("main", classes="page"), Tag("div", classes="empty"):
            Tag("h1", err.what)
            Tag("p", " ".join(part for part in (err.why, err.try_this) if part))
            parts.link("To the studio", "/", "btn")
