"""Opens the classroom: records, doors, live pages and plain pages over one server."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Sequence
from ipaddress import ip_address

import panel as pn
from tornado.httpserver import HTTPServer

from trainer.classroom import plan_doors, server
from trainer.classroom.access import signing_key
from trainer.classroom.attempt_page import Attempts, OneAttempt
from trainer.classroom.capped import CappedServer
from trainer.classroom.channel import ReadingsSocket
from trainer.classroom.class_list_page import ClassLists, ClassSummaryPage
from trainer.classroom.classroom import Classroom
from trainer.classroom.courses_page import CourseFile, Courses
from trainer.classroom.crew_page import CrewsPage
from trainer.classroom.doors import Door, GuidePage, Join, LogIn, LogOut, NewBrowser, Secret
from trainer.classroom.drill_page import DrillFile, Drills
from trainer.classroom.gate import Gate, Holder
from trainer.classroom.glance_page import ClassAtAGlance
from trainer.classroom.import_page import Import, Post
from trainer.classroom.lesson_page import LessonFileDoor, Lessons
from trainer.classroom.live import trainee_page
from trainer.classroom.live_page import Live
from trainer.classroom.members import BEAT_S
from trainer.classroom.mirror import together_page, watch_page
from trainer.classroom.page_socket import LARGEST_MESSAGE
from trainer.classroom.people_pages import Export, PublicKey
from trainer.classroom.person_page import OnePerson, People, Trail
from trainer.classroom.queue_page import Queue
from trainer.classroom.record_pages import AttemptFile, Mine, MyAppeal, MyFile, MyReport
from trainer.classroom.run_page import ChosenRun
from trainer.classroom.screen_page import Screen
from trainer.classroom.staff_live import instructor_page
from trainer.classroom.staff_page import StaffPage, not_taken, staff_page
from trainer.classroom.validity_page import Agreement, Competencies, Validity
from trainer.records.database import data_folder, named_url

STAFF_PAGES: tuple[type[StaffPage], ...] = (
    Live, ClassAtAGlance, ChosenRun, Screen, Queue, Attempts, OneAttempt, People, OnePerson, Validity, Competencies,
    Agreement, Drills, CrewsPage, Lessons, ClassLists, Courses, Trail, Import, Post,
)  # fmt: skip
ATTEND_S = 0.5
CHAIN_S = 20.0
"""So often new rows of the trail are chained."""
SWEEP_S = 1.0
"""So often it is looked whether who has a page open may still have it."""
LARGEST_UPLOAD = 40_000_000
LARGEST_FORM = 64_000
LARGEST_HEADER = 16_000
IDLE_S = 10.0
"""So long a connection may be silent between requests, or be at its headers."""
BODY_S = 20.0


def is_loopback(host: str) -> bool:
    """Whether only this machine can reach the address."""
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def pages(room: Classroom) -> dict[str, Callable[[], object]]:
    """The live pages by path."""
    pn.config.exception_handler = not_taken
    return {
        "/": trainee_page(room.rooms, room.access, room.open_practice, room.channels),
        "/instructor": instructor_page(room.desk, room.access),
        "/watch": watch_page(room.rooms, room.access, room.channels),
        "/together": together_page(room.rooms, room.access, room.channels),
        **{f"/{kind.path}": staff_page(kind, room) for kind in STAFF_PAGES},
    }


def patterns(room: Classroom) -> list[tuple[object, ...]]:
    """The plain pages by path."""
    given = {"access": room.access, "desk": room}
    plain: dict[str, type[Door]] = {
        "/login": LogIn,
        r"/browser/([\w.-]+)": NewBrowser,
        "/join": Join,
        "/logout": LogOut,
        "/secret": Secret,
        r"/attempts/(\d+)/(report\.pdf|report\.html|evidence\.json)": AttemptFile,
        r"/mine/(\d+)/appeal": MyAppeal,
        "/mine": Mine,
        r"/mine/(\d+)": MyReport,
        r"/mine/(\d+)/(report\.pdf|evidence\.json)": MyFile,
        r"/drills/([a-z][a-z0-9-]*)\.toml": DrillFile,
        r"/courses/([a-z][a-z0-9-]*)\.toml": CourseFile,
        "/classes/summary.html": ClassSummaryPage,
        r"/lessons/([a-z][a-z0-9-]*)\.toml": LessonFileDoor,
        r"/export/(attempts\.csv|criteria\.csv|xapi\.json|trail\.json|withdrawn\.json)": Export,
        r"/key\.pem": PublicKey,
        r"/guide\.html": GuidePage,
    }
    return [
        ("/readings", ReadingsSocket, {"access": room.access, "channels": room.channels}),
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
    gate = Gate(room.access, room.open_practice)
    if room.members is not None:
        room.members.start()

    def tell(address: str) -> None:
        _say(f"Open {address} in a browser. Stop with Ctrl+C.")
        while secrets:
            _say(f"Instructors: log in at {address}login as 'instructor', one-time password {secrets.pop()}")

    try:
        server.serve(
            port,
            host,
            tell=tell,
            beats={ATTEND_S: room.rooms.attend, CHAIN_S: room.chain_on, SWEEP_S: gate.sweep}
            | ({BEAT_S: room.beat} if room.members is not None else {}),
            pages=pages(room),
            origins=origins,
            extra_patterns=patterns(room),
            holder=Holder(room.access, gate.held),
            auth_provider=gate,
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
