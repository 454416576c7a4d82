"""An invented check list with every kind of line the sheet must set."""

from datetime import datetime

from pourwell.steps.day.model import CheckStep, Entry


def phase(text: str, at: datetime) -> CheckStep:
    return CheckStep(kind="phase", text=text, starts_at=at, fill=False)


def gate(text: str, *checks: str) -> CheckStep:
    return CheckStep(kind="gate", text=text, checks=checks, fill=False)


def step(text: str, **more: object) -> CheckStep:
    return CheckStep(kind="step", text=text, **more)  # type: ignore[arg-type]


Hours = dict[str, datetime]
"""When each line of the day begins, by its key."""


def bench_lines(
    entries: tuple[Entry, ...], *, pattern_g: float, tree_g: float, charge_g: float, shapes: bool
) -> tuple[CheckStep, ...]:
    """Both days; without shapes the patterns are left out."""
    at = {e.key: e.starts_at for e in entries}
    return *_first_day(at, pattern_g, shapes=shapes), *_second_day(at, tree_g=tree_g, charge_g=charge_g)


def _patterns(at: Hours) -> tuple[CheckStep, ...]:
    return (
        phase("Patterns", at["patterns"]),
        step("Look at every pattern under the lamp: clean, no stubs, no lifted layers.", prevents="a flaw cast in metal"),
        step(
            "Cure fully, turning once. Not tacky anywhere.", plan="45 min", caution="Uncured resin sensitises skin: nitrile gloves."
        ),
        step("Set stem and sprues as on the card, page {page:tree}.", prevents="a starved piece"),
        step(
            "Try the room with a rod: {l:6} to the wall, {l:13} over the tip.",
            plan="{l:6}; {l:13}",
            prevents="metal through the mould",
        ),
    )


def _first_day(at: Hours, pattern_g: float, *, shapes: bool) -> tuple[CheckStep, ...]:
    return (
        CheckStep(kind="day", text="Patterns, tree and mould", fill=False),
        *(_patterns(at) if shapes else ()),
        phase("Tree", at["wrap"]),
        step("Weigh the tree with its base, and take the base off the figure.", quantity="metal_g", value=pattern_g),
        phase("Investing", at["wrap"]),
        step(
            "Respirator on, extraction on, before the bag is opened.",
            caution="Silica dust scars lungs: fitted P100 or P3 respirator.",
            fill=False,
        ),
        step("Weigh the powder, dry, into a dry bowl.", quantity="bulk_g", value=590.0, prevents="a weak or a thick mould"),
        step("Weigh the water, {t:21} to {t:24}, into the mixing bowl.", quantity="bulk_g", value=230.0),
        gate(
            "Before powder meets water",
            "tree firm in its base, nothing touches",
            "base seals, collar on",
            "pump pulls the empty bowl past {p:98}",
            "bowl, spatula, stop-clock within reach",
        ),
        step("Powder onto the water. Start the clock at the first powder.", plan="0:00"),
        step("Wet in, then mix without drawing air.", plan="0:30 to 3:00"),
        step("Vacuum the bowl until it falls, then 30 s more.", plan="3:00 to 5:30", prevents="bubbles on the pieces"),
        step("Pour down the wall, not onto the tree.", plan="5:30 to 6:30"),
        step("Vacuum the flask; tap for the last 30 s.", plan="6:30 to 8:00"),
        step("Leave it: not moved, not touched, for 60 min.", plan="2 h in all", prevents="cracks, fins on the castings"),
        phase("Into the kiln", at["strip"]),
        step(
            "Wrap and collar off, rubber base off, rim scraped flush.", caution="Dry crumbs are silica: respirator on, scrape wet."
        ),
        gate(
            "Before the kiln",
            "rubber base is OFF",
            "button end (the open hole) DOWN, on a raised rack",
            "kiln vent open, extraction outdoors",
            "programme read back, figure by figure, from page {page:kiln}",
        ),
        step("Start the programme.", quantity="clock", at=at["kiln"], caution="Burnout smoke is poisonous: kiln vented outdoors."),
    )


def _second_day(at: Hours, *, tree_g: float, charge_g: float) -> tuple[CheckStep, ...]:
    return (
        CheckStep(kind="day", text="Melt, pour, quench", fill=False),
        phase("Setting out", at["setout"]),
        step("Weigh the charge: fresh, then clean returns.", quantity="metal_g", value=charge_g, prevents="a short pour"),
        step("Vacuum at the casting table with a blank on the pad.", plan="{p:88}"),
        step("Heat the crucible empty; warm the stirring rod.", caution="Damp throws metal: every tool hot and dry.", fill=False),
        gate(
            "Before the flask leaves the kiln",
            "an hour or more at its temperature",
            "shield, gloves, apron, shoes on",
            "way clear, others told",
            "vacuum holds",
        ),
        phase("Melt and pour", at["melt"]),
        step("Melt under flux, stir once. Metal between {t:960} and {t:985}.", quantity="temperature_c", value=970.0),
        step(
            "Flask between {t:480} and {t:520}.",
            quantity="temperature_c",
            value=500.0,
            prevents="rough skin if hotter, misruns if colder",
        ),
        step("Flask from the kiln to its place, button end UP.", plan="within 20 s", caution="Hot steel: long tongs, two hands."),
        step(
            "Vacuum on, seal found; pour, in one go, until the dome is full.",
            quantity="clock",
            at=at["pour"],
            prevents="cold shuts",
        ),
        step("Keep the vacuum on until the button is solid: dull, and it does not tremble.", plan="1:10 to 2:30 min"),
        phase("Quench and knock-out", at["stand"]),
        step("Stand the flask until no red shows on the button in shade.", plan="12 min (10 to 15)", prevents="cracks if too soon"),
        step(
            "Lower it into a deep bucket with long tongs.", caution="Steam bursts upward: shield down, never lean over.", fill=False
        ),
        step("Knock out and wash under water.", caution="Spent investment is silica: keep it wet, respirator on."),
        step("Weigh the whole casting.", quantity="metal_g", value=tree_g, prevents="losing metal without knowing it"),
        step("Cut off, weigh the pieces together, keep clean sprues, stem and button as returns. Results: page {page:results}."),
    )
