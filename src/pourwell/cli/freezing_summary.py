"""What `pourwell freeze` and `pourwell plan` print of how a tree freezes."""

from typing import TYPE_CHECKING

from pourwell.cli.show import console, print_rows

if TYPE_CHECKING:
    from pourwell.steps.freeze.model import Freezing


def print_freezing(freezing: "Freezing") -> None:
    """The verdict, each sprue against its piece, the button, the glow, and what was tried."""
    from rich.markup import escape

    from pourwell.findings import spelt_out
    from pourwell.steps.freeze.words import about, banded, fed_words, verdict_words

    out = console()
    out.print(f"[bold]{verdict_words(freezing)}[/]")
    print_rows([(f"sprue {c.place}", about(c.sprue), fed_words(c)) for c in freezing.clocks])
    print_rows(
        [
            ("button solid", about(freezing.button), f"{banded(freezing.button)}; hold the vacuum until then"),
            ("no red in the shade", about(freezing.dark), f"{banded(freezing.dark)}; the sign at the button decides"),
            ("flask outside", f"{freezing.outside_c:.0f} °C", f"when the metal is solid; up to {freezing.outside_high_c:.0f}"),
        ]
    )
    for change in freezing.changes:
        gave = "stays fed" if change.helps else f"{change.after_mm3:.1f} mm3 missed, was {change.before_mm3:.1f}"
        out.print(f"Tried: {escape(spelt_out(change.does))} [bold]{gave}[/]")
    missing = f"heat missing {100 * freezing.ledger_fraction:.0e} percent"
    grid = f"cells of {freezing.edge_mm:.2f} mm, {freezing.cells_count} of them, {missing}"
    out.print(f"[dim]{'Fine' if freezing.fine else 'Draft'}: {grid}. Not modelled: {'; '.join(freezing.not_modelled)}.[/]")
