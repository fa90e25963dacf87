"""Every function moved once on the engine, from rest: how long it takes, and where on its way the pressure is lost."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

from trainer.constants import SCANS_PER_SECOND
from trainer.hydraulics.machine import Machine
from trainer.hydraulics.storage import Fixed
from trainer.planning import work
from trainer.plant.functions import Function
from trainer.plant.rig import Plant, build_machine
from trainer.session.commands import Command
from trainer.units import to_unit

SETTLE = 20
LONGEST = 900
"""Scans that a function is given: 90 s."""
NOTHING = 1.0e3
"""Pa: what it takes to shear nothing."""
BYWAYS = ("leak", "vent", "creeps", "seat", "bypass", "return", "to_sea", "piston")
"""Edges that are not the way from the bottles to a function."""


@dataclass(frozen=True, slots=True)
class Loss:
    """Pressure lost (Pa) at half stroke in one stretch of the way, from node to node."""

    place: str
    pressure: float


@dataclass(frozen=True, slots=True)
class Move:
    """A function moved from rest: seconds to the end of its stroke (none when it did not get there), and losses."""

    function: Function
    way: str
    seconds: float | None
    losses: tuple[Loss, ...]

    def where(self) -> str:
        """Where the pressure goes at half stroke, in words: each place with its loss in psi, the largest first."""
        told = [f"{loss.place} {to_unit(loss.pressure, 'psi'):,.0f} psi" for loss in self.losses]
        return ", ".join(told) or "not reached half stroke"


def trial(plant: Plant) -> tuple[Move, ...]:
    """Each preventer and each choke and kill valve moved to the other end of its stroke, pumps as they stand.

    Each starts from the same charged rest, worked from the unit; a function that an interlock holds is left out. Shear
    rams have nothing to cut: whether they shear is a question of pressure, not of time.
    """
    machine = _with_nothing_to_cut(plant)
    rest, tick = machine.saved(), machine.tick
    wanted = [*work.preventers(plant), *(f for f in plant.function if f.kind == "failsafe_valve")]
    wanted += [f for f in plant.function if f.joins == "riser"]
    moves = []
    for function in wanted:
        machine.restore(rest)
        machine.tick = tick
        move = _move(machine, function)
        if move is not None:
            moves.append(move)
    return tuple(moves)


def _with_nothing_to_cut(plant: Plant) -> Machine:
    """The plant at rest; its shear rams stroke as if the bore were empty."""
    empty = tuple(
        f.model_copy(update={"shear_pressure": NOTHING}) if f.kind == "shear_ram" else f for f in plant.function
    )
    machine = build_machine(plant.model_copy(update={"function": empty}))
    for _ in range(SETTLE):
        machine.scan()
    return machine


def reserve_run(plant: Plant, again: Sequence[Function]) -> list[float] | None:
    """Header pressure (gauge Pa) after each step of the reserve sequence on the engine, pumps off.

    All preventers close one after the other, all open, then those of ``again`` close once more; each step follows as
    soon as the one before it is home, at most 90 s. None when a step is refused or does not get home.
    """
    machine = _with_nothing_to_cut(plant)
    for pump in plant.pump:
        _give(machine, f"{pump.id}.mode", "off")
    stack = work.preventers(plant)
    left = []
    for function, way in [
        *((f, "close") for f in stack),
        *((f, "open") for f in stack),
        *((f, "close") for f in again),
    ]:
        if _give(machine, function.id, way) is not None:
            return None
        done = f"{function.id}.opened" if way == "open" else f"{function.id}.closed"
        for _ in range(LONGEST):
            machine.scan()
            if machine.read(done) > 0.5:
                break
        else:
            return None
        left.append(machine.read("accumulator.true"))
    return left


def _give(machine: Machine, target: str, value: str) -> str | None:
    """Give one command at the first station that has it, enabled where that is a panel; returns a refusal, or None."""
    station = machine.operables["set", target].station[0]
    if station != "unit":
        machine.apply(Command.model_validate({"t": 0.0, "do": "push", "target": "driller.enable", "from": station}))
    return machine.apply(
        Command.model_validate({"t": 0.0, "do": "set", "target": target, "value": value, "from": station})
    )


def _move(machine: Machine, function: Function) -> Move | None:
    i, start = function.id, machine.read(f"{function.id}.x")
    way = "open" if start > 0.5 else "close"
    path = _way(machine, f"{i}.{way}")
    still = [machine.read(f"{node}.p") for node in path]
    if _give(machine, i, way) is not None:
        return None
    losses: tuple[Loss, ...] = ()
    done = f"{i}.opened" if way == "open" else f"{i}.closed"
    for scan in range(1, LONGEST + 1):
        machine.scan()
        gone = abs(machine.read(f"{i}.x") - start)
        if not losses and gone >= 0.5 * _stroke(machine, i, way):
            losses = _losses(machine, path, still)
        if machine.read(done) > 0.5:
            return Move(function, way, scan / SCANS_PER_SECOND, losses)
    return Move(function, way, None, losses)


def _stroke(machine: Machine, function: str, way: str) -> float:
    """How far the piston can go: pipe in the bore stops it early."""
    return 1.0 if way == "open" else max(machine.read(f"{function}.limit"), 0.1)


def _way(machine: Machine, chamber: str) -> list[str]:
    """Nodes from the header to a chamber, by the fewest edges; what stands on the first pod is taken first."""
    nodes = machine.net.nodes
    near: dict[str, list[str]] = {}
    for name, edge in machine.net.edges.items():
        closed = any(name.endswith((f".{word}", f"_{word}")) for word in BYWAYS)
        ends = (edge.a, edge.b)
        if not closed and all(end in nodes and not isinstance(nodes[end].storage, Fixed) for end in ends):
            near.setdefault(ends[0], []).append(ends[1])
    came: dict[str, str] = {"header": ""}
    queue = deque(["header"])
    while queue:
        here = queue.popleft()
        for there in near.get(here, []):
            if there not in came:
                came[there] = here
                queue.append(there)
    if chamber not in came:
        return []
    found = [chamber]
    while came[found[-1]]:
        found.append(came[found[-1]])
    return found[::-1]


def _losses(machine: Machine, path: list[str], still: list[float]) -> tuple[Loss, ...]:
    """Drops along the way now. The column of fluid, which gives pressure on the way down, is no loss: in a stretch
    whose ends were level at rest but for it, that rest difference is taken off."""
    found = []
    for n in range(1, len(path)):
        drop = machine.read(f"{path[n - 1]}.p") - machine.read(f"{path[n]}.p")
        column = min(still[n - 1] - still[n], 0.0)
        last = n == len(path) - 1
        found.append(Loss(_called(path[n - 1], path[n], last), drop if last else drop - column))
    return tuple(found)


def _called(up: str, down: str, last: bool) -> str:
    if last:
        return "valve and ports"
    kind = down.rsplit(".", 1)[-1]
    if kind.startswith("line_") or kind == "supply":
        return "line down" if kind == "supply" else "pod selector"
    return f"{kind} regulator"
