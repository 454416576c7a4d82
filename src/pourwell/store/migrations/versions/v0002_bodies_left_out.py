"""A pattern says which bodies of its file are not cast."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Nothing was left out before, but for what a name said."""
    op.add_column("pattern", sa.Column("leave_out", sa.Text(), nullable=False, server_default="[]"))
