"""Many plants at once equal as many single machines, bit for bit, compiled and by plain Python."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from trainer.hydraulics.machine import Machine
from trainer.planning.ensemble.columns import Column, Columns
from trainer.runtime import server
from trainer.session.commands import Command
from trainer.simulator import build

PLANTS = 3
PLAIN = 40
"""Scans that the plants together are advanced by plain Python too."""
FAULTS = ("upper_annular.leak_close", "upper_pipe_ram.valve_slow", "accumulator.pressure.drift", "tank.leak")


@pytest.fixture(scope="module", params=["quillback", "sandpiper"])
def plant(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def tolerances(n: int, one: Machine | Column) -> None:
    """Plant ``n``'s own precharges, weather, leak and gauge."""
    for bank in ("bank_a", "bank_b"):
        if f"{bank}.gas" in one.index:
            one.put(f"{bank}.gas", one.read(f"{bank}.gas") * (1.0 - 0.01 * n))
    one.put("ambient.surface", one.read("ambient.surface") - 2.0 * n)
    known = [fault for fault in FAULTS if fault in one.faults]
    for k, fault in enumerate(known):
        one.put(f"fault.{fault}", 0.07 * ((n + k) % PLANTS))


def script(plant: str, n: int) -> list[tuple[int, dict[str, object]]]:
    """A busy minute: everybody closes and opens, each plant a little later than the one before."""
    annular = "upper_annular" if plant == "quillback" else "annular"
    late = 3 * n
    return [
        (5 + late, {"do": "set", "target": annular, "value": "close", "from": "driller"}),
        (20, {"do": "set", "target": "triplex_1.mode", "value": "off", "from": "unit"}),
        (60 + late, {"do": "set", "target": "upper_pipe_ram", "value": "close", "from": "driller"}),
        (120, {"do": "raise", "target": "annular_regulator", "value": 2 + n % 2, "from": "driller"}),
        (180 + 2 * late, {"do": "set", "target": annular, "value": "open", "from": "driller"}),
        (240, {"do": "set", "target": "bank_a.bleed", "value": "open", "from": "unit"}),
        (300 + late, {"do": "set", "target": "upper_pipe_ram", "value": "block", "from": "driller"}),
        (330, {"do": "set", "target": "power.main", "value": "off", "from": "unit"}),
        (400, {"do": "set", "target": "bank_a.bleed", "value": "shut", "from": "unit"}),
        (450, {"do": "set", "target": "triplex_1.mode", "value": "auto", "from": "unit"}),
    ]


def play(one: Machine | Column, commands: list[tuple[int, dict[str, object]]], scan: int) -> list[str | None]:
    return [one.apply(Command.model_validate({"t": scan / 10, **record})) for at, record in commands if at == scan]


def test_columns_equal_single_machines_over_a_busy_minute(plant: str) -> None:
    """The single machines run by plain Python, the many as compiled code, and the first seconds by plain Python too."""
    with server.plain():
        singles = [build(plant) for _ in range(PLANTS)]
        plain = Columns(build(plant), PLANTS)
    columns = Columns(build(plant), PLANTS)
    many = [[Column(each, n) for each in (columns, plain)] for n in range(PLANTS)]
    scripts = [script(plant, n) for n in range(PLANTS)]
    for n in range(PLANTS):
        tolerances(n, singles[n])
        for one in many[n]:
            tolerances(n, one)
    moved = 0.0
    for scan in range(600):
        for n in range(PLANTS):
            told = play(singles[n], scripts[n], scan)
            assert play(many[n][0], scripts[n], scan) == told
            singles[n].scan()
            if scan < PLAIN:
                assert play(many[n][1], scripts[n], scan) == told
        columns.scan()
        if scan < PLAIN:
            plain.scan()
        if scan == PLAIN - 1:
            assert plain.state.tobytes() == columns.state.tobytes()
        moved = max(moved, singles[-1].read("upper_pipe_ram.position"))
    assert moved > 0.9, "the script must move something"
    expected = np.array([one.state for one in singles]).T
    apart = np.max(np.abs(columns.state - expected), axis=1)
    off = [(columns.mould.names[i], apart[i]) for i in np.argsort(-apart)[:5]]
    assert apart.max() == 0.0, off
    assert columns.state.tobytes(order="F") == b"".join(one.saved() for one in singles), "zeros of another sign"
    assert len({tuple(column) for column in expected.T}) == PLANTS, "the plants must differ"


def test_what_never_happens_costs_no_plant_its_rest() -> None:
    columns = Columns(build("sandpiper"), 2)
    Column(columns, 0).set_fault("annular.leak_close", 1.0)
    columns.scan(20)
    single = build("sandpiper")
    single.scan(20)
    assert Column(columns, 1).state == single.state
    assert Column(columns, 0).state != single.state


def test_no_plants_is_one_sentence() -> None:
    with pytest.raises(ValueError, match="give at least 1"):
        Columns(build("sandpiper"), 0)


def refused(call: Callable[[], object]) -> str:
    with pytest.raises(KeyError) as caught:
        call()
    return str(caught.value)


def test_unknown_fault_and_command() -> None:
    column = Column(Columns(build("sandpiper"), 1), 0)
    assert "no fault" in refused(lambda: column.set_fault("moon.leak", 1.0))
    command = Command.model_validate({"t": 0, "do": "push", "target": "moon", "from": "unit"})
    assert column.apply(command) == "Nothing here takes 'push' on 'moon'."
