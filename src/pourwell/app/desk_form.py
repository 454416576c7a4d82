"""A run's form and the daily question: what stands in a field becomes words of a request, or a reason beside it."""

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime, tzinfo
from typing import Any, Final

from pourwell.app.choices import kiln_fault
from pourwell.app.desk_runs import SIZE
from pourwell.app.desk_words import for_desk
from pourwell.app.typed import FLASK, METAL, PART, PERCENT, WEIGHT, NotYetError, Span, moment, number
from pourwell.errors import PourwellError
from pourwell.steps.pattern.sizes import diameter_of

FREEZE: Final[Mapping[object, str]] = {False: "none", True: "draft", "fine": "fine"}
"""What the field of a run says, in words of a request."""
PLAIN: Final = ("title", "alloy", "pattern", "investment", "flask", "programme", "kiln")
"""Fields that say what a request says."""
Faults = dict[str, str]
"""Field to why it is not yet right."""


def request_of_form(
    form: Mapping[str, Any],
    *,
    by_weight: bool,
    pieces: Collection[int] = (),
    now: datetime,
    zone: tzinfo | None,
    liquidus_c: float | None = None,
    kilns: Sequence[str] | None = None,
) -> tuple[dict[str, Any], Faults]:
    """The words of a request from a form, and what is not yet right; the words are only to be used without any fault.

    Parameters
    ----------
    by_weight : the form has no pieces: a weight on the scale is asked for
    pieces : the patterns that it takes, by number: sizes that are wanted of these must be sizes; their pieces carry them
    liquidus_c : of the alloy that is chosen: a metal temperature under it cannot be; None: not known
    kilns : the names of all of the studio's; None: not known
    """
    faults: Faults = {}
    said: dict[str, Any] = {key: form.get(key) or "" for key in PLAIN}
    if by_weight or str(form.get("weight", "")).strip():
        text = str(form.get("weight", ""))
        if by_weight and text.strip():
            try:
                said["weight_g"] = number(text, WEIGHT)
            except NotYetError as err:
                faults["weight"] = err.what
        elif by_weight:
            faults["weight"] = "Put the tree on the scale and enter what it shows."
    if by_weight:
        _beside(form, said, faults)
    if str(form.get("returns", "")).strip():
        try:
            said["returns_fraction"] = number(str(form["returns"]), PERCENT) / PERCENT.high
        except NotYetError as err:
            faults["returns"] = err.what
    for key, span in (("metal_c", _metal(liquidus_c)), ("flask_c", FLASK)):
        if str(form.get(key, "")).strip():
            try:
                said[key] = number(str(form[key]), span)
            except NotYetError as err:
                faults[key] = err.what
    try:
        when = moment(str(form.get("pour_day", "")), str(form.get("pour_hour", "")), now=now, zone=zone)
        if when is not None:
            said["pour_at"] = when.isoformat()
    except NotYetError as err:
        faults["pour_hour"] = err.what
    if kilns is not None and (fault := kiln_fault(said["kiln"], kilns)):
        faults["kiln"] = fault
    faults |= {f"{SIZE}{key}": why for key in pieces if (why := why_no_size(str(form.get(f"{SIZE}{key}") or "")))}
    for key in ("stones", "own_alloying"):
        if form.get(key):
            said[key] = True
    if not by_weight:
        said["freeze"] = FREEZE.get(form.get("freeze", True), "draft")
    return said, faults


def why_no_size(text: str) -> str:
    """Why a text is no ring size; empty for one that is, and for no text."""
    if not text.strip():
        return ""
    try:
        diameter_of(text)
    except PourwellError as err:
        return for_desk(str(err))
    return ""


def _beside(form: Mapping[str, Any], said: dict[str, Any], faults: Faults) -> None:
    """What of a weight on the scale is the base, and what sprue wax."""
    for key in ("base_g", "wax_g"):
        if str(form.get(key, "")).strip():
            try:
                said[key] = number(str(form[key]), PART)
            except NotYetError as err:
                faults[key] = err.what
    whole_g = said.get("weight_g")
    if whole_g is not None and said.get("base_g", 0.0) + said.get("wax_g", 0.0) >= whole_g:
        faults["base_g" if "base_g" in said else "wax_g"] = "That is as much as the scale shows in all: no piece would be left."


def _metal(liquidus_c: float | None) -> Span:
    """What a metal temperature can be: over the liquidus of its alloy, where that is known."""
    if liquidus_c is None:
        return METAL
    return Span(low=liquidus_c, high=METAL.high, unit=METAL.unit, more=f", for this alloy is liquid from {liquidus_c:.0f} °C on")
