"""Corrections and appeals with their history, and competencies."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables of signed versions, appeals and competencies."""
    op.create_table(
        "signed_version",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("attempt_id", sa.Integer(), nullable=False),
        sa.Column("evidence", sa.Text(), nullable=False),
        sa.Column("verdict", sa.Text(), nullable=False),
        sa.Column("signer", sa.String(length=200), nullable=False),
        sa.Column("signed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("reopened_by", sa.String(length=200), nullable=False),
        sa.Column("reopened_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["attempt_id"], ["attempt.id"], name=op.f("fk_signed_version_attempt_id_attempt"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_signed_version")),
    )
    op.create_table(
        "appeal",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("attempt_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("answer", sa.Text(), nullable=False),
        sa.Column("answered_by", sa.String(length=200), nullable=False),
        sa.Column("answered_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["attempt_id"], ["attempt.id"], name=op.f("fk_appeal_attempt_id_attempt"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_appeal")),
    )
    op.create_table(
        "competency",
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("drills", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_competency")),
    )


def downgrade() -> None:
    """Drop the tables of signed versions, appeals and competencies with all that is in them."""
    op.drop_table("competency")
    op.drop_table("appeal")
    op.drop_table("signed_version")
