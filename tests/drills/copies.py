"""Whether what was done with one seed passes with another: ``python -m tests.drills.copies [--pairs 40] [DRILL]``.

What keeps copies out is that the situation differs: depth, pressures, timing, where the pipe stands, which part fails,
the wind. Pairs of 41 seeds are picked and played: the good crew of one seed, its actions given with the other. Prints
how many passed, and of how many of these the oracle says that in this variation too they were safe and complete: such
a pass is earned.
"""

from __future__ import annotations

import argparse
import time
from functools import cache
from itertools import permutations

from tests.drills import adversaries
from tests.drills import pairs as pairs_of_runs
from tests.drills.roster import GOOD
from trainer.drills import chance
from trainer.runtime import server
from trainer.session.commands import Command
from trainer.simulator import Session

SEEDS = 41
NEAR = {"annular": 7.0, "manifold": 9.0}
"""How near a regulator's read-back is to the pressure drawn for it, psi, by the variation's id."""


def found(drill: str) -> set[str]:
    """Variations of a regulator's pressure that the trainee finds, and is not told to set."""
    spec = adversaries.drills()[drill]
    told = spec.initial.text + str(spec.method)
    return {v.id for v in spec.vary if v.id in NEAR and f"{{vary.{v.id}}}" not in told}


def pairs(drill: str, seeds: int, count: int) -> list[tuple[int, int]]:
    """So many ordered pairs of seeds, picked at random but always the same; all where there are no more."""
    every = list(permutations(range(seeds), 2))
    order = sorted(range(len(every)), key=lambda n: chance.share(n, f"{drill} pair"))
    return [every[n] for n in order[:count]]


@cache
def deeds(drill: str, seed: int) -> tuple[Command, ...]:
    """What the good crew does with a seed."""
    crew = GOOD[drill](seed)
    assert crew.sheet["passed"], (drill, seed, crew.sheet["verdict"])
    return tuple(entry.command() for entry in crew.session.log)


def replayed(drill: str, a: int, b: int) -> Session:
    """The deeds of seed ``a`` with seed ``b``."""
    session = Session.restore(adversaries.begun(drill, b))
    adversaries.repeat(session, deeds(drill, a))
    if not adversaries.dead(session):
        session.advance(120.0)
    return session


def copied(drill: str, a: int, b: int) -> bool:
    """Whether the deeds of seed ``a`` pass with seed ``b``."""
    return bool(replayed(drill, a, b).sheet()["passed"])


def earned(drill: str, a: int, b: int) -> bool:
    """Whether the deeds of seed ``a`` are safe and complete with seed ``b``, by the oracle."""
    _, judgement = pairs_of_runs.marked(drill, b, replayed(drill, a, b))
    return judgement.safe and judgement.complete


def main() -> None:
    """Play pairs of each drill and print what passed."""
    server.offer()
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=SEEDS)
    parser.add_argument("--pairs", type=int, default=40, help="of each drill; 1640 are all")
    parser.add_argument("drill", nargs="*", help="only these drills")
    given = parser.parse_args()
    began, played, all_passed = time.perf_counter(), 0, 0
    for drill in given.drill or adversaries.drills():
        tried = pairs(drill, given.seeds, given.pairs)
        passed = [pair for pair in tried if copied(drill, *pair)]
        played, all_passed = played + len(tried), all_passed + len(passed)
        mark = ""
        if adversaries.drills()[drill].well_control:
            mark = f"WELL CONTROL, {sum(earned(drill, *pair) for pair in passed)} of them safe and complete"
        print(f"{drill:32s} {len(tried)} pairs, {len(passed)} passed {passed[:12]} {mark}", flush=True)
    took = time.perf_counter() - began
    print(f"{played} pairs in {took:.0f} s: {all_passed} passed")


if __name__ == "__main__":
    main()
