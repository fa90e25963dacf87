"""Mixing of the control fluid: potable-water line, concentrate and glycol pumps, and what the mix is like.

Water passes an isolation gate valve, a strainer, a regulator, an air-operated valve and a rate-set valve with a flow
indicator; while it runs, two air-driven pumps add concentrate and glycol at the stroke rates set on them. The upper
float of the mixed-fluid tank starts and stops it. The mix is taken as stirred; fluid that returns to the tank is taken
to be like what is in it. What is wrong with a mix comes from ``trainer.fluids.control_fluid``.
"""

from __future__ import annotations

from math import sqrt

from trainer.constants import ATMOSPHERE
from trainer.fluids.control_fluid import (
    FREEZING_MARGIN,
    RICH_SHARE,
    bacteria_growth,
    blend,
    freezing_point,
    lubricity,
)
from trainer.hydraulics.catalogue import Variables
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives, under
from trainer.hydraulics.storage import Fixed
from trainer.plant.base import PSI, amount, button, choice, component_fault, reading, same, state_reading
from trainer.plant.handwork import PERIOD, SECOND, SHUT, hand_valve, is_shut, needs, service
from trainer.units import Flow, Frequency, Number, Pressure, Temperature, Volume, from_unit

MODES = ("off", "auto", "manual")
FINDINGS = ("none", "too_rich", "bacteria", "poor_lubrication", "freezes")
MAIN_PRESSURE = 70.0 * PSI
"""Pa gauge of the rig's potable water. Common practice."""
SET_PRESSURE = 40.0 * PSI
"""Pa gauge behind its regulator. Invented."""
HALF = 0.5
"""Opening of the rate-set valve with which the rated flow passes. Ours."""
# What a dosing pump gives a stroke, for each m3/s of water: 35 strokes a minute make about 3 % on any rig.
CONCENTRATE_STROKE = 5.0e-5 / from_unit(15.0, "gpm")
GLYCOL_STROKE = 5.0e-4 / from_unit(15.0, "gpm")
"""m3 a stroke of the glycol pump for each m3/s of water, so that strokes keep to the flow. Invented."""
FULL_STROKES = 2.0
"""Strokes a second that a dosing pump can make. Invented."""
LAST = 0.01
"""m3 at which a dosing pump begins to draw air. Invented."""
POTABLE = 50.0
"""m3 of potable water: more than any drill draws."""
STORES = 5.0
"""m3 of each additive in store: more than any drill draws."""
DRAIN = 6.3e-3
"""m3/s through the open drain of the mixing tank, 100 gpm. Invented."""


def build_mixing(
    net: Network,
    full: float,
    start: float,
    stop: float,
    water_rate: float,
    stores: dict[str, tuple[float, float]],
    shares: tuple[float, float],
) -> None:
    """Add the water line, both dosing pumps and the mix of the node ``tank`` (``full`` m3).

    ``start`` and ``stop`` are the upper float's levels (shares of full), ``water_rate`` m3/s passes the half-open
    rate-set valve at 40 psi; ``stores`` gives full volume and content (m3) of "concentrate" and "glycol";
    ``shares`` the intended shares of both in the mix.
    """
    net.node("water_main", Fixed(ATMOSPHERE + MAIN_PRESSURE, POTABLE))
    net.node("stores", Fixed(ATMOSPHERE, STORES))
    _water(net)
    dosed = 1.0 - shares[0] - shares[1]
    for name, stroke, share in (
        ("concentrate", CONCENTRATE_STROKE * water_rate, shares[0]),
        ("glycol", GLYCOL_STROKE * water_rate, shares[1]),
    ):
        _store(net, name, *stores[name])
        _dosing(net, name, min(water_rate * share / dosed / stroke, FULL_STROKES))
    _float(net, start, stop, full)
    net.block(
        water_flow,
        inputs=dict(
            rated=water_rate,
            running="mixing.running",
            gate="water.gate",
            regulator="water.regulator",
            opening="water.rate_set",
            air="air.working",
            strainer="fault.water.strainer_blocked",
            low="fault.water.regulator_low",
            stuck="fault.water.valve_stuck",
            leaks="fault.water.valve_leaks",
            left="water_main.v",
        ),
        outputs=under("water", "q", "pressure", "valve"),
        gate=SECOND,
    )
    for name, stroke in (("concentrate", CONCENTRATE_STROKE), ("glycol", GLYCOL_STROKE)):
        net.block(
            dosing,
            inputs=dict(
                rate=f"{name}_pump.rate",
                stroke=stroke * water_rate,
                running="mixing.running",
                air="air.working",
                content=f"{name}_tank.v",
                lost=f"fault.{name}_pump.lost_prime",
            ),
            outputs=under(f"{name}_pump", "q", "strokes"),
            gate=SECOND,
        )
    hand_valve(net, "tank.drain", "Mixed-fluid tank: drain valve.", 0.0)
    net.var("mix.concentrate_share", shares[0])
    net.var("mix.glycol_share", shares[1])
    net.block(
        poured,
        inputs=dict(
            water_q="water.q",
            concentrate_q="concentrate_pump.q",
            glycol_q="glycol_pump.q",
            drain="tank.drain",
            full=full,
        ),
        states=dict(
            tank="tank.v",
            main="water_main.v",
            concentrate="concentrate_tank.v",
            glycol="glycol_tank.v",
            ground="ground.v",
            share="mix.concentrate_share",
            glycol_share="mix.glycol_share",
        ),
        gate=SECOND,
    )
    _sample(net)


def _water(net: Network) -> None:
    net.var("water.q", 0.0, "m3/s")
    hand_valve(net, "water.gate", "Potable water: isolation gate valve.")
    state_reading(net, "water.valve", SHUT, "Potable water: air-operated on / off valve.", ("unit",))
    reading(
        net, "water.pressure", "psi", 0, 100, "Potable water after its regulator.", ("unit",), (30, 50), SET_PRESSURE
    )
    reading(net, "water.flow", "gpm", 0, 60, "Potable water: flow indicator.", ("unit",))
    reading(net, "water.regulator", "psi", 0, 60, "Potable water: regulator's setting.", ("unit",), None, SET_PRESSURE)
    amount(net, "water.regulator", 0, 60, "psi", "Potable water: set the pressure regulator.", ("unit",))
    reading(net, "water.rate_set", "%", 0, 100, "Potable water: opening of the rate-set valve.", ("unit",), None, HALF)
    amount(net, "water.rate_set", 0, 100, "%", "Potable water: open or close the rate-set valve.", ("unit",))
    for kind, title, shows, remedy in (
        (
            "strainer_blocked",
            "Potable water: Y-strainer blocked",
            ("water.pressure", "water.flow", "mix.concentrate"),
            "Shut the gate valve, clean the strainer; check the mix, it went rich.",
        ),
        (
            "regulator_low",
            "Potable water: regulator fails low",
            ("water.pressure", "water.flow", "mix.concentrate"),
            "Reset or replace the regulator; correct the mix.",
        ),
        (
            "valve_stuck",
            "Potable water: air-operated valve stays shut",
            ("water.valve", "water.flow", "tank.level"),
            "Check its air; free the valve; mix by hand meanwhile.",
        ),
        (
            "valve_leaks",
            "Potable water: air-operated valve leaks by",
            ("water.flow", "tank.level", "mix.concentrate"),
            "Shut the gate valve, replace the seat; the mix is thinned: correct it.",
        ),
    ):
        component_fault(net, "water", kind, title, shows, remedy)
    service(
        net,
        "water.clean_strainer",
        "Clean the potable-water strainer.",
        ("water.strainer_blocked",),
        guard=needs((("water.gate", is_shut),), "Shut the water's gate valve before opening the strainer."),
    )
    net.block(same, inputs=dict(value="water.q"), outputs=dict(copy="water.flow"), rate="observe", gate=SECOND)


def _store(net: Network, name: str, full: float, content: float) -> None:
    net.node(f"{name}_tank", Fixed(ATMOSPHERE, content))
    gallons = round(full / 0.003785411784)
    sight = f"{name.capitalize()} tank, by its sight glass."
    reading(net, f"tank.{name}", "gal", 0, gallons, sight, ("unit",), (0.2 * gallons, gallons), content)
    net.block(
        same,
        inputs=dict(value=f"{name}_tank.v"),
        outputs=dict(copy=f"tank.{name}"),
        rate="observe",
        gate=SECOND,
    )

    def fill(machine: Variables) -> None:
        added = max(full - machine.read(f"{name}_tank.v"), 0.0)
        machine.put("stores.v", machine.read("stores.v") - added)
        machine.put(f"{name}_tank.v", machine.read(f"{name}_tank.v") + added)

    button(net, f"{name}_tank.fill", f"Fill the {name} tank from drums.", ("unit",), fill)


def _dosing(net: Network, name: str, strokes: float) -> None:
    pump = f"{name}_pump"
    net.var(f"{pump}.q", 0.0, "m3/s")
    title = f"{name.capitalize()} pump"
    reading(net, f"{pump}.rate", "1/min", 0, 120, f"{title}: stroke rate set.", ("unit",), None, strokes)
    amount(net, f"{pump}.rate", 0, 120, "1/min", f"{title}: set the stroke rate; it makes the ratio.", ("unit",))
    reading(net, f"{pump}.strokes", "1/min", 0, 240, f"{title}: strokes made now.", ("unit",))
    component_fault(
        net,
        pump,
        "lost_prime",
        f"{title}: runs without delivering",
        (f"mix.{name}", f"{pump}.strokes", f"tank.{name}"),
        "Prime the pump, check its suction and valves; correct the mix.",
    )
    service(net, f"{pump}.prime", f"Prime the {name} pump.", (f"{pump}.lost_prime",))


def _float(net: Network, start: float, stop: float, full: float) -> None:
    net.var("mixing.asked")
    state_reading(net, "mixing.mode", MODES, "Mixing selector.", ("unit",), 1.0)
    choice(net, "mixing.mode", MODES, "Mixing: off, automatic by the upper float, or manual.", ("unit",))
    state_reading(net, "mixing.running", ("no", "yes"), "Fluid is being mixed.", ("unit",))
    shows = ("mixing.running", "tank.level")
    up = component_fault(
        net,
        "mixing",
        "float_stuck_up",
        "Upper float switch stuck up: mixing does not start",
        shows,
        "Mix in manual by the sight glass; free the float.",
    )
    down = component_fault(
        net,
        "mixing",
        "float_stuck_down",
        "Upper float switch stuck down: mixing does not stop",
        shows,
        "Stop mixing by its selector before the tank overflows; free the float.",
    )
    net.block(
        upper_float,
        inputs=dict(volume="tank.v", start=full * start, stop=full * stop, mode="mixing.mode", up=up, down=down),
        states=dict(asked="mixing.asked"),
        outputs=dict(running="mixing.running"),
        gate=SECOND,
    )


def _sample(net: Network) -> None:
    unit = ("unit",)
    reading(net, "tank.mixing_flow", "gpm", 0, 60, "Fluid going into the mixed-fluid tank.", ())
    reading(net, "mix.concentrate", "%", 0, 20, "Concentrate in the mix, by refractometer.", unit, (2, 6))
    reading(net, "mix.glycol", "%", 0, 60, "Glycol in the mix, by refractometer.", unit)
    reading(net, "mix.freezing_point", "degF", -60, 40, "Freezing point of the mix, by test strip.", unit)
    reading(net, "mix.lubricity", "%", 0, 100, "How well the mix lubricates.", ())
    reading(net, "mix.bacteria", "%", 0, 100, "How fast bacteria grow in the mix.", ())
    state_reading(net, "mix.finding", FINDINGS, "The worst that a sample of the mix shows.", unit)
    net.block(
        sample,
        inputs=dict(
            concentrate="mix.concentrate_share",
            glycol="mix.glycol_share",
            coldest="ambient.surface",
            water_q="water.q",
            concentrate_q="concentrate_pump.q",
            glycol_q="glycol_pump.q",
        ),
        outputs=dict(
            **under("mix", "freezing_point", "lubricity", "bacteria", "finding"),
            shown_concentrate="mix.concentrate",
            shown_glycol="mix.glycol",
            mixing_flow="tank.mixing_flow",
        ),
        rate="observe",
        gate=SECOND,
    )


@gives("asked", "running")
def upper_float(
    volume: Volume, start: Volume, stop: Volume, asked: Number, mode: Number, up: Number, down: Number
) -> tuple[Number, Number]:
    """What the upper float asks for (with hysteresis) and whether mixing runs (selector off, auto, manual)."""
    floats = 1.0 if volume < start else (0.0 if volume > stop else asked)
    asks = 0.0 if up > 0.0 else (1.0 if down > 0.0 else floats)
    return asks, (1.0 if mode > 1.5 or (mode > 0.5 and asks > 0.5) else 0.0)


@gives("q", "pressure", "valve")
def water_flow(
    rated: Flow,
    running: Number,
    gate: Number,
    regulator: Pressure,
    opening: Number,
    air: Number,
    strainer: Number,
    low: Number,
    stuck: Number,
    leaks: Number,
    left: Volume,
) -> tuple[Flow, Pressure, Number]:
    """Water flow (m3/s), pressure after the regulator (Pa gauge) and the air-operated valve's position.

    The flow follows the square root of the pressure, which is ``rated`` at 40 psi with the rate-set valve half open.
    """
    valve = 1.0 if running > 0.5 and air > 0.5 and stuck <= 0.0 else 0.0
    passes = max(valve, 0.2 * leaks)
    held = gate * regulator * (1.0 - 0.8 * low) * (1.0 - 0.9 * strainer * min(passes * 2.0, 1.0))
    supplied = held if left > 1.0 else 0.0
    return rated * passes * (opening / HALF) * sqrt(supplied / SET_PRESSURE), supplied, valve


@gives("q", "strokes")
def dosing(
    rate: Frequency, stroke: Volume, running: Number, air: Number, content: Volume, lost: Number
) -> tuple[Flow, Frequency]:
    """Delivery of an air-driven dosing pump (m3/s) and its strokes (1/s): it strokes faster when it lost its prime."""
    works = running if air > 0.5 else 0.0
    primed = (1.0 - lost) * min(max(content / LAST, 0.0), 1.0)
    return works * rate * stroke * primed, works * rate * (1.0 + 0.5 * (1.0 - primed))


@gives("tank", "main", "concentrate", "glycol", "ground", "share", "glycol_share")
def poured(
    tank: Volume,
    main: Volume,
    concentrate: Volume,
    glycol: Volume,
    ground: Volume,
    share: Number,
    glycol_share: Number,
    water_q: Flow,
    concentrate_q: Flow,
    glycol_q: Flow,
    drain: Number,
    full: Volume,
) -> tuple[Volume, Volume, Volume, Volume, Volume, Number, Number]:
    """Volumes (m3) of all tanks and the mix's shares after a second of mixing and draining; what overfills runs off."""
    water = water_q * PERIOD
    first = min(concentrate_q * PERIOD, max(concentrate, 0.0))
    second = min(glycol_q * PERIOD, max(glycol, 0.0))
    added = water + first + second
    part = first / added if added > 0.0 else 0.0
    other = second / added if added > 0.0 else 0.0
    drained = min(drain * DRAIN * PERIOD, tank)
    over = max(tank + added - full, 0.0) + drained
    return (
        tank + added - over,
        main - water,
        concentrate - first,
        glycol - second,
        ground + over,
        blend(tank, share, added, part),
        blend(tank, glycol_share, added, other),
    )


@gives("shown_concentrate", "shown_glycol", "freezing_point", "lubricity", "bacteria", "finding", "mixing_flow")
def sample(
    concentrate: Number, glycol: Number, coldest: Temperature, water_q: Flow, concentrate_q: Flow, glycol_q: Flow
) -> tuple[Number, Number, Temperature, Number, Number, Number, Flow]:
    """Shares, freezing point (K), lubricity, bacteria, the worst finding (index of FINDINGS) and flow into the tank."""
    freezes = freezing_point(min(glycol, 0.55))
    slick = lubricity(concentrate)
    grows = bacteria_growth(concentrate, glycol)
    rich = 1.0 if concentrate > RICH_SHARE else 0.0
    milder = 3.0 if slick < 1.0 else (2.0 if grows > 0.0 else rich)
    worst = 4.0 if freezes > coldest - FREEZING_MARGIN else milder
    return concentrate, glycol, freezes, slick, grows, worst, water_q + concentrate_q + glycol_q
