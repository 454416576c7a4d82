"""What every page loads: our own rules, and fonts from an installed package. Nothing comes from elsewhere."""

import hashlib
from importlib.resources import files
from pathlib import Path
from typing import Final

from fastapi import FastAPI
from fastapi.responses import FileResponse, Response
from nicegui import ui

STATIC: Final = Path(__file__).parent / "static"
SHEETS: Final = ("tokens.css", "components.css", "desk.css", "patterns.css", "runs.css", "measuring.css")
FONTS: Final = ("SourceSansPro-Regular.otf", "SourceSansPro-Semibold.otf", "SourceSansPro-Bold.otf")
MARK: Final = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 22 26"><path d="M3 2h16l-5.5 8v14h-5V10z" fill="#f1f2ee" '
    'stroke="#26389b" stroke-width="2" stroke-linejoin="round"/><path d="M6.2 6.6h9.6L13.5 10v14h-5V10z" fill="#26389b"/></svg>'
)
"""A funnel half full: the mark of the program."""
FOREVER: Final = {"cache-control": "public, max-age=31536000, immutable"}


def digest() -> str:
    """Of all our rules: part of their URLs, so that a new version is never mixed with an old one."""
    return hashlib.sha256(b"".join((STATIC / name).read_bytes() for name in SHEETS)).hexdigest()[:12]


def dress(app: FastAPI) -> None:
    """Give an app its rules and fonts, and every page their links."""
    version = digest()

    @app.get(f"/look/{version}/{{name}}")
    def get_sheet(name: str) -> Response:
        """A sheet of rules."""
        if name not in SHEETS:
            return Response(status_code=404)
        return FileResponse(STATIC / name, media_type="text/css", headers=FOREVER)

    @app.get("/fonts/{name}")
    def get_font(name: str) -> Response:
        """A font of the installed family."""
        if name not in FONTS:
            return Response(status_code=404)
        content = (files("font_source_sans_pro") / "files" / name).read_bytes()
        return Response(content, media_type="font/otf", headers=FOREVER)

    links = [f'<link rel="preload" as="font" type="font/otf" href="/fonts/{FONTS[0]}" crossorigin>']
    links += [f'<link rel="stylesheet" href="/look/{version}/{name}">' for name in SHEETS]
    ui.add_head_html("".join(links), shared=True)
