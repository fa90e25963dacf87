"""Of the planning sheet: the deadman on bottles of its own by the rule's method and by the engine, against CoolProp."""

from __future__ import annotations

import pytest
from CoolProp.CoolProp import PropsSI

from tests.plant.hands import file_of
from trainer.constants import ATMOSPHERE
from trainer.planning import sheet_backups
from trainer.planning.sizing import Sheet, sizing
from trainer.plant.rig import Plant, load_plant, plant_of
from trainer.units import from_unit, to_unit

GALLON, PSI = from_unit(1.0, "gal"), from_unit(1.0, "psi")


def rig(**emergency: object) -> Plant:
    data = file_of("wentletrap")
    data["emergency"].update(emergency)
    return plant_of(data, "wentletrap.toml")


def outcomes(sheet: Sheet) -> dict[str, str]:
    return {verdict.rule: verdict.outcome for verdict in sheet.verdicts if verdict.rule.startswith(("deadman", "disc"))}


def coolprop(plant: Plant, over_sea: float) -> tuple[float, float]:
    """Usable share of a bottle down to a pressure over the sea's (psi): slow, and with no heat entering."""
    deck, sea = plant.surface_temperature, plant.sea_temperature
    low = plant.sea + over_sea * PSI
    full = plant.supply.working_pressure + plant.head + ATMOSPHERE
    rho0 = PropsSI("D", "P", from_unit(4500.0, "psi") + ATMOSPHERE, "T", deck, "Nitrogen")
    rho1, entropy = (PropsSI(one, "P", full, "T", sea, "Nitrogen") for one in "DS")
    slow = rho0 / PropsSI("D", "P", low, "T", sea, "Nitrogen") - rho0 / rho1
    return slow, rho0 / PropsSI("D", "P", low, "S", entropy, "Nitrogen") - rho0 / rho1


@pytest.mark.parametrize("over_sea", [2417.0, 2820.0])
def test_usable_fluid_at_depth_is_that_of_the_equation_of_state(over_sea: float) -> None:
    """Within 0.5 % of Span and others (2000) by CoolProp, by both methods of the sheet that take a real gas."""
    plant, _ = load_plant("wentletrap")
    assert plant.emergency is not None
    slow, fast = coolprop(plant, over_sea)
    found = {
        name: sheet_backups.usable(plant, plant.emergency, over_sea * PSI, name) / plant.emergency.shell
        for name in ("real_isothermal", "real_adiabatic")
    }
    assert found["real_isothermal"] == pytest.approx(slow, rel=5e-3)
    assert found["real_adiabatic"] == pytest.approx(fast, rel=5e-3)


def test_the_engine_lies_between_fast_and_slow() -> None:
    """What the bottles take up from the sea in the sequence's 42 s lies between none and all of it."""
    plant, _ = load_plant("wentletrap")
    own = plant.emergency
    assert own is not None
    left = [to_unit(p, "psi") for p in sheet_backups.engine_left(plant, own)]
    rows = {row.name: row.value for row in sizing(plant).rows if row.method.startswith("real_adiabatic, no refill")}
    fast = [
        rows[f"{own.name}: left above sea pressure after {name}"] for name in ("Casing shear ram", "Blind shear ram")
    ]
    assert fast == [pytest.approx(3743.0, abs=10.0), pytest.approx(2951.0, abs=10.0)]
    assert all(f < e < f + 150.0 for f, e in zip(fast, left, strict=False))


def test_the_healthy_rig_meets_the_rules_of_the_deadman() -> None:
    sheet = sizing(load_plant("wentletrap")[0])
    assert outcomes(sheet) == {
        "deadman_pressure": "met", "deadman_volume": "met", "deadman_time": "met", "disconnect_time": "met",
    }  # fmt: skip
    rows = {row.name: row.value for row in sheet.rows}
    assert rows["Deadman and autoshear: loss until all is closed and locked"] == pytest.approx(51.0)
    assert rows["Deadman battery: full, under load"] == pytest.approx(25.3)
    assert rows["Deadman battery: fires down to a charge of"] == pytest.approx(11.6, abs=0.2)


@pytest.mark.parametrize(("change", "broken"), [
    ({"bottles": 9}, {"deadman_pressure", "deadman_volume"}),
    ({"precharge": "2500 psi"}, {"deadman_pressure", "deadman_volume"}),
    ({"confirm": "50 s"}, {"deadman_time"}),
])  # fmt: skip
def test_degraded_rigs_do_not(change: dict[str, object], broken: set[str]) -> None:
    found = outcomes(sizing(rig(**change)))
    assert {rule for rule, outcome in found.items() if outcome == "NOT MET"} == broken


def test_a_rig_without_them_has_no_such_rows() -> None:
    sheet = sizing(load_plant("quillback")[0])
    assert outcomes(sheet) == {} and not any("eadman" in row.name for row in sheet.rows)
