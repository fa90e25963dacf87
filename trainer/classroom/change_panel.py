"""What an instructor changes besides faults: the well, the weather, the supply, and a hand on a control."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import panel as pn
from panel.viewable import Viewable

from trainer import units
from trainer.classroom.access import Who
from trainer.classroom.glance import Glance
from trainer.classroom.instructor import CHANGES
from trainer.classroom.roster import AnyPlace
from trainer.classroom.staff_page import Deed, StaffPage, by_words, html, row, typed
from trainer.console.message import Message
from trainer.drawing.markup import el
from trainer.hydraulics.machine import Machine

Do = Callable[[Message, Who], str | None]


@dataclass(frozen=True)
class Press:
    """One press: what its button says, and the fault with the severity (0 to 1) that it brings; zero clears it."""

    group: str
    label: str
    fault: str
    severity: float


#: What is brought or taken away by one press, where the plant has it. The sizes are ours.
PRESSES: tuple[Press, ...] = (
    Press("Well", "Small kick", "well.kick", 0.25),
    Press("Well", "Kick", "well.kick", 0.6),
    Press("Well", "Large kick", "well.kick", 1.0),
    Press("Well", "No kick", "well.kick", 0.0),
    Press("Well", "Losses", "well.losses", 0.4),
    Press("Well", "No losses", "well.losses", 0.0),
    Press("Weather", "Frost", "ambient.frost", 1.0),
    Press("Weather", "No frost", "ambient.frost", 0.0),
    Press("Supply", "AC power off", "power.ac_lost", 1.0),
    Press("Supply", "AC power on", "power.ac_lost", 0.0),
    Press("Supply", "Rig air off", "air.lost", 1.0),
    Press("Supply", "Rig air on", "air.lost", 0.0),
    Press("Supply", "Water blocked", "water.strainer_blocked", 1.0),
    Press("Supply", "Water on", "water.strainer_blocked", 0.0),
)
WINDS = (("North", 0), ("East", 90), ("South", 180), ("West", 270))
VALUE = "Value"


class ChangePanel:
    """The widgets for the plant of the chosen trainee; ``do`` carries out what the desk is told."""

    def __init__(self, page: StaffPage, do: Do) -> None:
        self._page, self._do = page, do
        self._plant = ""
        self._machine: Machine | None = None
        self.presses = pn.Column(sizing_mode="stretch_width")
        self.what = pn.widgets.Select(label="Well and weather", options={}, width=250)
        self.to = pn.widgets.TextInput(label="To (with its unit)", width=170, placeholder="Such as: 9000 psi")
        self.control = by_words("A hand on a control, by words", "Such as: bank A isolation")
        self.position = pn.widgets.Select(label="Position", options=[], width=120)
        self.number = pn.widgets.TextInput(label=VALUE, width=120, visible=False)
        self.control.param.watch(lambda _: self._positions(), "value")
        self._controls: dict[str, tuple[str, str]] = {}
        self.view = pn.Column(
            html(el("h2", {}, "Well, weather, supply, hands")),
            self.presses,
            row(self.what, self.to, page.button("Set", self._set, "instructor")),
            row(self.control, self.position, self.number, page.button("Operate", self._operate, "instructor")),
            sizing_mode="stretch_width",
        )

    def show(self, place: AnyPlace | None, glance: Glance) -> None:
        """Bring the panel up to date with the chosen trainee: offered is what their plant can have."""
        machine = place.machine if place is not None else None
        if machine is None or place is None or place.plant == self._plant:
            return
        self._plant, self._machine = place.plant, machine
        rows: list[Viewable] = []
        for group in dict.fromkeys(one.group for one in PRESSES):
            offered = [one for one in PRESSES if one.group == group and one.fault in machine.faults]
            buttons = [self._page.button(one.label, self._press(one), "instructor") for one in offered]
            if group == "Weather" and "weather.wind_from" in machine.signals:
                buttons += [self._page.button(f"Wind {way}", self._wind(way, to), "instructor") for way, to in WINDS]
            if buttons:
                rows.append(row(*buttons))
        self.presses.objects = rows
        changes = {
            f"{words} ({units.symbol(machine.signals[tag].unit)})": tag
            for tag, words in CHANGES
            if tag in machine.signals
        }
        self.what.param.update(options=changes, value=next(iter(changes.values()), None))
        self._controls = {
            operable.meaning: (do, target) for (do, target), operable in machine.operables.items() if do == "set"
        }
        self.control.param.update(options=sorted(self._controls), value="")
        self._positions()

    def _positions(self) -> None:
        """Offer the positions of the chosen control; a field for a number where it takes one."""
        known = (
            self._machine.operables.get(self._controls.get(typed(self.control), ("", ""))) if self._machine else None
        )
        values: Sequence[object] = (known.values if known is not None else None) or ()
        named = [str(value) for value in values if isinstance(value, str)]
        self.position.param.update(options=named, value=named[0] if named else None)
        self.position.visible, self.number.visible = bool(named), bool(values) and not named

    def _press(self, one: Press) -> Deed:
        async def do(who: Who) -> str | None:
            if one.severity <= 0.0:
                return self._do({"page": "clear", "fault": one.fault}, who)
            message = {"page": "fault", "fault": one.fault, "severity": f"{100.0 * one.severity:g}", "over": "0"}
            return self._do(message, who)

        return do

    def _wind(self, way: str, degrees: int) -> Deed:
        async def do(who: Who) -> str | None:
            return self._do({"page": "put", "variable": "weather.wind_from", "value": str(degrees)}, who)

        return do

    async def _set(self, who: Who) -> str | None:
        return self._do({"page": "put", "variable": typed(self.what), "value": typed(self.to)}, who)

    async def _operate(self, who: Who) -> str | None:
        known = self._controls.get(typed(self.control))
        if known is None:
            raise ValueError("choose a control by its words first")
        value = typed(self.position) if self.position.visible else typed(self.number)
        return self._do({"page": "operate", "what": " ".join(known), "value": value, "by": "instructor"}, who)
