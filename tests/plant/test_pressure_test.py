"""The stack's test unit: a vessel between plug and preventer, and what it shows of a leak."""

from __future__ import annotations

import pytest

from tests.plant.hands import PSI, Hands
from tests.plant.test_sections import mud
from trainer.units import from_unit, to_unit


@pytest.fixture
def rig() -> Hands:
    rig = Hands()
    rig.start("tripping")
    rig.wait(2.0)
    return rig


def unit(rig: Hands, part: str, way: str) -> str | None:
    refusal = rig.do("set", f"test.{part}", way, "floor")
    rig.wait(1.0)
    return None if refusal is None else str(refusal)


def closed(rig: Hands) -> None:
    assert unit(rig, "plug", "landed") is None
    rig.set("upper_pipe_ram", "close")
    rig.wait(30.0)
    assert unit(rig, "chart", "running") is None


def pumped(rig: Hands, pressure: float) -> None:
    """Pump fast to a pressure, psi, and stop."""
    assert unit(rig, "pump", "fast") is None
    while rig.psi("test.pressure") < pressure:
        rig.wait(1.0)
    assert unit(rig, "pump", "stop") is None


def test_what_is_pumped_in_is_volume_times_pressure_over_the_bulk_modulus(rig: Hands) -> None:
    """dV = V dp / K (definition of the bulk modulus; 800 gal, 2.2 GPa as for water), above where air counts."""
    closed(rig)
    pumped(rig, 1500.0)
    volume, pressure = rig["test.pumped"], rig.psi("test.pressure")
    pumped(rig, 4500.0)
    squeezed, rise = rig["test.pumped"] - volume, (rig.psi("test.pressure") - pressure) * PSI
    assert to_unit(squeezed, "gal") == pytest.approx(to_unit(from_unit(800.0, "gal") * rise / 2.2e9, "gal"), rel=0.03)


def test_rubber_gives_way_and_stops_and_a_leak_goes_on(rig: Hands) -> None:
    closed(rig)
    pumped(rig, 5000.0)
    rig.wait(150.0)
    given = rig.psi("test.fall")
    assert 10.0 < given < 60.0
    rig.wait(150.0)
    assert rig.psi("test.fall") < given + 3.0
    assert rig["test.held"] > 300.0
    rig.machine.set_fault("upper_pipe_ram.seal_worn", 0.002)
    before = rig.psi("test.fall")
    rig.wait(300.0)
    assert rig.psi("test.fall") > before + 150.0
    assert unit(rig, "bleed", "cracked") is None
    assert rig["test.held"] == 0.0, "a hold begins again once the bleed is worked"


def test_the_plug_keeps_the_pressure_off_the_well_and_all_mud_is_kept(rig: Hands) -> None:
    whole, under = mud(rig), rig["well.stack_pressure"]
    closed(rig)
    pumped(rig, 5000.0)
    assert mud(rig) == pytest.approx(whole, rel=1e-9)
    assert rig["well.stack_pressure"] == pytest.approx(under, rel=1e-3)
    assert "bleed it to zero" in str(unit(rig, "plug", "out"))
    rig.set("upper_pipe_ram", "open")
    rig.wait(20.0)
    assert rig.psi("test.pressure") == 0.0, "opened, it has nothing to hold it"
    assert unit(rig, "plug", "out") is None
    assert mud(rig) == pytest.approx(whole, rel=1e-9)


def test_without_a_plug_the_pump_presses_on_the_well(rig: Hands) -> None:
    whole, under = mud(rig), rig["well.stack_pressure"]
    rig.set("upper_pipe_ram", "close")
    rig.wait(30.0)
    assert unit(rig, "pump", "fast") is None
    rig.wait(120.0)
    assert rig["well.stack_pressure"] > under + 5.0 * PSI
    assert rig.psi("test.pressure") < 1.0
    assert mud(rig) == pytest.approx(whole, rel=1e-9)


def test_pipe_that_moves_lifts_the_plug(rig: Hands) -> None:
    assert unit(rig, "plug", "landed") is None
    rig.do("hoist", "floor.hook", 5, "floor")
    rig.wait(5.0)
    assert rig["test.plug"] == 0.0
