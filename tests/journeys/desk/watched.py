"""A page of the browser that is watched: whatever it complains of fails the journey."""

from typing import Any, Self

LOCAL = ("data:", "blob:", "about:")


class Watched:
    """A Playwright page under watch; what it does not know itself it asks the page."""

    def __init__(self, page: Any, desk: Any) -> None:
        self.page, self.desk = page, desk
        self.complaints: list[str] = []
        self.allowed: tuple[str, ...] = ()
        page.on("console", lambda message: self._note("console", message.text) if message.type == "error" else None)
        page.on("pageerror", lambda error: self._note("page error", str(error)))
        page.on("request", lambda request: None if self._ours(request.url) else self._note("request to", request.url))

    def _ours(self, url: str) -> bool:
        there = url.replace("ws://", "http://")
        return there.startswith((self.desk.address + "/", *LOCAL))

    def _note(self, kind: str, text: str) -> None:
        if not any(part in text for part in self.allowed):
            self.complaints.append(f"{kind}: {text}")

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: object, *_: object) -> None:
        self.page.context.close()
        if kind is None:
            self.check()

    def check(self) -> None:
        """Fail if it complained of anything, or its server did."""
        assert not self.complaints, "\n".join(self.complaints)
        assert "Traceback" not in self.desk.complaints(), self.desk.complaints()

    def open(self, path: str = "/") -> "Watched":
        """Go to a page of the desk, and wait until its socket is up."""
        self.page.goto(self.desk.address + path)
        self.page.wait_for_function("window.did_handshake === true")
        return self

    def __getattr__(self, name: str) -> Any:
        return getattr(self.page, name)
