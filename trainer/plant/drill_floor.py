"""The drill floor: hoist, rotation, mud pumps, top drive, safety valve, choke setting, and where the pipe is.

The hook is the height of the string's uppermost tool joint above the rotary table, so bit depth = string length -
hook. Everything a person sets moves towards its setting at the pace of the real thing. Tripping is done by the crew,
stand by stand, once it is ordered; the hoist can be worked by hand between. With the safety valve shut on the string it
is stripped in: the crew puts each stand on under a valve and fills it from the trip tank.

Left out: weight of the string beyond buoyed weight (for its stretch see ``hang_off``), torque, heave, making up a
connection by hand.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from trainer.constants import GRAVITY, SCAN, STEEL
from trainer.hydraulics.catalogue import Operable, Order, Variables
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives, under
from trainer.hydraulics.refusal import Refusal
from trainer.plant import hang_off
from trainer.plant.base import (
    Part,
    amount,
    button,
    choice,
    component_fault,
    reading,
    state_reading,
    worked,
)
from trainer.plant.well import Site
from trainer.units import (
    Alike,
    Force,
    ForcePerLength,
    Frequency,
    Length,
    Number,
    Seconds,
    Velocity,
    between,
    edge_value,
    from_unit,
)

ON_BOTTOM = 0.02
"""m above the bottom within which the bit counts as on it, and the hook as in its place. Ours."""
FAR = 1000.0  # m: more than any hoist travels
FLOOR = ("floor", "driller")


class DrillFloor(Part):
    """Table [floor] of a plant file. Every key has a representative value, so the table may be left out."""

    stand_length: Annotated[Length, between("25 ft", "140 ft")] = from_unit(93.0, "ft")
    joints_in_stand: int = Field(default=3, ge=1, le=4)
    # Length of a tool joint, pin and box.
    tool_joint: Annotated[Length, between("8 in", "40 in")] = from_unit(20.0, "in")
    # What the compensator leaves of the heave, up or down: kept clear of tool joints on both sides.
    heave: Annotated[Length, between("0 ft", "10 ft")] = 0.0
    top_of_travel: Annotated[Length, between("30 ft", "200 ft")] = from_unit(98.0, "ft")
    hoist_speed: Annotated[Velocity, between("0.02 m/s", "2 m/s")] = 0.4
    trip_speed: Annotated[Velocity, between("0.05 m/s", "3 m/s")] = 0.8
    connection_time: Annotated[Seconds, between("5 s", "600 s")] = 45.0
    stab_time: Annotated[Seconds, between("2 s", "300 s")] = 12.0
    drilling_rate: Annotated[Velocity, between("1 ft/h", "1000 ft/h")] = from_unit(60.0, "ft/h")
    drilling_weight: Annotated[Force, between("0 klbf", "150 klbf")] = from_unit(25.0, "klbf")
    block_weight: Annotated[Force, between("5 klbf", "300 klbf")] = from_unit(60.0, "klbf")
    rotary: Annotated[Frequency, between("0 rpm", "300 rpm")] = from_unit(120.0, "rpm")
    rotary_ramp: Annotated[Frequency, between("1 rpm", "300 rpm")] = from_unit(30.0, "rpm")  # change in one second
    # change in one second
    pump_ramp: Annotated[Frequency, between("0.5 1/min", "120 1/min")] = from_unit(10.0, "1/min")
    choke_travel: Annotated[Seconds, between("1 s", "120 s")] = 12.0
    hook: Annotated[Length, between("0 ft", "200 ft")] = from_unit(45.0, "ft")

    def build(self, net: Network, site: Site) -> None:
        """Add the floor: its variables, readings, commands and faults. It must be built before the well."""
        self._readings(net, site)
        self._blocks(net, site)
        self._commands(net, site)

    @property
    def joint_length(self) -> float:
        """From one tool joint to the next, m: a stand's length shared out over its joints."""
        return self.stand_length / self.joints_in_stand

    def joint_at(self, ram: float, hook: float) -> float:
        """Index of the first tool joint above ``ram`` (m), the top one at the hook being 0."""
        return float(int((ram + hook) * self.joints_in_stand / self.stand_length))

    def _readings(self, net: Network, site: Site) -> None:
        well = site.well
        read = reading
        read(net, "floor.mud_pumps", "1/min", 0, 150, "Strokes of the mud pumps.", FLOOR, (0, 110), well.drilling_rate)
        read(net, "floor.rotary", "rpm", 0, 200, "Rotation of the top drive.", FLOOR, (0, 160), self.rotary)
        read(net, "floor.choke", "%", 0, 100, "Opening of the drilling choke.", FLOOR, (0, 100), 0.0)
        read(
            net, "floor.hook", "ft", 0, 110, "Height of the uppermost tool joint above the rotary table.", FLOOR,
            (0, 98), self.hook,
        )  # fmt: skip
        read(
            net, "floor.tool_joint", "ft", 0, 50, "Distance of the nearest tool joint above the upper pipe ram.", (),
            None, 0.0,
        )  # fmt: skip
        read(net, "floor.hook_load", "klbf", 0, 800, "Weight on the hook.", FLOOR, None, 0.0)
        read(net, "floor.bit_weight", "klbf", 0, 80, "Weight on the bit.", FLOOR, (0, 45), 0.0)
        read(net, "floor.rop", "ft/h", 0, 300, "Drilling rate.", FLOOR, (0, 200), self.drilling_rate)
        length = well.depth + self.hook
        read(net, "floor.string_length", "ft", 0, 40000, "Length of the string.", (), None, length)
        read(net, "well.bit_depth", "ft", 0, 40000, "Depth of the bit below the rotary table.", FLOOR, None, well.depth)
        read(
            net, "well.hole_depth", "ft", 0, 40000, "Depth of the hole below the rotary table.", FLOOR, None, well.depth
        )
        state_reading(
            net, "floor.pipe_in_stack", ("none", "pipe", "collars"), "What is across the preventers.", (), 1.0
        )
        state_reading(net, "floor.top_drive", ("off", "on"), "Top drive made up to the string.", FLOOR, 1.0)
        state_reading(net, "floor.stabbed", ("no", "yes"), "Safety valve stabbed on the string.", FLOOR, 0.0)
        state_reading(net, "floor.safety_valve", ("shut", "open"), "Safety valve on top of the string.", FLOOR, 1.0)
        state_reading(net, "floor.trip", ("stop", "out", "in"), "Tripping, as ordered.", FLOOR, 0.0)

    def _blocks(self, net: Network, site: Site) -> None:
        well = site.well
        sizes = site.well.sizes(site)
        for name, initial, unit in (
            ("floor.mud_pumps.set", well.drilling_rate, "1/s"),
            ("floor.rotary.set", self.rotary, "1/s"),
            ("floor.choke.set", 0.0, "1"),
            ("floor.hook.set", self.hook, "m"),
            ("floor.wait", 0.0, "s"),
            ("floor.stab_wait", 0.0, "s"),
            ("floor.velocity", 0.0, "m/s"),
            ("floor.joint_index", self.joint_at(sizes.ram, self.hook), "1"),
            ("floor.connected", 1.0, "1"),
            ("floor.vented", 0.0, "1"),
            ("floor.speed_of_trip", self.trip_speed, "m/s"),
        ):
            net.var(name, initial, unit)
        stuck = component_fault(
            net, "floor", "safety_valve_stuck", "Safety valve will not turn",
            ("floor.safety_valve", "well.drillpipe_pressure"),
            "Stab the second safety valve or the inside preventer; service the valve.",
        )  # fmt: skip
        for tag, ramp in (("floor.mud_pumps", self.pump_ramp), ("floor.rotary", self.rotary_ramp)):
            net.block(approach, inputs=dict(target=f"{tag}.set", step=ramp * SCAN), states=dict(value=tag))
        net.block(
            approach,
            inputs=dict(target="floor.choke.set", step=SCAN / self.choke_travel),
            states=dict(value="floor.choke"),
        )
        net.block(
            hoist,
            inputs=dict(
                hole_depth="well.hole_depth",
                stand=self.stand_length,
                top=self.top_of_travel,
                speed=self.hoist_speed,
                trip_speed="floor.speed_of_trip",
                connection=self.connection_time,
            ),
            states=dict(
                **under("floor", "hook", "trip", "wait"), hook_set="floor.hook.set", length="floor.string_length"
            ),
            outputs=dict(velocity="floor.velocity"),
        )
        pipe = (sizes.pipe - sizes.inside) * STEEL * GRAVITY
        collar = sizes.collar * 0.9 * STEEL * GRAVITY
        buoyancy = 1.0 - well.mud / STEEL
        stiff = hang_off.STEEL_MODULUS * (sizes.pipe - sizes.inside) / (sizes.stack + self.hook)
        hang_off.declare_hang_off(net)
        net.block(
            hang_off.weight_below,
            inputs=dict(
                bit="well.bit_depth",
                stack=sizes.stack,
                pipe=pipe,
                collar=collar,
                collar_length=sizes.collar_length,
                buoyancy=buoyancy,
            ),
            outputs=dict(weight_below="stack.weight_below"),
        )
        net.block(
            hang_off.hang,
            inputs=dict(
                velocity="floor.velocity",
                down="hang.down",
                up="hang.up",
                weight="stack.weight_below",
                stiff=stiff,
                sheared="bore.sheared",
                scan=SCAN,
            ),
            states=dict(hook="floor.hook", hook_set="floor.hook.set", slack="floor.slack"),
            outputs=dict(pipe_velocity="floor.pipe_velocity"),
        )
        net.block(
            hang_off.borne,
            inputs=dict(
                slack="floor.slack", stiff=stiff, weight="stack.weight_below", sheared="bore.sheared", down="hang.down"
            ),
            outputs=dict(hung="stack.hung"),
        )
        net.block(
            drill,
            inputs=dict(
                slack="floor.slack",
                length="floor.string_length",
                rotary="floor.rotary",
                strokes="floor.mud_pumps",
                rate=self.drilling_rate,
                weight=self.drilling_weight,
            ),
            states=dict(hook="floor.hook", hook_set="floor.hook.set", hole_depth="well.hole_depth"),
            outputs=dict(bit_depth="well.bit_depth", rop="floor.rop", bit_weight="floor.bit_weight"),
        )
        joint = self.joint_length
        net.block(
            pipe_place,
            inputs=dict(
                hook="floor.hook",
                slack="floor.slack",
                bit="well.bit_depth",
                sheared="bore.sheared",
                joint=joint,
                ram=sizes.ram,
                collar_length=sizes.collar_length,
            ),
            states=dict(index="floor.joint_index"),
            outputs=under("floor", "tool_joint", "pipe_in_stack", "across"),
        )
        net.block(
            hang_off.falls,
            inputs=dict(sheared="bore.sheared", down="hang.down", hole="well.hole_depth", bit="well.bit_depth"),
            states=dict(drop="fish.drop"),
        )
        net.block(
            string_top,
            inputs=dict(top_drive="floor.top_drive", valve="floor.safety_valve", stuck=stuck),
            states=dict(stabbed="floor.stabbed", wait="floor.stab_wait"),
            outputs=under("floor", "connected", "vented"),
        )
        net.block(
            hook_load,
            inputs=dict(
                length="floor.string_length",
                bit_weight="floor.bit_weight",
                sheared="bore.sheared",
                pipe=pipe,
                collar=collar,
                collar_length=sizes.collar_length,
                stack=sizes.stack,
                buoyancy=buoyancy,
                block=self.block_weight,
                slack="floor.slack",
                stiff=stiff,
                weight="stack.weight_below",
            ),
            outputs=dict(hook_load="floor.hook_load"),
            rate="observe",
        )

    def _commands(self, net: Network, site: Site) -> None:
        place = ("floor", "driller")
        amount(
            net, "floor.mud_pumps", 0, 120, "1/min", "Set the mud pumps' strokes.", place, "floor.mud_pumps.set",
            guard=pumps_guard,
        )  # fmt: skip
        amount(net, "floor.rotary", 0, 180, "rpm", "Set the rotation.", place, "floor.rotary.set", guard=rotary_guard)
        amount(net, "floor.choke", 0, 100, "%", "Set the drilling choke.", place, "floor.choke.set")
        amount(
            net, "floor.hook", -100, 100, "ft", "Hoist (+) or lower (-) the string.", place, "floor.hook.set",
            do="hoist", guard=hoist_guard, add=True,
        )  # fmt: skip
        _lever(net, place)
        _nudge(net, "floor.choke", 0.0, 100.0, "%", "the drilling choke", place)
        choice(
            net,
            "floor.safety_valve",
            ("shut", "open"),
            "Turn the safety valve on the string.",
            place,
            guard=valve_guard,
        )
        choice(
            net,
            "floor.top_drive",
            ("off", "on"),
            "Break out or make up the top drive.",
            place,
            guard=top_drive_guard,
            then=made_up,
        )
        choice(
            net,
            "floor.trip",
            ("stop", "out", "in"),
            "Order tripping out or in.",
            place,
            guard=trip_guard,
            then=trip_ordered,
        )

        def stab(machine: Variables) -> None:
            machine.put("floor.safety_valve", 1.0)
            machine.put("floor.stab_wait", self.stab_time)

        button(net, "floor.stab", "Stab the safety valve, open, on the string.", place, stab, guard=stab_guard)


def _lever(net: Network, place: tuple[str, ...]) -> None:
    """The hoist's lever: up and down run until stop, which leaves the hook where it is."""
    meaning = "Hoist's lever: run up or down until it is let go (stop)."
    operable = Operable("set", "floor.hoist", ("stop", "up", "down"), "state", place, meaning)

    def move(machine: Variables, command: Order) -> Refusal | None:
        if command.value != "stop" and (refusal := hoist_guard(machine, command)):
            return refusal
        # Beyond the travel on either side: the hoist itself stops at its ends.
        goal = {"up": FAR, "down": -FAR}.get(str(command.value), machine.read("floor.hook"))
        machine.put("floor.hook.set", goal)
        return None

    worked(net, operable, move)


def _nudge(net: Network, target: str, low: float, high: float, unit: str, what: str, place: tuple[str, ...]) -> None:
    """Raise and lower a setting by an amount, within its range (in ``unit``)."""
    where, bottom, top = f"{target}.set", from_unit(low, unit), from_unit(high, unit)
    for do, sign, word in (("raise", 1.0, "Open"), ("lower", -1.0, "Close")):
        operable = Operable(do, target, (0.1, high - low), unit, place, f"{word} {what} further by an amount.")

        def move(machine: Variables, command: Order, sign: float = sign) -> Refusal | None:
            value = machine.read(where) + sign * edge_value(command.value or 0.0, unit)
            machine.put(where, min(max(value, bottom), top))
            return None

        worked(net, operable, move)


@gives("value")
def approach(value: Alike, target: Alike, step: Alike) -> Alike:
    """The value after a scan in which it can change by ``step`` at most."""
    return min(max(target, value - step), value + step)


@gives("hook", "hook_set", "trip", "wait", "length", "velocity")
def hoist(
    hook: Length,
    hook_set: Length,
    trip: Number,
    wait: Seconds,
    length: Length,
    hole_depth: Length,
    stand: Length,
    top: Length,
    speed: Velocity,
    trip_speed: Velocity,
    connection: Seconds,
) -> tuple[Length, Length, Number, Seconds, Length, Velocity]:
    """Move the hook (m) towards where it is wanted, and change stands while tripping.

    ``trip`` 0 stop, 1 out, 2 in; ``wait`` s left of a stand change. Returns hook, wanted hook, trip, wait, string
    length (m) and upward speed (m/s). The bit never goes below the hole; the last stand stays in the hook.
    """
    left = max(wait - SCAN, 0.0)
    change = wait > 0.0 and left <= 0.0
    step = (-stand if trip == 1.0 else (stand if trip == 2.0 else 0.0)) if change else 0.0
    new_length = length + step
    shifted = hook + step
    lowest = max(new_length - hole_depth, 0.0)
    wanted = max(min(hook_set, top), lowest)
    goal = stand if trip == 1.0 else (max(lowest, 0.0) if trip == 2.0 else wanted)
    pace = SCAN * (trip_speed if trip > 0.0 else speed)
    moved = shifted if left > 0.0 else min(max(goal, shifted - pace), shifted + pace)
    arrived = trip > 0.0 and left <= 0.0 and abs(moved - goal) < 1.0e-9
    done = arrived and (new_length < 2.0 * stand if trip == 1.0 else lowest > 0.0)
    new_trip = 0.0 if done else trip
    new_wait = connection if arrived and not done else left
    return moved, (moved if trip > 0.0 else wanted), new_trip, new_wait, new_length, (moved - shifted) / SCAN


@gives("hook", "hook_set", "hole_depth", "bit_depth", "rop", "bit_weight")
def drill(
    hook: Length,
    hook_set: Length,
    slack: Length,
    length: Length,
    hole_depth: Length,
    rotary: Frequency,
    strokes: Frequency,
    rate: Velocity,
    weight: Force,
) -> tuple[Length, Length, Length, Length, Velocity, Force]:
    """Make hole while the bit is on bottom, turns and is flushed; the driller follows with the hook.

    ``slack`` m is what the hook has gone below the pipe where that rests on a ram. Returns hook, wanted hook, hole
    depth, bit depth (m), drilling rate (m/s) and weight on bit (N). The cut rock stays in the mud as cuttings, so the
    room for mud is not changed by it.
    """
    low = hook + slack + hole_depth - length < ON_BOTTOM and hook_set < hook + ON_BOTTOM
    turning = low and rotary > 0.3 and strokes > 0.1 and hook > 0.0
    speed = rate if turning else 0.0
    depth = hole_depth + speed * SCAN
    lowered = hook - speed * SCAN
    bit = max(min(length - lowered - slack, depth), 0.0)
    return (
        lowered,
        (lowered if turning else hook_set),
        depth,
        bit,
        speed,
        (weight if turning else (0.4 * weight if low else 0.0)),
    )


@gives("index", "tool_joint", "pipe_in_stack", "across")
def pipe_place(
    hook: Length,
    slack: Length,
    index: Number,
    bit: Length,
    sheared: Number,
    joint: Length,
    ram: Length,
    collar_length: Length,
) -> tuple[Number, Length, Number, Number]:
    """Tool joints counted from the top one at the hook: index of the first above the ram, its distance, pipe across.

    The index moves by one a scan, which finds the right one again after any jump. Distance in m, 0 to ``joint``.
    Pipe across the preventers: 0 none, 1 drill pipe, 2 collars; none once it is ``sheared``, and what there was.
    """
    top = hook + slack
    was = ram + top - index * joint
    step = 1.0 if was >= joint else (-1.0 if was < 0.0 else 0.0)
    now = index + step
    across = 0.0 if bit < ram else (2.0 if bit - collar_length < ram else 1.0)
    return now, ram + top - now * joint, (0.0 if sheared > 0.5 else across), across


@gives("stabbed", "wait", "connected", "vented")
def string_top(
    top_drive: Number, stabbed: Number, valve: Number, wait: Seconds, stuck: Number
) -> tuple[Number, Seconds, Number, Number]:
    """What the top of the string is joined to: stabbed, seconds left of stabbing, connected to the pumps, open to air.

    A stuck valve counts as open, whatever its handle shows.
    """
    left = max(wait - SCAN, 0.0)
    on = 1.0 if stabbed > 0.5 or (wait > 0.0 and left <= 0.0) else 0.0
    through = valve > 0.5 or stuck > 0.0
    connected = 1.0 if top_drive > 0.5 and through else 0.0
    vented = 1.0 if top_drive < 0.5 and (on < 0.5 or through) else 0.0
    return on, left, connected, vented


@gives("hook_load")
def hook_load(
    length: Length,
    bit_weight: Force,
    sheared: Number,
    pipe: ForcePerLength,
    collar: ForcePerLength,
    collar_length: Length,
    stack: Length,
    buoyancy: Number,
    block: Force,
    slack: Length,
    stiff: ForcePerLength,
    weight: Force,
) -> Force:
    """Hook load in N: buoyed weight of the string, less weight on bit, plus the block; ``pipe``, ``collar`` in N/m.

    ``slack`` m times ``stiff`` N/m is what a ram bears of the ``weight`` below it, or what is pulled against it.
    """
    borne = 0.0 if sheared > 0.5 else min(slack * stiff, weight)
    hung = min(length, stack) if sheared > 0.5 else length
    heavy = 0.0 if sheared > 0.5 else min(hung, collar_length)
    string = (pipe * (hung - heavy) + collar * heavy) * buoyancy
    return block + max(string - bit_weight - borne, 0.0)


def pumps_guard(machine: Variables, command: Order) -> Refusal | None:
    """Refuse the mud pumps without a connected string: there is nothing to pump into."""
    if machine.read("floor.connected") < 0.5 and command.value not in (0, "0", "0 1/min"):
        return Refusal(
            "string_closed",
            "The string is not open to the pumps: make up the top drive and open the safety valve first.",
        )
    return None


def rotary_guard(machine: Variables, command: Order) -> Refusal | None:
    """Refuse the rotary without the top drive: only that turns the string."""
    if machine.read("floor.top_drive") < 0.5 and command.value not in (0, "0", "0 rpm"):
        return Refusal("no_top_drive", "The top drive is not made up to the string, so it cannot turn it.")
    return None


def hoist_guard(machine: Variables, command: Order) -> Refusal | None:
    """Refuse the hoist by hand while a trip runs: stop the trip first."""
    if machine.read("floor.trip") > 0.0 or machine.read("floor.wait") > 0.0:
        return Refusal(
            "tripping",
            "The crew is tripping: order the trip to stop, and let the stand be set, before hoisting by hand.",
        )
    return None


def valve_guard(machine: Variables, command: Order) -> Refusal | None:
    """Why a safety valve cannot be turned: none is on the string, by top drive or by hand; None where one is."""
    if machine.read("floor.top_drive") < 0.5 and machine.read("floor.stabbed") < 0.5:
        return Refusal("no_valve", "There is no safety valve on the string yet: stab it first.")
    return None


def stab_guard(machine: Variables, command: Order) -> Refusal | None:
    """One valve is enough, and it needs a free tool joint at rest."""
    if machine.read("floor.top_drive") > 0.5:
        return Refusal("valve_in_place", "The top drive is on the string: its own safety valve is in place.")
    if machine.read("floor.stabbed") > 0.5 or machine.read("floor.stab_wait") > 0.0:
        return Refusal("valve_in_place", "The safety valve is already being stabbed or is on the string.")
    if machine.read("floor.trip") > 0.0:
        return Refusal("tripping", "The string is moving: order the trip to stop, then stab the valve.")
    return None


def top_drive_guard(machine: Variables, command: Order) -> Refusal | None:
    """Refuse to break the top drive out under pressure, flow or rotation."""
    if command.value == "off" and machine.read("floor.top_drive") > 0.5:
        if machine.read("floor.mud_pumps") > 0.0 or machine.read("floor.rotary") > 0.0:
            return Refusal("turning", "Stop the mud pumps and the rotation before breaking out the top drive.")
        if machine.read("floor.safety_valve") > 0.5 and machine.read("well.drillpipe_pressure") > 3.5e5:
            return Refusal(
                "under_pressure", "There is pressure on the string: shut the safety valve before breaking out."
            )
    if command.value == "on" and machine.read("floor.trip") > 0.0:
        return Refusal("tripping", "The crew is tripping: order the trip to stop first.")
    return None


def made_up(machine: Variables, command: Order, index: int) -> None:
    """A shut valve stays on the string when the top drive comes off; one left open comes off with it."""
    if index == 0:
        machine.put("floor.stabbed", 0.0 if machine.read("floor.safety_valve") > 0.5 else 1.0)


def trip_guard(machine: Variables, command: Order) -> Refusal | None:
    """Refuse to trip unless the top drive is off and the pumps stand still."""
    if command.value == "stop":
        return None
    if machine.read("floor.top_drive") > 0.5:
        return Refusal("top_drive_on", "Break out the top drive before tripping.")
    if machine.read("floor.stab_wait") > 0.0:
        return Refusal("valve_in_place", "The safety valve is being stabbed: wait for it.")
    if machine.read("floor.stabbed") > 0.5 and (command.value == "out" or machine.read("floor.safety_valve") > 0.5):
        return Refusal(
            "valve_in_place",
            "A safety valve is on the string: the string can only be stripped in, with the valve shut.",
        )
    return None


def trip_ordered(machine: Variables, command: Order, index: int) -> None:
    """Stopping leaves the hook where it is; a stand change under way is finished first by its own clock."""
    machine.put("floor.hook.set", machine.read("floor.hook"))
    if index == 0:
        machine.put("floor.wait", 0.0)
