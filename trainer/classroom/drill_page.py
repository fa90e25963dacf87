"""``/drills``: drill files that staff bring into the class, made from a run or written by hand.

A file is data: read within bounds, checked as ``trainer check`` does, and begun once on each of its plants, in the
worker. Nothing of it runs.
"""

from __future__ import annotations

import secrets
import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session as Database
from tornado.web import HTTPError, stream_request_body

from trainer import resources
from trainer.classroom import paper
from trainer.classroom.doors import Door, Upload
from trainer.drawing.markup import Markup, el
from trainer.drills import library
from trainer.drills.schema import LARGEST_FILE, DrillError, read_drill
from trainer.records.tables import Attempt
from trainer.simulator import Session, check_drill, drill_hints

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


@stream_request_body
class Drills(Upload):
    """The page: what was brought in, a form to bring another, one to take one away."""

    roles = ("instructor",)
    largest = 2 * LARGEST_FILE

    def get(self, *said: Any) -> None:
        """The page."""
        own = {path.stem for path in library.files(resources.own_drills())}
        rows = [
            (
                el("strong", {}, drill.title),
                f"{drill.id}.toml",
                ", ".join(drill.plants),
                el("a", {"href": f"/drills/{drill.id}.toml"}, "Download"),
                self.form(
                    "/drills",
                    "Delete",
                    el("input", {"type": "hidden", "name": "gone", "value": drill.id}),
                    paper.field("sure", f"Type {drill.id} to delete it", autocomplete="off"),
                ),
            )
            for drill in self.desk.rooms.drills.values()
            if drill.id in own
        ]
        file = paper.field("file", "Drill file (TOML)", "file", accept=".toml", required="required")
        self.show(
            "Drills of this class",
            said,
            el(
                "p",
                {},
                "Bring in a drill file: one that the desk made of a run, once its text is finished, or one written by "
                "hand. It is checked first. It then stands among the others, for practice and for checks.",
            ),
            self.form("/drills", "Check and bring in", file, enctype="multipart/form-data"),
            paper.table(("Drill", "File", "Plants", "", ""), rows) if rows else el("p", {}, "None was brought in yet."),
        )

    async def post(self) -> None:
        """Bring one in, or take one away."""
        self.take_form()
        if gone := self.text("gone"):
            self.get(await self._delete(gone))
            return
        sent = self.request.files.get("file", [])
        if not sent or not sent[0].body:
            self.set_status(400)
            self.get(paper.told("Not done: no file was sent. Choose a drill file first.", "alert"))
            return
        if not self.desk.uploads.spend(str(self.somebody.person)):
            self.set_status(429)
            self.get(paper.told("Too many uploads; wait a minute.", "alert"))
            return
        found: Checked = await self.desk.worker.do(checked, sent[0].body)
        wrong = found.faults or await self._why_not(found)
        if wrong:
            self.set_status(400)
            self.get(paper.told("Not brought in. Correct this, then try again:", "alert"), _list(wrong))
            return
        self._keep(found)
        self.desk.rooms.look_up_drills()
        self.get(paper.told(f"{found.title}: brought in."), _list(found.hints, "It could be better:"))

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

    def _keep(self, found: Checked) -> None:
        folder = resources.own_drills()
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        part = folder / f"{found.id}.{secrets.token_hex(4)}.part"
        part.write_text(found.text, encoding="utf-8")
        part.replace(folder / f"{found.id}.toml")
        who = self.somebody
        self.desk.outbox.log(who.name, who.role, "drill brought in", found.id)

    async def _delete(self, drill: str) -> Any:
        own = {path.stem: path for path in library.files(resources.own_drills())}
        if drill not in own:
            raise HTTPError(404)
        if self.text("sure") != drill:
            return paper.told("Not done: the name was not typed the same; nothing was deleted.", "alert")
        if count := await self.look(lambda session: attempts_of(session, drill)):
            return paper.told(f"Not done: the evidence of {count} attempts needs this file.", "alert")
        if any(place.seat.drill is not None and place.seat.drill.id == drill for place in self.desk.rooms.places()):
            return paper.told("Not done: it is being run now.", "alert")
        own[drill].unlink(missing_ok=True)
        who = self.somebody
        self.desk.outbox.log(who.name, who.role, "drill deleted", drill)
        self.desk.rooms.look_up_drills()
        return paper.told(f"{drill}: deleted.")


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


def _list(lines: list[str], head: str = "") -> Markup | None:
    if not lines:
        return None
    return el("div", {}, el("p", {}, head) if head else None, el("ul", {}, [el("li", {}, line) for line in lines]))
