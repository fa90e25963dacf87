"""What a plant file says of capacities, droop, shift pressures and pods is what the plant does."""

from __future__ import annotations

from contextlib import nullcontext
from types import SimpleNamespace
from typing import Any

import pytest

from tests.plant.hands import file_of
from trainer.hydraulics.machine import Machine
from trainer.plant.rig import build_machine, plant_of
from trainer.runtime import server
from trainer.units import to_unit

BASES = {name: file_of(name) for name in ("quillback", "sandpiper")}


def rig(base: str, changes: dict[str, Any] | None = None, long: bool = False) -> Machine:
    """A plant with some values changed (parts by id); by plain Python where it does not run for ``long``."""
    data: dict[str, Any] = dict(BASES[base])
    for place, value in (changes or {}).items():
        *steps, last = place.split(".")
        if len(steps) == 2:
            kind, part = steps
            data[kind] = [{**one, last: value} if one["id"] == part else one for one in data[kind]]
        elif steps:
            data[steps[0]] = {**data[steps[0]], last: value}
        else:
            data[last] = value
    with nullcontext() if long else server.plain():
        return build_machine(plant_of(data, "rig.toml"))


def give(machine: Machine, target: str, value: object) -> None:
    assert machine.apply(SimpleNamespace(do="set", target=target, value=value, from_="unit")) is None


def closing(machine: Machine, function: str) -> float:
    """Seconds to close a function from rest."""
    machine.scan(20)
    give(machine, function, "close")
    for scan in range(1200):
        machine.scan()
        if machine.read(f"{function}.closed") > 0.5:
            return (scan + 1) / 10.0
    return 120.0


def test_closing_times_follow_volumes_ports_lines_and_pressure() -> None:
    usual = closing(rig("sandpiper"), "annular")
    assert closing(rig("sandpiper", {"function.annular.close_volume": "36 gal"}), "annular") > 1.6 * usual
    assert closing(rig("sandpiper", {"function.annular.capacity": "2.5 Cv"}), "annular") > 1.5 * usual
    assert closing(rig("sandpiper", {"hoses.bore": "0.4 in"}), "annular") > 1.3 * usual
    assert closing(rig("sandpiper", {"regulator.annular_regulator.set": "500 psi"}), "annular") > 1.2 * usual
    assert closing(rig("sandpiper", {"regulator.annular_regulator.capacity": "0.8 Cv"}), "annular") > 1.3 * usual


def test_droop_is_what_a_regulator_gives_away_under_flow() -> None:
    """While the annular strokes, the reduced line stands below its setting by a share of the droop."""

    def sag(droop: str) -> float:
        machine = rig("sandpiper", {"regulator.annular_regulator.droop": droop})
        machine.scan(20)
        give(machine, "annular", "close")
        machine.scan(30)
        return to_unit(machine.read("annular_regulator.subsea") - machine.read("direct.annular.p"), "psi")

    small, large = sag("60 psi"), sag("300 psi")
    assert large > 1.5 * small > 0.0


def test_pod_valves_shift_at_the_pressure_of_the_file() -> None:
    """The same ram starts later when its pod valve needs 2,500 psi of pilot in place of 1,200."""
    early = closing(rig("quillback"), "upper_pipe_ram")
    late = closing(rig("quillback", {"pod.yellow.shift_on": "2500 psi"}), "upper_pipe_ram")
    assert late > early


@pytest.mark.parametrize("pods", [1, 3])
def test_one_to_three_pods_each_close_a_ram_and_lose_nothing(pods: int) -> None:
    names = ("yellow", "blue", "white")[:pods]
    gone = [f"{name}_pod_connector" for name in ("blue",) if name not in names]
    functions = [f for f in BASES["quillback"]["function"] if f["id"] not in gone]
    machine = rig("quillback", {"pod": [{"id": name} for name in names], "function": functions}, long=True)
    start = machine.fluid()
    for pod in names:
        give(machine, "pod_selector", pod)
        machine.scan(100)
        assert closing(machine, "upper_pipe_ram") < 20.0, pod
        assert machine.read(f"pod_{pod}.manifold.p") > 6.0e6
        give(machine, "upper_pipe_ram", "open")
        machine.scan(200)
        assert machine.read("upper_pipe_ram.opened") > 0.5
    assert machine.fluid() == pytest.approx(start, rel=1e-9)
    give(machine, "pod_selector", "block")
    machine.scan(20)
    stood = machine.read("upper_pipe_ram.x")
    give(machine, "upper_pipe_ram", "close")
    machine.scan(100)
    assert machine.read("upper_pipe_ram.x") - stood < 0.5, "in block it gets what the pod holds, and no more"


def test_each_of_two_stack_banks_feeds_until_its_own_valve_shuts_and_nothing_is_lost() -> None:
    base = BASES["quillback"]
    bank = next(b for b in base["bank"] if b["place"] == "stack")
    valve = next(f for f in base["function"] if f.get("isolates"))
    more = {**bank, "id": "aft", "title": "Stack bottles aft", "bottles": 4}
    shuts = {**valve, "id": "aft_isolation", "title": "Aft isolation", "isolates": "aft"}
    machine = rig("quillback", {"bank": [*base["bank"], more], "function": [*base["function"], shuts]})
    start = machine.fluid()
    give(machine, "stack_isolation", "close")
    machine.scan(60)
    kept, gives = machine.read("stack_bottles.v"), machine.read("aft.v")
    assert closing(machine, "upper_pipe_ram") < 20.0
    assert machine.read("stack_bottles.v") == pytest.approx(kept, rel=1e-6)
    assert machine.read("aft.v") < 0.98 * gives
    assert machine.fluid() == pytest.approx(start, rel=1e-9)


def test_the_flex_joint_takes_fluid_that_the_meter_counts() -> None:
    machine = rig("quillback")
    machine.scan(100)
    before = machine.read("totaliser.true")
    give(machine, "flexjoint_regulator.authority", "unit")
    give(machine, "flexjoint_regulator", 1400.0)
    machine.scan(300)
    assert to_unit(machine.read("totaliser.true") - before, "gal") > 0.5
    assert to_unit(machine.read("flexjoint_regulator.readback"), "psi") == pytest.approx(1400.0, abs=30.0)
    machine.set_fault("flex_joint.seal_leak", 1.0)
    machine.scan(50)
    assert to_unit(machine.read("totaliser.flow"), "gpm") > 1.0


def test_a_shut_header_keeps_its_own_pressure() -> None:
    """Two header volumes: with both valves of header A shut, drawing the manifold down leaves its bank as it was."""
    machine = rig("sandpiper")
    for pump in ("triplex_1", "air_pump_1", "air_pump_2"):
        give(machine, f"{pump}.mode", "off")
    give(machine, "header_a.isolation", "shut")
    give(machine, "bank_b.bleed", "open")
    machine.scan(100)
    assert machine.read("header_b.p") < 0.9 * machine.read("header_a.p")
    give(machine, "bank_b.bleed", "shut")
    give(machine, "header.crossover", "open")
    machine.scan(300)
    assert machine.read("header_a.p") == pytest.approx(machine.read("header_b.p"), rel=0.02)
    assert machine.read("header.p") == pytest.approx(machine.read("header_b.p"), rel=0.02)
