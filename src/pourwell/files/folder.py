"""A folder that is written whole or not at all."""

import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

from pourwell.errors import OutputError

OWN_MARKS = ("plan.json", "job.json")
"""A folder that holds one of these was written by us and may be replaced."""


def check_folder(folder: Path, *, replace: bool = False) -> None:
    """Raise OutputError now if the folder could not be written later: it exists, is not ours, or its parent refuses."""
    if folder.exists():
        if not folder.is_dir():
            raise OutputError(f"{folder} is a file, not a folder.", try_this="Name another folder with --out.")
        ours = any((folder / mark).is_file() for mark in OWN_MARKS)
        if any(folder.iterdir()) and not replace:
            raise OutputError(f"The folder {folder} exists already.", try_this="Name another with --out, or add --replace.")
        if any(folder.iterdir()) and not ours:
            raise OutputError(
                f"The folder {folder} holds other things.",
                why="No plan lies in it, so it is not replaced.",
                try_this="Name another folder with --out.",
            )
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".pourwell-", dir=folder.parent):
            pass
    except OSError as err:
        raise _refused(folder, err) from err


def write_folder(folder: Path, contents: Mapping[str, bytes], *, replace: bool = False) -> tuple[Path, ...]:
    """Write files (relative names, `/` between folders) into a folder, whole or not at all; their paths in order.

    The files are written beside the folder and moved into its place by one rename. With `replace`, an older folder of ours
    is set aside first, put back if anything fails, and removed at the end.
    """
    check_folder(folder, replace=replace)
    aside: Path | None = None
    try:
        fresh = Path(tempfile.mkdtemp(prefix=".pourwell-", dir=folder.parent))
        try:
            fresh.chmod(0o755)
            for name, content in contents.items():
                path = fresh / name
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_bytes(content)
            if folder.exists():
                aside = Path(tempfile.mkdtemp(prefix=".pourwell-", dir=folder.parent))
                folder.rename(aside / "old")
            fresh.rename(folder)
        except BaseException:
            if aside and (aside / "old").exists() and not folder.exists():
                (aside / "old").rename(folder)
            shutil.rmtree(fresh, ignore_errors=True)
            raise
        finally:
            if aside:
                shutil.rmtree(aside, ignore_errors=True)
    except OSError as err:
        raise _refused(folder, err) from err
    return tuple(folder / name for name in contents)


def _refused(folder: Path, err: OSError) -> OutputError:
    return OutputError(
        f"The folder {folder} cannot be written.",
        why=f"The system says: {err.strerror or err}.",
        try_this="Free some space or rights, or name another folder with --out.",
    )
