"""Kinds that are whole in one module: read from a table of their own, built with the unit, worked and failing."""

from __future__ import annotations

import pytest

from trainer import resources
from trainer.hydraulics.machine import Machine
from trainer.plant.attachments import KINDS
from trainer.plant.rig import Plant, PlantError, build_machine, parse_plant
from trainer.session.commands import Command
from trainer.units import from_unit

TABLE = """
[[restrictor]]
id = "flushing"
title = "Flushing orifice"
capacity = "0.005 Cv"
"""


def with_tables(text: str, plant: str = "sandpiper") -> Plant:
    """A shipped plant with more tables in its file."""
    return parse_plant(resources.plant_files()[plant].read_bytes() + text.encode(), "own.toml")


def order(do: str, target: str, value: str | None = None) -> Command:
    return Command.model_validate({"t": 0.0, "do": do, "target": target, "value": value, "from": "unit"})


def settled(machine: Machine, seconds: float = 5.0) -> float:
    for _ in range(round(seconds * 10)):
        machine.scan()
    return machine.read("flushing.flow")


def test_a_restrictor_passes_what_the_orifice_equation_says_and_fails_and_is_mended() -> None:
    machine = build_machine(with_tables(TABLE))
    clean = settled(machine)
    # IEC 60534-2-1, incompressible flow: one Cv passes 1 gpm of water at 1 psi.
    expected = 0.005 * (machine.read("accumulator.pressure") / from_unit(1.0, "psi")) ** 0.5
    assert clean / from_unit(1.0, "gpm") == pytest.approx(expected, rel=0.02)
    machine.set_fault("flushing.blocked", 1.0)
    assert settled(machine) == pytest.approx(0.05 * clean, rel=0.02)
    clean_it = order("push", "flushing.clean")
    refusal = machine.apply(clean_it)
    assert refusal is not None and "holds pressure" in refusal
    assert machine.apply(order("set", "flushing.valve", "shut")) is None
    assert settled(machine) == pytest.approx(0.0, abs=1e-12)
    assert machine.apply(clean_it) is None
    assert machine.apply(order("set", "flushing.valve", "open")) is None
    assert settled(machine) == pytest.approx(clean, rel=0.02)


def test_what_is_wrong_in_such_a_table_is_told_by_its_place() -> None:
    with pytest.raises(PlantError, match=r"own\.toml: restrictor\.0\.capacity: "):
        with_tables(TABLE.replace("0.005 Cv", "50 Cv"))
    with pytest.raises(PlantError, match=r"restrictor\.0\.size: nothing reads a key of this name"):
        with_tables(TABLE + "size = 1\n")
    with pytest.raises(PlantError, match="two parts are called 'flushing'"):
        with_tables(TABLE + TABLE)
    assert set(KINDS) <= set(Plant.kinds())
