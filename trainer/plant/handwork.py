"""What hands do at the control unit: turn valves, clean and refill, and how often slow things are looked at.

Tanks, batteries, dirt and hand valves change over seconds: their logic runs once a second, behind a gate.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from trainer.constants import SCAN
from trainer.hydraulics.catalogue import Order, Variables
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives
from trainer.hydraulics.refusal import Refusal
from trainer.plant.base import PSI, Guard, button, choice, state_reading
from trainer.units import Number

SHUT = ("shut", "open")
OFF = ("off", "on")
RELIEF = ("shut", "passing")
WEEPS = 1.0e-6
"""m3/s (0.02 gal/min) through a relief valve that a person beside it sees and hears. Invented."""
HUNG = ("off", "hung")
NO_PRESSURE = 25.0 * PSI
"""Pa gauge up to which a gauge reads next to nothing, and what it hangs on may be opened. Ours."""
SECOND = "unit.second"
PERIOD = 1.0
"""s between two looks at what changes slowly (dirt, warmth, moisture). Ours."""
SCANS = PERIOD / SCAN
"""The same in scans."""


def build_pace(net: Network) -> None:
    """Add the gate ``SECOND``: on in every tenth scan, the first included."""
    net.var("unit.scans", SCANS)
    net.var(SECOND, 1.0)
    net.block(pace, states=dict(scans="unit.scans"), outputs=dict(second=SECOND))


@gives("scans", "second")
def pace(scans: Number) -> tuple[Number, Number]:
    """Scans since the last full second, and 1 when this scan completes one."""
    full = scans > SCANS - 1.5
    return (0.0 if full else scans + 1.0), (1.0 if full else 0.0)


def lock(net: Network, tag: str, name: str) -> Guard:
    """A place for a lock and tag on the valve or selector ``tag``: reading ``<tag>_lock`` and its command.

    Returns the guard that keeps ``tag`` where it stands while the lock hangs. Source: OSHA 29 CFR 1910.147 (c)(4), (d)
    (lock or tag on each energy-isolating device before work; from memory).
    """
    held = f"{tag}_lock"
    meaning = f"{name}: lock and tag."
    state_reading(net, held, HUNG, meaning, ("unit",))
    choice(net, held, HUNG, meaning, ("unit",))
    return unlocked((held, name))


def unlocked(*locks: tuple[str, str]) -> Guard:
    """A guard that refuses while one of the locks (its reading, the name of what it hangs on) hangs."""

    def guard(machine: Variables, command: Order) -> Refusal | None:
        hung = next((name for held, name in locks if machine.read(held) > 0.5), None)
        return None if hung is None else Refusal("locked", f"{hung}: a lock and tag hang on it. Remove them first.")

    return guard


def hand_valve(net: Network, tag: str, meaning: str, start: float = 1.0, locks: str = "") -> str:
    """A hand valve at the unit: reading ``tag`` and the command that turns it; returns the tag.

    With ``locks``, its name in words, a lock and tag can be hung on it.
    """
    state_reading(net, tag, SHUT, meaning, ("unit",), start)
    choice(net, tag, SHUT, meaning, ("unit",), guard=lock(net, tag, locks) if locks else None)
    return tag


def switch(net: Network, tag: str, meaning: str, start: float = 1.0, locks: str = "") -> str:
    """An on / off switch or breaker at the unit: reading ``tag`` and its command; returns the tag.

    With ``locks``, its name in words, a lock and tag can be hung on it.
    """
    state_reading(net, tag, OFF, meaning, ("unit",), start)
    choice(net, tag, OFF, meaning, ("unit",), guard=lock(net, tag, locks) if locks else None)
    return tag


def service(
    net: Network,
    target: str,
    meaning: str,
    cures: Sequence[str] = (),
    sets: Sequence[tuple[str, float]] = (),
    guard: Guard | None = None,
) -> None:
    """Work that a crew does on a part (``push target``): ends the faults ``cures`` and puts ``sets``."""

    def work(machine: Variables) -> None:
        for fault in cures:
            machine.put(f"fault.{fault}", 0.0)
        for name, value in sets:
            machine.put(name, value)

    button(net, target, meaning, ("unit",), work, guard)


def needs(conditions: Sequence[tuple[str, Callable[[float], bool]]], why: str) -> Guard:
    """A guard that refuses with ``why`` unless every named variable satisfies its condition."""

    def guard(machine: Variables, command: Order) -> Refusal | None:
        return None if all(good(machine.read(name)) for name, good in conditions) else Refusal("not_isolated", why)

    return guard


def is_shut(value: float) -> bool:
    """Whether a setting of 0 to 1 means off: a valve is shut, a switch is off, a pump stands still."""
    return value < 0.5
