"""The server of the desk: one app on 127.0.0.1, its guard outside of everything."""

import os
import socket
from collections.abc import Callable
from contextlib import suppress
from typing import Final

import uvicorn
from fastapi import FastAPI
from fastapi.middleware.gzip import GZipMiddleware

from pourwell.app.desk import Desk
from pourwell.errors import BadRequestError
from pourwell.web.guard import App, Guard, Receive, Scope, Send, own_hosts

HOST: Final = "127.0.0.1"
PORT: Final = 8321
LAST_PORT: Final = 65535
"""The highest number of 16 bits, which TCP gives a port (RFC 9293, section 3.1)."""
TRIES: Final = 20
"""Ports that are tried, one after the other, where none is named."""
GZIP_LEVEL: Final = 1
"""A mesh takes 45 ms at this level and 470 ms at the usual one, for the same size."""
BARE: Final = ("/kept/", "/draft/")
"""Ways to numbers that hardly get shorter."""


def create_app(desk: Desk, port: int) -> App:
    """All of the desk as one ASGI app. A process makes one."""
    os.environ["NICEGUI_STORAGE_PATH"] = str(desk.folder / ".pages")
    from nicegui import ui

    from pourwell.web.desk.pages import add_pages
    from pourwell.web.intake import intake
    from pourwell.web.kept import kept
    from pourwell.web.log_intake import logs
    from pourwell.web.look import MARK, dress
    from pourwell.web.run_sheets import run_sheets
    from pourwell.web.safe_keeping import safe_keeping

    app = FastAPI(openapi_url=None, docs_url=None, redoc_url=None)
    app.include_router(intake(desk))
    app.include_router(kept(desk))
    app.include_router(logs(desk))
    app.include_router(run_sheets(desk))
    app.include_router(safe_keeping(desk))
    dress(app)
    add_pages(desk)
    ui.run_with(
        app,
        title="Pourwell",
        favicon=MARK,
        dark=None,
        language="en-GB",
        tailwind=False,
        show_welcome_message=False,
        gzip_middleware_factory=lambda inner: Packing(inner, compresslevel=GZIP_LEVEL),
    )
    return Guard(app, hosts=own_hosts(port))


class Packing(GZipMiddleware):
    """Packs what is sent, but for solids and pictures: on one machine that takes longer than sending them."""

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pack, or pass on."""
        if scope["type"] == "http" and scope["path"].startswith(BARE):
            await self.app(scope, receive, send)
        else:
            await super().__call__(scope, receive, send)


def free_port(wanted: int | None) -> socket.socket:
    """A listening socket on this machine alone: on the port that is wanted, or on the first free one. Raises BadRequestError."""
    if wanted is not None and not 1 <= wanted <= LAST_PORT:
        raise BadRequestError(
            f"There is no port {wanted}.",
            why=f"Ports have the numbers 1 to {LAST_PORT}.",
            try_this=f"Say --port {PORT}, or leave it out for the first free one.",
        )
    why = ""
    for port in [wanted] if wanted is not None else range(PORT, PORT + TRIES):
        listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if os.name != "nt":  # there it would let two servers share a port
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((HOST, port))
            listening.listen()
        except OSError as err:
            listening.close()
            why = f"The system says: {err.strerror or err}."
        else:
            return listening
    taken = f"Port {wanted} is not free." if wanted is not None else f"No port from {PORT} to {PORT + TRIES - 1} is free."
    raise BadRequestError(taken, why=why, try_this="Is a desk open already? Else name another with --port.")


def serve(desk: Desk, *, port: int | None, opened: Callable[[str], None]) -> None:
    """Serve the desk until it is interrupted; `opened` gets its address once it listens."""
    listening = free_port(port)
    number = listening.getsockname()[1]
    config = uvicorn.Config(
        create_app(desk, number),
        log_level="warning",
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=2,
        ws_max_size=1_000_000,
    )
    server = uvicorn.Server(config)
    desk.begin()
    opened(f"http://{HOST}:{number}/")
    try:
        with suppress(KeyboardInterrupt):  # Ctrl-C is how a desk ends
            server.run(sockets=[listening])
    finally:
        desk.close()
