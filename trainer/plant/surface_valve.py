"""A function's four-way valve at the unit: its lever, its air cylinder and the solenoid valve that a panel works."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.constants import SCAN
from trainer.hydraulics.catalogue import Order, Variables
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import under
from trainer.hydraulics.refusal import Refusal
from trainer.plant.function_laws import travel
from trainer.plant.functions import AIR_NEEDED, COUNT, Row

if TYPE_CHECKING:
    from trainer.plant.functions import Function

SURFACE_TRAVEL = 0.3
"""s that a control valve's cylinder takes from one end to the other. Common practice."""


class SurfaceValve:
    """What feeds share that begin at such a valve: who orders it, how it moves, and how it fails."""

    @property
    def stations(self) -> tuple[str, ...]:
        """Ids of the stations from which functions so fed are ordered open, to block or closed."""
        return ("unit", "driller", "remote")

    def without_panels(self, name: str) -> Refusal:
        """Why a panel without power cannot work the function of this name, and what is left to do with it."""
        return Refusal("no_power", f"The panels have no power: operate {name} by its lever at the control unit.")

    @property
    def lamp_by(self) -> str:
        """What lights a function's lamps, in words: at the surface nobody knows what moved below."""
        return "by pressure switch at the surface"

    def stands(self, function: Function) -> tuple[str, tuple[str, ...]]:
        """What the reading of its control valve means, and at which stations it is seen: at the valve alone."""
        return f"{function.name}: where its control valve stands.", ("unit",)

    def valve_faults(self, lamps: tuple[str, ...]) -> tuple[Row, ...]:
        """Faults of the valve itself: kind, title, what shows it beside the ``lamps``, remedy."""
        shows = (*lamps, *COUNT)
        return (
            ("valve_stuck", "control valve stuck", shows, "Try the lever at the unit; use another function."),
            ("valve_slow", "control valve slow to shift", shows, "Clean and grease the valve and its cylinder."),
            ("solenoid_dead", "solenoid valve does not shift", shows, "Operate the lever at the unit."),
        )

    def valve(self, net: Network, function: Function) -> None:
        """Add the ports of the valve (0 shut, 1 open), which follow its spool in ``SURFACE_TRAVEL``."""
        i = function.id
        net.block(
            travel,
            inputs=dict(valve=f"{i}.valve", step=SCAN / SURFACE_TRAVEL, slow=function.fault("valve_slow")),
            states=under(i, "open_way", "close_way"),
            gate=f"{i}.attend",
        )

    def loses(self, machine: Variables, function: Function, command: Order) -> bool:
        """Whether an order does not reach the valve: stuck, or from a panel with a dead solenoid or too little air."""
        stuck = machine.read(function.fault("valve_stuck")) > 0.0
        if command.from_ != "unit":
            dead = machine.read(function.fault("solenoid_dead")) > 0.0
            stuck = stuck or dead or machine.read("boxes.air") < AIR_NEEDED or machine.read("solenoids.live") < 0.5
            machine.put("air.puffs", machine.read("air.puffs") + 1.0)
        return stuck
