"""Electrical supply: rig AC, charger, and the battery string that keeps the panels alive."""

from __future__ import annotations

from pydantic import Field

from trainer.hydraulics.network import SCAN, Network
from trainer.plant.base import Part, choice, component_fault, reading, state_reading
from trainer.units import Charge, Current

FLOAT_VOLTS = 13.6
FULL_VOLTS = 12.75
EMPTY_VOLTS = 10.5
CUT_OUT = 84.0


class Electrical(Part):
    """Battery string of 12 V lead-acid units in series, and the panels' load."""

    battery_units: int = Field(ge=1, le=40)
    battery_capacity: Charge
    panel_load: Current

    def build(self, net: Network) -> None:
        """Add AC, charger, battery and the panels' power."""
        n = float(self.battery_units)
        state_reading(net, "power.ac", ("off", "on"), "Rig AC present.", ("unit", "driller"), 1.0)
        choice(net, "power.main", ("off", "on"), "AC breaker of the control system.", ("unit",))
        net.var("power.main", 1.0)
        reading(net, "battery.volts", "V", 0, 160, "Battery string.", ("unit",), (126, 140), n * FLOAT_VOLTS)
        reading(net, "battery.amps", "A", -50, 50, "Battery current, out of the battery.", ("unit",))
        reading(net, "battery.charge", "%", 0, 100, "Charge left in the battery.", (), None, 1.0)
        state_reading(net, "panel.power", ("off", "on"), "The panels have power.", ("driller", "remote"), 1.0)
        lost = component_fault(
            net,
            "power",
            "ac_lost",
            "Rig AC lost",
            ("power.ac", "alarm.power_loss"),
            "The panels run on the battery: shed load, use the air pumps, watch the volts.",
        )
        charger = component_fault(
            net,
            "battery",
            "charger_failed",
            "Battery charger failed",
            ("battery.volts", "battery.amps"),
            "Restore or change the charger; test the battery.",
        )
        net.block(ac_present, ["power.main", lost], ["power.ac"])
        net.block(
            battery,
            ["battery.charge", "power.ac", charger, self.panel_load, SCAN / self.battery_capacity, n],
            ["battery.charge", "battery.volts", "battery.amps", "panel.power"],
        )


def ac_present(main: float, lost: float) -> float:
    """1 with the breaker in and the rig's supply up."""
    return 1.0 if main > 0.5 and lost <= 0.0 else 0.0


def battery(
    charge: float, ac: float, charger: float, load: float, per_amp: float, units: float
) -> tuple[float, float, float, float]:
    """Charge left (share), string volts, current out (A) and whether the panels have power, after a scan."""
    charging = ac > 0.5 and charger <= 0.0
    amps = (-2.0 if charge < 1.0 else 0.0) if charging else load
    left = min(max(charge - amps * per_amp, 0.0), 1.0)
    resting = EMPTY_VOLTS + (FULL_VOLTS - EMPTY_VOLTS) * left
    volts = units * (FLOAT_VOLTS if charging else resting - 0.02 * amps)
    return left, volts, amps, (1.0 if charging or (volts > CUT_OUT and left > 0.0) else 0.0)
