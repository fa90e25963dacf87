"""The parts of the planning sheet: the engine's own figures beside the published methods, needs, and what matters."""

from __future__ import annotations

import pytest

from trainer.planning import sensitivity, sheet_bottles, sheet_needs, sheet_out
from trainer.planning.sizing import Sheet
from trainer.planning.trial import Move, trial
from trainer.planning.work import mains, preventers, setting
from trainer.plant.rig import Plant, load_plant, plant_ids
from trainer.units import from_unit, to_unit

TOTAL = "Usable fluid, main and stack bottles"


@pytest.fixture(scope="module", params=plant_ids())
def sheet(request: pytest.FixtureRequest) -> Sheet:
    return sheet_out.make(str(request.param), None)


@pytest.fixture(scope="module")
def plant(sheet: Sheet) -> Plant:
    return sheet.described


@pytest.fixture(scope="module")
def quillback() -> Plant:
    return load_plant("quillback")[0]


@pytest.fixture(scope="module")
def sandpiper() -> Plant:
    return load_plant("sandpiper")[0]


@pytest.fixture(scope="module")
def moves(sandpiper: Plant) -> dict[str, Move]:
    return {move.function.id: move for move in trial(sandpiper)}


def test_the_engines_bottles_lie_between_no_heat_and_all_heat(sheet: Sheet, plant: Plant) -> None:
    names = [TOTAL, *(f"{bank.name}: usable fluid" for bank in mains(plant))]
    for name in names:
        rows = {row.method.split(",")[0]: row.value for row in sheet.rows if row.name == name}
        assert len(rows) == 6, name
        assert rows["real_adiabatic"] < rows["engine"] < rows["real_isothermal"], name


def test_banks_add_up_to_the_total(sheet: Sheet, plant: Plant) -> None:
    for method in ("ideal_gauge", "real_adiabatic"):
        parts = [
            row.value
            for bank in mains(plant)
            for row in sheet.rows
            if row.name == f"{bank.name}: usable fluid" and row.method == method
        ]
        whole = next(row.value for row in sheet.rows if row.name == TOTAL and row.method == method)
        assert sum(parts) == pytest.approx(whole, rel=1e-9)


def test_drawn_at_once_or_for_ever_the_engine_meets_the_published_methods(quillback: Plant) -> None:
    """The check values' bottle: 10 gal, 1000/3000/1200 psi at 70 °F gives 2.348 gal fast and 4.793 gal slowly."""
    bank = quillback.bank[0].model_copy(update={"bottles": 1, "bottle_volume": from_unit(10.0, "gal")})
    low, high = from_unit(1200.0, "psi"), from_unit(3000.0, "psi")
    fast, slow = (to_unit(sheet_bottles.engine_usable(quillback, bank, low, high, s), "gal") for s in (0.01, 50_000.0))
    assert fast == pytest.approx(2.348, rel=0.01)
    assert slow == pytest.approx(4.793, rel=0.01)


def test_precharge_rises_with_the_head(sheet: Sheet, plant: Plant) -> None:
    rows = {row.name: row.value for row in sheet.rows}
    base = min(bank.precharge for bank in mains(plant) if bank.place == "surface")
    for bank in mains(plant):
        found = from_unit(rows[f"{bank.name}: precharge recommended in place"], "psi")
        assert found == pytest.approx(base + setting(plant, bank)[0])
        assert f"{bank.name}: charge it at 70 °F to" in rows


def test_every_preventer_has_its_time_and_where_the_pressure_goes(sheet: Sheet, plant: Plant) -> None:
    for function in preventers(plant):
        row = next(row for row in sheet.rows if row.name == f"{function.name} closes in")
        assert 0.5 < row.value < 60.0, function.id
        assert "regulator" in row.method
        assert "valve and ports" in row.method


def test_losses_add_up_to_what_the_bottles_have_over_the_piston(moves: dict[str, Move], sandpiper: Plant) -> None:
    lost = 0.0
    for loss in moves["annular"].losses:
        assert loss.pressure > 0.0, loss
        lost += loss.pressure
    assert 0.5 * sandpiper.supply.working_pressure < lost < sandpiper.supply.working_pressure


def test_a_stiff_valve_costs_time(moves: dict[str, Move], sandpiper: Plant) -> None:
    slow = [f.model_copy(update={"capacity": 0.25 * f.k}) if f.id == "annular" else f for f in sandpiper.function]
    found = {m.function.id: m for m in trial(sandpiper.model_copy(update={"function": tuple(slow)}))}["annular"]
    was = moves["annular"]
    assert found.seconds is not None
    assert was.seconds is not None
    assert found.seconds > 1.5 * was.seconds
    assert found.losses[0].pressure != was.losses[0].pressure


def test_shear_pressure_grows_with_the_wells(sheet: Sheet, plant: Plant) -> None:
    rows = {row.name: row.value for row in sheet.rows}
    for function in preventers(plant):
        if function.kind == "shear_ram":
            calm = rows[f"{function.name}: shear pressure, no well pressure"]
            most = rows["Highest well pressure at the stack"]
            high = rows[f"{function.name}: shear pressure, highest well pressure"]
            assert high == pytest.approx(calm + most / function.closing_ratio)
        if function.kind == "annular":
            assert f"Regulator to seal {function.name}" in rows


def test_a_cold_battery_carries_less(sheet: Sheet) -> None:
    rows = {row.name: row.value for row in sheet.rows}
    assert rows["Battery carries the panels at 0 °C"] < rows["Battery carries the panels"]
    assert sheet_needs.share_at(0.0) == pytest.approx(0.8)


def test_the_mix_fills_the_tank(sheet: Sheet, plant: Plant) -> None:
    rows = {row.name: row.value for row in sheet.rows}
    whole = sum(rows[f"{what} to fill the mixed-fluid tank"] for what in ("Concentrate", "Glycol", "Water"))
    assert whole == pytest.approx(to_unit(plant.reservoir.mixed_volume, "gal"))


def test_what_matters_is_sorted_and_moves_the_right_way(plant: Plant) -> None:
    base, found = sensitivity.effects(plant)
    sizes = [max(abs(e.less - base), abs(e.more - base)) for e in found]
    assert sizes == sorted(sizes, reverse=True)
    by = {e.what: e for e in found}
    bottle = by["One bottle of each bank"]
    assert bottle.less < base < bottle.more
    lowest = by["Lowest pressure used, 10 %"]
    assert lowest.less > base > lowest.more
    if plant.subsea:
        assert by["Water depth with the same precharge, 10 %"].less != base
    drawn = sensitivity.plot(plant)
    assert drawn.count("<rect") == 2 * len(found)
