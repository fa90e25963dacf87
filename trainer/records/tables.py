"""The tables of the records, typed.

An attempt keeps its evidence document whole, as text, so that it verifies as it came; the columns beside it are for
searching only and can be filled again from it. Times are UTC.
"""

from __future__ import annotations

from datetime import UTC, datetime

from sqlalchemy import (
    BigInteger,
    Boolean,
    DateTime,
    Dialect,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Text,
    TypeDecorator,
    UniqueConstraint,
    false,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column, relationship

ROLES = ("trainee", "instructor", "assessor")


class Moment(TypeDecorator[datetime]):
    """A point in time, UTC in the database whatever it is, with its zone in Python."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """UTC on the way into the database; ValueError for a time without a zone, None for none."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a time in the records needs its zone")
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """The zone back on the way out, where the database does not keep it; None for none."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Base(DeclarativeBase):
    """All tables. Constraints are named, so that every database can alter them."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(column_0_label)s",
            "uq": "uq_%(table_name)s_%(column_0_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
            "pk": "pk_%(table_name)s",
        }
    )


class Person(Base):
    """Somebody who trains, instructs or assesses. ``folded`` is the name as names are compared."""

    __tablename__ = "person"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(200))
    folded: Mapped[str] = mapped_column(String(200), unique=True)
    role: Mapped[str] = mapped_column(String(20))
    secret: Mapped[str | None] = mapped_column(String(200))
    """Hash of the secret; None when there is none to log in with."""
    once: Mapped[bool] = mapped_column(Boolean, default=False)
    """The secret is good for one log-in only, at which another is chosen."""
    active: Mapped[bool] = mapped_column(Boolean, default=True)
    created: Mapped[datetime] = mapped_column(Moment)
    anonymised: Mapped[datetime | None] = mapped_column(Moment)

    attempts: Mapped[list[Attempt]] = relationship(
        back_populates="person", cascade="all, delete-orphan", foreign_keys="Attempt.person_id"
    )


class Attempt(Base):
    """One run of a drill by one person. ``key`` is given once by whoever saw the run, so that it is kept once."""

    __tablename__ = "attempt"
    __table_args__ = (Index("ix_attempt_person_drill", "person_id", "drill"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    key: Mapped[str] = mapped_column(String(64), unique=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id", ondelete="CASCADE"))
    source: Mapped[str] = mapped_column(String(20))
    """classroom or import"""
    drill: Mapped[str] = mapped_column(String(120), index=True)
    title: Mapped[str] = mapped_column(String(300))
    plant: Mapped[str] = mapped_column(String(120))
    seed: Mapped[int] = mapped_column(BigInteger)
    mode: Mapped[str] = mapped_column(String(40))
    at: Mapped[datetime] = mapped_column(Moment, index=True)
    simulated_s: Mapped[float] = mapped_column(Float)
    finished: Mapped[bool] = mapped_column(Boolean)
    machine_passed: Mapped[bool] = mapped_column(Boolean)
    machine_score: Mapped[float] = mapped_column(Float)
    passed: Mapped[bool] = mapped_column(Boolean)
    """With the marks of the assessor who signed; the machine's own until then."""
    score: Mapped[float] = mapped_column(Float)
    criticals: Mapped[int] = mapped_column(Integer, default=0)
    interventions: Mapped[int] = mapped_column(Integer, default=0)
    rewinds: Mapped[int] = mapped_column(Integer, default=0)
    engine: Mapped[str] = mapped_column(String(40))
    evidence: Mapped[str] = mapped_column(Text, deferred=True)
    verified: Mapped[bool | None] = mapped_column(Boolean)
    """What the last re-computation found; None when there was none."""
    verified_at: Mapped[datetime | None] = mapped_column(Moment)
    verified_reason: Mapped[str] = mapped_column(Text, default="")
    signed_by: Mapped[int | None] = mapped_column(ForeignKey("person.id", ondelete="SET NULL"))
    signed_at: Mapped[datetime | None] = mapped_column(Moment)
    remarks: Mapped[str] = mapped_column(Text, default="")
    seal: Mapped[str] = mapped_column(String(64))
    first_seal: Mapped[str] = mapped_column(String(64), default="", server_default="")
    """The seal of the signed file as it was handed out, before a name was taken out of it; empty where none was."""
    run_hash: Mapped[str] = mapped_column(String(64), default="", server_default="", index=True)
    """Of plant, drill, seed and log alone: the same under whatever name and date."""
    started_by: Mapped[str] = mapped_column(String(200), default="", server_default="")
    """The staff member who started or allowed it; empty when no one vouches for it."""
    ending: Mapped[str] = mapped_column(String(300), default="", server_default="")
    wall_s: Mapped[float] = mapped_column(Float, default=0.0, server_default="0")
    signed_key: Mapped[str] = mapped_column(String(64), default="", server_default="")
    """The public key whose signature on the evidence holds; empty for unsigned evidence."""

    person: Mapped[Person] = relationship(back_populates="attempts", foreign_keys=[person_id])
    signer: Mapped[Person | None] = relationship(foreign_keys=[signed_by])
    criteria: Mapped[list[Criterion]] = relationship(
        back_populates="attempt", cascade="all, delete-orphan", order_by="Criterion.place"
    )
    marks: Mapped[list[Mark]] = relationship(back_populates="attempt", cascade="all, delete-orphan", order_by="Mark.id")
    notes: Mapped[list[Note]] = relationship(back_populates="attempt", cascade="all, delete-orphan", order_by="Note.t")


class ErasedRun(Base):
    """A run of a person who was deleted, by what was done in it alone: no name, and no way back to one."""

    __tablename__ = "erased_run"

    run_hash: Mapped[str] = mapped_column(String(64), primary_key=True)


class Criterion(Base):
    """What the machine found on one criterion; ``earned`` is None where only a person can judge."""

    __tablename__ = "criterion"
    __table_args__ = (UniqueConstraint("attempt_id", "criterion"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    attempt_id: Mapped[int] = mapped_column(ForeignKey("attempt.id", ondelete="CASCADE"))
    place: Mapped[int] = mapped_column(Integer)
    criterion: Mapped[str] = mapped_column(String(120), index=True)
    title: Mapped[str] = mapped_column(Text)
    category: Mapped[str] = mapped_column(String(40))
    points: Mapped[float] = mapped_column(Float)
    earned: Mapped[float | None] = mapped_column(Float)
    t: Mapped[float | None] = mapped_column(Float)
    reason: Mapped[str] = mapped_column(Text)
    required: Mapped[bool] = mapped_column(Boolean, default=False)

    attempt: Mapped[Attempt] = relationship(back_populates="criteria")


class Mark(Base):
    """An assessor's mark on one criterion. An override stands beside what the machine found, with its reason."""

    __tablename__ = "mark"
    __table_args__ = (UniqueConstraint("attempt_id", "criterion", "assessor_id"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    attempt_id: Mapped[int] = mapped_column(ForeignKey("attempt.id", ondelete="CASCADE"))
    criterion: Mapped[str] = mapped_column(String(120))
    assessor_id: Mapped[int | None] = mapped_column(ForeignKey("person.id", ondelete="SET NULL"))
    assessor: Mapped[str] = mapped_column(String(200))
    points: Mapped[float] = mapped_column(Float)
    out_of: Mapped[float] = mapped_column(Float)
    override: Mapped[bool] = mapped_column(Boolean, default=False)
    remark: Mapped[str] = mapped_column(Text)
    at: Mapped[datetime] = mapped_column(Moment)

    attempt: Mapped[Attempt] = relationship(back_populates="marks")


class Note(Base):
    """A moment of a run that the instructor marked for the debrief."""

    __tablename__ = "note"

    id: Mapped[int] = mapped_column(primary_key=True)
    attempt_id: Mapped[int] = mapped_column(ForeignKey("attempt.id", ondelete="CASCADE"))
    t: Mapped[float] = mapped_column(Float)
    text: Mapped[str] = mapped_column(Text)
    author: Mapped[str] = mapped_column(String(200))

    attempt: Mapped[Attempt] = relationship(back_populates="notes")


class SignedVersion(Base):
    """An attempt as it was signed, before it was opened again for a correction."""

    __tablename__ = "signed_version"

    id: Mapped[int] = mapped_column(primary_key=True)
    attempt_id: Mapped[int] = mapped_column(ForeignKey("attempt.id", ondelete="CASCADE"))
    evidence: Mapped[str] = mapped_column(Text, deferred=True)
    verdict: Mapped[str] = mapped_column(Text)
    signer: Mapped[str] = mapped_column(String(200))
    signed_at: Mapped[datetime] = mapped_column(Moment)
    reopened_by: Mapped[str] = mapped_column(String(200))
    reopened_at: Mapped[datetime] = mapped_column(Moment)
    reason: Mapped[str] = mapped_column(Text)
    first_seal: Mapped[str] = mapped_column(String(64), default="", server_default="")
    """As of an attempt."""


class Appeal(Base):
    """A trainee's objection to a result, and an assessor's answer to it once there is one."""

    __tablename__ = "appeal"

    id: Mapped[int] = mapped_column(primary_key=True)
    attempt_id: Mapped[int] = mapped_column(ForeignKey("attempt.id", ondelete="CASCADE"))
    at: Mapped[datetime] = mapped_column(Moment)
    text: Mapped[str] = mapped_column(Text)
    answer: Mapped[str] = mapped_column(Text, default="")
    answered_by: Mapped[str] = mapped_column(String(200), default="")
    answered_at: Mapped[datetime | None] = mapped_column(Moment)


class Competency(Base):
    """A named set of drills: who is current in all of them has it."""

    __tablename__ = "competency"

    name: Mapped[str] = mapped_column(String(120), primary_key=True)
    drills: Mapped[str] = mapped_column(Text)
    """Ids of drills, one a line."""


class Task(Base):
    """How long a pass in a drill counts, and how long before its end a re-check is due."""

    __tablename__ = "task"

    drill: Mapped[str] = mapped_column(String(120), primary_key=True)
    title: Mapped[str] = mapped_column(String(300))
    valid_days: Mapped[int] = mapped_column(Integer)
    recheck_days: Mapped[int] = mapped_column(Integer)


class Assignment(Base):
    """A course that staff assigned to one person, or to a class and whoever joins it."""

    __tablename__ = "assignment"

    id: Mapped[int] = mapped_column(primary_key=True)
    course: Mapped[str] = mapped_column(String(60))
    joined: Mapped[str] = mapped_column(String(80))
    """The class; empty for the one without a name, and where it is for one person."""
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id", ondelete="CASCADE"))
    due: Mapped[datetime | None] = mapped_column(Moment)
    by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id", ondelete="SET NULL"))
    at: Mapped[datetime] = mapped_column(Moment)


class ClassMember(Base):
    """Somebody on the list of a class, and the group of it that they belong to."""

    __tablename__ = "class_member"

    person_id: Mapped[int] = mapped_column(ForeignKey("person.id", ondelete="CASCADE"), primary_key=True)
    joined: Mapped[str] = mapped_column(String(80), primary_key=True)
    """The class; empty for the one without a name."""
    team: Mapped[str] = mapped_column(String(40), default="", server_default="")
    """The group; empty for none."""


class ClassRule(Base):
    """What the trainees of a class may start themselves; a class without a row may start everything."""

    __tablename__ = "class_rule"

    joined: Mapped[str] = mapped_column(String(80), primary_key=True)
    """The class; empty for the one without a name."""
    starts: Mapped[str] = mapped_column(String(10))


class StaffNote(Base):
    """A note that staff keep beside a class, which no trainee sees: for whoever takes over, or for its author alone."""

    __tablename__ = "staff_note"

    id: Mapped[int] = mapped_column(primary_key=True)
    at: Mapped[datetime] = mapped_column(Moment)
    author_id: Mapped[int] = mapped_column(ForeignKey("person.id", ondelete="CASCADE"))
    own: Mapped[bool] = mapped_column(Boolean)
    text: Mapped[str] = mapped_column(String(500))


class Login(Base):
    """A session of somebody logged in, by the hash of its token; gone or ended means the token is dead."""

    __tablename__ = "login"

    token: Mapped[str] = mapped_column(String(64), primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id", ondelete="CASCADE"))
    began: Mapped[datetime] = mapped_column(Moment)
    expires: Mapped[datetime] = mapped_column(Moment)
    ended: Mapped[datetime | None] = mapped_column(Moment)
    joined: Mapped[str] = mapped_column(String(80), default="", server_default="")
    """The class that was joined; empty for staff, and for the class without a name."""


class ClassCode(Base):
    """A code by which trainees join a class; each class has one at a time."""

    __tablename__ = "class_code"

    code: Mapped[str] = mapped_column(String(12), primary_key=True)
    title: Mapped[str] = mapped_column(String(80), default="", server_default="")
    """The class, by name; empty for the one without a name."""
    opened_by: Mapped[int | None] = mapped_column(ForeignKey("person.id", ondelete="SET NULL"))
    opened: Mapped[datetime] = mapped_column(Moment)
    expires: Mapped[datetime] = mapped_column(Moment)


class Member(Base):
    """One of several server processes over the same records: whom it serves, as it last told the others."""

    __tablename__ = "member"

    name: Mapped[str] = mapped_column(String(20), primary_key=True)
    beat: Mapped[int] = mapped_column(BigInteger)
    """Grows with every telling: one that stands still is gone, whatever its clock says."""
    news: Mapped[str] = mapped_column(Text)


class Word(Base):
    """What an instructor at one server process says to a run at another, and what came of it."""

    __tablename__ = "word"

    id: Mapped[int] = mapped_column(primary_key=True)
    sender: Mapped[str] = mapped_column(String(20), index=True)
    receiver: Mapped[str] = mapped_column(String(20), index=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id", ondelete="CASCADE"))
    message: Mapped[str] = mapped_column(Text)
    at: Mapped[datetime] = mapped_column(Moment)
    taken: Mapped[bool] = mapped_column(Boolean, default=False)
    kind: Mapped[str] = mapped_column(String(10), default="")
    """done or refused; empty until it is answered."""
    said: Mapped[str] = mapped_column(Text, default="")


class Audit(Base):
    """Who did what, when and from where. Rows are only ever added, and chained soon after (``chain.py``)."""

    __tablename__ = "audit"
    __table_args__ = (Index("ix_audit_place", "place", unique=True),)

    id: Mapped[int] = mapped_column(primary_key=True)
    at: Mapped[datetime] = mapped_column(Moment, index=True)
    who: Mapped[str] = mapped_column(String(200))
    role: Mapped[str] = mapped_column(String(20))
    did: Mapped[str] = mapped_column(String(60), index=True)
    target: Mapped[str] = mapped_column(String(300), default="")
    detail: Mapped[str] = mapped_column(Text, default="")
    origin: Mapped[str] = mapped_column(String(60), default="")
    place: Mapped[int | None] = mapped_column(Integer, unique=False, default=None)
    """Its place in the chain; None until it is chained."""
    digest: Mapped[str] = mapped_column(String(64), default="", server_default="")
    link: Mapped[str] = mapped_column(String(64), default="", server_default="")
    scrubbed: Mapped[bool] = mapped_column(Boolean, default=False, server_default=false())
    """A name was taken out after it was chained, on purpose: its digest stays, its words prove nothing."""


def plain(row: Base) -> dict[str, object]:
    """The columns of a row as plain data by their names; what other tables hold is left out."""
    return {column.key: getattr(row, column.key) for column in row.__table__.columns}
