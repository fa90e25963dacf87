"""The planning sheet of the shipped plants."""

from __future__ import annotations

import json

import pytest

from trainer.constants import ATMOSPHERE
from trainer.planning import sweep
from trainer.planning.sizing import Sheet, computed, recharges, sizing
from trainer.plant.rig import Plant, build_machine, load_plant, plant_ids
from trainer.session.commands import Command
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


def test_all_closed_and_one_valve_open_is_what_nitrogen_without_heat_leaves() -> None:
    """Sandpiper's two like banks, and one of them: at constant entropy by CoolProp (Span and others 2000)."""
    props = pytest.importorskip("CoolProp.CoolProp", reason="CoolProp is a test-only dependency").PropsSI
    plant = load_plant("sandpiper")[0]
    shown = {row.name: from_unit(row.value, row.unit) for row in computed(plant, engine=False).rows}
    drawn = sum(f.close_volume for f in plant.function if f.kind in ("annular", "pipe_ram", "shear_ram"))
    drawn += max(f.open_volume for f in plant.function if f.line)
    bank, warm = plant.bank[0], plant.surface_temperature
    assert {(b.bottles, b.bottle_volume, b.precharge) for b in plant.bank} == {
        (bank.bottles, bank.bottle_volume, bank.precharge)
    }
    full = plant.supply.working_pressure + ATMOSPHERE
    for name, banks in (("", 2), (f", {bank.name} out", 1)):
        held = props("D", "T", warm, "P", bank.precharge + ATMOSPHERE, "Nitrogen")
        mass = held * banks * bank.bottles * bank.bottle_volume
        gas = mass / props("D", "T", warm, "P", full, "Nitrogen") + drawn
        left = props("P", "D", mass / gas, "S", props("S", "T", warm, "P", full, "Nitrogen"), "Nitrogen") - ATMOSPHERE
        over = shown[f"All closed, one valve open{name}"]
        assert over == pytest.approx(left - bank.precharge, abs=from_unit(3.0, "psi")), name


def test_methods_come_in_their_order(sheet: Sheet) -> None:
    name = "Usable fluid, main and stack bottles"
    rows = {row.method: row.value for row in sheet.rows if row.name == name}
    assert rows["ideal_gauge"] > rows["real_isothermal"] > rows["real_adiabatic"] > 0
    assert rows["ideal_absolute"] > rows["ideal_adiabatic"] > rows["real_adiabatic"]


def test_quillback_by_hand() -> None:
    """Surface bottles at 1000 and 3000 psi, stack bottles with the head of control fluid on top: worked by hand.

    The bank with the highest precharge at the header decides how far all are drawn: here the one on the stack.
    """
    quillback = load_plant("quillback")[0]
    head = quillback.head / from_unit(1.0, "psi")
    stack = quillback.bank[-1]
    assert stack.place == "stack"
    gas = stack.bottles * stack.bottle_volume / from_unit(1.0, "gal")
    pre = stack.precharge / from_unit(1.0, "psi")
    surface = sum(b.bottles * b.bottle_volume for b in quillback.bank if b.place == "surface") / from_unit(1.0, "gal")
    low = max(1000.0, pre - head) + 200.0
    expected = surface * (1000 / low - 1000 / 3000) + gas * (pre / (low + head) - pre / (3000 + head))
    found = value(sizing(quillback), "Usable fluid, main and stack bottles", "ideal_gauge")
    assert found == pytest.approx(expected, rel=1e-6)


def test_one_power_source_lost_is_the_slower_group_alone(sheet: Sheet, plant: Plant) -> None:
    drives = sorted({pump.drive for pump in plant.pump})
    if len(drives) == 1:
        return  # the next test
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


def outcomes(sheet: Sheet) -> dict[str, str]:
    return {v.rule: v.outcome for v in sheet.verdicts}


@pytest.mark.parametrize("feet", [3000.0, 6000.0])
def test_a_deeper_rig_does_not_look_better(feet: float) -> None:
    """Bottles on deck are drawn no lower because the stack stands deeper; whatever its own bottles were set to."""
    quillback = load_plant("quillback")[0]
    depth = from_unit(feet, "ft")
    here = sizing(quillback)
    for stack_precharge in (True, False):
        there = sizing(sweep.at_depth(quillback, depth, stack_precharge=stack_precharge))
        low = value(there, "Lowest pressure used")
        assert low >= 1200.0 - 1e-6, "200 psi above the precharge of the bottles on deck, at any depth"
        for name in ("Least pressure over precharge", "Usable fluid over closing volume"):
            method = "real_adiabatic" if "Usable" in name else ""
            assert value(there, name, method) <= value(here, name, method) * 1.05, name
        assert outcomes(there)["pressure_left"] != "met"


def test_negative_pressure_to_spare_is_not_met() -> None:
    for name in plant_ids():
        sheet = sizing(load_plant(name)[0])
        spare = value(sheet, "Whole sequence at once: pressure to spare")
        assert outcomes(sheet)["sequence_at_once"] in (("NOT MET",) if spare < 0.0 else ("met", "not shown"))
        ranks = [("NOT MET", "not shown", "met").index(verdict.outcome) for verdict in sheet.verdicts]
        assert ranks == sorted(ranks), "the worst stands first"


def test_two_buses_are_two_power_sources_and_a_transfer_switch_hangs_on_both() -> None:
    """Three pumps of 34 gpm recharge 1,492 gal in 14.6 min, two in 21.9 min, worked by hand; 30 min with one lost."""
    rig = load_plant("wentletrap")[0]
    minutes = {one.pumps: one.seconds / 60.0 for one in recharges(rig)}
    assert minutes["all pumps"] == pytest.approx(14.6, abs=0.1)
    for alone in ("main bus pumps alone", "emergency bus pumps alone", "Triplex pump 1 out"):
        assert minutes[alone] == pytest.approx(21.9, abs=0.1)
    fast = tuple(p.model_copy(update={"bus": "main" if p.bus == "both" else p.bus}) for p in rig.pump)
    degraded = {one.pumps: one.seconds / 60.0 for one in recharges(rig.model_copy(update={"pump": fast}))}
    assert degraded["emergency bus pumps alone"] == pytest.approx(43.9, abs=0.2), "beyond the 30 min of the rule"


def test_a_rule_met_by_less_than_its_uncertainty_is_not_shown() -> None:
    """Bottles trimmed until the pressure left is a few psi over the limit."""
    sheet = sizing(load_plant("quillback")[0])
    result = next(v for v in sheet.verdicts if v.rule == "pressure_left")
    assert (result.outcome, result.ok) == ("not shown", False)
    assert float(result.margin.split()[0]) < float(result.uncertainty.split()[0])


def test_the_least_favorable_method_judges_the_reserve() -> None:
    sheet = sizing(load_plant("quillback")[0])
    result = next(v for v in sheet.verdicts if v.rule == "reserve")
    assert result.method == "real_adiabatic"
    assert float(result.computed) == pytest.approx(
        min(r.value for r in sheet.rows if r.name == "Usable fluid over closing volume"), abs=1e-3
    )


def test_the_battery_follows_the_file() -> None:
    quillback = load_plant("quillback")[0]
    worse = quillback.electrical.model_copy(update={"peukert": 1.5, "panel_load": 20.0})
    name = "Battery carries the panels"
    assert value(sizing(quillback.model_copy(update={"electrical": worse})), name) < 0.5 * value(
        sizing(quillback), name
    )


def test_less_precharge_is_no_better() -> None:
    """Pressure left is counted from the filed precharge: a bottle that has lost gas has less over it, not more."""
    for name in plant_ids():
        plant = load_plant(name)[0]
        found = dict(sweep.swept(plant))
        filed, low = found["As filed"], found[next(case for case in found if case.startswith("Every precharge"))]
        assert low.over < filed.over - from_unit(20.0, "psi")
        assert low.share < filed.share


def test_the_coldest_weather_is_where_the_first_limit_gives_way() -> None:
    for name in plant_ids():
        plant = load_plant(name)[0]
        told, left = sweep.coldest(plant)
        assert told.startswith("Coldest weather in which both limits are kept")
        kept = (left.over / sweep.LEAST_OVER, left.share / sweep.LEAST_SHARE)
        assert 1.0 <= min(kept) < 1.02
    small = plant.model_copy(update={"bank": plant.bank[:1]})
    assert sweep.coldest(small)[0].startswith("In no weather")


def test_a_case_inside_the_uncertainty_is_not_shown() -> None:
    doubts = {"pressure_over_precharge": from_unit(25.0, "psi"), "usable_to_closing": 0.1}
    cases = [(205.0, 1.9), (230.0, 1.9), (195.0, 1.9), (230.0, 1.55), (230.0, 1.4)]
    found = [("case", sweep.Left(from_unit(over, "psi"), share)) for over, share in cases]
    assert [row[3] for row in sweep.rows(found, doubts)] == ["not shown", "met", "NOT MET", "not shown", "NOT MET"]


def test_the_sweep_says_of_the_rig_as_filed_what_the_rules_say() -> None:
    for name in plant_ids():
        sheet = sizing(load_plant(name)[0])
        told = {outcomes(sheet)["pressure_left"], outcomes(sheet)["reserve"]}
        worst = next(word for word in ("NOT MET", "not shown", "met") if word in told)
        assert sweep.rows(sweep.swept(sheet.described), sheet.doubts)[0][3] == worst


def test_what_a_ram_needs_is_printed_and_may_be_that_of_the_rated_pressure() -> None:
    """By hand: 10,000 psi over a ratio of 7, and 60 psi friction, are 1,489 psi, more than is left."""
    sandpiper = load_plant("sandpiper")[0]
    here = next(v for v in sizing(sandpiper).verdicts if v.rule == "pressure_over_ratio")
    assert "not for the rated pressure" in here.method and "psi needed by" in here.method
    rated = sizing(sandpiper.model_copy(update={"rated_pressure": from_unit(10000.0, "psi")}))
    there = next(v for v in rated.verdicts if v.rule == "pressure_over_ratio")
    assert there.outcome == "NOT MET"
    assert "1,489 psi needed" in there.method and "10,000 psi / 7 + friction 60 psi" in there.method


def test_a_shear_ram_that_cannot_cut_is_not_met() -> None:
    """By hand, Sandpiper: 1,900 psi to cut + 60 friction + well pressure over 7; the regulator is filed at 1,500."""
    sandpiper = load_plant("sandpiper")[0]
    sheet = sizing(sandpiper)
    needed = 1960.0 + value(sheet, "Highest well pressure at the stack") / 7.0
    assert value(sheet, "Regulator as set over pressure to cut") == pytest.approx(1500.0 / needed, rel=1e-6)
    assert value(sheet, "Highest pressure at the shear ram over pressure to cut") == pytest.approx(3000.0 / needed)
    assert outcomes(sheet)["shear_as_set"] == "NOT MET" and outcomes(sheet)["shear_at_most"] == "met"
    left = value(sheet, "Pressure left: close Blind shear ram")
    assert value(sheet, "Pressure left over pressure to cut") == pytest.approx(left / needed, rel=1e-6)
    assert outcomes(sheet)["shear_in_sequence"] == "NOT MET"
    thin = tuple(
        f.model_copy(update={"shear_pressure": from_unit(700.0, "psi")}) if f.kind == "shear_ram" else f
        for f in sandpiper.function
    )
    easy = outcomes(sizing(sandpiper.model_copy(update={"function": thin})))
    assert {easy[rule] for rule in ("shear_as_set", "shear_at_most", "shear_in_sequence")} == {"met"}


@pytest.mark.parametrize(("psi", "cuts"), [(1500.0, False), (1900.0, False), (2100.0, True)])
def test_the_running_plant_cuts_at_the_pressure_of_the_sheet(psi: float, cuts: bool) -> None:
    """1,960 psi without well pressure: the sheet's own first figure for Sandpiper's blind shear ram."""
    sandpiper = load_plant("sandpiper")[0]
    regulators = tuple(
        r.model_copy(update={"set": from_unit(psi, "psi")}) if r.serves == "manifold" else r
        for r in sandpiper.regulator
    )
    machine = build_machine(sandpiper.model_copy(update={"regulator": regulators}))
    machine.apply(
        Command.model_validate({"t": 0.0, "do": "set", "target": "blind_shear_ram", "value": "close", "from": "unit"})
    )
    for _ in range(400):
        machine.scan()
    assert (machine.read("bore.sheared") > 0.5) is cuts


def test_a_set_point_on_its_limit_is_not_shown() -> None:
    """The switch or valve may be off by more than the margin; two percent inside is met."""
    sandpiper = load_plant("sandpiper")[0]
    found = outcomes(sizing(sandpiper))
    assert (found["primary_stop"], found["relief"], found["primary_start"]) == ("not shown", "not shown", "met")
    inside = tuple(p.model_copy(update={"stop_pressure": 0.985 * p.stop_pressure}) for p in sandpiper.pump)
    assert outcomes(sizing(sandpiper.model_copy(update={"pump": inside})))["primary_stop"] == "met"
