"""What was done in a run, in words: the entries of a command log as a crew would tell them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from trainer import naming, units
from trainer.constants import TICKS_PER_SECOND
from trainer.drills.prepare import figure_units
from trainer.drills.schema import Drill
from trainer.hydraulics.machine import Machine
from trainer.session.commands import CALL, GO, REPEAT
from trainer.session.interventions import ASSISTANT, BY, DEBRIEF, INSTRUCTOR, TAKE_OVER
from trainer.session.session import Entry
from trainer.wording import amount, told, worded, written

PLACES = {
    "driller": "Driller",
    "remote": "Toolpusher's panel",
    "unit": "Unit",
    "floor": "Floor",
    **{station: naming.title(naming.STATIONS[station]) for station in (*naming.FURTHER, *naming.APART)},
    INSTRUCTOR: "Instructor",
    ASSISTANT: "Assistant",
    DEBRIEF: "Debrief",
}
#: A button held down sends a step several times a second: steps this close together are one action.
HELD_S = 1.0
#: Controls that run until they are set to stop.
LEVERS = ("floor.hoist", "driller.enable")


@dataclass(frozen=True)
class Deed:
    """One action: the place of its first entry in the log, its time, who did it, what, and why it was refused."""

    place: int
    t: float
    by: str
    text: str
    refused: str = ""
    mine: bool = True
    """Whether the trainee did it."""
    also: tuple[int, ...] = ()
    """The places of its other entries: the steps of a held button, the moment at which a lever was let go."""


def _goes_on(last: Entry, entry: Entry) -> bool:
    """Whether an entry is one more step of what the one before it did."""
    same = (entry.do, entry.target, entry.from_, entry.refused) == (last.do, last.target, last.from_, last.refused)
    if not same or entry.tick - last.tick > HELD_S * TICKS_PER_SECOND:
        return False
    if entry.do == "hoist":
        return isinstance(entry.value, float) and isinstance(last.value, float) and entry.value * last.value > 0.0
    return entry.do in ("raise", "lower")


class Teller:
    """Tells log entries in the words of a drill and the units now shown."""

    def __init__(self, machine: Machine, drill: Drill | None, system: units.System) -> None:
        self._operables, signals = machine.operables, machine.signals
        self._system = system
        self._faults = getattr(machine, "faults", {})
        named = drill.reading if drill else []
        self._units = {
            item.id: item.unit or signals[item.tag].unit for item in named if item.unit or item.tag in signals
        }
        self._readings = {item.id: written(item.title) for item in drill.reading} if drill else {}
        self._posts = {item.id: item.title for item in drill.post} if drill else {}
        self._calls = {item.id: written(item.text) for item in drill.call} if drill else {}
        self._figures = figure_units(drill, signals) if drill else {}
        self._statements = {item.id: written(item.text) for item in drill.statement} if drill else {}

    def deeds(self, log: Sequence[Entry]) -> list[Deed]:
        """The log as actions; the steps of one held button are one, and so are a lever's run and its stop."""
        out: list[Deed] = []
        last: Entry | None = None
        steps, moved = 0, 0.0
        running: dict[tuple[str, str], int] = {}
        for place, entry in enumerate(log):
            again = last is not None and _goes_on(last, entry)
            steps = steps + 1 if again else 1
            amount = entry.value if isinstance(entry.value, float) else 0.0
            moved = moved + amount if again else amount
            last = entry
            if again:
                text: str = worded("{0}, {1} steps", self.words(entry.do, entry.target, None), str(steps))
                if entry.do == "hoist":
                    text = self.words(entry.do, entry.target, moved)
                out[-1] = replace(out[-1], text=text, also=(*out[-1].also, place))
                continue
            lever = (entry.target, entry.from_)
            if entry.do == "set" and entry.value in ("stop", "free") and lever in running:
                at = running.pop(lever)
                lasted = entry.t - out[at].t
                out[at] = replace(
                    out[at], text=worded("{0}, {1} s", out[at].text, f"{lasted:.1f}"), also=(*out[at].also, place)
                )
                continue
            if entry.do == "set" and entry.target in LEVERS and entry.refused is None:
                running[lever] = len(out)
            out.append(
                Deed(
                    place,
                    entry.t,
                    self._posts.get(entry.by or "") or PLACES.get(entry.from_, entry.from_.capitalize()),
                    self.words(entry.do, entry.target, entry.value, entry.figure),
                    entry.refused or "",
                    entry.from_ not in BY,
                )
            )
        return out

    def words(self, do: str, target: str, value: float | str | None, figure: float | None = None) -> str:
        """One action: ``Upper annular: close``, ``Read SIDPP: 520 psi``; figure: what a call of a crew tells."""
        name, shown = naming.target(target), self._amount(do, target, value)
        if do == "say":
            return worded("“{0}”", self._statements.get(target, name))
        if do == "read":
            return worded("Entered {0}: {1}", self._readings.get(target, name), shown or "no value")
        if do in (CALL, REPEAT):
            return self._called(do, target, value, figure)
        if do == "name":
            fault = self._faults.get(target)
            return f"Reported the fault: {fault.title if fault else name}"
        if do == GO:
            return f"Walked to {naming.station(target)}"
        if do == TAKE_OVER:
            return "Taken over here from the replay of an earlier run"
        if do == "fault":
            known = self._faults.get(target)
            title = known.title if known else name
            share = value if isinstance(value, float) else 1.0
            return f"Fault: {title}, {100.0 * share:.0f} %" if share > 0.0 else f"Fault cleared: {title}"
        if do == "hoist" and isinstance(value, float):
            return worded("Hoist: {0} {1}", "up" if value > 0.0 else "down", self._amount(do, target, abs(value)))
        if do == "push":
            return f"{name}: pressed"
        if do in ("set", "put"):
            return worded("{0}: {1}", name, shown or "set")
        return worded("{0}: {1} {2}", name, do, shown) if shown else f"{name}: {do}"

    def _called(self, do: str, target: str, value: float | str | None, figure: float | None) -> str:
        said = self._calls.get(target, naming.target(target))
        if figure is not None and (unit := self._figures.get(target)) is not None:
            said = worded("{0}: {1}", said, told(amount(units.from_unit(figure, unit), unit), self._system))
        if do == REPEAT:
            return worded("Repeated back: “{0}”", said)
        return worded("Called the {0}: “{1}”", self._posts.get(str(value), str(value)).lower(), said)

    def _amount(self, do: str, target: str, value: float | str | None) -> str:
        if value is None or isinstance(value, str):
            return "" if value is None else value
        operable = self._operables.get((do, target))
        unit = self._units.get(target, "") if do == "read" else operable.unit if operable is not None else ""
        if unit in units.UNITS:
            return told(amount(units.from_unit(value, unit), unit), self._system)
        return f"{value:g}"
