"""An empty typer program: what `pourwell --help` is measured over."""

import typer

app = typer.Typer(add_completion=False)


@app.command()
def nothing() -> None:
    """Do nothing."""


if __name__ == "__main__":
    app()
