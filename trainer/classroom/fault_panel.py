"""Faults as an instructor looks for them: by words, by part, recent ones; now or at a time; and those there now."""

from __future__ import annotations

from collections.abc import Callable

import panel as pn
from panel.viewable import Viewable
from param.parameterized import Event

from trainer.classroom.access import Who
from trainer.classroom.glance import Glance
from trainer.classroom.instructor import LONGEST_CONDITION
from trainer.classroom.roster import AnyPlace, Place
from trainer.classroom.staff_page import Deed, StaffPage, by_words, html, row, typed
from trainer.console.board import Board
from trainer.console.faults import FaultList
from trainer.console.message import Message
from trainer.drawing.cards import card_of, kind_of
from trainer.drawing.markup import Markup, el
from trainer.drawing.rig_view import RigView
from trainer.hydraulics.machine import Machine
from trainer.plant.names import instrument
from trainer.plant.rig import PlantError, load_plant

EVERY = "All parts"
EVERYWHERE = "All systems"
#: The systems of a rig by the kinds of their parts, or the parts' own ids.
SYSTEMS: dict[str, frozenset[str]] = {
    name: frozenset(kinds.split())
    for name, kinds in {
        "Power and panels": "power battery boxes alarms panel further_panel",
        "Air, water, weather": "air water ambient weather",
        "Fluid and mixing": "tank concentrate_pump glycol_pump mixing",
        "Pumps and filters": "triplex_pump air_pump filter supply relief",
        "Bottles and pilot": "bank header accumulator pilot pilot_bottles pilot_check stack_bottles",
        "Regulators and meter": "regulator annular_regulator pilot_regulator totaliser",
        "Pods and emergency": "pod pod_selector telemetry eds emergency deadman autoshear acoustic",
        "Stack": "annular shear_ram pipe_ram lock failsafe_valve connector unlatch valve flex_joint",
        "Diverter": "diverter diverter_regulator diverter_packer diverter_valve",
        "Well and drill floor": "well floor test",
    }.items()
}
OTHER = "Other"
SLIDER = (
    ":host { display: block } .severity { display: grid; gap: 2px } "
    ".severity input { width: 100%; min-height: 28px; margin: 0; accent-color: var(--focus) }"
)
NOW, WRITTEN, OWN = "Now, or at the run time", "When a condition holds", "own"
MOST_RECENT = 8
MOST_FOUND = 100
TRY = "Use fewer words, or choose the system or part."
Do = Callable[[Message, Who], str | None]
"""Carries out a message of the desk for the chosen trainee, or for all where it says so."""


class FaultPanel:
    """The widgets about faults, for the plant of the chosen trainee. ``do`` carries out what the desk is told."""

    def __init__(self, page: StaffPage, do: Do) -> None:
        self._page, self._do = page, do
        self._plant: tuple[str, str] = ("", "")
        self._faults: FaultList | None = None
        self._machine: Machine | None = None
        self._rig: RigView | None = None
        self._there: tuple[str, ...] = ()
        self._shares: dict[str, tuple[float, Board]] = {}
        self._recent: list[str] = []
        self.find = by_words("Find a fault by words", "Such as: pump worn, or: annular leak", 250, restrict=False)
        self.system = pn.widgets.Select(label="System", options=[EVERYWHERE], width=250)
        self.part = pn.widgets.Select(label="Part", options=[EVERY], width=250)
        self.recent = pn.widgets.Select(label="Recent and favorites", options={"None yet": ""}, width=250)
        self.fault = pn.widgets.Select(label="Fault", options={}, width=420)
        self.severity = _share("Severity, %", 100)
        self.over = pn.widgets.TextInput(label="Grows within, s", value="0", width=110)
        self.at = pn.widgets.TextInput(label="At run time (m:ss)", placeholder="now", width=130)
        self.when = pn.widgets.Select(label="When", options={NOW: ""}, width=250)
        self.condition = pn.widgets.TextInput(
            label="Condition", placeholder="Such as: upper_annular.closed", max_length=LONGEST_CONDITION, width=250
        )
        self.condition.visible = False
        self.when.param.watch(self._timed, "value")
        self.about = html(Markup(""))
        self.active = pn.Column(sizing_mode="stretch_width")
        self.find.param.watch(self._typed, "value_input")
        self.find.param.watch(self._typed, "value")
        self.part.param.watch(self._narrow, "value")
        self.system.param.watch(self._of_system, "value")
        self.recent.param.watch(self._again, "value")
        self.fault.param.watch(self._explain, "value")
        self.view = pn.Column(
            html(el("h2", {}, "Faults")),
            row(self.find, self.recent),
            row(self.system, self.part),
            row(self.fault, page.button("Favorite", self._favorite, "instructor")),
            row(self.severity, self.over),
            row(self.when, self.at),
            self.condition,
            row(
                page.button("Bring it to the chosen one", self._bring(everybody=False), "instructor"),
                page.button("Bring it to all", self._bring(everybody=True), "instructor"),
            ),
            self.about,
            self.active,
            sizing_mode="stretch_width",
        )

    def show(self, place: AnyPlace | None, glance: Glance) -> None:
        """Bring the panel up to date with the chosen trainee: offered is what their plant can have."""
        machine = place.machine if place is not None else None
        if machine is not None and place is not None:
            plant = place.plant, str(machine.plant_hash)
            if plant != self._plant:
                self._take(plant, machine)
        self._offer_conditions(place)
        self._list(glance)

    def _timed(self, event: Event) -> None:
        """A time for now or later, a condition to type for one of one's own."""
        self.at.visible, self.condition.visible = not event.new, event.new == OWN

    def _offer_conditions(self, place: AnyPlace | None) -> None:
        """Offer what a fault can wait for: the milestones of the drill that runs, and preventers that close."""
        rig = self._rig
        drill = place.seat.drill if isinstance(place, Place) else None
        options = {NOW: ""}
        options |= {f"When reached: {one.title}": f"done({one.id})" for one in (drill.milestone if drill else [])}
        if rig is not None and self._machine is not None:
            tags = self._machine.signals
            closing = [one for one in rig.column() if f"{one.id}.closed" in tags and one.kind != "connector"]
            options |= {f"When closed: {one.name}": f"{one.id}.closed" for one in closing}
        options[WRITTEN] = OWN
        if options != self.when.options:
            kept = self.when.value if self.when.value in options.values() else ""
            self.when.param.update(options=options, value=kept)

    def _take(self, plant: tuple[str, str], machine: Machine) -> None:
        try:
            self._rig = RigView(load_plant(plant[0])[0])
        except (PlantError, OSError):
            return
        self._plant, self._machine = plant, machine
        self._faults = FaultList(self._rig, machine.faults)
        self.find.options = self._faults.searched
        self.system.options = [EVERYWHERE, *self._systems()]
        self._offer_parts()
        self._recent = [fault for fault in self._recent if fault in machine.faults]
        self._offer_recent()
        self._offer(self._all())

    def _system_of(self, fault: str) -> str:
        """The system that a fault belongs to, by the kind of its part."""
        assert self._machine is not None and self._rig is not None
        part = self._machine.faults[fault].component
        kind = kind_of(self._rig, part)
        names = {part.partition(".")[0], kind[0] if kind is not None else ""}
        return next((system for system, kinds in SYSTEMS.items() if kinds & names), OTHER)

    def _systems(self) -> list[str]:
        there = {self._system_of(fault) for fault in self._machine.faults} if self._machine is not None else set()
        return [system for system in (*SYSTEMS, OTHER) if system in there]

    def _offer_parts(self) -> None:
        """Offer the parts of the chosen system."""
        faults, system = self._faults, typed(self.system)
        if faults is None:
            return
        parts = [
            part
            for part in faults.parts
            if system == EVERYWHERE or any(self._system_of(fault) == system for fault, _ in faults.of(part))
        ]
        options = [EVERY, *parts]
        if options != self.part.options:
            self.part.param.update(options=options, value=self.part.value if self.part.value in options else EVERY)

    def _offer_recent(self) -> None:
        """Offer what was brought last, and below it the favorites of whose page it is."""
        faults, machine = self._faults, self._machine
        if faults is None or machine is None:
            return
        liked = [fault for fault in self._page.room.favorites.of(self._page.whose()) if fault in machine.faults]
        options = {faults.words(one): one for one in self._recent}
        options |= {f"★ {faults.words(one)}": one for one in liked}
        self.recent.param.update(options={"Choose": "", **options} if options else {"None yet": ""}, value="")

    def pick(self, component: str) -> None:
        """Offer the faults of a part of the schematic, by the part's id; of what has none, it is said."""
        faults, machine = self._faults, self._machine
        if faults is None or machine is None:
            return
        base = component.partition(".")[0]
        found = [one.id for one in machine.faults.values() if one.component in (component, base)]
        if not found:
            self.about.object = el("p", {"role": "status"}, "Nothing can be wrong with that part in this model.")
            return
        self.system.value = EVERYWHERE
        part = next((part for part in faults.parts if found[0] in [fault for fault, _ in faults.of(part)]), EVERY)
        self.part.value = part
        self._offer(self._all())

    def _all(self) -> list[tuple[str, str]]:
        faults, machine = self._faults, self._machine
        if faults is None or machine is None:
            return []
        part = typed(self.part)
        if part in faults.parts:
            return [(fault, f"{part}: {words}") for fault, words in faults.of(part)]
        system = typed(self.system)
        of = [fault for fault in machine.faults if system == EVERYWHERE or self._system_of(fault) == system]
        return sorted(((fault, faults.words(fault)) for fault in of), key=lambda one: one[1])

    def _offer(self, found: list[tuple[str, str]]) -> None:
        options = {words: fault for fault, words in found}
        kept = self.fault.value if self.fault.value in options.values() else next(iter(options.values()), None)
        self.fault.param.update(options=options, value=kept)

    def _typed(self, event: Event) -> None:
        """Offer what has all of the words, in any order; a part offers its own faults."""
        text, faults = str(event.new or "")[:100], self._faults
        if faults is None:
            return
        if text in faults.parts:
            self._offer([(fault, f"{text}: {words}") for fault, words in faults.of(text)])
        else:
            found = faults.meant(text)[:MOST_FOUND] if text.strip() else self._all()
            self._offer(found)
            if not found:
                self.about.object = el("p", {"role": "status"}, f"No fault matches “{text}”. {TRY}")

    def _narrow(self, _: object) -> None:
        self._offer(self._all())

    def _of_system(self, _: object) -> None:
        self._offer_parts()
        self._offer(self._all())

    async def _favorite(self, who: Who) -> str:
        fault, faults = typed(self.fault), self._faults
        if not fault or faults is None:
            raise ValueError("choose a fault first")
        is_one = self._page.room.favorites.turn(who.person, fault)
        self._offer_recent()
        return f"{faults.words(fault)}: {'a favorite of yours now' if is_one else 'no favorite any more'}."

    def _again(self, event: Event) -> None:
        if event.new and self._faults is not None:
            self._offer([(event.new, self._faults.words(event.new))])

    def _explain(self, _: object) -> None:
        self.about.object = self.explained(typed(self.fault))

    def explained(self, fault: str, card: bool = True) -> Markup:
        """What shows a fault and what the crew should do; with ``card`` also what its part's card says of noticing it
        and of safety. Empty for no fault."""
        known = self._machine.faults.get(fault) if self._machine is not None else None
        if known is None or self._rig is None:
            return Markup("")
        shows = ", ".join(dict.fromkeys(instrument(tag) for tag in known.shows))
        described = card_of(self._rig, known.component) if card else None
        lines = dict(described.lines) if described is not None else {}
        rows = [("Shown by", f"{shows}."), ("The crew should", known.remedy)]
        rows += [(heading, lines[heading]) for heading in ("How you notice", "Safety") if heading in lines]
        return el("dl", {"class": "about-fault"}, [[el("dt", {}, name), el("dd", {}, text)] for name, text in rows])

    # What is done

    def _bring(self, everybody: bool) -> Deed:
        async def do(who: Who) -> str | None:
            fault = typed(self.fault)
            if not fault:
                raise ValueError("choose a fault first")
            message: dict[str, str] = {
                "page": "fault",
                "fault": fault,
                "severity": typed(self.severity),
                "over": typed(self.over) or "0",
            }
            waits = typed(self.condition) if typed(self.when) == OWN else typed(self.when)
            if waits:
                message["when"] = waits
            elif typed(self.when) == OWN:
                raise ValueError("write the condition, such as upper_annular.closed")
            elif when := typed(self.at):
                message["at"] = str(seconds(when))
            said = self._do(message | ({"to": "all"} if everybody else {}), who)
            self._recent = [fault, *(one for one in self._recent if one != fault)][:MOST_RECENT]
            self._offer_recent()
            return said

        return do

    def _list(self, glance: Glance) -> None:
        """The faults that are there, each with its severity and a button to clear it."""
        faults = self._faults
        if faults is None:
            return
        there = tuple(glance.faults)
        coming = tuple(f"{fault} {severity} {when}" for fault, severity, when in glance.coming)
        key = (self._plant[0], *there, "", *coming)
        if key == self._there:
            self._follow(glance)
            return
        self._there, self._shares = key, {}
        rows: list[Viewable] = [html(el("h3", {}, "Faults that are there" if there else "No fault is there"))]
        for fault in there:
            words = faults.words(fault)
            share = self._slider(fault, words, glance.faults[fault])
            self._shares[fault] = glance.faults[fault], share
            rows.append(row(share, self._page.button("Clear", self._clear(fault), "instructor")))
            rows.append(html(self.explained(fault, card=False)))
        if glance.coming:
            said = [f"{faults.words(fault)}, {100.0 * share:.0f} %: {when}" for fault, share, when in glance.coming]
            rows.append(html(el("div", {}, el("h3", {}, "Coming"), el("ul", {}, [el("li", {}, one) for one in said]))))
        self.active.objects = rows

    def _follow(self, glance: Glance) -> None:
        """A fault that grows, or that somebody else has changed, shows so; what is typed stays until then."""
        for fault, (before, share) in self._shares.items():
            if (now := glance.faults[fault]) != before:
                self._shares[fault] = now, share
                share.readings = {"share": {"text": f"{100.0 * now:.0f}"}}

    def _slider(self, fault: str, words: str, share: float) -> Board:
        """A slider with the severity of a fault that is there, in per cent; moved, it sets it at once."""
        now = f"{100.0 * share:.0f}"
        given = {"type": "range", "min": 0, "max": 100, "step": 5, "value": now, "data-pick": "share"}
        markup = el(
            "label",
            {"class": "severity"},
            el("span", {}, f"{words}: ", el("b", {"data-text": "share"}, now), " %"),
            el("input", {**given, "data-choose": {"page": "severity"}, "aria-label": f"{words}, severity in per cent"}),
        )
        board = Board(name="severity", markup=markup, stylesheets=[SLIDER], width=360, margin=(0, 10))

        def moved(message: Message) -> None:
            if isinstance(message, dict) and message.get("page") == "severity":
                self._page.act(self._set(fault, str(message.get("value"))[:20]), "instructor")

        board.listen(moved)
        return board

    def _set(self, fault: str, severity: str) -> Deed:
        async def do(who: Who) -> str | None:
            return self._do({"page": "fault", "fault": fault, "severity": severity, "over": "0"}, who)

        return do

    def _clear(self, fault: str) -> Deed:
        async def do(who: Who) -> str | None:
            return self._do({"page": "clear", "fault": fault}, who)

        return do


def _share(label: str, value: int, width: int = 110) -> pn.widgets.TextInput:
    # Plain text: the buttons of a number field have no name for who hears the page. The desk holds it to 0 to 100.
    return pn.widgets.TextInput(label=label, value=f"{value}", width=width)


def seconds(text: str) -> float:
    """A time of the run, s, written as ``m:ss`` or in seconds; ValueError for anything else.

    >>> seconds("2:30"), seconds("45")
    (150.0, 45.0)
    """
    minutes, colon, rest = text.strip().rpartition(":")
    if not (rest.isascii() and rest.isdigit()) or (colon and not (minutes.isascii() and minutes.isdigit())):
        raise ValueError(f"the time of the run is written as 2:30 or in seconds, not {text[:20]!r}")
    return 60.0 * float(minutes or 0) + float(rest)
