"""What pages of a run share: which plan of a result is looked at, its files, the ways between several flasks."""

from collections.abc import Mapping
from typing import Any, Final
from urllib.parse import quote

from pourwell.app.desk_form import request_of_form
from pourwell.app.desk_runs import sizes_of
from pourwell.store.model import KeptResult, KeptRun
from pourwell.web.desk.frame import Frame
from pourwell.web.desk.pattern_change import BODIES, OF_BODIES, RING_SIZE
from pourwell.web.desk.tag import Tag

WORDS: Final = {
    "pieces": "pieces",
    "read": "how a pattern is read",
    "sprues": "sprue points",
    "sizes": "ring sizes",
    "alloy": "alloy",
    "pattern": "pattern material",
    "investment": "investment",
    "flask": "flask",
    "programme": "burnout",
    "kiln": "kiln",
    "stones": "stones in place",
    "pour_day": "day of the pour",
    "pour_hour": "hour of the pour",
    "returns": "returns",
    "own_alloying": "alloying",
    "metal_c": "metal temperature",
    "flask_c": "flask temperature",
    "freeze": "freezing",
    "weight": "weight",
    "base_g": "weight of the base",
    "wax_g": "weight of the wax",
}
"""Fields of a run, as its pages name them."""

NOT_YET: Final = "Not yet: the form of the run holds something that is not right. Go back and look."
SPRUES: Final = ("Set its sprue", "/runs/{run}/sprues?piece={pattern}")
WAYS: Final[Mapping[str, tuple[str, str]]] = {
    **dict.fromkeys(("attach-user-bad", "attach-poor", "tree-neck", "sprue-ratio"), SPRUES),
    "bore-off-size": ("Make it that size", "/patterns/{pattern}?size={size}#" + RING_SIZE),
    **dict.fromkeys(OF_BODIES, ("Choose its bodies", "/patterns/{pattern}#" + BODIES)),
}
"""Where a finding of a piece can be cured, by its code."""


def placed(result: KeptResult | None, flask: int) -> tuple[Mapping[str, Any] | None, int]:
    """The plan of a flask, counted from 0, and which it is; the nearest there is."""
    if result is None:
        return None, 0
    plans = result.data["plans"]
    place = min(max(flask, 0), len(plans) - 1)
    return plans[place], place


def plan_anew(page: Frame, run: KeptRun) -> bool:
    """Have a run planned from its form as it stands; False where that holds something that is not right."""
    liquidus_c = page.lists.liquidus_c.get(str(run.form.get("alloy", "")))
    request, faults = request_of_form(
        run.form,
        by_weight=not run.pieces,
        pieces=dict(run.pieces),
        now=page.desk.clock(),
        zone=page.lists.zone,
        liquidus_c=liquidus_c,
        kilns=page.lists.kiln_names,
    )
    if not faults and page.desk.being_planned(run.id) is None:
        page.desk.plan(run, request)
    return not faults


def piece_names(plan: Mapping[str, Any] | None) -> dict[str, str]:
    """How the pieces of a plan are called, by their letter."""
    return {str(piece.get("id")): str(piece["name"]) for piece in (plan or {}).get("pieces") or () if piece.get("name")}


def file_of(name: str, place: int) -> str:
    """The file of a plan in a result: the first keeps its name."""
    return name if place == 0 else f"{place + 1}-{name}"


def way_of(run: KeptRun, plan: Mapping[str, Any], found: Mapping[str, Any]) -> tuple[str, str] | None:
    """Words and address of the page where a finding of a plan can be mended; None where that is the form itself."""
    if found["code"].startswith("freeze-"):
        return "Show how it freezes", f"/runs/{run.id}/freezing"
    way = WAYS.get(found["code"])
    if way is None:
        return None
    letters = [piece["id"] for piece in plan.get("pieces") or ()]
    kind = str(found["where"]).removeprefix("piece ").partition(",")[0]
    if kind not in letters or letters.index(kind) >= len(run.pieces):
        return None
    pattern = run.pieces[letters.index(kind)][0]
    return way[0], way[1].format(run=run.id, pattern=pattern, size=quote(sizes_of(run).get(pattern, "")))


def flask_ways(result: KeptResult, path: str, place: int) -> None:
    """The ways between the flasks of a run, where there are several."""
    count = len(result.data["plans"])
    if count < 2:
        return
    with Tag("nav", classes="flasks", aria_label="Flasks of this run"):
        Tag("span", f"The pieces take {count} flasks:", "quiet")
        for k in range(count):
            Tag("a", f"Flask {k + 1}", href=f"{path}?flask={k + 1}", aria_current="page" if k == place else None)
