"""The patterns page: one scale, a legend, facts of each piece."""

import base64
import re
from dataclasses import replace

import pytest

from pourwell.sheets.display import Display
from pourwell.sheets.pattern_view import LARGEST_SCALE, common_scale, legend, named_points, patterns_view
from pourwell.steps.pattern.model import BoreInside, SizePart
from tests.golden.sheets.parts import pictures
from tests.golden.sheets.plans import plan
from tests.golden.sheets.rings import TONES, Drawn
from tests.golden.sheets.variants import by_weight, pendant

SHOW = Display()


def view(of=None, shown=None) -> dict:
    return patterns_view(of or plan(), pictures() if shown is None else shown, show=SHOW, paper="a4")


def facts(piece: dict) -> list[tuple[str, str, str]]:
    return [(a, b.replace("\u00a0", " "), c) for a, b, c in piece["facts"]]


def drawn(width: float, height: float, points: dict | None = None) -> Drawn:
    return Drawn(b"", width, height, points or {})


def test_small_pieces_are_shown_twice_their_size_and_no_larger():
    assert common_scale([drawn(10.0, 5.0)], paper="a4") == LARGEST_SCALE


@pytest.mark.parametrize(("width", "height"), [(80.0, 20.0), (20.0, 70.0)])
def test_a_large_piece_shrinks_all_to_one_scale(width, height):
    scale = common_scale([drawn(10.0, 5.0), drawn(width, height)], paper="a4")
    assert scale < LARGEST_SCALE
    assert scale * width <= 84.0 + 1e-9
    assert scale * height <= 53.0


def test_a_page_without_pictures_has_a_scale_nonetheless():
    assert common_scale([], paper="us-letter") == LARGEST_SCALE
    shown = view(shown={})
    assert shown["legend"] == []
    assert {p["picture"] for p in shown["pieces"]} == {None}


def test_the_legend_names_each_tone_by_the_walls_it_stands_for():
    assert [t["says"] for t in legend(TONES, SHOW)] == ["under 0.8", "0.8 to 1.5", "1.5 to 2.5", "2.5 to 4.0", "over 4.0"]
    assert [t["percent"] for t in legend(TONES, SHOW)][::4] == [0.0, 100.0]


def test_the_raster_is_carried_whole():
    shown = view()["pieces"][0]["picture"]
    data = re.search(r"base64,([^\"]+)", shown["svg"])
    assert data is not None
    assert base64.b64decode(data[1]) == pictures()["A"].png


def test_points_carry_their_figures():
    points = view()["pieces"][2]["picture"]["points"]
    assert {(q["says"], q["value"]) for q in points} == {("thin", "1.9"), ("thick", "4.5"), ("sprue", "")}


def test_walls_that_are_even_all_round_are_named_once():
    points = view()["pieces"][0]["picture"]["points"]
    assert {(q["says"], q["value"]) for q in points} == {("wall", "1.8"), ("sprue", "")}


def test_a_name_stands_at_the_nearest_edge_but_never_among_the_figures_at_the_right():
    places = {"thinnest": (2.0, 10.0), "thickest": (19.0, 9.0), "sprue": (12.0, 19.0)}
    names = {name: (name, "") for name in places}
    found = {q["says"]: q["edge"] for q in named_points(drawn(20.0, 20.0, places), names, scale=2.0)}
    assert found == {"thinnest": "left", "thickest": "top", "sprue": "bottom"}


@pytest.mark.parametrize(("places", "step"), [([(1.0, 9.0), (1.0, 10.0)], 4.6), ([(9.0, 1.0), (10.0, 1.0)], 18.0)])
def test_names_on_one_edge_do_not_overlap(places, step):
    points = dict(zip(("thinnest", "thickest"), places, strict=True))
    one, other = named_points(drawn(20.0, 20.0, points), {n: (n, "") for n in points}, scale=2.0)
    assert other["at"] - one["at"] == pytest.approx(step, abs=0.011)


def test_a_point_that_is_not_seen_is_left_out():
    one = pictures()["A"]
    hidden = replace(one, points={"sprue": one.points["sprue"]})
    points = view(shown={"A": hidden})["pieces"][0]["picture"]["points"]
    assert [q["says"] for q in points] == ["sprue"]


def test_a_ring_is_told_with_bore_sizes_weights_and_wall():
    assert facts(view()["pieces"][0])[:4] == [
        ("Count", "2", "on the tree as no. 3, 5"),
        ("Size", "21.0 \u00d7 21.0 \u00d7 4.0 mm", "434 mm³"),
        ("Bore", "17.39 mm", "the pattern as it is"),
        ("", "17.19 mm", "finished; 17.13 to 17.24"),
    ]
    assert facts(view()["pieces"][0])[-1] == ("Wall", "1.8 mm all round", "limit 0.8")


def test_a_wanted_size_is_told_with_the_scale_that_hits_it_and_its_ends():
    rows = facts(view()["pieces"][2])
    at = rows.index(("Wanted", "18.62 mm", "scale the pattern by 1.008 (1.005 to 1.011)"))
    assert rows[at + 1] == ("", "", "ISO\u00a058.5, US\u00a08½, UK\u00a0R"), "the same in the systems that it is asked for by"


def test_a_piece_without_a_bore_and_with_thin_walls_says_so():
    rows = facts(view(pendant())["pieces"][0])
    assert ("Bore", "none", "") in rows
    assert rows[-1] == ("Wall", "0.6 to 2.2 mm", "limit 0.8, 3 % of the surface under it")


def test_a_tree_by_weight_has_no_patterns_to_show():
    assert view(by_weight())["pieces"] == []


@pytest.mark.parametrize(("doubt", "reason"), [("unit", "the unit is in doubt"), ("hull", "loose triangles")])
def test_figures_that_are_not_to_be_worked_by_are_dashes(doubt, reason):
    whole = plan()
    first = replace(whole.patterns[0], piece=replace(whole.patterns[0].piece, doubt=doubt))
    shown = view(replace(whole, patterns=(first, *whole.patterns[1:])))["pieces"]
    assert [(a, b) for a, b, _ in facts(shown[0])[1:]] == [(name, "\u2014") for name in ("Size", "Bore", "Weight", "Wall")]
    assert all(reason in remark for _, _, remark in facts(shown[0])[1:])
    assert facts(shown[0])[0] == ("Count", "2", "on the tree as no. 3, 5")
    assert {q["says"] for q in shown[0]["picture"]["points"]} <= {"sprue"}
    assert facts(shown[1]) == facts(view()["pieces"][1]), "the other pieces are as they were"


def with_bore(**more):
    """The rows of the first piece with more known about its bore."""
    whole = plan()
    first = whole.patterns[0]
    others = more.pop("others", ())
    piece = replace(first.piece, bore=replace(first.piece.bore, **more), other_bores=others)
    return facts(view(replace(whole, patterns=(replace(first, piece=piece), *whole.patterns[1:])))["pieces"][0])


def inside(profile="comfort", **more):
    at = (0.0, 0.0, 0.0)
    told = {"widest_at_mm": at, "narrowest_at_mm": at, "open_deg": 0.0, "open_at_mm": None, "pierced_deg": 0.0, "curve_mm": None}
    sizes = dict.fromkeys(
        ("out_of_round_mm", "widest_mm", "mean_mm", "width_least_mm", "width_most_mm", "rise_mm", "taper_mm"), 1.0
    )
    return BoreInside(profile=profile, width_mm=5.0, **{**told, **sizes, **more})


@pytest.mark.parametrize(("profile", "words"), [("comfort", "comfort curve inside"), ("flat", "flat inside")])
def test_what_the_bore_goes_through_is_told(profile, words):
    rows = with_bore(inside=inside(profile))
    assert ("Bore", "17.39 mm", f"largest cylinder through the pattern; band 5.0 wide, {words}") in rows
    assert with_bore(inside=inside(profile, open_deg=24.4))[2][2].endswith(f"{words}, open over 24°")


def test_what_makes_the_finished_bore_is_told_the_largest_part_first():
    def part(what, by_mm):
        return SizePart(what=what, by_mm=by_mm, by_low_mm=0, by_high_mm=0, by_fraction=None, source="", grade="")

    rows = with_bore(parts=(part("printing", -0.05), part("metal cooling", -0.29), part("finishing", 0.14)))
    assert ("", "", "from drawn to finished: metal cooling \u22120.29, finishing +0.14, printing \u22120.05") in rows
    assert not any("from drawn" in remark for _, _, remark in with_bore())


def test_other_bores_are_told_in_a_line():
    bore = plan().patterns[0].piece.bore
    rows = with_bore(others=(replace(bore, diameter_mm=16.2), replace(bore, diameter_mm=15.9)))
    line = next(remark for _, _, remark in rows if remark.startswith("other bores"))
    assert line.count("(ISO ") == 2
    assert line.startswith("other bores: 16.20 (ISO ")
