"""The subsea workshop: what the pods' electronics say of themselves, for whoever looks after them.

For one function at a time it shows the current through each coil of its solenoid valves. A coil that is open draws
none; one that is wired backward draws as a sound one does, so there the currents stand and no answer comes. For each
pod it shows the insulation of its cable and electronics to earth, and how warm and how damp its housing is. Water in a
connector takes an hour to reach the wires, which is the time that is left to work on the other pod.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from trainer.hydraulics.lists import added, chosen
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives, under
from trainer.plant.base import choice, component_fault, reading, state_reading
from trainer.plant.functions import Function
from trainer.plant.handwork import PERIOD, SECOND
from trainer.units import Current, Number, Resistance, Temperature, from_unit

WORKSHOP: Final = ("workshop",)
WAYS: Final = ("open", "close")
GROUND: Final = ("sound", "earth fault")
SOUND: Final = from_unit(500.0, "MOhm")
"""Ohm of a dry cable with its electronics against earth. Invented."""
EARTHED: Final = from_unit(0.02, "MOhm")
"""Ohm of a side with an earth fault. Invented."""
SOAKED: Final = from_unit(0.05, "MOhm")
"""Ohm through a connector full of water. Invented."""
LEAST: Final = from_unit(1.0, "MOhm")
"""Ohm below which the insulation counts as an earth fault. Invented; rigs set it for their own equipment."""
SOAKS: Final = 3600.0
"""s in which water fills a connector. Invented."""
DAMP: Final = 1800.0
"""s in which a housing that leaks is full of damp. Invented."""
DRY: Final = 0.08
"""Relative humidity in a housing filled with dry nitrogen. Invented."""
WARMS: Final = 12.0
"""K that one side of the electronics warms its housing over the sea. Invented."""
WARMING: Final = 600.0
"""s in which the housing follows. Invented."""


def build_workshop(net: Network, functions: Sequence[Function], pods: Sequence[str]) -> None:
    """Add the choice of a solenoid valve, its coils' currents, and insulation and housing of each of ``pods``.

    ``functions`` are those whose orders are messages. ``link_POD.soaked`` is set once water has cut the pod off.
    """
    ids = tuple(f.id for f in functions)
    meaning = "Subsea workshop: the function whose coils are measured."
    state_reading(net, "workshop.solenoid", ids, meaning, WORKSHOP)
    choice(net, "workshop.solenoid", ids, meaning, WORKSHOP)
    for pod in pods:
        for letter in "ab":
            _coils(net, functions, pod, letter)
        _insulation(net, pod)


def _coils(net: Network, functions: Sequence[Function], pod: str, letter: str) -> None:
    """Currents of the chosen function's two coils on one side of a pod's electronics."""
    tags = {way: f"pod_{pod}.coil_{way}_{letter}" for way in WAYS}
    for way, tag in tags.items():
        what = f"{pod.capitalize()} pod: current of coil {letter.upper()}, {way} side, of the function chosen."
        reading(net, tag, "mA", 0, 1500, what, WORKSHOP)
    net.block(
        coil_currents,
        inputs=dict(
            number="workshop.solenoid",
            orders=[f"{f.id}.{pod}.order" for f in functions],
            open_circuit=[f.fault(f"coil_dead_{pod}") if letter == "a" else 0.0 for f in functions],
            amps=f"pod_{pod}.amps_{letter}",
        ),
        outputs={f"{way}s": tag for way, tag in tags.items()},
        rate="observe",
    )


def _insulation(net: Network, pod: str) -> None:
    """Insulation, temperature and humidity of a pod, with the faults that they show."""
    i, name, link = f"pod_{pod}", f"{pod.capitalize()} pod", f"link_{pod}"
    reading(net, f"{link}.insulation", "MOhm", 0, 1000, f"{name}: insulation to earth.", WORKSHOP, None, SOUND)
    state_reading(net, f"{link}.ground", GROUND, f"{name}: earth-fault monitor.", WORKSHOP)
    warm = net.variables["ambient.sea"] + 2.0 * WARMS
    inside = f"{name}: temperature in its electronics."
    reading(net, f"{i}.temperature", "degF", 30, 200, inside, WORKSHOP, None, warm)
    reading(net, f"{i}.humidity", "%", 0, 100, f"{name}: humidity in its electronics.", WORKSHOP, None, DRY)
    shows = (f"{link}.insulation", f"{link}.ground")
    wet = component_fault(
        net, i, "connector_wet", f"{name}: water in the connector of its cable", shows,
        "The insulation falls within the hour: use the other pod, make the well safe, plan to pull the pod.",
    )  # fmt: skip
    damp = component_fault(
        net, i, "housing_leaks", f"{name}: housing of its electronics leaks", (f"{i}.humidity", *shows),
        "Humidity rises before the insulation falls: use the other pod, make the well safe, plan to pull it.",
    )  # fmt: skip
    earthed = [
        component_fault(
            net, i, f"side_{letter}_earthed", f"{name}: side {letter.upper()} of its electronics has an earth fault",
            shows, "The insulation comes back with this side off: leave it off, work on the other side, report.",
        )
        for letter in "ab"
    ]  # fmt: skip
    water = net.var(f"{link}.water")
    sides = [f"{i}.side_{letter}" for letter in "ab"]
    net.block(
        housing,
        inputs=dict(
            sides=sides,
            sea="ambient.sea",
            wet=wet,
            damp=damp,
            soaking=PERIOD / SOAKS,
            damping=PERIOD / DAMP,
            share=PERIOD / WARMING,
        ),
        states=dict(water=water, **under(i, "temperature", "humidity")),
        outputs=dict(soaked=f"{link}.soaked"),
        gate=SECOND,
    )
    net.block(
        insulated,
        inputs=dict(water=water, humidity=f"{i}.humidity", sides=sides, earthed=earthed),
        outputs=under(link, "insulation", "ground"),
        rate="observe",
    )


@gives("opens", "closes")
def coil_currents(
    number: Number, orders: list[Number], open_circuit: list[Number], amps: Current
) -> tuple[Current, Current]:
    """Current (A) of the open and of the close coil on one side, for the function chosen (counted from 0).

    A side keeps its coil under current as long as the order stands. Coils of the open side have no fault of their own.
    """
    order = chosen(orders, number + 1.0)
    sound = 0.0 if chosen(open_circuit, number + 1.0) > 0.0 else 1.0
    return (amps if abs(order - 1.0) < 0.5 else 0.0), (amps * sound if abs(order - 2.0) < 0.5 else 0.0)


@gives("temperature", "humidity", "water", "soaked")
def housing(
    temperature: Temperature,
    humidity: Number,
    water: Number,
    sides: list[Number],
    sea: Temperature,
    wet: Number,
    damp: Number,
    soaking: Number,
    damping: Number,
    share: Number,
) -> tuple[Temperature, Number, Number, Number]:
    """Temperature (K) and humidity of a pod's housing a second later, water in its connector (share), and whether that
    has cut the pod off."""
    warm = sea + WARMS * added([1.0 if side > 0.5 else 0.0 for side in sides])
    now = min(water + wet * soaking, 1.0)
    return (
        temperature + share * (warm - temperature),
        min(humidity + damp * damping * (1.0 - DRY), 1.0),
        now,
        1.0 if now >= 1.0 else 0.0,
    )


@gives("insulation", "ground")
def insulated(water: Number, humidity: Number, sides: list[Number], earthed: list[Number]) -> tuple[Resistance, Number]:
    """Insulation to earth (Ohm), all ways in parallel, and whether the monitor calls it an earth fault."""
    over = max(humidity - 0.5, 0.0)
    sides_leak = added([fault if side > 0.5 else 0.0 for side, fault in zip(sides, earthed, strict=True)]) / EARTHED
    leaks = 1.0 / SOUND + (water * water + over * over) / SOAKED + sides_leak
    ohms = 1.0 / leaks
    return ohms, (1.0 if ohms < LEAST else 0.0)
