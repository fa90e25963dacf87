"""Compiles a network to one flat Python function that advances it by a scan (100 ms).

Each tick is a step of implicit Euler, so that stiff lines do not limit it. The flow laws are linearised about the
present pressures and the pressure changes x solved for all nodes at once (Newton's rule):

    (C_i / dt) x_i + sum_out (gu x_u - gd x_d) - sum_in r (gu x_u - gd x_d)
        = sum_in r q - sum_out q + (C_i / dt) (p_start - p)

One solution is enough while pressures move slowly; when they moved by more than ``CLOSE`` the lines are drawn anew at
the new pressures, at most ``MOST`` times.

The unknowns are eliminated in an order worked out once: sleeping groups first, then the trunk by least degree; the
network is nearly a tree, so there is next to no fill-in. Volumes then move by the *solved* flows, which conserves
fluid to rounding whatever the linearisation error.

Source: implicit Euler with simplified Newton iterations, Hairer & Wanner, Solving Ordinary Differential Equations II,
ch. IV.3 and IV.8 (from memory); column diagonal dominance (what leaves one node enters another) makes pivoting
unnecessary.
"""

from __future__ import annotations

import ast
import re
from array import array
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from math import sqrt
from typing import TypeAlias

from trainer.hydraulics.framing import framed
from trainer.hydraulics.inline import Inliner, constant, listed, name
from trainer.hydraulics.network import Block, Edge, Network
from trainer.hydraulics.ports import Bound, Input, check_units, flat
from trainer.hydraulics.storage import Fixed, Gas, Line, bottle_step, line_pressure
from trainer.hydraulics.writing import statement

CLOSE = 4.0e4
"""Pa (6 psi) by which a pressure may move in a step before its lines are drawn anew. Ours."""
MOST = 4
"""Solutions of one step at most. Ours: a scan has to end in a bounded time."""
REMEMBERED = 32
"""Compiled plants kept at hand by a process. Ours."""

Numbers: TypeAlias = "array[float] | memoryview[float]"
"""Doubles that lie side by side."""
Advance = Callable[[Numbers], None]


@dataclass(frozen=True)
class Compiled:
    """The flat function, its source text and the order of the state list."""

    advance: Advance
    source: str
    layout: tuple[str, ...]


def check_wiring(net: Network) -> None:
    """ValueError when a step or an edge of ``net`` asks for a variable that no component provides, WiringError when
    one is in another unit than the port that it is bound to."""
    asked = [value for b in net.blocks for value in b.reads]
    asked += [value for e in net.edges.values() for value in flat(e.args)]
    for value in asked:
        if isinstance(value, str) and value not in net.variables and not value.startswith("fault."):
            raise ValueError(f"the plant uses {value}, which no component provides")
    for b in net.blocks:
        check_units(b.law, b.inputs, b.results, net.units)
    for e in net.edges.values():
        check_units(e.law, e.args, (), net.units, 2)


@cache
def identifier(dotted: str) -> str:
    """The local variable of the flat function for a dotted name: no two names share one."""
    return re.sub(r"\W", "_", dotted)


def flat_source(net: Network) -> str:
    """The text of the flat function, with every fault of ``net`` in it."""
    return _Writer(net).source(tuple(net.variables))


def compile_network(net: Network) -> Compiled:
    """Compile ``net``. Writing the code takes a second, so the last few networks are remembered by what they hold."""
    key = net.fingerprint()
    if key not in _known:
        if len(_known) >= REMEMBERED:
            del _known[next(iter(_known))]
        source = flat_source(net)
        scope: dict[str, object] = {"sqrt": sqrt}
        exec(compile(source, f"<plant of {len(net.variables)} states>", "exec"), scope)
        _known[key] = Compiled(scope["advance"], source, tuple(net.variables))  # type: ignore[arg-type]
    return _known[key]


_known: dict[str, Compiled] = {}


class _Writer:
    """Writes the flat function."""

    def __init__(self, net: Network) -> None:
        self.net = net
        self.tick = net.tick
        self.inliner = Inliner()
        self.edges = list(net.edges.values())
        self.unknown = [n for n, node in net.nodes.items() if not isinstance(node.storage, Fixed)]
        self.order = {n: i for i, n in enumerate(self.unknown)}
        self.near: dict[str, set[str]] = {n: set() for n in self.unknown}
        for e in self.edges:
            if e.a in self.order and e.b in self.order:
                self.near[e.a].add(e.b)
                self.near[e.b].add(e.a)
        self.back: dict[str, list[str]] = {}
        self.slopes: dict[str, tuple[str, str]] = {}
        self.filled: set[tuple[str, str]] = set()
        self.sequence: dict[str, list[str]] = {}

    def source(self, layout: tuple[str, ...]) -> str:
        body = self._blocks("logic", "")
        for g, awake in self.net.groups.items():
            flows = [f"{identifier(e.name + '.q')} = 0.0" for e in self.edges if e.group == g]
            still = [f"if not {identifier(awake)}:", *_indent(flows)]
            gate = self.net.gates.get(g, "")
            body += [f"if {identifier(gate)}:", *_indent(still)] if gate else still
        body += [f"for _ in range({self.net.ticks}):", *_indent(self._tick())]
        body += self._blocks("observe", "")
        names = {identifier(n): i for i, n in enumerate(layout)}
        if len(names) != len(layout):
            raise ValueError("two names of the plant differ only in punctuation; rename one")
        return "\n".join(["def advance(s, sqrt=sqrt):", *_indent(framed(body, names, self._gate_of()))]) + "\n"

    def _gate_of(self) -> dict[str, str]:
        """The gate behind each switch that the code tests."""
        gates = {identifier(b.gate): identifier(b.gate) for b in self.net.blocks if b.gate}
        for group, awake in self.net.groups.items():
            gates[identifier(awake)] = identifier(self.net.gates.get(group, ""))
        return gates

    def _expr(self, value: Bound) -> ast.expr:
        if isinstance(value, tuple):
            return listed([self._expr(one) for one in value])
        if isinstance(value, str):
            # A law may ask for a fault that this plant does not have.
            lacking = value.startswith("fault.") and value not in self.net.variables
            return constant(0.0) if lacking else name(identifier(value))
        return constant(value)

    def _blocks(self, rate: str, group: str) -> list[str]:
        lines: list[str] = []
        gate = ""
        for block in self.net.blocks:
            if block.rate != rate or (rate in ("tick", "after") and block.group != group):
                continue
            if block.gate != gate and block.gate:
                lines.append(f"if {identifier(block.gate)}:")
            gate = block.gate
            lines += _indent(self._block(block)) if gate else self._block(block)
        return lines

    def _block(self, block: Block) -> list[str]:
        out: list[ast.stmt] = []
        results = self.inliner.call(block.law, [self._expr(i) for i in block.inputs], out)
        if len(results) != len(block.outputs):
            raise ValueError(f"{block.law.__name__} gives {len(results)} values for {len(block.outputs)} names")
        self.inliner.assign([identifier(o) for o in block.outputs], results, out)
        return _text(out)

    def _tick(self) -> list[str]:
        """One tick: blocks, then Newton's rule on the node pressures, then volumes by the solved flows."""
        trunk = self._assemble("")
        groups = list(self.net.groups)
        forward = self._awake(lambda g: self._assemble(g) + self._eliminate(g))
        # Entries of the trunk that only a group's elimination creates start at zero each time.
        made = [f"{_a(i, j)} = 0.0" for i, j in sorted(self.filled)] if groups else []
        solve = self._eliminate("") + self._substitute("") + self._improve("")
        backward = self._awake(lambda g: self._substitute(g) + self._improve(g))
        newton = [*trunk, *made, *forward, *solve, *backward, f"if moved < {CLOSE * CLOSE!r}:", "    break"]
        return [
            *self._blocks("tick", ""),
            *self._hold(""),
            *self._awake(lambda g: self._blocks("tick", g) + self._hold(g)),
            f"for _ in range({MOST}):",
            *_indent(newton),
            *self._awake(lambda g: self._move(g) + self._blocks("after", g)),
            *self._move(""),
            *self._blocks("after", ""),
        ]

    def _awake(self, part: Callable[[str], list[str]]) -> list[str]:
        """A part of the tick for each group, run only while the group is awake."""
        lines: list[str] = []
        for group, awake in self.net.groups.items():
            lines += [f"if {identifier(awake)}:", *_indent(part(group))]
        return lines

    def _own(self, group: str) -> list[str]:
        return [n for n in self.unknown if self.net.nodes[n].group == group]

    def _hold(self, group: str) -> list[str]:
        """Pressures at the start of the tick, from which the volumes are counted."""
        return [f"{_p(n)} = {identifier(n + '.p')}" for n in self._own(group)]

    def _improve(self, group: str) -> list[str]:
        """Better pressures, and how far they moved: the sum of squares tells whether to draw the lines anew."""
        own = self._own(group)
        lines = [f"{identifier(n + '.p')} += {_x(n)}" for n in own]
        squares = " + ".join(f"{_x(n)} * {_x(n)}" for n in own)
        return [*lines, f"moved {'+=' if group else '='} {squares or '0.0'}"]

    def _assemble(self, group: str) -> list[str]:
        """Linearise the group's edges and write its rows of the system."""
        lines: list[str] = []
        diagonal: dict[str, list[str]] = {n: [] for n in self.unknown}
        right: dict[str, list[str]] = {n: [] for n in self.unknown}
        cross: dict[tuple[str, str], list[str]] = {}
        for e in self.edges:
            if e.group != group:
                continue
            q, gu, gd = self._flow(e, lines)
            for node, inward in ((e.a, False), (e.b, True)):
                if node not in self.order:
                    continue
                r = f"{e.ratio!r} * " if inward and e.ratio != 1.0 else ""
                diagonal[node].append(f" + {r}{gd if inward else gu}")
                right[node].append(f" {'+' if inward else '-'} {r}{q}")
                other = e.a if inward else e.b
                if other in self.order:
                    cross.setdefault((node, other), []).append(f" - {r}{gu if inward else gd}")
        for n in self.unknown:
            own = self.net.nodes[n].group == group
            if own:
                store = f"{identifier(n + '.c')} * {1.0 / self.tick!r}"
                lines.append(f"k_{identifier(n)} = {store}")
                lines.append(f"{_d(n)} = k_{identifier(n)}{''.join(diagonal[n])}")
                behind = f" + k_{identifier(n)} * ({_p(n)} - {identifier(n + '.p')})"
                lines.append(f"{_b(n)} ={''.join(right[n])}{behind}")
            elif diagonal[n]:
                lines.append(f"{_d(n)} +={''.join(diagonal[n])[2:]}")
                lines.append(f"{_b(n)} +={''.join(right[n])}")
        for (i, j), terms in cross.items():
            lines.append(f"{_a(i, j)} ={''.join(terms)}")
        return lines

    def _flow(self, e: Edge, lines: list[str]) -> tuple[str, str, str]:
        out: list[ast.stmt] = []
        up: ast.expr = name(identifier(f"{e.a}.p"))
        if e.head:
            up = ast.BinOp(up, ast.Add(), constant(e.head))
        args = [up, name(identifier(f"{e.b}.p")), *(self._expr(i) for i in e.args)]
        results = self.inliner.call(e.law, args, out)
        stem = identifier(e.name)
        names = (f"{stem}_q", f"{stem}_gu", f"{stem}_gd")
        values = list(results)
        out.append(ast.Assign([ast.Name(names[0], ast.Store())], values[0]))
        kept = [names[0]]
        for target, value in zip(names[1:], values[1:], strict=True):
            if isinstance(value, ast.Name):
                kept.append(value.id)
            else:
                out.append(ast.Assign([ast.Name(target, ast.Store())], value))
                kept.append(target)
        lines += _text(out)
        self.slopes[e.name] = (kept[1], kept[2])
        return kept[0], kept[1], kept[2]

    def _eliminate(self, group: str) -> list[str]:
        lines: list[str] = []
        left = [n for n in self.unknown if self.net.nodes[n].group == group]
        sequence: list[str] = []
        while left:
            n = min(left, key=lambda k: (len(self.near[k]), self.order[k]))
            left.remove(n)
            around = sorted(self.near[n], key=self.order.__getitem__)
            inverse = f"i_{identifier(n)}"
            lines.append(f"{inverse} = 1.0 / {_d(n)}")
            for i in around:
                factor = f"f_{identifier(i)}"
                lines.append(f"{factor} = {_a(i, n)} * {inverse}")
                lines.append(f"{_d(i)} -= {factor} * {_a(n, i)}")
                lines.append(f"{_b(i)} -= {factor} * {_b(n)}")
                for j in around:
                    if j == i:
                        continue
                    if j in self.near[i]:
                        lines.append(f"{_a(i, j)} -= {factor} * {_a(n, j)}")
                    elif group and self.net.nodes[i].group == self.net.nodes[j].group == "":
                        # Fill between trunk nodes by a group that may sleep: the entry starts at zero each tick.
                        self.filled.add((i, j))
                        lines.append(f"{_a(i, j)} -= {factor} * {_a(n, j)}")
                    else:
                        lines.append(f"{_a(i, j)} = -{factor} * {_a(n, j)}")
            for i in around:
                self.near[i].discard(n)
                self.near[i].update(j for j in around if j != i)
            self.near[n] = set()
            self.back[n] = around
            sequence.append(n)
        self.sequence[group] = sequence
        return lines

    def _substitute(self, group: str) -> list[str]:
        lines = []
        for n in reversed(self.sequence[group]):
            known = "".join(f" - {_a(n, j)} * {_x(j)}" for j in self.back[n])
            lines.append(f"{_x(n)} = ({_b(n)}{known}) * i_{identifier(n)}")
        return lines

    def _move(self, group: str) -> list[str]:
        """Solved flows, new volumes, new pressures of the group."""
        lines: list[str] = []
        gains: dict[str, list[str]] = {}
        for e in self.edges:
            if e.group != group:
                continue
            q = identifier(f"{e.name}.q")
            gu, gd = self.slopes[e.name]
            rise = f" + {gu} * {_x(e.a)}" if e.a in self.order else ""
            fall = f" - {gd} * {_x(e.b)}" if e.b in self.order else ""
            if rise or fall:
                lines.append(f"{q} = {q}{rise}{fall}")
            gains.setdefault(e.a, []).append(f" - {q}")
            r = f"{e.ratio!r} * " if e.ratio != 1.0 else ""
            gains.setdefault(e.b, []).append(f" + {r}{q}")
        for n, terms in gains.items():
            lines.append(f"{identifier(n + '.v')} += {self.tick!r} * ({''.join(terms).removeprefix(' + ').strip()})")
        for n, node in self.net.nodes.items():
            if node.group == group:
                lines += self._pressure(n)
        return lines

    def _pressure(self, n: str) -> list[str]:
        storage = self.net.nodes[n].storage
        out: list[ast.stmt] = []
        if isinstance(storage, Line):
            args: list[Input] = [f"{n}.v", storage.volume, storage.stiffness]
            results = self.inliner.call(line_pressure, [self._expr(a) for a in args], out)
            parts: Iterable[str] = ("p", "c")
        elif isinstance(storage, Gas):
            state: list[Input] = [f"{n}.v", f"{n}.t", f"{n}.rho", f"{n}.warm", f"{n}.heat"]
            args = [*state, storage.shell, storage.mass, storage.wall, self.tick / storage.relax]
            results = self.inliner.call(bottle_step, [self._expr(a) for a in args], out)
            parts = ("p", "c", "t", "rho")
        else:
            return []
        self.inliner.assign([identifier(f"{n}.{part}") for part in parts], results, out)
        return _text(out)


def _a(i: str, j: str) -> str:
    return f"a_{identifier(i)}__{identifier(j)}"


def _d(n: str) -> str:
    return f"d_{identifier(n)}"


def _b(n: str) -> str:
    return f"b_{identifier(n)}"


def _p(n: str) -> str:
    return f"p_{identifier(n)}"


def _x(n: str) -> str:
    return f"x_{identifier(n)}"


def _indent(lines: Iterable[str]) -> list[str]:
    return [f"    {line}" for line in lines] or ["    pass"]


def _text(statements: list[ast.stmt]) -> list[str]:
    return [statement(s) for s in statements]
