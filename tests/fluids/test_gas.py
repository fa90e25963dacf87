"""The gas laws as programs: tables and constants agree, slopes are the slopes, steps are second order."""

from __future__ import annotations

import ast
import doctest
import inspect
import tomllib
from types import ModuleType

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.outside.by_steps import adiabatic_temperature
from trainer import resources
from trainer.fluids import gas, methane

DENSITIES = st.floats(0.5, 560.0)
TEMPERATURES = st.floats(190.0, 400.0)


def test_docstring_examples() -> None:
    assert doctest.testmod(gas).failed == 0


@pytest.mark.parametrize(("module", "name", "prefix"), [(gas, "nitrogen", "N2_"), (methane, "methane", "CH4_")])
def test_constants_are_the_shipped_table(module: ModuleType, name: str, prefix: str) -> None:
    table = tomllib.loads((resources.assets() / "tables" / f"{name}.toml").read_text(encoding="utf-8"))
    in_module = {key: value for key, value in vars(module).items() if key.startswith(prefix)}
    assert in_module == table["constants"]
    assert {"source", "library", "date", "range", "deviation"} <= table.keys()


@pytest.mark.parametrize(
    "function",
    [gas.nitrogen_pressure, gas.nitrogen_thermal, gas.nitrogen, gas.ideal_nitrogen,
     gas.bottle_temperature, methane.methane_pressure,
     methane.methane_thermal, methane.methane],
)  # fmt: skip
def test_laws_stay_in_the_language_that_compiles(function: object) -> None:
    tree = ast.parse(inspect.getsource(function)).body[0]  # type: ignore[arg-type]
    assert isinstance(tree, ast.FunctionDef)
    body = tree.body[1:]
    assert [type(s) for s in body] == [ast.Assign] * (len(body) - 1) + [ast.Return]
    banned = (ast.Pow, ast.Attribute, ast.Subscript, ast.keyword, ast.Lambda, ast.ListComp)
    assert not [node for part in body for node in ast.walk(part) if isinstance(node, banned)]


@given(DENSITIES, TEMPERATURES)
def test_nitrogen_slopes_are_its_derivatives(rho: float, temperature: float) -> None:
    _, dp_drho, dp_dt, cv = gas.nitrogen(rho, temperature)
    h, k = 1e-4 * rho, 1e-4 * temperature
    by_rho = (gas.nitrogen(rho + h, temperature)[0] - gas.nitrogen(rho - h, temperature)[0]) / (2 * h)
    by_t = (gas.nitrogen(rho, temperature + k)[0] - gas.nitrogen(rho, temperature - k)[0]) / (2 * k)
    assert dp_drho == pytest.approx(by_rho, rel=1e-5)
    assert dp_dt == pytest.approx(by_t, rel=1e-5)
    assert dp_drho > 0 and dp_dt > 0 and 700 < cv < 1100


@given(DENSITIES, TEMPERATURES)
def test_heat_capacity_comes_from_the_same_energy(rho: float, temperature: float) -> None:
    """Maxwell: d cv / d rho = -T / rho^2 * d2p / dT2."""
    h, k = 1e-3 * rho, 1e-3 * temperature
    left = (gas.nitrogen(rho + h, temperature)[3] - gas.nitrogen(rho - h, temperature)[3]) / (2 * h)
    bend = (gas.nitrogen(rho, temperature + k)[2] - gas.nitrogen(rho, temperature - k)[2]) / (2 * k)
    assert left == pytest.approx(-temperature / (rho * rho) * bend, rel=1e-3, abs=1e-4)


@given(st.floats(0.5, 325.0), st.floats(270.0, 430.0))
def test_methane_slopes_are_its_derivatives(rho: float, temperature: float) -> None:
    _, dp_drho, dp_dt, cv = methane.methane(rho, temperature)
    h, k = 1e-4 * rho, 1e-4 * temperature
    by_rho = (methane.methane(rho + h, temperature)[0] - methane.methane(rho - h, temperature)[0]) / (2 * h)
    by_t = (methane.methane(rho, temperature + k)[0] - methane.methane(rho, temperature - k)[0]) / (2 * k)
    assert dp_drho == pytest.approx(by_rho, rel=1e-5)
    assert dp_dt == pytest.approx(by_t, rel=1e-5)
    assert dp_drho > 0 and 1500 < cv < 3000


@given(DENSITIES, TEMPERATURES)
def test_density_undoes_pressure(rho: float, temperature: float) -> None:
    pressure = gas.nitrogen_pressure(rho, temperature)[0]
    if pressure <= 1.5e8:
        assert gas.density(pressure, temperature) == pytest.approx(rho, rel=1e-11)


def test_density_refuses_what_is_no_gas() -> None:
    for pressure, temperature in ((-1.0, 300.0), (1e6, 20.0), (float("nan"), 300.0)):
        with pytest.raises(ValueError, match="give an absolute pressure from 0"):
            gas.density(pressure, temperature)
    assert gas.density(0.0, 300.0) == 0.0


def test_adiabatic_steps_are_second_order() -> None:
    """Halving the step quarters the error of a fast discharge from 224 to 120 kg/m3."""
    fine = adiabatic_temperature(294.26, 224.0, 120.0, 20_000)
    errors = [abs(adiabatic_temperature(294.26, 224.0, 120.0, n) - fine) for n in (10, 20, 40)]
    assert errors[0] < 0.1
    assert errors[0] / errors[1] > 2.5 and errors[1] / errors[2] > 2.5


def test_a_discharge_and_its_reverse_end_where_they_began() -> None:
    cold = adiabatic_temperature(294.26, 224.0, 120.0)
    assert adiabatic_temperature(cold, 120.0, 224.0) == pytest.approx(294.26, abs=2e-3)


def test_the_wall_warms_the_gas_back() -> None:
    """One relaxation time leaves 1/e of the difference; a huge step stays between gas and wall."""
    temperature = 220.0
    for _ in range(100):
        temperature = gas.bottle_temperature(temperature, 120.0, 120.0, 294.0, 0.01)
    assert (294.0 - temperature) / 74.0 == pytest.approx(0.36788, rel=1e-4)
    swung = gas.bottle_temperature(220.0, 120.0, 120.0, 294.0, 50.0)
    assert abs(swung - 294.0) < 74.0


def test_slow_discharge_is_isothermal_and_fast_is_adiabatic() -> None:
    def discharge(relax: float) -> float:
        rho, temperature = 224.0, 294.26
        for n in range(1, 1001):
            following = 224.0 - 104.0 * n / 1000
            temperature = gas.bottle_temperature(temperature, rho, following, 294.26, relax)
            rho = following
        return temperature

    assert discharge(1.0) == pytest.approx(294.26, abs=0.5)
    assert discharge(0.0) == pytest.approx(adiabatic_temperature(294.26, 224.0, 120.0), abs=0.01)
    assert discharge(0.0) < discharge(0.001) < discharge(0.01) < discharge(1.0)


def test_expansion_refuses_impossible_pressures() -> None:
    for pressure in (0.0, 3e7):
        with pytest.raises(ValueError, match="cannot expand"):
            gas.adiabatic_density(294.0, 224.0, pressure)
