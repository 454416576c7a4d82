"""Run the program as its entry point does, in this process."""

import json
import sys
from dataclasses import dataclass
from typing import Any

import pytest

from pourwell.cli.main import run


@dataclass(frozen=True)
class Answer:
    """What a call left behind."""

    code: int
    out: str
    err: str

    @property
    def data(self) -> Any:
        """The output as JSON."""
        return json.loads(self.out)


class Caller:
    """Calls `pourwell` with words, as a shell would; a plan without its freezing, which has journeys of its own, if not said."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
        self._monkeypatch, self._capsys = monkeypatch, capsys

    def __call__(self, *words: object) -> Answer:
        if words[:1] == ("plan",) and len(words) > 1 and not {"--help", "--fine", "--freezing"} & set(map(str, words)):
            words = (*words, "--no-freezing")
        words = tuple(word for word in words if word != "--freezing")
        self._monkeypatch.setattr(sys, "argv", ["pourwell", *map(str, words)])
        self._capsys.readouterr()
        code = 0
        try:
            run()
        except SystemExit as stop:
            code = stop.code if isinstance(stop.code, int) else int(bool(stop.code))
        out, err = self._capsys.readouterr()
        return Answer(code, out, err)
