"""Disconnect sequences by messages: the crew chooses one, enables and arms it, then starts it.

Each is data of the plant file. An ordered step is a message like any other: it goes to all pods, takes its time, and is
answered; where no pod hears, it does nothing. Once started nothing stops it, and the panels are locked out until the
time at which it is done. Which of them fits what stands in the stack is for the crew to know.
"""

from __future__ import annotations

from trainer.constants import SCAN
from trainer.hydraulics.catalogue import Order, Variables
from trainer.hydraulics.lists import chosen
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import Wires, gives
from trainer.hydraulics.refusal import Refusal
from trainer.plant.base import choice, component_fault, reading, state_reading
from trainer.plant.disconnect import (
    PANEL,
    STATES,
    Disconnect,
    add_end_and_buttons,
    clock,
    due,
    run_down,
    stirs,
)
from trainer.plant.functions import STIR, WAYS
from trainer.units import Alike, Number, Seconds


def build_sequences(net: Network, disconnect: Disconnect) -> None:
    """Add the choice of sequence, the clock, every step of each, the buttons, and the fault that it stalls."""
    known = disconnect.sequence
    ids = tuple(one.id for one in known)
    for name in ("eds.running", "eds.done", "eds.left"):
        net.var(name, 0.0, "s" if name == "eds.left" else "1")
    state_reading(net, "eds.sequence", ids, "Emergency disconnect: the sequence chosen.", PANEL)
    state_reading(net, "eds.state", STATES, "Emergency disconnect sequence.", PANEL)
    reading(net, "eds.clock", "s", 0, 300, "Time since the emergency disconnect was started.", PANEL)
    reading(net, "eds.takes", "s", 0, 300, "Time that the chosen sequence takes until it is done.", PANEL)
    stalls = component_fault(
        net, "eds", "stalls", "Emergency disconnect sequence stops before the connector",
        ("eds.clock", f"{disconnect.connector}.lamp_open"),
        "The clock has stopped: finish by hand at a panel in the sequence's order, the connector last.",
    )  # fmt: skip
    net.block(run_down, states=dict(left="eds.left"))
    net.var("eds.before", 0.0, "s")
    net.var("eds.stop", known[0].seconds, "s")
    net.block(
        times,
        inputs=dict(number="eds.sequence", ends=[one.done for one in known], lasts=[one.seconds for one in known]),
        outputs=dict(takes="eds.takes", stop="eds.stop"),
    )
    net.block(
        clock,
        inputs=dict(stalls=stalls, stop="eds.stop"),
        states=dict(now="eds.clock"),
        outputs=dict(before="eds.before"),
        gate="eds.running",
    )
    for number, one in enumerate(known):
        for step in one.step:
            span: Wires = dict(before="eds.before", after="eds.clock", at=step.at)
            mine: Wires = dict(number="eds.sequence", mine=float(number))
            if step.regulator:
                net.block(
                    ordered,
                    inputs=dict(**span, **mine, to=step.pressure),
                    states=dict(value=f"{step.regulator}.pilot"),
                    gate="eds.running",
                )
                continue
            way = float(WAYS.index(step.to))
            for where in ("wanted", "valve"):
                net.block(
                    ordered,
                    inputs=dict(**span, **mine, to=way),
                    states=dict(value=f"{step.function}.{where}"),
                    gate="eds.running",
                )
            net.block(stirs, inputs=dict(**span, fresh=STIR), states=dict(left="functions.stir"), gate="eds.running")

    def free(machine: Variables, command: Order) -> Refusal | None:
        if machine.read("eds.running") > 0.5 or machine.read("eds.done") > 0.5:
            return Refusal("started", "The emergency disconnect has been started already; it cannot be undone.")
        if machine.read("eds.left") > 0.0:
            return Refusal("armed", "The sequence is armed: another one can be chosen when it is safe again.")
        return None

    meaning = "Choose the sequence for what stands in the stack: " + ", ".join(f"{o.id} ({o.title})" for o in known)
    choice(net, "eds.sequence", ids, meaning + ".", PANEL, guard=free)
    arm = "Arm the chosen emergency disconnect sequence for twenty seconds (press enable first)."
    start = "Start the chosen sequence: it cannot be stopped or undone."
    add_end_and_buttons(net, "eds.takes", arm, start)


@gives("takes", "stop")
def times(number: Number, ends: list[Seconds], lasts: list[Seconds]) -> tuple[Seconds, Seconds]:
    """When the chosen sequence (counted from 0) is done, and where its clock stands when it stalls, s."""
    return chosen(ends, number + 1.0), chosen(lasts, number + 1.0) - 5.0 * SCAN


@gives("value")
def ordered(
    value: Alike, before: Seconds, after: Seconds, at: Seconds, to: Alike, number: Number, mine: Number
) -> Alike:
    """An order, put to ``to`` when its step is due and its sequence is the one chosen."""
    return to if due(before, after, at) > 0.5 and abs(number - mine) < 0.5 else value
