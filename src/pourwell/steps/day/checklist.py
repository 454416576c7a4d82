"""The check list with its gates, in the order of the bench: each step with its number, its caution, and the mistake it prevents.

The cautions are the usual ones of the trade; local codes, material safety sheets and licensed practice take precedence over them.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from pourwell.materials.model import Alloy, Investment, PatternMaterial
from pourwell.materials.studio import Studio
from pourwell.steps.burnout.model import Programme
from pourwell.steps.day.model import CheckStep, Entry
from pourwell.steps.flask.model import Flask, Mix
from pourwell.steps.melt.model import Charge, Temperatures
from pourwell.steps.pattern.model import Piece
from pourwell.steps.pour.model import Pour, Quench
from pourwell.steps.tree.model import Tree, WeighedTree

SILICA = "Silica dust scars lungs: fitted P100 or P3 respirator, extraction on. Wet-wipe, never sweep."
FUME = "Burnout smoke is poisonous: kiln vented outdoors, nobody sleeps near it."
MOLTEN = (
    "Face shield, leather gloves and apron, closed shoes, no synthetics. "
    "Anything damp throws metal: tools, ingots, crucible hot and dry."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """Everything of a plan that the check list speaks of."""

    pieces: tuple[Piece, ...]
    tree: Tree | None
    weighed: WeighedTree | None
    alloy: Alloy
    investment: Investment
    pattern_material: PatternMaterial
    flask: Flask
    mix: Mix
    charge: Charge
    temperatures: Temperatures
    programme: Programme
    pour: Pour
    quench: Quench
    entries: tuple[Entry, ...]
    studio: Studio

    def starts(self, key: str) -> datetime:
        """When a line of the day begins."""
        return next(e.starts_at for e in self.entries if e.key == key)


def step(text: str, **more: Any) -> CheckStep:
    """One step."""
    return CheckStep(kind="step", text=text, **more)


def phase(text: str, at: datetime) -> CheckStep:
    """The head of a phase, with its clock time."""
    return CheckStep(kind="phase", text=text, starts_at=at, fill=False)


def gate(text: str, *checks: str) -> CheckStep:
    """A gate: go on only when all is ticked."""
    return CheckStep(kind="gate", text=text, checks=tuple(c for c in checks if c), fill=False)


def checklist(bench: Bench) -> tuple[CheckStep, ...]:
    """The whole list, day by day."""
    mould = "Tree and mould" if bench.weighed else "Patterns, tree and mould"
    return (
        CheckStep(kind="day", text=mould, fill=False),
        *(_patterns(bench) if bench.pieces else ()),
        *_tree(bench),
        *_investing(bench),
        *_kiln(bench),
        CheckStep(kind="day", text="Melt, pour, quench", fill=False),
        *_set_out(bench),
        *_pour(bench),
        *_quench(bench),
    )


def _patterns(bench: Bench) -> list[CheckStep]:
    weight = sum(p.pattern_g * p.count for p in bench.pieces)
    low = sum(p.pattern_low_g * p.count for p in bench.pieces)
    high = sum(p.pattern_high_g * p.count for p in bench.pieces)
    ready = [step(w.text, caution=c) for w, c in zip(bench.pattern_material.preparation, _spread(bench), strict=True)]
    return [
        phase("Patterns", bench.starts("patterns")),
        step(
            "Look at every pattern under the lamp: clean, no support stubs, no lifted layers, bore and settings open.",
            prevents="a flaw cast in metal",
        ),
        *ready,
        step(
            f"Weigh all patterns together. Outside {{g:{low:.2f}}} to {{g:{high:.2f}}}, the print is not what the file says.",
            quantity="metal_g",
            value=round(weight, 2),
            prevents="a charge too small",
        ),
    ]


def _spread(bench: Bench) -> list[str]:
    """The material's cautions over its steps: two at the first, what is left at the last."""
    told = [w.text for w in bench.pattern_material.cautions]
    out = [""] * len(bench.pattern_material.preparation)
    if out:
        out[0] = " ".join(told[:2])
        out[-1] = " ".join([*([out[-1]] if out[-1] else []), *told[2:]])
    return out


def _tree(bench: Bench) -> list[CheckStep]:
    tree, flask = bench.tree, bench.flask
    if tree is None:
        assert bench.weighed is not None
        return [
            phase("Tree", bench.starts("wrap")),
            step(
                "Weigh the tree once more, with its base, and take the base off the figure.",
                quantity="metal_g",
                value=round(bench.weighed.pattern_g, 2),
                prevents="a charge too small",
            ),
            step(
                f"Try the room with a rod: {{l:{flask.cover_mm:g}}} from the tip to the rim, {{l:6}} from every piece to the wall, "
                "no piece touching another.",
                plan=f"{{l:{flask.cover_mm:g}}}; {{l:6}}",
                prevents="metal through the bottom, pieces joined",
            ),
        ]
    limits = tree.clearances
    return [
        phase("Tree", bench.starts("tree")),
        step(
            "Set stem and sprues as on the card, page {page:tree}. Joints filled and rounded, none necked.",
            prevents="sand in the metal, a starved piece",
        ),
        step(
            f"Try the room with a rod: {{l:{limits.wall_limit_mm:g}}} to the wall, "
            f"{{l:{limits.tip_limit_mm:g}}} from the tip to the rim.",
            plan=f"{{l:{limits.wall_limit_mm:g}}}; {{l:{limits.tip_limit_mm:g}}}",
            prevents="metal through the bottom or the wall",
        ),
        step(
            "Weigh the tree with its base, and take the base off the figure.",
            quantity="metal_g",
            value=round(tree.pattern_g, 2),
            prevents="a charge too small",
        ),
    ]


def _investing(bench: Bench) -> list[CheckStep]:
    mix, flask = bench.mix, bench.flask
    wrap = (
        f"Wrap the perforated flask and raise a collar of {{l:{mix.collar_mm:g}}}."
        if flask.perforated
        else (f"Seat the flask on its base and raise a collar of {{l:{mix.collar_mm:g}}}.")
    )
    boil = f"pump pulls the empty bowl past {{p:{mix.boil_kpa:.1f}}} (water boils)" if mix.vacuum else ""
    clock = [
        step(c.says, plan=_span(c.at_s, c.until_s), prevents="" if c.key != "finish" else "water marks, bubbles") for c in mix.clock
    ]
    return [
        phase("Investing", bench.starts("wrap")),
        step(wrap, plan=f"{{l:{mix.collar_mm:g}}}" if mix.vacuum else "", prevents="slurry on the floor when it rises"),
        step("Respirator on, extraction on, before the bag is opened.", caution=SILICA, fill=False),
        step("Weigh the powder, dry, into a dry bowl.", quantity="bulk_g", value=mix.powder_g, prevents="a weak or a thick mould"),
        step(
            f"Weigh the water, {{t:{mix.water_low_c:g}}} to {{t:{mix.water_high_c:g}}}, into the mixing bowl "
            f"({mix.bowl_cm3 / 1000:.1f} l or more).",
            quantity="bulk_g",
            value=mix.water_g,
            prevents="a slurry that sets too soon or too late",
        ),
        gate(
            "Before powder meets water",
            "tree firm in its base, nothing touches",
            "base seals, collar on",
            "powder and water both weighed and written down",
            boil,
            "bowl, spatula, stop-clock within reach",
        ),
        *clock,
        step(
            f"Leave it: not moved, not touched, for {mix.still_min:.0f} min.",
            plan=f"{mix.set_h:g} h in all",
            prevents="cracks, fins on the castings",
        ),
    ]


def _span(start_s: int, end_s: int) -> str:
    def show(seconds: int) -> str:
        return f"{seconds // 60}:{seconds % 60:02d}"

    return show(start_s) if end_s <= start_s else f"{show(start_s)} to {show(end_s)}"


def _kiln(bench: Bench) -> list[CheckStep]:
    mix = bench.mix
    mark = f', mark it "{bench.flask.mark}"' if bench.flask.mark else " and mark the flask"
    return [
        phase("Into the kiln", bench.starts("strip")),
        step(
            f"Wrap and collar off, rubber base off, rim scraped flush{mark}.",
            caution="Dry crumbs are silica: respirator on, scrape wet.",
            prevents="rubber burning in the kiln, a flask that rocks",
        ),
        step(
            f"Do not let it stand longer than {mix.stand_max_h:g} h: if it must, wrap it in a damp cloth and a bag.",
            plan=f"{mix.set_h:g} to {mix.stand_max_h:g} h",
            prevents="a dried-out mould that cracks",
        ),
        gate(
            "Before the kiln",
            "rubber base is OFF",
            "button end (the open hole) DOWN, on a raised rack, air all round",
            "hole open, no loose crumbs",
            "kiln vent open, extraction outdoors",
            "programme read back, figure by figure, from page {page:kiln}",
        ),
        step(
            "Start the programme." if not bench.programme.by_hand else "Kiln on, and follow the set-points by the clock.",
            quantity="clock",
            at=bench.starts("kiln"),
            caution=FUME,
            prevents="a cold flask at the pour",
        ),
    ]


def _charge_step(charge: Charge) -> CheckStep:
    split = "all fresh metal"
    if charge.returns_g:
        split = f"fresh {{g:{charge.fresh_g:.1f}}} and clean returns {{g:{charge.returns_g:.1f}}}"
    if charge.master_g:
        split += f" (fine {charge.fine} {{g:{charge.fine_g:.2f}}}, master alloy {{g:{charge.master_g:.2f}}})"
    return step(f"Weigh the charge: {split}.", quantity="metal_g", value=charge.total_g, prevents="a short pour, brittle metal")


def _set_out(bench: Bench) -> list[CheckStep]:
    way = bench.studio.casting.way
    pull = (
        f"Vacuum at the casting table with a blank on the pad: {{p:{bench.pour.vacuum_kpa:g}}} or more."
        if bench.pour.vacuum_kpa
        else ""
    )
    place = {"vacuum": pull, "centrifuge": "Balance the arm with flask and crucible, wind it, lock it.", "gravity": ""}[way]
    cautions = " ".join(w.text for w in bench.alloy.cautions)
    return [
        phase("Setting out", bench.starts("setout")),
        _charge_step(bench.charge),
        *([step(place, plan=pull and f"{{p:{bench.pour.vacuum_kpa:g}}}", prevents="pieces that do not fill")] if place else []),
        step(
            "Heat the crucible empty, with its flux glaze; warm stirring rod and tongs.",
            caution=f"{MOLTEN} {cautions}".strip(),
            fill=False,
        ),
        step(
            "Look into the hole of the flask by torchlight before it leaves: white, not grey, not black.",
            plan="white",
            prevents="gas pits from carbon left in the mould",
        ),
        gate(
            "Before the flask leaves the kiln",
            "flask has been at its temperature for an hour or more",
            "shield, gloves, apron, shoes on; way to the table clear, others told",
            "dry sand for a spill at hand, NO water near",
            "vacuum holds" if way == "vacuum" else "arm balanced, guard closed" if way == "centrifuge" else "",
        ),
    ]


def _pour(bench: Bench) -> list[CheckStep]:
    heat, pour = bench.temperatures, bench.pour
    torch = not bench.studio.melting.thermometer
    out = [
        phase("Melt and pour", bench.starts("melt")),
        step(
            f"Melt under flux, stir once. Metal between {{t:{heat.metal_low_c:.0f}}} and {{t:{heat.metal_high_c:.0f}}}"
            + (f". Without a thermometer: {heat.signs}" if torch else "."),
            quantity="temperature_c",
            value=heat.metal_c,
            prevents="gas pits if hotter, misruns if colder",
        ),
        step(
            f"Flask between {{t:{heat.flask_low_c:.0f}}} and {{t:{heat.flask_high_c:.0f}}}.",
            quantity="temperature_c",
            value=heat.flask_c,
            prevents="rough skin if hotter, misruns if colder",
        ),
        step(
            "Flask from the kiln to its place, button end UP.",
            plan=f"within {pour.transfer_s} s",
            caution="Hot steel: long tongs, two hands, nobody in the way.",
            prevents="a skin that freezes early",
        ),
        step(
            {"vacuum": "Vacuum on, seal found; pour", "centrifuge": "Guard shut; release", "gravity": "Pour"}[
                bench.studio.casting.way
            ]
            + ", in one go, slag held back, until the dome is full.",
            quantity="clock",
            at=bench.starts("pour"),
            prevents="cold shuts",
        ),
    ]
    if pour.vacuum_kpa:
        low, high = pour.button_solid_low_s, pour.button_solid_high_s
        out.append(
            step(
                "Keep the vacuum on until the button is solid: dull, and it does not tremble.",
                plan=f"{_span(low, high)} min" if high > low else f"{low} s",
                prevents="shrinkage pits",
            )
        )
    return out


def _quench(bench: Bench) -> list[CheckStep]:
    quench, tree, charge = bench.quench, bench.tree, bench.charge
    wet = quench.way == "water"
    span = f"{quench.wait_min} min ({quench.low_min} to {quench.high_min})"
    body = (
        step(
            "Lower it into a deep bucket with long tongs, at arm's length; let it boil out.",
            caution="Steam and hot slurry burst upward: shield down, never lean over. A button still red bursts harder: wait.",
            fill=False,
        )
        if wet
        else step("Do NOT quench: let it cool in air until a hand can bear it.", caution=quench.about)
    )
    cast_g = tree.metal_g if tree else charge.total_g - charge.melt_loss_g
    return [
        phase("Quench and knock-out" if wet else "Cool and knock out", bench.starts("stand")),
        step(
            f"Stand the flask. Sign: {quench.sign}. " + (quench.about if wet else ""),
            plan=span,
            prevents="cracks if too soon" + (", brittle if too late" if bench.alloy.quench.latest_c else ""),
        ),
        body,
        step(
            "Knock out and wash under water.", caution="Spent investment is silica: keep it wet, respirator on, not down the sink."
        ),
        step(
            "Pickle warm, rinse, neutralise, dry.",
            caution="Acid into water, never water into acid; goggles and gloves; no steel tongs in the pickle.",
            prevents="copper-plated castings",
        ),
        step("Weigh the whole casting.", quantity="metal_g", value=round(cast_g, 1), prevents="losing metal without knowing it"),
        step(
            "Cut off, weigh the pieces together, and keep clean sprues, stem and button as returns.",
            **({"quantity": "metal_g", "value": round(tree.pieces_g, 1)} if tree else {}),
            prevents="returns mixed with scrap",
        ),
    ]
