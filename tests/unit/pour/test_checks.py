"""Findings of the pour step: each fires and stays silent."""

from dataclasses import replace

from pourwell.materials.studio import Studio
from tests.unit.burnout.case import run

GRAVITY = Studio(casting={"way": "gravity"})


def gauge(kpa, altitude_m=0.0):
    return Studio(casting={"vacuum_kpa": kpa}, altitude_m=altitude_m, given=frozenset({"casting", "casting.vacuum_kpa"}))


def test_entry_short_fires():
    found = run(studio=GRAVITY, thinnest_mm=0.5).finding("entry-short")
    assert found.severity == "warn"
    assert "{p:7.4}" in found.says
    assert "{p:4.5}" in found.says
    assert "vacuum" in found.do


def test_entry_short_stays_silent():
    assert "entry-short" not in run(studio=GRAVITY, thinnest_mm=1.2).codes
    assert "entry-short" not in run(thinnest_mm=0.3).codes
    assert "entry-short" not in run(studio=GRAVITY, thinnest_mm=None, head_mm=None).codes


def test_entry_short_in_a_weak_vacuum_does_not_advise_vacuum():
    found = run(studio=gauge(5), thinnest_mm=0.3).finding("entry-short")
    assert "drive the metal harder" in found.do


def test_a_wire_that_needs_just_what_drives_the_metal_is_no_finding():
    made = run(studio=GRAVITY, thinnest_mm=1.2)
    level = replace(made, pour=replace(made.pour, entry_kpa=4.5, head_kpa=4.5))
    assert "entry-short" not in level.codes
    assert "entry-short" in replace(made, pour=replace(made.pour, entry_kpa=4.6, head_kpa=4.5)).codes


def test_vacuum_over_air_fires():
    assert run(studio=gauge(88, altitude_m=3000)).severity("vacuum-over-air") == "warn"


def test_vacuum_over_air_stays_silent():
    assert "vacuum-over-air" not in run(studio=gauge(88)).codes
    assert "vacuum-over-air" not in run(studio=gauge(101.3)).codes
    assert "vacuum-over-air" not in run(studio=Studio(altitude_m=3000)).codes


def test_vacuum_weak_fires():
    assert run(studio=gauge(60)).severity("vacuum-weak") == "note"
    assert "vacuum-weak" in run(studio=Studio(altitude_m=2000)).codes


def test_vacuum_weak_stays_silent():
    assert "vacuum-weak" not in run().codes
    assert "vacuum-weak" not in run(studio=gauge(85)).codes
    assert "vacuum-weak" not in run(studio=GRAVITY).codes


def test_never_quench_fires():
    assert run(alloy="gold-585-white-nickel").severity("never-quench") == "note"
    assert "never-quench" in run(investment="gypsum-stone", stones=True).codes


def test_never_quench_stays_silent():
    assert "never-quench" not in run().codes


def test_quench_window_fires():
    found = run(alloy="gold-750-rose").finding("quench-window")
    assert found.severity == "note"
    assert "brittle" in found.says


def test_quench_window_stays_silent():
    assert "quench-window" not in run().codes
