"""The first tables: patterns, runs with their pieces, results with their files."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "pattern",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("file", sa.Text(), nullable=False),
        sa.Column("digest", sa.Text(), nullable=False),
        sa.Column("size_bytes", sa.Integer(), nullable=False),
        sa.Column("units", sa.Text(), nullable=False),
        sa.Column("added_at", sa.Text(), nullable=False),
        sa.Column("removed_at", sa.Text()),
        sqlite_strict=True,
    )
    op.create_index("ix_pattern_digest", "pattern", ["digest"])
    op.create_table(
        "run",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("number", sa.Integer(), nullable=False, unique=True),
        sa.Column("form", sa.Text(), nullable=False),
        sa.Column("made_at", sa.Text(), nullable=False),
        sa.Column("changed_at", sa.Text(), nullable=False),
        sa.Column("removed_at", sa.Text()),
        sqlite_strict=True,
    )
    op.create_table(
        "run_piece",
        sa.Column("run_id", sa.Integer(), sa.ForeignKey("run.id", ondelete="CASCADE"), primary_key=True),
        sa.Column("pattern_id", sa.Integer(), sa.ForeignKey("pattern.id"), primary_key=True),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.CheckConstraint("count >= 1", name="count"),
        sqlite_strict=True,
    )
    op.create_table(
        "result",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("pattern_id", sa.Integer(), sa.ForeignKey("pattern.id", ondelete="CASCADE")),
        sa.Column("run_id", sa.Integer(), sa.ForeignKey("run.id", ondelete="CASCADE")),
        sa.Column("asked", sa.Text(), nullable=False),
        sa.Column("data", sa.Text(), nullable=False),
        sa.Column("made_at", sa.Text(), nullable=False),
        sa.CheckConstraint("(pattern_id IS NULL) <> (run_id IS NULL)", name="of_one"),
        sqlite_strict=True,
    )
    op.create_index("ix_result_pattern_id", "result", ["pattern_id"])
    op.create_index("ix_result_run_id", "result", ["run_id"])
    op.create_table(
        "result_file",
        sa.Column("result_id", sa.Integer(), sa.ForeignKey("result.id", ondelete="CASCADE"), primary_key=True),
        sa.Column("name", sa.Text(), primary_key=True),
        sa.Column("digest", sa.Text(), nullable=False),
        sqlite_strict=True,
    )
