"""Whether what was done with one seed passes with another: ``python -m tests.drills.copies [--seeds 41] [DRILL]``.

A pass needs certain readings right: entries for the log or for the kill sheet, of what the seed varies. So among all
ordered pairs of seeds only those can pass whose figures agree as closely as these readings are judged, and a margin
over it. Those are played: the good crew of one seed, its actions given with the other. Prints each drill's pairs, how
many are near, and how many passed.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterator
from functools import cache
from itertools import permutations

from tests.drills import adversaries
from tests.drills.roster import GOOD
from trainer import simulator, units
from trainer.drills.criteria_schema import Reading
from trainer.drills.prepare import Prepared, prepare
from trainer.drills.runner import Runner
from trainer.hydraulics.machine import Machine
from trainer.runtime import server
from trainer.session.commands import Command
from trainer.simulator import Session

SEEDS = 41
NEAR = {
    "depth": (11.0, "ft"),
    "bit": (11.0, "ft"),
    "pit": (12.0, "bbl"),
    "annular": (7.0, "psi"),
    "manifold": (9.0, "psi"),
    "fill": (60.0, "gal"),
    "mix": (0.07, "%"),
}
"""How near two seeds' figures must be for one entry to be right for both, by the variation's id; with a margin, which
for the pit is what the well may have given, and for the tank what may have been spent."""
ENTERED = {
    "log_depth": "depth",
    "log_bit": "bit",
    "log_pit": "pit",
    "pit": "pit",
    "log_annular": "annular",
    "annular": "annular",
    "log_manifold": "manifold",
    "manifold": "manifold",
    "tank_level": "fill",
    "log_mix": "mix",
}
"""Which variation a reading shows, by its id."""


@cache
def plant(name: str) -> Machine:
    """A plant to join drills to."""
    return simulator.build(name)


@cache
def prepared(drill: str) -> Prepared:
    """A drill joined to its first plant."""
    spec = adversaries.drills()[drill]
    return prepare(spec, plant(spec.plants[0]))


def shown(drill: str) -> list[str]:
    """Variations that a pass needs right readings of; what the trainee is told to set does not count."""
    spec = adversaries.drills()[drill]
    needed = {c.reading for c in spec.criterion if isinstance(c, Reading) and c.required}
    told = spec.initial.text + str(spec.method)
    varied = {v.id for v in spec.vary if f"{{vary.{v.id}}}" not in told or v.id in ("depth", "bit")}
    return sorted({ENTERED[name] for name in needed if name in ENTERED} & varied)


def near(drill: str, seeds: int) -> Iterator[tuple[int, int]]:
    """Ordered pairs of seeds whose figures agree in all that a pass needs right readings of."""
    drawn = [Runner(prepared(drill), seed).drawn for seed in range(seeds)]
    room = {key: units.from_unit(value, unit) - units.from_unit(0.0, unit) for key, (value, unit) in NEAR.items()}
    for a, b in permutations(range(seeds), 2):
        if all(abs(drawn[a][key] - drawn[b][key]) <= room[key] for key in shown(drill)):
            yield a, b


@cache
def deeds(drill: str, seed: int) -> tuple[Command, ...]:
    """What the good crew does with a seed."""
    crew = GOOD[drill](seed)
    assert crew.sheet["passed"], (drill, seed, crew.sheet["verdict"])
    return tuple(entry.command() for entry in crew.session.log)


def copied(drill: str, a: int, b: int) -> bool:
    """Whether the deeds of seed ``a`` pass with seed ``b``."""
    session = Session.restore(adversaries.begun(drill, b))
    adversaries.repeat(session, deeds(drill, a))
    if not adversaries.dead(session):
        session.advance(120.0)
    return bool(session.sheet()["passed"])


def main() -> None:
    """Play the near pairs and print what passed."""
    server.offer()
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=SEEDS)
    parser.add_argument("drill", nargs="*", help="only these drills")
    given = parser.parse_args()
    began, pairs, played, all_passed = time.perf_counter(), 0, 0, 0
    for drill in given.drill or adversaries.drills():
        close = list(near(drill, given.seeds))
        passed = [pair for pair in close if copied(drill, *pair)]
        count = given.seeds * (given.seeds - 1)
        pairs, played, all_passed = pairs + count, played + len(close), all_passed + len(passed)
        by = ", ".join(shown(drill))
        print(f"{drill:32s} {count} pairs, {len(close)} near by {by}; {len(passed)} passed {passed[:12]}", flush=True)
    took = time.perf_counter() - began
    print(f"{pairs} pairs in {took:.0f} s: {played} near and played, {all_passed} passed")


if __name__ == "__main__":
    main()
