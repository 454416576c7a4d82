"""A folder that is written whole or not at all."""

import json
import shutil
import signal
import tempfile
import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

from pourwell.errors import OutputError

LIST = "job.json"
"""The file that names every file of a folder of ours, so that nothing else is ever replaced."""
SYSTEM_FILES = frozenset({".DS_Store", "Thumbs.db", "desktop.ini"})
"""What file browsers leave behind."""
HIDDEN = ".pourwell-"
"""How the hidden folders beside it begin, in which a folder is written and an older one is set aside under its own name."""
GONE = "gone"
"""How an older folder is called there once the fresh one stands: what is left of it after a kill is nothing to keep."""
SHOWN = 3
TRIES, PAUSE_S = 5, 0.2
"""An older folder is put back in so many tries, so long apart: a virus scanner or a shared drive lets go meanwhile."""


def check_folder(folder: Path, *, replace: bool = False) -> None:
    """Raise OutputError now if the folder could not be written later: it exists, is not wholly ours, or its parent refuses.

    A run that was set aside for this folder when the program was killed is put back first.
    """
    aside = _found_again(folder)
    if folder.exists():
        if not folder.is_dir():
            raise OutputError(f"{folder} is a file, not a folder.", try_this="Name another folder with --out.")
        if any(folder.iterdir()) and not replace:
            raise OutputError(
                f"The folder {folder} exists already.", why=aside, try_this="Name another with --out, or add --replace."
            )
        strange = strangers(folder)
        if strange:
            more = f" and {len(strange) - SHOWN} more" if len(strange) > SHOWN else ""
            raise OutputError(
                f"The folder {folder} holds what Pourwell did not write: {', '.join(strange[:SHOWN])}{more}.",
                why="It would be lost, so the folder is not replaced.",
                try_this="Move it elsewhere, or name another folder with --out.",
            )
    there = next(parent for parent in folder.absolute().parents if parent.exists())
    try:
        with tempfile.TemporaryDirectory(prefix=HIDDEN, dir=there):
            pass
    except OSError as err:
        raise _refused(folder, err) from err


def _found_again(folder: Path) -> str:
    """Put back what a killed run had set aside, if its place is free; what was found and where it lies now, empty if nothing."""
    place = folder.absolute()
    try:
        hidden = (there / place.name for there in place.parent.glob(f"{HIDDEN}*"))
        old = max((path for path in hidden if (path / LIST).is_file()), key=lambda path: path.stat().st_mtime, default=None)
        if old is None:
            return ""
        if place.exists():
            return f"An older run of it, which was set aside when Pourwell was killed, lies whole in {old} (a hidden folder)."
        old.rename(place)
        with suppress(OSError):
            old.parent.rmdir()
    except OSError:
        return ""  # what cannot be looked at is told when it is written to
    return "It had been set aside when Pourwell was killed while replacing it, and is back in its place, whole."


def strangers(folder: Path) -> list[str]:
    """The files in a folder that no job of ours has written there, by their names in it."""
    try:
        job = json.loads((folder / LIST).read_text(encoding="utf-8"))
        known = set(job["files"]) if str(job["schema"]).startswith("pourwell.") else set()
    except (OSError, ValueError, KeyError, TypeError):
        known = set()
    there = (path for path in sorted(folder.rglob("*")) if not path.is_dir() and path.name not in SYSTEM_FILES)
    return [name for path in there if (name := path.relative_to(folder).as_posix()) not in known]


def write_folder(folder: Path, contents: Mapping[str, bytes], *, replace: bool = False) -> tuple[Path, ...]:
    """Write files (relative names, `/` between folders) into a folder, whole or not at all; their paths in order.

    The files are written beside the folder and moved into its place by one rename. With `replace`, an older folder of ours
    is set aside first, put back if anything fails, and removed only once the new one stands in its place.
    """
    check_folder(folder, replace=replace)
    missing = [parent for parent in folder.absolute().parents if not parent.exists()]
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        fresh = Path(tempfile.mkdtemp(prefix=HIDDEN, dir=folder.parent))
        try:
            fresh.chmod(0o755)
            for name, content in contents.items():
                path = fresh / name
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_bytes(content)
            _move_in(fresh, folder)
        except BaseException:
            shutil.rmtree(fresh, ignore_errors=True)
            for parent in missing:
                with suppress(OSError):
                    parent.rmdir()
            raise
    except OSError as err:
        raise _refused(folder, err) from err
    return tuple(folder / name for name in contents)


def _move_in(fresh: Path, folder: Path) -> None:
    """Move a fresh folder into its place; an older one there is removed only once the fresh one stands."""
    with _undisturbed():
        if not folder.exists():
            fresh.rename(folder)
            return
        old = Path(tempfile.mkdtemp(prefix=HIDDEN, dir=folder.parent)) / folder.absolute().name
        try:
            folder.rename(old)
            fresh.rename(folder)
        except BaseException as err:
            if old.exists():
                _put_back(old, folder, err)
            with suppress(OSError):
                old.parent.rmdir()  # goes only if it is empty
            raise
        with suppress(OSError):
            old.rename(old.parent / GONE)
        shutil.rmtree(old.parent, ignore_errors=True)


def _put_back(old: Path, folder: Path, fault: BaseException) -> None:
    """Put an older folder back into its place, in several tries. Raises OutputError that says where it lies if that fails."""
    for _ in range(TRIES):
        try:
            old.rename(folder)
        except OSError:
            time.sleep(PAUSE_S)
        else:
            return
    raise OutputError(
        f"The folder {folder} could not be replaced, and its old files could not be put back.",
        why=f"The system says: {getattr(fault, 'strerror', None) or repr(fault)}. They are whole, and lie in {old}.",
        try_this=f"Move {old} to {folder} yourself (its folder is hidden, for its name begins with a dot).",
    ) from fault


@contextmanager
def _undisturbed() -> Iterator[None]:
    """Hold back an interrupt or an end that is asked for until this is done; only the main thread hears them at all."""
    came: list[int] = []
    before = {}
    if threading.current_thread() is threading.main_thread():
        before = {number: signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)}
    heard = {number: handler for number, handler in before.items() if handler is not None}  # None: not set by Python
    for number in heard:
        signal.signal(number, lambda number, _: came.append(number))
    try:
        yield
    finally:
        for number, handler in heard.items():
            signal.signal(number, handler)
        if came:
            signal.raise_signal(came[0])


def _refused(folder: Path, err: OSError) -> OutputError:
    return OutputError(
        f"The folder {folder} cannot be written.",
        why=f"The system says: {err.strerror or err}.",
        try_this="Free some space or rights, or name another folder with --out.",
    )
