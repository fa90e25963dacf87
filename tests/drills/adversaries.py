"""Operators who do not deserve to pass: ``python -m tests.drills.adversaries --runs 10000 [--jobs 2] [--from 0]``.

Over the whole library in turn. One presses anything at random; one is busy with what the drill is about, at random
times, and enters what the instruments show; one works every control and says everything; one copies what a good crew
did with another seed. None may ever pass a well-control drill. A run ends as soon as a pass is out of reach. Prints
the runs that passed, by drill and kind, with their numbers.
"""

from __future__ import annotations

import argparse
import time
from collections import Counter
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from functools import cache, lru_cache
from itertools import chain
from pathlib import Path
from typing import Any

from trainer import units
from trainer.drills import chance, library
from trainer.drills.schema import Drill
from trainer.hydraulics.catalogue import Operable
from trainer.runtime import server
from trainer.session.commands import Command
from trainer.simulator import Session

ACTIONS = Path(__file__).parent / "actions"
KINDS = ("random", "busy", "everything", "copy", "busy", "random", "busy", "random", "busy", "random")
"""What the runs of a drill are, in turn."""
VARIATIONS = 12
"""Variations of each drill; many operators are let loose on each."""
LONGEST = 240.0
"""Simulated seconds for which an operator presses; then two minutes in which what was done may still count."""


@cache
def drills() -> dict[str, Drill]:
    """The shipped drills, read once a process."""
    return library.all_drills()


@cache
def good_script(drill: str) -> tuple[Command, ...]:
    """What a good crew did with seed 0."""
    text = (ACTIONS / f"{drill}.good.jsonl").read_text(encoding="utf-8")
    return tuple(Command.model_validate_json(line) for line in text.splitlines())


@lru_cache(maxsize=512)
def begun(drill: str, seed: int) -> dict[str, Any]:
    """The drill at its first moment: to settle the plant takes longer than most of these operators last."""
    return Session.start(drill, seed=seed).snapshot()


def dead(session: Session) -> bool:
    """Nothing more can come of it."""
    return session.finished or not session.referee.passable


def _give(session: Session, do: str, target: str, value: Any, station: str) -> None:
    session.submit({"do": do, "target": target, "value": value, "from": station})


def _shown(session: Session, tag: str) -> float:
    """What the instrument shows, in its field unit."""
    return units.to_unit(session.machine.read(tag), session.machine.signals[tag].unit)


def _work(session: Session, operable: Operable, seed: int, name: str) -> None:
    """Give a control any of its values from any of its stations."""
    values, value = operable.values, None
    if values is not None and isinstance(values[0], str):
        value = values[chance.index(seed, f"value {name}", len(values))]
    elif values is not None:
        value = chance.between(seed, f"value {name}", float(values[0]), float(values[1]))
    station = operable.station[chance.index(seed, f"from {name}", len(operable.station))]
    _give(session, operable.do, operable.target, value, station)


def _press(session: Session, drill: Drill, seed: int, operables: list[Operable], looks: bool) -> None:
    """At a pace that the seed picks: work a control, say something, enter a number or, if it ``looks``, a reading."""
    faults = list(session.machine.faults)
    pace = (0.7, 1.5, 3.0, 6.0)[chance.index(seed, "pace", 4)]
    turns = int(min(LONGEST, drill.end.at) / pace)
    for turn in range(turns):
        if turn % 4 == 0 and dead(session):
            return
        pick = chance.share(seed, f"what {turn}")
        if pick < 0.15 and drill.statement:
            statement = drill.statement[chance.index(seed, f"say {turn}", len(drill.statement))]
            _give(session, "say", statement.id, None, "driller")
        elif pick < 0.3 and drill.reading:
            reading = drill.reading[chance.index(seed, f"read {turn}", len(drill.reading))]
            value = round(chance.between(seed, f"value {turn}", 0.0, 1500.0))
            if looks and reading.tag:
                value = _shown(session, reading.tag)
            _give(session, "read", reading.id, value, "driller")
        elif pick < 0.33:
            _give(session, "name", faults[chance.index(seed, f"name {turn}", len(faults))], None, "driller")
        else:
            _work(session, operables[chance.index(seed, f"do {turn}", len(operables))], seed, str(turn))
        session.advance(pace)


def at_random(session: Session, drill: Drill, seed: int) -> None:
    """Presses anything there is."""
    _press(session, drill, seed, list(session.machine.operables.values()), looks=False)


def busy(session: Session, drill: Drill, seed: int) -> None:
    """Presses what a good crew uses, with any value and at any time, and reads the instruments rightly."""
    used = {(command.do, command.target) for command in good_script(drill.id)}
    operables = [operable for key, operable in session.machine.operables.items() if key in used]
    _press(session, drill, seed, operables or list(session.machine.operables.values()), looks=True)


def everything(session: Session, drill: Drill, seed: int) -> None:
    """Works every control once, then enters what every instrument shows and says every statement, twice over."""
    operables = sorted(session.machine.operables.values(), key=lambda o: chance.share(seed, f"{o.do} {o.target}"))
    session.advance(chance.between(seed, "begin", 0.0, 120.0))
    for turn in range(2):
        for n, operable in enumerate(operables):
            if n % 10 == 0 and dead(session):
                return
            _work(session, operable, seed, f"{turn} {n}")
            session.advance(0.3)
        for reading in drill.reading:
            if reading.tag:
                _give(session, "read", reading.id, _shown(session, reading.tag), "driller")
        for statement in drill.statement:
            _give(session, "say", statement.id, None, "driller")
        session.advance(30.0)


def copy(session: Session, drill: Drill, seed: int) -> None:
    """Does, at the same times and with the same figures, what a good crew did with seed 0."""
    repeat(session, good_script(drill.id))


def repeat(session: Session, commands: Iterable[Command]) -> None:
    """Gives the commands at their times, until nothing more can come of it."""
    for command in commands:
        session.advance_to(command.t)
        if dead(session):
            return
        session.submit(command.model_copy(update={"t": session.time}))


OPERATORS = {"random": at_random, "busy": busy, "everything": everything, "copy": copy}


def run(drill: str, number: int, beside: Callable[[Session], None] | None = None) -> Session:
    """The ``number``-th run of a drill, up to its end or to where a pass is out of reach.

    ``beside`` is given the run before it begins.
    """
    kind = KINDS[number % len(KINDS)]
    # Copies differ by the variation alone, so that each takes another one.
    variation = 1 + (number // len(KINDS) if kind == "copy" else number % VARIATIONS)
    session = Session.restore(begun(drill, variation))
    if beside is not None:
        beside(session)
    OPERATORS[kind](session, drills()[drill], number)
    for _ in range(6):
        if dead(session):
            break
        session.advance(20.0)
    return session


def attempts(task: tuple[str, range]) -> list[tuple[str, str, int, bool]]:
    """Drill, kind, number and whether it passed, for these runs of one drill."""
    drill, numbers = task
    # Runs of one variation one after the other, so that it is set up once.
    order = sorted(numbers, key=lambda n: n % VARIATIONS)
    return [(drill, KINDS[n % len(KINDS)], n, bool(run(drill, n).sheet()["passed"])) for n in order]


def main() -> None:
    """Run them and print what passed."""
    server.offer()
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=1000, help="over the library")
    parser.add_argument("--from", type=int, default=0, dest="first", help="number of each drill's first run")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("drill", nargs="*", help="only these drills, the runs shared among all the library's")
    given = parser.parse_args()
    each = -(-given.runs // len(drills()))
    tasks = [(drill, range(given.first, given.first + each)) for drill in given.drill or drills()]
    began = time.perf_counter()
    count: Counter[tuple[str, str]] = Counter()
    passed: dict[tuple[str, str], list[int]] = {}
    with ProcessPoolExecutor(given.jobs) as pool:
        for done in pool.map(attempts, tasks):
            for drill, kind, number, good in done:
                count[drill, kind] += 1
                if good:
                    passed.setdefault((drill, kind), []).append(number)
            print(f"{done[0][0]:32s} {len(done)} runs, {sum(row[3] for row in done)} passed", flush=True)
    for (drill, kind), numbers in sorted(passed.items()):
        mark = "  WELL CONTROL" if drills()[drill].well_control else ""
        print(f"{drill:32s} {kind:10s} {len(numbers):5d} of {count[drill, kind]} passed{mark}: {numbers[:12]}")
    well = len(list(chain(*(numbers for (drill, _), numbers in passed.items() if drills()[drill].well_control))))
    took = time.perf_counter() - began
    print(
        f"{sum(count.values())} runs in {took:.0f} s: {sum(map(len, passed.values()))} passed, {well} of well control"
    )


if __name__ == "__main__":
    main()
