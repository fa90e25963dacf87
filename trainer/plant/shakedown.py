"""A new plant run for a minute at rest: does it compute, keep its fluid and settle?"""

from __future__ import annotations

from trainer.hydraulics.machine import Machine
from trainer.units import show

MINUTE = 600
"""Scans of 0.1 s."""
LOST = 1.0e-9
"""Share of all fluid that rounding may lose in a minute."""
SETTLED = 0.05
"""Share of its pressure that the accumulators' header may move in the last half of the minute."""


def shakedown(machine: Machine, scans: int = MINUTE) -> list[str]:
    """Run a freshly built machine for a minute and return what is wrong, as sentences; empty when nothing is.

    The machine is left where it came to. Found are: values that are not finite, fluid that appears or is lost, and a
    header pressure that does not settle.
    """
    start = machine.fluid()
    middle = 0.0
    for n in range(scans):
        try:
            machine.scan()
        except ArithmeticError:
            return [_broke(n)]
        if n == scans // 2:
            middle = machine.read("accumulator.true")
    found = []
    lost = machine.fluid() - start
    if abs(lost) > LOST * max(start, 1.0):
        found.append(f"in a minute at rest {show(abs(lost), 'gal')} of fluid {'appear' if lost > 0 else 'are lost'}")
    end = machine.read("accumulator.true")
    if abs(end - middle) > SETTLED * max(abs(middle), 1.0e5):
        found.append(
            f"at rest the accumulators do not settle: {show(middle, 'psi')} after half a minute, {show(end, 'psi')} "
            "after one; look at pump rates, bottles and leaks"
        )
    return found


def _broke(scans: int) -> str:
    return (
        f"the plant cannot be computed beyond {scans / 10:g} s at rest: some values are too extreme together; "
        "go back to the last change"
    )
