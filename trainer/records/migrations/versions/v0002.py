"""Several server processes: who they serve, and what they tell each other."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables by which several server processes know of each other and send words."""
    op.create_table(
        "member",
        sa.Column("name", sa.String(length=20), nullable=False),
        sa.Column("beat", sa.BigInteger(), nullable=False),
        sa.Column("news", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_member")),
    )
    op.create_table(
        "word",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("sender", sa.String(length=20), nullable=False),
        sa.Column("receiver", sa.String(length=20), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("message", sa.Text(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("taken", sa.Boolean(), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("said", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_word_person_id_person"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_word")),
    )
    with op.batch_alter_table("word", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_word_sender"), ["sender"], unique=False)
        batch_op.create_index(batch_op.f("ix_word_receiver"), ["receiver"], unique=False)


def downgrade() -> None:
    """Drop the tables of several server processes; nothing in them outlives the processes."""
    op.drop_table("word")
    op.drop_table("member")
