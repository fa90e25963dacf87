"""The instructor's live page: boards over the socket, each message held to its sender's role."""

from __future__ import annotations

import logging
import re
import time
from collections.abc import Callable, Mapping
from typing import Any

import panel as pn
from bokeh.document import Document
from panel.io import hold

from trainer import resources, units
from trainer.classroom import desk_readings, desk_view, skeleton
from trainer.classroom.access import Access
from trainer.classroom.gate import login_of, told_in
from trainer.classroom.instructor import LOSES, CutsShortError, InstructorControls, RefusedError, starting_point
from trainer.classroom.interpreter import interpreters
from trainer.classroom.limits import Limit
from trainer.classroom.live import modest
from trainer.classroom.quick import Recent
from trainer.classroom.turns import MESSAGES_A_SECOND
from trainer.console.bindings import Bindings, bindings
from trainer.console.board import Board, style
from trainer.console.in_units import in_units
from trainer.console.message import Message
from trainer.console.reading import Reading
from trainer.console.template import Template
from trainer.records.database import RecordsAwayError
from trainer.wording import told

log = logging.getLogger("trainer.classroom")

BEAT_MS = 250
TOO_MUCH = "Too much at once; wait a moment, then do the last again."
_NUMBER = re.compile(r"[0-9a-f]{20}")

_HTML = """{% extends base %}
{% block title %}Instructor{% endblock %}
{% block postamble %}
<meta name="viewport" content="width=device-width, initial-scale=1">
<style>@CSS@</style>
<script>
  document.documentElement.dataset.theme = localStorage.getItem("trainer-theme")
    ?? (matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light")
</script>
{% endblock %}
{% block contents %}
<main class="desk-page">@BOARDS@</main>
{{ embed(roots.words) }}
{% endblock %}
"""


class StaffLive:
    """One open page of an instructor."""

    def __init__(self, desk: InstructorControls, access: Access, document: Document) -> None:
        self._desk = desk
        self._access = access
        self._document = document
        self._login = login_of(document)
        self._rate = Limit(MESSAGES_A_SECOND * 2, 2.0)
        self.chosen: str | None = None
        self.units: units.System = "field"
        self._shown: dict[str, Reading] = {}
        self._once: dict[str, Reading] = {}
        self._said: dict[str, Reading] = {}
        self._asked: tuple[Message, str | None] | None = None
        """What would cut runs short and waits for a word, with the place that was chosen then."""
        self._loses: list[str] = []
        self._question: dict[str, Reading] = {"desk.question": {"html": ""}}
        self._recent = Recent()
        self._count = 0
        self._drawn: dict[str, str] = {}
        self._binds: dict[str, Bindings] = {}
        sheet = style("board.css", "shell.css", "desk.css")
        self.boards = {name: Board(name=name, stylesheets=[sheet]) for name in desk_view.BOARDS}
        self.template = Template(_template(), nb_template="")
        for name, board in self.boards.items():
            self.template.add_panel(name, board)
            board.listen(self.hear)
        self.template.add_panel("words", pn.Column(*interpreters(told_in(document)), width=0, height=0, margin=0))
        self._say("", "quiet")
        if self._who() is not None:
            self._look_up()
            self.show()

    def _who(self) -> Any:
        who = self._access.holder(self._login)
        return who if who is not None and who.role == "instructor" and not who.setting else None

    def _look_up(self) -> None:
        try:
            self._desk.look_up_codes()
        except RecordsAwayError as error:
            self._say(str(error), "refused")

    def hear(self, message: Message | object) -> None:
        """A message from the browser; nothing is done for who is no instructor, or not any more."""
        who = self._who()
        if who is None or not modest(message) or not isinstance(message, Mapping):
            return
        try:
            with hold(self._document):
                if self._rate.spend("page"):
                    self._act(message, who)
                    self.show()
                elif self._said.get("desk.said", {}).get("text") != TOO_MUCH:
                    self._say(TOO_MUCH, "refused")
                    self._give(self._said)
        except Exception:
            log.exception("the instructor's page could not do %s", message.get("page"))
            self._say("Something went wrong; the reason is in the server's log.", "refused")
            self._give(self._said)

    def _act(self, message: Message, who: Any) -> None:
        if message.get("page") == "select":
            number = str(message.get("number"))
            if _NUMBER.fullmatch(number) and self._desk.place(number) is not None:
                self.chosen = number
                self._say("", "quiet")
            return
        if message.get("page") == "theme":
            return
        if message.get("page") == "units":
            self.units = "metric" if self.units == "field" else "field"
            self._drawn.clear()
            return
        asked, chosen = self._asked, self.chosen
        if message.get("page") == "undo" and _NUMBER.fullmatch(str(message.get("number"))):
            # For whom it was done, whoever is chosen by now.
            chosen = str(message.get("number"))
        if message.get("page") in ("cut", "leave"):
            self._ask(None, None, "")
            if asked is None or message.get("page") == "leave":
                self._say("Nothing was taken from a run.", "done")
                return
            message, chosen = {**asked[0], "cut": True}, asked[1]
        message = self._in_field_units(message)
        if message.get("page") in ("start", "start_from", "allow", "undo", *LOSES):
            self._ask(None, None, "")
        try:
            said = self._desk.do(message, who, chosen, lambda said, kind: self._heard(message, said, kind, chosen))
        except CutsShortError as error:
            self._ask(message, chosen, str(error))
            return
        except RefusedError as error:
            self._say(f"Not done: {error}", "refused")
            return
        if said is not None:
            self._done(message, said, chosen)

    def _in_field_units(self, message: Message) -> Mapping[str, Any]:
        """A bare number was typed in the units now shown: it gets that unit."""
        place, value = self._desk.place(self.chosen), str(message.get("value") or "").strip()
        machine = place.machine if place is not None else None
        if machine is None or self.units == "field" or not value[-1:].isdigit():
            return message
        do, _, target = str(message.get("what")).partition(" ")
        known = machine.operables.get((do, target)) or machine.signals.get(str(message.get("variable")))
        if known is None or known.unit not in units.UNITS or units.metric_of(known.unit) == known.unit:
            return message
        return {**message, "value": f"{value} {units.display_unit(known.unit, 'metric')}"}

    def _ask(self, message: Message | None, chosen: str | None, loses: str) -> None:
        """Ask before runs lose something, with what begins instead; None takes the question away. Of several servers
        each says what its own runs lose."""
        if message is None:
            self._asked, self._loses = None, []
            self._question = {"desk.question": {"html": ""}}
            return
        self._loses = [*(self._loses if self._asked == (message, chosen) else ()), *loses.splitlines()]
        self._asked = message, chosen
        deed = str(message.get("page"))
        question = desk_view.question(self._begins(message), self._loses, deed)
        self._question = {"desk.question": {"html": question}}
        self._say("Nothing is done yet." if deed in desk_view.AGREED else "Nothing is started yet.", "refused")

    def _begins(self, message: Message) -> str:
        """What a message begins, in words."""
        if message.get("page") == "allow":
            return "The requested check"
        if (deed := str(message.get("page"))) in desk_view.AGREED:
            return desk_view.AGREED[deed][0]
        if message.get("page") == "start_from":
            return starting_point(str(message.get("start")))
        drill = self._desk.rooms.drills.get(str(message.get("drill") or ""))
        kind = "check" if message.get("mode") == "check" else "practice"
        return f"{drill.title if drill is not None else 'Free practice'} ({kind})"

    def _heard(self, message: Message, said: str, kind: str, chosen: str | None) -> None:
        """What another server made of it; shown at the next beat."""
        if kind == "done":
            self._done(message, said, chosen)
        elif kind == "asks":
            self._ask(message, chosen, said)
        else:
            self._say(f"Not done: {said}", "refused")

    def _done(self, message: Message, said: str, chosen: str | None) -> None:
        if message.get("page") == "skeleton":
            file = f"{skeleton.drill_id(str(message.get('name') or '') or 'New drill')}.toml"
            self._once = {"desk.file": {"content": said, "file": file, "type": "application/toml"}}
            said = f"{file} was made: finish its text, then bring it in under Drills"
        if message.get("cut") is True:
            everybody = message.get("to") == "all"
            self._question = {"desk.question": {"html": desk_view.way_back(None if everybody else chosen)}}
        self._say(said, "done")

    def beat(self) -> None:
        """Bring the page up to date."""
        if self._who() is None:
            return
        try:
            with hold(self._document):
                self.show()
        except Exception:
            log.exception("the instructor's page could not be brought up to date")

    def show(self) -> None:
        """Everything that changed since the last time."""
        who = self._who()
        desk = self._desk
        places = desk.places()
        place = desk.place(self.chosen)
        if desk.members is not None:
            desk.members.look(id(self), self.chosen)
        self._draw("desk_top", "top", lambda: desk_view.top(who, self.units))
        members = ";".join(f"{one.number} {one.name} {one.watch}" for one in places)
        self._draw("desk_roster", members, lambda: desk_view.roster(places))
        # Drawn anew only for another rig or drill: what was typed and chosen stays when another trainee is chosen.
        about = f"{place is not None}"
        saved = ";".join([*desk.starts.saved(), *desk.rooms.drills]) if place else ""
        self._draw("desk_run", f"{about} {saved}", lambda: desk_view.run_board(place, desk.rooms.drills, desk))
        plant = f"{place.plant if place else ''}"
        self._draw("desk_plant", f"{about} {plant}", lambda: desk_view.plant_board(place, self.units))
        self._draw("desk_talk", about, lambda: desk_view.talk_board(place))
        news: dict[str, Reading] = {**desk_readings.code_readings(desk.codes), **self._said, **self._question}
        for one in places:
            news |= desk_readings.row_readings(one, self.chosen)
        if place is not None:
            news |= desk_readings.place_readings(place)
            news |= {
                "desk.name": {"text": place.name},
                "desk.starts": {"html": desk_view.starts(desk.starting_points(place))},
            }
        # Everything in one go: of two assignments in one beat only the last would reach the browser.
        self._give({key: value for key, value in news.items() if self._shown.get(key) != value} | self._once)
        self._shown |= news
        self._once = {}

    def _draw(self, board: str, key: str, markup: Callable[[], str]) -> None:
        if self._drawn.get(board) != key:
            self._drawn[board] = key
            self.boards[board].markup = drawn = told(markup(), self.units)
            self._binds[board] = bindings(drawn)
            # What was shown is gone with the old markup.
            self._shown = {}

    def _give(self, news: Mapping[str, Reading]) -> None:
        if not news:
            return
        news = in_units({"desk": {"readings": news}}, self.units)["desk"]["readings"]
        now = time.monotonic()
        for name, board in self.boards.items():
            own = {key: value for key, value in news.items() if key in self._binds.get(name, ())}
            if own:
                board.readings = self._recent.with_new(name, own, now)

    def _say(self, text: str, kind: str) -> None:
        """Tell the instructor at the next showing. Said twice it is told twice: the count makes it new."""
        self._count += 1
        self._said = {"desk.said": {"text": text, "count": self._count}, "desk.kind": {"state": kind}}


def _template() -> str:
    css = (resources.assets() / "style" / "desk_page.css").read_text("utf-8")
    boards = "\n".join(
        f'<div class="{name.replace("_", "-")}">{{{{ embed(roots.{name}) }}}}</div>' for name in desk_view.BOARDS
    )
    return _HTML.replace("@CSS@", css).replace("@BOARDS@", boards)


def instructor_page(desk: InstructorControls, access: Access) -> Callable[[], object]:
    """The function that makes the instructor's page for each visit."""

    def page() -> object:
        live = StaffLive(desk, access, pn.state.curdoc)
        pn.state.curdoc.add_periodic_callback(live.beat, BEAT_MS)
        return live.template

    return page
