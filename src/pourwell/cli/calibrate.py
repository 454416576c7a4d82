"""`pourwell calibrate`: a thermocouple log, or a flask on the scale, turned into measured values of kiln, flask and investment."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from pourwell.cli.options import AsJson

if TYPE_CHECKING:
    from pourwell.app.calibrating import LogWish, Told
    from pourwell.app.calibrating_scale import ScaleWish

NAME = "calibrate"


Columns = Annotated[
    list[str] | None,
    typer.Option(
        metavar="PLACE=COLUMN",
        help="Which column, by number or name, sat where: kiln, core, half (half the radius), wall (on the steel), or so deep "
        "inside the wall as 12mm, 12mm@40mm over the shelf. Repeat it. Else the header's words are taken.",
    ),
]
TempUnit = Annotated[Literal["C", "F"] | None, typer.Option(help="What the readings are in, if the log does not say.")]
TimeUnit = Annotated[Literal["s", "min", "h"] | None, typer.Option(help="What the times count, if the log does not say.")]
Weights = Annotated[
    str, typer.Option(metavar="before=G,after=G,empty=G,pattern=G", help="Weights of the flask in g, instead of a log.")
]
Pictures = Annotated[Path | None, typer.Option(metavar="FOLDER", help="Write the log against the model there, as PNG and SVG.")]
ReplacePictures = Annotated[bool, typer.Option("--replace", help="Replace pictures that were written there before.")]


def command(
    log: Annotated[Path | None, typer.Argument(metavar="LOG", help="A logger's file: CSV or text. None for a weighing.")] = None,
    *,
    flask: Annotated[str, typer.Option(help="The flask with the probe, or on the scale: its id, or 76x100.")] = "",
    investment: Annotated[str, typer.Option(help="What it was filled with; see `pourwell materials`.")] = "gypsum-resin",
    column: Columns = None,
    unit: TempUnit = None,
    time: TimeUnit = None,
    placing: Annotated[float, typer.Option("--placing-mm", min=0, help="How far a probe may sit off its place, in mm.")] = 2.0,
    until: Annotated[float | None, typer.Option("--until-h", help="Read the log only so far, in hours from its start.")] = None,
    flask_temperature: Annotated[float, typer.Option(help="About where the kiln's fall is wanted, °C.")] = 500.0,
    weighed: Weights = "",
    resolution: Annotated[float, typer.Option("--resolution-g", help="What the scale shows in steps, in g.")] = 1.0,
    stood: Annotated[float | None, typer.Option("--stood-h", help="How long the weighed flask stood first, in h.")] = None,
    pictures: Pictures = None,
    replace: ReplacePictures = False,
    keep: Annotated[bool, typer.Option("--keep", help="Write what was measured into the studio's folder.")] = False,
    as_json: AsJson = False,
) -> None:
    """What a thermocouple log, or a weighing, says of your kiln, flask and investment.

    Nothing is written without --keep, or --pictures. Ctrl-C ends it and leaves nothing behind.

    Example: pourwell calibrate firing.csv --flask 76x100 --column kiln=2 --column core=3
    """
    from pourwell.app.calibrating import LogWish
    from pourwell.app.calibrating_scale import ScaleWish
    from pourwell.errors import BadRequestError

    if (log is None) == (not weighed):
        raise BadRequestError("Give a log, or --weighed, and not both.", try_this="See `pourwell calibrate --help`.")
    scale = ScaleWish(weighed=weighed, flask=flask, investment=investment, resolution_g=resolution, stood_h=stood)
    wish = LogWish(
        flask=flask, investment=investment, columns=tuple(column or ()), unit=unit, time_unit=time,
        placing_mm=placing, until_h=until, flask_c=flask_temperature,
    )  # fmt: skip
    _run(log, wish, scale, pictures=pictures, replace=replace, keep=keep, as_json=as_json)


def _run(
    log: Path | None,
    wish: "LogWish",
    scale: "ScaleWish",
    *,
    pictures: Path | None,
    replace: bool,
    keep: bool,
    as_json: bool,
) -> None:
    from datetime import UTC, datetime

    from pourwell.app.calibrating import calibrate_log
    from pourwell.app.calibrating_keep import keep_told
    from pourwell.app.calibrating_picture import draw_log
    from pourwell.app.calibrating_scale import calibrate_weighed
    from pourwell.cli.show import print_json, progress
    from pourwell.files.folder import check_folder
    from pourwell.files.plan_json import document

    if pictures:
        check_folder(pictures, replace=replace)
    now = datetime.now(UTC)
    with progress() as tell:
        told = calibrate_weighed(scale, now=now) if log is None else calibrate_log(log, wish, now=now, tell=tell)
    drawn = draw_log(told, pictures, replace=replace) if pictures else ()
    if keep and not as_json and (told.doubtful or not told.calibrations):
        _print(told, paths=drawn, keep=keep)
    kept = keep_told(told) if keep else ()
    if as_json:
        print_json(document(NAME, told.data | {"files": [str(path) for path in (*drawn, *kept)]}))
    else:
        _print(told, paths=(*drawn, *kept), keep=keep)


def _print(told: "Told", *, paths: tuple[Path, ...], keep: bool) -> None:
    from pourwell.app.calibrating_cautions import CAUTIONS, SCALE_CAUTIONS
    from pourwell.app.calibrating_keep import becomes, would_go
    from pourwell.cli.show import console, print_rows

    out = console()
    for remark in told.remarks:
        where = f"line {remark.line}: " if remark.line else ""
        out.print(f"[dim]{where}[/]{_escaped(remark.says)}")
    print_rows([(value.what, value.shown, value.remark) for value in told.values])
    for note in told.notes:
        out.print(_escaped(note))
    if told.doubtful:
        out.print(f"[bold]Not to be kept:[/] {_escaped(told.doubtful)}")
    elif told.calibrations:
        out.print(f"[bold]{'Measured now' if keep else 'Would become measured'}:[/] {_escaped(becomes(told.calibrations))}")
        if not keep:
            out.print(_escaped(would_go(told.calibrations)))
    for path in paths:
        out.print(f"  {path}", soft_wrap=True, markup=False)
    out.print(f"\n[bold]{'With a probe in kiln and flask' if told.curves else 'With a burnt flask'}[/]")
    for caution in CAUTIONS if told.curves else SCALE_CAUTIONS:
        out.print(f"[dim]- {_escaped(caution)}[/]")


def _escaped(text: str) -> str:
    from rich.markup import escape

    return escape(text)
