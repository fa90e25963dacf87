"""The well's names: variables, readings, commands and faults, and the instruments that show it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.constants import ATMOSPHERE, GRAVITY
from trainer.hydraulics.catalogue import Variables
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import under
from trainer.plant import well_surface
from trainer.plant.base import button, choice, component_fault, reading, state_reading
from trainer.plant.well_geometry import Sizes
from trainer.units import from_unit, to_unit

if TYPE_CHECKING:
    from trainer.plant.well import Well

# The second panel has no meters.
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
     "Change to the other pump and renew the valve."),
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
    """Gauges and sensors, after the physics of the scan."""
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
