"""The seal that a signed file had before a person was made anonymous in it: such a file may have been handed out."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None

TABLES = ("attempt", "signed_version")


def upgrade() -> None:
    """Make the two columns; they stay empty for files out of which no name was taken."""
    for table in TABLES:
        op.add_column(table, sa.Column("first_seal", sa.String(length=64), server_default="", nullable=False))


def downgrade() -> None:
    """Back to the tables before; which files were handed out under another seal is lost."""
    for table in TABLES:
        with op.batch_alter_table(table) as batch:
            batch.drop_column("first_seal")
