"""Findings of one kind about one programme are one, with their places."""

from dataclasses import replace

from pourwell.findings import Finding, Severity, folded

WET = Finding(
    code="core-wet",
    severity=Severity.STOP,
    where="kiln, run 1: burnout",
    says="The core is wet.",
    do="Hold longer.",
    measure="7 h",
)


def test_those_of_one_kind_are_told_once_with_the_places_and_measures_of_the_others():
    second = replace(WET, where="kiln, run 2: burnout", says="The core is wet as well.", measure="6 h 30 min")
    third = replace(WET, where="burnout", measure="")
    (one,) = folded([WET, second, third])
    assert one.says == "The core is wet. Likewise kiln, run 2, 6 h 30 min; burnout."
    assert (one.code, one.severity, one.where, one.do, one.measure) == ("core-wet", Severity.STOP, WET.where, WET.do, "7 h")


def test_another_severity_remedy_or_code_stays_a_finding_of_its_own():
    others = [WET, replace(WET, severity=Severity.WARN), replace(WET, do="Dry it before the kiln."), replace(WET, code="core-dry")]
    assert folded(others) == tuple(others)
    assert folded([]) == ()
