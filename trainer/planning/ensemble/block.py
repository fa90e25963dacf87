"""Runs a drill on a block of plants together, each with its own referee, and keeps what each of them came to."""

from __future__ import annotations

import copy
import math
import time
from array import array
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from trainer import units
from trainer.constants import HAIR, SCAN, SCANS_PER_SECOND, TICKS_PER_SCAN
from trainer.hydraulics.compile import Numbers
from trainer.planning.ensemble import tolerances
from trainer.planning.ensemble.columns import Column, Columns
from trainer.planning.ensemble.eyes import as_read, truth
from trainer.planning.ensemble.operator import Operator
from trainer.planning.ensemble.order import Order
from trainer.planning.ensemble.watch import Gauges, Referee, Watch, room
from trainer.runtime import server
from trainer.session.commands import GO, OPERATE, Command
from trainer.session.sheets import SheetData
from trainer.session.walking import Walking
from trainer.session.walking import refusal as walking_refusal

Progress = Callable[[float], None]


class _Slots(Mapping[str, int]):
    """Gives every tag that a drill's conditions read a place in a short list, so that only those are fetched."""

    def __init__(self, index: Mapping[str, int]) -> None:
        self.index = index
        self.given: dict[str, int] = {}

    def __getitem__(self, tag: str) -> int:
        if tag not in self.index:
            raise KeyError(tag)
        return self.given.setdefault(tag, len(self.given))

    def __contains__(self, tag: object) -> bool:
        return tag in self.index

    def __iter__(self) -> Any:
        return iter(self.index)

    def __len__(self) -> int:
        return len(self.index)

    def rows(self) -> list[int]:
        """Rows of the state to fetch, in the order of their places."""
        return [self.index[tag] for tag in self.given]


class Watched(Column):
    """A plant of many as a drill sees it: conditions read a short list that is fetched once a scan."""

    def __init__(self, columns: Columns, place: int, slots: _Slots) -> None:
        super().__init__(columns, place)
        self.index = slots  # type: ignore[assignment]
        self.values = array("d")

    @property
    def state(self) -> Numbers:
        """The values that the conditions look at, SI, in the order of their own short list."""
        return self.values

    def read(self, tag: str) -> float:
        """A variable's value on this plant, SI, also one that no condition looks at; KeyError for none."""
        return float(self.columns.state[self.columns.mould.index[tag], self.place])

    def put(self, name: str, value: float) -> None:
        """Set a variable of this plant alone, SI; a condition that looks at it sees it at once."""
        self.columns.state[self.columns.mould.index[name], self.place] = value
        slots = self.index.given  # type: ignore[attr-defined]
        if name in slots and slots[name] < len(self.values):
            self.values[slots[name]] = float(value)


class Healthy(Watched):
    """A plant on which nothing of the drill's own fails: the twin that a faulty plant is compared with."""

    def set_fault(self, fault_id: str, severity: float) -> None:
        """Leave it healthy: on this plant, which the others are held against, the drill's fault does not happen."""


class Block:
    """Plants number ``start`` to ``stop`` of an order, set up and settled, ready to run.

    Beside them, in the last place, runs the plant of the description, which no tolerance touches: the script was
    written for it.
    """

    def __init__(self, order: Order, start: int, stop: int, kind: type[Watched] = Watched) -> None:
        self.order = order
        self.numbers = range(start, stop)
        machine = order.machine()
        self.prepared = order.prepared(machine)
        drill = self.prepared.drill
        spreads = order.spreads()
        rest = machine.saved()
        self.drawn = spreads.draws(machine, order.plants_seed, self.numbers)
        self.columns = Columns(machine, len(self.numbers) + 1, room(self.prepared))
        for place, drawn in enumerate(self.drawn):
            machine.restore(rest)
            tolerances.apply(machine, drawn)
            self.columns.state[:, place] = machine.state
        self.slots = _Slots(machine.index)
        self.plants = [kind(self.columns, place, self.slots) for place in range(self.columns.count)]
        ways = drill.ways.model_dump() | machine.walks if drill.crew == "alone" else None
        self.walking = [None if ways is None else Walking(ways) for _ in self.plants]
        self.operators = [Operator(order.steps()) for _ in self.plants] if order.waits else []
        self.seeds = [*order.drill_seeds(self.numbers), order.seed]
        self.referees = [Referee(self.prepared, seed, order.plant) for seed in self.seeds]
        self._begin()
        self.sheets: dict[int, SheetData] = {}
        self.refused: list[list[str]] = [[] for _ in self.plants]
        self.scans = 0

    def _begin(self) -> None:
        for plant, referee in zip(self.plants, self.referees, strict=True):
            referee.arrange(plant)  # type: ignore[arg-type]
        self.columns.scan(round(self.prepared.drill.initial.settle / SCAN))
        for referee in self.referees:
            referee.open()
        self.watch, self.gauges = Watch(self.referees, self.columns), Gauges(self.referees, self.columns)
        count = len(self.plants)
        self.running, self.still = np.ones(count, dtype=bool), np.zeros(count, dtype=bool)
        self.due = np.zeros(count)
        self.next = 0.0
        """When a referee has to look again though nothing turns, s."""
        self._fetch(range(count))

    def _fetch(self, places: Sequence[int]) -> None:
        """Bring the short lists of some plants up to date."""
        found = self.columns.state[np.ix_(self.slots.rows(), places)].T
        for place, values in zip(places, found, strict=True):
            self.plants[place].values[:] = array("d", values.tobytes())

    @property
    def time(self) -> float:
        """Simulated seconds since the drill began, the same on every plant of the block."""
        return self.scans / SCANS_PER_SECOND

    @property
    def finished(self) -> bool:
        """Whether the drill has ended on every plant; the healthy one beside them is not asked."""
        return not self.running[:-1].any()

    def give(self, command: Command) -> None:
        """Give a command to every plant whose drill still runs; what it reads is each plant's own."""
        # What a command does or says is looked at on every plant, with readings of now.
        self._fetch(range(len(self.plants)))
        command = command.model_copy(update={"t": self.time})
        there = truth(command, self.referees[-1])
        for place in range(len(self.plants)):
            self._hand(place, command, there)

    def _hand(self, place: int, command: Command, there: float | None) -> None:
        """A command to one plant, whose short list is up to date; ``there`` is what the script read for it."""
        if place in self.sheets:
            return
        tick, walking = self.scans * TICKS_PER_SCAN, self.walking[place]
        if far := walking_refusal(walking, command, tick):
            self._refuse(place, command, far)
            return
        if command.do == GO and walking is not None:
            walking.go(command.target, tick)
        self.still[place], self.next = False, 0.0
        referee = self.referees[place]
        refusal = self.plants[place].apply(command) if command.do in OPERATE else None
        if refusal:
            self._refuse(place, command, refusal)
        referee.before(self.time, as_read(command, referee, there), refusal)

    def _refuse(self, place: int, command: Command, why: str) -> None:
        if place not in self.sheets:
            self.refused[place].append(f"{self.time:.1f} s: {command.do} {command.target}: {why}")

    def step(self, commands: Sequence[Command], done: int) -> int:
        """Give the commands that are due from number ``done`` on, then advance by a scan; the new ``done``.

        Crews that wait give their own, each when it is due on its plant."""
        for place, operator in enumerate(self.operators):
            for step in operator.due(self.time, self.referees[place].scope.reached):
                self._fetch([place])
                self._hand(place, step.command.model_copy(update={"t": self.time}), step.shown)
        while not self.operators and done < len(commands) and self.time >= commands[done].t - HAIR:
            self.give(commands[done])
            done += 1
        self.scan()
        return done

    def scan(self) -> None:
        """Advance all plants by 100 ms and let the referees look where they have to."""
        self.columns.scan()
        last, self.scans = self.time, self.scans + 1
        now = self.time
        if self.watch.look() or now >= self.next - HAIR:
            self._look(now, last)
        if now >= self.gauges.due - HAIR:
            self.gauges.look(now)

    def _look(self, now: float, last: float) -> None:
        """Let the referees look whose plants turned, or who are due."""
        places = np.flatnonzero(self.running & (~self.still | self.watch.turned() | (now >= self.due - HAIR))).tolist()
        self._fetch(places)
        for place in places:
            referee = self.referees[place]
            referee.look(now, last)
            self.watch.looked(place)
            self.due[place], self.still[place] = referee.due, referee.still
            if referee.finished:
                self.sheets[place] = referee.sheet().to_json()
                self.running[place] = False
        self.next = float(np.where(self.still, self.due, 0.0)[self.running].min(initial=math.inf))


def run_block(order: Order, start: int, stop: int, progress: Progress | None = None) -> dict[str, object]:
    """Run plants ``start`` to ``stop`` to the end of the drill: their outcomes and traces as plain data."""
    server.offer()
    began = time.process_time()
    block = Block(order, start, stop)
    commands = order.script()
    traces = _Traces(order, block)
    end = block.prepared.drill.end.at
    ready = time.process_time()
    done = 0
    while not block.finished:
        traces.look()
        done = block.step(commands, done)
        if progress is not None and block.scans % 100 == 0:
            progress(min(block.time / end, 1.0))
    traces.look()
    spent = time.process_time()
    return {
        "start": start,
        "stop": stop,
        "plants": [_outcome(block, place) for place in range(len(block.numbers))],
        "traces": traces.to_json(),
        "simulated_s": block.time * (stop - start),
        "setup_cpu_s": ready - began,
        "run_cpu_s": spent - ready,
    }


def _outcome(block: Block, place: int) -> dict[str, object]:
    sheet = block.sheets[place]
    return {
        "number": block.numbers[place],
        "seed": block.seeds[place],
        "drawn": block.drawn[place],
        "passed": sheet["passed"],
        "score": sheet["score"],
        "critical": [{"id": row["id"], "t": row["t"]} for row in sheet["critical"]],
        "criteria": {row["id"]: [row["earned"], row["t"]] for row in sheet["criteria"]},
        "milestones": {row["id"]: row["t"] for row in sheet["milestones"]},
        "refused": block.refused[place],
    }


class _Traces:
    """What some instruments showed, every few seconds, in field units."""

    def __init__(self, order: Order, block: Block) -> None:
        self.block = block
        self.tags = [tag for tag in order.traces if tag in block.columns.mould.signals]
        self.every = max(round(order.every / SCAN), 1)
        self.times: list[float] = []
        self.seen: list[np.ndarray[Any, np.dtype[np.float64]]] = []
        self.rows = [block.columns.mould.index[tag] for tag in self.tags]

    def look(self) -> None:
        if self.block.scans % self.every == 0 and (not self.times or self.times[-1] < self.block.time):
            self.times.append(self.block.time)
            self.seen.append(copy.copy(self.block.columns.state[self.rows]))

    def to_json(self) -> dict[str, object]:
        signals = self.block.columns.mould.signals
        found: dict[str, object] = {"t": self.times}
        for n, tag in enumerate(self.tags):
            unit = units.UNITS[signals[tag].unit]
            table = np.array([seen[n, :-1] for seen in self.seen]) / unit.factor - unit.offset
            found[tag] = np.round(table.T, 3).tolist()
        return found
