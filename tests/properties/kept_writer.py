"""A process that writes to a store as fast as it can, and says after each write that it is saved. It is there to be killed."""

import sys
from datetime import UTC, datetime
from pathlib import Path

from pourwell.files.own_toml import change
from pourwell.store.store import Store


def main() -> None:
    """Write without end: fields of a run, counts, results, patterns, a key of an own file; each is told only once it is kept."""
    store = Store(Path(sys.argv[1]))
    first = int(sys.argv[2])
    now = datetime.now(UTC)
    run = (store.runs() or [store.add_run({}, now=now)])[-1]
    print("ready", flush=True)
    for turn in range(first, first + 1_000_000):
        store.change_run(run.id, fields={"turn": turn, "note": "n" * (turn % 400)}, now=now)
        print(f"field {turn}", flush=True)
        pattern, _ = store.add_pattern(f"pattern {turn}".encode(), file=f"{turn}.stl", name=str(turn), now=now)
        print(f"pattern {pattern.id} {turn}", flush=True)
        store.change_run(run.id, pieces={pattern.id: turn % 7 + 1}, now=now)
        print(f"count {pattern.id} {turn % 7 + 1}", flush=True)
        content = f"file {turn}".encode() * (turn % 50 + 1)
        made = store.add_result(pattern_id=pattern.id, asked={}, data={"turn": turn}, files={"field.bin": content}, now=now)
        change(store.folder / "studio.toml", {("kiln", "turn"): turn, ("note",): "n" * (turn % 400)})
        print(f"own {turn}", flush=True)
        print(f"result {made.id} {turn} {len(content)}", flush=True)


if __name__ == "__main__":
    main()
