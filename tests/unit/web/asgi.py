"""Ask an app without a server."""

import asyncio
from collections.abc import Sequence
from typing import Any

import httpx


def ask(app: Any, method: str, path: str, **how: Any) -> httpx.Response:
    """One request to an ASGI app, and its answer; a fault in the app is its answer 500."""

    async def go() -> httpx.Response:
        transport = httpx.ASGITransport(app, raise_app_exceptions=False)
        async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1:8321") as client:
            return await client.request(method, path, **how)

    return asyncio.run(go())


def leave(app: Any, path: str, *, headers: dict[str, str]) -> None:
    """Send half of a file to an ASGI app, then be gone; a fault in the app is raised here."""

    async def go() -> None:
        came: Sequence[dict[str, Any]] = [{"type": "http.request", "body": b"half", "more_body": True}, {"type": "http.disconnect"}]
        said = iter(came)

        async def receive() -> dict[str, Any]:
            return next(said, came[-1])

        async def send(_: object) -> None:
            """Nobody is there."""

        named = [(name.encode(), value.encode()) for name, value in headers.items()]
        scope = {"type": "http", "method": "PUT", "path": path, "query_string": b"name=a.stl", "headers": named}
        await app(scope, receive, send)

    asyncio.run(go())
