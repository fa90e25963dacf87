"""What stands on the page, by accessible name: one table, read out of the boards as the page's own code draws them.

Who works the page by hand looks a command up here and finds what a person would look for: the station's board, the
control's name, and what to do with it. No name is written down a second time.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any
from xml.etree import ElementTree

from trainer.console.bindings import bindings
from trainer.console.boards import STATIONS, Boards
from trainer.console.faults import FaultList
from trainer.console.shell import VIEWS
from trainer.drills.schema import Drill

Element = ElementTree.Element
#: Boards that stand in view beside every station.
BESIDE = tuple(name for name in ("watch", "floor_strip", "entries", "messages") if name not in dict(VIEWS))


@dataclass(frozen=True)
class Control:
    """A button, a button that is held, a lever, or a field with its button, and the command that it gives."""

    board: str
    station: str
    kind: str
    """``press``, ``hold``, ``lever`` or ``field``."""
    name: str
    """A pattern of its accessible name: readings within it may show anything."""
    do: str
    target: str
    value: Any = None
    within: str = ""
    """The panel in which it lies, that a button of the board opens: its id."""

    @property
    def pattern(self) -> re.Pattern[str]:
        # What is chosen bears a tick.
        return re.compile(rf"^\W*{self.name}\W*$")


class Table:
    """The controls of a drill's page, what can be said and entered, and the boards that show each reading."""

    def __init__(self, boards: Boards, machine: Any, plant: str, drill: Drill | None) -> None:
        drawn = boards.draw(machine, plant, drill, "field", False)
        self.machine, self.signals = machine, machine.signals
        self.faults: FaultList = boards.faults(machine, plant)
        entries = ElementTree.fromstring(f"<board>{drawn['entries']}</board>")
        self.statements = {
            json.loads(button.get("data-send", "{}"))["target"]: _text(button)
            for button in entries.iter("button")
            if json.loads(button.get("data-send", "{}")).get("do") == "say"
        }
        self.readings = {
            option.get("value", ""): _text(option)
            for form in entries.iter("form")
            if json.loads(form.get("data-send", "{}")).get("do") == "read"
            for option in form.iter("option")
        }
        self.controls = [
            control
            for board, markup in drawn.items()
            if board in STATIONS
            for control in controls(board, STATIONS[board], markup)
        ]
        self.shown: dict[str, list[str]] = {}
        for board, markup in drawn.items():
            for tag, kinds in _bound(markup).items():
                if {"text", "state", "pick"} & set(kinds):
                    self.shown.setdefault(tag, []).append(board)

    def find(self, do: str, target: str, value: Any, station: str) -> list[Control]:
        """The controls of a station that give a command; those that give just this value first."""
        there = [c for c in self.controls if (c.do, c.target, c.station) == (do, target, station)]
        exact = [c for c in there if c.kind in ("press", "lever") and _same(c.value, value)]
        return exact + [c for c in there if c.kind in ("hold", "field")]

    def gives(self, do: str, target: str, value: Any, station: str) -> bool:
        """Whether a control of the station gives just this value."""
        return any(c.kind in ("press", "lever") for c in self.find(do, target, value, station))

    def fault(self, fault: str) -> tuple[str, str] | None:
        """The part and the words under which a fault is named; None where it cannot be."""
        for part in self.faults.parts:
            for name, words in self.faults.of(part):
                if name == fault:
                    return part, words
        return None


_bound = cache(bindings)


def _same(one: Any, other: Any) -> bool:
    if isinstance(one, str) or isinstance(other, str) or one is None or other is None:
        return bool(one == other)
    return abs(float(one) - float(other)) < 1e-9


@cache
def controls(board: str, station: str, markup: str) -> tuple[Control, ...]:
    """Every control in a board's markup; read once, since the drills of a plant share most boards."""
    return tuple(_controls(board, station, markup))


def _controls(board: str, station: str, markup: str) -> Iterator[Control]:
    root = ElementTree.fromstring(f"<board>{markup}</board>")
    inside = {e: panel.get("id", "") for panel in root.iter() if panel.get("popover") for e in panel.iter()}
    for element in root.iter():
        sent = element.get("data-send")
        if sent is None:
            continue
        command: Mapping[str, Any] = json.loads(sent)
        if command["do"] in ("say", "read") or "target" not in command:
            continue
        kind, named = "press", element
        if element.tag == "form":
            kind, named = "field", next(b for b in element.iter("button"))
        elif element.get("data-release") is not None and element.get("data-held") is None:
            kind = "lever"
        elif element.get("data-hold") is not None:
            kind = "hold"
        given = command["do"], command["target"], command.get("value")
        yield Control(board, station, kind, _name(named), *given, inside.get(element, ""))


def _text(element: Element) -> str:
    return " ".join("".join(element.itertext()).split())


def _name(element: Element) -> str:
    """A pattern of the accessible name: its label, or its text with readings left open."""
    label = element.get("aria-label")
    return re.escape(label) if label else r"\s*".join(_pieces(element))


def _pieces(element: Element) -> Iterator[str]:
    if element.get("aria-hidden") == "true":
        return
    if element.get("data-text") is not None:
        yield ".*"
        return
    if element.text and element.text.strip():
        yield re.escape(element.text.strip())
    for child in element:
        yield from _pieces(child)
        if child.tail and child.tail.strip():
            yield re.escape(child.tail.strip())
