"""Junction boxes: solenoid air valves with their air filter and moisture separator, and the lamps' supply.

A solenoid air valve needs voltage to pull in and air to move the cylinder behind it. Moisture that nobody drains fills
the separator, passes on, and freezes in a frost. A panel's lamp tells that a pressure switch tripped at the surface.
"""

from __future__ import annotations

from trainer.constants import ICE_POINT
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives
from trainer.plant.base import PSI, component_fault, reading, same, state_reading
from trainer.plant.handwork import PERIOD, SECOND, service
from trainer.units import Flow, Number, Pressure, Temperature, Voltage

# Volts for each 12 V unit of the battery: pull in and drop out of solenoid valves, lamps out and full.
PULL_IN = 9.5
HOLD_IN = 8.4
"""V a unit of twelve at which a held solenoid lets go: 70 % (common practice)."""
DARK = 6.0
"""V a unit of twelve at which lamps are dark: half (from memory)."""
BRIGHT = 12.0
"""V a unit of twelve at which lamps shine fully."""
WET = 4.0e-6
"""Share of a drain bowl that damp air fills in a second while no pump runs. Invented."""
SOAKED = 1.0 / 900.0
"""Share of a drain bowl that wet air fills in a second: full in a quarter of an hour. Invented."""
THAWING = 60.0
"""s in which ice melts. Invented."""


def build_boxes(net: Network, volts: float, units: float, scale: float) -> None:
    """Add the boxes' air and solenoid supply; ``volts`` is the direct voltage they start at, of ``units`` batteries,
    and ``scale`` the panels' voltage over 120 V."""
    net.var("boxes.air", 125.0 * PSI, "Pa")
    unit = ("unit",)
    reading(
        net,
        "boxes.air_pressure",
        "psi",
        0,
        200,
        "Air at the solenoid valves, after filter and separator.",
        unit,
        (85, 130),
    )
    reading(net, "boxes.moisture", "%", 0, 100, "Water in the separator's bowl.", unit, (0, 50), 0.05)
    reading(net, "boxes.ice", "%", 0, 100, "How far ice closes the solenoid valves' air.", ())
    component_fault(
        net,
        "boxes",
        "filter_blocked",
        "Junction box: air filter blocked",
        ("boxes.air_pressure", "manifold_regulator.pilot"),
        "Rig air is normal and the box's gauge is low: operate the levers, replace the filter element.",
    )
    component_fault(
        net,
        "boxes",
        "frozen",
        "Junction box: moisture frozen in the air lines",
        ("boxes.air_pressure", "manifold_regulator.pilot"),
        "Operate the levers by hand; thaw with warm cloths, drain the separator, repair the dryer.",
    )
    service(net, "boxes.drain", "Drain the moisture separator.", sets=(("boxes.moisture", 0.0),))
    service(net, "boxes.change_filter", "Change the air filter of the solenoid box.", ("boxes.filter_blocked",))
    service(net, "boxes.thaw", "Thaw the air lines of the solenoid box.", ("boxes.frozen",), (("boxes.ice", 0.0),))
    net.block(
        moisture,
        inputs=dict(
            weather="ambient.surface", pumps="air.pumps", wet="fault.air.dryer_failed", frozen="fault.boxes.frozen"
        ),
        states=dict(bowl="boxes.moisture", ice="boxes.ice"),
        gate=SECOND,
    )
    net.block(
        box_air,
        inputs=dict(air="air.p", ice="boxes.ice", blocked="fault.boxes.filter_blocked"),
        outputs=dict(at_valves="boxes.air"),
        gate=SECOND,
    )
    net.block(
        same,
        inputs=dict(value="boxes.air"),
        outputs=dict(copy="boxes.air_pressure"),
        rate="observe",
        gate=SECOND,
    )
    panels = ("driller", "remote")
    state_reading(net, "solenoids.live", ("no", "yes"), "Solenoid valves have voltage enough to work.", (), 1.0)
    band = (108 * scale, 140 * scale)
    reading(net, "panel.volts", "V", 0, 160 * scale, "Direct voltage at the panels.", ("unit", "driller"), band, volts)
    reading(net, "panel.brightness", "%", 0, 100, "How bright the panels' lamps are.", panels, None, 1.0)
    net.block(solenoids, inputs=dict(volts="battery.bus", units=units), states=dict(live="solenoids.live"), gate=SECOND)
    net.block(
        lamps_glow,
        inputs=dict(volts="battery.bus", units=units),
        outputs=dict(panel_volts="panel.volts", brightness="panel.brightness"),
        rate="observe",
        gate=SECOND,
    )


@gives("bowl", "ice")
def moisture(
    bowl: Number, ice: Number, weather: Temperature, pumps: Flow, wet: Number, frozen: Number
) -> tuple[Number, Number]:
    """Water in the separator's bowl and ice in the lines (0 to 1) after a second.

    A full bowl lets water pass, which freezes below 0 degC and thaws above.
    """
    held = min(bowl + PERIOD * (WET * (1.0 + 100.0 * pumps) + SOAKED * wet), 1.0)
    freezes = weather < ICE_POINT and held > 0.5
    target = 1.0 if frozen > 0.0 or freezes else 0.0
    return held, ice + (target - ice) * (PERIOD / (10.0 if frozen > 0.0 else THAWING))


@gives("at_valves")
def box_air(air: Pressure, ice: Number, blocked: Number) -> Pressure:
    """Air at the solenoid valves, Pa gauge: ``ice`` shuts the line altogether at 1, a blockage leaves a tenth."""
    return air * (1.0 - ice) * (1.0 - 0.9 * blocked)


@gives("live")
def solenoids(volts: Voltage, live: Number, units: Number) -> Number:
    """1 while the solenoid valves work: they pull in above one voltage and drop out below a lower one."""
    return 1.0 if volts > units * PULL_IN or (live > 0.5 and volts > units * HOLD_IN) else 0.0


@gives("panel_volts", "brightness")
def lamps_glow(volts: Voltage, units: Number) -> tuple[Voltage, Number]:
    """Voltage at the panels and the lamps' brightness, which falls with its square."""
    over = min(max((volts - units * DARK) / (units * (BRIGHT - DARK)), 0.0), 1.0)
    return volts, over * over
