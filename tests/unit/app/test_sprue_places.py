"""Places for a sprue as the desk asks for them: to choose from, with what speaks for each; and one that the user has set."""

from dataclasses import replace
from datetime import UTC, datetime
from types import SimpleNamespace

import pytest

from pourwell.app import sprue_places
from pourwell.app.desk_words import GivenPattern, for_desk
from pourwell.app.desk_work import plan_run
from pourwell.app.shapes import build_shape, mesh_bytes
from pourwell.app.sprue_places import no_cure, off_mm, places, reason
from pourwell.errors import BadFileError, BadRequestError

NOW = datetime(2026, 11, 26, 8, 30, tzinfo=UTC)
WANTED = {"alloy": "sterling-925", "material": "resin"}


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("studio")


@pytest.fixture(scope="module")
def signet(folder):
    path = folder / "content"
    path.write_bytes(mesh_bytes(build_shape("signet", ("size=ISO 58",)), ".stl"))
    return GivenPattern(path=path, file="signet.stl", name="Signet", units="")


def found(folder, given, *, at_mm=None):
    return places(folder, given, WANTED | {"at_mm": at_mm}, tell=lambda _: None)


def test_each_place_is_told_with_its_sprue_and_what_speaks_for_it(folder, signet):
    answer = found(folder, signet)
    first, *others = answer["choices"]
    assert first["words"] == "back of the shank, opposite the head"
    assert first["reason"].startswith("Proposed. The section of 3.8 mm is fed through 1.7 mm only, and may pit.")
    assert first["reason"].endswith("Its stump is out of sight.")
    assert others
    assert not any(one["reason"].startswith("Proposed") for one in others)
    assert all(one["gauge_mm"] > 0 and one["thickness_mm"] > 0 and len(one["at_mm"]) == 3 for one in answer["choices"])
    assert answer["own"] is None


def test_what_the_places_say_and_what_the_warning_says_agree(folder, signet):
    answer = found(folder, signet)
    assert not any(one["fed"] for one in answer["choices"])
    assert answer["no_cure"].startswith("No single sprue at one of these places feeds every heavy section.")
    assert "set a second one of 3.5 mm at the side of the head, beside the proposed one" in answer["no_cure"]
    run = {"form": {"alloy": "sterling-925", "pattern": "resin", "freeze": "none"}, "number": 1, "now": NOW}
    plan = plan_run(folder, run, [signet], tell=lambda _: None)["data"]["plans"][0]
    neck = next(one for one in plan["findings"] if one["code"] == "tree-neck")
    assert neck["do"].startswith("Set a second sprue of 3.5 mm at the side of the head, ")
    assert "or move the sprue there" not in neck["do"], "moved there it would leave another section unfed"
    assert neck["do"].endswith("beside the first: one sprue alone, there, does not feed it all.")


def test_where_a_place_feeds_the_piece_nothing_more_is_said(folder, tmp_path):
    path = tmp_path / "band"
    path.write_bytes(mesh_bytes(build_shape("plain-band", ("size=ISO 54", "width=4", "thickness=1.8")), ".stl"))
    answer = found(folder, GivenPattern(path=path, file="band.stl", name="Band", units=""))
    assert answer["no_cure"] == ""
    assert answer["choices"][0]["reason"].endswith("Its stump is in sight.")


def test_a_place_that_was_set_is_moved_to_the_surface_and_judged(folder, signet):
    own = found(folder, signet, at_mm=(0.0, 0.5, -12.0))["own"]
    assert own["used"]
    assert own["trouble"] == ""
    assert own["at_mm"][2] == pytest.approx(-10.93, abs=0.1)
    inside = found(folder, signet, at_mm=(0.0, 0.0, 8.0))["own"]
    assert not inside["used"]
    assert inside["trouble"] == "it lies in the bore, so it is not used"


def test_after_a_row_of_the_library_was_changed_nothing_rests_on_the_old_one(folder, signet):
    kept = sprue_places._choices.cache_info()
    found(folder, signet)
    again = sprue_places._choices.cache_info()
    assert again.misses - kept.misses <= 1
    found(folder, signet)
    assert sprue_places._choices.cache_info().misses == again.misses, "nothing was changed"
    own = folder / "alloys" / "own.toml"
    own.parent.mkdir()
    own.write_text('id = "sterling-925"\ndensity_g_per_cm3 = 10.2\n', encoding="utf-8")
    try:
        found(folder, signet)
    finally:
        own.unlink()
        own.parent.rmdir()
    assert sprue_places._choices.cache_info().misses == again.misses + 1


def test_of_what_is_no_closed_solid_no_place_is_told(folder, tmp_path):
    mesh = build_shape("signet", ())
    content = mesh_bytes(mesh, ".stl")
    cut = 84 + 50 * (len(mesh.faces) // 2)
    path = tmp_path / "half"
    path.write_bytes(content[:80] + (len(mesh.faces) // 2).to_bytes(4, "little") + content[84:cut])
    with pytest.raises(BadRequestError, match="Half is not sound"):
        found(folder, GivenPattern(path=path, file="half.stl", name="Half", units=""))


def test_what_a_plan_says_of_a_bad_place_is_said_on_a_page_without_figures():
    said = "Leave sprue_at_mm out, or use (0.0, 0.0, -10.9): back of the shank, opposite the head."
    assert for_desk(said) == "Go back to the proposed place: back of the shank, opposite the head."
    neck = "The thickest section, 3.8 mm at (5.4, 1.2, 9.7), is fed through a neck of 1.7 mm at (-2.6, 0.9, -9.7)."
    assert for_desk(neck) == "The thickest section, 3.8 mm, is fed through a neck of 1.7 mm."
    second = "Set a second sprue of 3.5 mm on the heavy section, at (7.0, 4.2, 6.3) mm in its file, from a stem carried on."
    assert for_desk(second) == "Set a second sprue of 3.5 mm on the heavy section, from a stem carried on."


def test_a_run_is_planned_with_the_places_that_were_set_and_says_which_is_bad(folder, signet):
    band = folder / "band"
    band.write_bytes(mesh_bytes(build_shape("plain-band", ("size=ISO 54", "width=4", "thickness=1.8")), ".stl"))
    side = GivenPattern(path=band, file="band.stl", name="Band", units="", sprue_at_mm=(11.0, 0.0, 0.0))
    inside = replace(signet, sprue_at_mm=(0.0, 0.0, 8.0))
    run = {"form": {"alloy": "sterling-925", "pattern": "resin", "freeze": "none"}, "number": 1, "now": NOW}
    plan = plan_run(folder, run, [side, inside], tell=lambda _: None)["data"]["plans"][0]
    feet = {place["piece"]: place["sprue"]["attachment"] for place in plan["tree"]["places"]}
    assert feet["A"]["chosen_by"] == "user"
    assert feet["A"]["at_mm"][0] == pytest.approx(10.4, abs=0.2)
    assert feet["B"]["chosen_by"] == "shape"
    told = [found for found in plan["findings"] if found["code"] == "attach-user-bad"]
    assert [found["where"] for found in told] == ["piece B"]
    assert told[0]["do"].startswith("Go back to the proposed place: back of the shank")


CORNERS = ((0, 0, 0), (10, 0, 0), (0, 10, 0), (0, 0, 10))
FACES = ((0, 2, 1), (0, 1, 3), (0, 3, 2), (1, 2, 3))


@pytest.mark.parametrize(
    ("at_mm", "units", "far_mm"), [((2, 2, -0.3), "mm", 0.3), ((1, 1, 1), "mm", 1.0), ((20, 20, -0.3), "inch", 0.3)]
)
def test_how_far_a_place_lies_off_a_surface_is_measured_in_the_frame_of_its_file(tmp_path, at_mm, units, far_mm):
    """A corner of a cube at the origin: under its base a point lies off by its depth, inside by its least coordinate."""
    rows = ["solid corner"]
    for face in FACES:
        points = ["vertex {} {} {}".format(*CORNERS[k]) for k in face]
        rows += ["facet normal 0 0 0", "outer loop", *points, "endloop", "endfacet"]
    path = tmp_path / "content"
    path.write_text("\n".join([*rows, "endsolid corner", ""]))
    given = GivenPattern(path=path, file="corner.stl", name="Corner", units=units)
    assert off_mm(given, at_mm, tell=lambda _: None) == pytest.approx(far_mm, abs=1e-5)


# ---- what is said where nothing fits


def weighed(*, cut=None, sight="out of sight"):
    """A place with nothing but what a sentence takes of it."""
    return SimpleNamespace(cut=cut, sight=sight)


def necked(*, at="side of the head"):
    attachment = SimpleNamespace(words=at) if at else None
    return SimpleNamespace(section_mm=3.84, neck_mm=1.66, gauge_mm=3.5, attachment=attachment)


@pytest.mark.parametrize(
    ("one", "first", "says"),
    [
        (weighed(), True, "Proposed. The heaviest section is fed without a neck. Its stump is out of sight."),
        (weighed(sight="in sight"), False, "The heaviest section is fed without a neck. Its stump is in sight."),
        (
            weighed(cut=necked(), sight="seen from the side"),
            False,
            "The section of {l:3.8} is fed through {l:1.7} only, and may pit. Its stump is seen from the side.",
        ),
    ],
)
def test_what_speaks_for_a_place_is_told_with_its_quantities_marked(one, first, says):
    assert reason(one, first=first) == says


def test_that_no_place_feeds_it_is_said_only_where_none_does():
    assert no_cure([weighed(), weighed(cut=necked())]) == ""
    assert no_cure([weighed(cut=necked()), weighed()]) == "", "another one of the list feeds it"
    both = no_cure([weighed(cut=necked()), weighed(cut=necked(at="other"))])
    assert "set a second one of {l:3.5} at the side of the head, beside the proposed one" in both
    never = no_cure([weighed(cut=necked(at=""))])
    assert never == "No place here feeds every heavy section: thicken the neck in the drawing, or make the section hollow."


def test_a_place_on_a_file_that_is_no_pattern_is_refused(tmp_path):
    path = tmp_path / "content"
    path.write_bytes(b"no pattern at all")
    with pytest.raises(BadFileError):
        off_mm(GivenPattern(path=path, file="band.stl", name="Band", units=""), (0, 0, 0), tell=lambda _: None)
