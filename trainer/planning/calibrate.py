"""Fits a plant file to readings of a test on the rig: precharge, leak, valve and line, each with its uncertainty.

The test is played on the engine again and again, with the same commands, until its instruments read as the rig's did:
least squares over all readings, each weighted by its own noise. The uncertainty is that of the linearised problem,
s^2 (J^T J)^-1 with Student's t for 95 %, so it is a statement about noise, not about what the model leaves out.

Source: Seber & Wild, Nonlinear Regression, section 2.1 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from trainer.constants import ATMOSPHERE, HAIR, SCAN
from trainer.fluids.gas import density
from trainer.hydraulics.machine import Machine
from trainer.hydraulics.storage import Gas
from trainer.planning.errors import PlanningError
from trainer.planning.knobs import Knob
from trainer.planning.readings import Readings
from trainer.plant.rig import Plant, build_machine
from trainer.session.commands import OPERATE, Command
from trainer.units import UNITS, from_unit

CHARGED = "accumulator.pressure"
AROUND = from_unit(40.0, "psi")
"""How far the pressure at the start may be from the first reading, gauge Pa; invented, as the next ones."""
SETTLE = 10
"""Scans for the instruments to find their readings before the test."""
STEP = 0.03
FINEST = 2e-5
"""Readings are never trusted beyond this share of the instrument's range."""
VAGUE = 0.6
"""A 95 % interval wider than this share of the value says that the readings do not tell it."""

Floats = np.ndarray[Any, np.dtype[np.float64]]
Told = Callable[[int, float], None]


@dataclass(frozen=True)
class Fitted:
    """One fitted quantity, SI: value, 95 % interval, and whether the readings tell it at all."""

    knob: Knob
    value: float
    low: float
    high: float
    told: bool


@dataclass(frozen=True)
class Calibration:
    """The outcome: fitted quantities, the plant with them, and what it reads at the times of the measurements."""

    fitted: tuple[Fitted, ...]
    plant: Plant
    times: tuple[float, ...]
    measured: dict[str, tuple[float, ...]]
    modelled: dict[str, tuple[float, ...]]
    noise: dict[str, float]
    misfit: float
    """Root of the mean square of the residuals over the noise: about 1 when the model explains the readings."""
    rounds: int


def simulate(
    plant: Plant,
    commands: Sequence[Command],
    readings: Readings,
    charged: float | None = None,
    puts: Sequence[tuple[Knob, float]] = (),
) -> dict[str, Floats]:
    """What the plant's instruments read at the times of the readings when the same test is played on it, SI.

    ``charged`` is the accumulators' pressure at the start, gauge Pa; without it they stand at working pressure.
    ``puts`` are knobs that are set on the machine itself.
    Commands and readings share one clock, whose zero the readings must not come before.
    """
    machine = build_machine(plant)
    for knob, value in puts:
        if knob.put is not None:
            knob.put(machine, value)
    _charge(machine, plant, (plant.supply.working_pressure if charged is None else charged) + ATMOSPHERE)
    machine.scan(SETTLE)
    tags = list(readings.columns)
    moments, seen = [0.0], [[machine.read(tag) for tag in tags]]
    left = list(commands)
    while moments[-1] < readings.times[-1]:
        while left and left[0].t <= moments[-1] + HAIR:
            command = left.pop(0)
            refused = machine.apply(command) if command.do in OPERATE else None
            if refused is not None:
                what = f"{command.do} {command.target}"
                raise PlanningError(f"the test cannot be played: {what} at {command.t:g} s is refused: {refused}")
        machine.scan()
        moments.append(len(moments) * SCAN)
        seen.append([machine.read(tag) for tag in tags])
    table = np.array(seen)
    return {tag: np.interp(readings.times, moments, table[:, n]) for n, tag in enumerate(tags)}


def _charge(machine: Machine, plant: Plant, pressure: float) -> None:
    """Fill the surface bottles to ``pressure``, Pa absolute."""
    for bank in plant.bank:
        storage = machine.net.nodes[bank.id].storage if bank.place == "surface" else None
        if isinstance(storage, Gas):
            dense = density(pressure, machine.read(f"{bank.id}.t"))
            machine.put(f"{bank.id}.v", max(storage.shell - machine.read(storage.mass) / dense, 0.0))
    machine.settle_pressures()


def noise_of(values: Sequence[float], span: float) -> float:
    """Noise of a column, SI: from second differences, which a smooth course leaves out; never below its resolution.

    For white noise the second difference has 6 times the variance; the median makes it blind to a few sharp bends.
    """
    bends = np.abs(np.diff(np.array(values), 2))
    spread = float(np.median(bends)) / (0.6745 * math.sqrt(6.0)) if len(bends) else 0.0
    return max(spread, FINEST * span)


class _Fit:
    """The test on the plant as a function of the places of the knobs, and of the pressure at the start with them.

    The first reading is as noisy as the others, so the pressure at the start is found with the rest.
    """

    def __init__(
        self, plant: Plant, knobs: Sequence[Knob], commands: Sequence[Command], readings: Readings, told: Told | None
    ) -> None:
        self.plant, self.knobs, self.commands, self.readings, self.told = plant, knobs, commands, readings, told
        machine = build_machine(plant)
        self.noise = {tag: noise_of(values, _span(machine, tag)) for tag, values in readings.columns.items()}
        self.measured = {tag: np.array(values) for tag, values in readings.columns.items()}
        self.first = readings.columns.get(CHARGED)
        self.many = len(knobs) + (self.first is not None)
        self.rounds = 0

    def values(self, at: Floats) -> list[float]:
        """SI values of the knobs at their places."""
        return [_value(knob, float(x)) for knob, x in zip(self.knobs, at, strict=False)]

    def start(self) -> Floats:
        """Where the search begins: the plant as its file says."""
        at = np.zeros(self.many)
        # Rounded: SciPy takes its first step as long as the way from nought, which must not be a rounding error.
        at[: len(self.knobs)] = [round(_place(knob, knob.start), 9) for knob in self.knobs]
        return np.clip(at, -0.98, 0.98)

    def modelled(self, at: Floats) -> dict[str, Floats]:
        """What the instruments read."""
        one, puts = self.plant, []
        for knob, value in zip(self.knobs, self.values(at), strict=True):
            # What the machine itself can be given needs no new machine, which costs as much as minutes of running. It
            # is that of the greatest value: the engine lets off nitrogen beyond the plant's precharge.
            one = knob.turn(one, value if knob.put is None else knob.high)
            if knob.put is not None:
                puts.append((knob, value))
        charged = None if self.first is None else self.first[0] + AROUND * float(at[-1])
        return simulate(one, self.commands, self.readings, charged, puts)

    def off(self, at: Floats) -> Floats:
        """Residuals over the noise."""
        self.rounds += 1
        found = self.modelled(at)
        residual: Floats = np.concatenate([(found[tag] - self.measured[tag]) / self.noise[tag] for tag in found])
        if self.told is not None:
            self.told(self.rounds, float(np.sqrt(np.mean(residual * residual))))
        return residual

    def slopes(self, at: Floats) -> Floats:
        """Central differences over a wide step: the engine's logic works in steps of 100 ms, which roughens the way."""
        columns = []
        for n in range(self.many):
            up, down = at.copy(), at.copy()
            up[n], down[n] = min(at[n] + STEP, 1.0), max(at[n] - STEP, -1.0)
            columns.append((self.off(up) - self.off(down)) / (up[n] - down[n]))
        return np.array(columns).T


def calibrate(
    plant: Plant, knobs: Sequence[Knob], commands: Sequence[Command], readings: Readings, told: Told | None = None
) -> Calibration:
    """Fit the knobs. PlanningError when SciPy is missing or there are fewer readings than knobs need."""
    try:
        from scipy.optimize import least_squares
        from scipy.stats import t as student
    except ImportError:
        raise PlanningError("calibration needs SciPy: pip install 'bop-panel-trainer[calibrate]'") from None
    fit = _Fit(plant, knobs, commands, readings, told)
    free = len(readings.times) * len(readings.columns) - fit.many
    if free <= 0:
        raise PlanningError(f"{free + fit.many} readings cannot tell {fit.many} quantities; take more readings")
    found = least_squares(
        fit.off, fit.start(), jac=fit.slopes, bounds=(-1.0, 1.0), x_scale=0.1, xtol=1e-3, ftol=2e-3, max_nfev=20
    )
    wide = _intervals(found.jac, found.fun, free, float(student.ppf(0.975, free)))
    fitted = []
    best = plant
    for n, (knob, value) in enumerate(zip(knobs, fit.values(found.x), strict=True)):
        low, high = (_value(knob, min(max(float(found.x[n] + way * wide[n]), -1.0), 1.0)) for way in (-1.0, 1.0))
        fitted.append(Fitted(knob, value, low, high, high - low <= VAGUE * max(abs(value), 1e-12)))
        best = knob.turn(best, value)
    return Calibration(
        tuple(fitted),
        best,
        readings.times,
        dict(readings.columns),
        {tag: tuple(values.tolist()) for tag, values in fit.modelled(found.x).items()},
        fit.noise,
        float(np.sqrt(np.mean(found.fun * found.fun))),
        fit.rounds,
    )


def _value(knob: Knob, at: float) -> float:
    """The SI value at a place from -1 (least) to 1 (greatest): by ratio, or in a straight line from nothing."""
    share = 0.5 * (at + 1.0)
    if knob.low > 0.0:
        return float(knob.low * (knob.high / knob.low) ** share)
    return float(knob.low + (knob.high - knob.low) * share * share)


def _place(knob: Knob, value: float) -> float:
    """The place of a value; the inverse of ``_value``."""
    if knob.low > 0.0:
        return 2.0 * math.log(value / knob.low) / math.log(knob.high / knob.low) - 1.0
    return 2.0 * math.sqrt((value - knob.low) / (knob.high - knob.low)) - 1.0


def _intervals(jacobian: Floats, residual: Floats, free: int, quantile: float) -> Floats:
    """Half-widths of the 95 % intervals; infinite for what the readings do not tell."""
    variance = max(float(residual @ residual) / free, 1.0)
    normal = jacobian.T @ jacobian
    wide = np.full(len(normal), np.inf)
    # What no reading answers to would make the matrix singular: it is left out and stays unknown.
    seen = np.diag(normal) > 1e-9 * max(float(np.diag(normal).max()), 1e-300)
    inner = normal[np.ix_(seen, seen)]
    if inner.size and np.linalg.cond(inner) < 1e12:
        wide[seen] = quantile * np.sqrt(variance * np.diag(np.linalg.inv(inner)))
    return wide


def _span(machine: Machine, tag: str) -> float:
    signal = machine.signals[tag]
    return float((signal.high - signal.low) * UNITS[signal.unit].factor)
