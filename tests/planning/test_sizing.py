"""The planning sheet of the shipped plants."""

from __future__ import annotations

import json

import pytest

from trainer.planning.sizing import Sheet, sizing
from trainer.plant.rig import Plant, load_plant, plant_ids
from trainer.units import UNITS, from_unit


@pytest.fixture(scope="module", params=plant_ids())
def plant(request: pytest.FixtureRequest) -> Plant:
    return load_plant(str(request.param))[0]


@pytest.fixture(scope="module")
def sheet(plant: Plant) -> Sheet:
    return sizing(plant)


def value(sheet: Sheet, name: str, method: str = "") -> float:
    """The figure of one row."""
    found = [row.value for row in sheet.rows if row.name == name and method in row.method]
    assert len(found) == 1, name
    return found[0]


def test_json_is_complete_and_strict(sheet: Sheet, plant: Plant) -> None:
    document = json.loads(json.dumps(sheet.as_json(), allow_nan=False))
    assert document["plant"] == plant.id
    assert set(document) == {"plant", "rule_set", "rows", "verdicts"}
    assert all(set(row) == {"name", "value", "unit", "method", "source"} for row in document["rows"])
    assert all({"rule", "source", "required", "computed", "ok"} <= set(v) for v in document["verdicts"])
    assert {row["unit"] for row in document["rows"]} <= set(UNITS)
    assert all(row["source"] and row["method"] for row in document["rows"])


def test_every_function_is_listed_with_its_volumes(sheet: Sheet, plant: Plant) -> None:
    """30 CFR 250.731 asks for the volumes to close and open each component."""
    for function in plant.function:
        assert from_unit(value(sheet, f"Close {function.name}"), "gal") == pytest.approx(function.close_volume)
        assert from_unit(value(sheet, f"Open {function.name}"), "gal") == pytest.approx(function.open_volume)


def test_methods_come_in_their_order(sheet: Sheet) -> None:
    name = "Usable fluid, main and stack bottles"
    rows = {row.method: row.value for row in sheet.rows if row.name == name}
    assert rows["ideal_gauge"] > rows["real_isothermal"] > rows["real_adiabatic"] > 0
    assert rows["ideal_absolute"] > rows["ideal_adiabatic"] > rows["real_adiabatic"]


def test_quillback_by_hand() -> None:
    """Surface bottles at 1000/3000/1200 psi, stack bottles with the head of control fluid on top: worked by hand."""
    quillback = load_plant("quillback")[0]
    head = quillback.head / from_unit(1.0, "psi")
    stack = quillback.bank[-1]
    assert stack.place == "stack"
    gas = stack.bottles * stack.bottle_volume / from_unit(1.0, "gal")
    pre = stack.precharge / from_unit(1.0, "psi")
    surface = sum(b.bottles * b.bottle_volume for b in quillback.bank if b.place == "surface") / from_unit(1.0, "gal")
    expected = surface * (1000 / 1200 - 1000 / 3000) + gas * (pre / (1200 + head) - pre / (3000 + head))
    found = value(sizing(quillback), "Usable fluid, main and stack bottles", "ideal_gauge")
    assert found == pytest.approx(expected, rel=1e-6)


def test_one_power_source_lost_is_the_slower_group_alone(sheet: Sheet, plant: Plant) -> None:
    drives = sorted({pump.drive for pump in plant.pump})
    alone = [value(sheet, f"Recharge with {drive} pumps alone") for drive in drives]
    assert value(sheet, "Recharge with one power source lost") == max(alone)
    assert value(sheet, "Recharge with all pumps") < min(alone)


def test_a_plant_without_air_pumps_never_recharges_on_one_source() -> None:
    quillback = load_plant("quillback")[0]
    lone = quillback.model_copy(update={"pump": tuple(p for p in quillback.pump if p.drive == "electric")})
    sheet = sizing(lone)
    lost = [row for row in sheet.as_json()["rows"] if row["name"] == "Recharge with one power source lost"]
    assert lost[0]["value"] is None
    assert {v.rule: v.ok for v in sheet.verdicts}["recharge_one_lost"] is False


def test_more_bottles_turn_the_verdict() -> None:
    quillback = load_plant("quillback")[0]
    banks = tuple(b.model_copy(update={"bottles": 4 * b.bottles}) for b in quillback.bank)
    more = sizing(quillback.model_copy(update={"bank": banks}))
    assert {v.rule: v.ok for v in more.verdicts}["reserve"] is True
    few = tuple(b.model_copy(update={"bottles": max(b.bottles // 4, 1)}) for b in quillback.bank)
    less = sizing(quillback.model_copy(update={"bank": few}))
    assert {v.rule: v.ok for v in less.verdicts}["reserve"] is False


def test_the_rule_set_can_be_chosen(plant: Plant) -> None:
    assert sizing(plant, "surface").rule_set == "surface"
    with pytest.raises(ValueError, match="known rule sets are"):
        sizing(plant, "moon")
