"""A drill on a running plant: the referee that sets it up, makes things happen, watches and scores."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from typing import Any, Protocol

from trainer import units
from trainer.constants import HAIR, SCAN
from trainer.drills import chance
from trainer.drills.binding import Binder, Truth
from trainer.drills.checking import Item
from trainer.drills.criteria import Judge
from trainer.drills.criteria_schema import Assess, Critical, Reach
from trainer.drills.expressions import Catalogue, Expression, Scope
from trainer.drills.language import id_of
from trainer.drills.prepare import Prepared
from trainer.drills.schema import Action, Event, Wait
from trainer.drills.scoring import ScoringContext
from trainer.drills.sheet import ScoreSheet, decide, of_100, shares
from trainer.drills.spoken import judge_of
from trainer.hydraulics.compile import Numbers
from trainer.hydraulics.refusal import Refusal
from trainer.session.commands import Command
from trainer.wording import amount, put


class ScoredPlant(Catalogue, Protocol):
    """What a drill needs of the compiled plant: its catalogue, its variables, and how it can begin."""

    state: Numbers
    index: dict[str, int]
    starts: dict[str, dict[str, float]]
    start_at: Callable[[str, float | None, float | None], dict[str, float]] | None

    def read(self, tag: str) -> float:
        """The value of a signal in SI, of a discrete one the place of its state; KeyError for none."""

    def scan(self, scans: int = 1) -> None:
        """Advance by so many times 100 ms; ArithmeticError when the numbers gave out."""

    def apply(self, command: Command) -> Refusal | None:
        """Carry out a command: None, or the refusal with its code when the plant does not take it."""

    def put(self, name: str, value: float) -> None:
        """Set a variable of the plant, SI; KeyError for none of that name."""

    def set_fault(self, fault: str, severity: float) -> None:
        """Set how badly something has failed, 0 (healthy) to 1 (worst); KeyError for no such fault."""


OPEN = 60.0
"""So long a run goes on past its end, s, while what is still open could earn points; invented."""


CREWED = ("called", "repeated", "hand")
"""What is remembered of a crew; a run of one person remembers, and hashes, nothing of it."""


class Latch:
    """A condition that counts once it has held for a while; the time that counts is when it began."""

    __slots__ = ("expression", "hold", "holds", "key", "onset")

    def __init__(self, key: str, expression: Expression, holds: Truth, hold: float) -> None:
        self.key, self.expression, self.holds, self.hold = key, expression, holds, hold
        self.onset: float | None = None
        """Since when it holds, s; None while it does not."""

    def due(self) -> float:
        """When it has held long enough if it goes on, s; infinite while it does not hold."""
        return math.inf if self.onset is None else self.onset + self.hold

    def look(self, t: float) -> bool:
        """Look at the condition at ``t`` s: whether it has held for ``hold`` s by now."""
        if not self.holds():
            self.onset = None
            return False
        if self.onset is None:
            self.onset = t
        return t - self.onset >= self.hold - HAIR


class Tally(Latch):
    """A critical error of adding up: it counts once what flows in while the condition holds is more than the most."""

    __slots__ = ("adds", "most", "total")

    def __init__(self, latch: Latch, adds: Callable[[], float], most: float) -> None:
        super().__init__(latch.key, latch.expression, latch.holds, 0.0)
        self.adds, self.most, self.total = adds, most, 0.0

    def look(self, t: float) -> bool:
        """Add what flowed in the scan that ended at ``t`` s; whether it has become too much."""
        if self.holds():
            self.total += max(0.0, self.adds()) * SCAN
        if self.total <= self.most:
            return False
        self.onset = t
        return True


class Events:
    """Fires the events of a drill when they are due, and lets their faults grow scan by scan."""

    def __init__(self, items: Sequence[Item[Event]], binder: Binder, runner: Runner) -> None:
        self.items = items
        self.runner = runner
        self.fired: list[float | None] = [None] * len(items)
        self.growing: list[int] = []
        self._latches = [
            Latch("", when, binder.condition(when), item.spec.hold) if (when := item.ready.get("when")) else None
            for item in items
        ]
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
        """Whether an event has still to come or a fault still grows, so that the plant cannot be left alone."""
        return bool(self.waiting or self.growing)

    def step(self, t: float) -> None:
        """Fire what is due at ``t`` s, in the order of the file, and let faults grow."""
        for n in list(self.waiting):
            if self._due(n, t):
                self.fired[n] = t
                self.waiting.remove(n)
                self._fire(n, t)
        for n in list(self.growing):
            self._grow(n, t)

    @property
    def holding(self) -> bool:
        """Whether the condition of an event that waits holds, so that time alone may fire it."""
        waiting = (self._latches[n] for n in self.waiting)
        return any(latch is not None and latch.onset is not None for latch in waiting)

    def _due(self, n: int, t: float) -> bool:
        latch = self._latches[n]
        return t >= self._at[n] - HAIR if latch is None else latch.look(t)

    def _fire(self, n: int, t: float) -> None:
        spec, runner = self.items[n].spec, self.runner
        if spec.fault is not None:
            self.growing.append(n)
        if spec.clear is not None:
            runner.machine.set_fault(runner.fault_id(spec.clear), 0.0)
        for variable, value in self._values[n].items():
            signal = runner.prepared.catalogue.signals.get(variable)
            turned = signal is not None and signal.unit == "deg"
            runner.machine.put(variable, units.bearing(value()) if turned else value())
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

    def memory(self) -> object:
        """When each event came, since when each condition holds, and what grows, as JSON data."""
        onset = [None if latch is None else latch.onset for latch in self._latches]
        return {"fired": list(self.fired), "onset": onset, "growing": list(self.growing)}

    def recall(self, memory: Any) -> None:
        """Take back what ``memory()`` gave, for the events of the same drill."""
        self.fired, self.growing = list(memory["fired"]), list(memory["growing"])
        for latch, onset in zip(self._latches, memory["onset"], strict=True):
            if latch is not None:
                latch.onset = onset
        self.waiting = [n for n, fired in enumerate(self.fired) if fired is None]


class Runner:
    """Implements the session's ``Referee`` for one drill, plant and seed."""

    def __init__(self, prepared: Prepared, seed: int = 0, plant: str = "") -> None:
        self.prepared = prepared
        self.drill = prepared.drill
        self.seed = seed
        self.plant = plant or prepared.drill.plants[0]
        self.finished = False
        self.ended: float | None = None
        self.messages: list[tuple[float, str]] = []
        """What the trainee has been told, with times."""
        self.refusals: list[tuple[float, str]] = []
        self.drawn = self._pick()
        """What the seed drew: SI value, or the place in the list of choices, by the id of the variation."""

    # -- setting up

    def _pick(self) -> dict[str, float]:
        picked = {}
        for item in self.prepared.vary:
            spec = item.spec
            # Drills share nothing: seeds that are alike in one are not in the next.
            stream = f"{self.drill.id} {spec.id}"
            if spec.one_of is not None:
                picked[spec.id] = float(chance.index(self.seed, stream, len(spec.one_of)))
            else:
                signals = self.prepared.catalogue.signals
                binder = Binder(Scope(read=lambda _: 0.0), signals)
                low, high = (binder.quantity(item.ready[key])() for key in ("low", "high"))
                value = chance.between(self.seed, stream, low, high)
                if "step" in item.ready:
                    step = binder.quantity(item.ready["step"])()
                    value = low + step * int((value - low) / step + 0.5)
                picked[spec.id] = value
        return picked

    def begin(self, machine: ScoredPlant) -> None:
        """Bring the plant to the initial condition of the drill and start watching at t = 0."""
        self.arrange(machine)
        machine.scan(round(self.drill.initial.settle / SCAN))
        self.open()

    def arrange(self, machine: ScoredPlant) -> None:
        """The first part of ``begin``: set the plant up, before it settles."""
        self.attach(machine)
        initial = self.drill.initial
        # Each is read from the plant as those before have left it; what a condition reads may be fetched later.
        now = Binder(Scope(read=machine.read, vary=self.drawn), self.prepared.catalogue.signals)
        for variable, value in self._start(machine, now).items():
            machine.put(variable, value)
        for variable, expression in self.prepared.initial.items():
            machine.put(variable, now.quantity(expression)())
        for action in initial.commands:
            self.give(action, 0.0)
        for fault, expression in self.prepared.initial_faults:
            machine.set_fault(self.fault_id(fault), now.quantity(expression)())

    def _start(self, machine: ScoredPlant, now: Binder) -> dict[str, float]:
        """Variables of the named start, with the hole and the bit at the depths that the drill gives."""
        name = self.drill.initial.start
        hole, bit = (now.quantity(e)() if e else None for e in (self.prepared.depth, self.prepared.bit))
        if hole is None and bit is None:
            return {} if name is None else machine.starts[name]
        assert machine.start_at is not None  # looked at when the drill was joined to the plant
        return machine.start_at(name or "drilling", hole, bit)

    def open(self) -> None:
        """The last part of ``begin``: what is done once the plant has settled, and the briefing."""
        initial = self.drill.initial
        for action in initial.then:
            self.give(action, 0.0)
        self.messages = [(0.0, self.words(initial.text))]

    def attach(self, machine: ScoredPlant) -> None:
        """Bind every condition to a machine that is already in the right state (begin, or before load)."""
        prepared = self.prepared
        self.machine = machine
        self.scope = scope = Scope(read=machine.read, state=machine.state, index=machine.index, vary=self.drawn)
        choices = {v.id: v.one_of for v in self.drill.vary if v.one_of}
        self.binder = binder = Binder(scope, prepared.catalogue.signals, choices)
        self.desk = ScoringContext(prepared, scope, binder)
        self.judges = [judge_of(item, self.desk) for item in prepared.criteria]
        self._watching = [judge for judge in self.judges if judge.watches]
        self._scored = [judge for judge in self.judges if not isinstance(judge.spec, Assess)]
        self._latches = [self._latch(item.spec.id, item.ready["when"], item.spec.hold) for item in prepared.milestones]
        for judge in self.judges:
            if isinstance(judge.spec, Reach):
                self._latches.append(self._latch(judge.key, judge.ready["when"], judge.spec.hold))
        self._at_end: list[Latch] = []
        for failure in prepared.criticals:
            latches = self._at_end if failure.spec.at_end else self._latches
            latch = self._latch(f"critical.{failure.spec.id}", failure.ready["when"], failure.spec.hold)
            if "adds" in failure.ready:
                latch = Tally(latch, binder.quantity(failure.ready["adds"]), binder.quantity(failure.ready["most"])())
            latches.append(latch)
        self._pending = list(self._latches)
        self.events = Events(prepared.events, binder, self)
        end = prepared.end
        self._end = None
        if "when" in end.ready:
            self._end = Latch("end", end.ready["when"], binder.condition(end.ready["when"]), end.spec.hold)
        self._waits = [(item.spec, binder.condition(item.ready["when"])) for item in prepared.waits]
        self._kept = self._keeps()
        self._last = 0.0
        self.finished, self.ended = False, None

    def _latch(self, key: str, expression: Expression, hold: float) -> Latch:
        return Latch(key, expression, self.binder.condition(expression), hold)

    def _keeps(self) -> dict[str, list[tuple[str, Callable[[], float]]]]:
        """For each milestone, the values that some ``at(milestone, ...)`` wants kept when it is reached."""
        kept: dict[str, list[tuple[str, Callable[[], float]]]] = {}
        for expression in self.prepared.expressions():
            for call in expression.keeps:
                milestone = id_of(call.arguments[0])
                wanted = kept.setdefault(milestone, [])
                if call.key not in [key for key, _ in wanted]:
                    wanted.append((call.key, self.binder.kept(call)))
        return kept

    def fault_id(self, name: str) -> str:
        """The id of a fault: the name itself, or for ``vary.<id>`` the one that the seed picked."""
        return self.prepared.picked(self.drawn).get(name, name)

    def words(self, text: str) -> str:
        """A text for the trainee with {vary.<id>} replaced by what the seed picked, in the unit of the file."""
        for spec in self.drill.vary:
            value = self.drawn[spec.id]
            if spec.one_of is not None:
                shown = spec.one_of[int(value)]
            else:
                unit = (spec.low or "").partition(" ")[2]
                shown = amount(value, unit) if unit else f"{value:g}"
            text = put(text, f"{{vary.{spec.id}}}", shown)
        return text

    def give(self, action: Action, t: float) -> None:
        """Carry out a command of the drill itself, from any station that may."""
        station = self.prepared.catalogue.operables[(action.do, action.target)].station
        data = {
            "t": t,
            "do": action.do,
            "target": action.target,
            "value": action.value,
            "from": station[0] if station else "unit",
        }
        self.machine.apply(Command.model_validate(data))

    # -- running

    def before(self, t: float, command: Command, refusal: Refusal | None = None) -> None:
        """See a command; spoken ones (say, read, name) go to the criteria."""
        self.scope.t = t
        if refusal is not None:
            self.refusals.append((t, str(refusal)))
            return
        do, target = command.do, command.target
        value = self._heard(command) if do == "read" else None
        scope = self.scope
        if do == "say":
            scope.said.setdefault(target, t)
        elif do == "read":
            scope.noted.setdefault(target, t)
        elif do == "go":
            return
        elif do in ("call", "repeat"):
            self._called(t, command)
            return
        elif do != "name":
            scope.pushed.setdefault(target, t)
            scope.by[target] = command.from_
            if command.by is not None:
                scope.hand[target] = command.by
            return
        for judge in self.judges:
            if judge.spec.post is None or judge.spec.post == command.by:
                judge.hear(t, do, target, value)

    def _called(self, t: float, command: Command) -> None:
        """A call of the crew, or its repeating back: for conditions, and for whoever judges what is called."""
        known = self.scope.called if command.do == "call" else self.scope.repeated
        known.setdefault(command.target, t)
        for judge in self.judges:
            judge.overhear(t, command)

    def _heard(self, command: Command) -> float | None:
        """A reading as SI; None when it cannot be understood as that quantity."""
        named = next((r for r in self.drill.reading if r.id == command.target), None)
        signal = self.prepared.catalogue.signals.get(named.tag if named else command.target)
        value = command.value
        unit = signal.unit if signal is not None else named.unit if named else None
        if unit is None or value is None:
            return None
        if signal is not None and unit == "state":
            if isinstance(value, str):
                return float(signal.states.index(value)) if value in signal.states else None
            return float(value)
        try:
            return units.edge_value(value, unit)
        except ValueError:
            return None

    def after(self, t: float) -> None:
        """Look at the plant after a scan: events, milestones, limits, critical failures, the end."""
        if self.finished:
            return
        scope = self.scope
        scope.t = t
        dt, self._last = t - self._last, t
        if self.events.pending:
            self.events.step(t)
        latched = False
        for latch in self._pending:
            began = latch.onset is None
            if began and not latch.holds():
                continue
            held = latch.look(t)
            if began and latch.onset is not None:
                self.desk.note(latch.key, latch.expression)
            if held:
                self._reach(latch)
                latched = True
        if latched:
            self._pending = [latch for latch in self._pending if latch.key not in scope.reached]
        for judge in self._watching:
            judge.watch(t, dt)
        if t >= self.drill.end.at - HAIR or self._over(t):
            self.finished, self.ended = True, t
            for latch in self._at_end:
                if latch.holds():
                    self.desk.note(latch.key, latch.expression)
                    scope.reached[latch.key] = t

    def _reach(self, latch: Latch) -> None:
        assert latch.onset is not None  # set by the caller just before
        self.scope.reached[latch.key] = latch.onset
        for key, value in self._kept.get(latch.key, ()):
            number = value()
            if number == number:  # NaN, not defined yet, stays unknown and out of the JSON
                self.scope.kept[key] = number

    def _over(self, t: float) -> bool:
        end = self._end
        if end is None:
            return False
        if not end.look(t):
            return False
        past = t - end.due() + HAIR
        if past < OPEN and (past < SCAN or round(t / SCAN) % 10 == 0):
            # At the end, and then once a second, since each look judges everything.
            return not self.open_points
        return past >= OPEN

    @property
    def open_points(self) -> bool:
        """Whether something that is done from here on could still earn points."""
        return next(self._still_open(), None) is not None

    @property
    def open_titles(self) -> list[tuple[str, str]]:
        """What could still earn points: the title on the score sheet, and the kind of criterion."""
        return [(judge.spec.title, judge.spec.kind) for judge in self._still_open()]

    def _still_open(self) -> Iterator[Judge[Any]]:
        t = self._last
        return (judge for judge in self._scored if (judge.judge(t).share or 0.0) < judge.best(t) - HAIR)

    @property
    def left(self) -> float | None:
        """Seconds until the run ends by itself, now that all that ends it is done; None before that."""
        end = self._end
        if end is None or end.onset is None or self.finished:
            return None
        return max(0.0, end.onset + end.hold + (OPEN if self.open_points else 0.0) - self._last)

    def waiting(self) -> Wait | None:
        """The wait that may be skipped now; None while there is something to do."""
        return next((wait for wait, holds in self._waits if holds()), None)

    # -- memory

    def state(self) -> dict[str, object]:
        """All that the referee remembers, as JSON data; floats survive exactly."""
        scope = self.scope
        onsets = {latch.key: latch.onset for latch in self._pending if latch.onset is not None}
        crewed = {name: dict(getattr(scope, name)) for name in CREWED} if self.drill.post else {}
        return {
            **crewed,
            "t": self._last,
            "finished": self.finished,
            "ended": self.ended,
            "reached": dict(scope.reached),
            "kept": dict(scope.kept),
            "said": dict(scope.said),
            "noted": dict(scope.noted),
            "pushed": dict(scope.pushed),
            "by": dict(scope.by),
            "answered": dict(scope.answered),
            "onsets": onsets,
            "totals": {latch.key: latch.total for latch in self._latches if isinstance(latch, Tally)},
            "end": None if self._end is None else self._end.onset,
            "seen": {key: dict(values) for key, values in self.desk.seen.items()},
            "judges": [judge.memory() for judge in self.judges],
            "events": self.events.memory(),
            "messages": [list(message) for message in self.messages],
            "refusals": [list(refusal) for refusal in self.refusals],
        }

    def load(self, state: dict[str, Any]) -> None:
        """Take back what ``state()`` gave; the machine must be attached (``begin`` or ``attach``)."""
        scope = self.scope
        crewed = CREWED if self.drill.post else ()
        for name in ("reached", "kept", "said", "noted", "pushed", "by", "answered", *crewed):
            room: dict[str, Any] = getattr(scope, name)
            room.clear()
            room.update(state[name])
        self._last = scope.t = state["t"]
        self.finished, self.ended = state["finished"], state["ended"]
        self._pending = [latch for latch in self._latches if latch.key not in scope.reached]
        for latch in self._pending:
            latch.onset = state["onsets"].get(latch.key)
            if isinstance(latch, Tally):
                latch.total = state["totals"].get(latch.key, 0.0)
        if self._end is not None:
            self._end.onset = state["end"]
        self.desk.seen = {key: dict(values) for key, values in state["seen"].items()}
        for judge, memory in zip(self.judges, state["judges"], strict=True):
            judge.recall(memory)
        self.events.recall(state["events"])
        self.messages = [(t, text) for t, text in state["messages"]]
        self.refusals = [(t, text) for t, text in state["refusals"]]

    # -- scoring

    @property
    def committed(self) -> list[Item[Critical]]:
        """The critical errors that have been made so far, in the order of the drill."""
        return [item for item in self.prepared.criticals if f"critical.{item.spec.id}" in self.scope.reached]

    @property
    def passable(self) -> bool:
        """False once nothing that is done from here on can lead to a pass, as far as the machine judges it."""
        return self.spoiled is None

    @property
    def spoiled(self) -> tuple[str, str] | None:
        """What makes a pass impossible from here on, and why that matters; None while one can still be reached."""
        t = self._last
        for failure in self.committed:
            return failure.spec.title, failure.spec.reason
        best = points = 0.0
        gone: list[tuple[float, str]] = []
        for judge in self._scored:
            spec = judge.spec
            share = judge.best(t)
            if judge.required and share <= 0.0:
                return f"the must-pass item “{spec.title}” is lost", spec.why
            best += spec.points * share
            points += spec.points
            gone.append((spec.points * (1.0 - share), spec.title))
        if 100.0 * best >= points * (self.drill.pass_mark - 0.01):
            return None
        return (
            f"at most {of_100(100.0 * best / points, self.drill.pass_mark)} can still be reached",
            f"Most points lost: {max(gone)[1]}.",
        )

    def sheet(self) -> ScoreSheet:
        """The score sheet as it would stand if the drill ended now; an assessor's marks come in by ``assessed``."""
        end = self._last if self.ended is None else self.ended
        reached = self.scope.reached
        rows = [judge.row(end) for judge in self.judges]
        failures = [
            self.desk.failure(item.spec, reached[f"critical.{item.spec.id}"], end, item.ready["when"])
            for item in self.committed
        ]
        failures.sort(key=lambda failure: failure.t)
        passed, score, verdict = decide(rows, failures, self.drill.pass_mark)
        signals = self.prepared.catalogue.signals
        return ScoreSheet(
            drill=self.drill.id,
            title=self.drill.title,
            plant=self.plant,
            seed=self.seed,
            simulated_s=end,
            finished=self.finished,
            pass_mark=self.drill.pass_mark,
            passed=passed,
            score=score,
            verdict=verdict,
            critical=failures,
            criteria=rows,
            milestones=[
                {"id": m.spec.id, "title": m.spec.title, "t": reached.get(m.spec.id)} for m in self.prepared.milestones
            ],
            signals={tag: units.to_unit(self.scope.read(tag), signals[tag].unit) for tag in signals},
            crew=shares(rows, {post.id: post.title for post in self.drill.post}),
        )
