"""The diverter under the rig floor: a packer, the flow line's valve, and an overboard line to either side.

It does not hold a well: it leads shallow gas away from the rig. So a way overboard has to be open before the packer
closes (the interlock refuses otherwise), and the side should be the one from which the wind carries the gas off.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from trainer.hydraulics.catalogue import Order, Variables
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import Wires, gives, under
from trainer.hydraulics.refusal import Refusal
from trainer.plant.base import Guard, Part, button, choice, component_fault, reading, state_reading
from trainer.plant.functions import AIR_NEEDED
from trainer.units import Angle, Number, Pressure, between, from_unit

SIDES = ("port", "starboard")
PATHS = ("none", "flow line", "port", "starboard", "both sides")
STAGES = ("ready", "opening overboard", "closing the packer", "diverting")
WINDS = ("nothing overboard", "downwind", "upwind")
PANEL = ("driller", "remote")
OPEN_AT, SHUT_AT = 0.1, 0.9
"""Positions (1 closed) up to which a valve counts as open, and from which as shut. Ours."""
HALF_TURN = from_unit(180.0, "deg")
"""rad in half a turn."""
QUARTER = from_unit(90.0, "deg")
"""rad in a quarter turn."""


class Diverter(Part):
    """Table [diverter] of a plant file: which functions play its parts, how the rig lies and where the wind is from."""

    packer: str
    flow_line: str
    port: str
    starboard: str
    heading: Annotated[Angle, between("0 deg", "360 deg")] = Field(default=0.0)
    wind_from: Annotated[Angle, between("0 deg", "360 deg")] = Field(default=0.0)
    side: Literal["port", "starboard"] = "starboard"

    def parts(self) -> tuple[str, str, str, str]:
        """Ids of the functions it is made of: packer, flow line valve, port and starboard overboard valves."""
        return self.packer, self.flow_line, self.port, self.starboard

    def build(self, net: Network, interlocks: dict[str, list[Guard]]) -> None:
        """Add path, wind, interlock and the divert button; ``interlocks`` are the checks of the functions' commands."""
        yes = ("no", "yes")
        everywhere = ("unit", *PANEL)
        state_reading(net, "diverter.closed", yes, "The diverter packer is closed.", ())
        state_reading(net, "diverter.path", PATHS, "Where returns can leave.", (), 1.0)
        meaning = "Pressure under a diverter that has no way out; the casing shoe feels it too."
        reading(net, "diverter.pressure", "psi", 0, 500, meaning, ("driller", "floor"), (0, 5))
        meaning = "Mud and gas leaving by the overboard lines, by the paddle in them."
        reading(net, "diverter.flow", "gpm", 0, 5000, meaning, ("driller", "floor"), (0, 5))
        state_reading(net, "diverter.wind", WINDS, "Whether gas overboard is carried off or back over the rig.", ())
        side = float(SIDES.index(self.side))
        state_reading(net, "diverter.side", SIDES, "Side chosen for the divert button.", PANEL, side)
        state_reading(net, "diverter.stage", STAGES, "How far the divert button's sequence has come.", PANEL)
        seen = ("driller", "floor")
        wind = "Direction that the wind comes from."
        reading(net, "weather.wind_from", "deg", 0, 360, wind, seen, None, self.wind_from)
        reading(net, "rig.heading", "deg", 0, 360, "Heading of the rig's bow.", seen, None, self.heading)
        net.var("diverter.order")
        defeated = component_fault(
            net,
            "diverter",
            "interlock_defeated",
            "Diverter interlock does not act",
            (f"{self.packer}.lamp_close", "diverter.stage"),
            "Test it at each crew change: the packer must refuse while both overboard valves are shut.",
        )
        port, starboard, flow = (f"{i}.x" for i in (self.port, self.starboard, self.flow_line))
        net.block(
            paths,
            inputs=dict(port=port, starboard=starboard, flow=flow, closed=f"{self.packer}.closed"),
            outputs=dict(path="diverter.path", packed="diverter.closed"),
        )
        net.block(outlet, inputs=under("diverter", "path", "closed"), outputs=dict(outlet="bore.outlet"))
        net.block(
            carried,
            inputs=dict(wind_from="weather.wind_from", heading="rig.heading", port=port, starboard=starboard),
            outputs=dict(wind="diverter.wind"),
            rate="observe",
        )
        for flag in ("diverter.open_port", "diverter.open_starboard", "diverter.close"):
            net.var(flag)
        net.block(
            orders,
            inputs=dict(side="diverter.side", port=port, starboard=starboard),
            outputs=under("diverter", "open_port", "open_starboard", "close"),
            gate="diverter.order",
        )
        live: Wires = dict(air="boxes.air", solenoids="solenoids.live", air_needed=AIR_NEEDED)
        for part, flag, way in (
            (self.port, "diverter.open_port", 1.0),
            (self.starboard, "diverter.open_starboard", 1.0),
            (self.packer, "diverter.close", 2.0),
            (self.flow_line, "diverter.close", 2.0),
        ):
            net.block(
                obeys,
                inputs=dict(
                    **live, flag=flag, way=way, stuck=f"fault.{part}.valve_stuck", dead=f"fault.{part}.solenoid_dead"
                ),
                states=dict(valve=f"{part}.valve"),
                gate="diverter.order",
            )
            net.block(
                wants, inputs=dict(flag=flag, way=way), states=dict(wanted=f"{part}.wanted"), gate="diverter.order"
            )
        net.block(
            not_done, inputs=dict(closed="diverter.close"), outputs=dict(order="diverter.order"), gate="diverter.order"
        )
        net.block(
            stage,
            inputs=dict(
                order="diverter.order",
                port=port,
                starboard=starboard,
                closed="diverter.closed",
                packer_valve=f"{self.packer}.valve",
            ),
            outputs=dict(stage="diverter.stage"),
            rate="observe",
        )
        choice(net, "diverter.side", SIDES, "Side for the divert button: the one downwind.", everywhere)
        meaning = "Divert: open the chosen overboard valve, then close packer and flow line (press enable first)."
        button(net, "diverter.divert", meaning, PANEL, lambda m: m.put("diverter.order", 1.0), guard=_may_divert)
        self._interlocks(interlocks, defeated)

    def _interlocks(self, interlocks: dict[str, list[Guard]], defeated: str) -> None:
        port, starboard = self.port, self.starboard

        def before_packer(machine: Variables, command: Order) -> Refusal | None:
            if command.value != "close" or machine.read(defeated) > 0.0:
                return None
            if min(machine.read(f"{port}.x"), machine.read(f"{starboard}.x")) < OPEN_AT:
                return None
            return Refusal(
                "no_way_overboard",
                "Interlock: open the port or the starboard overboard valve before the diverter packer closes.",
            )

        def before_overboard(other: str) -> Guard:
            def check(machine: Variables, command: Order) -> Refusal | None:
                if command.value != "close" or machine.read(defeated) > 0.0:
                    return None
                packed = machine.read(f"{self.packer}.valve") > 1.5 or machine.read("diverter.closed") > 0.5
                if not packed or machine.read(f"{other}.x") < OPEN_AT:
                    return None
                return Refusal(
                    "only_way_overboard",
                    "Interlock: the packer is closed and this is the only way overboard; open the other side first.",
                )

            return check

        interlocks.setdefault(self.packer, []).append(before_packer)
        interlocks.setdefault(port, []).append(before_overboard(starboard))
        interlocks.setdefault(starboard, []).append(before_overboard(port))


def _may_divert(machine: Variables, command: Order) -> Refusal | None:
    if machine.read("panel.power") < 0.5:
        return Refusal(
            "no_power",
            "The panels have no power: operate the diverter by its levers at the control unit, overboard valve first.",
        )
    if machine.read("driller.enable") <= 0.0:
        return Refusal("not_enabled", "Diverting is critical: press enable first, then divert within five seconds.")
    return None


@gives("path", "packed")
def paths(port: Number, starboard: Number, flow: Number, closed: Number) -> tuple[Number, Number]:
    """Where returns can leave, an index of ``PATHS``, and whether the packer is closed (x: 0 open, 1 closed)."""
    left = port < SHUT_AT
    right = starboard < SHUT_AT
    aside = 4.0 if left and right else (2.0 if left else (3.0 if right else 0.0))
    return (aside if aside > 0.5 else (1.0 if flow < SHUT_AT else 0.0)), closed


@gives("outlet")
def outlet(path: Number, closed: Number) -> Number:
    """Where returns leave, an index of ``bore.OUTLETS``.

    The overboard lines leave below the flow line, so what flows takes them once a side is open. With everything shut
    it runs over on the drill floor, and under a closed packer it does not get out at all.
    """
    return 2.0 if path > 1.5 else (1.0 if path > 0.5 else (0.0 if closed > 0.5 else 3.0))


def apart(a: float, b: float) -> float:
    """Angle between two directions, both in rad from 0 to a whole turn; the answer is 0 to half a turn (rad)."""
    difference = abs(a - b)
    once = difference - 2.0 * HALF_TURN if difference > 2.0 * HALF_TURN else difference
    return 2.0 * HALF_TURN - once if once > HALF_TURN else once


@gives("wind")
def carried(wind_from: Angle, heading: Angle, port: Number, starboard: Number) -> Number:
    """Whether what goes overboard is blown away from the rig (1) or back over it (2); 0 with both sides shut.

    The port side looks a quarter turn left of the heading; a side from which the wind comes is upwind.
    """
    to_port = apart(wind_from, heading - QUARTER + 2.0 * HALF_TURN)
    to_starboard = apart(wind_from, heading + QUARTER)
    bad = (port < SHUT_AT and to_port < QUARTER) or (starboard < SHUT_AT and to_starboard < QUARTER)
    return 2.0 if bad else (1.0 if port < SHUT_AT or starboard < SHUT_AT else 0.0)


@gives("open_port", "open_starboard", "close")
def orders(side: Number, port: Number, starboard: Number) -> tuple[Number, Number, Number]:
    """What the divert button asks for: port open, starboard open, and packer and flow line shut.

    The last follow only once the chosen side stands open.
    """
    right = side > 0.5
    way = starboard if right else port
    return (0.0 if right else 1.0), (1.0 if right else 0.0), (1.0 if way < OPEN_AT else 0.0)


@gives("valve")
def obeys(
    valve: Number,
    flag: Number,
    way: Number,
    air: Pressure,
    solenoids: Number,
    air_needed: Pressure,
    stuck: Number,
    dead: Number,
) -> Number:
    """A surface valve, moved to ``way`` when asked, unless air, voltage, valve or solenoid fail."""
    works = air >= air_needed and solenoids > 0.5 and stuck + dead <= 0.0
    return way if flag > 0.5 and works else valve


@gives("wanted")
def wants(wanted: Number, flag: Number, way: Number) -> Number:
    """The way last asked of a function, an index of ``WAYS``: the new one while its ``flag`` is up, else the old."""
    return way if flag > 0.5 else wanted


@gives("order")
def not_done(closed: Number) -> Number:
    """1 while the divert button has more to ask for: until the packer, which is the last, has closed."""
    return 0.0 if closed > 0.5 else 1.0


@gives("stage")
def stage(order: Number, port: Number, starboard: Number, closed: Number, packer_valve: Number) -> Number:
    """How far diverting has come, an index of ``STAGES``; openings 0 to 1, ``packer_valve`` an index of ``WAYS``."""
    aside = min(port, starboard) < OPEN_AT
    closing = packer_valve > 1.5
    return 1.0 if order > 0.5 else ((3.0 if closed > 0.5 and aside else 2.0) if closing else 0.0)
