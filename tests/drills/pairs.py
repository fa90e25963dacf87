"""Verdicts held against the oracle: ``python -m tests.drills.pairs [--runs 300] [--jobs 2] [--from 0] [DRILL ...]``.

Two kinds of runs of the well-control drills in turn: operators who press anything (``adversaries``), and near misses of
good crews: what such a crew did, with one thing changed. No run that the oracle calls unsafe may pass; of those that it
calls safe and complete at most one in thirty may fail. Prints the counts and the numbers of the runs that break this.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import cache, lru_cache

from tests.drills import adversaries, oracle
from tests.drills.crew import Crew
from tests.drills.crews_other import OTHER
from tests.drills.oracle import Judgement
from tests.drills.roster import GOOD
from trainer.drills import chance
from trainer.runtime import server
from trainer.session.commands import Command
from trainer.simulator import Session

SEEDS = 6
"""Variations of each drill whose good crews are changed."""
WELL = [name for name, drill in adversaries.drills().items() if drill.well_control]
Change = Callable[[list[Command], int], list[Command]]


def ways(drill: str) -> list[Callable[[int], Crew]]:
    """The crews that do it right."""
    return [GOOD[drill], *OTHER[drill]]


@lru_cache(maxsize=64)
def right(drill: str, way: int, seed: int) -> tuple[Command, ...]:
    """What one of the crews does that do it right."""
    crew = ways(drill)[way](seed)
    return tuple(entry.command() for entry in crew.session.log if entry.refused is None)


def _closing(commands: Sequence[Command]) -> int:
    """Place of the first command that sends a preventer to close, or the diverter or the disconnect on its way."""
    for n, c in enumerate(commands):
        preventer = c.do == "set" and c.value == "close" and ("annular" in c.target or c.target.endswith("_ram"))
        if preventer or c.target in ("diverter.divert", "eds.start"):
            return n
    return len(commands) - 1


def _with(command: Command, **changes: object) -> Command:
    return command.model_copy(update=changes)


def _given(t: float, do: str, target: str, value: float | str | None = None, at: str = "driller") -> Command:
    return Command.model_validate({"t": t, "do": do, "target": target, "value": value, "from": at})


def _in_time(commands: Iterable[Command]) -> list[Command]:
    return sorted(commands, key=lambda command: command.t)


def left_out(target: str, value: float | str | None = None) -> Change:
    """A command is forgotten."""

    def change(commands: list[Command], number: int) -> list[Command]:
        return [c for c in commands if c.target != target or (value is not None and c.value != value)]

    return change


def added(do: str, target: str, value: float | str | None, before: float, enable: bool = False) -> Change:
    """Something is done ``before`` s before (or, below zero, after) the first closing command."""

    def change(commands: list[Command], number: int) -> list[Command]:
        t = max(0.2, commands[_closing(commands)].t - before)
        more = [_given(t - 0.1, "push", "driller.enable")] if enable else []
        return _in_time([*commands, *more, _given(t, do, target, value)])

    return change


def instead(target: str, other: str) -> Change:
    """Another function is worked than the right one."""

    def change(commands: list[Command], number: int) -> list[Command]:
        return [_with(c, target=other) if c.target == target else c for c in commands]

    return change


def hook_off(feet: float) -> Change:
    """The pipe is brought to another height before the closing."""
    return added("hoist", "floor.hook", feet, 12.0)


def reopened(commands: list[Command], number: int) -> list[Command]:
    """What was closed is opened again before the end."""
    first = commands[_closing(commands)]
    return [*commands[:-1], _with(first, t=commands[-1].t - 0.1, value="open"), commands[-1]]


def one_left_out(commands: list[Command], number: int) -> list[Command]:
    """Any one command is forgotten."""
    at = chance.index(number, "left out", len(commands))
    return [c for n, c in enumerate(commands) if n != at]


def one_delayed(commands: list[Command], number: int) -> list[Command]:
    """From some command on, everything comes later."""
    at = chance.index(number, "delayed", len(commands))
    late = chance.between(number, "by", 2.0, 90.0)
    return [_with(c, t=c.t + late) if n >= at else c for n, c in enumerate(commands)]


def two_swapped(commands: list[Command], number: int) -> list[Command]:
    """Two commands that follow each other are given in the other order."""
    at = chance.index(number, "swapped", len(commands) - 1)
    first, second = commands[at], commands[at + 1]
    return [*commands[:at], _with(second, t=first.t), _with(first, t=second.t), *commands[at + 2 :]]


def one_wrong_number(commands: list[Command], number: int) -> list[Command]:
    """A number is off by a tenth to a third."""
    places = [n for n, c in enumerate(commands) if isinstance(c.value, float | int) and c.value]
    if not places:
        return commands
    at = places[chance.index(number, "wrong", len(places))]
    value = commands[at].value
    assert isinstance(value, float | int)
    off = value * (1.0 + chance.between(number, "off", 0.1, 0.33) * (1 if number % 2 else -1))
    return [*commands[:at], _with(commands[at], value=round(off, 2)), *commands[at + 1 :]]


def hook_anywhere(commands: list[Command], number: int) -> list[Command]:
    """The pipe is moved by any distance shortly before, while or after a preventer closes."""
    feet = chance.between(number, "feet", -30.0, 30.0)
    return added("hoist", "floor.hook", round(feet, 1), chance.between(number, "when", -8.0, 15.0))(commands, number)


def another_function(commands: list[Command], number: int) -> list[Command]:
    """Another preventer or line is worked than the crew worked."""
    names = ("upper_annular", "lower_annular", "upper_pipe_ram", "middle_pipe_ram", "lower_pipe_ram", "annular")
    used = [c.target for c in commands if c.target in names]
    if not used:
        return one_left_out(commands, number)
    return instead(used[0], names[chance.index(number, "function", len(names))])(commands, number)


def one_more(commands: list[Command], number: int) -> list[Command]:
    """Something dangerous is done besides, at any time."""
    deeds = (
        ("set", "upper_annular", "open"), ("set", "annular", "open"), ("set", "floor.choke", 30), ("set",
        "floor.mud_pumps", 40), ("set", "floor.rotary", 60), ("set", "riser_connector", "open"),
        ("set", "upper_pipe_ram", "close"), ("set", "lower_pipe_ram", "close"), ("set", "pod_selector", "block"),
        ("set", "blind_shear_ram", "close"), ("set", "ram_locks", "open"), ("hoist", "floor.hook", -20),
    )  # fmt: skip
    do, target, value = deeds[chance.index(number, "deed", len(deeds))]
    t = round(chance.between(number, "at", 5.0, commands[-1].t), 1)
    return _in_time([*commands, _given(t - 0.1, "push", "driller.enable"), _given(t, do, target, value)])


NEAR: dict[str, Change] = {
    "left out": one_left_out,
    "delayed": one_delayed,
    "swapped": two_swapped,
    "wrong number": one_wrong_number,
    "hook": hook_anywhere,
    "function": another_function,
    "one more": one_more,
    "nothing": lambda commands, number: commands,
}
"""What a near miss changes."""

_SHEARED = added("set", "blind_shear_ram", "close", 0.5, enable=True)
_UNLATCHED = added("set", "riser_connector", "open", -25.0, enable=True)
_ON_A_JOINT = instead("upper_annular", "upper_pipe_ram")
_TURNING = left_out("floor.rotary")
_CARRIED = added("hoist", "floor.hook", -25, 1.0)


def _both(first: Change, second: Change) -> Change:
    return lambda commands, number: second(first(commands, number), number)


_SUBSEA: dict[str, Change] = {
    "sheared": _SHEARED,
    "unlatched": _UNLATCHED,
    "turning": _TURNING,
    "carried": _CARRIED,
    "on a joint": _both(_ON_A_JOINT, hook_off(-15.0)),
    "reopened": reopened,
}
_SURFACE: dict[str, Change] = {
    "sheared": _SHEARED,
    "turning": _TURNING,
    "carried": _CARRIED,
    "on a joint": _both(instead("annular", "upper_pipe_ram"), hook_off(-8.0)),
    "reopened": reopened,
}
_GAS: dict[str, Change] = {
    "shut in": added("set", "upper_annular", "close", 1.0),
    "shut in, surface": added("set", "annular", "close", 1.0),
    "pumps stopped": added("set", "floor.mud_pumps", 0, -2.0),
    "upwind": lambda commands, number: [
        _with(c, value="port" if c.value == "starboard" else "starboard") if c.target == "diverter.side" else c
        for c in commands
    ],
    "sheared": _SHEARED,
}
DANGEROUS: dict[str, dict[str, Change]] = {
    "kick-while-drilling": _SUBSEA,
    "annular-leaks-during-shut-in": {k: _SUBSEA[k] for k in ("sheared", "unlatched", "turning", "carried")},
    "shut-in-on-stored-fluid": {k: _SUBSEA[k] for k in ("sheared", "unlatched", "turning", "reopened")},
    "kick-with-lost-pod": {k: _SUBSEA[k] for k in ("sheared", "unlatched", "turning", "reopened")},
    "surface-kick-while-drilling": _SURFACE,
    "kick-while-tripping": {
        "sheared": _SHEARED,
        "unlatched": _UNLATCHED,
        "carried": added("hoist", "floor.hook", 40, 1.0),
        "reopened": reopened,
    },
    "kick-with-collars": {
        "pipe ram": instead("lower_annular", "upper_pipe_ram"),
        "unlatched": _UNLATCHED,
        "carried": added("hoist", "floor.hook", 40, 1.0),
        "reopened": reopened,
    },
    "safety-valve-stuck": {
        "sheared": _SHEARED,
        "string left open": left_out("floor.top_drive"),
        "carried": added("hoist", "floor.hook", 40, 1.0),
        "reopened": reopened,
    },
    "kick-out-of-hole": {
        "unlatched": _UNLATCHED,
        "unlocked and opened": _both(
            added("set", "ram_locks", "open", -45.0), added("set", "blind_shear_ram", "open", -60.0, enable=True)
        ),
        "line above the ram": lambda commands, number: [
            _with(c, target=c.target.replace("lower_", "upper_")) if c.target.endswith("_choke") else c
            for c in commands
        ],
        "no lock": left_out("ram_locks"),
    },
    "lamp-lies": {
        "sheared": _SHEARED,
        "unlatched": _UNLATCHED,
        "turned again": added("set", "floor.rotary", 60, 5.0),
        "reopened": lambda commands, number: _in_time(
            [*commands, _given(commands[-1].t - 0.1, "set", "upper_annular", "open")]
        ),
    },
    "surface-lamp-lies": {
        "sheared": _SHEARED,
        "turned again": added("set", "floor.rotary", 60, 5.0),
        "pumped": added("set", "floor.mud_pumps", 40, -20.0),
        "reopened": lambda commands, number: _in_time(
            [*commands, _given(commands[-1].t - 0.1, "set", "annular", "open")]
        ),
    },
    "shallow-gas-diverter": {k: _GAS[k] for k in ("shut in", "pumps stopped", "upwind", "sheared")},
    "surface-shallow-gas": {k: _GAS[k] for k in ("shut in, surface", "pumps stopped", "upwind", "sheared")},
    "emergency-disconnect": {
        "before red": lambda commands, number: [
            _with(c, t=c.t - 45.0) if c.target in ("driller.enable", "eds.arm", "eds.start") else c for c in commands
        ],
        "never started": left_out("eds.start"),
        "wellhead": added("set", "wellhead_connector", "open", 20.0, enable=True),
        "too late": lambda commands, number: [
            _with(c, t=c.t + 60.0) if n >= _closing(commands) - 3 else c for n, c in enumerate(commands)
        ],
    },
    "hang-off-and-shear": {
        "before the order": added("set", "blind_shear_ram", "close", -20.0, enable=True),
        "no locks": left_out("ram_locks"),
        "unlatched": _UNLATCHED,
        "not hung": lambda commands, number: [
            c for n, c in enumerate(commands) if not (n > _closing(commands) and c.target.startswith("floor.ho"))
        ],
    },
    "kill-drillers-method": {
        "choke shut": left_out("floor.choke"),
        "wide open": lambda commands, number: [
            _with(c, value=60.0) if c.target == "floor.choke" and c.value else c for c in commands
        ],
        "annular opened": added("set", "annular", "open", 30.0),
        "no kill mud": left_out("pits.line_up"),
    },
    "kill-wait-and-weight": {
        "choke shut": left_out("floor.choke"),
        "kill mud too light": lambda commands, number: [
            _with(c, value=10.1) if c.target == "pits.kill_weight" else c for c in commands
        ],
        "annular opened": added("set", "annular", "open", 30.0),
        "no kill mud": left_out("pits.line_up"),
    },
    "choke-practice": {
        "choke shut": left_out("floor.choke"),
        "wide open": lambda commands, number: [
            _with(c, value=40.0) if c.target == "floor.choke" and c.value else c for c in commands
        ],
        "annular opened": added("set", "upper_annular", "open", 30.0),
        "sheared": added("set", "blind_shear_ram", "close", 30.0, enable=True),
    },
}
"""For each drill what makes a good run dangerous; two of them at least are near misses."""


def played(drill: str, seed: int, commands: Iterable[Command]) -> Session:
    """A run of these commands, two minutes beyond the last."""
    session = Session.restore(adversaries.begun(drill, seed))
    for command in _in_time(commands):
        session.advance_to(max(command.t, session.time))
        if session.finished:
            break
        session.submit(command.model_copy(update={"t": session.time}))
    session.advance(120.0)
    return session


def marked(drill: str, seed: int, session: Session) -> tuple[bool, Judgement]:
    """Whether it passed, and what the oracle says."""
    return bool(session.sheet()["passed"]), oracle.judge(drill, seed, session.log, session.time)


def run(drill: str, number: int) -> tuple[str, bool, Judgement, str]:
    """The ``number``-th run of a drill: its kind, whether it passed, the oracle's judgement and the verdict."""
    if number % 4 == 0:
        kinds = adversaries.KINDS
        session = adversaries.run(drill, number // 4)
        seed = session.identity.seed
        kind = kinds[(number // 4) % len(kinds)]
    else:
        kind = list(NEAR)[chance.index(number, f"{drill} kind", len(NEAR))]
        seed = chance.index(number, f"{drill} seed", SEEDS)
        way = chance.index(number, f"{drill} way", len(ways(drill)))
        commands = NEAR[kind](list(right(drill, way, seed)), number)
        session = played(drill, seed, commands)
        kind = f"{kind} (way {way}, seed {seed})"
    passed, judgement = marked(drill, seed, session)
    return kind, passed, judgement, session.sheet()["verdict"]


@cache
def _offered() -> None:
    server.offer()


def attempts(task: tuple[str, range]) -> list[tuple[str, int, str, bool, bool, bool, str]]:
    """Drill, number, kind, passed, safe, complete and what was said, for these runs of one drill."""
    _offered()
    drill, numbers = task
    rows = []
    for number in numbers:
        kind, passed, judgement, verdict = run(drill, number)
        said = f"{verdict} | {judgement}"
        rows.append((drill, number, kind, passed, judgement.safe, judgement.complete, said))
    return rows


def main() -> None:
    """Run them and print the counts and what breaks the rule."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=300, help="over all well-control drills")
    parser.add_argument("--from", type=int, default=0, dest="first", help="number of each drill's first run")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("drill", nargs="*")
    given = parser.parse_args()
    drills = given.drill or WELL
    each = -(-given.runs // len(drills))
    began, rows = time.perf_counter(), []
    with ProcessPoolExecutor(given.jobs) as pool:
        for done in pool.map(attempts, [(drill, range(given.first, given.first + each)) for drill in drills]):
            rows += done
            for drill, number, kind, passed, safe, complete, said in done:
                if (passed and not safe) or (safe and complete and not passed):
                    word = "UNSAFE BUT PASSED" if passed else "sound but failed"
                    print(f"{word}: {drill} {number} {kind}: {said}", flush=True)
            print(f"{done[0][0]:32s} {len(done)} runs, {sum(row[3] for row in done)} passed", flush=True)
    unsafe = [row for row in rows if not row[4]]
    sound = [row for row in rows if row[4] and row[5]]
    took = time.perf_counter() - began
    print(
        f"{len(rows)} runs in {took:.0f} s: {len(unsafe)} unsafe, {sum(row[3] for row in unsafe)} of them passed; "
        f"{len(sound)} safe and complete, {sum(not row[3] for row in sound)} of them failed"
    )


if __name__ == "__main__":
    main()
