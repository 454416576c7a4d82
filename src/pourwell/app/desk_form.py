"""A run's form and the daily question: what stands in a field becomes words of a request, or a reason beside it."""

from collections.abc import Mapping
from datetime import datetime, tzinfo
from typing import Any

from pourwell.app.typed import PERCENT, WEIGHT, NotYetError, moment, number

Faults = dict[str, str]
"""Field to why it is not yet right."""


def request_of_form(
    form: Mapping[str, Any], *, by_weight: bool, now: datetime, zone: tzinfo | None
) -> tuple[dict[str, Any], Faults]:
    """The words of a request from a form, and what is not yet right; the words are only to be used without any fault.

    Parameters
    ----------
    by_weight : the form has no pieces: a weight on the scale is asked for
    """
    faults: Faults = {}
    said: dict[str, Any] = {key: form.get(key) or "" for key in ("title", "alloy", "pattern", "investment", "flask")}
    if by_weight or str(form.get("weight", "")).strip():
        text = str(form.get("weight", ""))
        if by_weight and text.strip():
            try:
                said["weight_g"] = number(text, WEIGHT)
            except NotYetError as err:
                faults["weight"] = err.what
        elif by_weight:
            faults["weight"] = "Put the tree on the scale and enter what it shows."
    if str(form.get("returns", "")).strip():
        try:
            said["returns_fraction"] = number(str(form["returns"]), PERCENT) / PERCENT.high
        except NotYetError as err:
            faults["returns"] = err.what
    try:
        when = moment(str(form.get("pour_day", "")), str(form.get("pour_hour", "")), now=now, zone=zone)
        if when is not None:
            said["pour_at"] = when.isoformat()
    except NotYetError as err:
        faults["pour_hour"] = err.what
    if not by_weight:
        said["freeze"] = "draft" if form.get("freeze", True) else "none"
    return said, faults
