"""The command ``trainer records``: checking the records, backing them up while they are used, restoring a backup,
verifying an exported audit log."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import func, select

from trainer.records import chain
from trainer.records.database import Records, RecordsError, for_owner_only, named_url
from trainer.records.tables import Attempt, Person
from trainer.session import signing

BUSY_S = 2.0


@dataclass(frozen=True)
class State:
    """What a check of the records found: how many attempts and people, and whether trail and file are whole."""

    said: str
    attempts: int
    people: int
    trail: str
    whole: bool


def check(url: str | None) -> State:
    """Look the records through: the file, its tables, and the trail's chain. RecordsError for what cannot be used."""
    records = Records(url)
    try:
        if records.file is not None:
            if not records.file.exists():
                raise RecordsError(f"{records.file} is not there")
            faults = _faults(records.file)
            if faults:
                raise RecordsError(f"{records.file} is damaged ({faults}): restore a backup of it")
        records.prepare()
        chain.extend_all(records)
        with records.look() as session:
            found = chain.look_through(chain.rows(session))
            count = session.scalar(select(func.count()).select_from(Attempt)) or 0
            people = session.scalar(select(func.count()).select_from(Person)) or 0
        said = f"{records.shown}: {people} people, {count} attempts; trail: {found.said}"
        return State(said, count, people, found.said, found.ok)
    finally:
        records.close()


def backup(url: str | None, output: Path) -> Path:
    """Write a copy as it is at one moment, also while the server runs. RecordsError when it cannot be."""
    source = _file(url)
    if not source.exists():
        raise RecordsError(f"{source} is not there")
    part = output.with_name(f"{output.name}.part")
    try:
        part.unlink(missing_ok=True)
        for_owner_only(part)
        with closing(sqlite3.connect(source)) as here, closing(sqlite3.connect(part)) as there:
            here.backup(there, pages=1000)
            there.execute("PRAGMA journal_mode=DELETE")
        if faults := _faults(part):
            raise RecordsError(f"{source} is damaged ({faults}): this copy is not kept")
        part.replace(output)
    except sqlite3.Error as error:
        raise RecordsError(f"{source} cannot be copied: {error}") from error
    except OSError as error:
        raise RecordsError(f"{output} cannot be written: {error.strerror or error}") from error
    finally:
        part.unlink(missing_ok=True)
    return output


def restore(url: str | None, copy: Path) -> Path:
    """Put a backup in the place of the records; what was there is kept beside. The server must not run meanwhile."""
    target = _file(url)
    if not copy.exists():
        raise RecordsError(f"{copy} is not there")
    if faults := _faults(copy):
        raise RecordsError(f"{copy} is damaged ({faults}): take another backup")
    if target.exists() and _in_use(target):
        raise RecordsError(f"{target} is in use: stop the server first")
    part = target.with_name(f"{target.name}.part")
    try:
        part.unlink(missing_ok=True)
        for_owner_only(part)
        with closing(sqlite3.connect(copy)) as here, closing(sqlite3.connect(part)) as there:
            here.backup(there)
        if target.exists():
            before = target.with_name(f"{target.name}.before-{datetime.now(UTC):%Y%m%dT%H%M%S}")
            target.replace(before)
        for name in ("-wal", "-shm"):
            target.with_name(target.name + name).unlink(missing_ok=True)
        part.replace(target)
    except (sqlite3.Error, OSError) as error:
        raise RecordsError(f"{copy} cannot be restored: {error}") from error
    finally:
        part.unlink(missing_ok=True)
    return target


def _file(url: str | None) -> Path:
    records = Records(url)
    records.close()
    if records.file is None:
        raise RecordsError("this database is PostgreSQL: use its own pg_dump and pg_restore")
    return records.file


def _faults(path: Path) -> str:
    """What the database itself finds wrong with a file; empty when nothing."""
    try:
        with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True, timeout=BUSY_S)) as connection:
            first = connection.execute("PRAGMA integrity_check").fetchone()
            names = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    except sqlite3.Error as error:
        return str(error)
    if first is None or first[0] != "ok":
        return str(first[0] if first else "no answer").splitlines()[0]
    return "" if "alembic_version" in names else "it holds no records of this program"


def _in_use(path: Path) -> bool:
    try:
        with closing(sqlite3.connect(path, timeout=BUSY_S)) as connection:
            connection.execute("PRAGMA locking_mode=EXCLUSIVE")
            connection.execute("BEGIN EXCLUSIVE")
            connection.rollback()
    except sqlite3.OperationalError as error:
        return "locked" in str(error)
    except sqlite3.Error:
        # Damaged: it cannot be in anybody's use.
        return False
    return False


def verify(file: Path, key: Path | None) -> tuple[str, bool]:
    """Hold an exported log against its chain, and with a public key against its signature; RecordsError for a file
    that cannot be read, SigningError for a key that is none."""
    public = signing.read_public(key) if key is not None else None
    try:
        document = json.loads(file.read_text(encoding="utf-8"))
    except OSError as error:
        raise RecordsError(f"{file} cannot be read: {error.strerror or error}") from error
    except (ValueError, RecursionError) as error:
        raise RecordsError(f"{file} is no exported log: {error}") from error
    found = chain.verify(document, public)
    signed = "" if public is None or not found.ok else "; its end is signed with that key"
    return f"{file}: {'whole' if found.ok else 'NOT WHOLE'}: {found.said}{signed}", found.ok


def work(action: str, file: Path | None, url: str | None, key: Path | None = None) -> tuple[str, bool]:
    """Do what the verb says: (a sentence, whether all is well). RecordsError for what cannot be done."""
    if action == "check":
        state = check(named_url(url))
        return state.said, state.whole
    if action not in ("backup", "restore", "verify") or file is None:
        raise RecordsError("write check, backup FILE, restore FILE, or verify FILE for an exported audit log")
    if action == "verify":
        return verify(file, key)
    if action == "backup":
        return f"{backup(named_url(url), file)}: written", True
    return f"{restore(named_url(url), file)}: restored from {file}", True
