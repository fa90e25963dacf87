"""Of the planning sheet: deadman and autoshear on bottles of their own, their batteries, and the disconnect's times.

The bank stands on the lower stack: the sea presses on what it moves, so its pressures are counted over the sea's. Full
it has the header's pressure and the head of the control fluid. A deadman gets no refill, and draws fast.
"""

from __future__ import annotations

import math

from trainer.constants import ATMOSPHERE
from trainer.fluids.gas import density
from trainer.hydraulics.storage import bottle_heat, bottle_step
from trainer.planning import accumulators
from trainer.planning.sequences import Bottles, draw_sequence
from trainer.planning.work import Work
from trainer.plant.emergency import (
    AFTER,
    ASLEEP,
    CAPACITY,
    FIRING,
    NEEDED,
    Emergency,
    loaded,
)
from trainer.plant.functions import Function
from trainer.plant.rig import Plant
from trainer.units import show

FAST = 1.1
"""Design factor on volume for a bank that is drawn fast: API Spec 16D (from memory)."""
RULE = "API Spec 16D, volume factor 1.1 for a fast discharge, from memory"
STEP = 0.1
"""Seconds of a step of the engine's bottles."""


def backups(work: Work, most: float) -> None:
    """Rows for what the rig has of deadman, its batteries and its disconnect; ``most`` is the highest pressure of the
    well at the stack, Pa over the sea's."""
    if work.plant.emergency is not None:
        _bank(work, work.plant.emergency, most)
        _batteries(work)
    _disconnect(work)


def in_place(plant: Plant, own: Emergency) -> Bottles:
    """The bank as it stands on the stack, full: pressures counted over the sea's, drawn fast."""
    precharge = accumulators.precharge_at(own.precharge, plant.surface_temperature, plant.sea_temperature)
    over = plant.sea - ATMOSPHERE
    full = plant.supply.working_pressure + plant.head - over
    return Bottles(own.shell, precharge, full, plant.sea_temperature, over)


def steps(plant: Plant, own: Emergency, most: float) -> list[tuple[Function, float]]:
    """What the sequence closes, in its order, and the pressure over the sea's (Pa) that each needs at its end."""
    by_id = {f.id: f for f in plant.function}
    closed = [by_id[step.function] for step in own.step]
    return [
        (f, f.shear_pressure + f.friction + most / f.closing_ratio if f.kind == "shear_ram" else f.friction)
        for f in closed
    ]


def usable(plant: Plant, own: Emergency, down_to: float, method: str) -> float:
    """Fluid (m3) that the bank gives down to a pressure over the sea's (Pa), by one of the published methods."""
    bank = in_place(plant, own)
    least = max(down_to + bank.head, bank.precharge)
    share = accumulators.METHODS[method](
        bank.precharge, max(bank.high + bank.head, least), least, plant.sea_temperature
    )
    return share * own.shell


def engine_left(plant: Plant, own: Emergency) -> list[float]:
    """Pressure over the sea's (Pa) after each step, as the running plant's bottles give it, each when the next begins.

    Each function takes its fluid evenly until the next step, or for as long as the last one takes.
    """
    bank, by_id = in_place(plant, own), {f.id: f for f in plant.function}
    wall, shell = plant.sea_temperature, own.shell
    mass = shell * density(own.precharge + ATMOSPHERE, plant.surface_temperature)
    rho = density(bank.high + bank.head + ATMOSPHERE, wall)
    fluid, warmth, found = shell - mass / rho, wall, []
    begins = [*(step.at for step in own.step), own.seconds]
    for number, step in enumerate(own.step):
        many = max(round((begins[number + 1] - step.at) / STEP), 1)
        pressure = 0.0
        for _ in range(many):
            warm, heat = bottle_heat(rho, warmth)
            fluid -= by_id[step.function].close_volume / many
            pressure, _, warmth, rho = bottle_step(
                fluid, warmth, rho, warm, heat, shell, mass, wall, STEP / own.relaxation
            )
        found.append(pressure - ATMOSPHERE - bank.head)
    return found


def _bank(work: Work, own: Emergency, most: float) -> None:
    plant, name = work.plant, own.name
    bank, needed = in_place(plant, own), steps(plant, own, most)
    places = ("emergency.bottles", "emergency.bottle_volume")
    work.row(f"{name}: gas space", own.shell, "gal", "plant file", plant.title, places=places)
    work.row(f"{name}: precharge on deck", own.precharge, "psi", "plant file", plant.title,
             places=("emergency.precharge",))  # fmt: skip
    work.row(f"{name}: precharge on the stack, above sea pressure", bank.precharge - bank.head, "psi",
             "real gas, closed volume", "Span et al. 2000")  # fmt: skip
    work.row(
        f"{name}: full, above sea pressure",
        bank.high,
        "psi",
        "working pressure + head of the fluid - sea",
        "plant file",
    )
    drawn = draw_sequence([bank], [(f.name, f.close_volume, least) for f, least in needed])
    for step, own_left in zip(drawn, engine_left(plant, own), strict=True):
        work.row(f"{name}: left above sea pressure after {step.name}", step.pressure_left, "psi",
                 f"real_adiabatic, no refill; needs {show(step.needed, 'psi')}", "Span et al. 2000")  # fmt: skip
        work.row(f"{name}: left above sea pressure after {step.name}", own_left, "psi",
                 "engine, at the sequence's pace", "the running plant's bottles")  # fmt: skip
    worst = min(drawn, key=lambda step: step.pressure_left / step.needed if step.needed > 0.0 else math.inf)
    work.row(f"{name}: pressure left over pressure needed", worst.pressure_left / worst.needed, "1",
             f"{show(worst.pressure_left, 'psi')} left after {worst.name}, over {show(worst.needed, 'psi')}",
             "Span et al. 2000; each step judged, after Fatigati et al. 2018", "deadman_left_to_needed")  # fmt: skip
    _volume(work, own, needed)
    work.row(f"{name}: loss until all is closed and locked", own.confirm + own.seconds, "s",
             f"{show(own.confirm, 's')} to confirm, the last step, {AFTER:g} s to move", "plant file", "deadman_time",
             ("emergency.confirm", "emergency.step"))  # fmt: skip


def _volume(work: Work, own: Emergency, needed: list[tuple[Function, float]]) -> None:
    """Fluid down to what each shear ram needs, by every published method, over what is asked for until then."""
    asked, worst, told = 0.0, math.inf, ""
    for function, least in needed:
        asked += FAST * function.close_volume
        if function.kind != "shear_ram":
            continue
        down = f"{own.name}: usable fluid down to {show(least, 'psi')} above sea pressure, for {function.name}"
        for method in accumulators.METHODS:
            work.row(down, usable(work.plant, own, least, method), "gal", method, "as for the main bottles")
        work.row(f"{own.name}: fluid required until {function.name} has closed", asked, "gal",
                 "sum of the closing volumes x 1.1", RULE)  # fmt: skip
        share = usable(work.plant, own, least, "real_adiabatic") / asked
        if share < worst:
            worst, told = share, f"least at {function.name}, real_adiabatic; {RULE}"
    if math.isfinite(worst):
        work.row(f"{own.name}: usable fluid over fluid required", worst, "1", told, "Span et al. 2000",
                 "deadman_usable_to_asked")  # fmt: skip


def _batteries(work: Work) -> None:
    """A side's battery of the deadman: how long it watches, and from which charge on it still fires."""
    source = "the running plant; capacity and resistance are assumptions"
    work.row("Deadman battery: watches for", CAPACITY / ASLEEP, "h", f"{show(CAPACITY, 'Ah')} at {ASLEEP * 1e3:g} mA",
             source)  # fmt: skip
    work.row("Deadman battery: full, under load", loaded(1.0), "V", f"{FIRING:g} A", source)
    low, high = 0.0, 1.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if loaded(middle) >= NEEDED else (middle, high)
    work.row("Deadman battery: fires down to a charge of", high, "%", f"{NEEDED:g} V under {FIRING:g} A", source)


def _disconnect(work: Work) -> None:
    """When each sequence is done, and what its red circle leaves on a vessel that drifts."""
    plant = work.plant
    if plant.disconnect is None or not plant.disconnect.sequence:
        return
    source = "plant file"
    for one in plant.disconnect.sequence:
        work.row(f"Disconnect, {one.title}: done in", one.done, "s", source, plant.title,
                 places=(f"disconnect.sequence.{one.id}.done",))  # fmt: skip
        if plant.position is not None:
            red = plant.position.red(plant.water_depth, one.done) / plant.water_depth
            work.row(f"Disconnect, {one.title}: red circle", red, "%",
                     "drift without drag, sequence and 10 s for the crew", "plant file")  # fmt: skip
    work.row("Disconnect: the longest sequence is done in", max(one.done for one in plant.disconnect.sequence), "s",
             source, plant.title, "disconnect_time")  # fmt: skip
