"""Pumps that charge the accumulators: motor-driven triplex pumps and air-driven pumps, with their pressure switches.

Each pump draws from the mixed-fluid tank through a suction valve and a strainer, and delivers past its own relief
valve (electric) and discharge check valve. An electric pump keeps its rate whatever the pressure, less slip past the
plungers, until its relief valve lifts; an air pump slows as it nears its stall pressure, air pressure times area ratio
(common practice). An air pump's switch is a valve in its air, with a bypass around it for running by hand.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from trainer.constants import ATMOSPHERE
from trainer.hydraulics.laws import checked_pump, opened_check, stalling_pump
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives, under
from trainer.plant.base import Component, choice, component_fault, reading, state_reading
from trainer.plant.handwork import PERIOD, RELIEF, SECOND, hand_valve, is_shut, lock, needs, service
from trainer.units import Coefficient, Current, Flow, Frequency, Number, Power, Pressure, Softness, Temperature, between

MODES = ("off", "auto", "manual")
SPIN_UP = 0.1
"""Share of full speed gained in a scan: a second to full speed. Invented."""
SLIP_SHARE = 0.04
"""Share of its rate that a good pump loses at SLIP_AT: 96 % of volume (common practice for plunger pumps)."""
SLIP_AT = 2.07e7
"""Pa (3,000 psi) at which the slip is stated."""
BACK_K = 2.0e-7
"""m3/(s sqrt(Pa)) back through a leaking discharge valve, 0.26 Cv. Invented."""
AIR_STROKE = 2.5e-4
"""m3 of fluid a stroke of an air pump. Invented; about a quarter of a litre."""
MAINS_VOLTS = 460.0
"""V between lines of a rig's low-voltage supply: common practice in American plants."""
POWER_FACTOR = 0.85
"""Of a three-phase motor at full load: common practice for 30 to 75 kW."""
MOTOR_EFFICIENCY = 0.92
"""Shaft power over electric power of a motor of 30 to 60 kW: the lower classes of IEC 60034-30 (from memory)."""
PUMP_EFFICIENCY = 0.90
"""Power in the fluid over shaft power of a plunger pump with its belt. Common practice: 0.85 to 0.95."""
WARMING = 900.0
"""s in which a motor's skin comes within a third of its end temperature: a quarter to half an hour (from memory)."""
FULL_RISE = 60.0
"""K of a motor's skin over the air at full load: the winding's is 80 by IEC 60034-1 class B (from memory)."""
WARM, HOT = 12.0, 40.0
"""K over the air from which a hand calls it warm, and too hot to stay on: 65 C by ISO 13732-1 (from memory)."""
ROOT_3 = 1.7320508075688772
"""Square root of 3: line to phase voltage."""

COMMON_FAULTS = (
    (
        "switch_stuck_open",
        "pressure switch does not start it",
        "Run the pump in manual and watch the pressure; replace the switch.",
    ),
    (
        "switch_stuck_shut",
        "pressure switch does not stop it",
        "Stop the pump by its selector; the relief valve is carrying it. Replace the switch.",
    ),
    ("worn", "worn, delivers less", "Time the recharge with each pump alone; overhaul the weak one."),
    (
        "strainer_blocked",
        "suction strainer blocked",
        "Stop the pump, shut the suction valve, clean the strainer.",
    ),
    (
        "check_leaks",
        "discharge check valve leaks back",
        "Pressure falls with the pump stopped and no flow count: shut the suction valve to confirm it; "
        "replace the check valve.",
    ),
)
ELECTRIC_FAULTS = (
    (
        "drive_broken",
        "belt or chain broken",
        "The motor runs light and nothing is delivered: stop it, isolate the power, repair the drive.",
    ),
    (
        "relief_early",
        "relief valve lifts early",
        "The pump runs and the pressure does not rise: reset or replace the relief valve.",
    ),
    ("starter_dead", "motor starter does not pull in", "Check breaker and overload; use the other pumps."),
)
AIR_FAULTS = (
    ("drive_broken", "air motor stuck", "Air is on and nothing strokes: shut its air, free or replace the motor."),
    ("lubricator_dry", "filter-lubricator dry, the pump drags", "Shut the air, fill the lubricator, drain the filter."),
    ("air_blocked", "air filter blocked", "Compare its air gauge with rig air; shut the air and clean the filter."),
)


class Pump(Component):
    """One charging pump. ``rate`` is at no load; pressures are gauge at the accumulator header."""

    drive: Literal["electric", "air"]
    rate: Annotated[Flow, between("0.2 gpm", "200 gpm")]
    start_pressure: Annotated[Pressure, between("200 psi", "9000 psi")]
    stop_pressure: Annotated[Pressure, between("300 psi", "10000 psi")]
    relief_pressure: Annotated[Pressure, between("300 psi", "12000 psi")] = Field(default=2.4e7)
    area_ratio: float = Field(default=0.0, ge=0.0, le=200.0)
    motor_power: Annotated[Power, between("0 kW", "500 kW")] = 0.0
    bus: Literal["main", "emergency", "both"] = "main"
    """Which bus drives an electric pump; both: a transfer switch takes the one that is there."""

    @property
    def card(self) -> str:
        """The entry of ``assets/text`` that describes it: that of a motor-driven triplex or of an air-driven pump."""
        return "air_pump" if self.drive == "air" else "triplex_pump"

    @property
    def fittings(self) -> tuple[tuple[str, str, str], ...]:
        """What belongs to it and has a card of its own: the end of its name, its card, and what it is in words."""
        return (
            ("_strainer", "suction_strainer", "suction strainer"),
            ("_check", "discharge_check", "discharge check valve"),
            (".suction", "suction_valve", "suction valve"),
        )

    def build(self, net: Network) -> None:
        """Add the pump between ``tank`` and ``supply``; valves, switch, mode, speed, readings and faults."""
        i = self.id
        net.var(f"{i}.switch", 0.0)
        net.var(f"{i}.speed", 0.0)
        # At rest its delivery and its instruments are passed over.
        net.group(i, awake=0.0)
        state_reading(net, f"{i}.mode", MODES, f"{self.name}: selector.", ("unit",), 1.0)
        state_reading(net, f"{i}.running", ("no", "yes"), f"{self.name} is running.", ("unit", "driller"))
        reading(net, f"{i}.flow", "gpm", 0, 40, f"{self.name}: delivery.", ())
        modes = f"{self.name}: off, automatic by pressure switch, or manual."
        choice(net, f"{i}.mode", MODES, modes, ("unit",), guard=lock(net, f"{i}.mode", f"{self.name}, selector"))
        hand_valve(net, f"{i}.suction", f"{self.name}: suction shut-off valve.", locks=f"{self.name}, suction valve")
        self._faults(net)
        service(
            net,
            f"{i}.clean_strainer",
            f"{self.name}: clean the suction strainer.",
            (f"{i}.strainer_blocked",),
            guard=needs(
                ((f"{i}.suction", is_shut), (f"{i}.running", is_shut)),
                f"Stop {self.name.lower()} and shut its suction valve before opening the strainer.",
            ),
        )
        net.block(
            pressure_switch,
            inputs=dict(
                p="accumulator.true",
                start=self.start_pressure,
                stop=self.stop_pressure,
                stuck_off=f"fault.{i}.switch_stuck_open",
                stuck_on=f"fault.{i}.switch_stuck_shut",
            ),
            states=dict(on=f"{i}.switch"),
        )
        if self.drive == "air":
            self._air(net)
        else:
            self._electric(net)
        net.edge(
            f"{i}.back",
            "supply",
            "tank",
            leaking_back,
            dict(k=BACK_K, severity=f"fault.{i}.check_leaks", speed=f"{i}.speed", suction=f"{i}.suction"),
            fault=f"{i}.check_leaks",
        )

    def _faults(self, net: Network) -> None:
        i, air = self.id, self.drive == "air"
        effort = f"{i}.strokes" if air else f"{i}.amps"
        shows = (f"{i}.running", effort, "accumulator.pressure")
        own = {"air_blocked": (f"{i}.air_pressure", effort, "accumulator.pressure")}
        for kind, title, remedy in COMMON_FAULTS + (AIR_FAULTS if air else ELECTRIC_FAULTS):
            component_fault(net, i, kind, f"{self.name}: {title}", own.get(kind, shows), remedy)

    def _electric(self, net: Network) -> None:
        i = self.id
        full = self.motor_power / (MOTOR_EFFICIENCY * ROOT_3 * MAINS_VOLTS * POWER_FACTOR)
        per_load = self.rate / (PUMP_EFFICIENCY * max(self.motor_power, 1.0))
        seen = f"{self.name}: its relief valve, as seen and heard at it."
        state_reading(net, f"{i}.relief_passing", RELIEF, seen, ("unit",))
        reading(net, f"{i}.amps", "A", 0, 200, f"{self.name}: motor current, at its starter.", ("unit",))
        touch = f"{self.name}: its motor to the touch, with the back of the hand."
        state_reading(net, f"{i}.motor", ("cool", "warm", "hot"), touch, ("unit",))
        net.var(f"{i}.heat", 0.0, "K")
        net.block(
            motor_warms,
            inputs=dict(amps=f"{i}.amps", full=full),
            states=dict(heat=f"{i}.heat"),
            outputs=dict(felt=f"{i}.motor"),
            gate=SECOND,
        )
        net.block(
            motor_drive,
            inputs=dict(
                mode=f"{i}.mode",
                switch=f"{i}.switch",
                power=self._fed(net),
                broken=f"fault.{i}.drive_broken",
                dead=f"fault.{i}.starter_dead",
            ),
            states=dict(speed=f"{i}.speed"),
            outputs=under(i, "running", "awake"),
        )
        flow = net.edge(
            f"{i}.delivery",
            "tank",
            "supply",
            motor_delivery,
            dict(
                rate=self.rate,
                speed=f"{i}.speed",
                wet="tank.wet",
                suction=f"{i}.suction",
                worn=f"fault.{i}.worn",
                strainer=f"fault.{i}.strainer_blocked",
                opens=self.relief_pressure,
                early=f"fault.{i}.relief_early",
            ),
            group=i,
        )
        net.block(
            motor_seen,
            inputs=dict(
                **under(i, "running", "speed", "suction"),
                q=flow,
                p="supply.p",
                full=full,
                per_load=per_load,
                strainer=f"fault.{i}.strainer_blocked",
                early=f"fault.{i}.relief_early",
                worn=f"fault.{i}.worn",
                opens=self.relief_pressure,
            ),
            outputs=under(i, "flow", "amps", "relief_passing"),
            rate="observe",
            gate=f"{i}.awake",
        )

    def _fed(self, net: Network) -> str:
        """The variable that is 1 while a bus drives its motor."""
        if self.bus == "main":
            return "power.ac"
        if self.bus == "emergency":
            return "power.emergency"
        fed = net.var(f"{self.id}.fed", 1.0)
        net.block(either_bus, inputs=dict(main="power.ac", emergency="power.emergency"), outputs=dict(fed=fed))
        return fed

    def _air(self, net: Network) -> None:
        i = self.id
        hand_valve(net, f"{i}.air", f"{self.name}: air shut-off valve.")
        hand_valve(net, f"{i}.bypass", f"{self.name}: bypass around its pressure switch.", 0.0)
        reading(net, f"{i}.air_pressure", "psi", 0, 200, f"{self.name}: its air gauge.", ("unit",), (90, 130))
        reading(net, f"{i}.strokes", "1/min", 0, 200, f"{self.name}: strokes.", ("unit",))
        service(
            net,
            f"{i}.service_air",
            f"{self.name}: clean its air filter and fill its lubricator.",
            (f"{i}.lubricator_dry", f"{i}.air_blocked"),
            guard=needs(((f"{i}.air", is_shut),), f"Shut the air of {self.name.lower()} first."),
        )
        net.var(f"{i}.stall", 0.0, "Pa")
        net.block(
            pump_air,
            inputs=dict(supply="air.p", valve=f"{i}.air", blocked=f"fault.{i}.air_blocked", ratio=self.area_ratio),
            outputs=under(i, "air_pressure", "stall"),
            gate=SECOND,
        )
        net.block(
            air_drive,
            inputs=dict(
                **under(i, "mode", "switch", "bypass"),
                air=f"{i}.air_pressure",
                broken=f"fault.{i}.drive_broken",
                dry=f"fault.{i}.lubricator_dry",
                blocked=f"fault.{i}.air_blocked",
            ),
            states=dict(speed=f"{i}.speed"),
            outputs=under(i, "running", "awake"),
        )
        flow = net.edge(
            f"{i}.delivery",
            "tank",
            "supply",
            air_delivery,
            dict(
                **under(i, "speed", "stall", "suction"),
                rate=self.rate,
                wet="tank.wet",
                worn=f"fault.{i}.worn",
                strainer=f"fault.{i}.strainer_blocked",
            ),
            group=i,
        )
        net.block(
            air_seen,
            inputs=dict(
                q=flow,
                speed=f"{i}.speed",
                stall=f"{i}.stall",
                p="supply.p",
                rate=self.rate / AIR_STROKE,
                worn=f"fault.{i}.worn",
                strainer=f"fault.{i}.strainer_blocked",
            ),
            outputs=under(i, "flow", "strokes"),
            rate="observe",
            gate=f"{i}.awake",
        )


@gives("on")
def pressure_switch(
    p: Pressure, on: Number, start: Pressure, stop: Pressure, stuck_off: Number, stuck_on: Number
) -> Number:
    """Automatic start and stop with hysteresis: on below ``start``, off above ``stop`` (gauge Pa)."""
    wants = 1.0 if p < start else (0.0 if p > stop else on)
    return 0.0 if stuck_off > 0.0 else (1.0 if stuck_on > 0.0 else wants)


@gives("fed")
def either_bus(main: Number, emergency: Number) -> Number:
    """1 while the main or the emergency bus is there, for a motor behind a transfer switch; 0 with neither."""
    return max(main, emergency)


@gives("running", "speed", "awake")
def motor_drive(
    mode: Number, switch: Number, power: Number, speed: Number, broken: Number, dead: Number
) -> tuple[Number, Number, Number]:
    """Running (0 or 1), plunger speed (share of rated) after a scan, by selector, switch and power, and 1 if awake."""
    runs = 1.0 if power > 0.5 and (mode > 1.5 or (mode > 0.5 and switch > 0.5)) and dead <= 0.0 else 0.0
    turning = runs if broken <= 0.0 else 0.0
    awake = 1.0 if runs > 0.5 or speed > 0.0 else 0.0
    return runs, speed + min(max(turning - speed, -SPIN_UP), SPIN_UP), awake


@gives("running", "speed", "awake")
def air_drive(
    mode: Number,
    switch: Number,
    bypass: Number,
    air: Pressure,
    speed: Number,
    broken: Number,
    dry: Number,
    blocked: Number,
) -> tuple[Number, Number, Number]:
    """Running (air is on the motor) and speed of an air pump after a scan, and 1 if awake; below 40 psi it stands."""
    asked = mode > 1.5 or (mode > 0.5 and (switch > 0.5 or bypass > 0.5))
    runs = 1.0 if asked and air > 2.76e5 else 0.0
    turning = (runs if broken <= 0.0 else 0.0) * (1.0 - 0.8 * dry) * (1.0 - 0.9 * blocked)
    awake = 1.0 if runs > 0.5 or speed > 0.0 else 0.0
    return runs, speed + min(max(turning - speed, -SPIN_UP), SPIN_UP), awake


@gives("air_pressure", "stall")
def pump_air(supply: Pressure, valve: Number, blocked: Number, ratio: Number) -> tuple[Pressure, Pressure]:
    """Air pressure at an air pump (Pa gauge) and the fluid pressure at which it stops, air times area ratio."""
    air = supply * valve * (1.0 - 0.5 * blocked)
    return air, air * ratio


def motor_delivery(
    pu: Pressure,
    pd: Pressure,
    rate: Flow,
    speed: Number,
    wet: Number,
    suction: Number,
    worn: Number,
    strainer: Number,
    opens: Pressure,
    early: Number,
) -> tuple[float, float, float]:
    """Triplex delivery: rated flow less slip, its own relief valve taking all of it by 7 % above its set pressure."""
    load = pd - pu
    lifts = opens * (1.0 - 0.4 * early)
    held = 1.0 - min(max((load - lifts) / (0.07 * opens), 0.0), 1.0)
    driven = rate * speed * suction * held * (1.0 - 0.9 * strainer) * (1.0 - 0.4 * worn)
    slip = speed * rate * (SLIP_SHARE + 0.4 * worn) / SLIP_AT
    q, gu, gd = checked_pump(pu, pd, driven, slip, wet)
    return q, gu, gd


def air_delivery(
    pu: Pressure,
    pd: Pressure,
    rate: Flow,
    speed: Number,
    stall: Pressure,
    wet: Number,
    suction: Number,
    worn: Number,
    strainer: Number,
) -> tuple[float, float, float]:
    """Air pump delivery: falls in a straight line to nothing at the stall pressure."""
    driven = rate * speed * suction * (1.0 - 0.9 * strainer) * (1.0 - 0.6 * worn)
    q, gu, gd = stalling_pump(pu, pd, driven, stall, wet)
    return q, gu, gd


def leaking_back(
    pu: Pressure, pd: Pressure, k: Coefficient, severity: Number, speed: Number, suction: Number
) -> tuple[float, float, float]:
    """Back through a leaking discharge check while the pump stands; a shut suction valve stops it."""
    q, gu, gd = opened_check(pu, pd, k * severity, (1.0 - min(speed, 1.0)) * suction, 0.0)
    return q, gu, gd


@gives("flow", "amps", "relief_passing")
def motor_seen(
    q: Flow,
    running: Number,
    speed: Number,
    p: Pressure,
    full: Current,
    per_load: Softness,
    suction: Number,
    strainer: Number,
    early: Number,
    worn: Number,
    opens: Pressure,
) -> tuple[Flow, Current, Number]:
    """Delivery (m3/s) and motor current (A): a third of ``full`` load with nothing to push, full at the rated power.

    ``per_load`` is the share of the rated power that a pascal takes. Last whether its relief valve, set to ``opens``
    (Pa gauge), passes: 1 while the pump turns against more than that.
    """
    lifted = p * (1.0 - 0.4 * early)
    work = speed * lifted * per_load * suction * (1.0 - 0.9 * strainer) * (1.0 - 0.3 * worn)
    lifts = 1.0 if speed * suction > 0.0 and p - ATMOSPHERE > opens * (1.0 - 0.4 * early) else 0.0
    return max(q, 0.0), running * full * (0.3 + 0.7 * min(work, 1.3)), lifts


@gives("heat", "felt")
def motor_warms(heat: Temperature, amps: Current, full: Current) -> tuple[Temperature, Number]:
    """How much warmer than the air a motor's skin is after a second (K), and 0 cool, 1 warm, 2 hot to the hand."""
    load = amps / full if full > 0.0 else 0.0
    now = heat + (FULL_RISE * load * load - heat) * (PERIOD / WARMING)
    return now, (2.0 if now > HOT else (1.0 if now > WARM else 0.0))


@gives("flow", "strokes")
def air_seen(
    q: Flow, speed: Number, stall: Pressure, p: Pressure, rate: Frequency, worn: Number, strainer: Number
) -> tuple[Flow, Frequency]:
    """Delivery (m3/s) and strokes (1/s): a worn or starved pump strokes on with little to show for it."""
    room = max(1.0 - p / max(stall, 1.0), 0.0)
    idle = 1.0 + 0.5 * worn + 0.5 * strainer
    return max(q, 0.0), rate * speed * room * idle
