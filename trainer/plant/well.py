"""The well: declaration [well] of a plant file and how it is joined to the plant.

Simple but computed: mud in string, annulus, choke line and riser; formation with a pressure and a productivity; gas
that comes in, is carried, slips, expands; pit, trip tank, choke. Equations and sources stand in ``well_hydraulics``
(pressures and flows), ``well_gas`` (influx), ``well_geometry`` (volumes) and ``well_surface`` (riser, tanks,
instruments). What a handbook computes comes out of it: drill-pipe pressure = formation pressure - mud in the string;
casing pressure = formation pressure - mud and gas in the annulus; pit gain = volume of the influx.

The mud's bulk modulus given for the demonstration wells is ten times that of real mud. Handbooks take mud as
incompressible; with the real value the pumps' draw-back and the last of the influx would blur the pit gain by a tenth.

The formation lies at the bottom of the hole with which the drill begins, at the depth given in the file or by the
drill: hole made during a drill, a few feet, does not move it.

Kill mud of a second weight is followed by ``kill_mud``. Left out: the mixing of mud, temperature of the mud, inclined
holes, kill-line pumping, hydrates, oil-based mud's swallowing of gas, broaching after losses.
"""

from __future__ import annotations

from math import sqrt
from typing import Annotated, Protocol

from trainer.constants import ATMOSPHERE, GRAVITY, SCAN, SEA_WATER
from trainer.fluids.methane import methane_density
from trainer.hydraulics.catalogue import Variables
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import under
from trainer.plant import kill_mud, well_gas, well_geometry, well_hydraulics, well_surface
from trainer.plant.base import Part, button, choice, component_fault, reading, state_reading
from trainer.plant.well_geometry import Sizes, circle
from trainer.units import (
    Density,
    Flow,
    Frequency,
    Length,
    Pressure,
    Temperature,
    Velocity,
    Volume,
    between,
    from_unit,
    to_unit,
)

# The toolpusher's panel has no meters.
FLOOR = ("floor", "driller")
# Shares of the difference that instruments follow in a scan: time constants of 0.5, 1.5 and 3 s.
QUICK, MIDDLE, SLOW = 0.2, 0.065, 0.033

_FAULTS = (
    # key, component, kind, title, shows, remedy
    ("kick", "well", "kick", "The bit drills into a formation under higher pressure", ("well.flow_out",
    "well.pit_gain"),
     "Shut the well in by the stated method, read the pressures, prepare to kill."),
    ("losses", "well", "losses", "The shoe takes mud", ("well.pit_gain", "well.flow_out", "well.casing_pressure"),
     "Reduce the pump rate or casing pressure; place lost-circulation material."),
    ("balled", "well", "balled_bit", "Balled bit: pulling swabs the well", ("trip_tank.volume", "well.flow_out"),
     "Pull slowly, run back to bottom when the hole does not take its fill, circulate out."),
    ("washout", "well", "washout", "Washout in the drill string", ("well.standpipe", "floor.mud_pumps"),
     "Stop, pull out and look for the washed joint before it parts."),
    ("plugged", "well", "plugged_nozzle", "Plugged bit nozzle", ("well.standpipe", "floor.mud_pumps"),
     "Note the new circulating pressure at a slow rate; surge the string to free the nozzle."),
    ("pump_slip", "floor", "mud_pump_slip", "Mud pump loses volume through a worn valve", ("well.standpipe",
    "floor.mud_pumps"),
     "Change to the other pump and replace the valve."),
    ("choke_plugged", "floor", "choke_plugged", "Choke plugged with cuttings", ("well.casing_pressure",
    "floor.choke"),
     "Open and close the choke to flush it, or change to the second choke."),
    ("choke_washed", "floor", "choke_washed_out", "Choke washed out: it passes when shut", ("well.casing_pressure",
    "well.pit_gain"),
     "Shut the valve upstream and change to the second choke."),
    ("flow_stuck", "well", "flow_sensor_stuck", "Flow-line paddle stuck", ("well.flow_out", "well.pit_gain"),
     "Free the paddle; watch the pit and look at the flow line meanwhile."),
    ("pit_stuck", "well", "pit_float_stuck", "Pit float stuck", ("well.pit_volume", "well.flow_out"),
     "Free the float; measure the pit by hand meanwhile."),
    ("casing_drift", "well", "casing_gauge_drift", "Casing pressure gauge reads high", ("well.casing_pressure",
    "well.kill_pressure"),
     "Compare with the kill-line gauge; calibrate the gauge."),
    ("pipe_drift", "well", "drillpipe_gauge_drift", "Drill-pipe pressure gauge reads high",
    ("well.drillpipe_pressure", "well.standpipe"),
     "Compare with the standpipe gauge; calibrate the gauge."),
)  # fmt: skip


_NAMES_BY_UNIT = {
    "Pa": "stack_pressure riser_pressure line_pressure string_pressure surface_pressure bottom_pressure.absolute slug "
    "friction swab to_bottom to_bit to_shoe outside leak_off pore_pressure",
    "m3": "string_mud string_room fish_mud string_air annulus_mud riser_mud line_mud pit pit_base gas_volume room "
    "riser_room line_surplus gas_room to_riser_mud choked lost_now beside run_over filled fallen bit_mud mud_up down "
    "mud_out back up_out up_back choke_mud lost_mud",
    "m3/Pa": "string_compliance line_compliance gas_squeeze",
    "m3/s": "string_flow pump_flow bore_flow line_flow choke_flow loss_rate up_line",
    "m3/(s Pa)": "productivity inflow_index",
    "m3/(s sqrt(Pa))": "k_string k_bore k_choke",
    "kg": "annulus_gas line_gas riser_gas to_riser_gas gained gas_over gas_up gas_out choke_gas",
    "kg/m3": "gas_density inflow_density line_gas_density riser_gas_density line_density",
    "m": "string_end length_was gas_top gas_bottom riser_gas_top riser_gas_bottom pit_bit formation_depth gas_height "
    "gas_entry",
}
_UNIT = {name: unit for unit, names in _NAMES_BY_UNIT.items() for name in names.split()}
"""SI unit of the well's variables that are not plain numbers."""


def add_variables(well: Well, net: Network, contents: dict[str, float]) -> None:
    """Add the well's state and its readings; ``contents`` are the start values of what it holds."""
    depth, mud = well.depth, well.drilling_flow
    bottom = ATMOSPHERE + well.gradient * depth
    first = dict(contents)
    start = {
        "well.productivity": well.productivity / from_unit(100.0, "psi"), "well.exposed": 0.0,
        "well.pit": well.pit_volume,
        "well.pit_base": well.pit_volume, "well.pit_bit": depth, "well.formation_depth": depth,
        "well.bottom_pressure.absolute": bottom,
        "well.gas_share": 0.0,
        "well.gas_volume": 0.0, "well.string_flow": mud, "well.riser_room": first["well.riser_mud"],
    }  # fmt: skip
    zero = (
        "string_pressure string_compliance surface_pressure pump_flow line_surplus "
        "line_compliance line_density line_share gas_squeeze gas_height gas_room friction swab to_bottom to_bit "
        "to_shoe k_string k_bore k_choke in_well outside inflow_index leak_off gas_entry pore_pressure room "
        "bore_flow line_flow choke_flow loss_rate to_riser_mud to_riser_gas choked lost_now gained beside "
        "run_over gas_over filled fallen up_line bit_mud mud_up gas_up down mud_out gas_out back up_out up_back "
        "choke_mud choke_gas lost_mud"
    )
    truth = reading
    truth(net, "well.influx_rate", "gpm", 0, 5000, "Flow from the formation into the well.", (), (0, 0.1))
    truth(net, "well.influx_volume", "bbl", 0, 1500, "Gas in well, choke line and riser, at the pressure it has.", ())
    truth(
        net,
        "well.bottom_pressure",
        "psi",
        0,
        20000,
        "Pressure at the bottom of the hole.",
        (),
        None,
        bottom - ATMOSPHERE,
    )
    truth(
        net, "well.formation_pressure", "psi", 0, 20000, "Pressure of the formation at the bottom of the hole (gauge).",
        (),
        None, well.formation_pressure,
    )  # fmt: skip
    truth(
        net,
        "well.string_head",
        "psi",
        0,
        20000,
        "Weight of the mud in the string down to the bottom.",
        (),
        None,
        well.gradient * depth,
    )
    truth(
        net, "well.gas_top", "ft", 0, 40000, "Top of the gas below the preventers.", (), None, first.pop("well.gas_top")
    )
    truth(
        net,
        "well.gas_bottom",
        "ft",
        0,
        40000,
        "Bottom of the gas below the preventers.",
        (),
        None,
        first.pop("well.gas_bottom"),
    )
    truth(
        net, "well.riser_gas_top", "ft", 0, 12000, "Top of the gas in the riser, below the rotary table.", (), None,
        first.pop("well.riser_gas_top"),
    )  # fmt: skip
    truth(net, "choke_line.friction", "psi", 0, 2000, "Pressure that the flow through the choke line takes now.", ())
    truth(net, "well.spilled", "bbl", 0, 5000, "Mud run over on the drill floor out of an open string.", ())
    truth(net, "well.lost", "bbl", 0, 5000, "Mud lost into the formation.", ())
    truth(net, "well.fish_mud", "bbl", 0, 5000, "Mud in the string that was cut off and stays in the hole.", (), None,
          first.pop("well.fish_mud"))  # fmt: skip
    truth(net, "well.to_sea", "bbl", 0, 5000, "Mud lost overboard, by the diverter or out of a parted riser.", ())
    state_reading(net, "well.float", ("none", "fitted"), "Float valve above the bit: nothing comes up the string.", ())
    state_reading(net, "well.sealed", ("no", "yes"), "Nothing leaves the well.", ())
    for name, value in (first | start).items():
        net.var(name, value, _UNIT.get(name.removeprefix("well."), "1"))
    for name in zero.split():
        net.var(f"well.{name}", 0.0, _UNIT.get(name, "1"))
    near = well.circulating_pressure
    circulating = (0.0, round(1.1 * to_unit(near, "psi"), -1))
    pressure = reading
    pressure(net, "well.standpipe", "psi", 0, 5000, "Standpipe pressure.", FLOOR, circulating, near)
    pressure(
        net,
        "well.drillpipe_pressure",
        "psi",
        0,
        5000,
        "Drill-pipe pressure at the choke panel.",
        FLOOR,
        circulating,
        near,
    )
    pressure(
        net, "well.casing_pressure", "psi", 0, 5000, "Pressure in the choke line at the choke manifold.", FLOOR, (0, 50)
    )
    pressure(net, "well.kill_pressure", "psi", 0, 5000, "Pressure in the kill line at the manifold.", FLOOR, (0, 50))
    gpm = to_unit(mud, "gpm")
    band = (0.0, round(1.06 * gpm, 0))
    reading(net, "well.flow_out", "gpm", 0, 1500, "Return flow in the flow line, by its paddle.", FLOOR, band, mud)
    reading(net, "well.flow_in", "gpm", 0, 1500, "Flow of the mud pumps, by strokes.", FLOOR, band, mud)
    pit = to_unit(well.pit_volume, "bbl")
    reading(
        net, "well.pit_volume", "bbl", 0, 1000, "Mud in the active pit.", FLOOR, (pit - 10, pit + 10), well.pit_volume
    )
    reading(
        net,
        "well.pit_gain",
        "bbl",
        -200,
        200,
        "Gain of the pit since it was set to zero, less what moved pipe displaced.",
        FLOOR,
        (-5, 5),
    )
    reading(net, "trip_tank.volume", "bbl", 0, 60, "Mud in the trip tank.", FLOOR, (5, 48), well.trip_tank_volume)
    state_reading(
        net, "trip_tank.line_up", ("off", "on"), "Returns go to the trip tank, which keeps the hole full.", FLOOR
    )


def add_faults(net: Network) -> dict[str, str]:
    """Publish the faults of well and floor; returns the severity variable by key."""
    return {
        key: component_fault(net, component, kind, title, shows, remedy)
        for key, component, kind, title, shows, remedy in _FAULTS
    }


def add_commands(net: Network) -> None:
    """Commands that belong to the well's own instruments and tanks."""
    choice(net, "trip_tank.line_up", ("off", "on"), "Line the returns up to the trip tank.", FLOOR)

    def zero(machine: Variables) -> None:
        machine.put("well.pit_base", machine.read("well.pit_volume"))
        machine.put("well.pit_bit", machine.read("well.bit_depth"))

    button(net, "well.pit_reset", "Set the pit gain to zero.", FLOOR, zero)


def add_instruments(well: Well, net: Network, sizes: Sizes, faults: dict[str, str]) -> None:
    """Add gauges, sensors and truths of the well, computed after the physics of the scan from what it left."""
    span = from_unit(500.0, "psi")

    net.block(
        well_surface.truths,
        inputs=dict(
            **under("well", "stack_pressure", "to_bottom", "gas_volume", "line_gas", "riser_gas"),
            line_rho="well.line_gas_density",
            riser_rho="well.riser_gas_density",
            gradient=well.gradient,
            depth="well.formation_depth",
            below="well.string_below",
        ),
        outputs=dict(
            **under("well", "bottom_pressure", "influx_volume", "string_head"),
            bottom_absolute="well.bottom_pressure.absolute",
        ),
    )
    net.block(
        well_surface.standpipe,
        inputs=dict(
            surface="well.surface_pressure",
            connected="floor.connected",
            strokes="floor.mud_pumps",
            relief=well.pump_relief,
        ),
        states=dict(was="well.standpipe"),
    )
    net.block(
        well_surface.drifting,
        inputs=dict(pressure="well.standpipe", drift=faults["pipe_drift"], span=span),
        outputs=dict(drillpipe_pressure="well.drillpipe_pressure"),
    )
    net.block(
        well_surface.casing_gauge,
        inputs=dict(
            line_pressure="well.line_pressure",
            share=QUICK,
            drift=faults["casing_drift"],
            span=span,
            parted="bore.disconnected",
        ),
        states=dict(was="well.casing_seen"),
        outputs=dict(casing_pressure="well.casing_pressure"),
    )
    net.var("well.casing_seen", 0.0, "Pa")
    net.block(
        well_surface.line_friction,
        inputs=dict(
            stack="well.stack_pressure",
            line="well.line_pressure",
            density="well.line_density",
            fall=GRAVITY * sizes.stack,
            path="choke_line.sees_well",
        ),
        outputs=dict(friction="choke_line.friction"),
    )
    net.block(
        well_surface.line_gauge,
        inputs=dict(
            stack_pressure="well.stack_pressure",
            riser_pressure="well.riser_pressure",
            head=well.gradient * sizes.stack,
            well="kill_line.sees_well",
            riser="kill_line.sees_riser",
            closed_in="kill_line.closed_in",
            parted="bore.disconnected",
        ),
        states=dict(was="well.kill_pressure"),
    )
    net.block(
        well_surface.paddle,
        inputs=dict(run_over="well.run_over", share=SLOW, stuck=faults["flow_stuck"]),
        states=dict(was="well.flow_out"),
    )
    net.block(
        well_surface.stroke_flow,
        inputs=dict(strokes="floor.mud_pumps", output=well.mud_pump_output),
        outputs=dict(flow_in="well.flow_in"),
    )
    net.block(
        well_surface.pit_sensor,
        inputs=dict(
            pit="well.pit",
            stuck=faults["pit_stuck"],
            base="well.pit_base",
            bit="well.bit_depth",
            lined_up="trip_tank.line_up",
            pipe=sizes.pipe,
        ),
        states=dict(was="well.pit_volume", base_bit="well.pit_bit"),
        outputs=dict(pit_gain="well.pit_gain"),
    )
    net.block(
        well_surface.sealed,
        inputs=dict(
            area="bore.area",
            to_riser="well.bore_flow",
            path="choke_line.sees_well",
            k_choke="well.k_choke",
            from_string="well.string_flow",
            vented="floor.vented",
        ),
        outputs=dict(sealed="well.sealed"),
    )


PER_DRAWDOWN = from_unit(100.0, "psi")
"""Pa for which the rates of influx and loss are stated."""
# Friction factor of the mud in the choke line (turbulent, rough pipe; Darcy), enough for one coefficient.
FRICTION = 0.03
DISCHARGE = 0.6
"""Discharge coefficient of the open bore and of the choke: sharp edges, 0.6 to 0.62 (ISO 5167, common practice)."""


# A drill's hole reaches at least this far below the shoe, m, and at most this many times as deep as the file's.
LEAST_OPEN_HOLE = 100.0
MOST_DEPTH = 1.3
"""Share of the planned depth down to which a drill may begin. Ours."""

_STILL = {
    "floor.mud_pumps": 0.0, "floor.mud_pumps.set": 0.0, "floor.rotary": 0.0, "floor.rotary.set": 0.0,
    "floor.rop": 0.0, "floor.bit_weight": 0.0, "well.standpipe": 0.0, "well.drillpipe_pressure": 0.0,
    "well.flow_out": 0.0, "well.flow_in": 0.0, "well.string_flow": 0.0,
}  # fmt: skip
_LOOSE = {
    "floor.top_drive": 0.0, "floor.connected": 0.0, "floor.vented": 1.0, "trip_tank.line_up": 1.0, "well.exposed": 1.0,
}  # fmt: skip


class Floor(Protocol):
    """What the well asks of the drill floor: how the hook hangs above it, m, and which joint stands in the stack."""

    @property
    def hook(self) -> float: ...

    def joint_at(self, ram: float, hook: float) -> float: ...


class Site(Protocol):
    """What the well needs to know about the rig it belongs to: water depth in m, temperatures in K, well and floor."""

    @property
    def water_depth(self) -> float: ...
    @property
    def sea_temperature(self) -> float: ...
    @property
    def well(self) -> Well: ...
    @property
    def floor(self) -> Floor: ...


class Well(Part):
    """Table [well] of a plant file. Depths are vertical, from the rotary table."""

    depth: Annotated[Length, between("500 ft", "40000 ft")]
    mud: Annotated[Density, between("6 lb/gal", "22 lb/gal")]
    hole: Annotated[Length, between("3 in", "40 in")]
    pipe: Annotated[Length, between("2 in", "7 in")]
    pipe_inside: Annotated[Length, between("1 in", "6.5 in")]
    collar: Annotated[Length, between("2.5 in", "14 in")] = from_unit(8.0, "in")
    # with the heavy pipe above them
    collar_length: Annotated[Length, between("30 ft", "3000 ft")] = from_unit(900.0, "ft")
    casing_shoe: Annotated[Length, between("200 ft", "35000 ft")]
    casing_inside: Annotated[Length, between("4 in", "36 in")] = from_unit(12.347, "in")
    leak_off: Annotated[Density, between("7 lb/gal", "24 lb/gal")]
    formation: Annotated[Density, between("6 lb/gal", "22 lb/gal")]
    formation_temperature: Annotated[Temperature, between("40 degF", "450 degF")]
    # for each 100 psi below formation pressure
    productivity: Annotated[Flow, between("0.001 bbl/min", "50 bbl/min")] = from_unit(1.2, "bbl/min")
    # for each 100 psi above leak-off pressure
    loss_index: Annotated[Flow, between("0.01 bbl/min", "200 bbl/min")] = from_unit(5.0, "bbl/min")
    migration: Annotated[Velocity, between("0 ft/h", "6000 ft/h")] = from_unit(300.0, "ft/h")
    # Single bubbles in mud: Harmathy 1960, 1.53 (g sigma / density)^0.25 = 0.24 m/s (from memory).
    riser_migration: Annotated[Velocity, between("10 ft/h", "20000 ft/h")] = from_unit(2800.0, "ft/h")
    air_gap: Annotated[Length, between("10 ft", "200 ft")]
    stack_height: Annotated[Length, between("5 ft", "120 ft")] = from_unit(45.0, "ft")
    # a surface stack says where it is; a subsea one stands on the sea floor
    stack_depth: Annotated[Length, between("5 ft", "400 ft")] | None = None
    riser_inside: Annotated[Length, between("6 in", "40 in")]
    bore: Annotated[Length, between("6 in", "30 in")] = from_unit(18.75, "in")
    choke_line_inside: Annotated[Length, between("1 in", "6 in")]
    choke_bore: Annotated[Length, between("0.25 in", "5 in")] = from_unit(2.0, "in")
    pit_volume: Annotated[Volume, between("20 bbl", "10000 bbl")]
    trip_tank_volume: Annotated[Volume, between("0 bbl", "500 bbl")] = from_unit(25.0, "bbl")
    trip_tank_capacity: Annotated[Volume, between("5 bbl", "500 bbl")] = from_unit(50.0, "bbl")
    fill_rate: Annotated[Flow, between("0.1 bbl/min", "50 bbl/min")] = from_unit(8.0, "bbl/min")
    mud_pump_output: Annotated[Volume, between("0.01 bbl", "1 bbl")]
    drilling_rate: Annotated[Frequency, between("5 1/min", "250 1/min")]
    circulating_pressure: Annotated[Pressure, between("100 psi", "7500 psi")] = from_unit(3000.0, "psi")
    # of the circulating pressure, in the annulus
    annular_loss: Annotated[Pressure, between("0 psi", "2000 psi")] = from_unit(110.0, "psi")
    pump_relief: Annotated[Pressure, between("500 psi", "10000 psi")] = from_unit(4500.0, "psi")
    # at 1 m/s of pipe, bit at full depth
    swab_pressure: Annotated[Pressure, between("0 psi", "2000 psi")] = from_unit(120.0, "psi")
    # dry pipe that the slug pumped before a trip leaves
    slug: Annotated[Length, between("0 ft", "1000 ft")] = from_unit(200.0, "ft")
    mud_bulk_modulus: Annotated[Pressure, between("1000 MPa", "100000 MPa")] = 2.3e10

    def stack_at(self, site: Site) -> float:
        """Depth of the preventers below the rotary table, m, on the sea floor or as given."""
        if self.stack_depth is not None:
            return self.stack_depth
        return self.air_gap + site.water_depth - self.stack_height

    def sizes(self, site: Site) -> Sizes:
        """Areas (m2) and depths (m) for the laws, worked out once from the diameters in the plant's file."""
        return Sizes(
            stack=self.stack_at(site),
            shoe=self.casing_shoe,
            collar_length=self.collar_length,
            riser=circle(self.riser_inside),
            cased=circle(self.casing_inside),
            open_hole=circle(self.hole),
            pipe=circle(self.pipe),
            collar=circle(self.collar),
            inside=circle(self.pipe_inside),
            line=circle(self.choke_line_inside),
        )

    @property
    def gradient(self) -> float:
        """Weight of the mud in the well as pressure gained by depth, Pa/m."""
        return self.mud * GRAVITY

    @property
    def drilling_flow(self) -> float:
        """Flow of the mud pumps while drilling, m3/s, at their drilling rate."""
        return self.drilling_rate * self.mud_pump_output

    @property
    def formation_pressure(self) -> float:
        """Formation pressure, gauge Pa, from its equivalent mud weight."""
        return self.formation * GRAVITY * self.depth

    def contents(
        self, site: Site, bit: float, hook: float, pumping: bool, hole: float | None = None
    ) -> dict[str, float]:
        """Start values of everything the well holds, for a balanced well with the bit and the hook there (m).

        ``hole`` is the depth of the hole where it is not the file's.
        """
        s = self.sizes(site)
        hole = self.depth if hole is None else hole
        length = max(bit + hook, 10.0)
        room = length * s.inside
        over = self.circulating_pressure / self.mud_bulk_modulus * room if pumping else 0.0
        rest = ATMOSPHERE + self.gradient * s.stack
        gas_there = methane_density(rest + self.gradient * (hole - s.stack), self.formation_temperature)
        entry = well_geometry.entry_depth(bit, hole)
        return {
            # Open to air, the string balances the annulus with its slug on top.
            "well.string_mud": room + over if pumping else max(bit - self.slug, 0.0) * s.inside,
            "well.string_room": room,
            "well.string_end": bit,
            "well.length_was": length,
            "well.fish_mud": 0.0,
            "well.string_air": 0.0 if pumping else room - max(bit - self.slug, 0.0) * s.inside,
            "well.slug": 0.0 if pumping else self.slug * self.gradient,
            "well.annulus_mud": well_geometry.volume_to(hole, bit, *s.steps),
            "well.riser_mud": well_geometry.riser_volume(bit, s.stack, s.collar_length, s.riser, s.pipe, s.collar),
            "well.line_mud": s.line * s.stack,
            "well.annulus_gas": 0.0,
            "well.line_gas": 0.0,
            "well.riser_gas": 0.0,
            "well.gas_density": gas_there,
            "well.inflow_density": gas_there,
            "well.line_gas_density": 0.7,
            "well.riser_gas_density": methane_density(rest, well_surface.SEA_DEGREES),
            "well.gas_top": entry,
            "well.gas_bottom": entry,
            "well.riser_gas_top": s.stack,
            "well.riser_gas_bottom": s.stack,
            "well.stack_pressure": rest,
            "well.riser_pressure": rest,
            "well.line_pressure": ATMOSPHERE,
        }

    @property
    def depths(self) -> tuple[float, float]:
        """Least and greatest depth of hole with which a drill may begin, m: open hole below the shoe, and within
        what pressures and temperatures the file stands for."""
        return self.casing_shoe + LEAST_OPEN_HOLE, MOST_DEPTH * self.depth

    def start_at(self, site: Site, name: str, hole: float | None = None, bit: float | None = None) -> dict[str, float]:
        """Variables to put (SI) for a named start with the hole and the bit at these depths (m).

        Without them the hole is the file's and the bit where that start has it. KeyError for an unknown name.
        """
        hole = self.depth if hole is None else hole
        stack, hook = self.stack_at(site), site.floor.hook
        if name == "drilling":
            filled = self.contents(site, hole, hook, pumping=True, hole=hole)
            return filled | self._place(site, hole, hole, hook, self.formation * GRAVITY * hole)
        usual, hook = {
            "tripping": (0.55 * hole, 1.0),
            "collars": (stack + 0.6 * self.collar_length, 1.0),
            "out_of_hole": (0.0, 10.0),
        }[name]
        bit = usual if bit is None else min(bit, hole)
        # Tripping is done over a balanced well: the mud holds the formation with a small margin.
        calm = self.gradient * hole - from_unit(80.0, "psi")
        still = self.contents(site, bit, hook, pumping=False, hole=hole) | _STILL | _LOOSE
        return still | self._place(site, hole, bit, hook, calm)

    def _place(self, site: Site, hole: float, bit: float, hook: float, formation: float) -> dict[str, float]:
        """Where hole and pipe are, m, and the pressure of the formation down there, gauge Pa."""
        return {
            "well.hole_depth": hole, "well.formation_depth": hole, "well.formation_pressure": formation,
            "well.string_head": self.gradient * hole,
            "well.pit_bit": bit, "floor.joint_index": site.floor.joint_at(self.stack_at(site), hook),
            "floor.hook": hook, "floor.hook.set": hook, "floor.string_length": bit + hook, "well.bit_depth": bit,
        }  # fmt: skip

    def starts(self, site: Site) -> dict[str, dict[str, float]]:
        """Named initial conditions: variables to put (SI) before a drill begins."""
        return {"drilling": {}} | {name: self.start_at(site, name) for name in ("tripping", "collars", "out_of_hole")}

    def build(self, net: Network, site: Site) -> None:
        """Add the well. The stack gives it ``bore.area``, ``leak`` and ``sheared``, and what either line sees."""
        add_variables(self, net, self.contents(site, self.depth, site.floor.hook, pumping=True))
        faults = add_faults(net)
        add_commands(net)
        kill_mud.declare_kill_mud(net, self.mud)
        self._below(net, site, faults)
        self._above(net, site, faults)

    def _below(self, net: Network, site: Site, faults: dict[str, str]) -> None:
        s = self.sizes(site)
        kill_mud.build_weights(net, s, self.mud)
        soft = 1.0 / self.mud_bulk_modulus
        net.block(
            well_hydraulics.stand_filled,
            inputs=dict(length="floor.string_length", trip="floor.trip", vented="floor.vented", inside=s.inside),
            states=dict(mud="well.string_mud", tank="trip_tank.volume", was="well.length_was"),
        )
        net.block(
            well_hydraulics.cut_off,
            inputs=dict(
                room="well.string_room",
                end="well.string_end",
                bit="well.bit_depth",
                sheared="bore.sheared",
                inside=s.inside,
                stack=s.stack,
            ),
            states=dict(mud="well.string_mud", fish="well.fish_mud"),
        )
        net.block(
            well_hydraulics.dry_top,
            inputs=dict(
                mud="well.string_mud", room="well.string_room", vented="floor.vented", connected="floor.connected"
            ),
            states=dict(air="well.string_air", slug="well.slug"),
        )
        net.block(
            well_hydraulics.string_state,
            inputs=dict(
                mud="well.string_mud",
                bit="well.bit_depth",
                hook="floor.hook",
                sheared="bore.sheared",
                vented="floor.vented",
                air="well.string_air",
                inside=s.inside,
                stack=s.stack,
                gradient=self.gradient,
                soft=soft,
                slug="well.slug",
                extra="well.string_extra",
                below="well.string_below",
            ),
            outputs=under(
                "well", "string_pressure", "string_compliance", "string_room", "string_end", "surface_pressure"
            ),
        )
        net.block(
            well_hydraulics.pump_flow,
            inputs=dict(
                strokes="floor.mud_pumps",
                output=self.mud_pump_output,
                slip=faults["pump_slip"],
                connected="floor.connected",
                surface="well.surface_pressure",
                relief=self.pump_relief,
                compliance="well.string_compliance",
                mud="well.string_mud",
                room="well.string_room",
                pit="well.pit",
                string_flow="well.string_flow",
            ),
            outputs=dict(pump_flow="well.pump_flow"),
        )
        net.block(
            well_gas.gas_state_at,
            inputs=dict(temperature=well_surface.SEA_DEGREES, pressure="well.line_pressure"),
            states=dict(rho="well.line_gas_density"),
        )
        net.block(
            well_hydraulics.line_state,
            inputs=dict(
                mud="well.line_mud",
                gas="well.line_gas",
                rho="well.line_gas_density",
                pressure="well.line_pressure",
                room=s.line * s.stack,
                density="well.line_mud_density",
                soft=soft,
            ),
            outputs=under("well", "line_surplus", "line_compliance", "line_density", "line_share"),
        )
        net.block(
            well_gas.gas_in_well,
            inputs=dict(
                mass="well.annulus_gas",
                top="well.gas_top",
                bottom="well.gas_bottom",
                stack_pressure="well.stack_pressure",
                mud_gradient=self.gradient,
                upper=site.sea_temperature,
                lower=self.formation_temperature,
                bit="well.bit_depth",
                hole_depth="well.hole_depth",
                **s.named,
            ),
            states=dict(rho="well.gas_density", share_was="well.gas_share"),
            outputs=under("well", "gas_volume", "gas_squeeze", "gas_height", "gas_room"),
        )
        net.block(
            well_gas.gas_state_at,
            inputs=dict(temperature=self.formation_temperature, pressure="well.bottom_pressure.absolute"),
            states=dict(rho="well.inflow_density"),
        )
        net.block(
            well_hydraulics.moving_heads,
            inputs=dict(
                string_flow="well.string_flow",
                full_flow=self.drilling_flow,
                loss=self.annular_loss,
                velocity="floor.pipe_velocity",
                swab=self.swab_pressure,
                balled=faults["balled"],
                bit="well.bit_depth",
                depth=self.depth,
            ),
            outputs=dict(friction="well.friction", swabbed="well.swab"),
        )
        net.block(
            well_hydraulics.heads,
            inputs=dict(
                **under("well", "friction", "swab", "shoe_extra"),
                height="well.gas_height",
                rho="well.gas_density",
                top="well.gas_top",
                bottom="well.gas_bottom",
                bit="well.bit_depth",
                hole_depth="well.formation_depth",
                stack=s.stack,
                shoe=s.shoe,
                density=self.mud,
                extra="well.annulus_extra",
            ),
            outputs=under("well", "to_bottom", "to_bit", "to_shoe"),
        )
        loss_at_full_flow = self.circulating_pressure - self.annular_loss
        net.block(
            well_hydraulics.passages,
            inputs=dict(
                **under("bore", "area", "leak", "sheared", "outlet"),
                k_full=self.drilling_flow / sqrt(loss_at_full_flow),
                end="well.string_end",
                depth=self.depth,
                washout=faults["washout"],
                plugged=faults["plugged"],
                k_open=0.5 * DISCHARGE * circle(self.bore) * sqrt(2.0 / self.mud),
                k_choke=DISCHARGE * circle(self.choke_bore) * sqrt(2.0),
                choke="floor.choke",
                line_density="well.line_density",
                choke_plugged=faults["choke_plugged"],
                choke_washed=faults["choke_washed"],
                stack=s.stack,
                riser_pressure="well.riser_pressure",
                parted="bore.disconnected",
                weight="well.string_weight",
            ),
            outputs=dict(**under("well", "k_string", "k_bore", "in_well", "outside"), k_out="well.k_choke"),
        )
        net.block(
            well_hydraulics.formation_state,
            inputs=dict(
                **under("well", "productivity", "exposed", "hole_depth"),
                kick=faults["kick"],
                leak_off=ATMOSPHERE + self.leak_off * GRAVITY * s.shoe,
                losses=faults["losses"],
                rest_at_shoe=self.gradient * s.shoe,
                bit="well.bit_depth",
                formation="well.formation_pressure",
            ),
            outputs=dict(**under("well", "inflow_index", "gas_entry", "pore_pressure"), breaks_at="well.leak_off"),
        )
        net.block(
            well_geometry.mud_room,
            inputs=dict(
                hole_depth="well.hole_depth", first_depth="well.formation_depth", bit="well.bit_depth", **s.named
            ),
            outputs=dict(room="well.room"),
        )
        k_line = s.line * sqrt(2.0 * self.choke_line_inside / (FRICTION * s.stack * self.mud))
        net.block(
            well_hydraulics.balance,
            inputs=dict(
                **under(
                    "well",
                    "string_pressure",
                    "string_compliance",
                    "gas_volume",
                    "room",
                    "to_bottom",
                    "to_bit",
                    "to_shoe",
                    "leak_off",
                    "k_string",
                    "in_well",
                    "outside",
                    "k_bore",
                    "riser_pressure",
                    "line_density",
                    "line_compliance",
                    "k_choke",
                ),
                pump="well.pump_flow",
                mud="well.annulus_mud",
                squeeze="well.gas_squeeze",
                rest=ATMOSPHERE + self.gradient * s.stack,
                soft=soft,
                formation="well.pore_pressure",
                productivity="well.inflow_index",
                loss_index=self.loss_index / PER_DRAWDOWN,
                path="choke_line.sees_well",
                up_path="choke_line.sees_riser",
                k_line=k_line,
                fall=GRAVITY * s.stack,
                surplus="well.line_surplus",
                float_valve="well.float",
            ),
            states=under("well", "stack_pressure", "line_pressure"),
            outputs=under(
                "well", "string_flow", "bore_flow", "line_flow", "choke_flow", "influx_rate", "loss_rate", "up_line"
            ),
        )
        gone = under(
            "well", "bit_mud", "mud_up", "gas_up", "down", "mud_out", "gas_out", "back", "up_out", "up_back",
            "choke_mud", "choke_gas",
        )  # fmt: skip
        net.block(
            well_hydraulics.passed,
            inputs=dict(
                **under("well", "string_mud", "line_mud", "line_gas", "riser_mud", "gas_top", "gas_bottom"),
                **under("well", "line_share", "in_well", "up_line"),
                mud="well.annulus_mud",
                gas="well.annulus_gas",
                stack=s.stack,
                share="well.gas_share",
                rho="well.gas_density",
                line_rho="well.line_gas_density",
                pump="well.pump_flow",
                from_string="well.string_flow",
                to_riser="well.bore_flow",
                into_line="well.line_flow",
                through_choke="well.choke_flow",
                loss="well.loss_rate",
            ),
            outputs=dict(**gone, lost_mud="well.lost_mud"),
        )
        kill_mud.build_moves(net)
        net.block(
            well_hydraulics.exchange,
            inputs=dict(
                **gone,
                inflow_rho="well.inflow_density",
                in_well="well.in_well",
                pump="well.pump_flow",
                inflow="well.influx_rate",
                lost="well.lost_mud",
            ),
            states=dict(
                **under("well", "string_mud", "line_mud", "line_gas"), mud="well.annulus_mud", gas="well.annulus_gas"
            ),
            outputs=under("well", "to_riser_mud", "to_riser_gas", "choked", "lost_now", "gained", "beside"),
        )
        net.block(
            well_gas.gas_motion,
            inputs=dict(
                **under("well", "gained", "bore_flow", "line_flow", "string_flow", "in_well"),
                mass="well.annulus_gas",
                volume="well.gas_volume",
                room="well.gas_room",
                slip=self.migration,
                entry="well.gas_entry",
                bit="well.bit_depth",
                **s.named,
            ),
            states=dict(top="well.gas_top", bottom="well.gas_bottom"),
        )

    def _above(self, net: Network, site: Site, faults: dict[str, str]) -> None:
        s = self.sizes(site)
        net.block(
            well_geometry.riser_volume,
            inputs=dict(
                bit="well.bit_depth",
                stack=s.stack,
                collar_length=s.collar_length,
                riser=s.riser,
                pipe=s.pipe,
                collar=s.collar,
            ),
            outputs=dict(riser_room="well.riser_room"),
        )
        net.block(
            well_surface.riser_step,
            inputs=dict(
                mud_in="well.to_riser_mud",
                beside="well.beside",
                gas_in="well.to_riser_gas",
                flow_in="well.bore_flow",
                stack=s.stack,
                area=s.riser - s.pipe,
                room="well.riser_room",
                gradient="well.riser_gradient",
                slip=self.riser_migration,
                lined_up="trip_tank.line_up",
                trip="trip_tank.volume",
                fill=self.fill_rate * SCAN,
                parted="bore.disconnected",
            ),
            states=dict(
                mud="well.riser_mud",
                gas="well.riser_gas",
                rho="well.riser_gas_density",
                top="well.riser_gas_top",
                bottom="well.riser_gas_bottom",
                pressure="well.riser_pressure",
            ),
            outputs=under("well", "run_over", "gas_over", "filled"),
        )
        # What the sea weighs on a well whose riser has parted; a stack above the water stands in air.
        sea = ATMOSPHERE + SEA_WATER * GRAVITY * max(s.stack - self.air_gap, 0.0)
        net.block(
            well_surface.fall_out,
            inputs=dict(parted="bore.disconnected", sea=sea),
            states=dict(mud="well.riser_mud", gas="well.riser_gas", pressure="well.riser_pressure"),
            outputs=dict(fallen="well.fallen"),
        )
        for tag, unit in (("diverter.flow", "m3/s"), ("diverter.pressure", "Pa")):
            if tag not in net.variables:
                net.var(tag, 0.0, unit)
        net.block(
            well_surface.outlets,
            inputs=dict(gas_over="well.gas_over", outlet="bore.outlet", fallen="well.fallen", share=SLOW),
            states=dict(over="well.run_over", flow="diverter.flow", lost="well.to_sea", spilled="well.spilled"),
        )
        net.block(
            well_surface.under_packer,
            inputs=dict(
                stack_pressure="well.stack_pressure",
                outlet="bore.outlet",
                parted="bore.disconnected",
                area="bore.area",
                head=self.gradient * s.stack,
            ),
            outputs=dict(pressure="diverter.pressure"),
        )
        net.block(
            well_hydraulics.string_limit,
            inputs=dict(
                room="well.string_room",
                vented="floor.vented",
                soft=1.0 / self.mud_bulk_modulus,
                lost_now="well.lost_now",
            ),
            states=dict(mud="well.string_mud", spilled="well.spilled", lost="well.lost"),
        )
        kill_mud.build_run_out(net)
        net.block(
            well_surface.tanks_step,
            inputs=dict(
                lined_up="trip_tank.line_up",
                over="well.run_over",
                choked="well.choked",
                pump="well.pump_flow",
                filled="well.filled",
                capacity=self.trip_tank_capacity,
            ),
            states=dict(pit="well.pit", trip="trip_tank.volume"),
        )
        add_instruments(self, net, s, faults)
