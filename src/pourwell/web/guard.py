"""Who may speak to the desk: pages of this machine, and nobody else. Pure ASGI, so it sees sockets as well as requests.

A page elsewhere can make a browser call 127.0.0.1, and can give its own name this address. So every request must name this machine
as its host, and whatever changes something must come from a page of ours.
"""

from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from typing import Any, Final

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

HARMLESS: Final = frozenset({"GET", "HEAD", "OPTIONS"})
POLICY: Final = (
    "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval'; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data: blob:; font-src 'self' data:; connect-src 'self'; object-src 'none'; base-uri 'self'; "
    "form-action 'self'; frame-ancestors 'none'"
)
"""What a page may load: only from here. The framework's own scripts stand in the page, so those are allowed."""
HEADERS: Final = (
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
)
REFUSED: Final = b"This desk answers only to pages of the machine that it runs on.\n"


class Guard:
    """Lets through what names one of our hosts and, where it may change something, comes from one of our pages."""

    def __init__(self, app: App, *, hosts: Iterable[str]) -> None:
        self.app, self.hosts = app, frozenset(host.lower() for host in hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse or go on; adds the headers that keep pages to this machine."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
        elif not self.welcome(scope):
            await _refuse(scope, send)
        else:
            await self.app(scope, receive, _with_headers(send) if scope["type"] == "http" else send)

    def welcome(self, scope: Scope) -> bool:
        """Whether a request or a socket may come in."""
        said: dict[bytes, list[str]] = {}
        for name, value in scope.get("headers", []):
            said.setdefault(name.lower(), []).append(value.decode("latin-1").lower())
        hosts, origins = said.get(b"host", []), said.get(b"origin", [])
        if len(hosts) != 1 or hosts[0] not in self.hosts:
            return False
        if scope["type"] == "http" and scope["method"] in HARMLESS:
            return True
        return all(origin.partition("://")[2] in self.hosts for origin in origins) and len(origins) <= 1


async def _refuse(scope: Scope, send: Send) -> None:
    if scope["type"] == "websocket":
        await send({"type": "websocket.close", "code": 1008})
        return
    headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"content-length", str(len(REFUSED)).encode()), *HEADERS]
    await send({"type": "http.response.start", "status": 421, "headers": headers})
    await send({"type": "http.response.body", "body": REFUSED})


def _with_headers(send: Send) -> Send:
    async def sent(message: Message) -> None:
        if message["type"] == "http.response.start":
            message = {**message, "headers": [*message.get("headers", []), *HEADERS]}
        await send(message)

    return sent


def own_hosts(port: int) -> tuple[str, ...]:
    """The names under which this machine calls itself."""
    return tuple(f"{host}:{port}" for host in ("127.0.0.1", "localhost"))
