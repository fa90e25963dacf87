"""Of the planning sheet: usable fluid bank by bank, what the engine's own bottles give, and what to precharge to."""

from __future__ import annotations

from trainer.constants import ATMOSPHERE
from trainer.fluids.gas import density
from trainer.hydraulics.storage import bottle_heat, bottle_step
from trainer.planning import accumulators
from trainer.planning.work import Work, mains, setting
from trainer.plant.accumulators import Bank
from trainer.plant.rig import Plant
from trainer.units import from_unit

DRAWN_IN = 60.0
"""Seconds in which the engine's bottles are drawn down: about what closing everything takes."""
CHARGED_AT = from_unit(70.0, "degF")


def engine_usable(plant: Plant, bank: Bank, low: float, high: float, seconds: float = DRAWN_IN) -> float:
    """Fluid (m3) that the engine's model of a bank gives from ``high`` to ``low`` at the header (gauge Pa).

    Charged slowly, then drawn evenly in ``seconds``: real nitrogen that cools as it expands and takes heat from the
    steel with the bank's relaxation time, stepped as the running plant steps it.
    """
    head, wall = setting(plant, bank)
    shell = bank.bottles * bank.bottle_volume
    mass = shell * density(bank.precharge + ATMOSPHERE, wall)
    full = max(high + head, bank.precharge) + ATMOSPHERE
    least = max(low + head, bank.precharge) + ATMOSPHERE
    start = shell - mass / density(full, wall)
    # The steps are even in volume; how far they go is found by trying, since warmth decides where the pressure ends.
    few, many = 0.0, start
    for _ in range(24):
        given = 0.5 * (few + many)
        if _pressure_after(shell, mass, wall, start, given, seconds, bank.relaxation) > least:
            few = given
        else:
            many = given
    return few


def _pressure_after(
    shell: float, mass: float, wall: float, start: float, given: float, seconds: float, relaxation: float
) -> float:
    """Pressure (Pa absolute) in the bottles when ``given`` m3 has been drawn evenly in ``seconds``."""
    steps = 120
    relaxed = min(seconds / steps / relaxation, 1.0)
    fluid, warmth = start, wall
    rho = mass / (shell - fluid)
    pressure = 0.0
    for _ in range(steps):
        warm, heat = bottle_heat(rho, warmth)
        fluid -= given / steps
        pressure, _, warmth, rho = bottle_step(fluid, warmth, rho, warm, heat, shell, mass, wall, relaxed)
    return pressure


def banks(work: Work, low: float) -> None:
    """Each bank's usable fluid by every published method, and the engine's own beside it."""
    plant, high = work.plant, work.plant.supply.working_pressure
    total = 0.0
    for bank in mains(plant):
        head, temperature = setting(plant, bank)
        gas = bank.bottles * bank.bottle_volume
        least = max(low + head, bank.precharge)
        most = max(high + head, least)
        for name, method in accumulators.METHODS.items():
            usable = gas * method(bank.precharge, most, least, temperature)
            work.row(f"{bank.name}: usable fluid", usable, "gal", name, "as for the total")
        own = engine_usable(plant, bank, low, high)
        total += own
        work.row(f"{bank.name}: usable fluid", own, "gal", "engine, drawn in 60 s", "the running plant's bottles")
    work.row(
        "Usable fluid, main and stack bottles", total, "gal", "engine, drawn in 60 s", "the running plant's bottles"
    )


def precharges(work: Work) -> None:
    """What to precharge each bank to on deck, so that it has its precharge where it stands.

    A subsea bottle's precharge is raised by the head of control fluid above it; nitrogen charged at one temperature
    shows another pressure at the next (real gas, closed volume).
    """
    plant = work.plant
    base = min((bank.precharge for bank in mains(plant) if bank.place == "surface"), default=0.0)
    source = "Lapeyrouse, 2nd ed.: surface precharge plus hydrostatic head"
    for bank in mains(plant):
        head, temperature = setting(plant, bank)
        wanted = base + head if base else bank.precharge
        work.row(f"{bank.name}: precharge recommended in place", wanted, "psi", "surface precharge + head", source)
        on_deck = accumulators.precharge_at(wanted, temperature, CHARGED_AT)
        work.row(f"{bank.name}: charge it at 70 °F to", on_deck, "psi", "real gas, closed volume", "Span et al. 2000")
        shows = accumulators.precharge_at(bank.precharge, temperature, plant.surface_temperature)
        if bank.place == "stack":
            work.row(
                f"{bank.name}: its precharge shows on deck", shows, "psi", "real gas, closed volume", "Span et al. 2000"
            )
