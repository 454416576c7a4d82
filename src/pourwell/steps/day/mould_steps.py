"""The check list from the patterns to the kiln: what is done to tree and mould."""

from datetime import timedelta
from typing import Final

from pourwell.steps.day.bench import Bench, clocked, gate, phase, step
from pourwell.steps.day.model import CheckStep
from pourwell.steps.day.night import BRIEFLY, fires_overnight
from pourwell.steps.flask.clock import WETTING

SILICA: Final = "Silica dust scars lungs: fitted P100 or P3 respirator, extraction on. Wet-wipe, never sweep."
FUME: Final = "Burnout smoke is poisonous: kiln vented outdoors, nobody sleeps near it."
UNTREATED: Final = "Filled, dyed or glued stones burn or burst: ask who sold them."


def patterns(bench: Bench) -> list[CheckStep]:
    """Look over, prepare and weigh; none when only the tree's weight is known."""
    if not bench.pieces:
        return []
    low_g = sum(p.pattern_low_g * p.count for p in bench.pieces)
    high_g = sum(p.pattern_high_g * p.count for p in bench.pieces)
    ready = [step(w.text, caution=c) for w, c in zip(bench.pattern_material.preparation, _spread(bench), strict=True)]
    return [
        phase("Patterns", bench.starts("patterns")),
        step(
            "Look at every pattern under the lamp: clean, no support stubs, no lifted layers, bore and settings open.",
            prevents="a flaw cast in metal",
        ),
        *ready,
        step(
            "Weigh all patterns together. Outside this, the print is not what the file says.",
            plan=f"{{g:{low_g:.2f}}} to {{g:{high_g:.2f}}}",
            prevents="a charge too small",
        ),
    ]


def _spread(bench: Bench) -> list[str]:
    """The material's cautions over its steps: two at the first, what is left at the last."""
    told = [c.text for c in bench.pattern_material.cautions if c.when is None]
    out = [""] * len(bench.pattern_material.preparation)
    if out:
        out[0] = " ".join(told[:2])
        out[-1] = " ".join([*([out[-1]] if out[-1] else []), *told[2:]])
    return out


def tree(bench: Bench) -> list[CheckStep]:
    """Build it, or try the one that stands on the scale."""
    return [*(_grown(bench) if bench.tree else _weighed(bench)), *_stones(bench)]


def _weighed(bench: Bench) -> list[CheckStep]:
    assert bench.weighed is not None
    cover_mm = bench.flask.cover_mm
    return [
        phase("Tree", bench.starts("wrap")),
        step(
            "Weigh the tree once more, with its base, and take the base off the figure.",
            quantity="metal_g",
            value=bench.weighed.pattern_g,
            prevents="a charge too small",
        ),
        step(
            f"Try the room with a rod: {{l:{cover_mm:g}}} from the tip to the rim, {{l:6}} from every piece to the wall, "
            "no piece touching another.",
            plan=f"{{l:{cover_mm:g}}}; {{l:6}}",
            prevents="metal through the bottom, pieces joined",
        ),
    ]


def _grown(bench: Bench) -> list[CheckStep]:
    assert bench.tree is not None
    limits = bench.tree.clearances
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
            value=bench.tree.pattern_g,
            prevents="a charge too small",
        ),
    ]


def _stones(bench: Bench) -> list[CheckStep]:
    """Which stones stand the kiln: common practice, no source."""
    if not bench.programme.stones:
        return []
    return [
        step(
            f"Only stones that stand hours at {{t:{bench.programme.peak_c:g}}} stay in: diamond, ruby and sapphire as a rule. "
            "Never opal, pearl, amber, turquoise, emerald; amethyst and citrine lose their colour.",
            caution=UNTREATED,
            prevents="a stone lost in the kiln",
            fill=False,
        )
    ]


def investing(bench: Bench) -> list[CheckStep]:
    """Seat, weigh, mix, pour the slurry, clean up."""
    mix, flask = bench.mix, bench.flask
    seat = "Wrap the perforated flask" if flask.perforated else "Seat the flask on its base, tight all round"
    collar = f" and raise a collar of {{l:{mix.collar_mm:g}}}" if mix.collar_mm else ""
    boil = f"pump pulls the empty bowl past {{p:{mix.boil_kpa:.1f}}} (water boils)" if mix.vacuum else ""
    wetting = (
        [step(WETTING, plan=f"{mix.wetting_min:g} min", prevents="beads of metal where bubbles cling")] if mix.wetting_min else []
    )
    clock = [
        step(c.says, plan=clocked(c.at_s, c.until_s), prevents="" if c.key != "finish" else "water marks, bubbles")
        for c in mix.clock
    ]
    unsure = f": {bench.doubt}" if bench.doubt else ""
    return [
        phase("Investing", bench.starts("wrap")),
        *wetting,
        step(f"{seat}{collar}.", plan=f"{{l:{mix.collar_mm:g}}}" if mix.collar_mm else "", prevents="slurry on the floor"),
        step("Respirator on, extraction on, before the bag is opened.", caution=bench.warned("mix", SILICA), fill=False),
        step(
            f"Weigh the powder, dry, into a dry bowl{unsure}.",
            quantity="bulk_g",
            value=None if unsure else mix.powder_g,
            prevents="a weak or a thick mould",
        ),
        step(
            f"Weigh the water, {{t:{mix.water_low_c:g}}} to {{t:{mix.water_high_c:g}}}, into the mixing bowl "
            f"({mix.bowl_cm3 / 1000:.1f} l or more){unsure}.",
            quantity="bulk_g",
            value=None if unsure else mix.water_g,
            prevents="a slurry that sets too soon or too late",
        ),
        gate(
            "Before powder meets water",
            "tree firm in its base, nothing touches",
            "base seals, collar on" if mix.collar_mm else "base seals",
            "powder and water both weighed and written down",
            boil,
            "bowl, spatula, stop-clock within reach",
        ),
        *clock,
        step(
            "Clean up before it sets: wash bowl and tools in a bucket, let the slurry settle there, the cake goes into the bin. "
            "Wipe the bench wet.",
            caution="Never down the sink: it sets in the drain.",
            prevents="dust tomorrow",
            fill=False,
        ),
        step(
            f"Leave the flask: not moved, not touched, for {mix.still_min:.0f} min.",
            plan=f"{mix.set_h:g} h in all",
            prevents="cracks, fins on the castings",
        ),
        *_bag(bench),
    ]


def _bag(bench: Bench) -> list[CheckStep]:
    """A mould that is not to dry out while it stands so long."""
    mix, stands_h = bench.mix, (bench.starts("strip") - bench.starts("set")) / timedelta(hours=1)
    if stands_h <= mix.bag_after_h:
        return []
    still = f"It stands {stands_h:.1f} h"
    return [
        step(
            f"Then bag it damp: a damp cloth round it, a closed bag, away from draughts, until its base comes off. {still}.",
            plan=f"over {mix.bag_after_h:g} h",
            prevents="a dried-out mould that cracks",
        )
    ]


def kiln(bench: Bench) -> list[CheckStep]:
    """Strip, and into the kiln."""
    mix = bench.mix
    mark = f', mark it "{bench.flask.mark}"' if bench.flask.mark else " and mark the flask"
    off = " and ".join([*(["wrap"] if bench.flask.perforated else []), *(["collar"] if mix.collar_mm else [])])
    off = f"{off.capitalize()} off, rubber base off" if off else "Rubber base off"
    return [
        phase("Into the kiln", bench.starts("strip")),
        step(
            f"{off}, rim scraped flush{mark}.",
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
            caution=bench.warned("kiln", FUME, *_night(bench)),
            prevents="a cold flask at the pour",
        ),
    ]


def _night(bench: Bench) -> tuple[str, ...]:
    """The cautions of a kiln that fires while nobody is awake."""
    studio = bench.studio
    night = fires_overnight(bench.starts("kiln"), bench.starts("pour"), awake=studio.awake, zone=studio.zone)
    return (BRIEFLY,) if night else ()
