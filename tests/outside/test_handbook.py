"""Every handbook example, to the printed digits; the source stands beside each."""

from __future__ import annotations

import pytest

from trainer.planning import accumulators as acc
from trainer.planning import battery, killsheet, pumps, response
from trainer.units import from_unit, to_unit


def psi(value: float) -> float:
    """psi as Pa."""
    return from_unit(value, "psi")


# --- Accumulators ---


def test_ten_gallon_bottle_at_surface() -> None:
    """10 gal, 1000/3000/1200 psi: gas 8.33 and 3.33 gal, dead 1.67, stored 6.67, usable 5.0 gal.

    Lapeyrouse, 2nd ed. (public restatement); Crumpton, section 4.9.7, p. 173. Absolute: 4.9877, computed.
    """
    assert round(10 * 1000 / 1200, 2) == 8.33 and round(10 * 1000 / 3000, 2) == 3.33
    assert round(10 * acc.ideal_gauge(1000, 3000, 1000), 2) == 6.67
    assert round(10 * acc.ideal_gauge(1000, 1200, 1000), 2) == 1.67
    assert round(10 * acc.ideal_gauge(1000, 3000, 1200), 2) == 5.00
    assert round(10 * acc.ideal_absolute(psi(1000), psi(3000), psi(1200)), 4) == 4.9877


def test_ten_gallon_bottle_subsea() -> None:
    """1500 ft at 0.445 psi/ft: 1668, 1868, 3668 psi; 8.93 and 4.55 gal; 5.45 - 1.07 = 4.38 gal. Lapeyrouse, 2nd ed."""
    head = round(1500 * 0.445)
    assert head == 668
    assert round(10 * 1668 / 1868, 2) == 8.93 and round(10 * 1668 / 3668, 2) == 4.55
    assert round(10 * acc.ideal_gauge(1000 + head, 3000 + head, 1200 + head), 2) == 4.38


def test_ten_gallon_bottle_at_a_thousand_feet() -> None:
    """445 psi: 10 x 1445/1645 - 10 x 1445/3445 = 4.59 gal. Same method, arithmetic worked by hand."""
    assert round(10 * acc.ideal_gauge(1445, 3445, 1645), 2) == 4.59


@pytest.mark.parametrize(
    ("head", "ideal", "isothermal", "adiabatic", "stored"),
    [(0, 4.98767, 4.79311, 2.34801, 6.42204), (445, 4.57581, 4.27042, 2.11832, 5.43784)],
)
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


def test_average_precharge() -> None:
    """20 of 180 gal drawn, 3000 to 2200 psi: 917 psi. Lapeyrouse, 2nd ed., p. 41."""
    assert round(acc.average_precharge(20, 180, 3000, 2200)) == 917


def test_number_of_bottles() -> None:
    """24.1 + 3 x 11.8 + 2 x 0.46 = 60.42 gal, x 1.5 = 90.63, / 5 = 18.126, so 19. Crumpton, p. 174."""
    volumes = [24.1, 11.8, 11.8, 11.8, 0.46, 0.46]
    assert round(acc.demand(volumes), 2) == 60.42
    assert round(acc.demand(volumes, 1.5), 2) == 90.63
    assert acc.bottles_needed(acc.demand(volumes, 1.5), 5.0) == 19


@pytest.mark.parametrize(("degf", "psig"), [(32, 915.08), (40, 932.98), (100, 1066.9), (120, 1111.3)])
def test_precharge_by_temperature(degf: float, psig: float) -> None:
    """1000 psig at 70 degF, constant volume: Span et al. 2000, computed with CoolProp."""
    found = acc.precharge_at(psi(1000), from_unit(70, "degF"), from_unit(degf, "degF"))
    assert to_unit(found, "psi") == pytest.approx(psig, abs=0.25)


# --- Well ---


def test_hydrostatic() -> None:
    """13.5 lb/gal, 12,000 ft: 8424 psi. Lapeyrouse, ch. 1."""
    assert round(killsheet.hydrostatic(13.5, 12_000)) == 8424


def test_kill_example() -> None:
    """9,500 ft, 12.0 lb/gal, SIDPP 450, 8.5 x 5 in, 25 bbl: public well-control formula page."""
    kill = killsheet.kill_weight(450, 12.0, 9500)
    assert round(kill, 2) == 12.91
    assert killsheet.rounded_up(kill) == 13.0
    assert round(killsheet.formation_pressure(450, 12.0, 9500)) == 6378
    capacity = killsheet.annular_capacity(8.5, 5)
    assert round(capacity, 4) == 0.0459
    assert round(killsheet.gas_casing_pressure(6378, 25, 13.0, capacity)) == 1344


def test_influx_height_and_gradient() -> None:
    """The same example with SICP 600: 544.66 ft, 0.34860 psi/ft. IADC formula sheet 2016, 18-19; numbers computed."""
    height = killsheet.influx_height(25, killsheet.annular_capacity(8.5, 5))
    assert height == pytest.approx(544.66, abs=0.005)
    assert killsheet.influx_gradient(12.0, 450, 600, height) == pytest.approx(0.34860, abs=5e-6)


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


def test_maasp() -> None:
    """Leak-off 1000 psi at 9.5 lb/gal, shoe 4500 ft, now 12.0: 415 psi. Public formula page."""
    assert round(killsheet.maasp(1000, 9.5, 4500, 12.0)) == 415


def test_circulating_pressures() -> None:
    """SIDPP 530, slow pump 650, 14.1 lb/gal, 12,366 ft: 14.9, 1180, 688. Public worked example."""
    kill = killsheet.kill_weight(530, 14.1, 12_366)
    assert round(kill, 1) == 14.9
    assert killsheet.initial_circulating(650, 530) == 1180
    assert round(killsheet.final_circulating(650, kill, 14.1)) == 688
    sheet = killsheet.kill_sheet(530, 14.1, 12_366, 650, 200, 600, 0.1)
    assert (sheet.initial, round(sheet.final), sheet.strokes_to_bit) == (1180, 688, 2000)


def test_gas_migration() -> None:
    """400 psi/h / 0.65 psi/ft = 615.4 ft/h. Public formula page after Lapeyrouse."""
    assert round(killsheet.migration_rate(400, 0.65), 1) == 615.4


def test_boyle() -> None:
    """1 bbl at 3000 psi to 14.7 psi: 204 bbl. Public formula page."""
    assert round(killsheet.boyle_volume(1, 3000, 14.7)) == 204


def test_pit_gain_pressure_loss() -> None:
    """13 lb/gal, 8.5 x 6 in, 15 bbl: 288 psi. Public formula page."""
    assert round(killsheet.gain_pressure_loss(13, 8.5, 6, 15)) == 288


# --- Battery ---


@pytest.mark.parametrize(("amps", "exponent", "hours"), [(10, 1.2, 8.7055), (20, 1.2, 3.7893), (10, 1.1, 9.3303)])
def test_peukert(amps: float, exponent: float, hours: float) -> None:
    """100 Ah at the 20 h rate. Peukert's law t = H (C / (I H))^k; numbers computed."""
    assert round(battery.peukert_hours(100, 20, amps, exponent), 4) == hours


def test_end_of_discharge() -> None:
    """1.75 V a cell: 105 V for ten 12 V units. Common data sheets of lead-acid units."""
    assert battery.end_voltage(10) == 105.0


# --- Pumps and flow ---


def test_hydraulic_horsepower() -> None:
    """3000 psi, 20 gpm: 35.006 hp by psi gpm / 1714 (from memory; computed)."""
    assert round(pumps.hydraulic_horsepower(3000, 20), 3) == 35.006


def test_triplex_output() -> None:
    """6 x 12 in: 0.104976 bbl/stroke, at 97 % 0.101827. Lapeyrouse, ch. 1."""
    assert round(pumps.mud_pump_output(6, 12), 6) == 0.104976
    assert round(pumps.mud_pump_output(6, 12, 0.97), 6) == 0.101827


def test_plunger_flow() -> None:
    """1.25 x 2.5 in at 300 rpm: 11.953 gpm. Geometry, computed."""
    flow = pumps.plunger_flow(from_unit(1.25, "in"), from_unit(2.5, "in"), from_unit(300, "rpm"))
    assert round(to_unit(flow, "gpm"), 3) == 11.953


def test_recharge_of_forty_five_bottles() -> None:
    """45 x 10 gal, 1000 to 3000 psi, ideal: 300 gal, in 15 min 20.0 gpm. Computed."""
    volume = 450 * acc.ideal_gauge(1000, 3000, 1000)
    assert round(volume, 6) == 300
    flow = pumps.recharge_flow(from_unit(volume, "gal"), from_unit(15, "min"))
    assert round(to_unit(flow, "gpm"), 1) == 20.0
    assert pumps.recharge_time(from_unit(volume, "gal"), flow) == pytest.approx(900)


def test_air_pump_stall() -> None:
    """60:1 at 50/75/100 psi: 3000/4500/6000; 3000 psi on 75 psi needs 40:1. Common practice, computed."""
    assert [pumps.stall_pressure(air, 60) for air in (50, 75, 100)] == [3000, 4500, 6000]
    assert pumps.least_area_ratio(3000, 75) == 40


def test_valve_and_orifice() -> None:
    """Cv 1, 1000 psi: 31.623; Cv 2.5, 400 psi, SG 1.03: 49.266 (IEC 60534); 1/4 in, Cd 0.61, 1000 psi: 35.957 gpm."""
    assert round(response.valve_flow(1, 1000), 3) == 31.623
    assert round(response.valve_flow(2.5, 400, 1.03), 3) == 49.266
    flow = response.orifice_flow(from_unit(0.25, "in"), psi(1000))
    assert round(to_unit(flow, "gpm"), 3) == 35.957


def test_wave_speed_and_pilot_lines() -> None:
    """Korteweg with effective modulus; 3/16 in pilot line, 0.4 GPa, 1.1 mPa s. Computed: bounds."""
    assert [round(response.wave_speed(k * 1e9)) for k in (0.2, 0.4, 0.7, 1.0)] == [447, 632, 837, 1000]
    bore = from_unit(0.1875, "in")
    for length, transit, filling in ((300, 0.474, 0.349), (900, 1.423, 3.143), (1500, 2.372, 8.730)):
        assert round(response.transit_time(length, 0.4e9), 3) == transit
        assert round(response.filling_time(length, bore, 0.4e9, 1.1e-3), 3) == filling
