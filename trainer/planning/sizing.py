"""The planning sheet of a plant: fluid, bottles, recharge, response, battery, and the verdicts of a rule set."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Literal

from trainer.constants import ATMOSPHERE, GRAVITY
from trainer.planning import (
    accumulators,
    battery,
    doubt,
    pace,
    pumps,
    response,
    rules,
    sequences,
    sheet_backups,
    sheet_bottles,
    sheet_needs,
)
from trainer.planning.origin import Origin
from trainer.planning.trial import reserve_run, trial
from trainer.planning.work import OVER_PRECHARGE, Row, Work, mains, preventers, setting
from trainer.plant.pumps import Pump
from trainer.plant.rig import Plant
from trainer.plant.surface_valve import SURFACE_TRAVEL
from trainer.units import from_unit, show, to_unit

GAS_GRADIENT = from_unit(0.1, "psi/ft")  # a well full of gas: the highest pressure a ram may have to hold
LOW_AIR = from_unit(75.0, "psi")
HANDBOOK = "Lapeyrouse, 2nd ed.; Crumpton, section 4.9.7"
GAS_SOURCE = "Span et al. 2000, fit in assets/tables/nitrogen.toml"
METHOD_SOURCES = {
    "ideal_gauge": HANDBOOK,
    "ideal_absolute": HANDBOOK + ", atmosphere added",
    "ideal_adiabatic": "ideal gas, gamma 1.4",
    "real_isothermal": GAS_SOURCE,
    "real_adiabatic": GAS_SOURCE,
}


@dataclass(frozen=True)
class Sheet:
    """The whole sheet; ``as_json`` gives the form that the command line prints."""

    plant: str
    rule_set: str
    rows: tuple[Row, ...]
    verdicts: tuple[rules.RuleResult, ...]
    described: Plant
    plant_hash: str = ""
    """SHA-256 of the plant file; empty for a plant that is in no file."""
    doubts: Mapping[str, float] = field(default_factory=dict)
    """By how much each judged figure may be off (SI, by quantity)."""
    origin: Origin = field(default_factory=Origin)
    """Where the values of its plant file come from."""
    prepared: str = ""
    checked: str = ""
    """Names for the title block; empty for a line to write on."""

    @property
    def summary(self) -> str:
        """How many rules are not met, not shown and met, as a phrase; a kind with none is left out."""
        count = {name: sum(v.outcome == name for v in self.verdicts) for name in ("NOT MET", "not shown", "met")}
        return ", ".join(f"{n} {name}" for name, n in count.items() if n)

    def as_json(self) -> dict[str, object]:
        """Plain data: plant, rule_set, rows, verdicts. A figure without bound (a recharge that never ends) is null."""
        return {
            "plant": self.plant,
            "rule_set": self.rule_set,
            "rows": [
                {
                    "name": row.name,
                    "value": row.value if math.isfinite(row.value) else None,
                    "unit": row.unit,
                    "method": row.method,
                    "source": row.source,
                }
                for row in self.rows
            ],
            "verdicts": [verdict.model_dump() for verdict in self.verdicts],
        }


def sizing(plant: Plant, rule_set: str | None = None, *, engine: bool = False, plant_hash: str = "") -> Sheet:
    """The planning sheet of ``plant``, judged by a rule set (by default that of its kind of stack).

    ``engine``: closing times are those of the running plant, each function moved once, instead of estimates.
    ValueError when there is no such rule set.
    """
    chosen = rules.load(rule_set or ("subsea" if plant.subsea else "surface"))
    work = computed(plant, engine)
    # What the bottles hold may be off; the precharge that the pressure left is counted from is the filed one.
    off = doubt.doubts(plant, work.figures, lambda one: computed(one, engine=False, low=work.low).figures)
    results = chosen.judge(work.figures, work.methods, off)
    return Sheet(plant.id, chosen.id, tuple(work.rows), results, plant, plant_hash, off)


def computed(plant: Plant, engine: bool, low: float | None = None) -> Work:
    """Every figure of the sheet; ``low``: lowest header pressure used (gauge Pa) where the plant's own is not meant."""
    work = Work(plant, low)
    closing = _functions(work)
    usable = _bottles(work)
    # Each rule's least favourable method: fast and real for what must be there, ideal for what the tank must hold.
    fast, ideal = usable["real_adiabatic"], usable["ideal_gauge"]
    work.row("Usable fluid over closing volume", fast / closing, "1", "real_adiabatic", GAS_SOURCE, "usable_to_closing")
    work.row("Usable fluid over closing volume", ideal / closing, "1", "ideal_gauge", HANDBOOK)
    tank = plant.reservoir.mixed_volume
    work.row("Mixed fluid tank", tank, "gal", "plant file", plant.title, places=("reservoir.mixed_volume",))
    work.row("Tank over usable fluid", tank / max(ideal, 1e-9), "1", "ideal_gauge", HANDBOOK, "reservoir_to_usable")
    most = _well_pressure(work)
    sheet_needs.pressures(work, most)
    needed = sheet_needs.to_close(work, most)
    left = _reserve(work, needed, engine)
    sheet_needs.to_shear(work, most, left)
    sheet_backups.backups(work, most)
    _recharge(work)
    _switches(work)
    sheet_needs.pump_power(work)
    _response(work, engine)
    _battery(work)
    sheet_needs.battery_cold(work)
    sheet_needs.mix(work)
    return work


def _functions(work: Work) -> float:
    """Volumes to close and open each function; returns the closing volume of all preventers (m3)."""
    for function in work.plant.function:
        for way, volume in (("close", function.close_volume), ("open", function.open_volume)):
            places = (f"function.{function.id}.{way}_volume",)
            source = "30 CFR 250.731 requires that it is stated"
            work.row(f"{way.title()} {function.name}", volume, "gal", "plant file", source, places=places)
    closing = accumulators.demand([f.close_volume for f in preventers(work.plant)])
    work.row("Close all annulars and rams", closing, "gal", "sum", "plant file", places=_closing(work.plant))
    return closing


def _closing(plant: Plant) -> tuple[str, ...]:
    return tuple(f"function.{f.id}.close_volume" for f in preventers(plant))


def _bottles(work: Work) -> dict[str, float]:
    """Bottles and usable fluid by every method; returns the usable fluid (m3) by method."""
    plant = work.plant
    low, high = work.low, plant.supply.working_pressure
    work.row("Working pressure", high, "psi", "plant file", plant.title, places=("supply.working_pressure",))
    work.row("Lowest pressure used", low, "psi", "200 psi above the highest precharge at the header",
             "Devereux, p. 328")  # fmt: skip
    totals = dict.fromkeys(accumulators.METHODS, 0.0)
    for bank in plant.bank:
        head, temperature = setting(plant, bank)
        gas = bank.bottles * bank.bottle_volume
        for name, value, unit, keys in (
            ("bottles", float(bank.bottles), "1", ("bottles",)),
            ("gas space", gas, "gal", ("bottles", "bottle_volume")),
            ("precharge", bank.precharge, "psi", ("precharge",)),
        ):
            places = tuple(f"bank.{bank.id}.{key}" for key in keys)
            work.row(f"{bank.name}: {name}", value, unit, "plant file", plant.title, places=places)
        if bank.place == "pilot":
            continue
        least = max(low + head, bank.precharge)
        for name, method in accumulators.METHODS.items():
            fraction = method(bank.precharge, max(high + head, least), least, temperature)
            totals[name] += fraction * bank.bottles * bank.bottle_volume
    for name, total in totals.items():
        work.row("Usable fluid, main and stack bottles", total, "gal", name, METHOD_SOURCES[name])
    sheet_bottles.banks(work, low)
    sheet_bottles.precharges(work)
    return totals


def _well_pressure(work: Work) -> float:
    """The highest pressure of the well at the stack, Pa over what is outside."""
    plant, well = work.plant, work.plant.well
    stack = plant.water_depth + well.air_gap if plant.subsea else 0.0
    outside = plant.sea if plant.subsea else ATMOSPHERE
    inside = well.formation * GRAVITY * well.depth - GAS_GRADIENT * (well.depth - stack) + ATMOSPHERE
    most = max(inside - outside, 0.0)
    work.row(
        "Highest well pressure at the stack", most, "psi", "gas at 0.1 psi/ft to the stack (assumption)", "plant file"
    )
    return most


def _reserve(work: Work, needed: sheet_needs.Needed, engine: bool) -> dict[str, float]:
    """The reserve test with pumps off: close and open all, then one annular and one ram. Returns the pressure (gauge
    Pa) left when each preventer has closed for the first time, drawn at once."""
    plant = work.plant
    high, low = plant.supply.working_pressure, work.low
    stack = preventers(plant)
    steps = [(f"close {f.name}", f.close_volume, low) for f in stack]
    steps += [(f"open {f.name}", f.open_volume, low) for f in stack]
    annular = max((f for f in stack if f.kind == "annular"), key=lambda f: f.close_volume, default=None)
    ram = max((f for f in stack if f.kind == "pipe_ram"), key=lambda f: f.close_volume, default=None)
    steps += [(f"close {f.name} again", f.close_volume, low) for f in (annular, ram) if f is not None]
    drawn = sequences.draw_sequence(_filled(plant, fast=True), steps)
    for step in drawn:
        work.row(f"Pressure left: {step.name}", step.pressure_left, "psi", "real_adiabatic, pumps off", GAS_SOURCE)
    least = min((step.pressure_left for step in drawn), default=high)
    work.row("Pressure left if drawn at once", least, "psi", "real_adiabatic, pumps off", GAS_SOURCE)
    moved = [*stack, *stack, *(f for f in (annular, ram) if f is not None)]
    times = [SURFACE_TRAVEL + f.rated_stroke for f in moved]
    drawn_at_pace = pace.pressures(plant, [(step[1], seconds) for step, seconds in zip(steps, times, strict=True)])
    left = min(drawn_at_pace, default=high)
    work.row("Pressure left at the pace of the strokes", left, "psi",
             "real gas warmed by its bottles, one function after the other, pumps off", GAS_SOURCE)  # fmt: skip
    slow = sequences.pressure_after(_filled(plant, fast=False), math.fsum(volume for _, volume, _ in steps))
    work.row("Pressure left if drawn slowly", slow, "psi", "real_isothermal, pumps off", GAS_SOURCE)
    if engine:
        run = reserve_run(plant, [f for f in (annular, ram) if f is not None])
        own = min(run, default=high) if run is not None else -math.inf
        work.row("Pressure left on the running plant", own, "psi", "engine, the same sequence, pumps off",
                 "the running plant")  # fmt: skip
    closing = drawn[: len(stack)]
    work.row("Closing everything at once: pressure to spare", min(d.pressure_left - d.needed for d in closing), "psi",
             "least over the closing steps, real_adiabatic, pumps off", GAS_SOURCE)  # fmt: skip
    work.row("Whole sequence at once: pressure to spare", min(d.pressure_left - d.needed for d in drawn), "psi",
             "least over all steps, real_adiabatic, pumps off", GAS_SOURCE, "pressure_to_spare_at_once")  # fmt: skip
    work.row("Whole sequence at its pace: pressure to spare", left - low, "psi",
             "least over all steps, real gas warmed by its bottles, pumps off", GAS_SOURCE)  # fmt: skip
    drawn_off = math.fsum(volume for _, volume, _ in steps)
    work.row("Closing sequence: fluid drawn", drawn_off, "gal", "sum of the steps", "plant file",
             places=tuple(place for f in stack for place in (f"function.{f.id}.close_volume",
                                                             f"function.{f.id}.open_volume")))  # fmt: skip
    over = left - (low - OVER_PRECHARGE)
    work.row("Least pressure over precharge", over, "psi", "the sequence at the pace of the strokes, real gas",
             "Devereux, p. 328", "pressure_over_precharge")  # fmt: skip
    if needed.pressure > 0.0:
        work.row("Pressure left over pressure needed", left / needed.pressure, "1",
                 f"{show(left, 'psi')} left by the sequence at the pace of the strokes, over {needed.told}",
                 "Crumpton, p. 169", "pressure_left_to_needed")  # fmt: skip
    _closed_and_lined_up(work, steps[: len(stack)])
    return {f.id: step.pressure_left for f, step in zip(stack, closing, strict=True)}


def _closed_and_lined_up(work: Work, closing: list[tuple[str, float, float]]) -> None:
    """What is left when everything has closed and one choke or kill valve has opened, with and without each bank."""
    plant = work.plant
    valve = max((f for f in plant.function if f.line), key=lambda f: f.open_volume, default=None)
    if valve is None:
        return
    steps = [*closing, (f"open {valve.name}", valve.open_volume, work.low)]
    rigs = [("", plant)]
    for bank in mains(plant):
        rest = tuple(b for b in plant.bank if b.id != bank.id)
        if any(b.place == "surface" for b in rest):
            rigs.append((f", {bank.name} out", plant.model_copy(update={"bank": rest})))
    for out, rig in rigs:
        left = min(step.pressure_left for step in sequences.draw_sequence(_filled(rig, fast=True), steps))
        work.row(
            f"All closed, one valve open{out}",
            left - (work.low - OVER_PRECHARGE),
            "psi",
            f"{show(left, 'psi')} left, less the precharge; {valve.name}; drawn at once, real_adiabatic, pumps off",
            GAS_SOURCE,
        )


def _filled(plant: Plant, fast: bool) -> list[sequences.Bottles]:
    """The main and stack bottles, charged to working pressure."""
    banks = []
    for bank in mains(plant):
        head, temperature = setting(plant, bank)
        volume = bank.bottles * bank.bottle_volume
        high = plant.supply.working_pressure
        banks.append(sequences.Bottles(volume, bank.precharge, high, temperature, head, fast=fast))
    return banks


def _stored(plant: Plant, pressure: float) -> float:
    """Fluid (m3) in the main bottles, charged slowly to a header pressure (gauge Pa)."""
    stored = 0.0
    for bank in mains(plant):
        head, temperature = setting(plant, bank)
        at = max(pressure + head, bank.precharge)
        fraction = accumulators.stored_fraction(bank.precharge, at, temperature)
        stored += fraction * bank.bottles * bank.bottle_volume
    return stored


@dataclass(frozen=True, slots=True)
class Recharge:
    """How long some of the pumps take from precharge to working pressure (s; infinite where they never do)."""

    pumps: str
    seconds: float
    lost: Literal["none", "pump", "source"]


def sources(plant: Plant, pump: Pump) -> tuple[str, ...]:
    """What may drive a pump of the plant, each source in words: air, electric, or its bus where there are two."""
    if pump.drive == "air" or all(one.bus == "main" for one in plant.pump):
        return (str(pump.drive),)
    return ("main bus", "emergency bus") if pump.bus == "both" else (f"{pump.bus} bus",)


def recharges(plant: Plant) -> list[Recharge]:
    """With all pumps, with each power source's pumps alone, and with each pump out of service, in this order."""
    high = plant.supply.working_pressure
    path = [(at, _stored(plant, at)) for at in (high * n / 200.0 for n in range(201))]

    def duration(plant: Plant, drives: Collection[str]) -> float:
        seconds = 0.0
        for (p1, v1), (p2, v2) in pairwise(path):
            if v2 > v1:
                seconds += pumps.recharge_time(v2 - v1, _delivery(plant, 0.5 * (p1 + p2), drives))
        return seconds

    groups = sorted({source for pump in plant.pump for source in sources(plant, pump)})
    found = [Recharge("all pumps", duration(plant, groups), "none")]
    found += [Recharge(f"{drive} pumps alone", duration(plant, [drive]), "source") for drive in groups]
    for pump in plant.pump if len(plant.pump) > 1 else ():
        rest = plant.model_copy(update={"pump": tuple(p for p in plant.pump if p.id != pump.id)})
        found.append(Recharge(f"{pump.name} out", duration(rest, groups), "pump"))
    return found


def _recharge(work: Work) -> None:
    """Charging the main bottles from precharge to working pressure: all pumps, then each group alone."""
    whole = _stored(work.plant, work.plant.supply.working_pressure)
    work.row("Fluid from precharge to working pressure", whole, "gal", "real_isothermal", GAS_SOURCE)
    method, source = "pump delivery falling with pressure, slow charge", "API Standard 53, 4th ed., 6.3.5"
    found = recharges(work.plant)
    for one in found:
        quantity = "recharge_time" if one.lost == "none" else ""
        work.row(f"Recharge with {one.pumps}", one.seconds, "min", method, source, quantity)
    alone = [one.seconds for one in found if one.lost == "source"]
    # Where there is one power source, nothing charges when it is lost.
    worst = max(alone) if len(alone) > 1 else math.inf
    work.row("Recharge with one power source lost", worst, "min", method, source, "recharge_time_one_lost")


def _delivery(plant: Plant, pressure: float, drives: Collection[str]) -> float:
    """Flow (m3/s) of the pumps of ``drives`` against ``pressure`` (gauge Pa): full, or falling towards stall."""
    flow = 0.0
    for pump in plant.pump:
        if not any(source in drives for source in sources(plant, pump)):
            continue
        if pump.drive == "air":
            stall = pumps.stall_pressure(plant.air.supply_pressure, pump.area_ratio)
            flow += pump.rate * max(1.0 - pressure / stall, 0.0) if stall > 0.0 else 0.0
        else:
            flow += pump.rate
    return flow


def _switches(work: Work) -> None:
    """Where pumps start and stop, where reliefs open, and what the air pumps reach, as shares of working pressure."""
    plant = work.plant
    high = plant.supply.working_pressure
    for name, drive in (("primary", "electric"), ("secondary", "air")):
        group = [pump for pump in plant.pump if pump.drive == drive]
        if group:
            start = max(pump.start_pressure for pump in group) / high
            stop = min(pump.stop_pressure for pump in group) / high
            source = "API Standard 53, 4th ed., 6.3.5.8 and .9"
            work.row(f"First {name} pump starts at", start, "%", "share of working pressure", source, f"{name}_start")
            work.row(f"First {name} pump stops at", stop, "%", "share of working pressure", source, f"{name}_stop")
    ratios = [pump.area_ratio for pump in plant.pump if pump.drive == "air"]
    if ratios:
        reach = pumps.stall_pressure(LOW_AIR, min(ratios)) / high
        work.row("Air pumps reach on 75 psi air", reach, "%", "air pressure x area ratio", "common practice",
                 "air_stall_to_working")  # fmt: skip
    opens = max([plant.supply.relief_pressure, *(p.relief_pressure for p in plant.pump if p.drive == "electric")])
    work.row("Highest relief valve opens at", opens / high, "%", "share of working pressure", "plant file",
             "relief_to_working", ("supply.relief_pressure",
             *(f"pump.{p.id}.relief_pressure" for p in plant.pump if p.drive == "electric")))  # fmt: skip


def _response(work: Work, engine: bool) -> None:
    """Closing times: pilot delay, pod valve and stroke as an estimate, or measured on the engine."""
    plant, line = work.plant, work.plant.umbilical
    delay, method = SURFACE_TRAVEL, "surface valve + rated stroke; an estimate"
    if line is not None:
        transit = response.transit_time(line.length, line.pilot_modulus, plant.fluid.density)
        cold = plant.viscosity(plant.sea_temperature)
        filling = response.filling_time(line.length, line.pilot_bore, line.pilot_modulus, cold)
        work.row("Pilot line: transit", transit, "s", "length over wave speed", "Korteweg")
        work.row("Pilot line: filling", filling, "s", "32 mu L^2 / (d^2 K)", "Hagen-Poiseuille, a bound")
        delay = transit + filling + max(pod.travel for pod in plant.pod)
        method = "transit + filling + pod valve + rated stroke; an estimate"
    elif plant.telemetry is not None:
        delay = plant.telemetry.down + max(pod.travel for pod in plant.pod)
        method = "telemetry + pod valve + rated stroke; an estimate"
    times = {f.id: delay + f.rated_stroke for f in plant.function}
    if engine:
        method = "the engine, each from rest, pumps as they stand"
        for move in trial(plant):
            times[move.function.id] = seconds = math.inf if move.seconds is None else move.seconds
            name = f"{move.function.name} {'closes' if move.way == 'close' else 'opens'} in"
            work.row(
                name, seconds, "s", f"engine; lost at half stroke: {move.where()}", "30 CFR 250.731; the running plant"
            )
    for figure, kinds in (("annular_closing_time", ("annular",)), ("ram_closing_time", ("pipe_ram", "shear_ram"))):
        found = [times[f.id] for f in plant.function if f.kind in kinds]
        if found:
            name = "Slowest annular closes in" if figure.startswith("annular") else "Slowest ram closes in"
            work.row(name, max(found), "s", method, plant.title, figure)
    unlatch = [times[f.id] for f in plant.function if f.id == "riser_connector"]
    if unlatch:
        work.row("Riser connector unlatches in", unlatch[0], "s", method, plant.title, "unlatch_time")


def _battery(work: Work) -> None:
    """How long the battery carries the panels without AC."""
    electrical = work.plant.electrical
    capacity = to_unit(electrical.battery_capacity, "Ah")
    hours = battery.peukert_hours(capacity, electrical.rated_hours, work.plant.battery_load, electrical.peukert)
    method = f"Peukert, k {electrical.peukert:g}, {electrical.rated_hours:g} h rate"
    work.row("Battery carries the panels", from_unit(hours, "h"), "h", method, "common practice", "battery_time")
    work.row("Battery is discharged at", battery.end_voltage(electrical.battery_units), "V", "1.75 V a cell",
             "common practice")  # fmt: skip
    if work.plant.panel:
        work.row("Load on the battery", work.plant.battery_load, "A", "all panels that it feeds", "plant file",
                 places=("electrical.panel_load", *(f"panel.{p.id}.load" for p in work.plant.panel)))  # fmt: skip
    for panel in work.plant.panel:
        if panel.supply == "own_battery":
            own = to_unit(panel.battery_capacity, "Ah")
            hours = battery.peukert_hours(own, electrical.rated_hours, panel.load, electrical.peukert)
            work.row(f"{panel.name}: its own battery carries it", from_unit(hours, "h"), "h", method, "common practice")
        if panel.electric:
            work.row(f"{panel.name}: lost in its cable", panel.lost, "V", "2 rho L / A, copper at 20 °C", "IEC 60028")
        else:
            late = panel.delay(work.plant.air.supply_pressure)
            work.row(
                f"{panel.name}: an order takes",
                late,
                "s",
                "sound, and filling by Hagen-Poiseuille",
                "common tables, from memory",
            )
