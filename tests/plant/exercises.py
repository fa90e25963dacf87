"""Short exercises that bring a fault to light: what a crew does, by the kind of component and fault."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from trainer.hydraulics.catalogue import Fault
from trainer.hydraulics.machine import Machine

MAIN_BANKS = ("bank_a", "bank_b")


@dataclass(frozen=True)
class Order:
    """A command as the plant takes it, at ``t`` seconds."""

    t: float
    do: str
    target: str
    value: Any = None
    from_: str = "unit"
    may_be_refused: bool = False


Exercise = tuple[Order, ...]


def pumps(machine: Machine) -> list[str]:
    """Ids of the charging pumps."""
    return [tag.removesuffix(".suction") for tag in machine.signals if tag.endswith(".suction")]


def draw_down(machine: Machine, pump: str = "", until: float = 30.0) -> Exercise:
    """The banks bled for a while with every pump off but ``pump`` (or all of them in automatic), then recharged."""
    off = [Order(0.0, "set", f"{p}.mode", "off") for p in pumps(machine) if pump and p != pump]
    bleed = [Order(1.0, "set", f"{bank}.bleed", "open") for bank in MAIN_BANKS]
    return (*off, *bleed, *(Order(until, "set", f"{bank}.bleed", "shut") for bank in MAIN_BANKS))


def stroke(machine: Machine, function: str, first: Exercise = (), at: float = 1.0) -> Exercise:
    """The function worked there and back from the driller's panel, after what comes ``first``."""
    there, back = ("open", "close") if machine.read(f"{function}.valve") > 1.5 else ("close", "open")
    return (
        *first,
        Order(at - 0.5, "push", "driller.enable", None, "driller"),
        Order(at, "set", function, there, "driller"),
        Order(36.5, "push", "driller.enable", None, "driller"),
        Order(37.0, "set", function, back, "driller"),
        Order(76.0, "push", "driller.lamp_test", None, "driller"),
    )


def adjust(regulator: str) -> Exercise:
    """Lowered, then raised again from the driller's panel."""
    return (Order(1.0, "lower", regulator, 6.0, "driller"), Order(20.0, "raise", regulator, 4.0, "driller"))


def by_filter(machine: Machine, name: str) -> Exercise:
    """The filter alone in use while pumps run; the pilot filter while functions are shifted."""
    if name.startswith("pilot"):
        rams = [f.removesuffix(".valve") for f in machine.signals if f.endswith("pipe_ram.valve")]
        return tuple(Order(1.0, "set", ram, "close", "unit") for ram in rams)
    others = [tag.removesuffix(".dp") for tag in machine.signals if tag.endswith(".dp") and not tag.startswith("pilot")]
    swap = [Order(0.0, "set", f"{f}.isolation", "open" if f == name else "shut") for f in others]
    return (*swap, *draw_down(machine))


def by_function(machine: Machine, fault: Fault) -> Exercise:
    """A function worked in the way that this fault of it asks for."""
    part, kind = fault.component, fault.kind
    if kind.endswith("_blue"):
        return stroke(machine, part, (BLUE,))
    if part == "diverter_packer":
        return stroke(machine, part, (Order(0.0, "set", "port_overboard", "open"),), 12.0)
    if kind == "spring_broken":
        # Opened, left to its spring, and opened again: only a valve that had closed takes fluid a second time.
        return tuple(Order(t, "set", part, way) for t, way in ((1.0, "open"), (15.0, "block"), (30.0, "open")))
    if part == "blind_shear_ram" and kind == "seal_worn":
        kill = tuple(Order(0.0, "set", f"lower_{side}_kill", "open") for side in ("inner", "outer"))
        return (*kill, *(o for o in stroke(machine, part, (HARD,), 30.0) if o.t < 32.0))
    if part == "blind_shear_ram" and kind == "blunt":
        return stroke(machine, part, (HARD,), 30.0)
    if kind == "slips":
        return stroke(machine, part, (Order(0.0, "set", "upper_pipe_ram", "close"),), 20.0)
    return stroke(machine, part)


BLUE = Order(0.0, "set", "pod_selector", "blue", "driller")
HARD = Order(0.0, "raise", "manifold_regulator", 12.0, "driller")
MIX = (Order(1.0, "set", "mixing.mode", "manual"), Order(0.0, "set", "glycol_pump.rate", 100))


def drained(level: float) -> Exercise:
    """The drain valve opened for twenty-nine seconds with the tank standing at ``level``, just above a float."""
    drain = (Order(1.0, "set", "tank.drain", "open"), Order(30.0, "set", "tank.drain", "shut"))
    return (Order(0.0, "stand", "tank", level), *drain)


ON_BATTERY = (Order(1.0, "set", "power.charger", "off"),)
SHUT_IN = (
    Order(1.0, "set", "floor.mud_pumps", 0, "floor"),
    Order(5.0, "set", "upper_annular", "close", "driller"),
    Order(6.0, "set", "upper_inner_choke", "open", "driller"),
    Order(6.0, "set", "upper_outer_choke", "open", "driller"),
)
OPEN_CHOKE = (Order(45.0, "set", "floor.choke", 40, "floor"), Order(46.0, "set", "floor.mud_pumps", 30, "floor"))
SPECIAL: dict[str, Exercise] = {
    "tank.float_stuck": drained(0.42),
    "mixing.float_stuck_up": drained(0.77),
    "battery.weak_cell": ON_BATTERY,
    "battery.open_circuit": ON_BATTERY,
    "alarms.horn_dead": (Order(1.0, "set", "power.main", "off"),),
    "pod_selector.stuck": (Order(1.0, "set", "pod_selector", "blue", "driller"),),
    "pod_blue.supply_leak": (Order(1.0, "set", "pod_selector", "blue", "driller"),),
    "boxes.frozen": adjust("manifold_regulator"),
    "boxes.filter_blocked": adjust("manifold_regulator"),
    "pod_blue.filter_blocked": (BLUE, Order(5.0, "set", "middle_pipe_ram", "close")),
    "pod_yellow.filter_blocked": (Order(5.0, "set", "middle_pipe_ram", "close"),),
    "diverter.interlock_defeated": (Order(1.0, "set", "diverter_packer", "close", may_be_refused=True),),
    "eds.stalls": (
        Order(1.0, "push", "driller.enable", None, "driller"),
        Order(1.5, "push", "eds.arm", None, "driller"),
        Order(2.0, "push", "eds.start", None, "driller"),
    ),
    "floor.choke_plugged": (*SHUT_IN, *OPEN_CHOKE),
    "floor.choke_washed_out": (*SHUT_IN, Order(46.0, "set", "floor.mud_pumps", 20, "floor")),
    "well.casing_gauge_drift": SHUT_IN,
    "well.drillpipe_gauge_drift": SHUT_IN,
    "well.flow_sensor_stuck": SHUT_IN,
    "well.pit_float_stuck": (Order(1.0, "set", "trip_tank.line_up", "on", "floor"),),
    "well.balled_bit": (Order(0.0, "start", "tripping"), Order(1.0, "set", "floor.trip", "out", "floor")),
    "floor.safety_valve_stuck": (Order(1.0, "set", "floor.safety_valve", "shut", "floor"),),
}


def exercise(machine: Machine, fault: Fault) -> Exercise:
    """What a crew does that brings ``fault`` to light; at rest when the instruments alone show it."""
    part = fault.component
    found: Exercise = ()
    if fault.id in SPECIAL:
        found = SPECIAL[fault.id]
    elif part in pumps(machine):
        found = draw_down(machine, part)
    elif f"{part}.lamp_open" in machine.signals:
        found = by_function(machine, fault)
    elif part == "pod_blue" and fault.kind.endswith("_creeps"):
        found = (BLUE,)
    elif f"{part}.authority" in machine.signals and fault.kind != "drift":
        found = adjust(part)
    elif part == "stack_bottles":
        found = stroke(machine, "upper_annular")
    elif part == "totaliser":
        found = stroke(machine, "upper_pipe_ram")
    elif fault.kind == "blocked":
        found = by_filter(machine, part)
    elif part == "pilot_check":
        found = tuple(o for o in draw_down(machine, "none") if o.t < 2.0)
    elif part in ("water", "concentrate_pump", "glycol_pump"):
        found = MIX
    return tuple(sorted(found, key=lambda o: o.t))
