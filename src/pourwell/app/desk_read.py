"""How patterns of the desk are read: in which unit, and which of their bodies are cast; and who was worked out otherwise."""

from collections.abc import Mapping, Sequence
from typing import Any

from pourwell.app.letters import letter
from pourwell.store.model import KeptPattern, KeptResult, KeptRun
from pourwell.store.store import Store


def asked_now(pattern: KeptPattern) -> dict[str, Any]:
    """What the user asks of the check of a pattern."""
    return {"units": pattern.units, "leave_out": list(pattern.leave_out)}


def asked_then(result: KeptResult) -> dict[str, Any]:
    """What was asked of a check; one of before says nothing of bodies, and nothing was left out."""
    return {"units": result.asked.get("units", ""), "leave_out": list(result.asked.get("leave_out", ()))}


def read_in(store: Store, pattern_id: int) -> str:
    """The unit in which a pattern is read now: the one that is said, else the one that its check took."""
    result = store.latest(pattern_id=pattern_id)
    return store.pattern(pattern_id).units or str(result.data.get("piece", {}).get("units", "") if result else "")


def none_is_left(result: KeptResult | None, names: Sequence[str]) -> bool:
    """Would no body of a checked pattern be cast if these are left out; a hollow goes with the body that it lies in."""
    bodies = [one for one in result.data.get("piece", {}).get("bodies") or () if one["volume_mm3"] > 0] if result else []
    before = asked_then(result)["leave_out"] if result else ()
    return bool(bodies) and not any((one["kept"] or one["name"] in before) and one["name"] not in names for one in bodies)


def left_out_of(store: Store, run: KeptRun) -> dict[str, list[str]]:
    """The bodies that are left out now of the patterns of a run, by their numbers."""
    found = {str(pattern_id): sorted(store.pattern(pattern_id).leave_out) for pattern_id, _ in run.pieces}
    return {key: names for key, names in found.items() if names}


def read_otherwise(store: Store, run: KeptRun, result: KeptResult) -> frozenset[int]:
    """Which patterns of a run are read otherwise now, by unit or by the bodies cast, than its plan `result` took them."""
    taken = [piece[0] for piece in result.asked.get("pieces", ())]
    now, before = left_out_of(store, run), result.asked.get("left_out", {})
    here = dict(run.pieces)
    found = {k for k in taken if k in here and now.get(str(k), []) != before.get(str(k), [])}
    for piece in (piece for plan in result.data["plans"] for piece in _pieces(plan)):
        pattern_id = next((key for k, key in enumerate(taken) if letter(k) == piece.get("id")), None)
        if pattern_id is None or pattern_id not in here:
            continue
        then, read = piece.get("units"), read_in(store, pattern_id)
        if then and read and then != read:
            found.add(pattern_id)
    return frozenset(found)


def _pieces(plan: Mapping[str, Any]) -> Sequence[Mapping[str, Any]]:
    return plan.get("pieces") or ()
