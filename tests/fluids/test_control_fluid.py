"""The control fluid's laws and what is found wrong with a mix."""

from __future__ import annotations

import doctest
import tomllib
from collections.abc import Callable

import pytest

from trainer import resources
from trainer.fluids import control_fluid


def test_docstring_examples() -> None:
    assert doctest.testmod(control_fluid).failed == 0


def test_constants_are_the_shipped_table() -> None:
    text = (resources.assets() / "tables" / "control_fluid.toml").read_text(encoding="utf-8")
    table = tomllib.loads(text)
    assert {name: getattr(control_fluid, name) for name in table["constants"]} == table["constants"]
    assert {"source", "library", "date", "range", "deviation"} <= table.keys()


@pytest.mark.parametrize(
    ("by_volume", "celsius"),
    [(0.0, 0.0), (0.089, -3.2), (0.181, -7.8), (0.277, -14.1), (0.375, -22.3), (0.475, -33.8)],
)
def test_freezing_points_lie_near_another_published_table(by_volume: float, celsius: float) -> None:
    """ASHRAE Handbook of Fundamentals, aqueous ethylene glycol, from memory: within 2.5 K."""
    assert control_fluid.freezing_point(by_volume) - 273.15 == pytest.approx(celsius, abs=2.5)
    assert control_fluid.FREEZING_MARGIN > 2.5


@pytest.mark.parametrize(("celsius", "millipascal"), [(10, 1.306), (20, 1.0016), (40, 0.6527), (60, 0.4660)])
def test_water_viscosity(celsius: float, millipascal: float) -> None:
    """IAPWS 2008 viscosity of water at one atmosphere, computed with CoolProp 8.0.0."""
    assert 1e3 * control_fluid.mix_viscosity(celsius + 273.15, 0.0) == pytest.approx(millipascal, rel=5e-3)


def test_glycol_makes_the_mix_heavier_thicker_and_harder_to_freeze() -> None:
    shares = [0.0, 0.1, 0.2, 0.3, 0.4, 0.5]
    laws: tuple[Callable[[float], float], ...] = (
        lambda g: control_fluid.mix_density(0.03, g),
        lambda g: control_fluid.mix_viscosity(280.0, g),
        lambda g: -control_fluid.freezing_point(g),
    )
    for law in laws:
        values = [law(g) for g in shares]
        assert values == sorted(values) and values[0] < values[-1]


@pytest.mark.parametrize(
    ("concentrate", "glycol", "coldest", "ids"),
    [
        (0.03, 0.0, 290.0, []),
        (0.03, 0.4, 258.0, []),
        (0.03, 0.0, 275.0, ["freezes"]),
        (0.016, 0.0, 290.0, ["poor_lubrication"]),
        (0.005, 0.0, 290.0, ["poor_lubrication", "bacteria"]),
        (0.0, 0.3, 290.0, ["poor_lubrication"]),
        (0.10, 0.0, 290.0, ["too_rich"]),
        (0.0, 0.0, 263.0, ["freezes", "poor_lubrication", "bacteria"]),
    ],
)
def test_findings(concentrate: float, glycol: float, coldest: float, ids: list[str]) -> None:
    found = control_fluid.findings(concentrate, glycol, coldest)
    assert [f.id for f in found] == ids
    assert all(f.meaning.endswith(".") and f.remedy.endswith(".") for f in found)


def test_findings_refuse_impossible_shares() -> None:
    with pytest.raises(ValueError, match="no shares of a mix"):
        control_fluid.findings(0.6, 0.5, 290.0)


def test_blending_conserves_the_ingredient() -> None:
    share = 0.03
    for _ in range(100):
        share = control_fluid.blend(2.0, share, 0.01, 0.0)
    assert share == pytest.approx(0.03 * (2.0 / 2.01) ** 100)
    assert control_fluid.blend(0.0, 0.03, 0.0, 0.5) == 0.03
