"""The lock files: exact, hashed, without a host; what the tests run on is what the user runs."""

import re
import tomllib

import pytest

from tests.rules.source import ROOT

LOCKS = ("run", "dev")


def pins(lock: str) -> dict[tuple[str, str], list[str]]:
    """(name, line of the requirement) to its hashes."""
    found: dict[tuple[str, str], list[str]] = {}
    for line in (ROOT / "locks" / f"{lock}.txt").read_text(encoding="utf-8").splitlines():
        entry = line.strip().removesuffix("\\").strip()
        if not line.startswith(" "):
            name = re.split(r"[=<>\[; ]", entry)[0]
            last = found.setdefault((name, entry), [])
        else:
            last.append(entry)
    return found


@pytest.mark.parametrize("lock", LOCKS)
def test_every_package_is_pinned_and_hashed(lock):
    assert len(pins(lock)) >= 30
    for (_, entry), hashes in pins(lock).items():
        assert re.match(r"[a-z0-9._-]+==\S+", entry), f"locks/{lock}.txt: {entry} is not exact"
        assert hashes, f"locks/{lock}.txt: {entry} has no hash"
        assert all(re.fullmatch(r"--hash=sha256:[0-9a-f]{64}", h) for h in hashes), f"locks/{lock}.txt: {entry}"


@pytest.mark.parametrize("lock", LOCKS)
def test_no_lock_names_a_place(lock):
    text = (ROOT / "locks" / f"{lock}.txt").read_text(encoding="utf-8")
    assert not re.search(r"://|--(extra-)?index-url|--find-links|--trusted-host", text)


def test_what_the_user_gets_is_what_is_tested():
    run, dev = pins("run"), pins("dev")
    other = [entry for (name, entry), hashes in run.items() if dev.get((name, entry)) != hashes]
    assert not other, f"not the same in locks/dev.txt: {other}"


@pytest.mark.parametrize(("lock", "extras"), [("run", ["build"]), ("dev", ["build", "dev"])])
def test_every_dependency_is_locked(lock, extras):
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    asked = [*project["dependencies"], *(d for extra in extras for d in project["optional-dependencies"][extra])]
    names = {re.split(r"[=<>\[;! ]", d)[0].lower() for d in asked}
    assert names <= {name for name, _ in pins(lock)}
