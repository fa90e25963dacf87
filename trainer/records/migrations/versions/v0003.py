"""What proves a check: whose key signed it, which staff member started it, how it ended; and the chained trail."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the columns for custody and signature of an attempt, and for the chain of the trail."""
    with op.batch_alter_table("attempt", schema=None) as batch_op:
        batch_op.add_column(sa.Column("run_hash", sa.String(length=64), nullable=False, server_default=""))
        batch_op.add_column(sa.Column("started_by", sa.String(length=200), nullable=False, server_default=""))
        batch_op.add_column(sa.Column("ending", sa.String(length=300), nullable=False, server_default=""))
        batch_op.add_column(sa.Column("wall_s", sa.Float(), nullable=False, server_default="0"))
        batch_op.add_column(sa.Column("signed_key", sa.String(length=64), nullable=False, server_default=""))
        batch_op.create_index(batch_op.f("ix_attempt_run_hash"), ["run_hash"], unique=False)
    with op.batch_alter_table("audit", schema=None) as batch_op:
        batch_op.add_column(sa.Column("place", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("digest", sa.String(length=64), nullable=False, server_default=""))
        batch_op.add_column(sa.Column("link", sa.String(length=64), nullable=False, server_default=""))
        batch_op.add_column(sa.Column("scrubbed", sa.Boolean(), nullable=False, server_default=sa.false()))
        batch_op.create_index(batch_op.f("ix_audit_place"), ["place"], unique=True)


def downgrade() -> None:
    """Drop the columns for custody, signature and chain, and what is in them."""
    with op.batch_alter_table("audit", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_audit_place"))
        for name in ("scrubbed", "link", "digest", "place"):
            batch_op.drop_column(name)
    with op.batch_alter_table("attempt", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_attempt_run_hash"))
        for name in ("signed_key", "wall_s", "ending", "started_by", "run_hash"):
            batch_op.drop_column(name)
