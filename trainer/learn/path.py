"""What feeds what: the fluid's own way through the parts of a plant, read from the plant description.

Names are those of the schematic. Only parts that stand in the fluid's way are here; electrics, air and mud are not.
"""

from __future__ import annotations

from collections.abc import Mapping

from trainer.drawing.rig_view import RigView
from trainer.plant.functions import Function

Feeds = Mapping[str, tuple[str, ...]]

HEADER = "accumulator"


def feeds(rig: RigView) -> dict[str, tuple[str, ...]]:
    """For each part the parts that fluid comes from directly. The tank's water supply is fed by nothing here."""
    found: dict[str, tuple[str, ...]] = {"concentrate_pump": ("concentrate_tank",)}
    found["glycol_pump"] = ("glycol_tank",)
    found[rig.tank] = ("water_supply", "concentrate_pump", "glycol_pump")
    found[f"{rig.tank}.drain"] = (rig.tank,)
    for pump in rig.pumps:
        found[f"{pump.id}.suction"] = (rig.tank,)
        found[f"{pump.id}_strainer"] = (f"{pump.id}.suction",)
        found[pump.id] = (f"{pump.id}_strainer",)
        found[f"{pump.id}_check"] = (pump.id,)
    checks = tuple(f"{pump.id}_check" for pump in rig.pumps)
    found["relief"] = checks
    for item in rig.main_filters:
        found[item.id] = checks
    found[HEADER] = tuple(item.id for item in rig.main_filters) or checks
    for bank in rig.surface_banks:
        side = f"header_{bank.header}.isolation"
        found[side] = (HEADER,)
        found[f"{bank.id}.isolation"] = (side,)
        found[bank.id] = (f"{bank.id}.isolation",)
        found[f"{bank.id}.bleed"] = (bank.id,)
    for part in rig.attached:
        valve = f"{part.id}.{part.valve}" if part.valve else part.id
        found[valve] = (part.after,)
        if part.valve:
            found[part.id] = (valve,)
    working = _subsea(rig, found) if rig.pods else (HEADER,)
    for regulator in rig.power_regulators:
        found[regulator.id] = working
    for regulator in rig.diverter_regulators:
        found[regulator.id] = (HEADER,)
    for function in rig.functions:
        found[function.id] = _feeder(rig, function, working)
    return found


def _subsea(rig: RigView, found: dict[str, tuple[str, ...]]) -> tuple[str, ...]:
    """Pilot supply, pod selector and pods; gives the parts that feed the regulators in the pods."""
    before = HEADER
    for item in rig.pilot_filters[:1]:
        found[item.id] = (before,)
        before = item.id
    found["pilot_check"] = (before,)
    before = "pilot_check"
    for bank in rig.pilot_banks:
        found[bank.id] = (before,)
    for regulator in rig.pilot_regulators[:1]:
        found[regulator.id] = (before,)
        before = regulator.id
    found["pilot_valves"] = (before,)
    found["totaliser"] = (HEADER,)
    found["pod_selector"] = ("totaliser",)
    pods = tuple(f"pod_{pod.id}" for pod in rig.pods)
    for pod in pods:
        found[pod] = ("pod_selector",)
    for bank in rig.stack_banks:
        found[bank.id] = pods
    return pods


def _feeder(rig: RigView, function: Function, working: tuple[str, ...]) -> tuple[str, ...]:
    supply = "diverter" if function.place == "diverter" else function.supply
    named = tuple(r.id for r in (*rig.power_regulators, *rig.diverter_regulators) if r.serves == supply)
    return named or working


def before(network: Feeds, part: str) -> set[str]:
    """Every part upstream of ``part`` by id, itself left out; empty where nothing feeds it."""
    seen: set[str] = set()
    waiting = list(network.get(part, ()))
    while waiting:
        name = waiting.pop()
        if name not in seen:
            seen.add(name)
            waiting.extend(network.get(name, ()))
    return seen - {part}


def goal_of(network: Feeds, part: str, tank: str) -> str:
    """Where a trace back from ``part`` ends: at the accumulator header when it lies before it, at the tank else."""
    upstream = before(network, part)
    return HEADER if HEADER in upstream else tank


def isolators(rig: RigView) -> dict[str, str]:
    """For each part that a drawn valve takes out of service, that valve."""
    found: dict[str, str] = {}
    for pump in rig.pumps:
        found[f"{pump.id}_strainer"] = f"{pump.id}.suction"
    for item in rig.main_filters:
        found[item.id] = f"{item.id}.isolation"
    for bank in rig.surface_banks:
        found[bank.id] = f"{bank.id}.isolation"
    for part in rig.attached:
        if part.valve:
            found[part.id] = f"{part.id}.{part.valve}"
    for bank in rig.stack_banks:
        valve = rig.isolating(bank.id)
        if valve is not None:
            found[bank.id] = valve.id
    return found
