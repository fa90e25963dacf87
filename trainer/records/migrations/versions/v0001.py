"""The first tables."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the first tables: trail, people, tasks, attempts, log-ins, class codes, criteria, marks and notes."""
    op.create_table(
        "audit",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("who", sa.String(length=200), nullable=False),
        sa.Column("role", sa.String(length=20), nullable=False),
        sa.Column("did", sa.String(length=60), nullable=False),
        sa.Column("target", sa.String(length=300), nullable=False),
        sa.Column("detail", sa.Text(), nullable=False),
        sa.Column("origin", sa.String(length=60), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_audit")),
    )
    with op.batch_alter_table("audit", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_audit_at"), ["at"], unique=False)
        batch_op.create_index(batch_op.f("ix_audit_did"), ["did"], unique=False)

    op.create_table(
        "person",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("folded", sa.String(length=200), nullable=False),
        sa.Column("role", sa.String(length=20), nullable=False),
        sa.Column("secret", sa.String(length=200), nullable=True),
        sa.Column("once", sa.Boolean(), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.Column("anonymised", sa.DateTime(timezone=True), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person")),
        sa.UniqueConstraint("folded", name=op.f("uq_person_folded")),
    )
    op.create_table(
        "task",
        sa.Column("drill", sa.String(length=120), nullable=False),
        sa.Column("title", sa.String(length=300), nullable=False),
        sa.Column("valid_days", sa.Integer(), nullable=False),
        sa.Column("recheck_days", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("drill", name=op.f("pk_task")),
    )
    op.create_table(
        "attempt",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(length=64), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("source", sa.String(length=20), nullable=False),
        sa.Column("drill", sa.String(length=120), nullable=False),
        sa.Column("title", sa.String(length=300), nullable=False),
        sa.Column("plant", sa.String(length=120), nullable=False),
        sa.Column("seed", sa.BigInteger(), nullable=False),
        sa.Column("mode", sa.String(length=40), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("simulated_s", sa.Float(), nullable=False),
        sa.Column("finished", sa.Boolean(), nullable=False),
        sa.Column("machine_passed", sa.Boolean(), nullable=False),
        sa.Column("machine_score", sa.Float(), nullable=False),
        sa.Column("passed", sa.Boolean(), nullable=False),
        sa.Column("score", sa.Float(), nullable=False),
        sa.Column("criticals", sa.Integer(), nullable=False),
        sa.Column("interventions", sa.Integer(), nullable=False),
        sa.Column("rewinds", sa.Integer(), nullable=False),
        sa.Column("engine", sa.String(length=40), nullable=False),
        sa.Column("evidence", sa.Text(), nullable=False),
        sa.Column("verified", sa.Boolean(), nullable=True),
        sa.Column("verified_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("verified_reason", sa.Text(), nullable=False),
        sa.Column("signed_by", sa.Integer(), nullable=True),
        sa.Column("signed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("remarks", sa.Text(), nullable=False),
        sa.Column("seal", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_attempt_person_id_person"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["signed_by"], ["person.id"], name=op.f("fk_attempt_signed_by_person"), ondelete="SET NULL"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_attempt")),
        sa.UniqueConstraint("key", name=op.f("uq_attempt_key")),
    )
    with op.batch_alter_table("attempt", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_attempt_at"), ["at"], unique=False)
        batch_op.create_index(batch_op.f("ix_attempt_drill"), ["drill"], unique=False)
        batch_op.create_index("ix_attempt_person_drill", ["person_id", "drill"], unique=False)

    op.create_table(
        "class_code",
        sa.Column("code", sa.String(length=12), nullable=False),
        sa.Column("opened_by", sa.Integer(), nullable=True),
        sa.Column("opened", sa.DateTime(timezone=True), nullable=False),
        sa.Column("expires", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["opened_by"], ["person.id"], name=op.f("fk_class_code_opened_by_person"), ondelete="SET NULL"
        ),
        sa.PrimaryKeyConstraint("code", name=op.f("pk_class_code")),
    )
    op.create_table(
        "login",
        sa.Column("token", sa.String(length=64), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("began", sa.DateTime(timezone=True), nullable=False),
        sa.Column("expires", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ended", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_login_person_id_person"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("token", name=op.f("pk_login")),
    )
    op.create_table(
        "criterion",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("attempt_id", sa.Integer(), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("criterion", sa.String(length=120), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("category", sa.String(length=40), nullable=False),
        sa.Column("points", sa.Float(), nullable=False),
        sa.Column("earned", sa.Float(), nullable=True),
        sa.Column("t", sa.Float(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("required", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(
            ["attempt_id"], ["attempt.id"], name=op.f("fk_criterion_attempt_id_attempt"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_criterion")),
        sa.UniqueConstraint("attempt_id", "criterion", name=op.f("uq_criterion_attempt_id")),
    )
    with op.batch_alter_table("criterion", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_criterion_criterion"), ["criterion"], unique=False)

    op.create_table(
        "mark",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("attempt_id", sa.Integer(), nullable=False),
        sa.Column("criterion", sa.String(length=120), nullable=False),
        sa.Column("assessor_id", sa.Integer(), nullable=True),
        sa.Column("assessor", sa.String(length=200), nullable=False),
        sa.Column("points", sa.Float(), nullable=False),
        sa.Column("out_of", sa.Float(), nullable=False),
        sa.Column("override", sa.Boolean(), nullable=False),
        sa.Column("remark", sa.Text(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["assessor_id"], ["person.id"], name=op.f("fk_mark_assessor_id_person"), ondelete="SET NULL"
        ),
        sa.ForeignKeyConstraint(
            ["attempt_id"], ["attempt.id"], name=op.f("fk_mark_attempt_id_attempt"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_mark")),
        sa.UniqueConstraint("attempt_id", "criterion", "assessor_id", name=op.f("uq_mark_attempt_id")),
    )
    op.create_table(
        "note",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("attempt_id", sa.Integer(), nullable=False),
        sa.Column("t", sa.Float(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("author", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(
            ["attempt_id"], ["attempt.id"], name=op.f("fk_note_attempt_id_attempt"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_note")),
    )


def downgrade() -> None:
    """Drop the first tables with all that is in them; nothing was there before this step."""
    op.drop_table("note")
    op.drop_table("mark")
    with op.batch_alter_table("criterion", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_criterion_criterion"))

    op.drop_table("criterion")
    op.drop_table("login")
    op.drop_table("class_code")
    with op.batch_alter_table("attempt", schema=None) as batch_op:
        batch_op.drop_index("ix_attempt_person_drill")
        batch_op.drop_index(batch_op.f("ix_attempt_drill"))
        batch_op.drop_index(batch_op.f("ix_attempt_at"))

    op.drop_table("attempt")
    op.drop_table("task")
    op.drop_table("person")
    with op.batch_alter_table("audit", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_audit_did"))
        batch_op.drop_index(batch_op.f("ix_audit_at"))

    op.drop_table("audit")
