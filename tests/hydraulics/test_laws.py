"""Flow laws: slopes lie between tangent and secant, one-way laws pass nothing back, handbook figures come out."""

from __future__ import annotations

from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.hydraulics import laws
from trainer.units import from_unit

PRESSURE = st.floats(1.0e5, 5.0e7)
K = st.floats(1.0e-9, 1.0e-5)

LAWS = {
    "orifice": lambda pu, pd, k: laws.orifice(pu, pd, k),
    "check": lambda pu, pd, k: laws.check(pu, pd, k, 1.0e4, 0.05 * k),
    "relief": lambda pu, pd, k: laws.relief(pu, pd, k, 1.0e7, 1.0e6),
    "bottle_port": lambda pu, pd, k: laws.bottle_port(pu, pd, k, 0.02, 0.1),
    "drain": lambda pu, pd, k: laws.drain(pu, pd, k, 0.02, 0.1),
    "venting": lambda pu, pd, k: laws.venting(pu, pd, k, 1.0e7, 1.0e6),
    "laminar": lambda pu, pd, k: laws.laminar(pu, pd, k * 1.0e-4),
    "checked_pump": lambda pu, pd, k: laws.checked_pump(pu, pd, k, k * 1.0e-9, 1.0),
    "stalling_pump": lambda pu, pd, k: laws.stalling_pump(pu, pd, k, 3.0e7, 1.0),
}


@pytest.mark.parametrize("name", LAWS)
@given(pu=PRESSURE, pd=PRESSURE, k=K)
def test_slopes_lie_between_tangent_and_secant(name: str, pu: float, pd: float, k: float) -> None:
    law = LAWS[name]
    q, gu, gd = law(pu, pd, k)
    assert gu >= 0.0
    assert gd >= 0.0
    step = 10.0
    rise = law(pu + step, pd, k)[0] - law(pu - step, pd, k)[0]
    fall = law(pu, pd + step, k)[0] - law(pu, pd - step, k)[0]
    # The slopes lean from the tangent towards the secant, which is twice as steep; at a kink (a valve just
    # opening) the one-sided slopes bracket the central difference.
    around = [law(pu + a, pd + b, k)[1:] for a in (-step, 0.0, step) for b in (-step, 0.0, step)]
    room = 2.0e-2 * k / sqrt(laws.BAND) + 1.0e-22
    assert min(g[0] for g in around) / 2.0 - room <= rise / (2 * step) <= max(g[0] for g in around) + room
    assert min(g[1] for g in around) / 2.0 - room <= -fall / (2 * step) <= max(g[1] for g in around) + room
    assert abs(q) < 1.0


@given(pu=PRESSURE, pd=PRESSURE, k=K)
def test_regulator_shuts_at_its_setting(pu: float, pd: float, k: float) -> None:
    q, gu, gd = laws.regulator(pu, pd, k, 2.0e7, 8.0e5)
    assert gd >= gu >= 0.0
    if pu >= pd >= 2.0e7:
        assert q == 0.0
    else:
        assert q * (pu - pd) >= 0.0


@given(pu=PRESSURE, pd=PRESSURE, k=K)
def test_check_valve_holds(pu: float, pd: float, k: float) -> None:
    if pu <= pd:
        assert laws.check(pu, pd, k, 0.0, 0.0)[0] == 0.0
        assert laws.drain(pu, pd, k, 1.0, 0.1)[0] == 0.0


@given(
    pc=PRESSURE,
    po=PRESSURE,
    x=st.floats(0.0, 1.0),
    limit=st.floats(0.5, 1.0),
    against=st.floats(-2.0e7, 2.0e7),
)
def test_piston_stays_between_its_stops(pc: float, po: float, x: float, limit: float, against: float) -> None:
    volume, tick = 0.06, 0.02
    q, gu, gd = laws.piston(pc, po, 1.0e-8, 0.9, against, 4.0e5, 4.0e5, x, limit, 0.01, volume / tick)
    moved = x + q * tick / volume
    assert gu >= 0.0
    assert gd == pytest.approx(0.9 * gu)
    assert -1.0e-12 <= moved <= max(limit, x) + 1.0e-12


def test_orifice_against_the_flow_coefficient_equation() -> None:
    """Q = Cv sqrt(dp / SG): Cv 1, 1000 psi, water: 31.623 gpm. Source: IEC 60534-2-1 (computed)."""
    cv_1 = from_unit(1.0, "gpm") / sqrt(from_unit(1.0, "psi"))
    q, _, _ = laws.orifice(from_unit(1014.7, "psi"), from_unit(14.7, "psi"), cv_1)
    assert q == pytest.approx(from_unit(31.623, "gpm"), rel=5e-4)


def test_orifice_plate_against_the_handbook_equation() -> None:
    """Quarter-inch orifice, Cd 0.61, 1000 psi, water: 35.957 gpm. Source: orifice equation (computed)."""
    area = 3.141592653589793 / 4.0 * from_unit(0.25, "in") ** 2
    k = 0.61 * area * sqrt(2.0 / 998.0)
    q, _, _ = laws.orifice(from_unit(1014.7, "psi"), from_unit(14.7, "psi"), k)
    assert q == pytest.approx(from_unit(35.957, "gpm"), rel=2e-3)
