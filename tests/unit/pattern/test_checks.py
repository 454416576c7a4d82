"""Findings of the pattern step: each fires where it should, and stays silent where it should."""

import re
from functools import partial

import manifold3d
import numpy as np
import pytest

from pourwell.findings import Severity, spelt_out
from pourwell.geometry import thickness
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.shapes import SHAPES, plain_band
from pourwell.geometry.solidity import from_manifold, inside_out
from pourwell.geometry.thickness import speakers
from pourwell.steps.pattern.checks import CHECKS, CODES
from tests.unit.files.pattern_files import cube, joined
from tests.unit.geometry.distance_samples import icosphere
from tests.unit.geometry.faulty import with_flake
from tests.unit.pattern.case import hollow, library, measured

STOP, WARN, NOTE = Severity.STOP, Severity.WARN, Severity.NOTE


def finding(code, severity, *bodies, **more):
    """The finding of a code, whole: place, sentences, and a source that exists."""
    _, found = measured(*bodies, **more)
    assert code in found, f"found {sorted(found)}"
    told = found[code]
    assert told.severity is severity
    assert severity in next(c.severities for c in CODES if c.code == code)
    assert told.where.startswith("piece A")
    for sentence in (told.says, told.do):
        assert sentence.endswith(".")
        assert "{" not in spelt_out(sentence)
    key = told.source.partition(":")[0]
    assert key in library().sources or key in ("", "the file itself", "own estimate", "own choice", "common practice, no source")
    return told


def silent(code, *bodies, **more):
    _, found = measured(*bodies, **more)
    assert code not in found, found[code].says


def open_cube():
    return Mesh(cube(4).vertices, cube(4).faces[1:])


def crossing(shift):
    """One closed surface that runs through itself: a bar bent round into its own start, a little thicker at its end."""
    turn = np.linspace(0, 2 * np.pi + shift, 81)
    square = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    grown = 1 + 0.15 * np.arange(81) / 80
    rings = np.array(
        [[[(8 + a * g) * np.cos(t), (8 + a * g) * np.sin(t), b * g] for a, b in square] for t, g in zip(turn, grown, strict=True)]
    )
    faces = []
    for k in range(80):
        for j in range(4):
            a, b = 4 * k + j, 4 * k + (j + 1) % 4
            faces += [[a, a + 4, b], [b, a + 4, b + 4]]
    ends = [[0, 1, 2], [0, 2, 3], [320, 322, 321], [320, 323, 322]]
    mesh = Mesh(rings.reshape(-1, 3), faces + ends)
    return mesh if mesh.volume_mm3 > 0 else inside_out(mesh)


def plate(thickness):
    return from_manifold(manifold3d.Manifold.cube((12, 10, thickness), True))


def test_pattern_unsound_fires():
    told = finding("pattern-unsound", STOP, ("shank", open_cube()))
    assert '"shank"' in told.says
    assert "3 open edges" in told.measure
    assert "by guess" in told.says, "it says on which stand-in the figures rest"
    assert "near x" in told.where
    assert "1 hole (a rim of 3 edges, {l:13.66} round near x" in told.says
    assert "`pourwell mend ring.stl`: it covers 1 hole" in told.do


def test_pattern_unsound_tells_winding_and_inner_walls_apart():
    turned = cube(4).faces.copy()
    turned[5] = turned[5, ::-1]
    assert "sides disagree" in finding("pattern-unsound", STOP, Mesh(cube(4).vertices, turned)).measure
    walled = Mesh(cube(4).vertices, [*cube(4).faces.tolist(), [0, 1, 7]])
    assert "more than two triangles" in finding("pattern-unsound", STOP, walled).measure


def test_pattern_unsound_names_the_hull_where_that_stands_in():
    rng = np.random.default_rng(0)
    soup = Mesh(rng.uniform(0, 10, (60, 3)), np.arange(60).reshape(-1, 3))
    told = finding("pattern-unsound", STOP, soup)
    assert "skin stretched tight" in told.says
    assert "14 more" in told.says


def test_pattern_unsound_stays_silent():
    silent("pattern-unsound", plain_band())
    silent("pattern-unsound", joined(cube(4), cube(4, (4, 0, 0))))
    silent("pattern-unsound", ("ring", cube(4)), ("stone", open_cube()))


def test_units_doubtful_fires():
    told = finding("units-doubtful", STOP, plain_band().scaled(1 / 25.4))
    assert "inch would make it {l:20.8} x" in told.do
    assert "cm would make it" not in told.do, "no finger goes through 6.8 mm"
    assert "does not say" in told.says
    assert "0.8189 mm" in told.measure


def test_units_doubtful_fires_for_a_file_that_says_a_unit_which_cannot_be():
    told = finding("units-doubtful", STOP, plain_band().scaled(1000), units="m", units_from="file", own_units="m")
    assert "as the file says (m)" in told.says
    assert "mm would make it {l:20.8}" in told.do


def test_units_doubtful_says_so_where_no_unit_helps():
    told = finding("units-doubtful", STOP, cube(200), units="um", units_from="file", own_units="um")
    assert "No other unit" in told.do


def test_units_doubtful_keeps_walls_and_bore_out_of_it():
    _, found = measured(plate(0.3).scaled(0.1), wanted_mm=17.0)
    assert set(found) == {"units-doubtful"}


@pytest.mark.parametrize("largest_mm", [3.01, 21, 119])
def test_units_doubtful_stays_silent(largest_mm):
    silent("units-doubtful", cube(largest_mm))


def test_units_doubtful_stays_silent_where_the_user_says_the_unit():
    silent("units-doubtful", cube(0.5), units_from="user")
    silent("units-doubtful", cube(300), units_from="user")


def test_pattern_tiny_fires():
    assert "smaller" in finding("pattern-tiny", NOTE, cube(1.5), units_from="user").says


def test_pattern_tiny_stays_silent():
    silent("pattern-tiny", cube(5), units_from="user")
    silent("pattern-tiny", cube(1.5))
    silent("pattern-tiny", cube(150), units_from="user")


def test_pattern_large_fires():
    assert "larger" in finding("pattern-large", NOTE, cube(150), units_from="user").says


def test_pattern_large_stays_silent():
    silent("pattern-large", cube(100), units_from="user")
    silent("pattern-large", cube(150))


def test_units_overruled_fires():
    told = finding("units-overruled", NOTE, plain_band(), units="mm", units_from="user", own_units="inch")
    assert "The file says inch" in told.says


def test_units_overruled_stays_silent():
    silent("units-overruled", plain_band(), units="mm", units_from="user", own_units="mm")
    silent("units-overruled", plain_band(), units="mm", units_from="user")
    silent("units-overruled", plain_band(), units="inch", units_from="file", own_units="inch")


def test_pattern_file_odd_fires():
    assert finding("pattern-file-odd", NOTE, plain_band(), remarks=("7 bytes were left unread.",)).says.startswith("7 bytes")


def test_pattern_file_odd_stays_silent():
    silent("pattern-file-odd", plain_band())


def test_pattern_apart_fires():
    told = finding("pattern-apart", STOP, joined(plain_band(), cube(4, (30, 0, 0))))
    assert told.measure == "2 solids"
    assert "64" in told.says


def test_pattern_apart_fires_for_links_that_only_interlock():
    link = from_manifold(manifold3d.Manifold.revolve(manifold3d.CrossSection.circle(1, 24).translate((5, 0)), 64))
    other = from_manifold(
        manifold3d.Manifold.revolve(manifold3d.CrossSection.circle(1, 24).translate((5, 0)), 64)
        .rotate((90, 0, 0))
        .translate((5, 0, 0))
    )
    finding("pattern-apart", STOP, joined(link, other))


def test_pattern_apart_stays_silent():
    silent("pattern-apart", plain_band())
    silent("pattern-apart", cube(4), cube(4, (2, 0, 0)))
    silent("pattern-apart", cube(4), cube(4, (4, 0, 0)))
    silent("pattern-apart", ("ring", cube(4)), ("stone", cube(2, (9, 0, 0))))
    silent("pattern-apart", hollow(cube(10), cube(4, (3, 3, 3))))


def test_pattern_overlap_fires():
    told = finding("pattern-overlap", NOTE, cube(4), cube(4, (2, 0, 0)))
    assert told.measure == "32.0 mm³"
    assert "128.0" in told.says
    assert "96.0" in told.says


def test_pattern_overlap_stays_silent():
    silent("pattern-overlap", plain_band())
    silent("pattern-overlap", cube(4), cube(4, (4, 0, 0)))
    silent("pattern-overlap", cube(4), cube(4, (3.9999, 0, 0)))


def test_pattern_doubled_fires():
    told = finding("pattern-doubled", NOTE, ("shank", cube(4)), ("shank copy", cube(4)))
    assert '"shank copy"' in told.says


def test_pattern_doubled_stays_silent():
    silent("pattern-doubled", cube(4), cube(4, (1, 0, 0)))


def test_pattern_inside_out_fires():
    assert '"b"' in finding("pattern-inside-out", NOTE, cube(4), inside_out(cube(4, (2, 0, 0)))).says
    finding("pattern-inside-out", NOTE, inside_out(plain_band()))


def test_pattern_inside_out_stays_silent():
    silent("pattern-inside-out", plain_band())
    silent("pattern-inside-out", hollow(cube(10), cube(4, (3, 3, 3))))


def test_several_nested_bodies_are_one_finding():
    told = finding("pattern-nested", NOTE, cube(10), cube(4, (1, 1, 1)), cube(2, (2, 2, 2)), cube(3, (6, 6, 6)))
    assert told.measure == "99.0 mm³"
    assert "2 more" in told.says


def test_pattern_crosses_itself_fires():
    told = finding("pattern-crosses-itself", STOP, crossing(0.6))
    assert "weighed twice" in told.says
    share = float(told.measure.split("%")[0]) / 100
    thin_end = 4 * 8 * 0.6 * 1.013  # mm3: section times path, a little grown by then
    assert share == pytest.approx(thin_end / crossing(0.6).volume_mm3, rel=0.1)


def test_pattern_crosses_itself_is_a_note_where_it_hardly_matters():
    finding("pattern-crosses-itself", NOTE, crossing(0.02))


def test_pattern_crosses_itself_stays_silent():
    silent("pattern-crosses-itself", plain_band())
    silent("pattern-crosses-itself", crossing(-0.5))
    silent("pattern-crosses-itself", cube(4), cube(4, (2, 1, 1)))


def test_pattern_crosses_itself_names_the_place_and_the_command():
    told = finding("pattern-crosses-itself", STOP, crossing(0.6))
    assert "near x" in told.where
    assert "`pourwell mend ring.stl`" in told.do


def test_pattern_flake_fires():
    band = plain_band()
    told = finding("pattern-flake", NOTE, with_flake(band, 5))
    assert "1 loose flake ({l:0.05} large" in told.says
    assert "near x" in told.where
    silent("pattern-apart", with_flake(band, 5))


def test_pattern_flake_stays_silent():
    silent("pattern-flake", plain_band())
    silent("pattern-flake", joined(cube(4), cube(1, (9, 0, 0))))


def fine(monkeypatch, most):
    """A ball of 2,048 triangles, of which so many are measured."""
    monkeypatch.setattr(thickness, "speakers", partial(speakers, most=most))
    return icosphere(3.0, halvings=4)


def test_mesh_very_fine_fires(monkeypatch):
    told = finding("mesh-very-fine", NOTE, fine(monkeypatch, 600))
    assert told.measure == "2,048 triangles"
    measured_on = int(re.search(r"measured on ([\d,]+) of them", told.says)[1].replace(",", ""))
    assert 512 <= measured_on < 1100, "one of four, but for those that look another way"
    apart = float(re.search(r"about \{l:([\d.]+)\} apart", told.says)[1])
    assert apart == pytest.approx(np.sqrt(4 * np.pi * 9 / measured_on), abs=0.01)
    assert "Volume and weight are of all" in told.says


def test_mesh_very_fine_stays_silent(monkeypatch):
    silent("mesh-very-fine", plain_band())
    silent("mesh-very-fine", fine(monkeypatch, 2048))


def test_a_thinned_mesh_weighs_as_much_and_has_the_same_walls(monkeypatch):
    whole, _ = measured(icosphere(3.0, halvings=4))
    thinned, _ = measured(fine(monkeypatch, 600))
    assert thinned.piece.volume_mm3 == whole.piece.volume_mm3
    assert thinned.piece.triangle_count == whole.piece.triangle_count
    assert thinned.piece.wall.typical_mm == pytest.approx(whole.piece.wall.typical_mm, rel=0.01)
    assert thinned.wall_mm == pytest.approx(whole.wall_mm, rel=0.03)


@pytest.mark.parametrize(("thick", "told"), [(0.597, False), (0.583, False), (0.567, True)])
def test_a_wall_that_is_written_as_the_limit_is_not_told(thick, told):
    """A wall of 0.60 mm of 0.6 mm is no finding, nor is one short by no more than the chord of a mesh, 0.02 mm."""
    assert ("wall-thin" in measured(plate(thick))[1]) == told


def test_wall_thin_fires():
    told = finding("wall-thin", WARN, plate(0.4))
    assert told.measure == "0.40 mm"
    assert told.limit == "0.6 mm"
    assert told.source == library().alloy("sterling-925").min_wall_mm.source
    assert "near x" in told.where
    assert "100% of the surface" in told.says


def test_wall_thin_goes_by_the_alloy():
    silent("wall-thin", plate(0.7))
    finding("wall-thin", WARN, plate(0.7), alloy="gold-916-yellow")


def test_wall_thin_stays_silent():
    silent("wall-thin", plate(0.61))
    silent(
        "wall-thin",
        from_manifold(
            manifold3d.Manifold.hull_points(np.array([[x, y, z] for x in (0, 20.0) for y, z in ((-3, 0), (3, 0), (0, 3))]))
        ),
    )


@pytest.mark.parametrize("name", SHAPES)
def test_our_own_pieces_give_no_finding_at_all(name):
    assert measured(SHAPES[name].make())[1] == {}


def test_every_code_has_its_severities_and_every_check_its_words():
    assert len({code.code for code in CODES}) == len(CODES)
    assert all(code.severities and code.about for code in CODES)
    assert all(check.__doc__ for check in CHECKS)
