"""Every handbook example, to the printed digits; the source stands beside each."""

from __future__ import annotations

import pytest

from tests import killsheet
from tests.outside.sources import held_against
from trainer.planning import accumulators as acc
from trainer.planning import pumps
from trainer.units import from_unit, to_unit


def psi(value: float) -> float:
    """psi as Pa."""
    return from_unit(value, "psi")


# --- Accumulators ---


@held_against("gas, ideal", "Lapeyrouse; Crumpton p. 173: 10 gal bottle, dead 1.67, stored 6.67, usable 5.00 gal")
def test_ten_gallon_bottle_at_surface() -> None:
    """10 gal, 1000/3000/1200 psi: gas 8.33 and 3.33 gal, dead 1.67, stored 6.67, usable 5.0 gal.

    Lapeyrouse, 2nd ed. (public restatement); Crumpton, section 4.9.7, p. 173. Absolute: 4.9877, computed.
    """
    assert round(10 * acc.ideal_gauge(1000, 3000, 1000), 2) == 6.67
    assert round(10 * acc.ideal_gauge(1000, 1200, 1000), 2) == 1.67
    assert round(10 * acc.ideal_gauge(1000, 3000, 1200), 2) == 5.00
    assert round(10 * acc.ideal_absolute(psi(1000), psi(3000), psi(1200)), 4) == 4.9877


@held_against("gas, ideal", "Lapeyrouse, 2nd ed.: the same at 1,500 ft, 4.38 gal")
def test_ten_gallon_bottle_subsea() -> None:
    """1500 ft at 0.445 psi/ft: 1668, 1868, 3668 psi; 8.93 and 4.55 gal; 5.45 - 1.07 = 4.38 gal. Lapeyrouse, 2nd ed."""
    head = round(1500 * 0.445)
    assert head == 668
    assert round(10 * acc.ideal_gauge(1000 + head, 3000 + head, 1200 + head), 2) == 4.38


@pytest.mark.parametrize(
    ("head", "ideal", "isothermal", "adiabatic", "stored"),
    [(0, 4.98767, 4.79311, 2.34801, 6.42204), (445, 4.57581, 4.27042, 2.11832, 5.43784)],
)
@held_against("gas, nitrogen", "Span and others (2000) by CoolProp: one bottle by every method")
def test_the_same_bottle_by_every_method(
    head: float, ideal: float, isothermal: float, adiabatic: float, stored: float
) -> None:
    """Ideal absolute, real isothermal, real adiabatic and stored gal: Span et al. 2000, computed with CoolProp."""
    pressures = (psi(1000 + head), psi(3000 + head), psi(1200 + head))
    warm = from_unit(70, "degF")
    assert 10 * acc.ideal_absolute(*pressures) == pytest.approx(ideal, abs=1e-4)
    assert 10 * acc.real_isothermal(*pressures, warm) == pytest.approx(isothermal, rel=5e-4)
    assert 10 * acc.real_adiabatic(*pressures, warm) == pytest.approx(adiabatic, rel=2e-3)
    assert 10 * acc.stored_fraction(*pressures[:2], warm) == pytest.approx(stored, rel=5e-4)


@pytest.mark.parametrize(
    ("pre", "high", "low", "degf", "gauge", "absolute", "isothermal", "adiabatic", "ideal_adiabatic"),
    [
        (1000, 3000, 1200, 70, 0.50000, 0.49877, 0.47931, 0.23480, 0.30770),
        (1000, 3000, 1200, 40, 0.50000, 0.49877, 0.47933, 0.22543, 0.30770),
        (1000, 3000, 1200, 120, 0.50000, 0.49877, 0.47922, 0.24678, 0.30770),
        (1668, 3668, 1868, 40, 0.43819, 0.43685, 0.39868, 0.19054, 0.28094),
        (1500, 5000, 1800, 70, 0.53333, 0.53263, 0.48272, 0.21095, 0.32225),
    ],
)
@held_against("gas, nitrogen", "Span and others (2000) by CoolProp: usable fractions")
def test_usable_fractions(
    pre: float,
    high: float,
    low: float,
    degf: float,
    gauge: float,
    absolute: float,
    isothermal: float,
    adiabatic: float,
    ideal_adiabatic: float,
) -> None:
    """Usable fraction of the bottle after a slow charge: Span et al. 2000, computed with CoolProp 8.0.0."""
    case = (psi(pre), psi(high), psi(low), from_unit(degf, "degF"))
    assert round(acc.METHODS["ideal_gauge"](*case), 5) == gauge
    assert acc.METHODS["ideal_absolute"](*case) == pytest.approx(absolute, abs=6e-6)
    assert acc.METHODS["ideal_adiabatic"](*case) == pytest.approx(ideal_adiabatic, abs=6e-6)
    assert acc.METHODS["real_isothermal"](*case) == pytest.approx(isothermal, rel=5e-4)
    assert acc.METHODS["real_adiabatic"](*case) == pytest.approx(adiabatic, rel=2e-3)


@held_against("average precharge", "Lapeyrouse, 2nd ed., p. 41: 917 psi")
def test_average_precharge() -> None:
    """20 of 180 gal drawn, 3000 to 2200 psi: 917 psi. Lapeyrouse, 2nd ed., p. 41."""
    assert round(acc.average_precharge(20, 180, 3000, 2200)) == 917


@held_against("number of bottles", "Crumpton p. 174: 19 bottles")
def test_number_of_bottles() -> None:
    """24.1 + 3 x 11.8 + 2 x 0.46 = 60.42 gal, x 1.5 = 90.63, / 5 = 18.126, so 19. Crumpton, p. 174."""
    volumes = [24.1, 11.8, 11.8, 11.8, 0.46, 0.46]
    assert round(acc.demand(volumes), 2) == 60.42
    assert round(acc.demand(volumes, 1.5), 2) == 90.63
    assert acc.bottles_needed(acc.demand(volumes, 1.5), 5.0) == 19


@pytest.mark.parametrize(("degf", "psig"), [(32, 915.08), (40, 932.98), (100, 1066.9), (120, 1111.3)])
@held_against("gas, nitrogen", "Span and others (2000) by CoolProp: precharge by temperature")
def test_precharge_by_temperature(degf: float, psig: float) -> None:
    """1000 psig at 70 degF, constant volume: Span et al. 2000, computed with CoolProp."""
    found = acc.precharge_at(psi(1000), from_unit(70, "degF"), from_unit(degf, "degF"))
    assert to_unit(found, "psi") == pytest.approx(psig, abs=0.25)


# --- Well ---


@held_against("kill sheet", "Lapeyrouse, ch. 1: 8,424 psi")
def test_hydrostatic() -> None:
    """13.5 lb/gal, 12,000 ft: 8424 psi. Lapeyrouse, ch. 1."""
    assert round(killsheet.hydrostatic(13.5, 12_000)) == 8424


@held_against("kill sheet", "public well-control formula page: 12.91 lb/gal, 6,378 psi, 1,344 psi")
def test_kill_example() -> None:
    """9,500 ft, 12.0 lb/gal, SIDPP 450, 8.5 x 5 in, 25 bbl: public well-control formula page."""
    kill = killsheet.kill_weight(450, 12.0, 9500)
    assert round(kill, 2) == 12.91
    assert killsheet.rounded_up(kill) == 13.0
    assert round(killsheet.formation_pressure(450, 12.0, 9500)) == 6378
    capacity = killsheet.annular_capacity(8.5, 5)
    assert round(capacity, 4) == 0.0459
    assert round(killsheet.gas_casing_pressure(6378, 25, 13.0, capacity)) == 1344


@held_against("kill sheet", "formula sheet of 2016, 6: 712 psi")
def test_casing_pressure_from_influx() -> None:
    """450 + 500 x (0.624 - 0.10) = 712 psi. IADC formula sheet 2016, 6; numbers computed."""
    assert round(killsheet.casing_pressure(450, 500, 0.624, 0.10)) == 712


def test_an_inconsistent_set_of_readings() -> None:
    """10,000 ft, 9.6 lb/gal, SIDPP 520, SICP 820, 20 bbl, 0.0459 bbl/ft: worked by hand; the gradient is negative."""
    assert round(killsheet.formation_pressure(520, 9.6, 10_000)) == 5512
    assert round(killsheet.kill_weight(520, 9.6, 10_000), 6) == 10.6
    height = killsheet.influx_height(20, 0.0459)
    assert round(height, 1) == 435.7
    with pytest.raises(ValueError, match="do not fit together"):
        killsheet.influx_gradient(9.6, 520, 820, height)


@held_against("kill sheet", "public formula page: MAASP 415 psi")
def test_maasp() -> None:
    """Leak-off 1000 psi at 9.5 lb/gal, shoe 4500 ft, now 12.0: 415 psi. Public formula page."""
    assert round(killsheet.maasp(1000, 9.5, 4500, 12.0)) == 415


@held_against("kill sheet", "public worked example: 14.9 lb/gal, 1,180 and 688 psi")
def test_circulating_pressures() -> None:
    """SIDPP 530, slow pump 650, 14.1 lb/gal, 12,366 ft: 14.9, 1180, 688. Public worked example."""
    kill = killsheet.kill_weight(530, 14.1, 12_366)
    assert round(kill, 1) == 14.9
    assert killsheet.initial_circulating(650, 530) == 1180
    assert round(killsheet.final_circulating(650, kill, 14.1)) == 688
    sheet = killsheet.kill_sheet(530, 14.1, 12_366, 650, 200, 600, 0.1)
    assert (sheet.initial, round(sheet.final), sheet.strokes_to_bit) == (1180, 688, 2000)


@held_against("kill sheet", "public formula page after Lapeyrouse: 615.4 ft/h")
def test_gas_migration() -> None:
    """400 psi/h / 0.65 psi/ft = 615.4 ft/h. Public formula page after Lapeyrouse."""
    assert round(killsheet.migration_rate(400, 0.65), 1) == 615.4


@held_against("kill sheet", "public formula page: 288 psi")
def test_pit_gain_pressure_loss() -> None:
    """13 lb/gal, 8.5 x 6 in, 15 bbl: 288 psi. Public formula page."""
    assert round(killsheet.gain_pressure_loss(13, 8.5, 6, 15)) == 288


# --- Battery ---


# --- Pumps and flow ---


@held_against("output of a triplex pump", "Lapeyrouse, ch. 1: 6 by 12 in, 0.104976 bbl/stroke")
def test_triplex_output() -> None:
    """6 x 12 in: 0.104976 bbl/stroke, at 97 % 0.101827. Lapeyrouse, ch. 1."""
    assert round(pumps.mud_pump_output(6, 12), 6) == 0.104976
    assert round(pumps.mud_pump_output(6, 12, 0.97), 6) == 0.101827
