"""The guard: only pages of this machine are answered, by request and by socket."""

import asyncio
from typing import Any

import pytest

from pourwell.web.guard import POLICY, Guard, own_hosts

HOSTS = own_hosts(8321)


def ask(kind: str = "http", method: str = "GET", **said: str) -> tuple[list[dict[str, Any]], bool]:
    """What the guard sends for a request with these headers, and whether it let it through."""
    sent: list[dict[str, Any]] = []
    inside: list[str] = []

    async def app(scope, receive, send):
        inside.append(scope["type"])
        if scope["type"] == "http":
            await send({"type": "http.response.start", "status": 200, "headers": [(b"x-own", b"1")]})
            await send({"type": "http.response.body", "body": b"page"})

    async def send(message):
        sent.append(dict(message))

    async def receive():
        return {"type": "http.disconnect"}

    headers = [(name.replace("_", "-").encode(), value.encode()) for name, value in said.items()]
    scope = {"type": kind, "method": method, "path": "/", "headers": headers}
    asyncio.run(Guard(app, hosts=HOSTS)(scope, receive, send))
    return sent, bool(inside)


@pytest.mark.parametrize("host", ["127.0.0.1:8321", "localhost:8321", "LOCALHOST:8321"])
def test_this_machine_is_answered(host):
    sent, through = ask(host=host)
    assert through
    assert sent[0]["status"] == 200


@pytest.mark.parametrize(
    "host",
    ["evil.example", "evil.example:8321", "127.0.0.1", "127.0.0.1:80", "localhost.evil.example:8321", "", "127.0.0.1:8321 x"],
)
def test_another_name_is_refused(host):
    sent, through = ask(host=host)
    assert not through
    assert sent[0]["status"] == 421


def test_no_host_is_refused():
    assert not ask()[1]


def test_two_hosts_are_refused():
    sent: list[dict[str, Any]] = []

    async def send(message):
        sent.append(dict(message))

    async def app(scope, receive, send):
        raise AssertionError("let through")

    headers = [(b"host", b"127.0.0.1:8321"), (b"host", b"evil.example")]
    asyncio.run(Guard(app, hosts=HOSTS)({"type": "http", "method": "GET", "headers": headers}, None, send))
    assert sent[0]["status"] == 421


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH"])
def test_what_changes_something_must_come_from_a_page_of_ours(method):
    assert ask(method=method, host="127.0.0.1:8321", origin="http://127.0.0.1:8321")[1]
    assert not ask(method=method, host="127.0.0.1:8321", origin="http://evil.example")[1]
    assert not ask(method=method, host="127.0.0.1:8321", origin="null")[1]


def test_a_program_without_a_page_may_ask_too():
    assert ask(method="PUT", host="127.0.0.1:8321")[1]


def test_looking_is_free_from_anywhere_that_names_us():
    assert ask(method="GET", host="127.0.0.1:8321", origin="http://evil.example")[1]


def test_sockets_are_guarded_too():
    assert ask("websocket", host="127.0.0.1:8321", origin="http://localhost:8321")[1]
    for said in ({"host": "evil.example"}, {"host": "127.0.0.1:8321", "origin": "http://evil.example"}):
        sent, through = ask("websocket", **said)
        assert not through
        assert sent == [{"type": "websocket.close", "code": 1008}]


def test_the_beginning_and_the_end_of_the_app_pass():
    assert ask("lifespan")[1]


@pytest.mark.parametrize("host", ["127.0.0.1:8321", "evil.example"])
def test_every_answer_keeps_pages_to_this_machine(host):
    headers = dict(ask(host=host)[0][0]["headers"])
    assert headers[b"content-security-policy"].decode() == POLICY
    assert headers[b"x-content-type-options"] == b"nosniff"


def test_the_policy_lets_nothing_in_from_elsewhere():
    sources = {word for part in POLICY.split(";") for word in part.split()[1:]}
    assert sources <= {"'self'", "'none'", "'unsafe-inline'", "'unsafe-eval'", "data:", "blob:"}
    assert "default-src 'self'" in POLICY
    assert "frame-ancestors 'none'" in POLICY


def test_headers_of_the_app_stay():
    assert (b"x-own", b"1") in ask(host="localhost:8321")[0][0]["headers"]
