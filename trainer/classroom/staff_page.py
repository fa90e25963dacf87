"""Pages of staff, made of Panel's widgets: one layout, and one way to do things that asks who does them.

The page's socket was let in by the gate for the log-in that the page was made for. That log-in is asked for its role
again whenever something is read or done: a page that stands open after a log-out shows and does nothing more.
"""

from __future__ import annotations

import contextlib
import logging
from collections.abc import Awaitable, Callable, Mapping, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, ClassVar, TypeVar
from weakref import ReferenceType, WeakKeyDictionary, ref

import panel as pn
from bokeh.document import Document
from panel.theme import Inherit, Native
from panel.viewable import Viewable
from sqlalchemy.orm import Session

from trainer import resources
from trainer.classroom import beside, paper
from trainer.classroom.access import STAFF, Who
from trainer.classroom.doors import AWAY, LONGEST_FIELD
from trainer.classroom.gate import login_of, origin_of, told_in
from trainer.classroom.instructor import RefusedError
from trainer.classroom.interpreter import interpreters
from trainer.classroom.limits import Limit
from trainer.classroom.worker import WorkerError
from trainer.console import about
from trainer.console.template import Template
from trainer.drawing.markup import Markup, el, without_bidi
from trainer.drills.schema import Drill
from trainer.records.database import RecordsAwayError, RecordsError
from trainer.session.signing import SigningError

if TYPE_CHECKING:
    from trainer.classroom.classroom import Classroom

log = logging.getLogger("trainer.classroom")

T = TypeVar("T")
Deed = Callable[[Who], Awaitable[str | None]]
NOT_YOU = "this is not for you, or you are logged out: load the page again"
STILL_S = 2.0
"""So often a page looks whether it is still for whom it was made, s."""
WRONG = "Something went wrong here. The reason is in the server's log."

NARROW = {"min-width": "0"}
"""Bokeh gives a layout the width of all that stands in it as its least: here it gets narrower with its window."""
WRAPS = {"flex-wrap": "wrap", **NARROW}
WIDE = "main { max-width: 1920px }"
GONE = "Not taken: that choice is not there any more. Choose again."
_OPEN: WeakKeyDictionary[Document, ReferenceType[StaffPage]] = WeakKeyDictionary()
"""The page of each document. A page knows its document: held here, neither would ever be let go."""
_FAULTS = Limit(30, 60.0)
"""Faults that a browser can bring about are logged so often."""

_HTML = """{% extends base %}
{% block title %}{{ page_title }}{% endblock %}
{% block postamble %}
<meta name="viewport" content="width=device-width, initial-scale=1">
<style>{{ page_css }}</style>
{% endblock %}
{% block contents %}
<script>{{ page_script }}</script>
{{ page_banner }}
<main>{{ page_help }}{{ embed(roots.content) }}</main>
{% endblock %}
"""


def _asset(folder: str, name: str) -> str:
    return (resources.assets() / folder / name).read_text("utf-8")


class Paper(Native):
    """Panel's plain design in the colors of the classroom's other pages, light and dark by what the browser asks."""

    modifiers: ClassVar[Mapping[type, Mapping[str, object]]] = {
        Viewable: {"stylesheets": [Inherit, _asset("style", "widgets.css")]}
    }


class StaffPage:
    """One open page of somebody on the staff. A kind of page says its place, title and roles, lays its widgets out in
    ``lay_out`` and reads what they show in ``load``."""

    path: ClassVar[str]
    title: ClassVar[str]
    roles: ClassVar[tuple[str, ...]] = STAFF
    wide: ClassVar[bool] = False
    """Whether the page takes the whole width of the window."""
    renew_s: ClassVar[float] = 0.0
    """So often the page is read anew while it is open, s; 0 for never."""

    def __init__(self, room: Classroom, document: Document, given: Mapping[str, str]) -> None:
        self.room, self.given, self._document = room, given, document
        _OPEN[document] = ref(self)
        self._login = login_of(document)
        self.origin = origin_of(document)
        self._rate = Limit(60, 30.0)
        self._behind = False
        """Whether something was chosen that the page does not show yet."""
        self._told = 0
        self._last = ""
        self._stop: Callable[[], None] = lambda: None
        self.heading = html(el("h1", {}, self.title))
        self.said = html(Markup(""))
        # In sight also where the button stands far down the page.
        self.said.styles = {"position": "sticky", "top": "0", "z-index": "9", "background": "var(--bg)"}
        self.template = Template(_HTML, nb_template="", design=Paper)
        self.template.add_variable("page_title", el("t", {}, self.title)[3:-4])
        self.template.add_variable("page_css", paper.css() + (WIDE if self.wide else ""))
        self.template.add_variable("page_script", _script())
        self.template.add_variable("page_banner", paper.banner(room.access.holder(self._login)))
        self.template.add_variable("page_help", about.key(self.path))
        self._content = pn.Column(self.heading, self.said, *self.lay_out(), styles=NARROW, sizing_mode="stretch_width")
        told = interpreters(told_in(document))
        self.template.add_panel("content", pn.Column(self._content, *told, styles=NARROW, sizing_mode="stretch_width"))

    def lay_out(self) -> list[Viewable]:
        """The widgets of the page, in their order; nothing of the records stands in them yet."""
        raise NotImplementedError

    async def load(self) -> None:
        """Read what the page shows and put it into the widgets; called when it opens and after each deed that is
        done."""

    async def opened(self) -> None:
        """The browser shows the page: fill it, for whom it was made."""
        if await self._do(self._read, self.roles):
            self._stop()
            beat = pn.state.add_periodic_callback(self._renew, int(1000 * (self.renew_s or STILL_S)))
            self._stop = beat.stop

    async def _renew(self) -> None:
        """Read the page anew where that is its way; in any case, take everything off it once it is nobody's."""
        if not await self._do(self._read if self.renew_s or self._behind else self._nothing, self.roles, again=False):
            self._stop()
            self._content.objects = [html(el("h1", {}, self.title)), self.said]

    async def _nothing(self, _: Who) -> None:
        pass

    async def _read(self, _: Who) -> None:
        self._behind = False
        await self.load()

    def who(self, roles: tuple[str, ...] = ()) -> Who:
        """Whose page this is, as the records know them now. RefusedError when they may not, or not any more."""
        who = self.room.access.holder(self._login)
        if who is None or who.setting or who.role not in (roles or self.roles):
            raise RefusedError(NOT_YOU)
        return who

    def whose(self) -> int:
        """The number of whose page it is, in the records; 0 once it is nobody's."""
        try:
            return self.who().person
        except RefusedError:
            return 0

    def still(self) -> bool:
        """Whether the page is still for whom it was made."""
        try:
            return bool(self.who())
        except RefusedError:
            return False

    async def read_again(self) -> None:
        """Read the page anew because something else was chosen on it; not more often than buttons are pressed: then
        it is read when it is next renewed."""
        self._behind = True
        if self._rate.spend(""):
            await self._do(self._read, self.roles)

    def button(self, label: str, deed: Deed, *roles: str) -> pn.widgets.Button:
        """A button that does a deed for who presses it, shows how things stand then, and tells what the deed gives;
        only for ``roles`` where some are named. A deed refuses with RefusedError, ValueError or an error of the
        records."""

        async def pressed(_: object) -> None:
            await self._press(deed, roles)

        # In a row, its foot is level with that of a field, whose label stands above it.
        button = pn.widgets.Button(label=label, align=("start", "end"))
        button.on_click(pressed)
        return button

    def act(self, deed: Deed, *roles: str) -> None:
        """Do a deed for whose page it is as a button does, in the page's next turn: for what no button stands for."""

        async def acted() -> None:
            await self._press(deed, roles)

        self.later(acted)

    async def _press(self, deed: Deed, roles: tuple[str, ...]) -> None:
        async def done(who: Who) -> str | None:
            said = await deed(who)
            await self.load()
            return said

        if self._rate.spend(""):
            await self._do(done, roles or self.roles)
        else:
            self.tell("Too much at once; wait a moment.", "alert")

    async def _do(self, deed: Deed, roles: tuple[str, ...], again: bool = True) -> bool:
        """Do it, or tell why not; False when the page is not for its holder any more."""
        access = self.room.access
        if access.stale(self._login):
            # Another server, or the command line, may have changed their role. While the records are away, what was
            # known holds.
            with contextlib.suppress(RecordsAwayError):
                await beside.slowly(lambda: access.ask(self._login))
        try:
            who = self.who(roles)
        except RefusedError as error:
            self.tell(f"Not done: {error}.", "alert")
            return False
        try:
            if (said := await deed(who)) is not None:
                self.tell(said)
        except RecordsAwayError:
            self.tell(AWAY, "alert", again)
        except (RefusedError, ValueError, RecordsError, SigningError, WorkerError) as error:
            self.tell(f"Not done: {error}.", "alert", again)
        except Exception:
            log.exception("a page of staff could not do what was asked")
            self.tell(WRONG, "alert", again)
        return True

    def tell(self, text: str | Markup, kind: str = "status", again: bool = True) -> None:
        """Say above the page what was done (``status``) or why not (``alert``); markup is shown as it is. Said twice it
        is told twice, by a count that makes it new, unless not ``again``."""
        if not again and text == self._last:
            return
        self._last = text
        self._told += 1
        self.said.object = paper.told(text, kind, self._told)

    def later(self, work: Callable[[], Awaitable[None] | None]) -> None:
        """Do something to the page's own models in its next turn, when nothing else works on them."""
        self._document.add_next_tick_callback(work)

    def heard(self, said: str, kind: str) -> None:
        """What another server made of a deed, told in the page's own turn."""
        words = said if kind == "done" else f"Not done: {said}."
        self._document.add_next_tick_callback(lambda: self.tell(words, "status" if kind == "done" else "alert"))

    async def ask(self, work: Callable[[Session], T]) -> T:
        """Work on the records, beside the running sessions; committed at its end."""
        return await beside.ask(self.room.records, work)

    async def slowly(self, work: Callable[[], T]) -> T:
        """Work that takes a while (hashing, the disk), beside the running sessions."""
        return await beside.slowly(work)

    async def look(self, work: Callable[[Session], T]) -> T:
        """Only read the records, beside the running sessions and beside whoever writes."""
        return await beside.look(self.room.records, work)


def html(markup: Markup, *sheets: str) -> pn.pane.HTML:
    """Markup of ours on a page: what is only read, with style sheets of its own. The pane that shows it."""
    return pn.pane.HTML(markup, stylesheets=list(sheets), sizing_mode="stretch_width", margin=(0, 10))


def put(pane: pn.pane.HTML, markup: Markup) -> None:
    """Show markup in a pane; the browser hears of it only where it is not what stands there already."""
    if pane.object != markup:
        pane.object = markup


def by_words(label: str, placeholder: str, width: int = 300, restrict: bool = True) -> pn.widgets.AutocompleteInput:
    """A field that finds one of its options by words of it, from two letters on; without ``restrict`` it takes any
    text."""
    return pn.widgets.AutocompleteInput(
        label=label,
        placeholder=placeholder,
        search_strategy="includes",
        case_sensitive=False,
        restrict=restrict,
        min_characters=2,
        width=width,
    )


def row(*fields: Viewable) -> pn.Row:
    """Fields with the buttons for them, side by side where there is room, and level; else below one another."""
    return pn.Row(*fields, styles=WRAPS, sizing_mode="stretch_width")


def listed(lines: Sequence[str]) -> Markup:
    """Lines as a list: what is wrong in a file, what could be better."""
    return el("ul", {}, [el("li", {}, line) for line in lines])


def typed(widget: pn.widgets.Widget) -> str:
    """What somebody typed or chose in a widget, as text within bounds; empty for nothing."""
    return without_bidi(str(widget.value or ""))[:LONGEST_FIELD].strip()


def by_title(drills: Mapping[str, Drill]) -> dict[str, str]:
    """The drills to choose from: their ids by title, in the order of the titles."""
    return dict(sorted(((one.title, one.id) for one in drills.values()), key=lambda one: one[0].casefold()))


def offer_by_name(choice: pn.widgets.Select, people: Sequence[tuple[str, str]]) -> None:
    """Offer people, each a (name, number), by name; those of one name also by how their numbers begin. Whoever is
    chosen stays so while they are there."""
    names = [name for name, _ in people]
    options = {name if names.count(name) == 1 else f"{name}, {number[:4]}": number for name, number in people}
    if options != choice.options:
        numbers = list(options.values())
        kept = choice.value if choice.value in numbers else next(iter(numbers), None)
        choice.param.update(options=options, value=kept)


@lru_cache
def _script() -> str:
    return _asset("script", "staff_table.js")


def not_taken(fault: BaseException) -> None:
    """What a browser sent is none of a field's values, such as a choice that has just gone: it is dropped, and its page
    says so. Called by the page library with whatever its fields raise."""
    known = _OPEN.get(pn.state.curdoc) if pn.state.curdoc is not None else None
    if known is not None and (page := known()) is not None:
        page.tell(GONE, "alert")
    if _FAULTS.spend(""):
        log.warning("a field of a page did not take what came: %.300r", fault, exc_info=fault)


def staff_page(kind: type[StaffPage], room: Classroom) -> Callable[[], Template]:
    """The function that makes a page of this kind for each visit; what stands in its address comes as texts."""

    def page() -> Template:
        given = {name: values[0].decode("utf-8", "replace")[:200] for name, values in pn.state.session_args.items()}
        made = kind(room, pn.state.curdoc, given)
        pn.state.onload(made.opened)
        return made.template

    return page
