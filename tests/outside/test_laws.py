"""The plant's own laws against printed figures and general libraries.

The library ``fluids`` (Bell and contributors, 1.x) computes each correlation as its printed source gives it; CoolProp
computes water after IAPWS. None of their code or constants is in this program.
"""

from __future__ import annotations

import math

import pytest

from tests.outside.sources import held_against
from trainer.constants import GRAVITY, SEA_WATER
from trainer.fluids import control_fluid
from trainer.hydraulics.laws import orifice
from trainer.plant import pumps
from trainer.plant.air import receiver
from trainer.plant.electrical import END_VOLTS, FULL_VOLTS, Electrical
from trainer.plant.manifold import stiff
from trainer.plant.pumps import PUMP_EFFICIENCY
from trainer.plant.rig import load_plant
from trainer.plant.umbilical import AT_SPEED, Umbilical, friction, line_k
from trainer.units import from_unit, to_unit

fluids = pytest.importorskip("fluids")
PropsSI = pytest.importorskip("CoolProp.CoolProp").PropsSI

INCH, FOOT, PSI = 0.0254, 0.3048, from_unit(1.0, "psi")
LINES = [
    # Bore, length (m), density, viscosity (Pa s): power line of 1,650 ft, hoses, a deep line, one with glycol.
    (1.5 * INCH, 1800.0 * FOOT, 1003.0, 1.55e-3),
    (1.0 * INCH, 150.0 * FOOT, 1003.0, 1.0e-3),
    (2.25 * INCH, 7500.0 * FOOT, 1003.0, 1.6e-3),
    (1.5 * INCH, 1800.0 * FOOT, 1060.0, 4.0e-3),
]
TURBULENT = {
    "Colebrook's equation, solved by Clamond (Ind. Eng. Chem. Res. 48, 2009)": "Clamond",
    "Haaland (J. Fluids Eng. 105, 1983)": "Haaland",
    "Swamee and Jain (J. Hydraulics Div. 102, 1976)": "Swamee_Jain_1976",
    "Wood (1966), as restated by Genic and others (FME Trans. 39, 2011)": "Wood_1966",
    "Churchill (Chem. Eng. 84, 1977)": "Churchill_1977",
}


def umbilical(**changes: str) -> Umbilical:
    given = {
        "length": "1000 ft", "pilot_bore": "0.1875 in", "pilot_modulus": "400 MPa", "supply_bore": "1.5 in",
        "supply_modulus": "800 MPa",
    }  # fmt: skip
    return Umbilical.model_validate({**given, **changes})


# --- Losses in lines ---


def turbulent(name: str) -> None:
    """Pressure lost at ``AT_SPEED`` in a smooth line, by one correlation of the library, within 4 %."""
    for bore, length, density, viscosity in LINES:
        reynolds = fluids.Reynolds(V=AT_SPEED, D=bore, rho=density, mu=viscosity)
        factor = getattr(fluids.friction, name)(reynolds, 1.0e-9)
        lost = fluids.dP_from_K(fluids.K_from_f(fd=factor, L=length, D=bore), rho=density, V=AT_SPEED)
        flow = AT_SPEED * 0.25 * math.pi * bore * bore
        own = (flow / line_k(bore, length, density, viscosity)) ** 2
        assert own == pytest.approx(lost, rel=0.04), (bore, reynolds)


@held_against("loss in a turbulent line", next(s for s in TURBULENT if "Clamond" in s))
def test_line_loss_by_colebrook() -> None:
    turbulent("Clamond")


@held_against("loss in a turbulent line", next(s for s in TURBULENT if "Haaland" in s))
def test_line_loss_by_haaland() -> None:
    turbulent("Haaland")


@held_against("loss in a turbulent line", next(s for s in TURBULENT if "Swamee" in s))
def test_line_loss_by_swamee_and_jain() -> None:
    turbulent("Swamee_Jain_1976")


@held_against("loss in a turbulent line", next(s for s in TURBULENT if "Churchill" in s))
def test_line_loss_by_churchill() -> None:
    turbulent("Churchill_1977")


@held_against(
    "loss in a turbulent line", "Moody chart: f = 0.018 at Re = 1e5, smooth (White, Fluid Mechanics; from memory)"
)
def test_friction_factor_of_the_chart() -> None:
    viscosity = 1000.0 * AT_SPEED * 0.05 / 1.0e5
    assert friction(0.05, 1000.0, viscosity) == pytest.approx(0.018, rel=0.02)


@held_against(
    "loss in a laminar line", "fluids: 64/Re and dP = K rho V^2 / 2 (Hagen-Poiseuille by way of Darcy-Weisbach)"
)
def test_laminar_line_by_darcy() -> None:
    line = umbilical()
    for viscosity in (1.0e-3, 1.6e-3, 5.0e-3):
        speed = 0.2
        reynolds = fluids.Reynolds(V=speed, D=line.pilot_bore, rho=1000.0, mu=viscosity)
        lost = fluids.dP_from_K(
            fluids.K_from_f(fluids.friction_factor(reynolds), line.length, line.pilot_bore), rho=1000.0, V=speed
        )
        flow = speed * 0.25 * math.pi * line.pilot_bore**2
        assert reynolds < 2000.0
        assert flow / line.pilot_g(viscosity) == pytest.approx(lost, rel=1e-6)


@held_against(
    "filling of a pilot line",
    "Carslaw and Jaeger, Conduction of Heat in Solids, 2nd ed., 3.3: a slab whose one face is stepped",
)
def test_two_lumps_fill_as_the_distributed_line_does() -> None:
    """Time in which the far end of a closed line comes to 40 and to 63 % of a step at the near end.

    The distributed line's series against the plant's two lumps: the second, half of C, behind the whole R; in R C.
    """

    def far_end(t: float) -> float:
        series = 0.0
        for n in range(60):
            mode = (n + 0.5) * math.pi
            series += (-1) ** n / mode * math.exp(-mode * mode * t)
        return 1.0 - 2.0 * series

    def lumps(t: float, steps: int = 4000) -> float:
        # The first lump stands at the valve and is filled at once.
        near, far, dt = 1.0, 0.0, t / steps
        for _ in range(steps):
            far += dt * (near - far) / 0.5
        return far

    for share, within in ((0.4, 0.2), (0.632, 0.03), (0.9, 0.15)):
        exact = next(t / 1000 for t in range(1, 3000) if far_end(t / 1000) > share)
        own = next(t / 1000 for t in range(1, 3000) if lumps(t / 1000, 400) > share)
        assert own == pytest.approx(exact, rel=within), share


# --- Valves and orifices ---


@held_against("valve", "IEC 60534-2-1, Annex example 1: 360 m3/h of hot water, 680 to 220 kPa, Kv 165 m3/h")
def test_valve_of_the_standards_first_example() -> None:
    k = from_unit(165.0, "Kv") * math.sqrt(999.0 / 965.4)
    flow, _, _ = orifice(680.0e3, 220.0e3, k)
    assert flow * 3600.0 == pytest.approx(360.0, rel=5e-3)


@held_against("valve", "fluids: size_control_valve_l after IEC 60534-2-1, the regulators' own range")
def test_valves_of_the_plants_range() -> None:
    for cv, drop in ((10.5, 300.0), (5.0, 450.0), (0.4, 2000.0), (160.0, 100.0)):
        flow, _, _ = orifice(drop * PSI, 0.0, from_unit(cv, "Cv"))
        needed = fluids.control_valve.size_control_valve_l(
            rho=999.0, Psat=2.3e3, Pc=22.1e6, mu=1.0e-3, P1=60.0e6, P2=60.0e6 - drop * PSI, Q=flow
        )
        assert to_unit(from_unit(needed, "Kv"), "Cv") == pytest.approx(cv, rel=6e-3), cv


@held_against("valve", "Cv = 1.156 Kv (ISA and IEC, any handbook)")
def test_both_flow_coefficients() -> None:
    assert to_unit(from_unit(1.0, "Kv"), "Cv") == pytest.approx(1.156, rel=5e-4)
    assert to_unit(1.0 * from_unit(1.0, "Kv"), "Cv") == pytest.approx(fluids.Kv_to_Cv(1.0), rel=1e-3)


@held_against("orifice", "ISO 5167-2, Reader-Harris and Gallagher's discharge coefficient, by fluids")
def test_orifice_by_iso_5167() -> None:
    """A sharp hole of 1/4 in in a 3 in line: the standard's coefficient is 0.60, the handbooks' 0.61."""
    hole = 0.25 * INCH
    c = fluids.flow_meter.C_Reader_Harris_Gallagher(D=3 * INCH, Do=hole, rho=998.0, mu=1.0e-3, m=2.2, taps="corner")
    mass = fluids.flow_meter.flow_meter_discharge(
        D=3 * INCH, Do=hole, P1=1000.0 * PSI + 1.0e5, P2=1.0e5, rho=998.0, C=c
    )
    k = 0.61 * 0.25 * math.pi * hole * hole * math.sqrt(2.0 / 998.0)
    assert orifice(1000.0 * PSI, 0.0, k)[0] == pytest.approx(mass / 998.0, rel=0.03)


# --- Control fluid and sea ---


@held_against("wave speed", "IAPWS-95: speed of sound in water, by CoolProp")
def test_pilot_delay_is_that_of_sound() -> None:
    """With the modulus of water itself for that of the line, the delay is length over the speed of sound."""
    for celsius, pascal in ((10.0, 1.0e7), (21.1, 1.01325e5), (21.1, 3.4e7)):
        state = ("T", celsius + 273.15, "P", pascal, "Water")
        density, sound = PropsSI("D", *state), PropsSI("A", *state)
        gamma = PropsSI("CPMASS", *state) / PropsSI("CVMASS", *state)
        modulus = gamma / PropsSI("ISOTHERMAL_COMPRESSIBILITY", *state)
        line = umbilical(pilot_modulus=f"{modulus} Pa", length="1000 ft")
        assert 1000.0 * FOOT / line.pilot_delay(density) == pytest.approx(sound, rel=1e-3)


@held_against(
    "wave speed",
    "Ghidaoui and others, Appl. Mech. Rev. 58 (2005): about 1,200 m/s of water in steel pipe (from memory)",
)
def test_wave_speed_in_the_steel_manifold() -> None:
    speed = math.sqrt(stiff(2.2e9) / 1000.0)
    assert speed == pytest.approx(1200.0, rel=0.06)


@held_against("bulk modulus", "IAPWS-95: adiabatic modulus of water, by CoolProp")
def test_bulk_modulus_of_the_shipped_rigs() -> None:
    for name in ("quillback", "sandpiper"):
        plant, _ = load_plant(name)
        state = ("T", plant.surface_temperature, "P", 1.5e7, "Water")
        assert plant.fluid.bulk_modulus == pytest.approx(PropsSI("D", *state) * PropsSI("A", *state) ** 2, rel=0.06)


@held_against("viscosity", "IAPWS 2008 by CoolProp, from which the fit was made", "verification")
def test_viscosity_of_water_by_iapws() -> None:
    for celsius in (4.0, 10.0, 21.1, 38.0):
        true = PropsSI("V", "T", celsius + 273.15, "P", 1.01325e5, "Water")
        assert control_fluid.mix_viscosity(celsius + 273.15, 0.0) == pytest.approx(true, rel=5e-3)


@held_against("viscosity", "CRC Handbook: water 1.306, 1.002, 0.653 mPa s at 10, 20, 40 degC (from memory)")
def test_viscosity_of_water_by_handbook() -> None:
    for celsius, printed in ((10.0, 1.306), (20.0, 1.002), (40.0, 0.653)):
        assert 1e3 * control_fluid.mix_viscosity(celsius + 273.15, 0.0) == pytest.approx(printed, rel=5e-3)


@held_against(
    "viscosity", "ASHRAE Handbook of Fundamentals: 30 % ethylene glycol by volume 2.2 mPa s at 20 degC (from memory)"
)
def test_viscosity_with_glycol() -> None:
    assert 1e3 * control_fluid.mix_viscosity(293.15, 0.30) == pytest.approx(2.2, rel=0.12)


@held_against("density of the mix", "IAPWS-95 by CoolProp, from which the constant was taken", "verification")
def test_density_of_water() -> None:
    true = PropsSI("D", "T", 293.15, "P", 1.01325e5, "Water")
    assert control_fluid.mix_density(0.0, 0.0) == pytest.approx(true, rel=2e-4)


@held_against(
    "density of the mix",
    "ASHRAE Handbook of Fundamentals: 30 % ethylene glycol by volume 1,041 kg/m3 at 20 degC (from memory)",
)
def test_density_with_glycol() -> None:
    assert control_fluid.mix_density(0.0, 0.30) == pytest.approx(1041.0, rel=5e-3)


@held_against(
    "weight of the sea",
    "MIT sea-water properties (Sharqawy and others, Desal. Water Treat. 16, 2010), 35 g/kg, by CoolProp",
)
def test_sea_water_by_the_mit_library() -> None:
    for celsius in (5.0, 15.0):
        true = PropsSI("D", "T", celsius + 273.15, "P", 2.0e6, "INCOMP::MITSW[0.035]")
        assert pytest.approx(true, rel=3e-3) == SEA_WATER


@held_against("weight of the sea", "Lapeyrouse, 2nd ed.: 0.445 psi/ft; 668 psi at 1,500 ft")
def test_sea_pressure_of_the_handbook() -> None:
    at = load_plant("quillback")[0].model_copy(update={"water_depth": from_unit(1500.0, "ft")})
    assert (at.sea - from_unit(1.0, "Pa") * 101325.0) / PSI == pytest.approx(668.0, rel=3e-3)


@held_against("head of the control line", "handbooks: 0.433 psi/ft of fresh water (common practice)")
def test_head_of_fresh_water() -> None:
    assert pytest.approx(0.433, abs=1e-3) == 1000.0 * GRAVITY * FOOT / PSI
    plant, _ = load_plant("quillback")
    feet = plant.water_depth / FOOT
    assert plant.head / PSI == pytest.approx(0.433 * feet * plant.fluid.density / 1000.0, rel=2e-3)


# --- Power ---


def panel(amps: float, exponent: float, hours: float = 20.0) -> float:
    """Hours of a string of 100 Ah."""
    string = Electrical.model_validate(
        {"battery_units": 10, "battery_capacity": "100 Ah", "panel_load": f"{amps} A", "peukert": exponent,
         "rated_hours": hours}
    )  # fmt: skip
    return string.lasts(string.panel_load) / 3600.0


@held_against("battery endurance", "public page on Peukert's law (2010): 100 Ah at 1 A, k = 1.2, gives 5 A for 14.5 h")
def test_endurance_of_the_public_example() -> None:
    assert panel(5.0, 1.2, 100.0) == pytest.approx(14.5, abs=0.05)


@held_against(
    "battery endurance", "public page of the battery trade: 100 Ah at 20 h carries 5 A for 20 h, 10 A for about 7.5 h"
)
def test_endurance_of_a_flooded_battery() -> None:
    """The page gives flooded batteries exponents from 1.2 to 1.6; both its figures lie within."""
    assert panel(5.0, 1.4) == pytest.approx(20.0)
    assert panel(10.0, 1.6) < 7.5 < panel(10.0, 1.2)
    assert panel(10.0, 1.4) == pytest.approx(7.5, rel=0.02)


@held_against(
    "battery voltage", "data sheets of lead-acid units: 12.7 V at rest full, 1.75 V a cell at the end (common practice)"
)
def test_voltages_of_a_unit() -> None:
    assert pytest.approx(12.7, abs=0.1) == FULL_VOLTS
    assert END_VOLTS == 6 * 1.75


@held_against(
    "motor current", "US National Electrical Code, table 430.250, 460 V: 30, 40, 50, 60 hp take 40, 52, 65, 77 A"
)
def test_motor_current_by_the_code() -> None:
    """The code's figures are made to be safe for wires: about a tenth above a motor's own."""
    for horsepower, amps in ((30.0, 40.0), (40.0, 52.0), (50.0, 65.0), (60.0, 77.0)):
        shaft = from_unit(horsepower, "hp")
        own = shaft / (pumps.MOTOR_EFFICIENCY * pumps.ROOT_3 * pumps.MAINS_VOLTS * pumps.POWER_FACTOR)
        assert 0.88 * amps < own <= amps


@held_against("motor efficiency", "IEC 60034-30-1, 4 poles, 50 Hz: 45 kW 91.7 % in IE1, 93.1 % in IE2 (from memory)")
def test_motor_efficiency_by_class() -> None:
    assert 0.917 <= pumps.MOTOR_EFFICIENCY <= 0.931


@held_against("hydraulic power", "handbooks: hp = psi gpm / 1714 (Lapeyrouse, ch. 1)")
def test_power_of_a_pump() -> None:
    """The triplex's shaft: its rate at its stop pressure, over the efficiency."""
    for pump in (p for p in load_plant("quillback")[0].pump if p.drive == "electric"):
        printed = to_unit(pump.stop_pressure, "psi") * to_unit(pump.rate, "gpm") / 1714.0
        assert to_unit(pump.rate * pump.stop_pressure, "hp") == pytest.approx(printed, rel=1e-3)
        assert pump.motor_power >= from_unit(printed / PUMP_EFFICIENCY, "hp")


# --- Air ---


def blow_down(volume: float, into: float, out: float, start: float, seconds: float) -> float:
    """Gauge pressure (Pa) of the receiver after a time: m3, free m3/s in and out, at first ``start``."""
    p, scan = start, 0.1
    for _ in range(round(seconds / scan)):
        p, _, _ = receiver(
            p, from_unit(125.0, "psi"), 1.0, 0.0, out, into, 0.0, 0.0, 101325.0 * scan / volume, 0.0, 0.0
        )
    return p


CFM = 0.3048**3 / 60.0


@held_against(
    "air receiver",
    "air-receiver sizing, public worked example: 183.75 ft3 for 350 in place of 250 cfm, 5 min, 100 to 60 psi",
)
def test_receiver_carries_a_surge() -> None:
    left = blow_down(183.75 * 0.3048**3, 250.0 * CFM, 350.0 * CFM, from_unit(100.0, "psi"), 300.0)
    assert to_unit(left, "psi") == pytest.approx(60.0, abs=0.3)


@held_against(
    "air receiver", "compressor pump-up test (compressed-air trade): output = volume x pressure / atmosphere / time"
)
def test_receiver_is_pumped_up() -> None:
    """400 gal to 100 psi by 50 cfm at sea level: 53.5 ft3 x 100 / 14.7 / 50 = 7.28 min; computed from the formula."""
    volume = from_unit(400.0, "gal")
    full = blow_down(volume, 50.0 * CFM, 0.0, 0.0, 60.0 * 7.28)
    assert to_unit(full, "psi") == pytest.approx(100.0, rel=0.01)
