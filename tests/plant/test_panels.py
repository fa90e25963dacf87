"""Further panels: they work by their own supply and die with it, and a declaration that cannot be is refused."""

from __future__ import annotations

import pytest

from tests import further
from tests.plant.hands import Hands
from trainer.hydraulics.compile import flat_source
from trainer.plant.panels import Panel
from trainer.plant.rig import PlantError, build_machine, load_plant
from trainer.plant.shakedown import shakedown

ESCAPE, AIR, OWN = "third", "fourth", "fifth"


@pytest.fixture
def rig() -> Hands:
    return Hands(further.plant(), settle=2.0)


def test_a_function_is_worked_from_a_further_panel_and_its_lamp_follows(rig: Hands) -> None:
    assert rig["escape_panel.upper_annular_open"] == 1.0
    rig.set("upper_annular", "close", ESCAPE)
    assert rig.until(lambda: rig["upper_annular.closed"] > 0.5) < 60.0
    assert [rig[f"escape_panel.upper_annular_{way}"] for way in ("open", "block", "close")] == [0.0, 0.0, 1.0]
    assert rig["upper_annular.lamp_close"] == rig["air_panel.upper_annular_close"] == 1.0


def test_it_carries_only_what_its_declaration_says(rig: Hands) -> None:
    def at(station: str) -> set[str]:
        return {o.target for o in rig.machine.operables.values() if station in o.station}

    assert at(ESCAPE) == {
        "upper_annular", "blind_shear_ram", "upper_inner_choke", "annular_regulator", "driller.enable",
        "driller.lamp_test", "alarms.acknowledge", "alarms.silence",
    }  # fmt: skip
    assert at(AIR) == {"upper_annular", "lower_pipe_ram"}
    assert ESCAPE in rig.machine.signals["well.pit_gain"].station
    assert ESCAPE in rig.machine.signals["alarm.low_air"].station
    assert AIR not in rig.machine.signals["alarm.low_air"].station


def test_a_critical_function_wants_enable_and_the_sequence_locks_it_out(rig: Hands) -> None:
    assert rig.do("set", "blind_shear_ram", "close", OWN).code == "not_enabled"  # type: ignore[union-attr]
    assert rig.do("push", "driller.enable", None, OWN) is None
    rig.set("blind_shear_ram", "close", OWN)
    rig.wait(0.5)
    assert rig["blind_shear_ram.valve"] == 2.0
    rig.machine.put("eds.running", 1.0)
    assert rig.do("set", "upper_annular", "close", OWN).code == "locked_out"  # type: ignore[union-attr]


def test_a_dead_cable_or_an_open_breaker_makes_it_dead_and_the_others_work(rig: Hands) -> None:
    for kill, mend in (
        (lambda: rig.machine.set_fault("escape_panel.cable_broken", 1.0),
         lambda: rig.machine.set_fault("escape_panel.cable_broken", 0.0)),
        (lambda: rig.set("escape_panel.feed", "off"), lambda: rig.set("escape_panel.feed", "on")),
    ):  # fmt: skip
        kill()
        rig.wait(0.2)
        lit = [
            rig[f"escape_panel.{f}_{way}"] for f in ("upper_annular", "blind_shear_ram") for way in ("open", "close")
        ]
        assert lit == [0.0] * 4 and rig["escape_panel.volts"] == 0.0
        for do, target, value in (
            ("set", "upper_annular", "close"), ("push", "driller.enable", None), ("raise", "annular_regulator", 1.0),
        ):  # fmt: skip
            refused = rig.do(do, target, value, ESCAPE)
            assert refused is not None and refused.code == "no_power" and "Escape-exit panel has no power" in refused
        assert rig["upper_annular.lamp_open"] == rig["lifeboat_panel.upper_annular_open"] == 1.0
        mend()
        rig.wait(0.2)
        assert rig["escape_panel.upper_annular_open"] == 1.0


def test_its_own_battery_carries_a_panel_and_draws_the_valves_when_the_unit_s_is_dead(rig: Hands) -> None:
    rig.machine.set_fault("power.ac_lost", 1.0)
    rig.machine.put("battery.charge", -0.05)
    rig.wait(3.0)
    assert rig["panel.power"] == rig["escape_panel.power"] == 0.0 and rig["lifeboat_panel.power"] == 1.0
    rig.set("upper_annular", "close", OWN)
    rig.wait(1.0)
    assert rig["upper_annular.valve"] == 2.0
    # 6 Ah at 20 h under 0.8 A: 20 h (6 / 16)^1.2 (Peukert), so that an hour takes a sixth of its charge.
    rig.machine.put("lifeboat_panel.charge", 1.0)
    rig.wait(60.0)
    assert 1.0 - rig["lifeboat_panel.charge"] == pytest.approx(60.0 / (20.0 * 3600.0 * (6.0 / 16.0) ** 1.2), rel=0.05)


def test_an_order_by_air_comes_late_by_sound_and_filling_and_needs_no_voltage(rig: Hands) -> None:
    rig.machine.set_fault("power.ac_lost", 1.0)
    rig.machine.put("battery.charge", -0.05)
    rig.machine.set_fault("upper_annular.solenoid_dead", 1.0)
    rig.wait(3.0)
    rig.set("upper_annular", "close", AIR)
    late = rig.until(lambda: rig["upper_annular.valve"] == 2.0, 10.0)
    # 274.3 m: 0.80 s by sound; 16 x 1.82e-5 x 274.3^2 / (0.00457^2 x 963 kPa) = 1.09 s to fill.
    assert late == pytest.approx(0.80 + 1.09, abs=0.2)
    rig.set("air_panel.feed", "shut")
    rig.wait(0.2)
    refused = rig.do("set", "upper_annular", "open", AIR)
    assert refused is not None and "Air panel has no air" in refused


def test_the_unit_s_battery_carries_what_hangs_on_it_by_peukert() -> None:
    plant = further.plant()
    rig = Hands(plant, settle=2.0)
    assert plant.battery_load == pytest.approx(8.8)  # the panels' 8 A and the escape panel's 0.8 A
    rig.machine.set_fault("power.ac_lost", 1.0)
    for breaker, load in (("on", 8.8), ("off", 8.0)):
        rig.set("escape_panel.feed", breaker)
        rig.wait(2.0)
        assert rig["battery.amps"] == pytest.approx(load)
        before = rig["battery.charge"]
        rig.wait(10.0)
        hours = 20.0 * (100.0 / (20.0 * load)) ** 1.2
        assert before - rig["battery.charge"] == pytest.approx(10.0 / (hours * 3600.0), rel=1e-6)


def test_the_cable_loses_what_the_law_of_its_copper_says() -> None:
    # IEC 60228: 2.5 mm2 of copper has at most 7.41 ohm/km at 20 degC; 300 ft there and back, 0.8 A.
    panel = Panel.model_validate({"id": "p", "functions": ["x"], "length": "300 ft"})
    assert panel.lost == pytest.approx(0.8 * 2.0 * 0.09144 * 7.41, rel=0.08)


@pytest.mark.parametrize("base", ["quillback", "sandpiper"])
def test_a_rig_with_three_runs_and_the_same_rig_without_is_the_same_to_the_bit(base: str) -> None:
    assert not shakedown(build_machine(further.plant(base)))
    assert flat_source(further.plant(base, "").network()) == flat_source(load_plant(base)[0].network())


BAD = [
    ('functions = ["moon"]', "functions names 'moon', which the plant does not have"),
    ("functions = []", "at least 1"),
    ('functions = ["upper_annular", "upper_annular"]', "functions names 'upper_annular' twice"),
    ('regulators = ["moon"]', "regulators names 'moon', which the plant does not have"),
    ('gauges = ["moon.pressure"]', "gauges names 'moon.pressure', which no instrument of the plant shows"),
    ('gauges = ["well.formation_pressure"]', "which no instrument of the plant shows"),
    ('gauges = ["air.pressure", "air.pressure"]', "gauges names 'air.pressure' twice"),
    ('supply = "moon"', "supply"),
    ('supply = "rig_air"\nregulators = ["annular_regulator"]', "take regulators out"),
    ('supply = "rig_air"\nload = "1 A"', "'load' is read only with supply unit_battery or own_battery"),
    ('bore = "0.2 in"', "'bore' is read only with supply rig_air"),
    ('battery_capacity = "10 Ah"', "'battery_capacity' is read only with supply own_battery"),
    ('conductor = "0.5 mm2"\nload = "20 A"', "use a thicker conductor or a shorter way"),
    ('supply = "rig_air"\nlength = "2500 ft"\nbore = "0.1 in"', "use wider tubing or a shorter way"),
    ('length = "0 ft"', "outside 3 ft"),
    ('length = "9999 ft"', "outside"),
    ('load = "50 A"', "outside"),
    ('conductor = "200 mm2"', "outside"),
    ('walk = "-5 s"', "outside"),
    ('id = "bank_a"', "two parts are called 'bank_a'"),
    ('id = "Escape"', "pattern"),
    ('color = "red"', "nothing reads a key of this name"),
]


@pytest.mark.parametrize(("lines", "words"), BAD, ids=[lines.replace("\n", ", ") for lines, _ in BAD])
def test_a_panel_that_cannot_be_is_refused_in_a_sentence(lines: str, words: str) -> None:
    given = {line.partition(" = ")[0]: line for line in lines.split("\n")}
    usual = {"id": 'id = "extra"', "functions": 'functions = ["upper_annular"]', "length": 'length = "300 ft"'}
    with pytest.raises(PlantError) as refused:
        build_machine(further.plant(panels="\n".join(["", "[[panel]]", *(usual | given).values()])))
    said = str(refused.value).splitlines()
    assert len(said) == 1 and words in said[0] and said[0].startswith(("rig.toml: ", "plant: ")), said


def test_a_rig_has_room_for_three_and_two_with_one_id_are_refused() -> None:
    with pytest.raises(PlantError, match="at most 3"):
        further.plant(panels=further.ESCAPE + further.AIR + further.OWN + further.AIR.replace("air_panel", "more"))
    with pytest.raises(PlantError, match="two parts are called 'air_panel'"):
        further.plant(panels=further.AIR * 2)
