"""Naming a fault: which part, what is wrong with it, and what has been reported so far.

The two fields are widgets of the page (``trainer.console.fields``); they and the buttons send messages here.
"""

from __future__ import annotations

from collections.abc import Callable

from trainer.console import debrief
from trainer.console.faults import FaultList
from trainer.console.message import Message
from trainer.console.presenter import Patch
from trainer.console.reading import Reading
from trainer.console.shell import button
from trainer.drawing.markup import Markup, el
from trainer.simulator import Session

PART, FAULT = "diagnosis.part", "diagnosis.fault"
"""The names of the two fields."""
PART_TITLE, FAULT_TITLE = "Part", "What is wrong with it"
PLACEHOLDER = "Type a piece of its name, or of the fault"
ASKED = "Report the fault that you have found: the part, then what is wrong with it."
CHOOSE = "Choose what is wrong"
NOTHING = "Nothing found. Try fewer words, or a piece of the part's name."
NOT_CHOSEN = "Nothing reported: first choose under “What is wrong with it”."
RULE = "A wrong fault costs points. After three wrong ones the drill cannot be passed."


class Diagnosis:
    """What is open and chosen. ``report`` sends the command that names a fault, and gives the page's patch."""

    def __init__(
        self, run: Session, faults: FaultList, report: Callable[[str], Patch], tell: Callable[[str], str] = str
    ) -> None:
        """tell: gives a finished text in the language of the page, in which faults are sought and chosen."""
        self.run = run
        self._english = faults
        self._faults = faults if tell is str else faults.told(tell)
        self._report, self._tell = report, tell
        self.open = False
        self._part = self._fault = self._said = ""
        self._offered: list[tuple[str, str]] = []

    def handle(self, message: Message) -> Patch:
        """Do what a message of the panel says and give what changes on it; an unknown one changes nothing."""
        value = str(message.get("value") or "")
        match message.get("page"):
            case "diagnosis":
                self.open = value == "open"
            case "seek":
                return self._seek(value)
            case "suspect":
                part, fault = self._faults.found(value)
                if (part, fault) == (self._part, "") or not part:
                    return {}
                self._choose(part, fault)
                return self._fields()
            case "suspect-fault":
                self._fault = value if value in dict(self._offered) else ""
                self._said = ""
            case "report-fault" if value not in dict(self._offered):
                self._said = NOT_CHOSEN
            case "report-fault":
                said, patch = len(self.run.log), self._report(value)
                if len(self.run.log) > said:
                    self._choose("", "")
                    self.open = False
                fields = self._fields()
                return {**patch, **fields, PART: {**fields[PART], "value_input": self._part}}
        return {}

    def _choose(self, part: str, fault: str) -> None:
        self._part, self._fault, self._said = part, fault, ""
        self._offered = list(self._faults.of(part))

    def _seek(self, text: str) -> Patch:
        """Offer every fault that has the words typed so far, in any order: the field itself finds whole pieces only."""
        if text == self._part and (text or not self._offered):
            return {}
        self._choose("", "")
        self._offered = self._faults.matching(text)
        found = len(self._offered)
        self._said = f"Faults that fit: {found}. Choose one under “What is wrong with it”." if found else NOTHING
        self._said = self._said if text else ""
        return {FAULT: self._fields()[FAULT]}

    def _fields(self) -> Patch:
        options = [("", self._tell(CHOOSE)), *self._offered] if self._offered else []
        return {PART: {"value": self._part}, FAULT: {"options": options, "value": self._fault}}

    def first(self) -> Patch:
        """The fields of the panel for a page that has just been dressed, with what can be searched."""
        fields = self._fields()
        return {
            PART: {
                "title": PART_TITLE,
                "placeholder": PLACEHOLDER,
                "completions": self._faults.searched,
                **fields[PART],
            },
            FAULT: {"title": FAULT_TITLE, **fields[FAULT]},
        }

    def texts(self) -> dict[str, Reading]:
        """The readings of the panel's board: what was reported so far with its times, and whether it is open."""
        rows = [
            el("li", {}, f"{debrief.clock(entry.t)} {self._english.words(entry.target)}")
            for entry in getattr(self.run, "log", ())
            if entry.do == "name"
        ]
        return {
            "page.diagnosis": {"state": "open" if self.open else "shut"},
            "page.sought": {"text": self._said},
            "page.named": {"html": el("ul", {}, rows) if rows else Markup("")},
        }

    def words(self, fault: str) -> str:
        """A fault by its id in the words of the rig: the part and what is wrong with it."""
        return self._english.words(fault)


def board() -> Markup:
    """The foot of the panel as markup: what was reported so far, and its buttons."""
    return el(
        "div",
        {"class": "diagnosis"},
        el("p", {"class": "diagnosis-said", "role": "status", "data-text": "page.sought"}, ""),
        el("div", {"class": "diagnosis-named", "data-html": "page.named", "aria-label": "Faults reported"}, ""),
        el(
            "div",
            {"class": "diagnosis-keys"},
            button("Report fault", {"page": "report-fault"}, "tool tool-strong", data_chosen=FAULT),
            button("Hide", {"page": "diagnosis", "value": ""}),
        ),
    )
