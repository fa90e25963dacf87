"""All that one server process of a classroom works with: records, access, rooms, desk, workers."""

from __future__ import annotations

import logging
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path

from trainer.classroom.access import Access, signing_key
from trainer.classroom.channel import Channels
from trainer.classroom.class_rooms import ClassRooms
from trainer.classroom.class_screen import ClassScreen
from trainer.classroom.draws import Draws
from trainer.classroom.favorites import Favorites
from trainer.classroom.glance import Glances
from trainer.classroom.instructor import InstructorControls
from trainer.classroom.lesson_run import LessonRun
from trainer.classroom.limits import Limit
from trainer.classroom.members import Members, own_outbox
from trainer.classroom.past import assigned_to, barred, recorded
from trainer.classroom.starts import Starts
from trainer.classroom.worker import PROMPT, Once, Worker
from trainer.learn.courses import offered
from trainer.records import chain
from trainer.records.database import Records, RecordsAwayError, RecordsError
from trainer.records.outbox import Outbox
from trainer.resources import plant_files
from trainer.session import signing

log = logging.getLogger("trainer.classroom")


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
        self.rooms.assigned_to = assigned_to(self.records)
        self.rooms.barred = barred(
            self.records, lambda: {one.id: one.drills for one in offered(self.rooms.drills, list(plant_files()))}
        )
        self.channels = Channels()
        self.glances = Glances()
        self.lesson: LessonRun | None = None
        """The lesson that runs in this class, where there is one."""
        self.screen = ClassScreen()
        """What the projected screen of the class shows."""
        self.favorites = Favorites(folder / "favorites")
        self.uploads = Limit(20, 60.0)
        self.desk = InstructorControls(self.rooms, self.access, self.outbox, Starts(folder / "starts"))
        self.desk.draw = Draws(self.records)
        self._chainer = ThreadPoolExecutor(1, thread_name_prefix="chain")
        self._chaining: Future[None] | None = None
        self.members: Members | None = None
        if member is not None:
            self.members = Members(
                member,
                self.records,
                self.rooms.places,
                self.desk.carry_out,
                lambda place: self.glances.of(place).record(),
            )
            self.desk.members = self.members
            self.rooms.crews.far = self.members.far

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
