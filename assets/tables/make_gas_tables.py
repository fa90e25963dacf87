"""Fit the gas laws of trainer/fluids to the reference equations of state and write their tables.

    python assets/tables/make_gas_tables.py

needs CoolProp and numpy (development tools only). It writes ``nitrogen.toml`` and ``methane.toml`` and
puts the same coefficients into the marked block of ``trainer/fluids/gas.py`` and
``trainer/fluids/methane.py``.

The form is a Helmholtz energy, polynomial in reduced density ``d`` and inverse temperature ``t``, so that
pressure and heat capacity agree with each other:

    Z = p / (rho R T) = 1 + sum c_ij d^i t^j,   d = rho / rho_scale,   t = T_scale / T
    cv = cv0(T) - R sum c_ij j (j - 1) / i d^i t^j,   cv0 = R (k_0 + k_1 x + k_2 x^2 ...),   x = T / T_scale

All of it is linear in c_ij: one weighted least-squares fit to density (0.05 %), slopes (0.5 and 0.2 %)
and cv (0.3 %). The terms were chosen by dropping, one at a time, the term whose loss harms the fit least.
"""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import CoolProp
import numpy as np
from CoolProp.CoolProp import AbstractState, get_BibTeXKey

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
DIGITS = 9
WEIGHTS = {"density": 5e-4, "dp_drho": 5e-3, "dp_dT": 2e-3, "cv": 3e-3}
OUTER_WEIGHT = 0.4


@dataclass(frozen=True)
class Gas:
    """One gas to fit: its constants' prefix and module, the terms (i, j), the whole and the core range."""

    name: str
    prefix: str
    module: str
    terms: tuple[tuple[int, int], ...]
    cv0_terms: int
    temperatures: tuple[float, float]
    core_temperatures: tuple[float, float]
    highest_pressure: float
    source: str
    density_scale: float = 300.0
    temperature_scale: float = 300.0


GASES = (
    Gas(
        "Nitrogen",
        "N2",
        "trainer/fluids/gas.py",
        (
            (1, 0),
            (1, 1),
            (1, 2),
            (1, 3),
            (1, 4),
            (2, 0),
            (2, 2),
            (3, 1),
            (3, 2),
            (3, 3),
            (4, 0),
            (4, 3),
            (5, 2),
        ),
        3,
        (190.0, 400.0),
        (240.0, 355.0),
        460e5,
        "Span, Lemmon, Jacobsen, Wagner and Yokozeki, J. Phys. Chem. Ref. Data 29 (2000) 1361-1433",
    ),
    Gas(
        "Methane",
        "CH4",
        "trainer/fluids/methane.py",
        ((1, 0), (1, 1), (1, 2), (2, 1), (3, 0), (3, 1), (3, 2), (4, 0), (4, 1), (4, 2), (4, 3), (5, 2)),
        4,
        (270.0, 430.0),
        (280.0, 400.0),
        700e5,
        "Setzmann and Wagner, J. Phys. Chem. Ref. Data 20 (1991) 1061-1155",
    ),
)


def reference(gas: Gas) -> tuple[float, Any]:
    """Gas constant and rows of T, p, rho, dp_drho, dp_dT, cv, cv0 from the reference equation, all SI."""
    state = AbstractState("HEOS", gas.name)
    constant = state.gas_constant() / state.molar_mass()
    rows = []
    for temperature in np.linspace(*gas.temperatures, 31):
        for pressure in np.concatenate([[1e5, 5e5], np.linspace(1e6, gas.highest_pressure, 32)]):
            state.update(CoolProp.PT_INPUTS, pressure, temperature)
            slope = state.first_partial_deriv(CoolProp.iP, CoolProp.iDmass, CoolProp.iT)
            thermal = state.first_partial_deriv(CoolProp.iP, CoolProp.iT, CoolProp.iDmass)
            cv0 = state.cp0mass() - constant
            rows.append((temperature, pressure, state.rhomass(), slope, thermal, state.cvmass(), cv0))
    return constant, np.array(rows)


def fit(gas: Gas) -> dict[str, Any]:
    """Coefficients, rounded to DIGITS, and the largest deviations of the law with the rounded values."""
    constant, rows = reference(gas)
    T, p, rho, slope, thermal, cv, cv0 = rows.T
    d, t, x = rho / gas.density_scale, gas.temperature_scale / T, T / gas.temperature_scale
    i = np.array([a for a, _ in gas.terms])
    j = np.array([b for _, b in gas.terms])
    powers = d[:, None] ** i * t[:, None] ** j

    cv0_powers = x[:, None] ** np.arange(gas.cv0_terms)
    k = np.linalg.lstsq(cv0_powers, cv0 / constant, rcond=None)[0]
    k = np.array([float(f"{v:.{DIGITS}g}") for v in k])
    cv0_law = constant * (cv0_powers @ k)

    stiff = constant * T / slope
    gain = constant * rho / thermal
    # Each block: what the coefficients are multiplied by, and the aim, both as relative deviations.
    blocks = {
        "density": (powers * stiff[:, None], (p / (rho * constant * T) - 1) * stiff),
        "dp_drho": (powers * (i + 1) * stiff[:, None], (slope / (constant * T) - 1) * stiff),
        "dp_dT": (powers * (1 - j) * gain[:, None], (thermal / (constant * rho) - 1) * gain),
        "cv": (-powers * (j * (j - 1) / i) * (constant / cv)[:, None], (cv - cv0_law) / cv),
    }
    core = (gas.core_temperatures[0] <= T) & (gas.core_temperatures[1] >= T)
    weight = np.where(core, 1.0, OUTER_WEIGHT)
    matrix = np.vstack([a * (weight / WEIGHTS[n])[:, None] for n, (a, _) in blocks.items()])
    aim = np.concatenate([b * weight / WEIGHTS[n] for n, (_, b) in blocks.items()])
    c = np.linalg.lstsq(matrix, aim, rcond=None)[0]
    c = np.array([float(f"{v:.{DIGITS}g}") for v in c])

    deviations = {n: np.abs(a @ c - b) for n, (a, b) in blocks.items()}
    return {
        "gas_constant": float(f"{constant:.{DIGITS}g}"),
        "terms": list(zip(gas.terms, c.tolist(), strict=True)),
        "cv0": k.tolist(),
        "core": {n: float(v[core].max()) for n, v in deviations.items()},
        "all": {n: float(v.max()) for n, v in deviations.items()},
        "highest_density": float(rho.max()),
    }


def constants(gas: Gas, found: dict[str, Any]) -> list[tuple[str, float]]:
    """Names and values of the module constants, in order: c_ij is ``N2_i_j``, k_i is ``N2_CV0_i``."""
    listed = [
        (f"{gas.prefix}_GAS_CONSTANT", found["gas_constant"]),
        (f"{gas.prefix}_DENSITY_SCALE", gas.density_scale),
        (f"{gas.prefix}_TEMPERATURE_SCALE", gas.temperature_scale),
    ]
    listed += [(f"{gas.prefix}_{i}_{j}", value) for (i, j), value in found["terms"]]
    listed += [(f"{gas.prefix}_CV0_{n}", value) for n, value in enumerate(found["cv0"])]
    return listed


def table(gas: Gas, found: dict[str, Any]) -> str:
    """The TOML text: provenance, range, deviations, constants."""
    low, high = gas.temperatures
    lines = [
        "# Written by make_gas_tables.py in this folder; run it again instead of editing.",
        f'gas = "{gas.name.lower()}"',
        f'source = "{gas.source}"',
        f'library = "CoolProp {CoolProp.__version__}, equation {get_BibTeXKey(gas.name, "EOS")}"',
        f'date = "{datetime.date.today().isoformat()}"',
        'units = "kg/m3, K, J/(kg K); the c_ij and cv0 coefficients are pure numbers"',
        'form = "Z = 1 + sum c_ij (rho/density_scale)^i (temperature_scale/T)^j"',
        "",
        "[range]",
        f"temperature_K = [{low}, {high}]",
        f"core_temperature_K = [{gas.core_temperatures[0]}, {gas.core_temperatures[1]}]",
        f"pressure_Pa = [0.0, {gas.highest_pressure}]",
        f"highest_density_kg_m3 = {found['highest_density']:.1f}",
        "",
        "# Largest relative deviation from the reference on the grid of the fit.",
    ]
    for part in ("core", "all"):
        lines += [f"[deviation.{part}]"] + [f"{n} = {v:.2g}" for n, v in found[part].items()] + [""]
    if gas.name == "Nitrogen":
        lines += ["# Serves on from highest pressure to 7e7 Pa: density within 0.0007 (tests/outside/test_gas.py).", ""]
    lines += ["[constants]"] + [f"{name} = {value!r}" for name, value in constants(gas, found)]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Write both tables and both constant blocks."""
    for gas in GASES:
        found = fit(gas)
        (HERE / f"{gas.name.lower()}.toml").write_text(table(gas, found), encoding="utf-8")
        module = ROOT / gas.module
        block = "\n".join(f"{name} = {value!r}" for name, value in constants(gas, found))
        marked = re.compile(r"(# begin generated\b[^\n]*\n).*?(# end generated)", re.DOTALL)
        fresh = r"\g<1>" + block + "\n" + r"\g<2>"
        text, count = marked.subn(fresh, module.read_text(encoding="utf-8"))
        if count != 1:
            raise SystemExit(f"{module} must hold exactly one block between '# begin generated' and '# end generated'")
        module.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
