"""The studio's own files, and whether another hand has changed them."""

from collections.abc import Iterator
from pathlib import Path

from pourwell.materials.calibration import FOLDER as CALIBRATIONS
from pourwell.materials.library import SHELVES
from pourwell.materials.studio import STUDIO_FILE

Mark = tuple[tuple[str, int, int], ...]


class Watch:
    """Remembers how the files stood when it was asked last."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.mark = mark_of(folder)

    def changed(self) -> bool:
        """Whether a file came, went or was written since this was asked last."""
        before, self.mark = self.mark, mark_of(self.folder)
        return before != self.mark


def mark_of(folder: Path) -> Mark:
    """Name, moment of writing and length of each file of a studio folder."""
    return tuple(_marks(folder))


def _marks(folder: Path) -> Iterator[tuple[str, int, int]]:
    for path in (folder / STUDIO_FILE, *(p for name in (*SHELVES, CALIBRATIONS) for p in sorted((folder / name).glob("*.toml")))):
        try:
            seen = path.stat()
        except OSError:  # not there, or just being replaced
            continue
        yield path.relative_to(folder).as_posix(), seen.st_mtime_ns, seen.st_size
