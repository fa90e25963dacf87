"""Of the planning sheet: pump power, annular and shear pressures, battery at load and temperature, mix quantities."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass

from trainer.planning import battery, pumps
from trainer.planning.work import Work, preventers
from trainer.plant.function_mechanics import ANNULAR_CONTACT
from trainer.plant.mechanics import ANNULAR_SHARE
from trainer.units import from_unit, show, to_unit

SHEARS = {
    "shear_as_set": "Regulator as set over pressure to cut",
    "shear_at_most": "Highest pressure at the shear ram over pressure to cut",
    "shear_in_sequence": "Pressure left over pressure to cut",
}
COLD = ((25.0, 1.0), (0.0, 0.8), (-18.0, 0.6))
"""Capacity of a lead-acid battery by temperature, °C: share of that at 25 °C."""
COLD_SOURCE = "lead-acid capacity by temperature, common practice (from memory)"


def pump_power(work: Work) -> None:
    """Hydraulic power of each power source at working pressure, and the air that air pumps take."""
    plant = work.plant
    high = plant.supply.working_pressure
    for pump in plant.pump:
        flow = pump.rate
        if pump.drive == "air":
            stall = pumps.stall_pressure(plant.air.supply_pressure, pump.area_ratio)
            flow *= max(1.0 - high / stall, 0.0) if stall > 0.0 else 0.0
        power = pumps.hydraulic_horsepower(to_unit(high, "psi"), to_unit(flow, "gpm"))
        work.row(f"{pump.name}: power into the fluid", power * from_unit(0.7457, "kW"), "kW", "psi gpm / 1714",
                 "common practice; at working pressure")  # fmt: skip


def pressures(work: Work, most: float) -> None:
    """What the annulars and the shear rams need against the highest well pressure (``most``, Pa over outside)."""
    regulators = {r.serves: r for r in work.plant.regulator}
    for function in preventers(work.plant):
        own = regulators.get(function.supply)
        if function.kind == "annular":
            least = ANNULAR_CONTACT + ANNULAR_SHARE * most
            work.row(f"Regulator to seal {function.name}", least, "psi", "contact + 0.15 well pressure",
                     "the engine's packing law; manufacturer's curve decides")  # fmt: skip
            if own is not None:
                work.row(f"{function.name}: regulator set to", own.set, "psi", "plant file", work.plant.title,
                         places=(f"regulator.{own.id}.set",))  # fmt: skip
        if function.kind == "shear_ram":
            calm = function.shear_pressure + function.friction
            work.row(f"{function.name}: shear pressure, no well pressure", calm, "psi", "pipe in the bore + friction",
                     "plant file; by the manufacturer's shear test",
                     places=(f"function.{function.id}.shear_pressure",))  # fmt: skip
            against = calm + most / function.closing_ratio
            work.row(f"{function.name}: shear pressure, highest well pressure", against, "psi",
                     "+ well pressure / closing ratio", "Crumpton, p. 169")  # fmt: skip


@dataclass(frozen=True, slots=True)
class Needed:
    """The highest pressure (gauge Pa) that a ram needs to close, and in words how it is found."""

    pressure: float
    told: str


def to_close(work: Work, most: float) -> Needed:
    """What each ram needs to close against the highest well pressure (``most``, Pa over outside); the highest of all
    against the rated pressure of the stack, where the plant file gives one."""
    rated = work.plant.rated_pressure
    against = most if rated is None else max(rated, most)
    worst = Needed(0.0, "")
    for function in preventers(work.plant):
        if function.kind == "annular":
            continue
        here = most / function.closing_ratio + function.friction
        work.row(f"Regulator to close {function.name}", here, "psi", "well pressure / closing ratio + friction",
                 "Crumpton, p. 169; 30 CFR 250.731 asks for it")  # fmt: skip
        needed = against / function.closing_ratio + function.friction
        if needed > worst.pressure:
            what = "highest well pressure" if against == most else "rated pressure of the stack"
            told = (
                f"{show(needed, 'psi')} needed by {function.name}: {what} {show(against, 'psi')} "
                f"/ {function.closing_ratio:g} + friction {show(function.friction, 'psi')}"
            )
            if rated is None:
                told += "; judged for the highest well pressure of this well, not for the rated pressure"
            worst = Needed(needed, told)
    return worst


def to_shear(work: Work, most: float, left: Mapping[str, float]) -> None:
    """Whether the shear rams can cut pipe against the highest well pressure (``most``, Pa over outside): by the
    regulator as it is set, by the most that it gives, and by what is ``left`` (gauge Pa) when each has closed."""
    regulators = {r.serves: r for r in work.plant.regulator}
    found: dict[str, tuple[float, str]] = {}
    for function in preventers(work.plant):
        own = regulators.get(function.supply)
        if function.kind != "shear_ram" or own is None:
            continue
        needed = function.shear_pressure + function.friction + most / function.closing_ratio
        reach = min(own.high, work.plant.supply.working_pressure)
        for figure, what, there in (
            ("shear_as_set", "regulator set to", min(own.set, reach)),
            ("shear_at_most", "at most from regulator and full bottles", reach),
            ("shear_in_sequence", "left in the bottles when it has closed, drawn at once, pumps off:",
             min(left[function.id], reach)),
        ):  # fmt: skip
            told = f"{function.name}: {what} {show(there, 'psi')}, over {show(needed, 'psi')} to cut"
            if figure not in found or there / needed < found[figure][0]:
                found[figure] = (there / needed, told)
    for figure, (share, told) in found.items():
        work.row(SHEARS[figure], share, "1", told, "shear pressure + friction + well pressure / closing ratio, "
                 "common practice", figure)  # fmt: skip


def share_at(celsius: float) -> float:
    """Share of a battery's rated capacity that it gives at a temperature in °C.

    >>> share_at(25.0), round(share_at(12.5), 2), share_at(-40.0)
    (1.0, 0.9, 0.6)
    """
    if celsius >= COLD[0][0]:
        return COLD[0][1]
    for (warm, more), (cold, less) in itertools.pairwise(COLD):
        if celsius >= cold:
            return less + (more - less) * (celsius - cold) / (warm - cold)
    return COLD[-1][1]


def battery_cold(work: Work) -> None:
    """The battery at its load where it stands and when it freezes."""
    electrical = work.plant.electrical
    here = to_unit(work.plant.surface_temperature, "degC")
    for name, celsius in (("at the unit's temperature", here), ("at 0 °C", 0.0)):
        capacity = to_unit(electrical.battery_capacity, "Ah") * share_at(celsius)
        hours = battery.peukert_hours(capacity, electrical.rated_hours, work.plant.battery_load, electrical.peukert)
        method = f"Peukert, {share_at(celsius):.0%} of rated capacity"
        work.row(f"Battery carries the panels {name}", from_unit(hours, "h"), "h", method, COLD_SOURCE)


def mix(work: Work) -> None:
    """What it takes to fill the mixed-fluid tank at the plant's mix, and how far the stores reach."""
    plant = work.plant
    tank = plant.reservoir
    whole = tank.mixed_volume
    parts = (("Concentrate", plant.fluid.concentrate, tank.concentrate_volume * tank.concentrate_fill),
             ("Glycol", plant.fluid.glycol, tank.glycol_volume * tank.glycol_fill))  # fmt: skip
    for name, share, stored in parts:
        places = ("reservoir.mixed_volume", f"fluid.{name.lower()}")
        work.row(f"{name} to fill the mixed-fluid tank", share * whole, "gal", f"{share:.1%} of the tank", "plant file",
                 places=places)  # fmt: skip
        if share > 0.0:
            places = (f"reservoir.{name.lower()}_volume", f"fluid.{name.lower()}")
            work.row(f"{name} in store mixes", stored / share, "gal", "store / share", "plant file", places=places)
    water = whole * (1.0 - plant.fluid.concentrate - plant.fluid.glycol)
    rest = ("reservoir.mixed_volume", "fluid.concentrate", "fluid.glycol")
    work.row("Water to fill the mixed-fluid tank", water, "gal", "the rest", "plant file", places=rest)
    runs = (*rest, "reservoir.water_rate")
    work.row("Water runs for", water / tank.water_rate, "min", "volume / rate", "plant file", places=runs)
