"""A burnout by itself as its page takes it: judged in a process of its own; plain data comes out, in the form that a plan has."""

from collections.abc import Mapping
from dataclasses import fields
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from pourwell.app.burning import Asked, Burnout, burn_out, rules_of
from pourwell.app.desk_work import Tell, findings_data
from pourwell.app.own_rows import limit_source
from pourwell.app.shop import Shop, open_shop
from pourwell.files.plan_json import plain
from pourwell.steps.burnout.telling import row_words
from pourwell.steps.day.clock import after
from pourwell.steps.day.night import OVERNIGHT
from pourwell.steps.day.week_runs import cooling_min

NIGHT: Final = "burnout-overnight"
"""The code of the finding that somebody sleeps while the kiln is on."""


def burn(folder: Path, asked: Mapping[str, Any], now: datetime, *, tell: Tell) -> dict[str, Any]:
    """A burnout worked out or judged: `told` is what the command gives to a program, `plan` the same in the form of a plan.

    `asked` holds the fields of `Asked`; its programme is one of the library. Raises what `burn_out` raises.
    """
    shop, wanted = open_shop(folder), Asked(**asked)
    if wanted.own:
        shop.library.programme(wanted.own)  # an address names no file of the machine: that is for the command line
    found = burn_out(wanted, now=now, shop=shop, tell=tell)
    shop = shop.in_kiln(wanted.kiln)
    return {
        "told": found.data,
        "plan": plan_of(found, shop),
        "table": row_words(found.programme),
        "turn": found.turn.words,
        "made_at": plain(now),
    }


def plan_of(found: Burnout, shop: Shop) -> dict[str, Any]:
    """What pages show of the burnout of a plan, of one without a plan in the kiln of `shop`; findings as pages show them."""
    library, programme, kiln = shop.library, found.programme, shop.studio.kiln
    judged = (*programme.verdicts, *(verdict for size in found.sizes for verdict in size.verdicts))
    sources = dict.fromkeys(key for verdict in judged for key in (verdict.source, verdict.held_source) if key)
    segments = [{**_fields(one), "ruled": rules_of(one, programme)} for one in found.segments]
    burnout = {key: value for key, value in _fields(programme).items() if key != "segments"}
    data: dict[str, Any] = plain(
        {
            "run": {"stopped": any(one.severity == "stop" for one in found.findings)},
            "burnout": {**burnout, "starts_at": found.kiln_on_at, "ends_at": found.out[-1].at, "segments": segments},
            "pour": {"flask_c": found.out[-1].flask_c, "at": found.out[-1].at},
            "kiln_free_at": _free_at(found, shop),
            "timeline": _timeline(found, shop),
            "inputs": {"studio": {"kiln": {"segments_count": found.takes_count, "name": kiln.name}}},
            "reading_c": {"never_above": found.reading.never_over_c, "off": found.reading.off_c},
            "overnight": OVERNIGHT if any(one.code == NIGHT for one in found.findings) else "",
            "limit_sources": {key: limit_source(key, library) for key in sources},
        }
    )
    return data | {"findings": findings_data(found.findings, library)}


def _free_at(found: Burnout, shop: Shop) -> datetime:
    """When the kiln has fallen far enough after the last pour for a damp flask to go in, with its door shut."""
    minutes = cooling_min(found.out[-1].flask_c, kiln=shop.studio.kiln, library=shop.library)
    return after(found.out[-1].at, found.turn.pour_min + minutes, zone=shop.studio.zone)


def _timeline(found: Burnout, shop: Shop) -> list[dict[str, Any]]:
    """The kiln, with its settings where it is set by hand, and each pour."""
    each_min, zone = shop.library.rule("set_point_min"), shop.studio.zone
    moments = [moment.at for moment in found.by_hand]
    kiln: dict[str, Any] = {"key": "kiln", "says": "In the kiln", "starts_at": found.kiln_on_at, "ends_at": found.out[-1].at}
    kiln |= {"hands_on_min": each_min * len(moments), **({"moments": moments} if moments else {})}
    pours = [
        {
            "key": "pour",
            "says": f"Pour {one.label}",
            "starts_at": one.at,
            "ends_at": after(one.at, found.turn.pour_min, zone=zone),
            "hands_on_min": found.turn.pour_min,
        }
        for one in found.out
    ]
    return [kiln, *pours]


def _fields(thing: Any) -> dict[str, Any]:
    return {one.name: getattr(thing, one.name) for one in fields(thing)}
