"""Impossible rigs are refused, each with one sentence that says where and what contradicts what.

Every figure here is invented. The long form (``TRAINER_FUZZ=100000``) damages plants at random, what a file says and
what it might say beside, and runs one in fifty, of those accepted, for a minute: nothing may break, and no fluid may
be lost. It prints its counts (``-s``).
"""

from __future__ import annotations

import json
import os
import random
import typing
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import tomlkit
from pydantic import BaseModel

from tests.plant.hands import file_of
from trainer.planning.optional import open_keys
from trainer.plant.rig import Plant, PlantError, build_machine, parse_plant, plant_of, read_plant
from trainer.plant.shakedown import shakedown
from trainer.runtime import server

BASES = {name: file_of(name) for name in ("quillback", "sandpiper")}
FUZZ = int(os.environ.get("TRAINER_FUZZ", "300"))

# Place in the file, value, and words of the sentence that refuses it.
BAD: list[tuple[str, Any, str]] = [
    ("water_depth", "-5 ft", "outside 0 ft"),
    ("water_depth", "0 ft", "water_depth is zero"),
    ("water_depth", "99999 ft", "outside"),
    ("water_depth", "2500 ft", "does not reach the stack"),
    ("subsea", False, "subsea is false"),
    ("surface_temperature", "700 degF", "outside"),
    ("surface_temperature", "-20 degF+sea_temperature=70 degF", "below sea_temperature"),
    ("sea_temperature", "10 degF", "outside"),
    ("fluid.concentrate", "-3 %", "outside"),
    ("fluid.concentrate", "70 %", "outside"),
    ("fluid.glycol", "60 %+fluid.concentrate=30 %", "too little water"),
    ("fluid.viscosity", "0 cP", "outside"),
    ("fluid.density", "10 kg/m3", "outside"),
    ("reservoir.mixed_volume", "0 gal", "outside"),
    ("reservoir.low_level", "80 %", "low_level is"),
    ("reservoir.mix_start", "95 %", "mix_start is"),
    ("reservoir.mixed_fill", "130 %", "outside"),
    ("reservoir.water_rate", "-1 gpm", "outside"),
    ("pump.triplex_1.start_pressure", "3000 psi", "start_pressure must be less than stop_pressure"),
    ("pump.triplex_1.stop_pressure", "3100 psi", "working_pressure"),
    ("pump.triplex_1.relief_pressure", "2900 psi", "stop_pressure must be less than relief_pressure"),
    ("pump.triplex_1.rate", "0 gpm", "outside"),
    ("pump.triplex_1.rate", "-28 gpm", "outside"),
    ("pump.triplex_1.motor_power", "10 kW", "cannot give"),
    ("pump.air_pump_1.area_ratio", 10, "stalls"),
    ("pump.air_pump_1.area_ratio", -50, "greater than or equal"),
    ("pump.triplex_1.lead", True, "nothing reads a key"),
    ("filter.filter_1.in_use", False, "no discharge filter is in use"),
    ("filter.filter_1.rating_micron", 0, "greater than 0"),
    ("supply.relief_pressure", "2900 psi", "working_pressure must be less than relief_pressure"),
    ("supply.relief_pressure", "9000 psi", "protects nothing"),
    ("supply.working_pressure", "-3000 psi", "outside"),
    ("bank.bank_a.precharge", "4000 psi", "hold no fluid"),
    ("bank.bank_a.precharge", "0 psi", "outside"),
    ("bank.bank_a.precharge", "2700 psi", "hold no fluid"),
    ("bank.bank_a.bottles", 0, "greater than or equal"),
    ("bank.bank_a.bottles", 100000, "less than or equal"),
    ("bank.bank_a.bottle_volume", "-15 gal", "outside"),
    ("bank.bank_a.relief_pressure", "2500 psi", "relief_pressure"),
    ("bank.stack_bottles.precharge", "9000 psi", "hold no fluid"),
    ("regulator.annular_regulator.set", "1600 psi", "set must be no more than high"),
    ("regulator.manifold_regulator.high", "5000 psi", "working_pressure"),
    ("regulator.annular_regulator.low", "1200 psi", "low must be no more than set"),
    ("regulator.annular_regulator.pilot_lag", "0 s", "outside"),
    ("umbilical.length", "200 ft", "does not reach the stack"),
    ("umbilical.pilot_bore", "0 in", "outside"),
    ("umbilical.supply_bore", "-1 in", "outside"),
    ("umbilical.pilot_modulus", "0 MPa", "outside"),
    ("function.upper_annular.close_volume", "-44 gal", "outside"),
    ("function.upper_annular.open_volume", "0 gal", "outside"),
    ("function.upper_annular.closing_ratio", 8.0, "read only for"),
    ("function.upper_pipe_ram.closing_ratio", 0.5, "greater than 1"),
    ("function.upper_pipe_ram.shear_pressure", "1000 psi", "read only for"),
    ("function.casing_shear_ram.shear_pressure", "4000 psi", "could never cut"),
    ("function.upper_annular.supply", "steam", "is fed from"),
    ("function.ram_locks.locks", ["upper_annular"], "locks 'upper_annular', which is no ram"),
    ("function.stack_isolation.isolates", "bank_z", "which is no bank"),
    ("function.riser_connector.joins", "moon", "joins 'moon'"),
    ("disconnect.step.0.pressure", "3500 psi", "above its high"),
    ("disconnect.step.1.at", "60 s", "out of order"),
    ("disconnect.step.1.function", "moon", "which is no function"),
    ("disconnect.connector", "moon", "which is no function"),
    ("diverter.heading", "400 deg", "outside"),
    ("diverter.packer", "moon", "which is no function"),
    ("well.depth", "-5 ft", "outside"),
    ("well.casing_shoe", "12000 ft", "casing_shoe and some open hole"),
    ("well.casing_shoe", "1000 ft", "the sea floor's depth"),
    ("well.pipe", "13 in", "outside"),
    ("well.hole", "6 in", "collar must be less than hole"),
    ("well.pipe_inside", "5.5 in", "pipe_inside must be less than pipe"),
    ("well.hole", "13 in", "hole must be no more than casing_inside"),
    ("well.casing_inside", "20 in", "casing_inside must be no more than bore"),
    ("well.riser_inside", "15 in", "bore must be no more than riser_inside"),
    ("well.choke_bore", "4 in", "choke_bore must be no more than"),
    ("well.leak_off", "9 lb/gal", "mud must be less than leak_off"),
    ("well.formation", "15 lb/gal", "formation must be less than leak_off"),
    ("well.formation_temperature", "40 degF", "sea's temperature"),
    ("well.mud_pump_output", "0 bbl", "outside"),
    ("well.pit_volume", "0 bbl", "outside"),
    ("well.stack_depth", "100 ft", "stack_depth is for a surface stack"),
    ("well.annular_loss", "1999 psi+well.circulating_pressure=1000 psi", "annular_loss must be less"),
    ("floor.hook", "150 ft", "hook must be no more than top_of_travel"),
    ("floor.hoist_speed", "0 m/s", "outside"),
    ("electrical.battery_units", 4, "8 to 12 units"),
    ("electrical.panel_voltage", "24 V", "so 2 units"),
    ("electrical.battery_capacity", "0 Ah", "outside"),
    ("electrical.panel_load", "0 A", "outside"),
    ("air.low_alarm", "125 psi", "low_alarm must be less than supply_pressure"),
    ("air.supply_pressure", "5 psi", "outside"),
    ("air.receiver", "0 m3", "outside"),
    ("fluid.bulk_modulus", "1 MPa", "outside"),
    ("flex_joint.volume", "0 gal", "outside"),
    ("pod.yellow.shift_off", "1300 psi", "shift_off must be less than shift_on"),
    ("pod.blue.shift_on", "2900 psi", "lowest pump start"),
    ("pod.blue.id", "white", "in this order"),
    ("pod.yellow.travel", "0 s", "outside"),
    ("selector.capacity", "0 Cv", "outside"),
    ("regulator.annular_regulator.droop", "5000 psi", "outside"),
    ("regulator.annular_regulator.capacity", "3 gal", "a flow coefficient is expected"),
    ("regulator.flexjoint_regulator.serves", "moon", "[flex_joint] is fed by nothing"),
    ("function.lower_pipe_ram.below", "3.5 ft", "stands too near"),
    ("regulator.surface_pilot_regulator.serves", "moon", "must serve 'pilot'"),
    ("regulator.annular_regulator.serves", "manifold", "two regulators serve 'manifold'"),
    ("regulator.flexjoint_regulator.place", "unit", "[flex_joint] is fed by nothing"),
    ("bank.bank_a.place", "stack+bank.bank_b.place=stack+bank.pilot_bottles.place=stack", "at most 3 banks of bottles"),
    ("filter.filter_1.capacity", "-1 Cv", "outside"),
    ("umbilical.pilot_capacity", "0 Cv", "outside"),
    ("bank.bank_a.capacity", "9999 Cv", "outside"),
]


def put(data: dict[str, Any], place: str, value: Any) -> None:
    """Write a value at a place such as ``bank.bank_a.bottles``; parts of a list go by id or number."""
    *steps, last = place.split(".")
    table: Any = data
    for step in steps:
        if isinstance(table, list):
            table = table[int(step)] if step.isdigit() else next(part for part in table if part["id"] == step)
        else:
            table = table.setdefault(step, {})
    table[int(last) if isinstance(table, list) else last] = value


def data_of(base: str, *changes: tuple[str, Any]) -> dict[str, Any]:
    data: dict[str, Any] = json.loads(json.dumps(BASES[base]))
    # Parts are called by their ids, so those change last.
    for place, value in sorted(changes, key=lambda change: change[0].endswith(".id")):
        put(data, place, value)
    return data


def changed(base: str, *changes: tuple[str, Any]) -> bytes:
    return tomlkit.dumps(data_of(base, *changes)).encode()


@pytest.mark.parametrize(("place", "value", "words"), BAD, ids=[f"{place}={value}" for place, value, _ in BAD])
def test_an_impossible_rig_is_refused_with_its_reason(place: str, value: Any, words: str) -> None:
    changes = [(place, value)]
    if isinstance(value, str) and "+" in value:
        value, *more = value.split("+")
        changes = [(place, value), *(tuple(also.split("=")) for also in more)]  # type: ignore[list-item]
    with pytest.raises(PlantError) as refused:
        parse_plant(changed("quillback", *changes), "rig.toml")
    lines = str(refused.value).splitlines()
    assert any(words in line for line in lines), lines
    assert len(lines) <= 6, "one cause gives a few lines, not a flood"
    assert all(line.startswith("rig.toml: ") and len(line) < 400 for line in lines)


@pytest.mark.parametrize("base", BASES)
def test_the_shipped_rigs_pass_and_settle(base: str) -> None:
    assert not shakedown(build_machine(parse_plant(changed(base), "rig.toml")))


def test_a_plant_file_is_read_once_until_it_is_written_anew(tmp_path: Path) -> None:
    path = tmp_path / "rig.toml"
    path.write_bytes(changed("quillback"))
    first, its = read_plant(path)
    assert read_plant(path) == (first, its) and read_plant(path)[0] is first
    path.write_bytes(changed("quillback") + b"\n# anew\n")
    assert read_plant(path)[1] != its and read_plant(path)[0] is not first


def test_a_copy_in_deeper_water_has_the_sea_of_its_own_depth() -> None:
    plant = parse_plant(changed("quillback"), "rig.toml")
    shallow, above = plant.sea, plant.head
    deeper = plant.model_copy(update={"water_depth": 2.0 * plant.water_depth})
    assert deeper.head == pytest.approx(2.0 * above)
    assert deeper.sea - shallow == pytest.approx(shallow - 101_325.0)


def test_panels_for_24_volts_live_on_two_units() -> None:
    volts = [("electrical.panel_voltage", "24 V"), ("electrical.battery_units", 2)]
    machine = build_machine(parse_plant(changed("sandpiper", *volts), "rig.toml"))
    for _ in range(20):
        machine.scan()
    assert machine.read("panel.power") == machine.read("solenoids.live") == 1.0
    low, high = machine.signals["battery.volts"].normal or (0.0, 0.0)
    assert low < machine.read("battery.volts") < high < 30.0


def test_a_header_that_never_settles_is_found() -> None:
    """A leak as large as the pumps: each value is possible, the plant at rest is not."""
    small = [(f"pump.{pump}.rate", "0.2 gpm") for pump in ("triplex_1", "air_pump_1", "air_pump_2")]
    few = [(f"bank.{bank}.bottles", 1) for bank in ("bank_a", "bank_b")]
    data = changed("sandpiper", ("condition", {"header.leak": "100 %"}), *small, *few)
    found = shakedown(build_machine(parse_plant(data, "rig.toml")))
    assert found
    assert "do not settle" in found[0]


def test_every_number_of_a_plant_file_has_bounds() -> None:
    """A new field without bounds would let an impossible rig in."""
    without = [name for name, bounded in _numbers(Plant) if not bounded]
    assert not without, f"give these fields `between(...)`, or ge and le: {without}"


def _numbers(model: type[BaseModel], seen: set[type] | None = None) -> Iterator[tuple[str, bool]]:
    seen = set() if seen is None else seen
    if model in seen:
        return
    seen.add(model)
    hints = typing.get_type_hints(model, include_extras=True)
    for name, field in model.model_fields.items():
        text = str(hints[name])
        if "float" in text or hints[name] is int:
            marks = " ".join(str(mark) for mark in field.metadata) + text
            yield f"{model.__name__}.{name}", "between" in marks or (("Ge" in marks or "Gt" in marks) and "Le" in marks)
        for inner in _models(hints[name]):
            yield from _numbers(inner, seen)


def _models(hint: Any) -> Iterator[type[BaseModel]]:
    if isinstance(hint, type) and issubclass(hint, BaseModel):
        yield hint
    for part in typing.get_args(hint):
        yield from _models(part)


def _places(data: Any, prefix: str = "") -> Iterator[tuple[str, Any]]:
    for key, value in data.items() if isinstance(data, dict) else enumerate(data):
        place = f"{prefix}{key}"
        if isinstance(value, dict | list):
            yield from _places(value, f"{place}.")
        else:
            yield place, value


def _open(data: dict[str, Any]) -> Iterator[tuple[str, Any]]:
    """Places that a plant file may fill and does not, each with what holds there."""
    for key, value in data.items():
        for part in value if isinstance(value, list) else [value]:
            if isinstance(part, dict):
                place = f"{key}.{part['id']}" if isinstance(value, list) and "id" in part else key
                yield from ((f"{place}.{inner}", holds) for inner, holds in open_keys(place, part) if holds)


def _near(value: Any) -> list[Any]:
    """Values near by, one of which a plant should take; none for words."""
    if isinstance(value, bool):
        return [not value]
    if isinstance(value, int | float):
        return [value + 1, value - 1] if isinstance(value, int) else [1.05 * value, 0.95 * value]
    number, _, unit = str(value).partition(" ")
    try:
        was = float(number)
    except ValueError:
        return []
    return [f"{x:.6g} {unit}" for x in ([was * f for f in (1.01, 0.99, 1.2, 0.8)] if was else (0.5, 1.0, 10.0, 100.0))]


def _made(plant: Plant) -> int:
    """All that a plant's machine is made of, in one number."""
    net, well = plant.network(), plant.well
    parts = (net.variables, net.swept, net.signals, net.operables, net.faults, well.starts(plant), well.depths)
    return hash((net.fingerprint(), repr(parts)))


def test_every_number_of_a_plant_file_is_read_or_refused() -> None:
    """A value that changes nothing would be a promise that the plant does not keep."""
    kept: set[tuple[str, str]] = set()
    lazy = []
    for base, data in BASES.items():
        was = _made(plant_of(data, "rig.toml"))
        for place, value in [*_places(data), *_open(data)]:
            key = (place.split(".")[0], place.split(".")[-1])
            for near in _near(value) if key not in kept else []:
                try:
                    changed_ = _made(plant_of(data_of(base, (place, near)), "rig.toml"))
                except PlantError:
                    continue
                if changed_ == was:
                    lazy.append(f"{base} {place} = {near}")
                else:
                    kept.add(key)
                    break
    assert not lazy
    assert len(kept) > 100


def _extreme(value: Any, pick: random.Random) -> Any:
    if isinstance(value, bool):
        return not value
    factor = pick.choice((0, -1, 0.1, 0.3, 0.7, 1.5, 2, 5, 30, 1e6))
    if isinstance(value, int | float):
        return round(value * factor) if isinstance(value, int) else value * factor
    number, _, unit = value.partition(" ")
    try:
        return f"{float(number) * factor:g} {unit}"
    except ValueError:
        return pick.choice(("", "moon", "12 psi", "nan psi", value + "x"))


def test_extreme_plants_are_refused_or_run() -> None:
    """Plants with one to four extreme values: a sentence, or a minute without a broken or lost value."""
    places = {base: [*_places(data), *_open(data)] for base, data in BASES.items()}
    most = max(6, FUZZ // 50)
    accepted, ran, unsettled = 0, 0, 0
    for n in range(FUZZ):
        pick = random.Random(n)
        base = pick.choice(sorted(BASES))
        changes = [(place, _extreme(value, pick)) for place, value in pick.sample(places[base], pick.randint(1, 4))]
        try:
            # Writing the text takes twenty times as long as reading it, so that most go without.
            plant = (
                plant_of(data_of(base, *changes), "rig.toml") if n % 20 else parse_plant(changed(base, *changes), "rig")
            )
        except PlantError as refused:
            assert str(refused), changes
            continue
        accepted += 1
        if ran < most:
            # A plant that is run once for a minute costs plain Python less than its compiling would.
            with server.plain():
                found = shakedown(build_machine(plant))
            ran += 1
            settles = [line for line in found if "do not settle" not in line]
            unsettled += len(found) - len(settles)
            assert not settles, (base, changes, found)
    print(f"{FUZZ} plants: {FUZZ - accepted} refused, {accepted} accepted, {ran} run, {unsettled} do not settle")
    assert ran == most, "the fuzz must also meet plants that are possible"
