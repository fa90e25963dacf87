"""The same plant by a general stiff integrator: the flow laws as a plain right-hand side for SciPy.

The right-hand side is written from the network the compiled plant comes from, with the same laws, no linearisation and
no sleeping parts. Logic runs every scan as in the plant; between scans SciPy integrates. This is the measure for the
compiled plant's own, much cheaper, step.
"""

from __future__ import annotations

import ast
from collections.abc import Callable
from dataclasses import dataclass
from math import sqrt
from typing import Any

from trainer.fluids.gas import nitrogen_pressure, nitrogen_thermal
from trainer.hydraulics.compile import compile_network, identifier
from trainer.hydraulics.inline import Inliner, constant, name
from trainer.hydraulics.network import SCAN, Input, Network
from trainer.hydraulics.storage import Fixed, Gas, Line, line_pressure
from trainer.hydraulics.writing import statement


def gas_state(fluid: float, temperature: float, shell: float, mass: float) -> tuple[float, float, float]:
    """Pressure of a bottle, dT/dV of its fluid along the adiabat, and its density."""
    space = shell - fluid
    rho = mass / space
    p, _ = nitrogen_pressure(rho, temperature)
    heat, cv = nitrogen_thermal(rho, temperature)
    return p, temperature * heat / (rho * cv * space), rho


@dataclass
class Reference:
    """Right-hand side and logic of a network; ``states`` are the integrated variables' places in the state list."""

    logic: Callable[[list[float]], None]
    rates: Callable[[list[float]], list[float]]
    states: list[int]
    names: list[str]
    absolute: list[float]

    def scan(self, s: list[float], rtol: float = 1.0e-9, method: str = "LSODA") -> int:
        """Advance by one scan; returns how often the right-hand side was worked out."""
        from scipy.integrate import solve_ivp

        self.logic(s)

        def right(_: float, y: Any) -> list[float]:
            for place, value in zip(self.states, y, strict=True):
                s[place] = value
            return self.rates(s)

        start = [s[i] for i in self.states]
        done = solve_ivp(right, (0.0, SCAN), start, method=method, rtol=rtol, atol=self.absolute)
        if not done.success:
            raise ArithmeticError(done.message)
        right(0.0, [float(v) for v in done.y[:, -1]])
        return int(done.nfev)


def reference(net: Network) -> Reference:
    """The reference for a network with no faults armed."""
    source = compile_network(net).source.replace(f"range({net.ticks})", "range(0)")
    scope: dict[str, Any] = {"sqrt": sqrt}
    exec(source, scope)
    writer = _Writer(net)
    text = writer.source()
    exec(text, scope)
    index = {n: i for i, n in enumerate(net.variables)}
    names = list(writer.rate)
    places = [index[n] for n in names]
    absolute = [1.0e-7 if n.endswith(".t") else 1.0e-12 for n in names]
    return Reference(scope["advance"], scope["rates"], places, names, absolute)


class _Writer:
    def __init__(self, net: Network) -> None:
        self.net = net
        self.inliner = Inliner()
        self.rate: dict[str, str] = {}
        self.lines: list[ast.stmt] = []
        self.algebraic: set[str] = set()

    def source(self) -> str:
        for n, node in self.net.nodes.items():
            if isinstance(node.storage, Line):
                self._set([f"{n}.p", f"{n}.c"], line_pressure, [f"{n}.v", node.storage.volume, node.storage.stiffness])
            elif isinstance(node.storage, Gas):
                self._set(
                    [f"{n}.p", f"{n}.warm", f"{n}.rho"],
                    gas_state,
                    [f"{n}.v", f"{n}.t", node.storage.shell, node.storage.mass],
                )
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
        load = [f"{identifier(v)} = s[{i}]" for i, v in enumerate(self.net.variables)]
        keep = [f"s[{i}] = {identifier(v)}" for i, v in enumerate(self.net.variables) if v in self.algebraic]
        body = [*load, *text, *keep, f"return [{', '.join(self.rate.values())}]"]
        return "\n".join(["def rates(s, sqrt=sqrt):", *(f"    {line}" for line in body)]) + "\n"

    def _expr(self, value: Input) -> ast.expr:
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
            results = self.inliner.call(block.law, [self._expr(i) for i in block.inputs], self.lines)
            for output, value in zip(block.outputs, results, strict=True):
                held = output in block.inputs
                target = f"r_{identifier(output)}" if held else identifier(output)
                change = ast.BinOp(
                    ast.BinOp(value, ast.Sub(), name(identifier(output))), ast.Div(), constant(self.net.tick)
                )
                self.lines.append(ast.Assign([ast.Name(target, ast.Store())], change if held else value))
                if held:
                    self.rate[output] = target
                else:
                    self.algebraic = self.algebraic | {output}
