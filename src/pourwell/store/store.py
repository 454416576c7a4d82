"""The store of one studio. A call that returns has committed: only then may anyone say "saved"."""

import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from sqlalchemy import func, select, union
from sqlalchemy.exc import OperationalError
from sqlalchemy.orm import Session, selectinload

from pourwell.errors import BadRequestError, OutputError
from pourwell.store.database import WRITES, open_database
from pourwell.store.model import KeptPattern, KeptResult, KeptRun
from pourwell.store.schema import PatternRow, ResultFileRow, ResultRow, RunPieceRow, RunRow
from pourwell.store.shelf import Shelf

DATABASE: Final = "store.sqlite3"
SHELF: Final = "kept"
KINDS: Final = {PatternRow: "pattern", RunRow: "run", ResultRow: "result"}
MOST_NUMBER: Final = 2**63 - 1
"""The highest that SQLite takes as a number of a row."""


class Store:
    """Patterns, runs and results of the studio folder that it is opened in."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.folder = folder
        self.shelf = Shelf(folder / SHELF)
        self.engine = open_database(folder / DATABASE)
        self._latest: dict[str, dict[int, KeptResult]] = {}
        """Results that lists show, by their number; of patterns and of runs."""
        self._writer = self.engine.execution_options(**WRITES)

    def close(self) -> None:
        """Let go of the file."""
        self.engine.dispose()

    @contextmanager
    def _reading(self) -> Iterator[Session]:
        with Session(self.engine) as session:
            yield session

    @contextmanager
    def _writing(self) -> Iterator[Session]:
        try:
            with Session(self._writer) as session, session.begin():
                yield session
        except OperationalError as err:
            raise OutputError(
                "It could not be kept.",
                why=f"The store says: {err.orig}.",
                try_this="Is the disk full, or the folder not yours to write?",
            ) from err

    # ---- patterns

    def add_pattern(
        self, content: bytes | Path, *, file: str, name: str, now: datetime, units: str = ""
    ) -> tuple[KeptPattern, bool]:
        """Keep a pattern file; the pattern, and whether it is new. One that is there already is not kept twice, but put back.

        `units` is the unit of its numbers; empty: as the file says.

        Raises OutputError, as every call that keeps something, if the store cannot be written.
        """
        digest = self.shelf.put(content)
        with self._writing() as session:
            row = session.scalars(select(PatternRow).where(PatternRow.digest == digest)).first()
            new = row is None
            if row is None:
                size = self.shelf.path(digest).stat().st_size
                row = PatternRow(name=name, file=file, digest=digest, size_bytes=size, units=units, added_at=_text(now))
                session.add(row)
            row.removed_at = None
            session.flush()
            return _pattern(row), new

    def patterns(self) -> list[KeptPattern]:
        """The library, newest first."""
        wanted = select(PatternRow).where(PatternRow.removed_at.is_(None)).order_by(PatternRow.id.desc())
        with self._reading() as session:
            return [_pattern(row) for row in session.scalars(wanted)]

    def pattern(self, pattern_id: int) -> KeptPattern:
        """One pattern, also one that was taken out. Raises BadRequestError if there is none of that number."""
        with self._reading() as session:
            return _pattern(_there(session, PatternRow, pattern_id))

    def change_pattern(
        self, pattern_id: int, *, name: str | None = None, units: str | None = None, leave_out: Sequence[str] | None = None
    ) -> KeptPattern:
        """Give a pattern another name, say its unit, or which bodies are not cast. Raises BadRequestError."""
        with self._writing() as session:
            row = _there(session, PatternRow, pattern_id)
            row.name = row.name if name is None else name
            row.units = row.units if units is None else units
            row.leave_out = row.leave_out if leave_out is None else json.dumps(list(leave_out))
            return _pattern(row)

    def remove_pattern(self, pattern_id: int, *, now: datetime | None) -> None:
        """Take a pattern out of the library, or with None put it back. Raises BadRequestError."""
        with self._writing() as session:
            _there(session, PatternRow, pattern_id).removed_at = _text(now) if now else None

    # ---- runs

    def add_run(self, form: Mapping[str, Any], *, pieces: Sequence[tuple[int, int]] = (), now: datetime) -> KeptRun:
        """A new run under the next number."""
        with self._writing() as session:
            number = (session.scalar(select(func.max(RunRow.number))) or 0) + 1
            row = RunRow(number=number, form=_json(form), made_at=_text(now), changed_at=_text(now))
            row.pieces = _pieces(pieces)
            session.add(row)
            session.flush()
            return _run(row)

    def runs(self, *, laid_away: bool = False) -> list[KeptRun]:
        """All runs, newest first; with `laid_away` also those that were laid away."""
        wanted = select(RunRow).order_by(RunRow.number.desc())
        wanted = wanted if laid_away else wanted.where(RunRow.removed_at.is_(None))
        with self._reading() as session:
            return [_run(row) for row in session.scalars(wanted)]

    def run(self, run_id: int) -> KeptRun:
        """One run. Raises BadRequestError if there is none of that number."""
        with self._reading() as session:
            return _run(_there(session, RunRow, run_id))

    def change_run(
        self, run_id: int, *, fields: Mapping[str, Any] | None = None, pieces: Mapping[int, int] | None = None, now: datetime
    ) -> KeptRun:
        """Set fields of a run's form, and counts of pieces (0: none), and leave the others as they are.

        Two windows on one run change what they change, and nothing else. Raises BadRequestError.
        """
        with self._writing() as session:
            row = _there(session, RunRow, run_id)
            row.form = _json({**json.loads(row.form), **(fields or {})})
            for pattern_id, count in (pieces or {}).items():
                _count(row, pattern_id, count)
            row.changed_at = _text(now)
            session.flush()
            return _run(row)

    def remove_run(self, run_id: int, *, now: datetime | None) -> None:
        """Lay a run away, or with None take it up again. Raises BadRequestError."""
        with self._writing() as session:
            _there(session, RunRow, run_id).removed_at = _text(now) if now else None

    # ---- results

    def add_result(
        self,
        *,
        pattern_id: int | None = None,
        run_id: int | None = None,
        asked: Mapping[str, Any],
        data: Mapping[str, Any],
        files: Mapping[str, bytes] | None = None,
        now: datetime,
    ) -> KeptResult:
        """Keep what was computed for one pattern or one run, with its files."""
        kept = {name: self.shelf.put(content) for name, content in (files or {}).items()}
        with self._writing() as session:
            row = ResultRow(pattern_id=pattern_id, run_id=run_id, asked=_json(asked), data=_json(data), made_at=_text(now))
            row.files = [ResultFileRow(name=name, digest=digest) for name, digest in kept.items()]
            session.add(row)
            session.flush()
            return _result(row)

    def latest_of_patterns(self) -> dict[int, KeptResult]:
        """The last result of every pattern that has one, by its number."""
        return self._latest_of(ResultRow.pattern_id)

    def latest(self, *, pattern_id: int | None = None, run_id: int | None = None) -> KeptResult | None:
        """The last result of a pattern or a run; None if there is none."""
        mine = ResultRow.pattern_id == pattern_id if pattern_id is not None else ResultRow.run_id == run_id
        with self._reading() as session:
            row = session.scalars(select(ResultRow).where(mine).order_by(ResultRow.id.desc())).first()
            return _result(row) if row else None

    def last_of_run(self, run_id: int, most: int = 2) -> list[KeptResult]:
        """The last results of a run, newest first: a page marks what changed from one to the next."""
        wanted = select(ResultRow).where(ResultRow.run_id == run_id).order_by(ResultRow.id.desc()).limit(most)
        with self._reading() as session:
            return [_result(row) for row in session.scalars(wanted)]

    def planned(self, most: int = 60) -> list[tuple[int, int, datetime]]:
        """The last plans of all runs that are not laid away, newest first: number of the result, of its run, when it was made."""
        wanted = select(ResultRow.id, RunRow.id, ResultRow.made_at).join(RunRow, ResultRow.run_id == RunRow.id)
        wanted = wanted.where(RunRow.removed_at.is_(None)).order_by(ResultRow.id.desc()).limit(most)
        with self._reading() as session:
            return [(result, run, datetime.fromisoformat(made)) for result, run, made in session.execute(wanted)]

    def latest_of_runs(self) -> dict[int, KeptResult]:
        """The last result of every run that has one, by its number."""
        return self._latest_of(ResultRow.run_id)

    def _latest_of(self, owner: Any) -> dict[int, KeptResult]:
        """The last results by their owner. A result never changes, so one that was read before is not read again."""
        newest = select(owner, func.max(ResultRow.id)).where(owner.is_not(None)).group_by(owner)
        with self._reading() as session:
            wanted: dict[int, int] = {mine: result for mine, result in session.execute(newest)}
            known = self._latest.get(owner.key, {})
            fresh = [result for result in wanted.values() if result not in known]
            read = select(ResultRow).where(ResultRow.id.in_(fresh)).options(selectinload(ResultRow.files))
            known = {result: known[result] for result in wanted.values() if result in known}
            known |= {row.id: _result(row) for row in session.scalars(read)} if fresh else {}
        self._latest[owner.key] = known
        return {mine: known[result] for mine, result in wanted.items()}

    def result(self, result_id: int) -> KeptResult:
        """One result. Raises BadRequestError if there is none of that number."""
        with self._reading() as session:
            return _result(_there(session, ResultRow, result_id))

    # ---- files

    def spoken_of(self) -> set[str]:
        """The digests of all files that a row names."""
        with self._reading() as session:
            return set(session.scalars(union(select(PatternRow.digest), select(ResultFileRow.digest))))


def _there(session: Session, row: Any, number: int) -> Any:
    found = session.get(row, number) if abs(number) <= MOST_NUMBER else None
    if found is None:
        raise BadRequestError(f"There is no {KINDS[row]} {number} here.", try_this="Look for it in the list.")
    return found


def _pieces(pieces: Sequence[tuple[int, int]]) -> list[RunPieceRow]:
    return [RunPieceRow(pattern_id=pattern, count=count, place=place) for place, (pattern, count) in enumerate(pieces)]


def _count(row: RunRow, pattern_id: int, count: int) -> None:
    """Set how many of a pattern a run takes."""
    mine = next((piece for piece in row.pieces if piece.pattern_id == pattern_id), None)
    if mine is not None and count < 1:
        row.pieces.remove(mine)
    elif mine is not None:
        mine.count = count
    elif count >= 1:
        place = max((piece.place for piece in row.pieces), default=-1) + 1
        row.pieces.append(RunPieceRow(pattern_id=pattern_id, count=count, place=place))


def _json(value: Mapping[str, Any]) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def _text(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="microseconds")


def _moment(text: str | None) -> datetime | None:
    return datetime.fromisoformat(text) if text else None


def _pattern(row: PatternRow) -> KeptPattern:
    return KeptPattern(
        id=row.id,
        name=row.name,
        file=row.file,
        digest=row.digest,
        size_bytes=row.size_bytes,
        units=row.units,
        added_at=datetime.fromisoformat(row.added_at),
        removed_at=_moment(row.removed_at),
        leave_out=tuple(json.loads(row.leave_out)),
    )


def _run(row: RunRow) -> KeptRun:
    return KeptRun(
        id=row.id,
        number=row.number,
        form=json.loads(row.form),
        pieces=tuple((piece.pattern_id, piece.count) for piece in row.pieces),
        made_at=datetime.fromisoformat(row.made_at),
        changed_at=datetime.fromisoformat(row.changed_at),
        removed_at=_moment(row.removed_at),
    )


def _result(row: ResultRow) -> KeptResult:
    return KeptResult(
        id=row.id,
        asked=json.loads(row.asked),
        data=json.loads(row.data),
        made_at=datetime.fromisoformat(row.made_at),
        files={file.name: file.digest for file in row.files},
    )
