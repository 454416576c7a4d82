"""What a plan holds that was computed in depth: burnout inside the flask, freezing; and answers about places for a sprue."""

from tests.unit.web.samples import NOW, plan

TIMES = [0, 240, 480, 720, 960]


def deep(*, frozen=True, fine=False, dry=365.0, **how):
    """A plan with its burnout's inside and, if wanted, its freezing."""
    out = plan(**how)
    out["findings"] = list(how.get("findings", ()))
    out["pieces"] = [{"id": "A", "name": "Heddle band", "count": 3}]
    curves = {
        key: [20.0, 150.0, 370.0, 730.0, 540.0]
        for key in ("kiln_c", "rim_c", "half_radius_c", "core_c", "core_low_c", "core_high_c")
    }
    curves |= {"times_min": TIMES, "water_fraction": [1, 0.6, 0, 0, 0], "water_high_fraction": [1, 0.8, 0.2, 0, 0]}
    verdict = {
        "key": "steam",
        "what": "steam",
        "measure": 2.2,
        "limit": 5.0,
        "unit": "kW/m\u00b2",
        "at_most": True,
        "published": 4.0,
    }
    least = {
        "key": "carbon",
        "what": "carbon",
        "measure": 270.0,
        "limit": 300.0,
        "unit": "min",
        "at_most": False,
        "published": 300.0,
    }
    out["burnout"] |= {
        "inside": {"curves": curves, "measured": [], "not_modelled": ["cracks: not held against strength"]},
        "peak_c": 732.0, "warn_c": 740.0, "stop_c": 760.0, "energy_low_kwh": 7.0, "energy_high_kwh": 13.0, "published_min": 900,
        "shortest_min": 600, "least_drying_min": 55.0, "core_dry_early_min": 286.0, "core_dry_late_min": 448.0,
        "verdicts": [verdict | {"at_end": "much water"}, least | {"at_end": "with every input at its likely value"}],
    }  # fmt: skip
    if dry is not None:
        out["burnout"]["core_dry_min"] = dry
    if frozen:
        out["frozen"] = frozen_words(fine=fine)
        out["freezing"] = {"clocks": [{"verdict": "cut off"}, {"verdict": "fed"}]}
    return out


def frozen_words(*, fine=False):
    """The words of a freezing: a warning that shares its place with the hot spot of its piece, and a piece that is fed."""
    row = {"sprue": "9 s", "sprue_band": "6 to 14 s", "section": "12 s", "section_band": "8 to 20 s", "missed": ""}
    line = {"says": "piece 2, its thickest place", "points": [[0, 1], [1, 0.1]], "solid": 0.5}
    return {
        "verdict": "Piece 2 is cut off from the button before it is solid.",
        "pools": [{"lead": "Pits likely in piece 2.", "says": "The neck is shut after 7 s.", "at_mm": [0.0, 0.0, 30.0]}],
        "more_pools": 0,
        "rows": [
            row | {"number": "2", "piece": "B", "verdict": "CUT OFF", "at_mm": [1.0, 0.0, 30.0], "missed": "up to a 1.9 mm ball"},
            row | {"number": "1", "piece": "A", "verdict": "fed", "at_mm": [0.0, 20.0, 40.0]},
        ],
        "tried": [
            {"lead": "Change:", "does": "Take a sprue of 3.5 mm, at (7.0, 4.2, 6.3) mm in its file.", "gave": "It stays fed."}
        ],
        "facts": [["quench", "after 9 to 15 min", "after the pour", "No red on the button."]],
        "source": "Freezing curve: computed.", "grid": "Draft: cells of 1 mm.", "fine": fine, "not_modelled": [],
        "curves": {
            "lines": [
                line | {"style": "piece"}, line | {"style": "stem", "says": "stem"},
                line | {"style": "button", "says": "button", "solid": None},
            ],
            "band": [[0, 1], [1, 0.2], [1, 0.0]], "marks": [{"y": 0.6, "says": "liquidus 896"}, {"y": 0.3, "says": "solidus 779"}],
            "levels": [{"y": 0.0, "label": "700"}, {"y": 1.0, "label": "1000"}], "unit": "\u00b0C",
            "ticks": [{"x": 0.0, "label": "0"}, {"x": 0.25, "label": "10"}], "clock": "s",
        },
    }  # fmt: skip


def worked_out(desk, run, *plans, asked=None):
    """Keep a result of these plans for a run."""
    from pourwell.app.desk_runs import asked_of

    files = {"run-sheet.pdf": b"%PDF", "view.bin": b"", "view.json": b"{}"}
    if any("frozen" in one for one in plans):
        files |= {"freezing-view.bin": b"", "freezing-view.json": b"{}"}
    data = {"plans": list(plans)}
    return desk.store.add_result(run_id=run.id, asked=asked or asked_of(run), data=data, files=files, now=NOW)


def place(words, at, *, trouble="", used=True, reason="The heaviest section is fed without a neck. Its stump is out of sight."):
    """A place for a sprue as it is told."""
    told = {"at_mm": list(at), "words": words, "gauge_mm": 3.0, "thickness_mm": 1.74, "fed": True, "reason": reason}
    return told | {"trouble": trouble, "used": used}
