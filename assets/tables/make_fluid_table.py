"""Fit the control fluid's properties to published glycol-water and water data; write control_fluid.toml.

    python assets/tables/make_fluid_table.py

needs CoolProp and numpy (development tools only). Glycol is ethylene glycol; shares are by volume at 20
degC.

    freezing point, degC    = f1 x + f2 x^2 + f3 x^3
    density at 20 degC      = water + d1 x + d2 x^2
    viscosity, Pa s  = (1 + v1 x + v2 x^2 + y (v3 x + v4 x^2)) / (u0 + u1 y + u2 y^2),  y = T / 300 K - 1
"""

from __future__ import annotations

import datetime
import re
from pathlib import Path

import CoolProp
import numpy as np
from CoolProp.CoolProp import PropsSI

HERE = Path(__file__).resolve().parent
MODULE = HERE.parent.parent / "trainer/fluids/control_fluid.py"
GLYCOL_DENSITY = 1113.0  # kg/m3 at 20 degC, pure ethylene glycol, from memory of common tables
PRESSURE = 101_325.0


def properties(share: float, temperature: float) -> tuple[float, float, float]:
    """Freezing point (degC), density (kg/m3) and viscosity (Pa s) of glycol in water, from the library."""
    water = PropsSI("D", "T", 293.15, "P", PRESSURE, "Water")
    mass = share * GLYCOL_DENSITY / (share * GLYCOL_DENSITY + (1 - share) * water)
    fluid = f"INCOMP::MEG[{mass}]"
    frozen = PropsSI("T_freeze", "T", 300.0, "P", PRESSURE, fluid) - 273.15
    density = PropsSI("D", "T", 293.15, "P", PRESSURE, fluid)
    return frozen, density, PropsSI("V", "T", temperature, "P", PRESSURE, fluid)


def main() -> None:
    """Fit, write the table and the marked block of the module."""
    x = np.linspace(0.02, 0.55, 28)
    found = np.array([properties(v, 293.15) for v in x])
    water = PropsSI("D", "T", 293.15, "P", PRESSURE, "Water")
    f = np.linalg.lstsq(np.stack([x, x**2, x**3], axis=1), found[:, 0], rcond=None)[0]
    d = np.linalg.lstsq(np.stack([x, x**2], axis=1), found[:, 1] - water, rcond=None)[0]

    temperatures = np.linspace(275.15, 333.15, 30)
    y = temperatures / 300.0 - 1.0
    fluidity = np.array([1.0 / PropsSI("V", "T", t, "P", PRESSURE, "Water") for t in temperatures])
    powers = np.stack([y**0, y, y**2], axis=1)
    u = np.linalg.lstsq(powers / fluidity[:, None], np.ones_like(y), rcond=None)[0]
    gx, gy = (a.ravel() for a in np.meshgrid(np.linspace(0.02, 0.5, 13), y))
    glycol = np.array([properties(s, 300.0 * (k + 1.0))[2] for s, k in zip(gx, gy, strict=True)])
    ratio = glycol * (u[0] + u[1] * gy + u[2] * gy**2)
    terms = np.stack([gx, gx**2, gy * gx, gy * gx**2], axis=1)
    v = np.linalg.lstsq(terms / ratio[:, None], (ratio - 1.0) / ratio, rcond=None)[0]

    constants = {"WATER_DENSITY": water}
    constants |= {f"FREEZING_{n}": c for n, c in enumerate(f, 1)}
    constants |= {f"THICKER_{n}": c for n, c in enumerate(d, 1)}
    constants |= {f"VISCOUS_{n}": c for n, c in enumerate(v, 1)}
    constants |= {f"FLUIDITY_{n}": c for n, c in enumerate(u)}
    rounded = {name: float(f"{value:.6g}") for name, value in constants.items()}

    deviations = {
        "freezing_point_K": float(np.max(np.abs(f[0] * x + f[1] * x**2 + f[2] * x**3 - found[:, 0]))),
        "density_kg_m3": float(np.max(np.abs(d[0] * x + d[1] * x**2 + water - found[:, 1]))),
        "water_viscosity_relative": float(np.max(np.abs(fluidity / (powers @ u) - 1.0))),
        "glycol_viscosity_relative": float(np.max(np.abs((1.0 + terms @ v) / ratio - 1.0))),
    }
    lines = [
        "# Written by make_fluid_table.py in this folder; run it again instead of editing.",
        'fluid = "water with ethylene glycol"',
        'source = "Melinder, Properties of Secondary Working Fluids for Indirect Systems, IIR 2010; '
        'water: IAPWS-95 and IAPWS 2008 viscosity"',
        f'library = "CoolProp {CoolProp.__version__}, incompressible MEG and Water"',
        f'date = "{datetime.date.today().isoformat()}"',
        'units = "kg/m3, degC, 1/(Pa s); shares of glycol by volume"',
        "",
        "[range]",
        "glycol = [0.0, 0.55]",
        "temperature_K = [275.15, 333.15]",
        "",
        "# Largest deviation from the library on the grid of the fit.",
        "[deviation]",
        *(f"{name} = {value:.2g}" for name, value in deviations.items()),
        "",
        "[constants]",
        *(f"{name} = {value!r}" for name, value in rounded.items()),
    ]
    (HERE / "control_fluid.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")
    block = "\n".join(f"{name} = {value!r}" for name, value in rounded.items())
    marked = re.compile(r"(# begin generated\b[^\n]*\n).*?(# end generated)", re.DOTALL)
    fresh = r"\g<1>" + block + "\n" + r"\g<2>"
    text, count = marked.subn(fresh, MODULE.read_text(encoding="utf-8"))
    if count != 1:
        raise SystemExit(f"{MODULE} must hold exactly one block between '# begin generated' and '# end generated'")
    MODULE.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
