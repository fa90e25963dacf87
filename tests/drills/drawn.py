"""Runs drawn by lot for graders: ``python -m tests.drills.drawn FOLDER [LOT [PASSED FAILED]]`` writes thirty, as
inputs and as texts; or the first so many that pass and so many that do not, where the ranking of these is asked.

Three of ten are near misses (one thing changed in what a good crew did), three slow crews, three sloppy ones that leave
things out and misread, one an operator who presses anything. The lot decides drill, variation, crew and change; nothing
is picked by hand. The two complete kills are left out: they take an hour each.
"""

from __future__ import annotations

import json
import sys
from collections import Counter
from pathlib import Path
from typing import Any

from tests.drills import adversaries, agreement, pairs
from trainer.drills import chance
from trainer.runtime import server
from trainer.session.commands import Command
from trainer.simulator import Session

COUNT = 30
FIRST_NAME = 61
"""Number of the first run of the first lot."""
KINDS = ("near", "slow", "sloppy", "near", "slow", "sloppy", "near", "slow", "sloppy", "pressed")
"""What the runs are, in turn: three of ten each, and one of an operator who presses anything."""
FIRST_SEED, SEEDS = 20, 40
"""Variations that no other run of the tests uses."""


def slow(commands: list[Command], lot: int) -> list[Command]:
    """Everything takes longer, by up to nine seconds more before each command."""
    late, most, done = 0.0, chance.between(lot, "most", 2.0, 9.0), list[Command]()
    moving = False
    for n, c in enumerate(commands):
        # While the choke is worked in small steps, the hand does not wait between them.
        late += 0.0 if c.target == "floor.choke" and moving else chance.between(lot, f"pause {n}", 0.0, most)
        moving = c.target == "floor.choke"
        done.append(c.model_copy(update={"t": c.t + late}))
    return done


def sloppy(commands: list[Command], lot: int) -> list[Command]:
    """Some reports and readings are left out, and one figure is misread."""
    told = [n for n, c in enumerate(commands) if c.do in ("say", "read", "name")]
    share = chance.between(lot, "share", 0.1, 0.5)
    gone = {n for n in told if chance.share(lot, f"gone {n}") < share}
    left = [c for n, c in enumerate(commands) if n not in gone]
    return pairs.one_wrong_number(left, lot) if chance.share(lot, "wrong too") < 0.5 else left


def draw(number: int, lot: int) -> tuple[dict[str, Any], list[Command]]:
    """The ``number``-th run of a lot: what it is, and what was done in it."""
    drills = sorted((d for d in pairs.WELL if not d.startswith("kill-")), key=lambda d: chance.share(lot, f"drill {d}"))
    drill, own, kind = drills[number % len(drills)], 1000 * lot + number, KINDS[number % len(KINDS)]
    seed = FIRST_SEED + chance.index(own, "seed", SEEDS)
    what = kind
    if kind == "pressed":
        session = Session.restore(adversaries.begun(drill, seed))
        adversaries.busy(session, adversaries.drills()[drill], own)
        commands = [entry.command() for entry in session.log if entry.refused is None]
    else:
        way = chance.index(own, "way", len(pairs.ways(drill)))
        commands = list(pairs.right(drill, way, seed))
        if kind == "near":
            names = [name for name in pairs.NEAR if name != "nothing"]
            what = names[chance.index(own, "change", len(names))]
            commands = pairs.NEAR[what](commands, own)
        else:
            commands = {"slow": slow, "sloppy": sloppy}[kind](commands, own)
        what = f"{what} (way {way})"
    return {"drill": drill, "seed": seed, "played": "engine", "what": what}, sorted(commands, key=lambda c: c.t)


def main(folder: Path, lot: int, most: dict[bool, int]) -> None:
    """Write the inputs and a text of each run, and print how they scored; ``most`` by whether they passed."""
    (folder / "runs").mkdir(parents=True, exist_ok=True)
    (folder / "inputs").mkdir(exist_ok=True)
    runs: dict[str, dict[str, Any]] = {}
    kept = Counter[bool]()
    for number in range(COUNT if not most else 4 * sum(most.values())):
        run, commands = draw(number, lot)
        watcher = agreement.Watcher(run["drill"], run["seed"], commands)
        watcher.play()
        passed = watcher.session.sheet()["passed"]
        if most and kept[passed] == most[passed]:
            continue
        kept[passed] += 1
        name = f"{FIRST_NAME + 30 * (lot - 1) + len(runs)}"
        run["outcome"] = agreement.happened(watcher)
        runs[name] = run
        lines = [json.dumps({k: v for k, v in c.record().items() if v is not None}) for c in commands]
        (folder / "inputs" / f"{name}.jsonl").write_text("\n".join(lines) + "\n", encoding="utf-8")
        (folder / "runs" / f"{name}.txt").write_text(watcher.text(), encoding="utf-8")
        print(name, run["drill"], run["seed"], run["what"], watcher.session.sheet()["verdict"], flush=True)
        if most and all(kept[passed] == most[passed] for passed in most):
            break
    (folder / "inputs" / "runs.json").write_text(json.dumps(runs, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    server.offer()
    main(
        Path(sys.argv[1]),
        int(sys.argv[2]) if len(sys.argv) > 2 else 1,
        {True: int(sys.argv[3]), False: int(sys.argv[4])} if len(sys.argv) > 4 else {},
    )
