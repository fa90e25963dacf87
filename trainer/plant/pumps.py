"""Pumps that charge the accumulators: motor-driven triplex pumps and air-driven pumps, with their pressure switches.

Each pump is a positive-displacement element behind its own discharge check valve, drawing from the mixed-fluid tank.
An electric pump keeps its rate whatever the pressure, less slip past the plungers, until its own relief valve lifts;
an air pump slows as it nears its stall pressure, air pressure times area ratio (common practice).
"""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from trainer.hydraulics.laws import checked_pump, stalling_pump
from trainer.hydraulics.network import Network
from trainer.plant.base import Component, choice, component_fault, reading, state_reading
from trainer.units import Flow, Power, Pressure

MODES = ("off", "auto", "manual")
SPIN_UP = 0.1
SLIP_SHARE = 0.04
SLIP_AT = 2.07e7


class Pump(Component):
    """One charging pump. ``rate`` is at no load; pressures are gauge at the accumulator header."""

    drive: Literal["electric", "air"]
    rate: Flow
    start_pressure: Pressure
    stop_pressure: Pressure
    relief_pressure: Pressure = Field(default=2.4e7)
    area_ratio: float = Field(default=0.0, ge=0.0, le=200.0)
    motor_power: Power = 0.0
    lead: bool = False

    def build(self, net: Network) -> None:
        """Add the pump between ``tank`` and ``supply``; switch, mode, speed and readings."""
        i, air = self.id, self.drive == "air"
        net.var(f"{i}.switch", 0.0)
        net.var(f"{i}.speed", 0.0)
        state_reading(net, f"{i}.mode", MODES, f"{self.name}: selector.", ("unit",), 1.0)
        state_reading(net, f"{i}.running", ("no", "yes"), f"{self.name} is running.", ("unit", "driller"))
        reading(net, f"{i}.flow", "gpm", 0, 40, f"{self.name}: delivery.", ())
        choice(net, f"{i}.mode", MODES, f"{self.name}: off, automatic by pressure switch, or manual.", ("unit",))
        shows = (f"{i}.running", "accumulator.pressure")
        stuck_off = component_fault(
            net,
            i,
            "switch_stuck_open",
            f"{self.name}: pressure switch does not start it",
            shows,
            "Run the pump in manual and watch the pressure; replace the switch.",
        )
        stuck_on = component_fault(
            net,
            i,
            "switch_stuck_shut",
            f"{self.name}: pressure switch does not stop it",
            shows,
            "Stop the pump by its selector; the relief valve is carrying it. Replace the switch.",
        )
        worn = component_fault(
            net,
            i,
            "worn",
            f"{self.name}: worn, delivers less",
            (f"{i}.running", "accumulator.pressure", f"{i}.flow"),
            "Time the recharge with each pump alone; overhaul the weak one.",
        )
        broken = component_fault(
            net,
            i,
            "drive_broken",
            f"{self.name}: {'air motor stuck' if air else 'belt or chain broken'}",
            (f"{i}.running", "accumulator.pressure", f"{i}.flow"),
            "Runs without delivering: stop it, isolate power, repair the drive.",
        )
        strainer = component_fault(
            net,
            i,
            "strainer_blocked",
            f"{self.name}: suction strainer blocked",
            (f"{i}.running", "accumulator.pressure", f"{i}.flow"),
            "Shut the suction valve, clean the strainer.",
        )
        net.block(
            pressure_switch,
            ["accumulator.true", f"{i}.switch", self.start_pressure, self.stop_pressure, stuck_off, stuck_on],
            [f"{i}.switch"],
        )
        power = "air.working" if air else "power.ac"
        net.block(
            pump_drive,
            [f"{i}.mode", f"{i}.switch", power, f"{i}.speed", SPIN_UP / (0.3 if air else 1.0), broken],
            [f"{i}.running", f"{i}.speed"],
        )
        if air:
            net.var(f"{i}.stall")
            net.block(stall_pressure, ["air.p", self.area_ratio], [f"{i}.stall"])
            flow = net.edge(
                f"{i}.delivery",
                "tank",
                "supply",
                air_delivery,
                self.rate,
                f"{i}.speed",
                f"{i}.stall",
                "tank.wet",
                worn,
                strainer,
            )
        else:
            flow = net.edge(
                f"{i}.delivery",
                "tank",
                "supply",
                motor_delivery,
                self.rate,
                f"{i}.speed",
                "tank.wet",
                worn,
                strainer,
                self.relief_pressure,
            )
        net.block(pump_flow, [flow], [f"{i}.flow"], rate="observe")


def pressure_switch(p: float, on: float, start: float, stop: float, stuck_off: float, stuck_on: float) -> float:
    """Automatic start and stop with hysteresis: on below ``start``, off above ``stop`` (gauge Pa)."""
    wants = 1.0 if p < start else (0.0 if p > stop else on)
    return 0.0 if stuck_off > 0.0 else (1.0 if stuck_on > 0.0 else wants)


def pump_drive(
    mode: float, switch: float, power: float, speed: float, spin: float, broken: float
) -> tuple[float, float]:
    """Running (0 or 1) and plunger speed (share of rated) after a scan, by selector, switch and power."""
    runs = 1.0 if power > 0.5 and (mode > 1.5 or (mode > 0.5 and switch > 0.5)) else 0.0
    turning = runs if broken < 0.5 else 0.0
    step = min(max(turning - speed, -spin), spin)
    return runs, speed + step


def motor_delivery(
    pu: float, pd: float, rate: float, speed: float, wet: float, worn: float, strainer: float, opens: float
) -> tuple[float, float, float]:
    """Triplex delivery: rated flow less slip, its own relief valve taking all of it by 7 % above its set pressure."""
    load = pd - pu
    held = 1.0 - min(max((load - opens) / (0.07 * opens), 0.0), 1.0)
    driven = rate * speed * held * (1.0 - 0.9 * strainer) * (1.0 - 0.4 * worn)
    slip = speed * rate * (SLIP_SHARE + 0.4 * worn) / SLIP_AT
    q, gu, gd = checked_pump(pu, pd, driven, slip, wet)
    return q, gu, gd


def air_delivery(
    pu: float, pd: float, rate: float, speed: float, stall: float, wet: float, worn: float, strainer: float
) -> tuple[float, float, float]:
    """Air pump delivery: falls in a straight line to nothing at the stall pressure."""
    driven = rate * speed * (1.0 - 0.9 * strainer) * (1.0 - 0.6 * worn)
    q, gu, gd = stalling_pump(pu, pd, driven, stall, wet)
    return q, gu, gd


def stall_pressure(air: float, ratio: float) -> float:
    """Pressure at which an air pump stops: air pressure times area ratio (common practice)."""
    return air * ratio


def pump_flow(q: float) -> float:
    """Delivery as read."""
    return max(q, 0.0)
