"""The same plant by a general stiff integrator: the flow laws as a plain right-hand side for SciPy.

The right-hand side is written from the network the compiled plant comes from, with the same laws, no linearisation and
no sleeping parts. Logic runs every scan as in the plant, then SciPy integrates over the scan, then instruments and
lamps are read, as in the plant. A shuttle valve turns at the very instant, found by bisection, at which the other side
offers more; the plant turns it at its next tick. This is the measure for the compiled plant's own, much cheaper, step.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from math import sqrt
from typing import Any

from trainer.constants import SCAN
from trainer.fluids.gas import nitrogen_pressure, nitrogen_thermal
from trainer.hydraulics.compile import Numbers, compile_network, identifier
from trainer.hydraulics.inline import Inliner, constant, listed, name
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import Bound, Input
from trainer.hydraulics.storage import Fixed, Gas, Line, line_pressure
from trainer.hydraulics.writing import statement
from trainer.plant.function_laws import shuttle_valve

WORD = re.compile(r"[A-Za-z_]\w*")
STEP = 1.5e-8
LEAST = 1.0e-6
HALVINGS = 20


def gas_state(fluid: float, temperature: float, shell: float, mass: float) -> tuple[float, float, float]:
    """Pressure of a bottle, dT/dV of its fluid along the adiabat, and its density."""
    space = shell - fluid
    rho = mass / space
    p, _ = nitrogen_pressure(rho, temperature)
    heat, cv = nitrogen_thermal(rho, temperature)
    return p, temperature * heat / (rho * cv * space), rho


def still_shuttle(
    shuttle: float, xa: float, xb: float, pa: float, pb: float, sea: float, joined_a: float, joined_b: float
) -> tuple[float, float, float, float]:
    """A shuttle valve that stays where it is: both sides offer the same."""
    # Named one by one: the inliner takes no call that returns several values whole.
    to, way_a, way_b, vent = shuttle_valve(shuttle, xa, xb, sea, sea, sea, joined_a, joined_b)
    return to, way_a, way_b, vent


@dataclass
class Reference:
    """Logic, right-hand side and instruments of a network; ``states`` are the integrated variables' places in the list.

    ``rates(s, y)`` gives the rates at the integrated values ``y``; ``settle(s, y)`` also keeps all that follows from
    them. ``colours`` are sets of states no two of which touch the same rate, and for each state the rates that it
    touches: the slopes of a whole set are then found by one evaluation. ``turned(s, y)`` gives where the shuttles
    belong, whose places are ``switches``.
    """

    logic: Callable[[Numbers], None]
    rates: Callable[[Numbers, list[float]], list[float]]
    settle: Callable[[Numbers, list[float]], list[float]]
    observe: Callable[[Numbers], None]
    states: list[int]
    names: list[str]
    absolute: list[float]
    colours: list[list[tuple[int, list[int]]]]
    turned: Callable[[Numbers, list[float]], list[float]]
    switches: list[int]

    def scan(self, s: Numbers, rtol: float = 1.0e-9, method: str = "LSODA", given: bool = True) -> None:
        """Advance by one scan. The integrator's own least tolerance stands in for a smaller one.

        ``given`` False: it is left to find the slopes by itself, one state after the other. Raises ArithmeticError
        when it gives up.
        """
        from scipy import integrate

        self.logic(s)
        y, t = [s[i] for i in self.states], 0.0
        while t < SCAN:
            self._turn(s, y)
            solver = getattr(integrate, method)(
                lambda _, y: self.rates(s, y.tolist()),
                t,
                y,
                SCAN,
                rtol=rtol,
                atol=self.absolute,
                **({"jac": lambda _, y: self.slopes(s, y.tolist())} if given else {}),
            )
            while solver.status == "running" and not self._due(s, solver.y):
                failed = solver.step()
                if failed is not None:
                    raise ArithmeticError(failed)
            t, y = self._instant(s, solver) if self._due(s, solver.y) else (solver.t, solver.y.tolist())
        for place, value in zip(self.states, y, strict=True):
            s[place] = value
        self.settle(s, y)
        self.observe(s)

    def _instant(self, s: Numbers, solver: Any) -> tuple[float, list[float]]:
        """When within the integrator's last step a shuttle had to turn, and the integrated values then."""
        inside = solver.dense_output()
        before, after, values = solver.t_old, solver.t, solver.y
        for _ in range(HALVINGS):
            middle = 0.5 * (before + after)
            between = inside(middle)
            if self._due(s, between):
                after, values = middle, between
            else:
                before = middle
        return after, values.tolist()

    def _due(self, s: Numbers, y: Any) -> bool:
        """True when a shuttle has to turn."""
        now = self.turned(s, y.tolist())
        return any(s[i] != value for i, value in zip(self.switches, now, strict=True))

    def _turn(self, s: Numbers, y: list[float]) -> None:
        for place, value in zip(self.switches, self.turned(s, y), strict=True):
            s[place] = value

    def slopes(self, s: Numbers, y: list[float]) -> Any:
        """d rate / d state by differences, an array of (rates, states)."""
        import numpy

        table = numpy.zeros((len(y), len(y)))
        base = self.rates(s, y)
        for colour in self.colours:
            moved = list(y)
            for at, _ in colour:
                moved[at] += STEP * max(abs(y[at]), LEAST)
            other = self.rates(s, moved)
            for at, touched in colour:
                for row in touched:
                    table[row, at] = (other[row] - base[row]) / (moved[at] - y[at])
        return table


def reference(net: Network) -> Reference:
    """The equations of a network without faults, for a solver of somebody else's to integrate."""
    plain = replace(net, blocks=[b for b in net.blocks if b.rate != "observe"])
    source = compile_network(plain).source.replace(f"range({net.ticks})", "range(0)")
    writer = _Writer(net)
    scope: dict[str, Any] = {"sqrt": sqrt}
    exec("\n".join([source, *writer.functions()]), scope)
    index = {n: i for i, n in enumerate(net.variables)}
    names = list(writer.rate)
    absolute = [1.0e-7 if n.endswith(".t") else 1.0e-12 for n in names]
    places = [index[n] for n in names]
    switches = [index[v] for v in writer.switches]
    return Reference(
        scope["advance"], scope["rates"], scope["settle"], scope["observe"],
        places, names, absolute, writer.colours(), scope["turned"], switches,
    )  # fmt: skip


class _Writer:
    def __init__(self, net: Network) -> None:
        self.net = net
        self.inliner = Inliner()
        self.rate: dict[str, str] = {}
        self.lines: list[ast.stmt] = []
        self.algebraic: set[str] = set()
        self.observed: set[str] = set()
        self.body: list[str] = []
        self.switches: list[str] = []
        self.turns: list[ast.stmt] = []

    def functions(self) -> list[str]:
        """The text of ``rates``, ``settle``, ``turned`` and ``observe``."""
        body = self.body = self._right_hand_side()
        integrated = ", ".join(identifier(n) for n in self.rate)
        begin, end = f"{integrated}, = y", f"return [{', '.join(self.rate.values())}]"
        known = set(self.rate)
        load = [f"{identifier(v)} = s[{i}]" for v, i in self._used([*body, end]).items() if v not in known]
        keep = [f"s[{i}] = {identifier(v)}" for i, v in enumerate(self.net.variables) if v in self.algebraic]
        sides = f"return [{', '.join(identifier(v) + '_to' for v in self.switches)}]"
        turns = [*(statement(x) for x in self.turns), sides]
        where = [f"{identifier(v)} = s[{i}]" for v, i in self._used(turns).items() if v not in known]
        seen = self._instruments()
        seen = [*(f"{identifier(v)} = s[{i}]" for v, i in self._used(seen).items()), *seen]
        seen += [f"s[{i}] = {identifier(v)}" for i, v in enumerate(self.net.variables) if v in self.observed]
        return [
            _function("rates(s, y, sqrt=sqrt)", [*load, begin, *body, end]),
            _function("settle(s, y, sqrt=sqrt)", [*load, begin, *body, *keep, end]),
            _function("turned(s, y, sqrt=sqrt)", [*where, begin, *turns]),
            _function("observe(s, sqrt=sqrt)", seen),
        ]

    def colours(self) -> list[list[tuple[int, list[int]]]]:
        """States in sets, as ``Reference.colours``, by what each line of the right-hand side is made of."""
        states = list(self.rate)
        made: dict[str, frozenset[int]] = {identifier(v): frozenset([i]) for i, v in enumerate(states)}
        nothing: frozenset[int] = frozenset()
        for line in self.body:
            target, _, value = line.partition(" = ")
            made[target] = nothing.union(*(made.get(word, nothing) for word in WORD.findall(value)))
        touched: list[list[int]] = [[] for _ in states]
        for row, value in enumerate(self.rate.values()):
            for at in nothing.union(*(made.get(word, nothing) for word in WORD.findall(value))):
                touched[at].append(row)
        sets: list[list[tuple[int, list[int]]]] = []
        for at, rows in enumerate(touched):
            for one in sets:
                if not any(set(rows) & set(others) for _, others in one):
                    one.append((at, rows))
                    break
            else:
                sets.append([(at, rows)])
        return sets

    def _used(self, lines: list[str]) -> dict[str, int]:
        """Places of the network's variables that ``lines`` name."""
        words = set(WORD.findall(" ".join(lines)))
        return {v: i for i, v in enumerate(self.net.variables) if identifier(v) in words}

    def _instruments(self) -> list[str]:
        """The steps that the plant takes once its physics has moved."""
        lines: list[str] = []
        for block in self.net.blocks:
            if block.rate != "observe":
                continue
            out: list[ast.stmt] = []
            results = self.inliner.call(block.law, [self._expr(i) for i in block.inputs], out)
            self.inliner.assign([identifier(o) for o in block.outputs], results, out)
            self.observed = self.observed | set(block.outputs)
            text = [statement(s) for s in out]
            lines += [f"if {identifier(block.gate)}:", *(f"    {line}" for line in text)] if block.gate else text
        return lines

    def _right_hand_side(self) -> list[str]:
        for n, node in self.net.nodes.items():
            if isinstance(node.storage, Line):
                self._set([f"{n}.p", f"{n}.c"], line_pressure, [f"{n}.v", node.storage.volume, node.storage.stiffness])
            elif isinstance(node.storage, Gas):
                self._set(
                    [f"{n}.p", f"{n}.warm", f"{n}.rho"],
                    gas_state,
                    [f"{n}.v", f"{n}.t", node.storage.shell, node.storage.mass],
                )
        self.turns = list(self.lines)
        self._blocks("tick")
        gains: dict[str, list[str]] = {n: [] for n in self.net.nodes}
        for e in self.net.edges.values():
            if e.fault:
                continue
            up: ast.expr = name(identifier(f"{e.a}.p"))
            if e.head:
                up = ast.BinOp(up, ast.Add(), constant(e.head))
            args = [up, name(identifier(f"{e.b}.p")), *(self._expr(i) for i in e.args)]
            results = self.inliner.call(e.law, args, self.lines)
            self.inliner.assign([identifier(f"{e.name}.q")], results[:1], self.lines)
            gains[e.a].append(f" - {identifier(e.name + '.q')}")
            gains[e.b].append(f" + {e.ratio!r} * {identifier(e.name + '.q')}")
        self._blocks("after")
        text = [statement(s) for s in self.lines]
        for n, node in self.net.nodes.items():
            flow = f"d_{identifier(n)}"
            text.append(f"{flow} ={''.join(gains[n]) or ' 0.0'}")
            if isinstance(node.storage, Fixed):
                continue
            self.rate[f"{n}.v"] = flow
            if isinstance(node.storage, Gas):
                warm, t, wall = (identifier(x) for x in (f"{n}.warm", f"{n}.t", node.storage.wall))
                self.rate[f"{n}.t"] = f"{warm} * {flow} + ({wall} - {t}) / {node.storage.relax!r}"
        return text

    def _expr(self, value: Bound) -> ast.expr:
        if isinstance(value, tuple):
            return listed([self._expr(one) for one in value])
        if isinstance(value, str):
            return constant(0.0) if value.startswith("fault.") else name(identifier(value))
        return constant(value)

    def _set(self, outputs: list[str], law: Any, inputs: list[Input]) -> None:
        results = self.inliner.call(law, [self._expr(i) for i in inputs], self.lines)
        self.inliner.assign([identifier(o) for o in outputs], results, self.lines)
        self.algebraic = self.algebraic | set(outputs)

    def _blocks(self, rate: str) -> None:
        """A step's output that is also its input is a state: its change in a tick becomes a rate."""
        for block in self.net.blocks:
            if block.rate != rate:
                continue
            law, inputs = block.law, [self._expr(i) for i in block.inputs]
            if law is shuttle_valve:
                law, side = still_shuttle, block.outputs[0]
                self.switches.append(side)
                results = self.inliner.call(block.law, inputs, self.turns)
                self.inliner.assign([f"{identifier(side)}_to"], results[:1], self.turns)
            results = self.inliner.call(law, inputs, self.lines)
            for output, value in zip(block.outputs, results, strict=True):
                held = output in block.reads
                target = f"r_{identifier(output)}" if held else identifier(output)
                change = ast.BinOp(
                    ast.BinOp(value, ast.Sub(), name(identifier(output))), ast.Div(), constant(self.net.tick)
                )
                self.lines.append(ast.Assign([ast.Name(target, ast.Store())], change if held else value))
                if held and output not in self.switches:
                    self.rate[output] = target
                elif not held:
                    self.algebraic = self.algebraic | {output}


def _function(head: str, body: list[str]) -> str:
    return "\n".join([f"def {head}:", *(f"    {line}" for line in body)])
