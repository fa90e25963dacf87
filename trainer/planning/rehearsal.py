"""A drill tried on a plant by its good crew, before anybody is trained on it.

The crew is the recorded one of ``assets/crews``, at seed 0. Here it adapts as far as its record tells how: where it
once acted some seconds after a milestone, it waits for that milestone on this plant and then as long; what it once read
off an instrument, it reads off this plant's. With a choke or kill valve it moves those that were added on the same
line, and with a pump those added of its drive. What it set by its own plan (a regulator, a height of the hook) stays.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from trainer import units
from trainer.console.crews import Crew, crew_of
from trainer.drills.runner import Runner
from trainer.drills.schema import DrillError
from trainer.planning.errors import PlanningError
from trainer.plant.base import Component
from trainer.plant.functions import Function
from trainer.plant.pumps import Pump
from trainer.plant.rig import Plant, base_of
from trainer.session.session import Entry
from trainer.simulator import Session

PATIENCE = 240.0
"""Seconds longer than it once took that the crew waits for a milestone."""
MANY = 10
"""Choke positions in a run from which on it held a pressure with the choke."""
END = 4 * 3600.0


@dataclass(frozen=True, slots=True)
class Missed:
    """A step that the crew did not get all points for, or that failed the run: its title, and why."""

    title: str
    why: str
    decisive: bool


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """How the good crew did: whether it passed, the verdict, and what it missed, the decisive first."""

    drill: str
    passed: bool
    verdict: str
    missed: tuple[Missed, ...]

    def why(self) -> list[str]:
        """Why it did not pass, a sentence a step; nothing when it did."""
        if self.passed:
            return []
        told = [f"{one.title}: {one.why}" for one in self.missed if one.decisive] or [
            f"{one.title}: {one.why}" for one in self.missed
        ]
        return [self.verdict, *told]


def rehearse(plant: Plant, drill: str) -> Rehearsal:
    """The drill's good crew on this plant. PlanningError when the drill has none, or the plant lacks what it names."""
    crew = crew_of(drill)
    if crew is None:
        raise PlanningError(f"the drill {drill!r} has no recorded crew to try it")
    try:
        session = Session.fitted(drill, plant)
    except DrillError as error:
        raise PlanningError("; ".join(str(problem) for problem in error.problems[:4])) from None
    _play(session, crew, beside(plant))
    sheet = session.sheet()
    missed = [Missed(str(row["title"]), str(row["reason"]), True) for row in sheet["critical"]]
    missed += [
        Missed(str(row["title"]), str(row["reason"]), bool(row["required"]) and row["earned"] <= 0.0)
        for row in sheet["criteria"]
        # An assessor's row has not been earned or missed yet.
        if row["earned"] is not None and row["earned"] < row["points"]
    ]
    return Rehearsal(
        drill, bool(sheet["passed"]), str(sheet["verdict"]), tuple(sorted(missed, key=lambda m: not m.decisive))
    )


def by_choke(drill: str) -> bool:
    """Whether the good crew of a drill holds a pressure by choke positions, which are those of the rig it knew."""
    crew = crew_of(drill)
    return crew is not None and sum(e.do == "set" and e.target == "floor.choke" for e in crew.log) >= MANY


def beside(plant: Plant) -> dict[str, list[str]]:
    """Parts that were added beside one of the base that does the same, by its id: valves on its line, pumps of its
    drive."""
    base = base_of(plant.base)
    if base is None:
        return {}
    known = {part.id for part in (*base.function, *base.pump)}
    found: dict[str, list[str]] = {}
    for part in (*plant.function, *plant.pump):
        mine = _role(part)
        if mine is not None and part.id not in known:
            # It goes with the first of its role only: two on a line would each take it along.
            first = next((one.id for one in (*base.function, *base.pump) if _role(one) == mine), None)
            if first is not None:
                found.setdefault(first, []).append(part.id)
    return found


def _role(part: Component) -> tuple[str, str] | None:
    if isinstance(part, Pump):
        return ("pump", part.drive)
    return (part.kind, part.line) if isinstance(part, Function) and part.line else None


def _play(session: Session, crew: Crew, added: Mapping[str, Sequence[str]]) -> None:
    """The crew's log, moved along with the milestones that it had waited for; what was ``added`` goes with its like."""
    order = sorted(((name, t) for name, t in crew.milestones.items() if t is not None), key=lambda item: item[1])
    was, now = 0.0, 0.0
    for entry in crew.log:
        if session.finished:
            return
        t = entry.t
        before = [(name, at) for name, at in order if was < at <= t]
        if before:
            name, at = before[-1]
            now = _await(session, name, now + (at - was) + PATIENCE, now + (at - was)) + (t - at)
        else:
            now += t - was
        was = t
        session.advance_to(max(now, session.time))
        now = max(now, session.time)
        if not session.finished:
            _follow(session, added)
            value = _value(session, entry)
            session.submit({"do": entry.do, "target": entry.target, "value": value, "from": entry.from_})
            part, dot, key = entry.target.partition(".")
            for other in added.get(part, ()) if entry.do == "set" else ():
                if ("set", f"{other}{dot}{key}") in session.machine.operables:
                    session.submit({"do": "set", "target": f"{other}{dot}{key}", "value": value, "from": entry.from_})
    session.advance_to(END)


def _follow(session: Session, added: Mapping[str, Sequence[str]]) -> None:
    """Open what was added beside a valve that the drill itself has opened: its own crew knows of one only."""
    read, tags = session.machine.read, session.machine.signals
    for part, others in added.items():
        for other in others:
            if f"{part}.opened" in tags and read(f"{part}.opened") > 0.5 > read(f"{other}.opened"):
                session.submit({"do": "set", "target": other, "value": "open", "from": "driller"})


def _await(session: Session, milestone: str, limit: float, expected: float) -> float:
    """When the milestone was reached on this plant, s; ``expected`` if it is not within the limit."""
    runner = session.referee
    assert isinstance(runner, Runner)
    while milestone not in runner.scope.reached:
        if session.finished or session.time >= limit:
            return max(expected, session.time)
        session.advance(0.1)
    return max(float(runner.scope.reached[milestone]), 0.0)


def _value(session: Session, entry: Entry) -> float | str | None:
    """What the crew gives with a command: for a reading, what this plant's instrument shows, as printed."""
    runner = session.referee
    if entry.do != "read" or not isinstance(runner, Runner):
        return entry.value
    tag = next((one.tag for one in runner.prepared.drill.reading if one.id == entry.target), "")
    signal = session.machine.signals.get(tag)
    if signal is None:
        return entry.value
    value = session.machine.read(tag)
    if signal.unit == "state":
        return float(int(value + 0.5))
    try:
        return float(units.number(value, signal.unit).split()[0].replace(",", ""))
    except ValueError:
        return entry.value
