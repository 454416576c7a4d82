"""The tables as classes. `migrations/` builds them; a test holds both together.

Moments are UTC ISO text, so that they sort as they follow each other. What a form holds, and what a plan says, is JSON text: the
store keeps it and does not read it.
"""

from typing import Final

from sqlalchemy import CheckConstraint, ForeignKey, Index, MetaData, Text
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column, relationship

NAMING: Final = {
    "ix": "ix_%(column_0_label)s",
    "uq": "uq_%(table_name)s_%(column_0_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}
"""Constraints have names, or a later migration could not speak of them."""
STRICT: Final = {"sqlite_strict": True}


class Base(DeclarativeBase):
    """What all tables share."""

    metadata = MetaData(naming_convention=NAMING)
    type_annotation_map = {str: Text}  # noqa: RUF012  # as SQLAlchemy wants it


class PatternRow(Base):
    """One pattern of the studio's library: a file, and how it is to be read."""

    __tablename__ = "pattern"
    __table_args__ = (Index("ix_pattern_digest", "digest"), STRICT)

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str]
    file: Mapped[str]
    """What the file was called when it came."""
    digest: Mapped[str]
    """Of the file, which lies beside the database under it."""
    size_bytes: Mapped[int]
    units: Mapped[str] = mapped_column(default="")
    """The unit that the user gave; empty: as the file says."""
    leave_out: Mapped[str] = mapped_column(default="[]", server_default="[]")
    """JSON: names of bodies in it that the user does not want cast."""
    added_at: Mapped[str]
    removed_at: Mapped[str | None]
    """When it was taken out of the library; it stays for the runs that used it, and for Undo."""


class RunRow(Base):
    """One run: what the user asked for, as it stands in the form."""

    __tablename__ = "run"
    __table_args__ = (STRICT,)

    id: Mapped[int] = mapped_column(primary_key=True)
    number: Mapped[int] = mapped_column(unique=True)
    form: Mapped[str]
    """JSON: the fields as they were typed, also those that are not yet right."""
    made_at: Mapped[str]
    changed_at: Mapped[str]
    removed_at: Mapped[str | None]
    pieces: Mapped[list["RunPieceRow"]] = relationship(
        back_populates="run", cascade="all, delete-orphan", order_by="RunPieceRow.place"
    )


class RunPieceRow(Base):
    """How many of a pattern a run takes."""

    __tablename__ = "run_piece"
    __table_args__ = (CheckConstraint("count >= 1", name="count"), STRICT)

    run_id: Mapped[int] = mapped_column(ForeignKey("run.id", ondelete="CASCADE"), primary_key=True)
    pattern_id: Mapped[int] = mapped_column(ForeignKey("pattern.id"), primary_key=True)
    count: Mapped[int]
    place: Mapped[int]
    """Its place in the list."""
    run: Mapped[RunRow] = relationship(back_populates="pieces")


class ResultRow(Base):
    """What was computed: a pattern checked, or a run planned. Never changed, never computed again in silence."""

    __tablename__ = "result"
    __table_args__ = (
        CheckConstraint("(pattern_id IS NULL) <> (run_id IS NULL)", name="of_one"),
        Index("ix_result_pattern_id", "pattern_id"),
        Index("ix_result_run_id", "run_id"),
        STRICT,
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    pattern_id: Mapped[int | None] = mapped_column(ForeignKey("pattern.id", ondelete="CASCADE"))
    run_id: Mapped[int | None] = mapped_column(ForeignKey("run.id", ondelete="CASCADE"))
    asked: Mapped[str]
    """JSON: what it was computed from, so that a page can say what has changed since."""
    data: Mapped[str]
    """JSON: what came out."""
    made_at: Mapped[str]
    files: Mapped[list["ResultFileRow"]] = relationship(
        back_populates="result", cascade="all, delete-orphan", order_by="ResultFileRow.name"
    )


class ResultFileRow(Base):
    """A file of a result: a sheet, a picture, a field."""

    __tablename__ = "result_file"
    __table_args__ = (STRICT,)

    result_id: Mapped[int] = mapped_column(ForeignKey("result.id", ondelete="CASCADE"), primary_key=True)
    name: Mapped[str] = mapped_column(primary_key=True)
    digest: Mapped[str]
    result: Mapped[ResultRow] = relationship(back_populates="files")
