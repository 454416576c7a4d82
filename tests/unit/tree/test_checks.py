"""Findings of the tree: each fires and stays silent."""

from dataclasses import replace

import pytest

from pourwell.findings import Severity
from pourwell.steps.tree import checks
from pourwell.steps.tree.plan import grow
from tests.unit.tree.making import library, room, shaped

MOST_WARNS = 2


def facts_of(*patterns, flask=None) -> checks.Facts:
    return grow(
        patterns,
        room=flask or room(),
        alloy=library().alloy("sterling-925"),
        pattern_material=library().pattern("resin"),
        library=library(),
    ).facts


@pytest.fixture(scope="module")
def bands() -> checks.Facts:
    return facts_of(shaped("plain-band", "A", count=3))


@pytest.fixture(scope="module")
def signet() -> checks.Facts:
    return facts_of(shaped("signet"))


def found(facts: checks.Facts) -> dict:
    return {finding.code: finding for finding in checks.findings(facts)}


def changed(facts: checks.Facts, **tree) -> checks.Facts:
    return replace(facts, tree=replace(facts.tree, **tree))


def with_sprues(facts: checks.Facts, **sprue) -> checks.Facts:
    places = tuple(replace(p, sprue=replace(p.sprue, **sprue)) for p in facts.tree.places)
    return changed(facts, places=places)


@pytest.mark.parametrize(
    "names",
    [["plain-band"], ["comfort-band"], ["signet"], ["bezel-ring"], ["pendant"], ["stud"], ["plain-band", "signet", "comfort-band"]],
)
def test_our_own_pieces_give_few_warnings_and_no_stop(names):
    facts = facts_of(*[shaped(name, "ABC"[k], count=2) for k, name in enumerate(names)])
    severities = [f.severity for f in checks.findings(facts)]
    assert severities.count(Severity.WARN) <= MOST_WARNS
    assert Severity.STOP not in severities


def test_every_finding_says_where_what_against_which_limit_and_what_to_do(signet):
    for finding in checks.findings(signet):
        assert all((finding.where, finding.says, finding.do, finding.measure, finding.limit, finding.source))


def test_tree_neck_fires(signet):
    finding = found(signet)["tree-neck"]
    assert finding.severity is Severity.WARN
    assert "{l:1.7}" in finding.says
    assert "second sprue" in finding.do
    assert "head" in finding.do


def test_tree_neck_without_a_place_for_a_second_sprue_says_what_else(signet):
    bare = replace(signet, cuts=tuple(replace(cut, attachment=None) for cut in signet.cuts))
    assert "thicken the neck" in found(bare)["tree-neck"].do


def test_tree_neck_stays_silent(bands):
    assert "tree-neck" not in found(bands)


@pytest.mark.parametrize(("ratio", "word"), [(0.5, "several sprues"), (2.4, "Draw the sprue out")])
def test_sprue_ratio_fires(bands, ratio, word):
    finding = found(with_sprues(bands, area_ratio=ratio))["sprue-ratio"]
    assert word in finding.do
    assert finding.source == "sprue-system-design"


@pytest.mark.parametrize("ratio", [0.7, 1.0, 1.5])
def test_sprue_ratio_stays_silent(bands, ratio):
    assert "sprue-ratio" not in found(with_sprues(bands, area_ratio=ratio))


def test_a_fine_wire_as_the_users_own_place_gets_a_sprue_that_is_too_thick():
    facts = facts_of(shaped("stud", sprue_at_mm=(0, 10.5, 0), wire_mm=0.6))
    assert "sprue-ratio" in found(facts)


def test_sprue_long_fires(bands):
    finding = found(with_sprues(bands, length_mm=17.0))["sprue-long"]
    assert "{l:17}" in finding.says
    assert finding.limit == "15 mm"


def test_sprue_long_stays_silent(bands):
    assert "sprue-long" not in found(with_sprues(bands, length_mm=15.0))


def test_tree_yield_fires(bands):
    finding = found(changed(bands, yield_fraction=0.62))["tree-yield"]
    assert finding.severity is Severity.NOTE
    assert "62 %" in finding.says


def test_tree_yield_stays_silent(bands):
    assert "tree-yield" not in found(bands)


def test_tree_mixed_sections_fires(bands):
    (piece,) = bands.pieces
    thick = replace(piece, id="B", wall=replace(piece.wall, typical_mm=2.1 * piece.wall.typical_mm))
    finding = found(replace(bands, pieces=(piece, thick), sites={**bands.sites, "B": bands.sites["A"]}))["tree-mixed-sections"]
    assert finding.where == "pieces B and A"


def test_tree_mixed_sections_stays_silent(bands):
    (piece,) = bands.pieces
    alike = replace(piece, id="B", wall=replace(piece.wall, typical_mm=1.9 * piece.wall.typical_mm))
    both = replace(bands, pieces=(piece, alike), sites={**bands.sites, "B": bands.sites["A"]})
    assert "tree-mixed-sections" not in found(both)


@pytest.mark.parametrize("wanted", [(0, 0, 8.5), (0, 1.0, 8.6)])
def test_attach_user_bad_fires(wanted):
    finding = found(facts_of(shaped("plain-band", sprue_at_mm=wanted)))["attach-user-bad"]
    assert "bore" in finding.says
    assert "outside of the band" in finding.do


def test_attach_user_bad_fires_far_from_the_piece_and_says_how_far():
    """Half a metre off: no ring of 21 mm lies there."""
    facts = facts_of(shaped("plain-band", sprue_at_mm=(510.4, 0, 0)))
    finding = found(facts)["attach-user-bad"]
    assert "{l:500} from the piece, so it is not used" in finding.says
    assert "outside of the band" in finding.do
    assert facts.sites["A"].attachment.chosen_by == "shape"


def test_attach_user_bad_stays_silent_a_little_off_the_surface():
    facts = facts_of(shaped("plain-band", sprue_at_mm=(13.4, 0, 0)))
    assert "attach-user-bad" not in found(facts)
    assert facts.sites["A"].attachment.chosen_by == "user"


def test_attach_user_bad_stays_silent():
    assert "attach-user-bad" not in found(facts_of(shaped("plain-band", sprue_at_mm=(10.4, 0, 0))))


def test_attach_poor_fires(bands):
    poor = {key: replace(site, trouble="no even place was found") for key, site in bands.sites.items()}
    assert found(replace(bands, sites=poor))["attach-poor"].where == "piece A"


def test_attach_poor_stays_silent(bands):
    assert "attach-poor" not in found(bands)


def test_a_bad_place_of_the_users_own_is_not_told_twice():
    facts = facts_of(shaped("plain-band", sprue_at_mm=(0, 0, 8.5)))
    assert "attach-poor" not in found(facts)


def test_stem_socket_fires():
    facts = facts_of(shaped("plain-band"), flask=room(socket_mm=5.0))
    finding = found(facts)["stem-socket"]
    assert finding.severity is Severity.NOTE
    assert "{l:5}" in finding.says


def test_stem_socket_stays_silent(bands):
    assert "stem-socket" not in found(bands)
