"""Published response rules of preventers against the running plants, and degraded plants that fail the right rule."""

from __future__ import annotations

import pytest

from tests.outside.sources import held_against
from tests.plant.hands import Hands
from trainer.planning.sizing import sizing
from trainer.plant.base import PSI
from trainer.plant.rig import Plant, load_plant

SUBSEA, _ = load_plant("quillback")
SURFACE, _ = load_plant("sandpiper")
ANNULARS = ("upper_annular", "lower_annular")
RAMS = ("upper_pipe_ram", "middle_pipe_ram", "lower_pipe_ram", "blind_shear_ram", "casing_shear_ram")
ALL = (*ANNULARS, *RAMS)


def bare(plant: str | Plant) -> Hands:
    """The plant with nothing across the stack, so that every preventer makes its whole stroke."""
    rig = Hands(plant)
    rig.start("out_of_hole")
    rig.wait(2.0)
    assert rig["bore.pipe"] == 0.0
    return rig


@pytest.mark.parametrize("ram", RAMS)
@held_against("closing times", "Devereux p. 328: subsea ram at most 45 s", "verification")
def test_a_subsea_ram_closes_within_45_s(ram: str) -> None:
    """Subsea ram at most 45 s: Devereux, Practical Well Planning and Drilling Manual, p. 328."""
    assert bare("quillback").seconds_to(ram, "close") <= 45.0


@pytest.mark.parametrize("annular", ANNULARS)
@held_against("closing times", "Devereux p. 328: subsea annular at most 60 s", "verification")
def test_a_subsea_annular_closes_within_60_s(annular: str) -> None:
    """Subsea annular at most 60 s: Devereux, Practical Well Planning and Drilling Manual, p. 328."""
    assert bare("quillback").seconds_to(annular, "close") <= 60.0


@pytest.mark.parametrize("ram", ["upper_pipe_ram", "blind_shear_ram", "lower_pipe_ram"])
@held_against("closing times", "API RP 16E by an audit checklist: surface ram at most 30 s", "verification")
def test_a_surface_ram_closes_within_30_s(ram: str) -> None:
    """Surface ram at most 30 s: API RP 16E by way of an audit checklist."""
    assert bare("sandpiper").seconds_to(ram, "close") <= 30.0


@held_against("closing times", "API RP 16E by an audit checklist: annular at most 30 s", "verification")
def test_a_surface_annular_under_18_inches_closes_within_30_s() -> None:
    """Annular under 18-3/4 in at most 30 s: API RP 16E by way of an audit checklist."""
    assert SURFACE.well.bore < 18.75 * 0.0254
    assert bare("sandpiper").seconds_to("annular", "close") <= 30.0


@pytest.mark.parametrize("plant", ["quillback", "sandpiper"])
@held_against("closing times", "API RP 16E by an audit checklist: choke and kill valves", "verification")
def test_choke_and_kill_valves_are_no_slower_than_the_fastest_ram(plant: str) -> None:
    """Choke and kill valves no slower than the fastest ram: API RP 16E by way of an audit checklist."""
    declared = SUBSEA if plant == "quillback" else SURFACE
    rams = [f.id for f in declared.function if f.kind in ("pipe_ram", "shear_ram")]
    fastest = min(bare(plant).seconds_to(ram, "close") for ram in rams)
    for valve in [f.id for f in declared.function if f.line]:
        rig = bare(plant)
        assert rig.seconds_to(valve, "open") <= fastest
        assert rig.seconds_to(valve, "close") <= fastest


@held_against("closing times", "API Standard 53 (from memory): riser package at most 45 s", "verification")
def test_the_riser_package_unlatches_within_45_s() -> None:
    """Lower riser package unlatches within 45 s: API Standard 53, from memory."""
    assert bare("quillback").seconds_to("riser_connector", "open") <= 45.0


def test_the_emergency_sequence_ends_disconnected() -> None:
    """Every step given and the riser free; unlatching itself within 45 s of its step: API Standard 53, from memory."""
    rig = Hands("quillback")
    rig.do("push", "driller.enable", None, "driller")
    rig.do("push", "eds.arm", None, "driller")
    assert rig.do("push", "eds.start", None, "driller") is None
    parted = rig.until(lambda: rig["bore.disconnected"] > 0.5)
    assert SUBSEA.disconnect is not None
    assert parted - SUBSEA.disconnect.seconds <= 45.0


def left_after_reserve(rig: Hands, preventers: tuple[str, ...], again: tuple[str, str]) -> float:
    """Least header pressure in psi: all closed and opened, then one annular and one ram closed, without pumps.

    Each function is worked as soon as the one before it has moved; one that no longer moves ends the test.
    """
    rig.pumps_off()
    steps = [*((f, "close") for f in preventers), *((f, "open") for f in preventers), *((f, "close") for f in again)]
    least = rig.psi("accumulator.true")
    for function, way in steps:
        if rig.seconds_to(function, way, 60.0) > 60.0:
            return 0.0
        least = min(least, rig.psi("accumulator.true"))
    return least


def with_banks(**changes: object) -> Plant:
    """Quillback with its surface banks changed."""
    banks = tuple(b.model_copy(update=changes) if b.place == "surface" else b for b in SUBSEA.bank)
    return SUBSEA.model_copy(update={"bank": banks})


@held_against("stored reserve", "Devereux p. 328: 200 psi above precharge after the sequence", "verification")
def test_reserve_of_the_running_plants() -> None:
    """Close and open all, close one annular and one ram, pumps off: 200 psi above precharge left. Devereux, p. 328.

    The planning sheet says the same, within what its one header leaves out (lines and regulators between).
    """
    for plant, preventers, again in (
        (SUBSEA, ALL, ("upper_annular", "upper_pipe_ram")),
        (SURFACE, ("annular", "upper_pipe_ram", "blind_shear_ram", "lower_pipe_ram"), ("annular", "upper_pipe_ram")),
    ):
        left = left_after_reserve(bare(plant), preventers, again)
        assert left >= 1200.0
        told = next(r.value for r in sizing(plant).rows if r.name == "Pressure left at the pace of the strokes")
        assert told == pytest.approx(left, rel=0.04)


def test_a_bank_isolated_fails_the_reserve() -> None:
    """The rule above, with one of the two banks shut off."""
    rig = bare("quillback")
    rig.set("bank_b.isolation", "shut")
    assert left_after_reserve(rig, ALL, ("upper_annular", "upper_pipe_ram")) < 1200.0


def test_a_low_precharge_fails_the_reserve() -> None:
    """The rule above, judged at the right precharge, with the nitrogen at 400 psi."""
    low = bare(with_banks(precharge=400.0 * PSI))
    assert left_after_reserve(low, ALL, ("upper_annular", "upper_pipe_ram")) < 1200.0


def verdict(plant: Plant, rule: str) -> bool:
    """A rule of the planning sheet."""
    text = {v.rule: v.ok for v in sizing(plant).verdicts}
    return text[rule]


@held_against("stored reserve", "Crumpton p. 174: half as much again", "verification")
def test_reserve_of_one_and_a_half_times_what_closing_takes() -> None:
    """1.5 times the closing volume: Crumpton p. 174 (50 % over total close volume); half the bottles fail it by far.

    The subsea rig stands at the limit: by the least favorable method it misses it by less than the method's doubt.
    """
    told = {plant.id: next(v for v in sizing(plant).verdicts if v.rule == "reserve") for plant in (SUBSEA, SURFACE)}
    assert told["sandpiper"].ok
    assert abs(float(told["quillback"].margin)) < float(told["quillback"].uncertainty)
    halved = next(v for v in sizing(with_banks(bottles=12)).verdicts if v.rule == "reserve")
    assert halved.outcome == "NOT MET"
    assert float(halved.margin) < -3.0 * float(halved.uncertainty)


@held_against("recharge", "API Standard 53, 6.3.5.4 and .5: 15 and 30 min", "verification")
def test_recharge_with_a_pump_group_lost_needs_its_own_rule() -> None:
    """All pumps within 15 min, one system lost within 30 min: API Standard 53, 6.3.5.4 and .5, public restatement."""
    for plant in (SUBSEA, SURFACE):
        assert verdict(plant, "recharge") and verdict(plant, "recharge_one_lost")
        electric = tuple(p for p in plant.pump if p.drive == "electric")
        assert not verdict(plant.model_copy(update={"pump": electric}), "recharge_one_lost")


def changed_pumps(plant: Plant, drive: str, **changes: object) -> Plant:
    """The plant with the pumps of one drive changed."""
    pumps = tuple(p.model_copy(update=changes) if p.drive == drive else p for p in plant.pump)
    return plant.model_copy(update={"pump": pumps})


def outcomes(plant: Plant) -> dict[str, str]:
    """What the planning sheet says of each rule: met, not shown, NOT MET."""
    return {v.rule: v.outcome for v in sizing(plant).verdicts}


def failed(plant: Plant) -> set[str]:
    """Rules of the planning sheet that a plant does not meet."""
    return {rule for rule, outcome in outcomes(plant).items() if outcome == "NOT MET"}


@pytest.mark.parametrize("plant", [SUBSEA, SURFACE], ids=["quillback", "sandpiper"])
def test_each_degraded_plant_fails_the_rule_it_should(plant: Plant) -> None:
    """Each of these fails the rule named, and no other than the healthy plant does not meet either.

    What the shipped plants do not meet, or by less than the doubt of the method, their planning sheets say.
    """
    healthy = outcomes(plant)
    assert failed(plant) <= {"sequence_at_once", "reserve", "shear_as_set", "shear_in_sequence"}
    short = plant.supply.model_copy(update={"relief_pressure": 3400.0 * PSI})
    tank = plant.reservoir.model_copy(update={"mixed_volume": 0.7 * plant.reservoir.mixed_volume})
    flat = plant.electrical.model_copy(update={"battery_capacity": 0.1 * plant.electrical.battery_capacity})
    degraded = {
        "primary_start": changed_pumps(plant, "electric", start_pressure=2650.0 * PSI),
        "primary_stop": changed_pumps(plant, "electric", stop_pressure=2880.0 * PSI),
        "secondary_start": changed_pumps(plant, "air", start_pressure=2500.0 * PSI),
        "secondary_stop": changed_pumps(plant, "air", stop_pressure=2800.0 * PSI),
        "relief": plant.model_copy(update={"supply": short}),
        "reservoir": plant.model_copy(update={"reservoir": tank}),
        "battery": plant.model_copy(update={"electrical": flat}),
    }
    for rule, worse in degraded.items():
        told = outcomes(worse)
        assert told[rule] == "NOT MET", rule
        assert {other for other in told if told[other] != healthy[other]} == {rule}, rule
    few = [b.model_copy(update={"bottles": max(b.bottles // 2, 1)}) for b in plant.bank]
    assert "pressure_left" in failed(plant.model_copy(update={"bank": tuple(few)}))
    assert {"recharge", "recharge_one_lost"} <= failed(changed_pumps(plant, "electric", rate=1.0e-5))
    assert "air_pumps" in failed(changed_pumps(plant, "air", area_ratio=30.0))
