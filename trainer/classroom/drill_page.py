"""``/drills``: drill files that staff bring into the class, made from a run or written by hand.

A file is data: read within bounds, checked as ``trainer check`` does, and begun once on each of its plants, in the
worker. Nothing of it runs.
"""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, field
from pathlib import Path

import panel as pn
from panel.viewable import Viewable
from sqlalchemy import func, select
from sqlalchemy.orm import Session as Database
from tornado.web import HTTPError

from trainer import resources
from trainer.classroom.access import Who
from trainer.classroom.doors import Door
from trainer.classroom.instructor import RefusedError
from trainer.classroom.staff_files import OneFile
from trainer.classroom.staff_page import StaffPage, html, listed, row, typed
from trainer.classroom.staff_table import fill, table
from trainer.drawing.markup import Markup, el, join
from trainer.drills import library
from trainer.drills.schema import LARGEST_FILE, DrillError, read_drill
from trainer.kept import put
from trainer.records.tables import Attempt
from trainer.simulator import Session, check_drill, drill_hints

ABOUT = (
    "Bring in a drill file: one that the desk made of a run, once its text is finished, or one written by hand. It is "
    "checked first. It then stands among the others, for practice and for checks."
)
MOST_DRILLS = 200
MOST_TOLD = 20
TRIED_S = 2.0
"""So long a new drill runs, to see that it begins."""


@dataclass(frozen=True)
class Checked:
    """What looking a file through found: its drill by id and title, or every fault; and what could be better."""

    id: str = ""
    title: str = ""
    text: str = ""
    faults: list[str] = field(default_factory=list)
    hints: list[str] = field(default_factory=list)


def checked(content: bytes) -> Checked:
    """Look a drill file through: its form, its sense on every plant that it names, and its first seconds there."""
    if len(content) > LARGEST_FILE:
        return Checked(faults=[f"larger than {LARGEST_FILE} bytes; a drill is a few pages at most."])
    try:
        text = content.decode("utf-8-sig")
        drill = read_drill(text, "drill")
    except UnicodeDecodeError:
        return Checked(faults=["is not UTF-8 text: save it as a TOML file."])
    except DrillError as error:
        return Checked(faults=[str(problem) for problem in error.problems[:MOST_TOLD]])
    if drill.id in {path.stem for path in library.files()}:
        return Checked(faults=[f"id: {drill.id!r} is the name of a shipped drill; give yours another."])
    with tempfile.TemporaryDirectory(prefix="trainer-drill-") as folder:
        # The id is letters, digits and dashes: a file's name and nothing more.
        path = Path(folder) / f"{drill.id}.toml"
        path.write_text(text, encoding="utf-8")
        faults = check_drill(path)
        for plant in drill.plants if not faults else ():
            try:
                Session.start(path, plant).advance(TRIED_S)
            except (ValueError, ArithmeticError) as error:
                faults.append(f"does not begin on {plant}: {error}")
        hints = [] if faults else drill_hints(path)
    return Checked(drill.id, drill.title, text, faults[:MOST_TOLD], hints[:MOST_TOLD])


def attempts_of(session: Database, drill: str) -> int:
    """How many attempts at this drill the records hold."""
    return session.scalar(select(func.count()).select_from(Attempt).where(Attempt.drill == drill)) or 0


class Drills(StaffPage):
    """What was brought in, a field to bring another, a way to take one away."""

    path, title, roles = "drills", "Drills of this class", ("instructor",)

    def lay_out(self) -> list[Viewable]:
        """The field for a file, the table, and what is deleted."""
        self.file = OneFile("Drill file (TOML)", LARGEST_FILE, self.still)
        self.listed = table(
            {"drill": "Drill", "file": "File", "plants": "Plants"}, links=("file",), empty="None was brought in yet."
        )
        self.gone = pn.widgets.Select(label="Drill to delete", width=320)
        self.sure = pn.widgets.TextInput(label="Type its id to delete it", max_length=120, width=320)
        return [
            html(el("p", {}, ABOUT)),
            self.file,
            self.button("Check and bring in", self._bring),
            self.listed,
            row(self.gone, self.sure, self.button("Delete", self._delete)),
        ]

    async def load(self) -> None:
        """The drills that were brought in."""
        own = {path.stem for path in library.files(resources.own_drills())}
        drills = [drill for drill in self.room.rooms.drills.values() if drill.id in own]
        fill(
            self.listed,
            (
                {
                    "drill": drill.title,
                    "file": (f"{drill.id}.toml", f"/drills/{drill.id}.toml"),
                    "plants": ", ".join(drill.plants),
                }
                for drill in drills
            ),
        )
        self.gone.options = [drill.id for drill in drills]

    async def _bring(self, who: Who) -> Markup | None:
        """Check the file in the worker, and keep it when it is sound."""
        sent = self.file.take()
        if not self.room.uploads.spend(str(who.person)):
            raise RefusedError("too many uploads; wait a minute")
        found: Checked = await self.room.worker.do(checked, sent)
        wrong = found.faults or await self._why_not(found)
        if wrong:
            self.tell(join("Not brought in. Correct this, then try again:", listed(wrong)), "alert")
            return None
        put(resources.own_drills() / f"{found.id}.toml", found.text)
        self.room.outbox.log(who.name, who.role, "drill brought in", found.id)
        self.room.rooms.look_up_drills()
        return join(
            f"{found.title}: brought in.", [" It could be better:", listed(found.hints)] if found.hints else None
        )

    async def _why_not(self, found: Checked) -> list[str]:
        folder = resources.own_drills()
        path = folder / f"{found.id}.toml"
        if path.exists():
            # Evidence of earlier attempts is computed from the file that they were done with.
            count = await self.look(lambda session: attempts_of(session, found.id))
            if count and path.read_text("utf-8") != found.text:
                return [f"id: {count} attempts were done with the file of this id; give the changed drill another id."]
        elif len(library.files(folder)) >= MOST_DRILLS:
            return [f"{MOST_DRILLS} drills were brought in already; delete one first."]
        return []

    async def _delete(self, who: Who) -> str:
        drill = typed(self.gone)
        own = {path.stem: path for path in library.files(resources.own_drills())}
        if drill not in own:
            raise RefusedError("there is no such drill")
        if typed(self.sure) != drill:
            raise RefusedError("the name was not typed the same; nothing was deleted")
        if count := await self.look(lambda session: attempts_of(session, drill)):
            raise RefusedError(f"the evidence of {count} attempts needs this file")
        if any(place.seat.drill is not None and place.seat.drill.id == drill for place in self.room.rooms.places()):
            raise RefusedError("it is being run now")
        own[drill].unlink(missing_ok=True)
        self.room.outbox.log(who.name, who.role, "drill deleted", drill)
        self.room.rooms.look_up_drills()
        self.sure.value = ""
        return f"{drill}: deleted."


class DrillFile(Door):
    """``/drills/ID.toml``: a file that was brought in, to read or to change."""

    roles = ("instructor", "assessor")

    def get(self, drill: str) -> None:
        """The file."""
        path = {path.stem: path for path in library.files(resources.own_drills())}.get(drill)
        if path is None:
            raise HTTPError(404)
        self.set_header("Content-Type", "application/toml; charset=utf-8")
        self.set_header("Content-Disposition", f'attachment; filename="{drill}.toml"')
        self.write(path.read_text("utf-8"))
