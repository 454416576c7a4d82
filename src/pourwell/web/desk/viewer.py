"""The viewer: solids in 3-D with their fields. Its arrays come by URL; what is drawn, and when, is its own affair."""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from nicegui import ui
from nicegui.elements import scene as scene_package

SCENE = Path(scene_package.__file__).parent / "dist"


class Viewer(ui.element, component="viewer.js", esm={"nicegui-scene": str(SCENE)}):
    """A solid on its tray. `flags` are places with a letter, in millimetres."""

    def __init__(
        self,
        *,
        src: str,
        head: Mapping[str, Any],
        label: str,
        still: str = "",
        flags: list[dict[str, Any]] | None = None,
        picked: Callable[[str], Any] | None = None,
    ) -> None:
        super().__init__()
        self.props["src"], self.props["head"], self.props["label"] = src, dict(head), label
        self.props["still"], self.props["flags"] = still, flags or []
        if picked is not None:
            self.on("picked", lambda event: picked(str(event.args)))

    def look_at(self, letter: str) -> None:
        """Turn to a flag."""
        self.run_method("lookAt", letter)
