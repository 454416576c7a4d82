"""`pourwell materials`: what the library holds, and where each value comes from."""

from typing import Annotated

import typer

from pourwell.cli.options import AsJson

NAME = "materials"


def command(
    name: Annotated[str, typer.Argument(help="An id, to see its row with unit, source and grade.")] = "",
    as_json: AsJson = False,
) -> None:
    """List alloys, investments, pattern materials and flasks, or show one.

    Example: pourwell materials sterling-925
    """
    from pourwell.app.shop import open_shop
    from pourwell.cli.show import print_json
    from pourwell.files.plan_json import plain

    library = open_shop().library
    shelves = {
        "alloy": library.alloys,
        "investment": library.investments,
        "pattern material": library.patterns,
        "flask": library.flasks,
        "burnout programme": library.programmes,
    }
    if name:
        row = _find(name, shelves)
        print_json(plain(row)) if as_json else _show(row, library)
    elif as_json:
        print_json({kind: sorted(rows) for kind, rows in shelves.items()})
    else:
        _list(shelves)


def _find(name: str, shelves: dict) -> object:  # type: ignore[type-arg]
    from pourwell.errors import UnknownNameError

    for rows in shelves.values():
        if name in rows:
            found: object = rows[name]
            return found
    raise UnknownNameError("material", name, [key for rows in shelves.values() for key in rows])


def _list(shelves: dict) -> None:  # type: ignore[type-arg]
    from rich.markup import escape
    from rich.table import Table

    from pourwell.cli.show import console

    for kind, rows in shelves.items():
        table = Table(title=f"{kind}s", title_justify="left", box=None, padding=(0, 2, 0, 0), show_header=False)
        for key, row in sorted(rows.items()):
            advice = escape(getattr(row, "advisory", ""))
            table.add_row(
                f"[bold]{escape(key)}[/]", escape(getattr(row, "name", "")), f"[dim]{'advisory: ' + advice if advice else ''}[/]"
            )
        console().print(table)
        console().print()


def _show(row: object, library: object) -> None:
    from rich.markup import escape
    from rich.table import Table

    from pourwell.cli.show import console
    from pourwell.materials.model import Quantity

    table = Table(
        title=escape(f"{getattr(row, 'id', '')}: {getattr(row, 'name', '')}"), title_justify="left", box=None, padding=(0, 2, 0, 0)
    )
    for head in ("value", "", "range", "grade", "source"):
        table.add_column(head, justify="right" if head in ("", "range") else "left")
    for key in type(row).model_fields:  # type: ignore[attr-defined]
        value = getattr(row, key)
        if isinstance(value, Quantity):
            low, high = value.ends
            span = f"{low:g} to {high:g}" if low < high else ""
            table.add_row(key, f"[bold]{value.value:g}[/] {value.unit}", span, value.grade.value, escape(value.source))
        elif isinstance(value, int | float):
            table.add_row(key, f"[bold]{'yes' if value is True else 'no' if value is False else f'{value:g}'}[/]", "", "", "")
    console().print(table)
    sources = getattr(library, "sources", {})
    keys = {getattr(row, k).source.partition(":")[0] for k in type(row).model_fields if isinstance(getattr(row, k), Quantity)}  # type: ignore[attr-defined]
    for key in sorted(keys & set(sources)):
        source = sources[key]
        console().print(f"[dim]{escape(key)}: {escape(source.author)}, {escape(source.title)}, {escape(source.year)}[/]")
