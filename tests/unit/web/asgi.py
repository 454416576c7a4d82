"""Ask an app without a server."""

import asyncio
from typing import Any

import httpx


def ask(app: Any, method: str, path: str, **how: Any) -> httpx.Response:
    """One request to an ASGI app, and its answer; a fault in the app is its answer 500."""

    async def go() -> httpx.Response:
        transport = httpx.ASGITransport(app, raise_app_exceptions=False)
        async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1:8321") as client:
            return await client.request(method, path, **how)

    return asyncio.run(go())
