"""Rig air: a receiver kept up by the rig's compressors; feeds cylinders, air pumps and regulator pilots.

Receiver pressure as an ideal gas at constant temperature: dp/dt = p_atm (free air in - free air out) / volume.
Moisture comes with the air unless the dryer works, and lies in the junction boxes' separator until it is drained.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from trainer.constants import ATMOSPHERE, SCAN
from trainer.hydraulics.lists import added
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives, under
from trainer.plant.base import PSI, Part, component_fault, reading, same
from trainer.plant.handwork import hand_valve
from trainer.units import Flow, Number, Pressure, PressurePerFlow, Volume, between

PUFF = 0.004
"""m3 of free air for one shift of a control valve's cylinder. Invented; a small cylinder's volume at 8 bar."""
PUMP_AIR = 0.025
"""m3/s of free air of one air pump at full stroke, 53 ft3/min: common practice."""
WORKING = 40.0 * PSI
"""Pa above which the panels' valve cylinders shift: common practice for pilot air."""
LEAK = 0.12
"""m3/s of free air that a broken line loses at full pressure, 254 ft3/min. Invented: more than the supply holds."""


class Air(Part):
    """Rig air at the unit: what the rig's compressors hold and give. Pressures are gauge, in Pa; air is free air."""

    supply_pressure: Annotated[Pressure, between("40 psi", "250 psi")]
    low_alarm: Annotated[Pressure, between("20 psi", "200 psi")]
    receiver: Annotated[Volume, between("0.05 m3", "50 m3")] = 3.0
    compressor: float = Field(default=0.08, ge=0.005, le=2.0)
    """Free air that the rig's compressors give, m3/s."""
    emergency: float = Field(default=0.03, ge=0.0, le=2.0)
    """What one of them gives on emergency power in a blackout, m3/s of free air."""

    def build(self, net: Network, air_pumps: list[str]) -> None:
        """Add the receiver, its supply valve, its readings and its faults; the pumps named in ``air_pumps`` use it."""
        net.var("air.p", self.supply_pressure, "Pa")
        net.var("air.puffs", 0.0)
        net.var("air.pumps", 0.0, "m3/s")
        net.var("air.working", 1.0)
        hand_valve(net, "air.supply", "Rig air supply valve.", locks="Rig air supply valve")
        meaning, where = "Rig air at the unit.", ("unit", "driller")
        reading(net, "air.pressure", "psi", 0, 200, meaning, where, (90, 130), self.supply_pressure)
        for kind, title, remedy in (
            ("lost", "Rig air lost", "Operate the levers by hand; use the electric pumps; find the loss."),
            (
                "leak",
                "Rig air leaks at the unit",
                "Hear it; shut branches one by one until the pressure comes back; use air sparingly.",
            ),
        ):
            component_fault(net, "air", kind, title, ("air.pressure", "alarm.low_air"), remedy)
        component_fault(
            net,
            "air",
            "dryer_failed",
            "Rig air dryer failed: wet air",
            ("boxes.moisture",),
            "Drain the separator often; by frost, before every drill; repair the dryer.",
        )
        speeds = [f"{pump}.speed" for pump in air_pumps]
        net.block(air_taken, inputs=dict(speeds=speeds), outputs=dict(pumps="air.pumps"))
        net.block(
            receiver,
            inputs=dict(
                full=self.supply_pressure,
                valve="air.supply",
                pumps="air.pumps",
                compressors=self.compressor,
                emergency=self.emergency,
                blackout="fault.power.ac_lost",
                rise=ATMOSPHERE * SCAN / self.receiver,
                lost="fault.air.lost",
                leak="fault.air.leak",
            ),
            states=under("air", "p", "puffs"),
            outputs=dict(working="air.working"),
        )
        net.block(same, inputs=dict(value="air.p"), outputs=dict(copy="air.pressure"), rate="observe")


@gives("pumps")
def air_taken(speeds: list[Number]) -> Flow:
    """Free air that all air-driven pumps take, m3/s: so much for each at full speed (``PUMP_AIR``), by its share."""
    return PUMP_AIR * added(speeds)


@gives("p", "puffs", "working")
def receiver(
    p: Pressure,
    full: Pressure,
    valve: Number,
    puffs: Number,
    pumps: Flow,
    compressors: Flow,
    emergency: Flow,
    blackout: Number,
    rise: PressurePerFlow,
    lost: Number,
    leak: Number,
) -> tuple[Pressure, Number, Number]:
    """Receiver pressure (Pa gauge) after a scan, the cylinders' puffs spent, and whether air can do work.

    In a ``blackout`` the rig's ``compressors`` stand, and what runs on ``emergency`` power gives air.
    """
    most = emergency if blackout > 0.0 else compressors
    fed = most * valve * (1.0 - lost) * min(max((full - p) / 2.0e4, 0.0), 1.0)
    drawn = pumps * min(p / 1.0e5, 1.0) + (lost * 0.03 + leak * LEAK) * p / full
    after = max(p + rise * (fed - drawn) - puffs * PUFF * rise / 0.1, 0.0)
    return after, 0.0, (1.0 if after > WORKING else 0.0)
