"""What a run of the desk asks for, by the fields of its form, and what of that was changed since it was planned."""

import json
from typing import Any, Final

from pourwell.store.model import KeptResult, KeptRun

ASKED: Final = (
    "alloy",
    "pattern",
    "investment",
    "flask",
    "programme",
    "kiln",
    "stones",
    "pour_day",
    "pour_hour",
    "returns",
    "own_alloying",
    "metal_c",
    "flask_c",
    "freeze",
    "weight",
    "base_g",
    "wax_g",
)
"""Fields that change a plan."""
SPRUE: Final = "sprue_"
"""A field of a run's form for each pattern whose sprue the user has set: so two windows that set two of them keep both."""
SIZE: Final = "size_"
"""A field of a run's form for each ring whose finished size is wanted, as it was typed."""
OTHER_UNIT: Final = "other unit"
"""What such a field says instead of a place that fell away: it was in millimetres of the pattern as it was read before."""
OTHER_SURFACE: Final = "other surface"
"""What it says where the pattern that was taken instead, a mended one, does not pass where the place was."""
SAME_PLACE_MM: Final = 0.05
"""A place stays on a surface that passes so near to it: what mending may move a surface unasked. Own choice."""
READ: Final = "read"
"""Stands among what was changed for a pattern that is read in another unit, or with other bodies, than its plan took it in."""


def sprues_of(run: KeptRun) -> dict[int, tuple[float, float, float]]:
    """The user's own places for sprues, in the frame of each pattern [mm], by its number; of those that the run takes."""
    found = {}
    for pattern_id, _ in run.pieces:
        place = run.form.get(f"{SPRUE}{pattern_id}")
        if isinstance(place, list) and len(place) == 3:
            found[pattern_id] = (float(place[0]), float(place[1]), float(place[2]))
    return found


def sizes_of(run: KeptRun) -> dict[int, str]:
    """The finished ring sizes that are wanted, as typed, by the number of the pattern; of those that the run takes."""
    typed = {pattern_id: str(run.form.get(f"{SIZE}{pattern_id}") or "").strip() for pattern_id, _ in run.pieces}
    return {pattern_id: text for pattern_id, text in typed.items() if text}


def resized(run: KeptRun, result: KeptResult | None) -> frozenset[int]:
    """Of which pieces another size is wanted than when the run was planned."""
    then, now = dict(result.asked.get("sizes") or {}) if result else {}, sizes_of(run)
    return frozenset(k for k, _ in run.pieces if result is not None and now.get(k, "") != then.get(str(k), ""))


def fell_away(run: KeptRun, pattern_id: int) -> str:
    """Why a place of the user's own for the sprue of a piece fell away: OTHER_UNIT or OTHER_SURFACE; empty if none did."""
    said = run.form.get(f"{SPRUE}{pattern_id}")
    return said if said in (OTHER_UNIT, OTHER_SURFACE) else ""


def asked_of(run: KeptRun) -> dict[str, Any]:
    """What of a run changes its plan."""
    asked = {key: run.form.get(key, "") for key in ASKED} | {"pieces": [list(piece) for piece in run.pieces]}
    sprues = {str(key): list(place) for key, place in sprues_of(run).items()}
    sizes = {str(key): text for key, text in sizes_of(run).items()}
    return asked | {"sprues": sprues or "", "sizes": sizes or ""}


def changed_since(run: KeptRun, result: KeptResult | None) -> tuple[str, ...]:
    """Which fields were changed since a run was planned."""
    if result is None:
        return ()
    now, then = json.loads(json.dumps(asked_of(run))), result.asked
    return tuple(key for key in now if now[key] != then.get(key, ""))
