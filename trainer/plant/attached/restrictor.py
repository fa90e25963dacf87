"""A restrictor: an orifice from the header back to the tank, which keeps a line of the unit filled with fresh fluid."""

from __future__ import annotations

from typing import Annotated, ClassVar

from trainer.hydraulics.laws import orifice
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives
from trainer.plant.attachment import Attachment
from trainer.plant.base import component_fault, reading
from trainer.plant.handwork import hand_valve, is_shut, needs, service
from trainer.units import Coefficient, Flow, Number, Pressure, between

BLOCKED = 0.95
"""Share of its flow coefficient that a restrictor full of dirt has lost. Invented."""


class Restrictor(Attachment):
    """The orifice, its hand valve and its flow indicator; its ``capacity`` is a flow coefficient, m3/(s sqrt(Pa))."""

    capacity: Annotated[Coefficient, between("0.0005 Cv", "1 Cv")]

    symbol: ClassVar = "M-24 0H24M-10 -11Q0 -2 10 -11M-10 11Q0 2 10 11"
    body: ClassVar = "steelh -18 -8 5 16; steelh 13 -8 5 16; brassh -13 -6 26 12 2; dark -2 -9 4 18 1"
    room: ClassVar = (-18.0, -9.0, 18.0, 9.0)
    shows: ClassVar = "flow"
    valve: ClassVar = "valve"
    jobs: ClassVar = {"clean": ("Clean", "orifice")}
    first: ClassVar = {"capacity": "0.01 Cv"}
    text: ClassVar = {
        "title": "Restrictor",
        "what": "An orifice with a hand valve between the accumulator header and the tank.",
        "does": "Passes a little fluid all the time, so that the line behind it stays filled and moves.",
        "normal": "A small, steady flow while the header is under pressure.",
        "fails": "Dirt blocks the orifice.",
        "notice": "Its flow falls while the header's pressure stays.",
        "check": "Compare its flow with what it passed at the same pressure when it was clean.",
        "safety": "Shut its valve before you open it: the header is under pressure.",
    }

    def build(self, net: Network) -> None:
        """Add the orifice between header and tank, its valve, its flow reading, its fault and the work on it."""
        i = self.id
        reading(net, f"{i}.flow", "gpm", 0, 5, f"{self.name}: flow back to the tank.", ("unit",))
        valve = hand_valve(net, f"{i}.valve", f"{self.name}: hand valve before it.")
        dirt = component_fault(
            net, i, "blocked", f"{self.name}: blocked by dirt", (f"{i}.flow",), "Shut its valve, take it out, clean it."
        )
        q = net.edge(f"{i}.through", "header", "tank", restricted, dict(k=self.capacity, valve=valve, blocked=dirt))
        net.block(seen, inputs=dict(q=q), outputs=dict(shown=f"{i}.flow"), rate="observe")
        shut = needs(
            ((valve, is_shut),), f"Shut the valve of {self.name.lower()} before opening it: it holds pressure."
        )
        service(net, f"{i}.clean", f"{self.name}: clean the orifice.", (f"{i}.blocked",), guard=shut)


def restricted(
    pu: Pressure, pd: Pressure, k: Coefficient, valve: Number, blocked: Number
) -> tuple[float, float, float]:
    """Flow through the orifice behind its valve (1 open), m3/s, with its slopes; ``blocked`` (0 to 1) narrows it."""
    q, gu, gd = orifice(pu, pd, k * valve * (1.0 - BLOCKED * blocked))
    return q, gu, gd


@gives("shown")
def seen(q: Flow) -> Flow:
    """The flow back to the tank, m3/s, as its indicator shows it: 0 where the fluid would run the other way."""
    return max(q, 0.0)
