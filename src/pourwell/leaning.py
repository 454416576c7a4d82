"""Which values of weak grade a plan leaned on: rules as they are read, rows whole."""

from collections.abc import Iterator, Mapping
from dataclasses import replace

from pourwell.materials.library import Library, weak_values
from pourwell.materials.model import WEAK_GRADES, Row, Rule
from pourwell.plan import Leaned


class Read(Mapping[str, Rule]):
    """The rules, remembering which were read."""

    def __init__(self, rules: Mapping[str, Rule]) -> None:
        self._rules = rules
        self.names: set[str] = set()

    def __getitem__(self, name: str) -> Rule:
        self.names.add(name)
        return self._rules[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._rules)

    def __len__(self) -> int:
        return len(self._rules)


def recording(library: Library) -> Library:
    """The same library, whose rules remember that they were read."""
    return replace(library, rules=Read(library.rules))


def leaned_on(library: Library, rows: tuple[Row, ...], *, programme: str) -> tuple[Leaned, ...]:
    """The weak values of these rows and of the rules read so far, and the burnout programme if its table is weak."""
    out = [
        Leaned(
            what=f"{getattr(row, 'id', '')}: {key}",
            value=value.value,
            unit=value.unit,
            grade=value.grade.value,
            source=value.source,
        )
        for row in rows
        for key, value in weak_values(row)
    ]
    table = library.programme(programme)
    if table.grade in WEAK_GRADES:
        steps = len(table.steps)
        out.append(Leaned(what=f"burnout: {table.name}", value=steps, unit="steps", grade=table.grade.value, source=table.source))
    rules = library.rules
    for name in sorted(rules.names if isinstance(rules, Read) else rules):
        rule = rules[name]
        if rule.grade in WEAK_GRADES:
            out.append(Leaned(what=rule.about, value=rule.value, unit=rule.unit, grade=rule.grade.value, source=rule.source))
    return tuple(out)
