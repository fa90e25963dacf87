"""What the preventers together do to the well: how open the annulus is, which lines are lined up, what is cut."""

from __future__ import annotations

from trainer.hydraulics.network import Network
from trainer.plant.base import state_reading
from trainer.plant.functions import Function

LEAK_K = 3.0e-6


def build_bore(net: Network, functions: list[Function]) -> None:
    """Fold the functions into ``bore.*``; see the well for how it uses them.

    ``bore.area`` (0 to 1) is the opening left in the annulus, ``bore.leak`` m3/(s sqrt(Pa)) what passes an imperfect
    seal, ``bore.choke_path`` and ``bore.kill_path`` 1 with both valves of a line open, ``bore.sheared`` 1 once cut.
    """
    net.var("bore.area", 1.0)
    net.var("bore.leak", 0.0)
    net.var("bore.choke_path", 0.0)
    net.var("bore.kill_path", 0.0)
    net.var("bore.sheared", 0.0)
    net.var("bore.scratch", 0.0)
    state_reading(net, "bore.pipe", ("no", "yes"), "Pipe stands across the stack.", (), 1.0)
    net.block(pipe_across, ["floor.pipe_in_stack"], ["bore.pipe"])
    net.block(start, [], ["bore.area", "bore.leak", "bore.choke_path", "bore.kill_path"])
    for f in functions:
        if f.kind in ("annular", "pipe_ram", "shear_ram"):
            leaks = f"{f.id}.leaks" if f.kind == "annular" else 0.0
            net.block(
                narrow,
                ["bore.area", "bore.leak", f"{f.id}.x", f"{f.id}.limit", f"{f.id}.sealing", leaks],
                ["bore.area", "bore.leak"],
            )
        if f.kind == "shear_ram":
            net.block(either, ["bore.sheared", f"{f.id}.cut"], ["bore.sheared"])
    for line in ("choke", "kill"):
        valves = [f for f in functions if f.line == line]
        for inner, outer in zip(valves[0::2], valves[1::2], strict=False):
            path = f"bore.{line}_path"
            net.block(line_up, [path, f"{inner.id}.x", f"{outer.id}.x"], [path])


def pipe_across(in_stack: float) -> float:
    """1 with pipe through the stack."""
    return 1.0 if in_stack > 0.5 else 0.0


def start() -> tuple[float, float, float, float]:
    """Wide open, nothing lined up."""
    return 1.0, 0.0, 0.0, 0.0


def narrow(area: float, leak: float, x: float, limit: float, sealing: float, leaks: float) -> tuple[float, float]:
    """Opening left after one more preventer, x closed of the stroke it can make here."""
    left = 0.0 if sealing > 0.5 else max(1.0 - x / limit, 0.01)
    return min(area, left), (leaks * LEAK_K if sealing > 0.5 and area > 0.0 else leak)


def either(a: float, b: float) -> float:
    """1 when either is."""
    return max(a, b)


def line_up(path: float, inner: float, outer: float) -> float:
    """1 when both valves of a pair are open (x is 0 open, 1 closed), or another pair is already."""
    through = min(1.0 - inner, 1.0 - outer)
    return max(path, 1.0 if through > 0.7 else 0.0)
