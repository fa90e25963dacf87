"""Why a pressure is what it is, for practice: the pressures on the fluid's way to a part, and what each lost or gained.

The way is the one that the schematic lights. Samples of a minute are kept, so that a slow leak shows as what it takes.
"""

from __future__ import annotations

from collections import deque

from trainer import units
from trainer.drawing.cards import reading_of
from trainer.drawing.context import DrawingContext
from trainer.drawing.markup import Markup, el, plain_table
from trainer.drawing.path_view import runs_of
from trainer.hydraulics.machine import Machine

#: Over so many seconds a change is told, and so often a sample is taken for it.
SPAN = 60.0
EVERY = 5.0
#: Before this the instruments of a run that begins still come to their readings.
FIRST = 2.0
#: A change below this (Pa) is a ripple: 2 psi.
RIPPLE = 13_800.0


class Why:
    """Keeps a minute of every pressure of one run and tells of those that feed a part."""

    def __init__(self) -> None:
        self._tags: tuple[str, ...] = ()
        self._kept: deque[tuple[float, tuple[float, ...]]] = deque(maxlen=int(SPAN / EVERY) + 1)
        self._told: tuple[tuple[str, int, units.System], Markup] | None = None

    def look(self, t: float, machine: Machine) -> None:
        """Take a sample if one is due at ``t`` seconds; a run that was turned back begins anew."""
        if self._kept and t < self._kept[-1][0]:
            self._kept.clear()
        if t < FIRST or (self._kept and t - self._kept[-1][0] < EVERY):
            return
        if not self._tags:
            self._tags = tuple(tag for tag, signal in machine.signals.items() if signal.unit == "psi")
        self._kept.append((t, tuple(machine.read(tag) for tag in self._tags)))

    def markup(self, desk: DrawingContext, component: str, t: float, machine: Machine) -> Markup:
        """What feeds ``component`` and what changed, brought up to date each second; nothing without a pressure."""
        key = (component, int(t), desk.system)
        if self._told is None or self._told[0] != key:
            self._told = (key, self._table(desk, component, t, machine))
        return self._told[1]

    def _table(self, desk: DrawingContext, component: str, t: float, machine: Machine) -> Markup:
        own = reading_of(desk, component)
        way = [tag for tag in (*runs_of(desk, component), own) if tag in self._tags]
        if not way or not self._kept:
            return Markup("")
        began, before = self._kept[0]
        rows = []
        for tag in dict.fromkeys(way):
            now = machine.read(tag)
            rows.append(
                el(
                    "tr",
                    {},
                    el("th", {"scope": "row"}, desk.signals[tag].meaning.rstrip(".")),
                    el("td", {}, units.show(now, "psi", desk.system)),
                    el("td", {}, _change(now - before[self._tags.index(tag)], desk.system)),
                )
            )
        heads = ("From the tank on", "now", f"in {max(1, round(t - began))} s")
        return el(
            "section",
            {"class": "why-pressure", "aria-label": "Why this pressure"},
            el("h3", {}, "What feeds it, and what changed"),
            plain_table(heads, rows),
        )


def _change(by: float, system: units.System) -> str:
    if abs(by) < RIPPLE:
        return "steady"
    return f"{'lost' if by < 0.0 else 'gained'} {units.show(abs(by), 'psi', system)}"
