"""Courses that staff assign to a class or to one person."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table of courses that are assigned to a class or to one person."""
    op.create_table(
        "assignment",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("course", sa.String(length=60), nullable=False),
        sa.Column("joined", sa.String(length=80), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("due", sa.DateTime(timezone=True), nullable=True),
        sa.Column("by_id", sa.Integer(), nullable=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_assignment_person_id_person"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(["by_id"], ["person.id"], name=op.f("fk_assignment_by_id_person"), ondelete="SET NULL"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_assignment")),
    )


def downgrade() -> None:
    """Drop the table of assignments with all that is in it; attempts stay as they are."""
    op.drop_table("assignment")
