"""What the trainees of a class may start themselves, and the notes of staff about a class."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the two tables, of the rules of classes and of the notes of staff."""
    op.create_table(
        "class_rule",
        sa.Column("joined", sa.String(length=80), nullable=False),
        sa.Column("starts", sa.String(length=10), nullable=False),
        sa.PrimaryKeyConstraint("joined", name=op.f("pk_class_rule")),
    )
    op.create_table(
        "staff_note",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("author_id", sa.Integer(), nullable=False),
        sa.Column("own", sa.Boolean(), nullable=False),
        sa.Column("text", sa.String(length=500), nullable=False),
        sa.ForeignKeyConstraint(
            ["author_id"], ["person.id"], name=op.f("fk_staff_note_author_id_person"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_staff_note")),
    )


def downgrade() -> None:
    """Back to the tables before; what the two tables held is lost with them."""
    op.drop_table("staff_note")
    op.drop_table("class_rule")
