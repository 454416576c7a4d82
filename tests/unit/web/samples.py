"""Small plans and checks as pages take them."""

from datetime import UTC, datetime, timedelta

from pourwell.app.desk_runs import asked_of

NOW = datetime(2026, 11, 26, 8, 30, tzinfo=UTC)


def at(hours):
    return (NOW + timedelta(hours=hours)).isoformat(timespec="minutes")


def finding(severity, says, **more):
    return {"code": "wall-thin", "severity": severity, "where": "piece A", "says": says, "do": "Widen it.", **more}


def step(key, begin, end, hands):
    return {"key": key, "says": f"{key.capitalize()} now", "starts_at": at(begin), "ends_at": at(end), "hands_on_min": hands}


def plan(*, findings=(), charge=75.1, stopped=False, weight=False):
    segment = {"number": 1, "ramp_c_per_h": -120.0, "target_c": 540.0, "hold_min": 65, "why": "the core follows"}
    out = {
        "run": {"stopped": stopped},
        "costs": [{"what": "Fresh metal", "money": 49.61, "currency": "EUR"}],
        "alloy": {"name": "sterling silver"},
        "findings": list(findings),
        "investment": {
            "name": "strong grade", "powder_g": 597.0, "water_g": 238.8, "water_low_c": 21.0, "water_high_c": 24.0,
            "ratio_g_per_100_g": 40.0,
        },
        "charge": {
            "total_g": charge, "low_g": charge - 1, "high_g": charge + 1, "fresh_g": charge - 30, "returns_g": 30.0,
            "returns_limit_fraction": 0.5, "fine_g": 0.0, "master_g": 0.0, "fine": "",
        },
        "flask": {"diameter_mm": 76.2, "height_mm": 101.6},
        "pour": {"metal_c": 970.0, "flask_c": 540.0, "at": at(24)},
        "quench": {"low_min": 8, "high_min": 15},
        "burnout": {
            "name": "resin in gypsum", "start_c": 20.0, "starts_at": at(8), "ends_at": at(24), "total_min": 960, "energy_kwh": 9.2,
            "by_hand": [], "segments": [segment | {"starts_at": at(8), "reached_at": at(12), "ends_at": at(24)}],
        },
        "timeline": [step("invest", 2, 3, 20), step("kiln", 8, 24, 0), step("pour", 24, 24.1, 5)],
    }  # fmt: skip
    if not weight:
        out |= {"pieces": [{"count": 3}], "tree": {"metal_g": 74.2, "yield_fraction": 0.41, "clearance_mm": 3.1}}
    return out


def checked(*, findings=(), doubtful="", bore=True):
    piece = {"metal_g": 4.42, "pattern_g": 0.47, "envelope_mm": [20.8, 4.0, 20.8], "wall": {"thinnest_mm": 1.8}, "units": "mm"}
    piece |= {"triangle_count": 5824}
    if bore:
        piece["bore"] = {"finished_mm": 17.08, "finished_sizes": {"iso": "53.7"}}
    rows = [["size", "20.8 x 4.0 x 20.8 mm", "5824 triangles"]]
    head = {"shown_count": 1, "triangle_count": 1, "parts": [], "fields": []}
    return {
        "piece": piece, "rows": rows, "doubtful": doubtful, "alloy": "sterling-925", "alloy_name": "sterling silver",
        "findings": list(findings), "mm_per_px": 0.05, "view": head,
    }  # fmt: skip


def planned(desk, run, **how):
    files = {"run-sheet.pdf": b"%PDF", "view.bin": b"", "view.json": b"{}"}
    if how.get("weight"):
        files = {"run-sheet.pdf": b"%PDF"}
    return desk.store.add_result(run_id=run.id, asked=asked_of(run), data={"plans": [plan(**how)]}, files=files, now=NOW)
