"""Class lists: who belongs to which class, and to which group of it."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table of who is on the list of a class, and in which group of it."""
    op.create_table(
        "class_member",
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("joined", sa.String(length=80), nullable=False),
        sa.Column("team", sa.String(length=40), server_default="", nullable=False),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_class_member_person_id_person"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("person_id", "joined", name=op.f("pk_class_member")),
    )


def downgrade() -> None:
    """Drop the lists of classes; people and their attempts stay as they are."""
    op.drop_table("class_member")
