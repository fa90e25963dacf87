"""A surface stack with direct hydraulics, by data alone."""

from __future__ import annotations

import pytest

from tests.plant.hands import Hands


@pytest.fixture
def rig() -> Hands:
    return Hands("sandpiper")


def test_it_has_no_pods_no_count_and_no_pilot_supply(rig: Hands) -> None:
    tags = set(rig.machine.signals)
    assert not [t for t in tags if t.startswith(("pod_", "totaliser.", "pilot.", "eds."))]
    assert {"manifold_regulator.readback", "annular.lamp_close", "accumulator.pressure", "alarm.low_air"} <= tags
    for fault in rig.machine.faults.values():
        assert fault.shows, fault.id
        assert set(fault.shows) <= tags, fault.id


def test_what_functions_give_back_returns_to_the_tank(rig: Hands) -> None:
    rig.pumps_off()
    before = rig["tank.v"]
    rig.seconds_to("annular", "close")
    rig.wait(10.0)
    annular = next(f for f in rig.plant.function if f.id == "annular")
    closed = before + annular.open_volume * rig["annular.position"]
    assert rig["tank.v"] == pytest.approx(closed, abs=0.002)
    assert rig.lost() < 1e-9


def test_a_blocked_valve_holds_the_ram_closed(rig: Hands) -> None:
    rig.seconds_to("upper_pipe_ram", "close")
    rig.wait(5.0)
    rig.set("upper_pipe_ram", "block")
    rig.wait(2.0)
    rig.set("manifold_regulator.authority", "unit")
    rig.set("manifold_regulator", 200)
    rig.wait(60.0)
    assert rig.psi("upper_pipe_ram.close_pressure") > 1400.0
    assert rig["upper_pipe_ram.sealing"] == 1.0
    assert rig["upper_pipe_ram.lamp_block"] == 1.0


def test_the_lamp_tells_the_valve_and_not_the_ram(rig: Hands) -> None:
    rig.machine.set_fault("upper_pipe_ram.stuck", 1.0)
    rig.set("upper_pipe_ram", "close", "driller")
    rig.wait(10.0)
    assert rig["upper_pipe_ram.lamp_close"] == 1.0
    assert rig["upper_pipe_ram.position"] < 0.01


def test_a_regulator_answers_without_lag(rig: Hands) -> None:
    rig.do("raise", "manifold_regulator", 4.0, "driller")
    rig.wait(5.5)
    assert rig.psi("manifold_regulator.readback") == pytest.approx(rig.psi("manifold_regulator.pilot"), abs=10.0)


def test_annular_and_choke_line_shut_the_well_in(rig: Hands) -> None:
    rig.do("set", "floor.mud_pumps", 0, "floor")
    rig.wait(10.0)
    rig.seconds_to("annular", "close")
    rig.wait(5.0)
    assert rig["bore.area"] == 0.0
    rig.set("choke_valve", "open", "driller")
    rig.wait(5.0)
    assert rig["choke_line.sees_well"] == 1.0
    assert rig["well.sealed"] == 1.0


def test_a_leaking_hose_shows_without_a_count(rig: Hands) -> None:
    rig.machine.set_fault("annular.leak_open", 1.0)
    level = rig["tank.v"]
    rig.wait(180.0)
    assert rig["tank.v"] < level - 0.005
    assert rig.lost() < 1e-9


def test_twins_agree_to_the_bit_through_every_function() -> None:
    runs = []
    for _ in range(2):
        rig = Hands("sandpiper", settle=2.0)
        for function in rig.plant.function:
            rig.do("push", "driller.enable", None, "driller")
            for way in ("close", "open", "block"):
                rig.do("set", function.id, way, "driller")
                rig.wait(1.5)
        assert rig.lost() < 1e-9
        runs.append(list(rig.machine.state))
    assert runs[0] == runs[1]
