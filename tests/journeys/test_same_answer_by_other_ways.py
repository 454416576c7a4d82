"""The same work asked for in another way has the same answer: by weight, at the scale, by a job file, in other units or axes."""

import json
import math
from pathlib import Path

import pytest
import trimesh

from tests.journeys.call import Caller

POUR = ("--pour-at", "2035-03-05 10:00")


def plan_in(folder: str) -> dict:
    """The plan that lies in a folder, without the moment at which it was made and the words that asked for it."""
    plan = json.loads((Path(folder) / "plan.json").read_text(encoding="utf-8"))
    del plan["inputs"]["request"], plan["run"]["made_at"]
    return plan


@pytest.mark.parametrize(
    ("weight", "words", "flask", "mould"),
    [
        ("41.2", ["--base", "26.9", "--alloy", "sterling-925"], "76x100", []),
        ("14.3", ["--wax", "3.1", "--alloy", "gold-585-yellow", "--returns", "0.4"], "64x64", []),
        ("22", ["--pattern", "wax-injection", "--alloy", "bronze-silicon-873"], "89x102", ["--investment", "gypsum-standard"]),
        ("9.9", ["--alloy", "sterling-925", "--own-alloying", "--returns", "0.25"], "51x76", ["--investment", "gypsum-standard"]),
    ],
)
def test_a_plan_by_weight_says_what_weigh_and_mix_say(
    pourwell: Caller, weight: str, words: list[str], flask: str, mould: list[str]
) -> None:
    """The sheet is for the day, the two short answers for the moment: three numbers that may never differ."""
    whole = pourwell("plan", "--weight", weight, *words, "--flask", flask, *mould, *POUR, "--out", "run")
    weighed = pourwell("weigh", weight, *words, "--flask", flask, "--json").data
    mixed = pourwell("mix", flask, *mould, "--json").data
    assert whole.code == 0, whole.err
    plan = plan_in("run")
    assert plan["charge"] == weighed["charge"]
    assert plan["weighed"] == weighed["weighed"]
    assert plan["investment"] == mixed["investment"]
    assert {f["code"] for f in weighed["findings"]} <= {f["code"] for f in plan["findings"]}


WORDS = {
    "--alloy": 'alloy = "sterling-925"',
    "--flask": 'flask = "64x64"',
    "--investment": 'investment = "gypsum-standard"',
    "--returns": "returns_fraction = 0.4",
    "--metal": "metal_c = 1000",
    "--flask-temperature": "flask_c = 480",
    "--title": 'title = "Two studs"',
    "--run": "run_number = 12",
}


def test_a_job_file_makes_the_same_plan_as_its_words_on_the_command_line(pourwell: Caller, shapes: dict[str, Path]) -> None:
    Path("stud.obj").write_bytes(shapes["stud.obj"].read_bytes())
    lines = [*WORDS.values(), "own_alloying = true", 'pour_at = "2035-03-05 10:00"', "[[pieces]]", 'file = "stud.obj"', "count = 2"]
    Path("job.toml").write_text("\n".join(lines), encoding="utf-8")
    words = [part for key, line in WORDS.items() for part in (key, line.partition(" = ")[2].strip('"'))]
    assert pourwell("plan", "job.toml", "--out", "a").code == 0
    assert pourwell("plan", "stud.obj:2", *words, "--own-alloying", *POUR, "--out", "b").code == 0
    a, b = plan_in("a"), plan_in("b")
    assert a == b
    assert (a["run"]["title"], a["run"]["number"], a["pour"]["metal_c"], a["pour"]["flask_c"]) == ("Two studs", 12, 1000, 480)
    assert {p.name for p in Path("a").iterdir()} == {p.name for p in Path("b").iterdir()}
    for name in ("tree.stl", "tree.glb"):
        assert (Path("a") / name).read_bytes() == (Path("b") / name).read_bytes()


def test_the_words_of_a_plan_are_kept_in_it_and_make_it_again(pourwell: Caller) -> None:
    """`inputs.request` holds what was asked: written as a job file it gives the same plan."""
    words = ("--weight", 14.3, "--wax", 2, "--alloy", "sterling-925", "--flask", "76x100", *POUR)
    assert pourwell("plan", *words, "--out", "a").code == 0
    request = json.loads(Path("a/plan.json").read_text(encoding="utf-8"))["inputs"]["request"]
    lines = [f"{key} = {json.dumps(value)}" for key, value in request.items() if value not in ([], "")]
    Path("again.toml").write_text("\n".join(lines), encoding="utf-8")
    assert pourwell("plan", "again.toml", "--out", "b").code == 0
    assert plan_in("a") == plan_in("b")


SHARP = ("bore=17", "width=4", "thickness=2", "edge=0")
DISC = math.pi * 9**2 * 1.4


def half_round_mm3() -> float:
    """Pappus on a rectangle of 4 x 1 mm under a circular segment that rises 0.9 mm, round a bore of 17 mm."""
    radius = (2**2 + 0.9**2) / (2 * 0.9)
    angle = 2 * math.asin(2 / radius)
    segment = radius**2 * (angle - math.sin(angle)) / 2
    out = 4**3 / (12 * segment) - (radius - 0.9)
    return 2 * math.pi * (4 * (8.5 + 0.5) + segment * (8.5 + 1 + out))


def stud_mm3() -> float:
    """A disc of 6 x 1 mm, a cap of height h on it, pi h (3 a^2 + h^2) / 6, and a wire of 1 mm that ends in a half ball."""
    return math.pi * (3**2 * 1 + 0.8 * (3 * 3**2 + 0.8**2) / 6 + 0.5**2 * 9.5 + 2 / 3 * 0.5**3)


@pytest.mark.parametrize("ending", ["stl", "ply", "obj", "3mf"])
@pytest.mark.parametrize(
    ("shape", "words", "truth_mm3", "share"),
    [
        ("plain-band", SHARP, math.pi * (10.5**2 - 8.5**2) * 4, 2e-3),
        ("half-round-band", ("bore=17", "width=4", "thickness=1.9", "crown=0.9", "edge=0"), half_round_mm3(), 4e-3),
        # chords of 0.005 mm take 4/3 of 0.005/r from a circle: 0.2 % of the head, 1.3 % of the wire
        ("stud", ("diameter=6", "rim=1", "crown=0.8", "wire=1", "wire_length=10", "fillet=0"), stud_mm3(), 5e-3),
    ],
)
def test_a_shape_is_checked_at_the_volume_of_its_closed_form(
    pourwell: Caller, shape: str, words: tuple[str, ...], truth_mm3: float, share: float, ending: str
) -> None:
    """From the dimensions on the command line through a file to the scale: pencil and paper, less what chords cut off."""
    made = pourwell("shape", shape, *words, "--out", f"piece.{ending}", "--json")
    assert made.code == 0, made.err
    assert made.data["volume_mm3"] == pytest.approx(truth_mm3, rel=share)
    (checked,) = pourwell("check", f"piece.{ending}", "--units", "mm", "--json").data
    assert checked["piece"]["volume_mm3"] == pytest.approx(made.data["volume_mm3"], rel=1e-5)
    assert checked["piece"]["metal_g"] == pytest.approx(truth_mm3 / 1000 * 10.36, rel=share)


def test_a_flat_pendant_is_its_disc_and_its_loop(pourwell: Caller) -> None:
    """The loop is a torus that dips into the disc: more than the disc alone, less than both apart."""
    made = pourwell("shape", "pendant", "crown=0", "--json").data
    loop = 2 * math.pi**2 * (3.6 / 2 + 0.8) * 0.8**2
    assert DISC < made["volume_mm3"] < DISC + loop


@pytest.mark.parametrize(("unit", "factor"), [("inch", 25.4), ("cm", 10.0), ("m", 1000.0)])
def test_a_file_in_other_units_weighs_the_same_once_they_are_said(pourwell: Caller, unit: str, factor: float) -> None:
    pourwell("shape", "plain-band", *SHARP, "--out", "mm.stl")
    mesh = trimesh.load("mm.stl")
    mesh.apply_scale(1 / factor)
    Path("other.stl").write_bytes(mesh.export(file_type="stl"))
    (mm,) = pourwell("check", "mm.stl", "--json").data
    doubtful = pourwell("check", "other.stl", "--json")
    assert doubtful.code == 3
    assert "units-doubtful" in {f["code"] for f in doubtful.data[0]["findings"]}
    said = pourwell("check", "other.stl", "--units", unit, "--json")
    assert said.code == 0
    assert said.data[0]["piece"]["metal_g"] == pytest.approx(mm["piece"]["metal_g"], rel=1e-4)
    assert said.data[0]["piece"]["bore"]["diameter_mm"] == pytest.approx(mm["piece"]["bore"]["diameter_mm"], abs=0.01)


def test_a_3mf_knows_its_unit_and_the_users_word_does_not_change_it_in_silence(pourwell: Caller) -> None:
    """What the file says and what the user says differ: the plan says so instead of choosing behind his back."""
    pourwell("shape", "plain-band", *SHARP, "--out", "band.3mf")
    alone, against = (
        pourwell("check", "band.3mf", "--json").data[0],
        pourwell("check", "band.3mf", "--units", "inch", "--json").data[0],
    )
    assert (alone["piece"]["units"], against["piece"]["units"]) == ("mm", "inch")
    assert against["piece"]["volume_mm3"] == pytest.approx(25.4**3 * alone["piece"]["volume_mm3"], rel=1e-4)
    said = " ".join(f["says"] for f in against["findings"])
    assert "The file says mm; it was taken in inch" in said
    assert "The file says" not in " ".join(f["says"] for f in alone["findings"])


def test_counts_multiply_pieces_and_nothing_else(pourwell: Caller, shapes: dict[str, Path]) -> None:
    Path("stud.obj").write_bytes(shapes["stud.obj"].read_bytes())
    pourwell("plan", "stud.obj:3", "--alloy", "sterling-925", "--flask", "64x64", *POUR, "--out", "a")
    plan = plan_in("a")
    (piece,) = plan["pieces"]
    tree = plan["tree"]
    assert piece["count"] == 3
    assert len(tree["places"]) == 3
    assert tree["pieces_g"] == pytest.approx(3 * piece["metal_g"], rel=1e-4)
    assert tree["metal_g"] == pytest.approx(tree["pieces_g"] + tree["sprues_g"] + tree["stem_g"] + tree["button_g"], rel=1e-4)
