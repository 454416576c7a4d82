"""What `pourwell freeze` and `pourwell plan` print of how a tree freezes."""

from typing import TYPE_CHECKING

from pourwell.cli.show import console, print_rows

if TYPE_CHECKING:
    from pourwell.steps.freeze.model import Freezing


def print_freezing(freezing: "Freezing") -> None:
    """The verdict, each sprue against its piece, the button, the glow, and what was tried."""
    from rich.markup import escape

    from pourwell.findings import spelt_out
    from pourwell.steps.freeze.words import QUENCH_SIGN, about, ball_mm, fed_words, latest, outward, verdict_words

    out = console()
    out.print(f"[bold]{verdict_words(freezing)}[/]")
    print_rows([(f"sprue {c.place} feeds until", about(c.sprue), fed_words(c)) for c in freezing.clocks])
    print_rows(
        [
            ("button solid", outward(freezing.button), f"vacuum is held {latest(freezing.button)} at least"),
            ("red inside until", outward(freezing.dark), f"no quench before the run sheet's time. {QUENCH_SIGN}"),
            (
                "flask outside",
                f"{freezing.outside_c:.0f} °C",
                f"when all is solid; up to {freezing.outside_high_c:.0f}, yet black",
            ),
        ]
    )
    for change in freezing.changes:
        after, before = ball_mm(change.after_mm3), ball_mm(change.before_mm3)
        gave = "stays fed" if change.helps else f"misses a ball of {after:.1f} mm, was {before:.1f}"
        out.print(f"Tried: {escape(spelt_out(change.does))} [bold]{gave}[/]")
    out.print(f"[dim]{_curve(freezing)}[/]")
    missing = f"heat missing {100 * freezing.ledger_fraction:.0e} percent"
    grid = f"cells of {freezing.edge_mm:.2f} mm, {freezing.cells_count} of them, {missing}"
    out.print(f"[dim]{'Fine' if freezing.fine else 'Draft'}: {grid}. Not modelled: {'; '.join(freezing.not_modelled)}.[/]")


def _curve(freezing: "Freezing") -> str:
    """Where the freezing curve comes from."""
    wide = f"{freezing.solidus_c:.0f} to {freezing.liquidus_c:.0f} °C"
    if freezing.curve == "computed":
        return f"Freezing curve computed for the recipe (Scheil): {wide}, either end within {freezing.curve_band_k:.0f} K."
    return f"Freezing range of {freezing.curve_source}: {wide}, straight between."
