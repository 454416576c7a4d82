"""Which burnout programmes somebody published: those of the library as it is shipped, whatever a studio's own files call theirs.

A studio may change a shipped row, and an investment of its own may name a programme of its own. What such a programme does is no
measure of what a mould bears: it would be held against itself.
"""

from dataclasses import dataclass

from pourwell.materials.library import Library, shipped_rows
from pourwell.materials.model import Investment, Programme

SHELF = "programmes"


@dataclass(frozen=True, slots=True, kw_only=True)
class Published:
    """The published programmes for an investment."""

    wax: Programme
    resin: Programme | None
    """None: none is published for this grade."""

    def row(self, *, resin: bool, stones: bool, stone_programme: str) -> Programme:
        """That for a pattern of resin, or of wax; with stones in place the low one where it is too hot itself."""
        row = self.resin if resin and self.resin else self.wax
        stands_in: Programme = shipped_rows(SHELF)[stone_programme]
        return stands_in if stones and not row.stones else row


def is_published(row: Programme) -> bool:
    """Is its course, level by level, that of a shipped programme, by whatever name."""
    shipped = shipped_rows(SHELF)
    if row.id in shipped and shipped[row.id] is row:
        return True
    return any(_course(row) == _course(other) for other in shipped.values())


def _course(row: Programme) -> list[tuple[object, object, object]]:
    """Levels, ramps and holds, without words and sources."""
    return [(step.target_c, step.ramp_c_per_h.table, step.hold_min.table) for step in row.steps]


def published_for(investment: Investment, library: Library) -> Published:
    """The programmes that it names where they are published, else those of the shipped row that is nearest to it.

    That is the row with its id, else one with the same binder, as fit for stones as it is. Raises UnknownNameError for a
    programme that nothing has.
    """
    like = _like(investment)
    wax, resin = (library.programme(name) if name else None for name in (investment.programme_wax, investment.programme_resin))
    shipped = shipped_rows(SHELF)
    assert wax is not None
    if resin is not None and not is_published(resin):
        resin = shipped[like.programme_resin] if like.programme_resin else None
    return Published(wax=wax if is_published(wax) else shipped[like.programme_wax], resin=resin)


def _like(investment: Investment) -> Investment:
    """The shipped investment that is nearest."""
    shipped: dict[str, Investment] = dict(shipped_rows("investments"))
    if investment.id in shipped:
        return shipped[investment.id]
    same = [row for row in shipped.values() if row.binder == investment.binder]
    return min(same, key=lambda row: (row.stones != investment.stones, row.id))
