"""A stand-in session with the catalogue of the drawings' sample: enough to test the page without the physics."""

from __future__ import annotations

from typing import Any

from trainer import resources, units
from trainer.drawing.rig_view import read_rig
from trainer.drawing.sample import _values
from trainer.drills.schema import Drill, read_drill

DRILL = """
id = "practice-run"
title = "Practice run"
purpose = "Close the upper annular."
level = "beginner"
minutes = 5
plants = ["quillback"]
pass_mark = 50
learning = ["Close a preventer and confirm it."]
safety = ["Training only."]
references = ["None."]
[initial]
text = "Drilling ahead."
[[statement]]
id = "flow_check"
text = "Flow check: the well flows"
[[statement]]
id = "shut_in"
text = "The well is shut in"
[[reading]]
id = "sidpp"
title = "Drill pipe pressure"
tag = "well.drillpipe_pressure"
[[criterion]]
id = "closed"
title = "Upper annular closed"
kind = "final"
points = 100
category = "outcome"
holds = "upper_annular.valve == 'close'"
why = "It stops the flow."
source = "The trade."
[end]
at = "600 s"
"""


def drill() -> Drill:
    """One small drill."""
    return read_drill(DRILL)


class FakeMachine:
    """Signals of the sample rig that answer to commands in the plainest way."""

    def __init__(self) -> None:
        self.signals, sample = _values(read_rig(resources.plants() / "quillback.toml"))
        self.values: dict[str, float] = {}
        for tag, value in sample.items():
            signal = self.signals[tag]
            if isinstance(value, str):
                self.values[tag] = float(signal.states.index(value))
            else:
                self.values[tag] = units.from_unit(value, signal.unit)

    def read(self, tag: str) -> float:
        return self.values[tag]

    def apply(self, do: str, target: str, value: Any) -> str | None:
        if do == "set" and f"{target}.valve" in self.values:
            at = self.signals[f"{target}.valve"].states.index(value)
            self.values[f"{target}.valve"] = float(at)
            for lamp in ("open", "block", "close"):
                self.values[f"{target}.lamp_{lamp}"] = float(lamp == value)
            return None
        if do == "set" and target in self.values:
            signal = self.signals[target]
            self.values[target] = (
                float(signal.states.index(value)) if signal.states else units.from_unit(float(value), signal.unit)
            )
            return None
        if do == "push" and target == "alarms.acknowledge":
            for tag in self.values:
                if tag.startswith("alarm.") and self.values[tag] == 1.0:
                    self.values[tag] = 2.0
            return None
        if do in ("raise", "lower"):
            self.values[f"{target}.pilot"] += 1.0e5 * float(value) * (1 if do == "raise" else -1)
            return None
        return None if do in ("push", "hoist") else f"there is nothing called {target!r} to {do}"


class FakeCoach:
    """Says to close the upper annular until it is closed."""

    def __init__(self, machine: FakeMachine) -> None:
        self.machine = machine

    def advice(self) -> tuple[str, str] | None:
        if self.machine.values["upper_annular.valve"] == 2.0:
            return None
        return ("Close the upper annular.", "Nothing else stops the flow as fast.")

    ask = advice


class FakeReferee:
    """Tells the situation."""

    messages = ((0.0, "Drilling ahead at 10,800 ft."),)


class FakeRun:
    """A session in which flow out wanders and nothing else happens by itself."""

    def __init__(self) -> None:
        self.machine = FakeMachine()
        self.referee = FakeReferee()
        self.coach = FakeCoach(self.machine)
        self.machine.apply("set", "upper_annular", "open")
        self.scans = 0
        self.log: list[dict[str, Any]] = []
        self.finished = False

    @property
    def time(self) -> float:
        return self.scans / 10.0

    def submit(self, command: dict[str, Any]) -> str | None:
        self.log.append(command)
        if command["do"] in ("say", "read", "name"):
            return None
        return self.machine.apply(command["do"], command["target"], command.get("value"))

    def advance(self, seconds: float) -> int:
        count = round(seconds * 10)
        for _ in range(count):
            self.scans += 1
            wave = abs((self.scans * 7) % 200 - 100)
            self.machine.values["well.flow_out"] = units.from_unit(300.0 + wave, "gpm")
            self.machine.values["well.pit_gain"] = units.from_unit(self.scans / 400.0, "bbl")
            self.machine.values["accumulator.pressure"] = units.from_unit(2900.0 - wave, "psi")
        return count

    def sheet(self) -> dict[str, Any]:
        done = self.machine.values["upper_annular.valve"] == 2.0
        return {
            "passed": done,
            "score": 100.0 if done else 0.0,
            "critical": [] if done else [{"id": "flowing", "t": self.time, "reason": "The well was left flowing."}],
            "criteria": [
                {
                    "id": "closed",
                    "title": "Upper annular closed",
                    "points": 100,
                    "earned": 100 if done else 0,
                    "t": self.time if done else None,
                    "reason": "Closed <in time>." if done else "Never closed.",
                    "source": "The trade.",
                }
            ],
        }

    def evidence(self) -> dict[str, Any]:
        return {"drill": "practice-run", "log": self.log}
