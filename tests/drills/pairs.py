"""Verdicts held against the oracle: ``python -m tests.drills.pairs [--runs 300] [--jobs 2] [--from 0] [DRILL ...]``.

``--adversaries 10000 --near 10000`` says how many of each kind instead. With ``--keep FILE`` each run is written down
when it is done; started again, only what is missing there is run, and what was run with other rules is run anew.

Two kinds of runs of the well-control drills in turn: operators who press anything (``adversaries``), and near misses of
good crews: what such a crew did, with one thing changed. No run that the oracle calls unsafe may pass; of those that it
calls safe and complete at most one in thirty may fail. Prints the counts and the numbers of the runs that break this.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import tempfile
import time
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from contextlib import nullcontext, suppress
from dataclasses import asdict, dataclass
from functools import cache, lru_cache
from pathlib import Path

from tests.drills import adversaries, oracle
from tests.drills.crew import Crew
from tests.drills.crews_other import OTHER
from tests.drills.oracle import Judgement, Witness
from tests.drills.roster import GOOD
from trainer.drills import chance, library
from trainer.kept import put
from trainer.resources import plants
from trainer.runtime import server
from trainer.session.commands import Command
from trainer.session.engine import engine_hash
from trainer.session.session import Checkpoint, SessionCore
from trainer.simulator import Session

CHUNK = 8
"""Runs that a process does in one go."""
KEPT = Path(tempfile.gettempdir()) / "trainer-pairs"
"""What good crews did, a folder for each state of what it depends on."""
SEEDS = 6
"""Variations of each drill whose good crews are changed."""
WELL = [name for name, drill in adversaries.drills().items() if drill.well_control]
Change = Callable[[list[Command], int], list[Command]]


def ways(drill: str) -> list[Callable[[int], Crew]]:
    """The crews that do it right."""
    return [GOOD[drill], *OTHER.get(drill, [])]


@lru_cache(maxsize=512)
def right(drill: str, way: int, seed: int) -> tuple[Command, ...]:
    """What one of the crews does that do it right; played once for all processes, and kept while nothing changes."""
    file = KEPT / stamp(drill) / f"{drill}-{way}-{seed}.jsonl"
    if file.is_file():
        return tuple(Command.model_validate_json(line) for line in file.read_text(encoding="utf-8").splitlines())
    crew = ways(drill)[way](seed)
    commands = tuple(entry.command() for entry in crew.session.log if entry.refused is None)
    put(file, "".join(f"{command.model_dump_json(by_alias=True)}\n" for command in commands))
    return commands


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


def reopened_last(commands: list[Command], number: int) -> list[Command]:
    """What was closed last, where a first one did not answer, is opened again before the end."""
    last = [c for c in commands if c.value == "close" and ("annular" in c.target or c.target.endswith("_ram"))][-1]
    return _in_time([*commands, _given(commands[-1].t - 0.1, "set", last.target, "open")])


def hoisted_as_it_is_reported(commands: list[Command], number: int) -> list[Command]:
    """The pipe is run through what is closed three seconds before the report that ends the drill."""
    said = next(c for c in reversed(commands) if c.do == "say")
    return _in_time([*commands, _given(said.t - 3.05, "hoist", "floor.hook", -26.5)])


def lifted_off(commands: list[Command], number: int) -> list[Command]:
    """The string that hung on the ram is lifted off it again before it is cut."""
    cut = next(c for c in commands if c.target == "blind_shear_ram" and c.value == "close")
    return _in_time([*commands, _given(cut.t - 8.0, "hoist", "floor.hook", 6.0)])


def opened_a_little(commands: list[Command], number: int) -> list[Command]:
    """The choke is held a tenth too wide for a minute at rate."""
    icp = next(c.t for c in commands if c.target == "icp")
    wide = [c for c in commands if c.target == "floor.choke" and icp + 10.0 < c.t < icp + 70.0]
    at = icp + 10.0
    was = [c for c in commands if c.target == "floor.choke" and c.t < at][-1]
    assert isinstance(was.value, float)
    between = [_with(was, t=at, value=1.1 * was.value), _with(was, t=at + 60.0)]
    return _in_time([*(c for c in commands if c not in wide), *between])


def choke_left_open(commands: list[Command], number: int) -> list[Command]:
    """The choke that bled while pipe went in is not closed when the pipe stops for the next stand."""
    at = next(
        n for n, c in enumerate(commands) if c.target == "floor.choke" and isinstance(c.value, float) and c.value > 2
    )
    shut = next(n for n, c in enumerate(commands) if n > at and c.target == "floor.choke" and not c.value)
    return commands[:shut] + commands[shut + 1 :]


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
_CLOSED_ON: dict[str, Change] = {
    "turned in it": added("set", "floor.rotary", 60, -24.0),
    "run through it": added("hoist", "floor.hook", 15, -24.0),
}
"""Done to the pipe once a preventer has closed on it."""
_CLOSED_BEFORE: dict[str, Change] = {
    "turned in it": added("set", "floor.rotary", 60, 25.0),
    "run through it": added("hoist", "floor.hook", 15, 20.0),
}
"""The same where the well is shut in from the start: before the end of the run."""


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
    "on turning pipe": lambda commands, number: [
        _given(2.0, "set", "upper_pipe_ram", "close"),
        _given(16.0, "set", "upper_pipe_ram", "open"),
        *commands,
    ],
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
    "mux-kick": {
        **{k: _SUBSEA[k] for k in ("sheared", "unlatched", "turning", "carried", "reopened")},
        "on the test ram": _both(instead("middle_pipe_ram", "test_ram"), instead("upper_pipe_ram", "test_ram")),
        "never locked": left_out("ram_locks"),
        "riser not reported": left_out("riser_clear"),
    },
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
        "pipe ram": _both(instead("lower_annular", "upper_pipe_ram"), instead("upper_annular", "upper_pipe_ram")),
        "unlatched": _UNLATCHED,
        "carried": added("hoist", "floor.hook", 40, 1.0),
        "reopened": reopened,
    },
    "safety-valve-stuck": {
        "sheared": _SHEARED,
        "string left open": left_out("floor.top_drive"),
        "carried": added("hoist", "floor.hook", 40, 1.0),
        "reopened": reopened,
        "gauge shut off": added("set", "lower_pipe_ram", "close", -60.0, enable=True),
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
        "reopened": reopened_last,
    },
    "surface-lamp-lies": {
        "sheared": _SHEARED,
        "turned again": added("set", "floor.rotary", 60, 5.0),
        "pumped": added("set", "floor.mud_pumps", 40, -20.0),
        "reopened": reopened_last,
    },
    "shallow-gas-diverter": {k: _GAS[k] for k in ("on turning pipe", "shut in", "pumps stopped", "upwind", "sheared")},
    "surface-shallow-gas": {
        k: _GAS[k] for k in ("on turning pipe", "shut in, surface", "pumps stopped", "upwind", "sheared")
    },
    "float-in-the-string": {
        "pumped": lambda commands, number: [
            _with(c, value=15.0) if c.target == "floor.mud_pumps" and c.value else c for c in commands
        ],
        "never inched": left_out("floor.mud_pumps"),
        "annular opened": added("set", "upper_annular", "open", 10.0),
        "sheared": _SHEARED,
        "pumped on": lambda commands, number: [
            _with(c, t=c.t + 110.0) if n >= [d.target for d in commands].index("floor.mud_pumps") + 1 else c
            for n, c in enumerate(commands)
        ],
    },
    "strip-in": {
        "choke shut": left_out("floor.choke"),
        "annular not lowered": left_out("annular_regulator"),
        "string opened": added("set", "floor.safety_valve", "open", 2.0),
        "annular opened": added("set", "upper_annular", "open", 20.0),
        "unlatched": added("set", "riser_connector", "open", 120.0, enable=True),
        "choke open while a stand is put on": choke_left_open,
        "choke left open": lambda commands, number: [
            c for c in commands if c.target != "floor.choke" or c.value or c.t < commands[-1].t * 0.6
        ],
    },
    "riser-gas": {
        "annular opened": added("set", "upper_annular", "open", 5.0),
        "upwind": _GAS["upwind"],
        "never diverted": left_out("diverter.divert"),
        "pumped": added("set", "floor.mud_pumps", 20, -30.0),
        "sheared": _SHEARED,
        "unlatched": _UNLATCHED,
    },
    "mux-riser-gas": {
        "annular opened": added("set", "upper_annular", "open", 5.0),
        "upwind": _GAS["upwind"],
        "never diverted": left_out("diverter.divert"),
        "pumped": added("set", "floor.mud_pumps", 20, -30.0),
        "unlatched": _UNLATCHED,
    },
    "emergency-disconnect": {
        "turning": _TURNING,
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
        "lifted off again": lifted_off,
        "pumped": added("set", "floor.mud_pumps", 20, -30.0),
        "not hung": lambda commands, number: [
            c for n, c in enumerate(commands) if not (n > _closing(commands) and c.target.startswith("floor.ho"))
        ],
    },
    "kill-drillers-method": {
        "run through it at the end": hoisted_as_it_is_reported,
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
        "a little wide": opened_a_little,
        "pumped": added("set", "floor.mud_pumps", 30, 20.0),
        "choke shut": left_out("floor.choke"),
        "wide open": lambda commands, number: [
            _with(c, value=40.0) if c.target == "floor.choke" and c.value else c for c in commands
        ],
        "annular opened": added("set", "upper_annular", "open", 30.0),
        "sheared": added("set", "blind_shear_ram", "close", 30.0, enable=True),
    },
}
"""For each drill what makes a good run dangerous; two of them at least are near misses."""
_ON_PIPE = (
    "kick-while-drilling", "annular-leaks-during-shut-in", "shut-in-on-stored-fluid", "kick-with-lost-pod", "mux-kick",
    "surface-kick-while-drilling", "safety-valve-stuck", "lamp-lies", "surface-lamp-lies", "hang-off-and-shear",
)  # fmt: skip
DANGEROUS["hang-off-and-shear"]["run through it"] = added("hoist", "floor.hook", 15, -40.0)
_SHUT_BEFORE = (
    "float-in-the-string", "riser-gas", "mux-riser-gas", "choke-practice", "kill-drillers-method",
    "kill-wait-and-weight",
)  # fmt: skip
for _drills, _changes in ((_ON_PIPE, _CLOSED_ON), (_SHUT_BEFORE, _CLOSED_BEFORE)):
    for _drill in _drills:
        DANGEROUS[_drill] = _changes | DANGEROUS[_drill]
# The ram that stands still has been sent to close: it may come at any moment.
for _drill in ("lamp-lies", "surface-lamp-lies"):
    DANGEROUS[_drill] = {"moved off its place": added("hoist", "floor.hook", -3.4, -5.4)} | DANGEROUS[_drill]
# In slips the string cannot be turned, but it can be lifted out of them.
for _drill in ("kick-while-tripping", "kick-with-collars"):
    DANGEROUS[_drill] = DANGEROUS[_drill] | {"run through it": _CLOSED_ON["run through it"]}


def played(
    drill: str,
    seed: int,
    commands: Iterable[Command],
    beside: Callable[[Session], None] | None = None,
    settled: Callable[[Session], bool] = lambda session: session.finished,
) -> Session:
    """A run of these commands, two minutes beyond the last, or until it is ``settled``.

    ``beside`` is given the run before it begins.
    """
    session = Session.restore(adversaries.begun(drill, seed))
    if beside is not None:
        beside(session)
    for command in _in_time(commands):
        session.advance_to(max(command.t, session.time))
        if session.finished or settled(session):
            return session
        session.submit(command.model_copy(update={"t": session.time}))
    session.advance(120.0)
    return session


def marked(drill: str, seed: int, session: Session) -> tuple[bool, Judgement]:
    """Whether it passed, and what the oracle says."""
    return bool(session.sheet()["passed"]), oracle.judge(drill, seed, session.log, session.time)


def run(drill: str, number: int) -> tuple[str, bool, Judgement, str]:
    """The ``number``-th run of a drill: its kind, whether it passed, the oracle's judgement and the verdict."""
    seen: list[Witness] = []

    def beside(session: Session) -> None:
        seen.append(Witness(drill, session))

    def settled(session: Session) -> bool:
        """Unsafe and past passing: more of the run can break no rule."""
        return adversaries.dead(session) and bool(seen[0].oracle.found.unsafe)

    if number % 4 == 0:
        kinds = adversaries.KINDS
        session = adversaries.run(drill, number // 4, beside)
        kind = kinds[(number // 4) % len(kinds)]
    else:
        kind = list(NEAR)[chance.index(number, f"{drill} kind", len(NEAR))]
        seed = chance.index(number, f"{drill} seed", SEEDS)
        way = chance.index(number, f"{drill} way", len(ways(drill)))
        commands = NEAR[kind](list(right(drill, way, seed)), number)
        session = played(drill, seed, commands, beside, settled)
        kind = f"{kind} (way {way}, seed {seed})"
    sheet = session.sheet()
    return kind, bool(sheet["passed"]), seen[0].judgement(), sheet["verdict"]


@cache
def _offered() -> None:
    server.offer()
    # Nobody keeps evidence of these runs, and a fifth of their time went to its hashes.
    nothing = Checkpoint(tick=0, entries=0, state="0" * 64)
    SessionCore.checkpoint = lambda self: nothing  # type: ignore[method-assign]


@dataclass(frozen=True)
class Row:
    """What came of one run. ``stamp`` names all that it depended on."""

    drill: str
    number: int
    stamp: str
    kind: str
    passed: bool
    safe: bool
    complete: bool
    said: str

    @property
    def broken(self) -> str:
        """How this run breaks the rule, in words; empty when it does not."""
        if self.passed and not self.safe:
            return "UNSAFE BUT PASSED"
        return "sound but failed" if self.safe and self.complete and not self.passed else ""


@cache
def stamp(drill: str) -> str:
    """The hash of what the runs of a drill depend on: engine, drill with its rules, plants, crews, oracle, changes."""
    taken = hashlib.sha256(f"{engine_hash()} {library.file_hash(library.find(drill))}".encode())
    here = Path(__file__).parent
    for path in [
        *sorted(here.glob("*.py")),
        here / "actions" / f"{drill}.good.jsonl",
        *sorted(plants().glob("*.toml")),
    ]:
        taken.update(path.read_bytes())
    return taken.hexdigest()[:16]


def attempts(task: tuple[str, tuple[int, ...]]) -> list[Row]:
    """What came of these runs of one drill."""
    _offered()
    drill, numbers = task
    rows = []
    for number in numbers:
        kind, passed, judgement, verdict = run(drill, number)
        said = f"{verdict} | {judgement}"
        rows.append(Row(drill, number, stamp(drill), kind, passed, judgement.safe, judgement.complete, said))
    return rows


def wanted(adversaries: int, near: int, first: int) -> list[int]:
    """Numbers of runs: every fourth is an adversary's, those between are near misses."""
    return sorted(
        [4 * n for n in range(-(-first // 4), -(-first // 4) + adversaries)]
        + [n for n in range(first, first + 2 * near + 4) if n % 4][:near]
    )


def kept(file: Path) -> list[Row]:
    """The runs that were written down and would be run alike today. A line that was torn is passed over."""
    rows = []
    for line in file.read_text(encoding="utf-8").splitlines() if file.is_file() else ():
        with suppress(ValueError, TypeError):
            row = Row(**json.loads(line))
            if row.drill in WELL and row.stamp == stamp(row.drill):
                rows.append(row)
    return rows


def chunks(drills: Sequence[str], numbers: Sequence[int], done: Iterable[Row]) -> list[tuple[str, tuple[int, ...]]]:
    """What is left to run in small parts, the drills in turn, so that a run broken off has something of each."""
    known = {(row.drill, row.number) for row in done}
    left = {drill: [number for number in numbers if (drill, number) not in known] for drill in drills}
    parts = [
        (at, drill, tuple(left[drill][at : at + CHUNK])) for drill in drills for at in range(0, len(numbers), CHUNK)
    ]
    return [(drill, part) for _, drill, part in sorted(parts, key=lambda part: part[0]) if part]


def counted(rows: Sequence[Row]) -> str:
    """The counts of runs, drill by drill and in all."""
    lines = []
    for name, some in [(drill, [row for row in rows if row.drill == drill]) for drill in WELL] + [("all", list(rows))]:
        unsafe = [row for row in some if not row.safe]
        sound = [row for row in some if row.safe and row.complete]
        pressed = sum(row.number % 4 == 0 for row in some)
        lines.append(
            f"{name:32s} {pressed} adversaries, {len(some) - pressed} near misses: {len(unsafe)} unsafe, "
            f"{sum(row.passed for row in unsafe)} of them passed; {len(sound)} safe and complete, "
            f"{sum(not row.passed for row in sound)} of them failed"
        )
    return "\n".join(lines)


def main() -> None:
    """Run them and print the counts and what breaks the rule."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=300, help="over all well-control drills, a quarter adversaries")
    parser.add_argument("--adversaries", type=int, help="so many of these instead, over all drills")
    parser.add_argument("--near", type=int, help="so many near misses instead, over all drills")
    parser.add_argument("--from", type=int, default=0, dest="first", help="number of each drill's first run")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--keep", type=Path, help="file to write each run into, and to go on from")
    parser.add_argument("drill", nargs="*")
    given = parser.parse_args()
    drills = given.drill or WELL
    each = -(-given.runs // len(drills))
    if given.adversaries is None and given.near is None:
        numbers = list(range(given.first, given.first + each))
    else:
        several = (-(-(count or 0) // len(drills)) for count in (given.adversaries, given.near))
        numbers = wanted(*several, given.first)
    asked = {(drill, number) for drill in drills for number in numbers}
    rows = [row for row in kept(given.keep) if (row.drill, row.number) in asked] if given.keep else []
    tasks = chunks(drills, numbers, rows)
    began = time.perf_counter()
    fresh = 0
    with ProcessPoolExecutor(given.jobs) as pool, given.keep.open("a") if given.keep else nullcontext() as file:
        for work in as_completed([pool.submit(attempts, task) for task in tasks]):
            for row in work.result():
                rows.append(row)
                fresh += 1
                if file is not None:
                    file.write(json.dumps(asdict(row)) + "\n")
            if file is not None:
                file.flush()
    for row in sorted((row for row in rows if row.broken), key=lambda row: (row.broken, row.drill, row.number)):
        print(f"{row.broken}: {row.drill} {row.number} {row.kind}: {row.said}")
    print(counted(rows))
    print(f"{fresh} of {len(rows)} runs in {time.perf_counter() - began:.0f} s by {given.jobs} processes")


if __name__ == "__main__":
    main()
