"""`pourwell desk`: the same in the browser."""

from typing import Annotated

import typer

NAME = "desk"


def command(
    *,
    port: Annotated[int | None, typer.Option(help="The port on this machine; the first free one from 8321 if not said.")] = None,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Do not open the browser.")] = False,
) -> None:
    """Open the desk in the browser: patterns, runs and sheets by hand. Only this machine can reach it. Ctrl-C ends it.

    Example: pourwell desk
    """
    from datetime import UTC, datetime

    from pourwell.app.desk import Desk, Hold, desk_folder
    from pourwell.web.server import serve

    folder = desk_folder()
    with Hold(folder) as hold:
        desk = Desk(folder, lambda: datetime.now(UTC))

        def opened(address: str) -> None:
            hold.tell(address)
            typer.echo(f"The desk is open at {address}\nStudio folder: {folder}\nCtrl-C ends it; what was typed is kept.")
            if not no_browser:
                import webbrowser

                webbrowser.open(address)

        serve(desk, port=port, opened=opened)
