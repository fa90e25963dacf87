"""Plants that keep what tolerances drew: where a plant goes back to a figure of its file, each goes back to its own.

A plant that has lost nothing holds the nitrogen that its file gives, and the air about the unit comes back to the
file's temperature after a frost. In an ensemble those figures differ from plant to plant, so they are variables here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from trainer.hydraulics.network import Block, Network
from trainer.hydraulics.ports import ports_of
from trainer.hydraulics.refusal import Refusal
from trainer.plant.accumulators import gas_left
from trainer.plant.reservoir import cooling

_RETURNS: dict[Any, str] = {gas_left: "mass", cooling: "usual"}
"""Laws that draw a variable back to a figure of the plant file, and the input that the figure is."""


def rest_of(name: str) -> str:
    """The variable that holds what ``name`` goes back to when nothing holds it off."""
    return f"{name}.rest"


def give_own_rests(net: Network) -> None:
    """Make the figures that a plant's variables go back to variables themselves, beside those; see ``rest_of``."""
    net.blocks[:] = [_owned(net, step) if step.law in _RETURNS else step for step in net.blocks]


def worked_out(net: Network) -> set[str]:
    """Variables that the plant itself writes and that would not keep what was drawn."""
    return {name for step in net.blocks for name in step.outputs if rest_of(name) not in net.variables}


def _owned(net: Network, step: Block) -> Block:
    place, (name,) = ports_of(step.law).parameters.index(_RETURNS[step.law]), step.outputs
    figure = step.inputs[place]
    if not isinstance(figure, int | float):
        return step
    own = net.var(rest_of(name), figure, net.units[name])
    # Who sets the nitrogen anew by the book ends what was drawn.
    anew = ("push", f"{name.removesuffix('.gas')}.charge_nitrogen")
    if anew in net.effects:
        net.effects[anew] = _followed(net.effects[anew], name, own)
    return replace(step, inputs=(*step.inputs[:place], own, *step.inputs[place + 1 :]))


def _followed(
    effect: Callable[[Any, Any], Refusal | None], name: str, own: str
) -> Callable[[Any, Any], Refusal | None]:
    def both(machine: Any, command: Any) -> Refusal | None:
        refusal = effect(machine, command)
        if refusal is None:
            machine.put(own, machine.read(name))
        return refusal

    return both
