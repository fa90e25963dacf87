"""Hashes of the runs of people who were deleted."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table of runs whose person was deleted, so that they stay known by their hash."""
    op.create_table(
        "erased_run",
        sa.Column("run_hash", sa.String(length=64), nullable=False),
        sa.PrimaryKeyConstraint("run_hash", name=op.f("pk_erased_run")),
    )


def downgrade() -> None:
    """Drop the table of erased runs: such a run could then come in under another name."""
    op.drop_table("erased_run")
