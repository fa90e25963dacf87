"""What happens to the plant during a drill: each event once, at its time or when its condition has held."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from trainer.constants import HAIR
from trainer.drills.binding import Binder
from trainer.drills.checking import Item
from trainer.drills.schema import Event

if TYPE_CHECKING:
    from trainer.drills.runner import Runner


class EventDesk:
    """Fires the events of a drill and lets faults grow."""

    def __init__(self, items: Sequence[Item[Event]], binder: Binder, runner: Runner) -> None:
        self.items = items
        self.runner = runner
        self.fired: list[float | None] = [None] * len(items)
        self.onset: list[float | None] = [None] * len(items)
        self.growing: list[int] = []
        self._when = [binder.condition(item.ready["when"]) if "when" in item.ready else None for item in items]
        # Bound at once, so that whoever fetches what conditions read knows all of it before the first scan.
        self._values = [
            {name: binder.quantity(item.ready[f"values.{name}"]) for name in item.spec.values} for item in items
        ]
        self._severity = [
            binder.quantity(item.ready["severity"]) if "severity" in item.ready else None for item in items
        ]
        self._at = [binder.quantity(item.ready["at"])() if "at" in item.ready else 0.0 for item in items]
        self.waiting = list(range(len(items)))

    @property
    def pending(self) -> bool:
        """Whether anything can still happen."""
        return bool(self.waiting or self.growing)

    def step(self, t: float) -> None:
        """Fire what is due at ``t``, in the order of the file."""
        for n in list(self.waiting):
            if self._due(n, t):
                self.fired[n] = t
                self.waiting.remove(n)
                self._fire(n, t)
        for n in list(self.growing):
            self._grow(n, t)

    def _due(self, n: int, t: float) -> bool:
        when = self._when[n]
        if when is None:
            return t >= self._at[n] - HAIR
        if not when():
            self.onset[n] = None
            return False
        onset = self.onset[n]
        if onset is None:
            self.onset[n] = onset = t
        return t - onset >= self.items[n].spec.hold - HAIR

    def _fire(self, n: int, t: float) -> None:
        spec, runner = self.items[n].spec, self.runner
        if spec.fault is not None:
            self.growing.append(n)
        if spec.clear is not None:
            runner.machine.set_fault(runner.fault_id(spec.clear), 0.0)
        for variable, value in self._values[n].items():
            runner.machine.put(variable, value())
        for action in spec.commands:
            runner.give(action, t)
        if spec.tell is not None:
            runner.messages.append((t, runner.words(spec.tell)))

    def _grow(self, n: int, t: float) -> None:
        spec, fired, severity = self.items[n].spec, self.fired[n], self._severity[n]
        if spec.fault is None or fired is None or severity is None:
            return
        share = 1.0 if spec.over <= 0.0 else min(1.0, (t - fired) / spec.over)
        self.runner.machine.set_fault(self.runner.fault_id(spec.fault), share * severity())
        if share >= 1.0:
            self.growing.remove(n)

    def memory(self) -> Any:
        """JSON data to go on from."""
        return {"fired": list(self.fired), "onset": list(self.onset), "growing": list(self.growing)}

    def recall(self, memory: Any) -> None:
        """Take back what memory() gave."""
        self.fired, self.onset = list(memory["fired"]), list(memory["onset"])
        self.growing = list(memory["growing"])
        self.waiting = [n for n, fired in enumerate(self.fired) if fired is None]
