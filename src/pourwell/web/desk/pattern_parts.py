"""A pattern as it is: in 3-D, what was found on it, what it measures, what can be changed. A new check is told in its place."""

from collections.abc import Callable, Mapping
from typing import Any, Final

from pourwell.app.desk_words import PICTURE, VIEW, frozen_names
from pourwell.app.letters import letter
from pourwell.store.model import KeptPattern, KeptResult
from pourwell.web.desk import parts
from pourwell.web.desk.draft import rows_table
from pourwell.web.desk.frame import Frame
from pourwell.web.desk.pattern_change import BODIES, OF_BODIES, Bodies, NameAndUnit, RingSize
from pourwell.web.desk.tag import Tag
from pourwell.web.desk.viewer import Solid, Viewer
from pourwell.web.kept import link

HOLDS_RESIN: Final = "pattern-holds-resin"
"""The code of a finding that the page of the printer tells more of."""


class PatternParts:
    """The body of the page: what was found is drawn anew with each check, and what is typed or ticked beside it lives on."""

    def __init__(
        self, page: Frame, pattern: KeptPattern, *, mend: Callable[[], Any], fit: Callable[[str, bool], Any], size: str
    ) -> None:
        self.desk, self.pattern_id, self.mend = page.desk, pattern.id, mend
        with Tag("div", classes="cols pattern"):
            self.stays = Tag("div", classes="stays")
            with Tag("div"):
                self.found = Tag("div")
                self.bodies = Bodies(page, pattern.id)
                self.measures = Tag("div")
                self.ring = RingSize(fit, asked=size)
                self.name = NameAndUnit(page, pattern)

    def show(self, pattern: KeptPattern, result: KeptResult) -> None:
        """Tell a check."""
        self._found(pattern, result)
        self.bodies.show(result)
        self.measures.clear()
        with self.measures, parts.section("Measures"):
            rows_table(result.data["rows"])
        self.ring.show(result.data)
        self.name.show(pattern)

    def _found(self, pattern: KeptPattern, result: KeptResult) -> None:
        data = result.data
        placed = [f for f in data["findings"] if f.get("at_mm")]
        letters = {id(f): letter(k) for k, f in enumerate(placed)}
        flags = [{"letter": letters[id(f)], "at": f["at_mm"], "says": f["says"]} for f in placed]
        rows: dict[str, Tag] = {}

        def here(which: str) -> None:
            for name, row in rows.items():
                row.classes(add="here" if name == which else "", remove="" if name == which else "here")

        self.stays.clear()
        with self.stays:
            viewer = Viewer(
                src=link(result, VIEW),
                head=data["view"],
                label=f"{pattern.name} in 3-D",
                title="As it is",
                beside=self._frozen(pattern, result),
                still=link(result, PICTURE),
                flags=flags,
                picked=here,
            )
        self.found.clear()
        with self.found:
            _figures(data)
            with parts.section("Findings", parts.counted(data["findings"])):
                self._findings(data["findings"], letters, viewer, rows=rows, here=here)

    def _frozen(self, pattern: KeptPattern, result: KeptResult) -> list[Solid]:
        """The piece as it freezes in the last run that told it."""
        found = self.desk.froze_in(pattern.id, since=result.id)
        if found is None:
            return []
        run, plan, mine = found
        numbers, head = (link(plan, name) for name in frozen_names(mine))
        return [Solid(src=numbers, head={"url": head}, title=f"Freezing in run {run.number}", still=link(result, PICTURE))]

    def _findings(
        self, found: list[Mapping[str, Any]], letters: Mapping[int, str], viewer: Viewer, *, rows: dict[str, Tag], here: Any
    ) -> None:
        if not found:
            Tag("p", "Nothing was found that needs care.", "quiet")
            return
        mending = next((f for f in found if f.get("mends")), None)
        with Tag("ul"):
            for one in found:
                mine = letters.get(id(one), "")

                def look(which: str = mine) -> None:
                    viewer.look_at(which)
                    here(which)

                row = parts.finding(one, letter=mine, look=look if mine else None, way=self._way(one["code"]))
                if mine:
                    rows[mine] = row
                if one is mending:
                    with row, Tag("div", classes="find-act"):
                        parts.button("See it mended", self.mend)

    def _way(self, code: str) -> tuple[str, str] | None:
        """Where a finding is looked into or cured."""
        if code == HOLDS_RESIN:
            return "In the printer", f"/patterns/{self.pattern_id}/printing"
        return ("Choose its bodies", f"#{BODIES}") if code in OF_BODIES else None


def _figures(data: Mapping[str, Any]) -> None:
    """What one asks first."""
    piece = data["piece"]
    if data["doubtful"]:
        Tag("p", f"Its weight is {data['doubtful']}.", "quiet")
        return
    rows = [(f"In {data['alloy_name']}", f"{piece['metal_g']:.2f}", "g"), ("Pattern", f"{piece['pattern_g']:.2f}", "g")]
    bore = piece.get("bore")
    if bore:
        rows.append(("Bore, finished", f"{bore['finished_mm']:.2f}", "mm"))
        rows.append(("Size", f"ISO {bore['finished_sizes']['iso']}", ""))
    rows.append(("Thinnest wall", f"{piece['wall']['thinnest_mm']:.2f}", "mm"))
    with Tag("div", classes="figures"):
        parts.keys(rows)
