"""Which bodies of a file are cast, and how they become one solid."""

import numpy as np
import pytest

from pourwell.errors import BadRequestError
from pourwell.geometry.mesh import Mesh
from pourwell.geometry.shapes import plain_band
from pourwell.geometry.solidity import faults, inside_out
from pourwell.steps.pattern.bodies import HULLED, MENDED, cast_of, is_left_out, united, words_of
from tests.unit.files.pattern_files import cube, joined
from tests.unit.pattern.case import hollow


@pytest.mark.parametrize(
    "name",
    [
        "stone",
        "Stone_01",
        "CenterStone",
        "side-stones",
        "gem 3",
        "DIAMOND",
        "CZ",
        "cz_1.5mm",
        "ruby.001",
        "support",
        "Supports (12)",
        "sprue-support",
        "post (support)",
        "raft",
    ],
)
def test_stones_and_supports_are_left_out_by_their_names(name):
    assert is_left_out(name)


@pytest.mark.parametrize(
    "name",
    [
        "ring",
        "Body 1",
        "shank",
        "stone seat",
        "StoneSetting",
        "gem bezel",
        "diamond prongs",
        "gemini",
        "milestone",
        "supported",
        "",
        "ruby ring",
    ],
)
def test_metal_is_kept_even_where_its_name_speaks_of_stones(name):
    assert not is_left_out(name)


def test_names_are_taken_word_by_word():
    assert words_of("CenterStone_01-CZprong") >= {"center", "stone"}
    assert "stone" in words_of("STONES")


def test_what_the_user_leaves_out_is_left_out_whatever_its_case():
    solid = united([("ring", cube(4)), ("Handle", cube(2, (9, 0, 0)))], ["handle"])
    assert solid.left_out == ("Handle",)
    assert solid.mesh.volume_mm3 == pytest.approx(64)
    assert [(b.name, b.kept) for b in solid.bodies] == [("ring", True), ("Handle", False)]


def test_leaving_out_what_is_not_there_is_refused_with_what_is():
    with pytest.raises(BadRequestError, match="handel") as caught:
        united([("ring", cube(4)), ("handle", cube(2, (9, 0, 0)))], ["handel"])
    assert "ring, handle" in caught.value.why


def test_unconnected_parts_of_one_body_are_left_out_by_their_numbers():
    three = [("ring", joined(cube(4), cube(2, (9, 0, 0)), cube(1, (0, 9, 0))))]
    solid = united(three, ["Ring (2)", "ring (3)"])
    assert solid.left_out == solid.as_asked == ("ring (2)", "ring (3)")
    assert solid.mesh.volume_mm3 == pytest.approx(64)
    assert [(b.name, b.kept) for b in solid.bodies] == [("ring (1)", True), ("ring (2)", False), ("ring (3)", False)]
    with pytest.raises(BadRequestError, match=r"ring \(4\)") as caught:
        united(three, ["ring (4)"])
    assert "ring (1), ring (2), ring (3)." in caught.value.why


def test_bodies_have_labels_of_their_own_whatever_they_are_called():
    """Two of one name, one that differs in case alone, one whose name is a number's, parts of one: each is left out alone."""
    named = [
        ("part", cube(6)),
        ("part", cube(2, (0, 0, 9))),
        ("Part", cube(1.5, (0, 0, 19))),
        ("part (2)", cube(1, (0, 0, 29))),
        ("pair", joined(cube(3, (20, 0, 0)), cube(3, (30, 0, 0)))),
    ]
    labels = [body.name for body in united(named, []).bodies]
    assert labels == ["part (1)", "part (3)", "Part", "part (2)", "pair (1)", "pair (2)"]
    for label in labels:
        assert united(named, [label]).left_out == (label,)
    assert united(named, ["part"]).left_out == ("part (1)", "part (3)"), "a name that two bear means both"
    assert united(named, ["PAIR"]).left_out == ("pair (1)", "pair (2)")


def test_a_hollow_is_left_out_with_its_body_and_never_alone():
    """Left out alone it would be metal in the plan, and a hollow full of resin in the print."""
    bead = hollow(cube(6, (20, 0, 0)), cube(2, (22, 2, 2)))
    named = [("ring", cube(4)), ("bead", bead)]
    assert [body.volume_mm3 for body in united(named, []).bodies] == [pytest.approx(v) for v in (64, 216, -8)]
    with pytest.raises(BadRequestError, match="is a hollow in") as caught:
        united(named, ["bead (2)"])
    assert "the file that is printed would have it still" in caught.value.why
    for asked in (["bead (1)"], ["bead"]):
        solid = united(named, asked)
        assert solid.left_out == ("bead (1)", "bead (2)")
        assert solid.mesh.volume_mm3 == pytest.approx(64)


def test_a_body_that_is_inside_out_is_left_out_as_any_other():
    solid = united([("ring", cube(4)), ("pin", inside_out(cube(2, (9, 0, 0))))], ["pin"])
    assert [body.volume_mm3 for body in solid.bodies] == [pytest.approx(64), pytest.approx(8)]


def test_stones_alone_are_not_cast_because_the_metal_is_left_out():
    with pytest.raises(BadRequestError, match="Every body"):
        united([("ring", cube(4)), ("ruby", cube(2, (9, 0, 0)))], ["ring"])


def test_of_very_many_bodies_the_first_are_named():
    many = [(f"link-{k}", cube(1, (2 * k, 0, 0))) for k in range(15)]
    with pytest.raises(BadRequestError) as caught:
        united(many, ["chain"])
    assert caught.value.why.endswith("link-11 and 3 more.")


def test_what_a_name_leaves_out_is_not_as_asked():
    solid = united([("ring", cube(4)), ("ruby", cube(2, (9, 0, 0))), ("handle", cube(2, (0, 9, 0)))], ["handle"])
    assert (solid.left_out, solid.as_asked) == (("ruby", "handle"), ("handle",))


def test_what_is_cast_of_a_file_is_that_of_the_solid():
    named = [("ring", joined(cube(4), cube(2, (9, 0, 0)))), ("ruby", cube(1, (0, 9, 0)))]
    whole, out = cast_of(named, [])
    assert ([len(mesh.faces) for mesh in whole], out) == ([24], ("ruby",)), "as the file has it"
    parts, out = cast_of(named, ["ring (2)"])
    assert ([mesh.volume_mm3 for mesh in parts], out) == ([pytest.approx(64)], ("ring (2)", "ruby"))
    alone, none = cast_of([("ruby", cube(1))], [])
    assert (len(alone), none) == (1, ()), "stones alone are cast"
    with pytest.raises(BadRequestError, match="Every body"):
        cast_of(named, ["ring"])


def test_leaving_out_everything_is_refused():
    with pytest.raises(BadRequestError, match="Every body"):
        united([("ring", cube(4))], ["ring"])


def test_a_file_of_stones_alone_is_cast_and_said():
    solid = united([("ruby", cube(4)), ("diamond", cube(2, (2, 0, 0)))], [])
    assert solid.all_named
    assert solid.left_out == ()
    assert all(body.kept for body in solid.bodies)


def test_parts_of_one_body_are_numbered():
    solid = united([("link", joined(cube(4), cube(2, (9, 0, 0))))], [])
    assert [body.name for body in solid.bodies] == ["link (1)", "link (2)"]
    assert solid.apart_mm3 == pytest.approx((64, 8))


def test_copies_are_dropped_before_overlap_is_counted():
    solid = united([("a", cube(4)), ("b", cube(4)), ("c", cube(4, (2, 0, 0)))], [])
    assert solid.doubled == ("b",)
    assert solid.mesh.volume_mm3 == pytest.approx(96)
    assert solid.overlap_mm3 == pytest.approx(32)


def test_a_hollow_is_taken_out_and_told():
    solid = united([("a", hollow(cube(10), cube(4, (3, 3, 3))))], [])
    assert solid.mesh.volume_mm3 == pytest.approx(936)
    assert solid.void_mm3 == pytest.approx(64)
    assert solid.apart_mm3 == pytest.approx((1000,))
    assert [body.volume_mm3 for body in solid.bodies] == pytest.approx([1000, -64])
    assert solid.turned == ()


def test_an_inside_out_body_is_turned_and_named():
    solid = united([("a", cube(4)), ("b", inside_out(cube(4, (2, 0, 0))))], [])
    assert solid.turned == ("b",)
    assert solid.mesh.volume_mm3 == pytest.approx(96)
    assert [body.volume_mm3 for body in solid.bodies] == pytest.approx([64, 64])


def test_faults_of_a_body_left_out_do_not_matter():
    broken = Mesh(cube(2).vertices, cube(2).faces[1:])
    solid = united([("ring", cube(4)), ("stone", broken)], [])
    assert solid.unsound == ()
    assert solid.stand_in == ""


def test_a_broken_body_gets_a_mended_stand_in():
    solid = united([("ring", Mesh(cube(4).vertices, cube(4).faces[1:]))], [])
    assert [name for name, _ in solid.unsound] == ["ring"]
    assert solid.stand_in == MENDED
    assert solid.mesh.volume_mm3 == pytest.approx(64)


def test_a_hopeless_body_gets_its_hull():
    rng = np.random.default_rng(0)
    soup = Mesh(rng.uniform(0, 10, (60, 3)), np.arange(60).reshape(-1, 3))
    solid = united([("ring", soup)], [])
    assert len(solid.unsound) == 20
    assert solid.stand_in == HULLED
    assert faults(solid.mesh).sound
    assert 300 < solid.mesh.volume_mm3 < 1000


def test_a_stray_patch_beside_a_sound_body_is_a_fault_but_not_the_end():
    patch = Mesh([[30, 0, 0], [31, 0, 0], [30, 1, 0]], [[0, 1, 2]])
    solid = united([("ring", joined(plain_band(), patch))], [])
    assert [name for name, _ in solid.unsound] == ["ring (2)"]
    assert solid.mesh.volume_mm3 == pytest.approx(plain_band().volume_mm3)


def test_nothing_but_flat_patches_is_refused():
    with pytest.raises(BadRequestError, match="encloses a volume"):
        united([("ring", Mesh([[0, 0, 0], [9, 0, 0], [0, 9, 0]], [[0, 1, 2]]))], [])
