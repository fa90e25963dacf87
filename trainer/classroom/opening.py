"""Opens the classroom: records, doors, live pages and plain pages over one server."""

from __future__ import annotations

import logging
import os
import sys
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from ipaddress import ip_address
from pathlib import Path
from typing import Any

from tornado.httpserver import HTTPServer

from trainer.classroom import plan_doors, server
from trainer.classroom.access import Access, signing_key
from trainer.classroom.capped import CappedServer
from trainer.classroom.channel import Channels, ReadingsSocket
from trainer.classroom.check_pages import AttemptReview, Competencies, Live, MyAppeal, Queue
from trainer.classroom.class_rooms import ClassRooms
from trainer.classroom.doors import Door, Join, LogIn, LogOut, NewBrowser, Secret
from trainer.classroom.draws import Draws
from trainer.classroom.drill_page import DrillFile, Drills
from trainer.classroom.gate import Gate, Holder
from trainer.classroom.instructor import InstructorControls
from trainer.classroom.limits import Limit
from trainer.classroom.live import trainee_page
from trainer.classroom.members import BEAT_S, Members, own_outbox
from trainer.classroom.mirror import watch_page
from trainer.classroom.past import recorded
from trainer.classroom.people_pages import (
    Agreement,
    Currency,
    Export,
    Import,
    OnePerson,
    People,
    Post,
    PublicKey,
    Trail,
)
from trainer.classroom.record_pages import AttemptDeed, AttemptFile, Attempts, Mine, MyFile, MyReport, OneAttempt
from trainer.classroom.staff_live import instructor_page
from trainer.classroom.starts import Starts
from trainer.classroom.worker import PROMPT, Once, Worker
from trainer.records import chain
from trainer.records.database import Records, RecordsAwayError, RecordsError, data_folder, named_url
from trainer.records.outbox import Outbox
from trainer.session import signing

log = logging.getLogger("trainer.classroom")

ATTEND_S = 0.5
CHAIN_S = 20.0
"""So often new rows of the trail are chained."""
LARGEST_UPLOAD = 40_000_000
LARGEST_FORM = 64_000
LARGEST_HEADER = 16_000
IDLE_S = 10.0
"""So long a connection may be silent between requests, or be at its headers."""
BODY_S = 20.0
LARGEST_MESSAGE = 200_000


def is_loopback(host: str) -> bool:
    """Whether only this machine can reach the address."""
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


class Classroom:
    """All that one server process needs. ``open_practice``: practising needs no joining. ``member``: this process's
    name among several over the same records."""

    def __init__(self, records_url: str | None, folder: Path, open_practice: bool, member: str | None = None) -> None:
        self.open_practice = open_practice
        self.folder = folder
        self.records_url = records_url
        self.records = Records(records_url)
        self.access = Access(self.records, signing_key(folder))
        self.outbox = Outbox(self.records, own_outbox(folder, member))
        self.rooms = ClassRooms(folder / "journal", self.outbox.put)
        self.key = signing.folder_key(folder)
        self.public_key = signing.public_hex(self.key)
        self.rooms.key = self.key
        # A sheet takes seconds: neither the fit page's checks nor the drills that it tries stand before it.
        self.worker, self.planner, self.sheets = Worker(), Worker(PROMPT), Once(Worker())
        self.rooms.recorded = recorded(self.records, self.rooms.drills)
        self.channels = Channels()
        self.uploads = Limit(20, 60.0)
        self.desk = InstructorControls(self.rooms, self.access, self.outbox, Starts(folder / "starts"))
        self.desk.draw = Draws(self.records)
        self._chainer = ThreadPoolExecutor(1, thread_name_prefix="chain")
        self._chaining: Future[None] | None = None
        self.members: Members | None = None
        if member is not None:
            self.members = Members(member, self.records, self.rooms.places, self.desk.carry_out)
            self.desk.members = self.members

    def beat(self) -> None:
        """What is done on the loop for the other server processes."""
        if self.members is not None:
            self.members.beat()
            if self.members.told:
                self.desk.codes = self.members.codes

    def chain_on(self) -> None:
        """Chain the new rows of the trail, in a thread; nobody waits for it."""
        if self._chaining is None or self._chaining.done():
            self._chaining = self._chainer.submit(self._chain)

    def _chain(self) -> None:
        try:
            chain.extend_all(self.records)
        except RecordsError as error:
            log.debug("the trail is chained later: %s", error)

    def close(self) -> None:
        """End what works beside the server, and hand over what waits."""
        if self.members is not None:
            self.members.stop()
        self.worker.stop()
        self.planner.stop()
        self.sheets.stop()
        self.rooms.close()
        self.outbox.stop()
        self._chainer.shutdown(wait=True, cancel_futures=True)
        self.records.close()

    def first_secret(self) -> str | None:
        """The one-time secret to print, if there is one; the records may also be away."""
        try:
            return self.access.first_secret()
        except RecordsAwayError as error:
            log.warning("%s", error)
            return None

    def pages(self) -> dict[str, Callable[[], Any]]:
        """The live pages by path."""
        return {
            "/": trainee_page(self.rooms, self.access, self.open_practice, self.channels),
            "/instructor": instructor_page(self.desk, self.access),
            "/watch": watch_page(self.rooms, self.access, self.channels),
        }

    def patterns(self) -> list[tuple[Any, ...]]:
        """The plain pages by path."""
        given = {"access": self.access, "desk": self}
        plain: dict[str, type[Door]] = {
            "/login": LogIn,
            r"/browser/([\w.-]+)": NewBrowser,
            "/join": Join,
            "/logout": LogOut,
            "/secret": Secret,
            "/people": People,
            r"/people/(\d+)": OnePerson,
            "/attempts": Attempts,
            r"/attempts/(\d+)": OneAttempt,
            r"/attempts/(\d+)/(mark|sign|verify)": AttemptDeed,
            r"/attempts/(\d+)/(report\.pdf|report\.html|evidence\.json)": AttemptFile,
            r"/attempts/(\d+)/(correct|answer)": AttemptReview,
            "/live": Live,
            "/queue": Queue,
            "/competency": Competencies,
            r"/mine/(\d+)/appeal": MyAppeal,
            "/mine": Mine,
            r"/mine/(\d+)": MyReport,
            r"/mine/(\d+)/(report\.pdf|evidence\.json)": MyFile,
            "/currency": Currency,
            "/agreement": Agreement,
            "/trail": Trail,
            "/import": Import,
            "/drills": Drills,
            r"/drills/([a-z][a-z0-9-]*)\.toml": DrillFile,
            "/post": Post,
            r"/export/(attempts\.csv|criteria\.csv|xapi\.json|trail\.json)": Export,
            r"/key\.pem": PublicKey,
        }
        return [
            ("/readings", ReadingsSocket, {"access": self.access, "channels": self.channels}),
            *((path, handler, given) for path, handler in {**plain, **plan_doors.DOORS}.items()),
        ]


def serve(
    port: int = 5006,
    host: str = "127.0.0.1",
    records_url: str | None = None,
    *,
    join: bool = False,
    origins: Sequence[str] = (),
    proxy: bool = False,
    member: str | None = None,
) -> None:
    """Serve a classroom until interrupted.

    On a loopback address anybody may practise; on others, or with ``join``, trainees join by code. Records are
    in the user's data folder unless ``records_url`` names a database. ``proxy``: a web server stands before this
    one and tells the visitor's address and scheme. ``member``: the name of this process among several over the same
    records. RecordsError for a URL or a name that is none.
    """
    # Whatever is written from here on is its owner's.
    os.umask(0o077)
    HTTPServer.configure(CappedServer)
    room = Classroom(named_url(records_url), data_folder(), is_loopback(host) and not join and not proxy, member)
    secrets = [secret] if (secret := room.first_secret()) is not None else []
    room.outbox.start()
    if room.members is not None:
        room.members.start()

    def tell(address: str) -> None:
        _say(f"Open {address} in a browser. Stop with Ctrl+C.")
        while secrets:
            _say(f"Instructors: log in at {address}login as 'instructor', one-time secret {secrets.pop()}")

    try:
        server.serve(
            port,
            host,
            tell=tell,
            beats={ATTEND_S: room.rooms.attend, CHAIN_S: room.chain_on}
            | ({BEAT_S: room.beat} if room.members is not None else {}),
            pages=room.pages(),
            origins=origins,
            extra_patterns=room.patterns(),
            holder=Holder(room.access),
            auth_provider=Gate(room.access, room.open_practice),
            http_server_kwargs={
                # Who has not come in sends forms; pages that take more say so (``doors.Upload``).
                "max_body_size": LARGEST_FORM,
                "max_buffer_size": LARGEST_UPLOAD,
                "max_header_size": LARGEST_HEADER,
                "idle_connection_timeout": IDLE_S,
                "body_timeout": BODY_S,
            },
            websocket_max_message_size=LARGEST_MESSAGE,
            sign_sessions=True,
            use_xheaders=proxy,
            secret_key=signing_key(room.folder),
        )
    finally:
        room.close()


def _say(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()
