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
from trainer.hydraulics.network import Network
from trainer.plant import kill_mud, well_gas, well_geometry, well_hydraulics, well_surface, well_tags
from trainer.plant.base import Part
from trainer.plant.drill_floor import DrillFloor
from trainer.plant.well_geometry import Sizes, circle
from trainer.units import Density, Flow, Frequency, Length, Pressure, Temperature, Velocity, Volume, between, from_unit

PER_DRAWDOWN = from_unit(100.0, "psi")
# Friction factor of the mud in the choke line (turbulent, rough pipe; Darcy), enough for one coefficient.
FRICTION = 0.03
DISCHARGE = 0.6


# A drill's hole reaches at least this far below the shoe, m, and at most this many times as deep as the file's.
LEAST_OPEN_HOLE = 100.0
MOST_DEPTH = 1.3

_STILL = {
    "floor.mud_pumps": 0.0, "floor.mud_pumps.set": 0.0, "floor.rotary": 0.0, "floor.rotary.set": 0.0,
    "floor.rop": 0.0, "floor.bit_weight": 0.0, "well.standpipe": 0.0, "well.drillpipe_pressure": 0.0,
    "well.flow_out": 0.0, "well.flow_in": 0.0, "well.string_flow": 0.0,
}  # fmt: skip
_LOOSE = {
    "floor.top_drive": 0.0, "floor.connected": 0.0, "floor.vented": 1.0, "trip_tank.line_up": 1.0, "well.exposed": 1.0,
}  # fmt: skip


class Site(Protocol):
    """What the well needs to know about the rig it belongs to."""

    @property
    def water_depth(self) -> float: ...
    @property
    def sea_temperature(self) -> float: ...
    @property
    def well(self) -> Well: ...
    @property
    def floor(self) -> DrillFloor: ...


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
        """Depth of the preventers below the rotary table, m."""
        if self.stack_depth is not None:
            return self.stack_depth
        return self.air_gap + site.water_depth - self.stack_height

    def sizes(self, site: Site) -> Sizes:
        """Areas and depths for the laws."""
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
        """Weight of the mud, Pa/m."""
        return self.mud * GRAVITY

    @property
    def drilling_flow(self) -> float:
        """Flow while drilling, m3/s."""
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
        well_tags.add_variables(self, net, self.contents(site, self.depth, site.floor.hook, pumping=True))
        faults = well_tags.add_faults(net)
        well_tags.add_commands(net)
        kill_mud.declare_kill_mud(net, self.mud)
        self._below(net, site, faults)
        self._above(net, site, faults)

    def _below(self, net: Network, site: Site, faults: dict[str, str]) -> None:
        s = self.sizes(site)
        kill_mud.build_weights(net, s, self.mud)
        soft = 1.0 / self.mud_bulk_modulus
        net.block(
            well_hydraulics.stand_filled,
            [
                "well.string_mud",
                "trip_tank.volume",
                "floor.string_length",
                "well.length_was",
                "floor.trip",
                "floor.vented",
                s.inside,
            ],
            ["well.string_mud", "trip_tank.volume", "well.length_was"],
        )
        net.block(
            well_hydraulics.cut_off,
            ["well.string_mud", "well.string_room", "well.string_end", "well.bit_depth", "bore.sheared",
             s.inside, s.stack, "well.fish_mud"],
            ["well.string_mud", "well.fish_mud"],
        )  # fmt: skip
        net.block(
            well_hydraulics.dry_top,
            ["well.string_mud", "well.string_room", "floor.vented", "floor.connected", "well.string_air", "well.slug"],
            ["well.string_air", "well.slug"],
        )
        net.block(
            well_hydraulics.string_state,
            ["well.string_mud", "well.bit_depth", "floor.hook", "bore.sheared", "floor.vented", "well.string_air",
             s.inside, s.stack, self.gradient, soft, "well.slug", "well.string_extra", "well.string_below"],
            ["well.string_pressure", "well.string_compliance", "well.string_room", "well.string_end",
             "well.surface_pressure"],
        )  # fmt: skip
        net.block(
            well_hydraulics.pump_flow,
            ["floor.mud_pumps", self.mud_pump_output, faults["pump_slip"], "floor.connected",
             "well.surface_pressure", self.pump_relief,
             "well.string_compliance", "well.string_mud", "well.string_room", "well.pit",
             "well.string_flow"],
            ["well.pump_flow"],
        )  # fmt: skip
        net.block(
            well_gas.gas_state_at,
            ["well.line_gas_density", well_surface.SEA_DEGREES, "well.line_pressure"], ["well.line_gas_density"],
        )  # fmt: skip
        net.block(
            well_hydraulics.line_state,
            ["well.line_mud", "well.line_gas", "well.line_gas_density", "well.line_pressure", s.line * s.stack,
             "well.line_mud_density", soft],
            ["well.line_surplus", "well.line_compliance", "well.line_density", "well.line_share"],
        )  # fmt: skip
        net.block(
            well_gas.gas_in_well,
            ["well.annulus_gas", "well.gas_density", "well.gas_share", "well.gas_top", "well.gas_bottom",
             "well.stack_pressure",
             self.gradient, site.sea_temperature, self.formation_temperature, "well.bit_depth", "well.hole_depth",
             *s.steps],
            ["well.gas_density", "well.gas_volume", "well.gas_squeeze", "well.gas_height", "well.gas_share",
             "well.gas_room"],
        )  # fmt: skip
        net.block(
            well_gas.gas_state_at, ["well.inflow_density", self.formation_temperature, "well.bottom_pressure.absolute"],
            ["well.inflow_density"],
        )  # fmt: skip
        net.block(
            well_hydraulics.moving_heads,
            ["well.string_flow", self.drilling_flow, self.annular_loss, "floor.pipe_velocity", self.swab_pressure,
             faults["balled"],
             "well.bit_depth", self.depth],
            ["well.friction", "well.swab"],
        )  # fmt: skip
        net.block(
            well_hydraulics.heads,
            ["well.gas_height", "well.gas_density", "well.gas_top", "well.gas_bottom", "well.bit_depth",
             "well.formation_depth", s.stack,
             s.shoe, self.mud, "well.friction", "well.swab", "well.annulus_extra", "well.shoe_extra"],
            ["well.to_bottom", "well.to_bit", "well.to_shoe"],
        )  # fmt: skip
        loss_at_full_flow = self.circulating_pressure - self.annular_loss
        net.block(
            well_hydraulics.passages,
            [self.drilling_flow / sqrt(loss_at_full_flow), "well.string_end", self.depth, faults["washout"],
             faults["plugged"],
             0.5 * DISCHARGE * circle(self.bore) * sqrt(2.0 / self.mud), "bore.area", "bore.leak",
             DISCHARGE * circle(self.choke_bore) * sqrt(2.0), "floor.choke", "well.line_density",
             faults["choke_plugged"], faults["choke_washed"], "bore.sheared", s.stack, "well.riser_pressure",
             "bore.outlet", "bore.disconnected", "well.string_weight"],
            ["well.k_string", "well.k_bore", "well.k_choke", "well.in_well", "well.outside"],
        )  # fmt: skip
        net.block(
            well_hydraulics.formation_state,
            ["well.productivity", "well.exposed", faults["kick"], ATMOSPHERE + self.leak_off * GRAVITY * s.shoe,
             faults["losses"], self.gradient * s.shoe, "well.bit_depth", "well.hole_depth",
             "well.formation_pressure"],
            ["well.inflow_index", "well.leak_off", "well.gas_entry", "well.pore_pressure"],
        )  # fmt: skip
        net.block(
            well_geometry.mud_room, ["well.hole_depth", "well.formation_depth", "well.bit_depth", *s.steps],
            ["well.room"],
        )  # fmt: skip
        k_line = s.line * sqrt(2.0 * self.choke_line_inside / (FRICTION * s.stack * self.mud))
        net.block(
            well_hydraulics.balance,
            ["well.stack_pressure", "well.line_pressure", "well.string_pressure", "well.string_compliance",
             "well.pump_flow",
             "well.annulus_mud", "well.gas_volume", "well.gas_squeeze", "well.room",
             ATMOSPHERE + self.gradient * s.stack, soft,
             "well.to_bottom", "well.to_bit", "well.to_shoe", "well.pore_pressure", "well.inflow_index",
             "well.leak_off",
             self.loss_index / PER_DRAWDOWN, "well.k_string", "well.in_well", "well.outside", "well.k_bore",
             "well.riser_pressure",
             "choke_line.sees_well", "choke_line.sees_riser", k_line, "well.line_density", GRAVITY * s.stack,
             "well.line_surplus",
             "well.line_compliance",
             "well.k_choke", "well.float"],
            ["well.stack_pressure", "well.line_pressure", "well.string_flow", "well.bore_flow", "well.line_flow",
             "well.choke_flow",
             "well.influx_rate", "well.loss_rate", "well.up_line"],
        )  # fmt: skip
        gone = ["well.bit_mud", "well.mud_up", "well.gas_up", "well.down", "well.mud_out", "well.gas_out", "well.back",
                "well.up_out", "well.up_back", "well.choke_mud", "well.choke_gas", "well.lost_mud"]  # fmt: skip
        net.block(
            well_hydraulics.passed,
            ["well.annulus_mud", "well.annulus_gas", "well.string_mud", "well.line_mud", "well.line_gas",
             "well.riser_mud",
             "well.gas_top", "well.gas_bottom", s.stack, "well.gas_share", "well.gas_density", "well.line_share",
             "well.line_gas_density", "well.in_well", "well.pump_flow", "well.string_flow", "well.bore_flow",
             "well.line_flow", "well.choke_flow", "well.loss_rate", "well.up_line"],
            gone,
        )  # fmt: skip
        kill_mud.build_moves(net)
        net.block(
            well_hydraulics.exchange,
            ["well.annulus_mud", "well.annulus_gas", "well.string_mud", "well.line_mud", "well.line_gas",
             "well.inflow_density", "well.in_well", "well.pump_flow", "well.influx_rate", *gone],
            ["well.annulus_mud", "well.annulus_gas", "well.string_mud", "well.line_mud", "well.line_gas",
             "well.to_riser_mud",
             "well.to_riser_gas", "well.choked", "well.lost_now", "well.gained", "well.beside"],
        )  # fmt: skip
        net.block(
            well_gas.gas_motion,
            ["well.annulus_gas", "well.gained", "well.gas_volume", "well.gas_room", "well.gas_top", "well.gas_bottom",
             "well.bore_flow", "well.line_flow", "well.string_flow", "well.in_well", self.migration, "well.gas_entry",
             "well.bit_depth", *s.steps],
            ["well.gas_top", "well.gas_bottom"],
        )  # fmt: skip

    def _above(self, net: Network, site: Site, faults: dict[str, str]) -> None:
        s = self.sizes(site)
        net.block(
            well_geometry.riser_volume, ["well.bit_depth", s.stack, s.collar_length, s.riser, s.pipe, s.collar],
            ["well.riser_room"],
        )  # fmt: skip
        net.block(
            well_surface.riser_step,
            ["well.riser_mud", "well.riser_gas", "well.riser_gas_density", "well.riser_gas_top",
             "well.riser_gas_bottom",
             "well.to_riser_mud", "well.beside", "well.to_riser_gas", "well.bore_flow", "well.riser_pressure",
             s.stack, s.riser - s.pipe,
             "well.riser_room", "well.riser_gradient", self.riser_migration, "trip_tank.line_up", "trip_tank.volume",
             self.fill_rate * SCAN, "bore.disconnected"],
            ["well.riser_mud", "well.riser_gas", "well.riser_gas_density", "well.riser_gas_top",
             "well.riser_gas_bottom",
             "well.riser_pressure", "well.run_over", "well.gas_over", "well.filled"],
        )  # fmt: skip
        # What the sea weighs on a well whose riser has parted; a stack above the water stands in air.
        sea = ATMOSPHERE + SEA_WATER * GRAVITY * max(s.stack - self.air_gap, 0.0)
        net.block(
            well_surface.fall_out,
            ["well.riser_mud", "well.riser_gas", "well.riser_pressure", "bore.disconnected", sea],
            ["well.riser_mud", "well.riser_gas", "well.riser_pressure", "well.fallen"],
        )  # fmt: skip
        for tag in ("diverter.flow", "diverter.pressure"):
            if tag not in net.variables:
                net.var(tag)
        net.block(
            well_surface.outlets,
            ["well.run_over", "well.gas_over", "bore.outlet", "well.fallen", "diverter.flow", "well.to_sea",
             "well.spilled", well_tags.SLOW],
            ["well.run_over", "diverter.flow", "well.to_sea", "well.spilled"],
        )  # fmt: skip
        net.block(
            well_surface.under_packer,
            ["well.stack_pressure", "bore.outlet", "bore.disconnected", "bore.area", self.gradient * s.stack],
            ["diverter.pressure"],
        )  # fmt: skip
        net.block(
            well_hydraulics.string_limit,
            ["well.string_mud", "well.string_room", "floor.vented", 1.0 / self.mud_bulk_modulus, "well.spilled",
             "well.lost",
             "well.lost_now"],
            ["well.string_mud", "well.spilled", "well.lost"],
        )  # fmt: skip
        kill_mud.build_run_out(net)
        net.block(
            well_surface.tanks_step,
            ["well.pit", "trip_tank.volume", "trip_tank.line_up", "well.run_over", "well.choked", "well.pump_flow",
             "well.filled",
             self.trip_tank_capacity],
            ["well.pit", "trip_tank.volume"],
        )  # fmt: skip
        well_tags.add_instruments(self, net, s, faults)
