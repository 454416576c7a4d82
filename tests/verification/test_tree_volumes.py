"""Volumes and masses of a tree: sums against unions, closed forms, published weights."""

from math import pi

import manifold3d
import numpy as np
import pytest

from pourwell.geometry.solidity import to_manifold
from pourwell.steps.tree.arrange import Search
from pourwell.steps.tree.build import solids
from pourwell.steps.tree.plan import grow, prepare, weigh
from tests.unit.tree.making import library, room, shaped

SETS = {
    "six": [("signet", 2), ("plain-band", 4)],
    "one": [("plain-band", 1)],
    "all": [("plain-band", 1), ("comfort-band", 1), ("bezel-ring", 2), ("pendant", 1), ("stud", 2)],
    "dozen": [("plain-band", 12)],
}


def patterns_of(name: str):
    return tuple(shaped(shape, "ABCDE"[k], count=count) for k, (shape, count) in enumerate(SETS[name]))


def grown(name: str):
    return grow(
        patterns_of(name),
        room=room(),
        alloy=library().alloy("sterling-925"),
        pattern_material=library().pattern("resin"),
        library=library(),
    )


def together(bodies) -> float:
    return float(manifold3d.Manifold.batch_boolean(list(bodies), manifold3d.OpType.Add).volume())


@pytest.mark.parametrize("name", SETS)
def test_all_bodies_made_one_have_the_volume_of_their_sum(name):
    """Definition: bodies that only touch count once each; 1e-6."""
    found = grown(name)
    assert together(to_manifold(mesh) for _, mesh in found.bodies) == pytest.approx(found.tree.volume_mm3, rel=1e-6)


@pytest.mark.parametrize("name", SETS)
def test_whole_bars_through_stem_and_pieces_made_one_have_the_same_volume(name):
    """The same by another way: nothing is cut off, the boolean engine alone takes out what overlaps; 1e-6."""
    patterns = patterns_of(name)
    known = prepare(patterns, library())
    search = Search(
        tuple(known.hangers.values()),
        [p.piece.count for p in patterns],
        room=room(),
        neighbours=known.neighbours,
        library=library(),
    )
    layout, _ = search.run(margin_mm=0.15)
    made = solids(layout, search)
    pieces = [search.hangers[b.hung.kind].ready.solid.transform(b.transform) for b in made.bodies]
    height = layout.stem_top_mm - room().base_depth_mm
    stem = manifold3d.Manifold.cylinder(height, layout.stem_mm / 2, layout.stem_mm / 2, 48)
    true = (2 * pi / 48 / np.sin(2 * pi / 48)) ** 0.5
    stem = stem.scale((true, true, 1)).translate((0, 0, room().base_depth_mm))
    whole = together([*pieces, *[b.bar for b in made.bodies], stem, made.button])
    assert whole == pytest.approx(grown(name).tree.volume_mm3, rel=1e-6)


def test_the_button_is_a_spherical_cap():
    """pi h (3 a^2 + h^2) / 6 for a dome of 30 by 12 mm: 5145.93 mm3."""
    assert grown("one").tree.button.volume_mm3 == pytest.approx(5145.93, abs=0.01)


def test_the_stem_is_a_cylinder_on_a_ball():
    """Cylinder to the crown, and what lies between the crown's level and the ball around it: pi h^2 (3 R - h) / 3 less."""
    tree = grown("six").tree
    half, rise = 15.0, 12.0
    ball = (half**2 + rise**2) / (2 * rise)
    a = tree.stem.diameter_mm / 2
    sag = ball - (ball**2 - a**2) ** 0.5
    below = pi * a**2 * sag - pi * sag**2 * (3 * ball - sag) / 3
    assert tree.stem.volume_mm3 == pytest.approx(pi * a**2 * (tree.stem.top_mm - tree.stem.foot_mm) + below, rel=1e-3)


def test_a_sprue_between_a_round_stem_and_a_round_shank_has_the_volume_of_its_cuts():
    """Integral over the sprue's circle of the way between two cylinders, 0.5 %."""
    tree = grown("dozen").tree
    place = tree.places[0]
    radius, stem, outside = place.sprue.gauge_mm / 2, tree.stem.diameter_mm / 2, 10.4
    tilt = np.radians(place.tilt_deg)
    n = 400
    r = (np.arange(n) + 0.5) / n * radius
    turn = np.arange(360) * 2 * pi / 360
    rr, tt = np.meshgrid(r, turn, indexing="ij")
    across, over = rr * np.cos(tt), rr * np.sin(tt)
    # along the sprue's axis: out of the stem where hypot(across, start + s cos - over sin) = stem
    leaves = ((stem**2 - across**2) ** 0.5 - stem + over * np.sin(tilt)) / np.cos(tilt)
    # into the shank: its circle lies in the plane of sprue and stem for a ring hung radially, straight across for one turned
    bent = over if abs(np.array(place.transform)[2, 1]) < 0.5 else across
    arrives = place.sprue.length_mm + outside - (outside**2 - bent**2) ** 0.5
    volume = float(((arrives - leaves) * rr).sum() * (radius / n) * (2 * pi / 360))
    assert place.sprue.volume_mm3 == pytest.approx(volume, rel=0.005)


# ---- by weight


def metal_g(weight_g: float, *, density_g_per_cm3: float, alloy_g_per_cm3: float) -> float:
    """What a weight becomes, with a pattern material and an alloy of given densities."""
    material, alloy = library().pattern("resin"), library().alloy("sterling-925")
    said = {"low": None, "high": None}
    material = material.model_copy(
        update={"density_g_per_cm3": material.density_g_per_cm3.model_copy(update={"value": density_g_per_cm3, **said})}
    )
    alloy = alloy.model_copy(
        update={"density_g_per_cm3": alloy.density_g_per_cm3.model_copy(update={"value": alloy_g_per_cm3, **said})}
    )
    return weigh(weight_g, wax_g=0.0, room=room(), alloy=alloy, pattern_material=material, library=library()).body_g


def test_resin_becomes_silver_as_an_independent_jeweller_found():
    """Casting-resin notes: 0.56 g of resin at 1.09 g/cm3 give 5.32 g of sterling, a factor of 9.50."""
    assert metal_g(0.56, density_g_per_cm3=1.09, alloy_g_per_cm3=10.36) == pytest.approx(5.32, abs=0.02)
    assert metal_g(1.0, density_g_per_cm3=1.09, alloy_g_per_cm3=10.36) == pytest.approx(9.50, abs=0.01)


def test_wax_becomes_gold_as_a_supplier_says():
    """Supplier help page: 5.5 g of wax at a specific gravity of 13.5 make 74.25 g."""
    assert metal_g(5.5, density_g_per_cm3=1.0, alloy_g_per_cm3=13.5) == pytest.approx(74.25, abs=0.01)


def test_wax_becomes_silver_as_a_pattern_page_says():
    """Pattern page: 15 g of wax make 155.4 g of sterling at 10.36."""
    assert metal_g(15, density_g_per_cm3=1.0, alloy_g_per_cm3=10.36) == pytest.approx(155.4, abs=0.1)
