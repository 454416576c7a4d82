"""The check list from setting out to the weighed castings: what is done with hot metal."""

from datetime import datetime
from typing import Any, Final

from pourwell.physics.water import SEA_LEVEL_PRESSURE, atmosphere
from pourwell.steps.day import mains
from pourwell.steps.day.bench import Bench, gate, hours, phase, quantified, roughly, step, waits
from pourwell.steps.day.carbon_look import look_at
from pourwell.steps.day.model import CheckStep
from pourwell.units import min_from_h

MOLTEN: Final = (
    "Face shield, leather gloves and apron, closed shoes, no synthetics. "
    "Anything damp throws metal: tools, ingots, crucible hot and dry."
)
GRAIN: Final = "Grain: a thin stream into a deep bucket, from a height; a lump bursts. Dry it wholly before it is melted again."
TABLE_KPA: Final = 88.0
"""The most that is asked of a casting table at sea level: published as enough, and never the full vacuum (vacuum-threads)."""
FINE_MELTS_C: Final = {"Ag": 962, "Au": 1064, "Pd": 1555, "Pt": 1768}
"""Melting points of the fine metals (chemicals.Tm)."""
LOOK: Final = (
    "kiln off at the mains, shield, gloves and apron on; tip the flask with long tongs and look from the side with a lamp at its "
    "hole: white, not grey, not black. Set it hole down, door shut, kiln on again"
)
AGAIN_MIN: Final = 60
"""A mould that is not white goes back to the peak hold for so long: common practice, no source."""


def set_out(bench: Bench) -> list[CheckStep]:
    """Charge, casting place, crucible, a look into the mould."""
    alloyed = bench.charge.master_g > 0
    clean = bench.alloy.flux == "none"
    charge, crucible = (
        _charge(bench),
        step(
            "Heat the crucible that is kept for this metal, empty: no borax, no glaze. Warm the tongs; no rod goes into this metal."
            if clean
            else "Heat the crucible empty, with its flux glaze; warm stirring rod and tongs.",
            caution=bench.warned("melt", MOLTEN),
            fill=False,
        ),
    )
    return [
        phase("Setting out", bench.starts("setout")),
        *([] if alloyed else [charge]),
        _place(bench),
        crucible,
        *([*_alloying(bench), charge] if alloyed else []),
        *_late_look(bench),
    ]


def _charge(bench: Bench) -> CheckStep:
    charge = bench.charge
    if bench.doubt:
        return step(f"Weigh no charge: {bench.doubt}.", caution=bench.warned("weigh"), prevents="a charge of the wrong size")
    split = "all fresh metal" if not charge.master_g else "all of it the grain"
    if charge.returns_g:
        fresh = "the grain" if charge.master_g else "fresh metal"
        split = f"{fresh} {{g:{charge.fresh_g:.1f}}}, clean returns {{g:{charge.returns_g:.1f}}}"
    return step(
        f"Weigh the charge: {split}.",
        quantity="metal_g",
        value=charge.total_g,
        caution=bench.warned("weigh"),
        prevents="a short pour, brittle metal",
    )


def _alloying(bench: Bench) -> list[CheckStep]:
    """Fine metal and master alloy become one metal before the charge is weighed: common practice, no source."""
    charge, fine = bench.charge, bench.charge.fine
    if bench.doubt:
        return [step(f"Alloy nothing: the charge is {bench.doubt}.", prevents="a charge of the wrong size")]
    melts = f"to {{t:{FINE_MELTS_C[fine]}}}, where fine {fine} melts, or " if fine in FINE_MELTS_C else ""
    return [
        step(
            f"Weigh for the fresh metal fine {fine} {{g:{charge.fine_g:.2f}}} and master alloy {{g:{charge.master_g:.2f}}}, or "
            "more in the same proportion.",
            quantity="metal_g",
            value=charge.fresh_g,
            prevents="a wrong fineness",
        ),
        step(
            f"Alloy it first: the fine metal under flux, the master alloy on it. Heat {melts}until the rod finds nothing solid; "
            "stir well, pour grain.",
            caution=GRAIN,
            prevents="streaks, hard spots, a wrong fineness",
            fill=False,
        ),
    ]


def _place(bench: Bench) -> CheckStep:
    way, pour = bench.studio.casting.way, bench.pour
    if way == "vacuum":
        asked = table_kpa(bench)
        return step(
            "Try the vacuum at the casting table with a blank on the pad.",
            plan=f"at least {{p:{asked:g}}}",
            prevents="pieces that do not fill",
        )
    if way == "centrifuge":
        return step(
            "Balance the arm cold: in the cradle a dead weight as heavy as the empty flask and its powder, crucible and charge in "
            "their place. Wind it, pin it, try the guard.",
            prevents="an arm that throws itself",
        )
    return step(
        "Set the flask's place at the melt: level firebrick, dry sand round it, within one reach.",
        plan=f"{pour.transfer_s} s",
        prevents="a flask that tips",
    )


def table_kpa(bench: Bench) -> float:
    """What the casting table must reach at the pour: in proportion to the air there, and no more than the studio's pump gives."""
    share = min(1.0, atmosphere(bench.studio.altitude_m) / SEA_LEVEL_PRESSURE)
    return round(min(bench.pour.vacuum_kpa or 0.0, TABLE_KPA * share), 1)


def look(bench: Bench) -> list[CheckStep]:
    """The look for carbon before the kiln falls, where somebody is at the bench then; a grey mould then costs the least."""
    moment = _early(bench)
    if moment is None:
        return []
    peak_c, flask_c = bench.programme.peak_c, bench.programme.segments[-1].target_c
    text = (
        f"Look for carbon now, before it falls: {LOOK}. White: {mains.by_hand(flask_c)} until the pour; see it fall. "
        f"Else {mains.by_hand(peak_c)} {AGAIN_MIN} min, look again, then {mains.by_hand(flask_c)}: the pour is "
        f"{hours(AGAIN_MIN)} later."
    )
    return [phase("End of the peak hold", moment), _looked(text, quantity="clock", at=moment)]


def _early(bench: Bench) -> datetime | None:
    return look_at(bench.programme, bench.studio, on_at=bench.starts("kiln"))


def _late_look(bench: Bench) -> list[CheckStep]:
    """A look for carbon shortly before the melt, and what else to do: the peak again, and all that comes after it."""
    if _early(bench) is not None:
        return []
    segments, programme = bench.programme.segments, bench.programme
    top = max(range(len(segments)), key=lambda i: segments[i].target_c)
    after = segments[top + 1 :]
    again = f"Else hold it there {AGAIN_MIN} min more, and pour as much later."
    if after:
        climb_min = min_from_h(abs(programme.peak_c - segments[-1].target_c) / abs(segments[top].ramp_c_per_h))
        longer_min = segments[-1].hold_min - bench.soak_min
        later_min = climb_min + AGAIN_MIN + sum(s.ramp_min + s.hold_min for s in after) - longer_min
        later = f"the pour is then {hours(later_min)} later"
        again = f"Else {mains.by_hand(programme.peak_c)} {AGAIN_MIN} min, look again, and down again by hand: {later}."
    now = mains.by_hand(segments[-1].target_c)
    return [_looked(f"Look for carbon: {LOOK}, {now}: see it heat. {again}")]


def _looked(text: str, **more: Any) -> CheckStep:
    return step(
        text,
        plan="white",
        caution="Never lean into an open kiln, never a bare hand in it, no tongs in it while its elements are live. "
        f"{mains.LOST}: it is not left to its programme.",
        prevents="gas pits from carbon left in the mould",
        **more,
    )


def _between(low_c: float, high_c: float, *, own: bool) -> str:
    """The band of a temperature; the user's own figure stands beside the published one."""
    band = f"{{t:{low_c:.0f}}} to {{t:{high_c:.0f}}}" if round(low_c) < round(high_c) else f"{{t:{low_c:.0f}}}"
    return f"your own figure; published {band}" if own else band


def pour(bench: Bench) -> list[CheckStep]:
    """Melt, the last gate, flask out, pour."""
    heat, way = bench.temperatures, bench.studio.casting.way
    clean = bench.alloy.flux == "none"
    signs = "" if bench.studio.melting.thermometer else f" Without a thermometer: {quantified(heat.signs)}"
    return [
        phase("Melt and pour", bench.starts("melt")),
        step(
            ("Melt it clean, nothing on it, nothing in it." if clean else "Melt under flux, stir once.")
            + f" Metal: {_between(heat.metal_low_c, heat.metal_high_c, own=heat.metal_from == 'user')}.{signs}",
            quantity="temperature_c",
            value=heat.metal_c,
            prevents="gas pits if hotter, misruns if colder",
        ),
        gate(
            "Before the flask leaves the kiln",
            f"flask has been at its temperature for {bench.soak_min} min or more",
            "shield, gloves, apron, shoes on; way to its place clear, others told",
            mains.OFF,
            f"for flasks that stay: {mains.on_again(heat.flask_c if bench.stay else None)}; "
            f"{mains.LOST[0].lower()}{mains.LOST[1:]}",
            "dry sand for a spill at hand, NO water near",
            {
                "vacuum": "vacuum holds",
                "centrifuge": "arm balanced, wound and pinned; dead weight out of the cradle",
                "gravity": "the flask's place is level and clear",
            }[way],
        ),
        step(
            f"Flask: {_between(heat.flask_low_c, heat.flask_high_c, own=heat.flask_from == 'user')}.",
            quantity="temperature_c",
            value=heat.flask_c,
            prevents="rough skin if hotter, misruns if colder",
        ),
        step(
            "Flask from the kiln into the cradle: lying, its mouth to the crucible, the crucible close up to it."
            if way == "centrifuge"
            else "Flask from the kiln to its place, button end UP.",
            plan=f"within {bench.pour.transfer_s} s",
            caution="Hot steel: long tongs, two hands, nobody in the way.",
            prevents="a skin that freezes early",
        ),
        *{"vacuum": _by_vacuum, "centrifuge": _by_centrifuge, "gravity": _by_gravity}[way](bench),
    ]


def _others(bench: Bench) -> list[CheckStep]:
    """The kiln goes on for the flasks that are still in it."""
    if not bench.stay:
        return []
    runs = f"run{'s' if len(bench.stay) > 1 else ''} {', '.join(map(str, bench.stay))}"
    said = mains.on_again(bench.temperatures.flask_c)
    return [
        step(
            f"For {runs}: {said}.",
            caution=f"{mains.LOST}: it is not left to its programme.",
            prevents="flasks that cool unseen",
        )
    ]


def _by_vacuum(bench: Bench) -> list[CheckStep]:
    return [
        _poured(bench, f"Vacuum on, seal found; pour in one go{_slag(bench)}, until the dome is full."),
        *_others(bench),
        step(
            "Keep the vacuum on until the button is solid: dull, and it does not tremble.",
            plan=roughly(bench.pour.button_solid_low_s, bench.pour.button_solid_high_s),
            prevents="shrinkage pits",
        ),
    ]


def _by_centrifuge(bench: Bench) -> list[CheckStep]:
    return [
        _poured(
            bench,
            "A last look: one bright pool, slag drawn back. Flame away, guard shut, stand clear, release.",
            "Nobody in the plane of the arm: what flies, flies there.",
        ),
        step(
            "Let the arm run out by itself; the guard stays shut until it stands.",
            prevents="a struck hand, a button still liquid thrown out",
            fill=False,
        ),
        *_others(bench),
    ]


def _by_gravity(bench: Bench) -> list[CheckStep]:
    return [_poured(bench, f"Pour in one go, from close above{_slag(bench)}, until the dome is full."), *_others(bench)]


def _slag(bench: Bench) -> str:
    return "" if bench.alloy.flux == "none" else ", slag held back"


def _poured(bench: Bench, text: str, *ours: str) -> CheckStep:
    return step(text, quantity="clock", at=bench.starts("pour"), caution=bench.warned("pour", *ours), prevents="cold shuts")


def quench(bench: Bench) -> list[CheckStep]:
    """Cool or quench, knock out, pickle, weigh, cut."""
    tree, charge = bench.tree, bench.charge
    cast_g = tree.metal_g if tree else charge.total_g - charge.melt_loss_g
    return [
        *(_wet(bench) if bench.quench.way == "water" else _in_air(bench)),
        _pickle(bench),
        step("Weigh the whole casting.", quantity="metal_g", value=cast_g, prevents="losing metal without knowing it"),
        step(
            "Cut off, weigh the pieces together, and keep clean sprues, stem and button as returns.",
            **({"quantity": "metal_g", "value": tree.pieces_g} if tree else {}),
            caution=bench.warned("finish"),
            prevents="returns mixed with scrap",
        ),
    ]


def _wet(bench: Bench) -> list[CheckStep]:
    quench = bench.quench
    about = quantified(quench.about)
    sign = about if "red" in about.split() else f"Its sign: {quench.sign}. {about}"
    band = f" ({quench.low_min} to {quench.high_min})" if quench.low_min < quench.high_min else ""
    return [
        phase("Quench and knock-out", bench.starts("stand")),
        step(
            f"Stand the flask. {sign}",
            plan=f"{quench.wait_min} min{band}",
            caution=bench.warned("quench"),
            prevents="cracks if too soon" + (", brittle if too late" if bench.alloy.quench.latest_c else ""),
        ),
        step(
            "Lower it into a deep bucket with long tongs, at arm's length; let it boil out.",
            caution="Steam and hot slurry burst upward: shield down, never lean over. A button still red bursts harder: wait.",
            fill=False,
        ),
        _knock_out("Knock out and wash under water."),
    ]


def _in_air(bench: Bench) -> list[CheckStep]:
    quench = bench.quench
    freed = (
        "Free the casting as the maker of the investment says, kept wet."
        if bench.investment.binder == "phosphate"
        else "Knock out and wash under lukewarm water."
    )
    moved = step(
        "Leave the flask where it is; move it, with tongs, no sooner than this.",
        plan=f"moved after {waits(quench.low_min, quench.high_min)}",
        caution=bench.warned("quench"),
        prevents="metal that is still soft inside",
    )
    return [
        phase("Cool and knock out", bench.starts("stand")),
        *([moved] if quench.wait_min < quench.cool_min else []),
        step(
            "Do NOT quench: let it cool in air until a hand can bear it.",
            plan=f"opened after {waits(quench.cool_low_min, quench.cool_high_min)}",
            caution=quantified(quench.about),
            prevents="cracks",
        ),
        _knock_out(freed),
    ]


def _knock_out(text: str) -> CheckStep:
    return step(text, caution="Spent investment is silica: keep it wet, respirator on, not down the sink.")


def _pickle(bench: Bench) -> CheckStep:
    """Pickling; metals without copper oxide need none: common practice, no source."""
    if bench.alloy.flux == "none":
        return step(
            "Nothing to pickle: brush, rinse, dry.",
            caution=bench.warned(
                "pickle",
                "What clings to it goes in a closed blasting cabinet with extraction; never hydrofluoric acid in a small studio.",
            ),
            prevents="investment in the next melt",
        )
    stones = bench.programme.stones
    return step(
        "Pickle lukewarm, never from the heat, and only stones that stand acid; others are only washed. Rinse, neutralise, dry."
        if stones
        else "Pickle warm, rinse, neutralise, dry.",
        caution=bench.warned("pickle", "Acid into water, never water into acid; goggles and gloves; no steel tongs in the pickle."),
        prevents="copper-plated castings" + (", cracked stones" if stones else ""),
    )
