"""Classes with a name, each with a code of its own; a log-in knows the class that it joined."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the name of a class to its code, and to each log-in the class that it joined."""
    for table, column in (("class_code", "title"), ("login", "joined")):
        with op.batch_alter_table(table) as change:
            change.add_column(sa.Column(column, sa.String(length=80), nullable=False, server_default=""))


def downgrade() -> None:
    """Drop the names of classes from codes and log-ins; the codes themselves stay."""
    for table, column in (("login", "joined"), ("class_code", "title")):
        with op.batch_alter_table(table) as change:
            change.drop_column(column)
