"""The desk as its user starts it, in a process of its own, with a studio folder of its own."""

import os
import subprocess
import sys
from pathlib import Path
from typing import Self
from urllib.request import urlopen

START = "import sys; sys.argv[0] = 'pourwell'; from pourwell.cli.main import run; run()"
READY = "The desk is open at "


class DeskProcess:
    """A running desk; `restart` ends it and begins it anew on the same port."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.port = folder, 0
        self.address = ""

    def __enter__(self) -> Self:
        self.begin()
        return self

    def __exit__(self, *_: object) -> None:
        self.end()

    def begin(self) -> None:
        """Start it, and wait until it says that it is open."""
        env = {**os.environ, "POURWELL_STUDIO": str(self.folder), "PYTHONPATH": os.pathsep.join(p for p in sys.path if p)}
        for name in ("PYTEST_CURRENT_TEST", "NICEGUI_SCREEN_TEST_PORT"):
            env.pop(name, None)
        command = [sys.executable, "-c", START, "desk", "--no-browser", *(["--port", str(self.port)] if self.port else [])]
        self.log = (self.folder / "desk.log").open("ab")
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=self.log, env=env, text=True)
        assert self.process.stdout is not None
        said = self.process.stdout.readline()
        assert said.startswith(READY), f"the desk did not open: {said}{self.complaints()}"
        self.address = said.removeprefix(READY).strip().rstrip("/")
        self.port = int(self.address.rpartition(":")[2])
        with urlopen(self.address, timeout=60) as answer:
            assert answer.status == 200

    def end(self) -> None:
        """End it as a crash would."""
        self.process.kill()
        self.process.wait()
        if self.process.stdout is not None:
            self.process.stdout.close()
        self.log.close()

    def restart(self) -> None:
        """End it, and begin it anew."""
        self.end()
        self.begin()

    def complaints(self) -> str:
        """What it said on its error stream."""
        return (self.folder / "desk.log").read_text(encoding="utf-8", errors="replace")
