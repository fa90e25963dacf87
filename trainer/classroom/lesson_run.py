"""A lesson that runs in a class: its steps planned into the run of each trainee, done by hand, skipped, or left."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from trainer import units
from trainer.classroom.class_rooms import ClassRooms
from trainer.classroom.instructor import RefusedError
from trainer.classroom.planned import Planned, Trigger
from trainer.classroom.roster import Place, catalogue
from trainer.console import debrief
from trainer.drills.lesson_plan import LessonPlan, LessonStep, in_words
from trainer.drills.schema import Drill
from trainer.hydraulics.machine import Machine
from trainer.simulator import Session


@dataclass(frozen=True)
class StepStatus:
    """How far one step of a lesson has come in the class: for whom it is done, and whom it waits for."""

    step: LessonStep
    when: str
    """When it happens, in words."""
    does: str
    """What happens, in words."""
    done: Sequence[str]
    """Who has come to it, each with the time of their run."""
    waiting: Sequence[str]
    """Whom it still waits for, by name."""
    skipped: bool = False


@dataclass
class LessonRun:
    """A lesson under way. ``by`` is who runs it; only trainees of this server process take part."""

    plan: LessonPlan
    by: str
    rooms: ClassRooms
    groups: dict[str, str] = field(default_factory=dict)
    """The group of each place, by its number."""
    skipped: set[int] = field(default_factory=set)
    teams: Mapping[str, str] = field(default_factory=dict)
    """The group of each person by the class lists, by name."""

    def deal(self, numbers: Sequence[str]) -> None:
        """Deal these places out to the groups: whom a class list puts into one of them there, the others in the order
        of their names."""
        names = self.plan.groups
        places = [place for place in self.rooms.places() if place.number in numbers and place.number not in self.groups]
        for place in places:
            listed = self.teams.get(place.name, "")
            free = min(names, key=lambda name: list(self.groups.values()).count(name)) if names else ""
            self.groups[place.number] = listed if listed in names else free

    def begins(self) -> dict[str, str]:
        """The message by which the desk starts the lesson's run for one trainee."""
        plan = self.plan
        if plan.drill is not None:
            return {"page": "start", "drill": plan.drill, "mode": "practice", "seed": str(plan.variation)}
        return {"page": "start_from", "start": plan.start or "", "plant": plan.plant or ""}

    def arm(self, place: Place) -> None:
        """Plan the steps into the run that has just begun at this place."""
        self.deal([place.number])
        group = self.groups[place.number]
        place.seat.planned = [
            Planned(str(number), _trigger(step), self._act(place, step))
            for number, step in enumerate(self.plan.step)
            if step.group in ("", group) and number not in self.skipped
        ]

    def places(self) -> list[Place]:
        """The places that take part in the lesson now, in the order of their names."""
        return [place for place in self.rooms.places() if place.number in self.groups and place.seat.planned]

    def status(self, drill: Drill | None) -> list[StepStatus]:
        """How far each step has come, in the order of the lesson; ``drill`` gives the names that conditions use."""
        places = self.places()
        machine = catalogue(self.plan.plant or (drill.plants[0] if drill is not None else ""))
        found = []
        for number, step in enumerate(self.plan.step):
            done, waiting = [], []
            for place in places:
                one = next((one for one in place.seat.planned if one.key == str(number)), None)
                if one is None:
                    continue
                if one.done_at is None:
                    waiting.append(place.name)
                else:
                    why = f" (not done: {one.refused})" if one.refused else ""
                    done.append(f"{place.name} {debrief.clock(one.done_at)}{why}")
            found.append(
                StepStatus(
                    step, _when(step, machine, drill), does(step, machine), done, waiting, number in self.skipped
                )
            )
        return found

    def now(self, number: int) -> str:
        """Let a step happen at once for everybody whom it still waits for; what was done, in words."""
        step = self._step(number)
        waiting = [
            (place, one)
            for place in self.places()
            for one in place.seat.planned
            if one.key == str(number) and one.done_at is None and isinstance(place.run, Session)
        ]
        if not waiting:
            raise RefusedError("this step waits for no one")
        for place, one in waiting:
            if isinstance(place.run, Session):
                one.do(place.run)
        refused = [f"{place.name}: {one.refused}" for place, one in waiting if one.refused]
        done = f"{step.title}: done for {len(waiting) - len(refused)}"
        return f"{done}; not for {'; '.join(refused[:3])}" if refused else f"{done}."

    def skip(self, number: int) -> str:
        """Leave a step out for everybody who has not come to it; in words."""
        step = self._step(number)
        self.skipped.add(number)
        for place in self.places():
            place.seat.planned = [
                one for one in place.seat.planned if one.key != str(number) or one.done_at is not None
            ]
        return f"{step.title}: skipped."

    def leave(self) -> str:
        """Let nothing more happen by itself; the runs go on as they are."""
        for place in self.places():
            place.seat.planned = []
        return f"{self.plan.title}: left. The runs go on as they are."

    def _step(self, number: int) -> LessonStep:
        if not 0 <= number < len(self.plan.step):
            raise RefusedError("the lesson has no such step")
        return self.plan.step[number]

    def _act(self, place: Place, step: LessonStep) -> Callable[[], str | None]:
        seat, by = place.seat, self.by

        def act() -> str | None:
            refusals = []
            if step.clear is not None:
                refusals.append(seat.ramp(step.clear, 0.0, 0.0))
            if step.fault is not None:
                refusals.append(seat.ramp(step.fault, units.edge_value(step.severity, "%"), step.over))
            if step.tell is not None:
                seat.tell(by, step.tell)
            if step.ask is not None:
                seat.tell(by, f"Question: {step.ask}")
            if step.discuss is not None:
                seat.freeze(True, by, step.discuss)
            return next((refusal for refusal in refusals if refusal), None)

        return act


def _trigger(step: LessonStep) -> Trigger:
    at = None if step.at is None else units.edge_value(step.at, "s")
    return Trigger(at, step.when or "", step.hold)


def does(step: LessonStep, machine: Machine | None) -> str:
    """What a step does, in words; ``machine`` gives the titles of its faults."""
    faults = machine.faults if machine is not None else {}

    def title(fault: str) -> str:
        return faults[fault].title if fault in faults else fault

    said = [
        f"Fault: {title(step.fault)}, {step.severity}" + (f" within {step.over:g} s" if step.over else "")
        if step.fault
        else "",
        f"Clears: {title(step.clear)}" if step.clear else "",
        f"Says: {step.tell}" if step.tell else "",
        f"Asks: {step.ask}" if step.ask else "",
        f"Stops the clock to discuss: {step.discuss}" if step.discuss else "",
    ]
    return " ".join(line if line.endswith((".", "?", "!")) else f"{line}." for line in said if line)


def _when(step: LessonStep, machine: Machine | None, drill: Drill | None) -> str:
    """When a step happens, in words."""
    whose = f", for {step.group}" if step.group else ""
    if step.at is not None:
        return f"At {debrief.clock(units.edge_value(step.at, 's'))}{whose}"
    if step.when is None:
        return f"By hand{whose}"
    words = in_words(step.when, machine, drill) if machine is not None else step.when
    return f"When {words}{whose}"
