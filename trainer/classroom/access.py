"""Who may come in: accounts with a secret, trainees with a class code, and tokens that end.

Nothing here knows of HTTP. Secrets are argon2 hashes, tokens are signed for the browser and kept as hashes, and
tries that fail are counted by name and by address.
"""

from __future__ import annotations

import logging
import os
import secrets
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from itsdangerous import BadSignature, URLSafeTimedSerializer
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from trainer.classroom.limits import Delays
from trainer.records import logins, people
from trainer.records.audit import note
from trainer.records.database import Records, RecordsAwayError
from trainer.records.tables import Person

log = logging.getLogger("trainer.classroom")

FIRST_NAME = "instructor"
SHORTEST_SECRET = 10
LONGEST_SECRET = 200
STAFF = ("instructor", "assessor")
#: So long is a token trusted without asking the records again, so that another server's log-out counts soon.
TRUSTED_S = 10.0
#: A token used in this process keeps working while the records are away.
KEPT_S = 12 * 3600.0
MOST_KEPT = 5000
DEVICE_DAYS = 365
#: So long a link for a new browser opens.
LINK_HOURS = 12
#: So long nobody new is looked up after the records did not answer.
AWAY_S = 3.0


CLOSED = "This class code is not open; ask the instructor for the code of today."


class DeniedError(Exception):
    """Somebody may not come in; one sentence for them, which tells no more than they need."""


@dataclass(frozen=True)
class Who:
    """Somebody logged in. ``setting``: must choose a secret before anything else."""

    person: int
    name: str
    role: str
    setting: bool = False
    joined: str = ""
    """The class that a trainee joined; empty for the one without a name."""

    @property
    def staff(self) -> bool:
        """Instructor or assessor."""
        return self.role in STAFF and not self.setting


def signing_key(folder: Path) -> bytes:
    """The key that signs cookies: of this data folder, or TRAINER_SECRET for several hosts."""
    given = os.environ.get("TRAINER_SECRET")
    if given:
        return given.encode()
    path = folder / "cookie.key"
    try:
        # Made whole or not at all, by whoever comes first.
        with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(secrets.token_bytes(32))
    except FileExistsError:
        pass
    key = path.read_bytes()
    if len(key) < 32:
        raise OSError(f"{path} is no key; remove it, and everybody has to log in again")
    return key


class Access:
    """The door of a classroom."""

    def __init__(
        self,
        records: Records,
        key: bytes,
        hasher: PasswordHasher | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.records = records
        self._signer = URLSafeTimedSerializer(key, salt="login")
        # The least that the OWASP password storage cheat sheet allows (from memory): a class joins in seconds.
        self._hasher = hasher or PasswordHasher(time_cost=2, memory_cost=19 * 1024, parallelism=1)
        self._device_signer = URLSafeTimedSerializer(key, salt="device")
        self._link_signer = URLSafeTimedSerializer(key, salt="link")
        # By account and address together, so that nobody's guesses cost another; by account alone, so that many
        # addresses together gain little. Class codes are too long to be guessed: those who share an address with
        # somebody who tries wait a second at most.
        self._by_pair = Delays(3, 15.0, clock=clock)
        self._by_name = Delays(30, 5.0, clock=clock)
        self._by_code_pair = Delays(3, 15.0, clock=clock)
        self._by_code = Delays(20, 1.0, clock=clock)
        self._known: dict[str, tuple[Who, float]] = {}
        self._ended: set[str] = set()
        self._asking: set[str] = set()
        self._asker = ThreadPoolExecutor(1, thread_name_prefix="access")
        self._away_until = 0.0
        # A name that nobody has takes as long as one with a wrong secret.
        self._nobody = self._hasher.hash(secrets.token_urlsafe(16))

    # Accounts

    def first_secret(self) -> str | None:
        """On the first start: makes the instructor's account and gives its one-time secret.

        Also when no instructor can log in any more: then the account gets a new one. None otherwise.
        """
        try:
            return self._first_secret()
        except IntegrityError:
            # Another process made the account at the same moment, and told the secret.
            return None

    def _first_secret(self) -> str | None:
        with self.records.work() as session:
            logins.tidy(session)
            if people.with_secret(session, ["instructor"]):
                waiting = people.find(session, FIRST_NAME)
                if waiting is None or not waiting.once or people.with_secret(session, ["instructor"]) > 1:
                    return None
            return self._renew(people.find(session, FIRST_NAME) or people.add(session, FIRST_NAME, "instructor"))

    def _renew(self, person: Person) -> str:
        secret = secrets.token_urlsafe(12)
        person.secret, person.once, person.active = self._hasher.hash(secret), True, True
        return secret

    def invite(self, by: Who, name: str, role: str) -> str:
        """A new instructor or assessor, or a new one-time secret for one; gives the secret."""
        if role not in STAFF:
            raise people.PeopleError("only instructors and assessors get a password to log in with")
        with self.records.work() as session:
            person = people.find(session, name)
            if person is not None and person.role != role:
                raise people.PeopleError(f"{person.name!r} is in the records as {person.role}; take another name")
            if person is None:
                person = people.add(session, name, role)
            logins.end_all(session, person)
            self._known.clear()
            note(session, by.name, by.role, "invited", person.name, role)
            return self._renew(person)

    def choose_secret(self, who: Who, secret: str) -> str:
        """Take the place of a one-time secret; gives a fresh token. DeniedError for one too short."""
        if not SHORTEST_SECRET <= len(secret) <= LONGEST_SECRET:
            raise DeniedError(f"A password has {SHORTEST_SECRET} to {LONGEST_SECRET} characters.")
        hashed = self._hasher.hash(secret)
        with self.records.work() as session:
            person = session.get(Person, who.person)
            if person is None or person.role not in STAFF:
                raise DeniedError("This account has no password.")
            person.secret, person.once = hashed, False
            logins.end_all(session, person)
            self._known.clear()
            note(session, person.name, person.role, "password chosen")
            return self._sign(logins.begin(session, person))

    # Coming in

    def log_in(self, name: str, secret: str, origin: str) -> str:
        """The cookie of somebody with a secret. DeniedError, in the same words whatever was wrong."""
        try:
            with self.records.look() as session:
                person = self._named(session, name)
                hashed = person.secret if person is not None else None
            # Hashing takes a while, and no transaction waits for it.
            right = self._right(hashed, secret)
            with self.records.work() as session:
                person = self._named(session, name)
                if right and person is not None and person.secret == hashed and person.active and person.role in STAFF:
                    if person.once:
                        # Used once, whether or not its holder goes on to choose another.
                        person.secret = None
                    note(session, person.name, person.role, "logged in", origin=origin)
                    self._by_pair.clear(pair_of(name, origin))
                    return self._sign(logins.begin(session, person, hours=0.25 if person.once else logins.LOGIN_HOURS))
                note(session, name[:200], "", "log-in refused", origin=origin)
        except RecordsAwayError as error:
            raise DeniedError("The records cannot be reached now; try again in a minute.") from error
        self._failed(name, origin)
        raise DeniedError("Wrong name or password.")

    def join(self, name: str, code: str, number: str, origin: str) -> tuple[str, str | None]:
        """(cookie, new personal number) of a trainee with a class code.

        Who joins for the first time gets a personal number; later the name needs it, so that nobody trains
        under another's name.
        """
        try:
            with self.records.look() as session:
                joined = logins.joins(session, code)
                open_class = joined is not None
                found = people.find(session, name) if open_class else None
                hashed = found.secret if found is not None else None
            fresh, right, made = None, False, None
            if open_class and hashed is not None:
                right = self._right(hashed, number.strip())
            elif open_class:
                fresh = f"{secrets.randbelow(10**6):06d}"
                made = self._hasher.hash(fresh)
            with self.records.work() as session:
                wrong = self._why_not(session, name, hashed, right) if open_class else CLOSED
                if wrong:
                    note(session, name[:200], "", "joining refused", origin=origin)
                else:
                    person = people.find(session, name) or people.add(session, name)
                    person.secret = made or person.secret
                    note(session, person.name, person.role, "joined", joined or "", origin=origin)
                    self._by_pair.clear(pair_of(name, origin))
                    self._by_code_pair.clear(pair_of(name, origin))
                    return self._sign(logins.begin(session, person, joined=joined or "")), fresh
        except RecordsAwayError as error:
            raise DeniedError("The records cannot be reached now; try again in a minute.") from error
        except ValueError as error:
            raise DeniedError(f"{error}.".capitalize()) from error
        if open_class:
            self._failed(name, origin)
        else:
            self._by_code_pair.fail(pair_of(name, origin))
            self._by_code.fail(origin)
        raise DeniedError(wrong)

    @staticmethod
    def _why_not(session: Session, name: str, hashed: str | None, right: bool) -> str:
        """Why this name does not join; empty when it does. ``hashed`` is the number that was looked at."""
        person = people.find(session, name)
        if person is not None and (person.role != "trainee" or not person.active):
            return "This name is taken; add something to tell the two apart."
        if (person.secret if person is not None else None) != hashed or (hashed is not None and not right):
            return "This name is in use: give its personal number, or ask the instructor."
        return ""

    def log_out(self, cookie: str) -> None:
        """The cookie's token is dead, wherever a copy of it may be."""
        token = self._token(cookie)
        if token is None:
            return
        login = logins.digest(token)
        self._known.pop(login, None)
        # Here at once, and also when the records cannot be told.
        self._ended.add(login)
        with self.records.work() as session:
            logins.end(session, token)

    def login(self, cookie: str | None) -> str:
        """The name of the log-in that this cookie belongs to; empty for none, an altered or an expired one.

        The name (a hash of the token) lets nobody in: it may stand in a page, the cookie may not.
        """
        token = self._token(cookie)
        return "" if token is None else logins.digest(token)

    def who(self, cookie: str | None) -> Who | None:
        """Who comes with this cookie; None for nobody, an altered, ended or expired one."""
        return self.holder(self.login(cookie))

    def holder(self, login: str) -> Who | None:
        """Who a log-in belongs to, by its name; None when it has ended or never was."""
        if not login or login in self._ended:
            return None
        known = self._known.get(login)
        now = time.monotonic()
        if known is not None and now - known[1] < KEPT_S:
            # Never waits on a known log-in: a drill must not stand still because the records are slow or away.
            if now - known[1] >= TRUSTED_S and login not in self._asking:
                self._asking.add(login)
                self._asker.submit(self._ask_again, login)
            return known[0]
        if self.away:
            return None
        try:
            return self.ask(login)
        except RecordsAwayError:
            self._away_until = now + AWAY_S
            return None

    @property
    def away(self) -> bool:
        """Whether the records did not answer a moment ago: then nobody new can be known."""
        return time.monotonic() < self._away_until

    def stale(self, login: str) -> bool:
        """Whether it is a while since the records said who this log-in belongs to."""
        known = self._known.get(login)
        return bool(login) and (known is None or time.monotonic() - known[1] >= TRUSTED_S)

    def ask(self, login: str) -> Who | None:
        """Who a log-in belongs to, as the records say now. RecordsAwayError when they do not answer."""
        with self.records.look() as session:
            held = logins.held(session, login)
        if held is None:
            self._known.pop(login, None)
            return None
        person, login_row = held
        setting = person.role in STAFF and person.once
        who = Who(person.id, person.name, person.role, setting, login_row.joined)
        if len(self._known) >= MOST_KEPT:
            self._known.pop(next(iter(self._known)), None)
        self._known[login] = (who, time.monotonic())
        return who

    def _ask_again(self, login: str) -> None:
        try:
            self.ask(login)
        except RecordsAwayError:
            log.debug("the records are away; log-ins known here go on")
        finally:
            self._asking.discard(login)

    def forget(self) -> None:
        """Ask the records again about everybody, after somebody was left out."""
        self._known.clear()

    # Inside

    def _sign(self, token: str) -> str:
        return str(self._signer.dumps(token))

    def _token(self, cookie: str | None) -> str | None:
        if not cookie or len(cookie) > 500:
            return None
        try:
            # How long it holds stands in the records: a clock that was set back makes no cookie one of the future.
            token = self._signer.loads(cookie)
        except BadSignature:
            return None
        return token if isinstance(token, str) else None

    @staticmethod
    def _named(session: Session, name: str) -> Person | None:
        try:
            return people.find(session, name)
        except ValueError:
            return None

    def _right(self, hashed: str | None, secret: str) -> bool:
        try:
            return self._hasher.verify(hashed or self._nobody, secret[:LONGEST_SECRET]) and hashed is not None
        except (VerificationError, InvalidHashError):
            return False

    def _failed(self, name: str, origin: str) -> None:
        self._by_pair.fail(pair_of(name, origin))
        self._by_name.fail(_folded(name))

    # How long a try waits

    def wait(self, name: str, origin: str, device: str | None = None) -> float:
        """Seconds that a try at this account waits before it is looked at. A browser that this account has come in
        with before (``device`` is its cookie) waits for nobody's guesses but those from its own address."""
        by_pair = self._by_pair.wait(pair_of(name, origin))
        if self.knows(device, name):
            return min(by_pair, 2.0)
        return max(by_pair, self._by_name.wait(_folded(name)))

    def wait_to_join(self, name: str, origin: str, device: str | None = None) -> float:
        """The same for joining: also after wrong codes, longer and longer for that name from that address, and for a
        second at most for other names from there."""
        by_code = self._by_code_pair.wait(pair_of(name, origin))
        if self.knows(device, name):
            by_code = min(by_code, 2.0)
        return max(self.wait(name, origin, device), by_code, self._by_code.wait(origin))

    def device(self, name: str) -> str:
        """The cookie by which a browser is known again that this person has come in with; it lets nobody in."""
        return str(self._device_signer.dumps(_folded(name)))

    def knows(self, device: str | None, name: str) -> bool:
        """Whether this cookie is that of a browser that this person came in with, or got by a link."""
        return self._named_in(self._device_signer, device, DEVICE_DAYS * 86400.0) == _folded(name)

    def link(self, name: str) -> str:
        """What makes a new browser one that this person has come in with; given out by staff, it lets nobody in."""
        return str(self._link_signer.dumps(_folded(name)))

    def linked(self, link: str) -> str | None:
        """The name that a link was given out for, as compared; None for none, an altered or an old one."""
        return self._named_in(self._link_signer, link, LINK_HOURS * 3600.0)

    @staticmethod
    def _named_in(signer: URLSafeTimedSerializer, signed: str | None, seconds: float) -> str | None:
        if not signed or len(signed) > 500:
            return None
        try:
            name, at = signer.loads(signed, return_timestamp=True)
        except BadSignature:
            return None
        return str(name) if time.time() - at.timestamp() < seconds else None


def _folded(name: str) -> str:
    return " ".join(name.split()).casefold()[:100]


def pair_of(name: str, origin: str) -> str:
    """An account and an address together, by which tries that fail are counted."""
    return f"{_folded(name)}\n{origin}"
