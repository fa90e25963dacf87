"""The well's laws one by one, and the compiled well against the same laws called as plain Python."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.plant.bare_well import BareWell, make
from trainer.plant import well_geometry, well_hydraulics, well_surface
from trainer.plant.well_gas import gas_column

STEPS = make().well.sizes(make()).steps
BIT = st.floats(0, 3300)


def test_compiled_well_equals_the_laws_called_plainly() -> None:
    """Every variable of the flat code equals, to the bit, what the functions give when called in order."""
    well = BareWell()
    well.machine.set_fault("well.kick", 1.0)
    well.run(120)
    well.bore(area=0.2, choke_path=1.0)
    well.do("set", "floor.choke", 30)
    for _ in range(50):
        plain = dict(zip(well.machine.names, well.machine.state, strict=True))
        for block in well.machine.net.blocks:
            if block.rate == "logic" and (not block.gate or plain[block.gate]):
                results = block.law(*(plain[i] if isinstance(i, str) else i for i in block.inputs))
                plain.update(zip(block.outputs, results if isinstance(results, tuple) else (results,), strict=True))
        for block in well.machine.net.blocks:
            if block.rate == "observe" and (not block.gate or plain[block.gate]):
                results = block.law(*(plain[i] if isinstance(i, str) else i for i in block.inputs))
                plain.update(zip(block.outputs, results if isinstance(results, tuple) else (results,), strict=True))
        well.machine.scan()
        for name, value in zip(well.machine.names, well.machine.state, strict=True):
            assert plain[name] == value, name


@given(BIT, st.floats(515, 3290), st.floats(0.1, 10.0))
def test_area_is_the_slope_of_the_volume(bit: float, depth: float, step: float) -> None:
    """The volume grows with depth, by an area between the smallest and the greatest annulus."""
    shallow = well_geometry.volume_to(depth, bit, *STEPS)
    deep = well_geometry.volume_to(depth + step, bit, *STEPS)
    areas = [well_geometry.area_at(depth + step * k / 20.0, bit, *STEPS) for k in range(21)]
    assert min(areas) * step * (1 - 1e-9) <= deep - shallow + 1e-9
    assert deep - shallow <= max(areas) * step * (1 + 1e-9) + 1e-9


@given(BIT, BIT)
def test_steel_run_in_leaves_less_room(one: float, other: float) -> None:
    """More pipe in the hole, less room for mud; never none."""
    deep, shallow = max(one, other), min(one, other)
    room = well_geometry.volume_to(3300.0, deep, *STEPS)
    assert 0.0 < room <= well_geometry.volume_to(3300.0, shallow, *STEPS) + 1e-9


def test_pump_keeps_below_its_relief_pressure() -> None:
    """At the relief pressure the pumps deliver only what leaves the string."""
    flow = well_hydraulics.pump_flow(1.0, 0.02, 0.0, 1.0, 3.1e7, 3.1e7, 1.0e-9, 30.0, 30.0, 90.0, 0.0)
    assert flow == 0.0
    free = well_hydraulics.pump_flow(1.0, 0.02, 0.1, 1.0, 1.0e7, 3.1e7, 1.0e-8, 30.0, 30.0, 90.0, 0.018)
    assert free == pytest.approx(0.018)


def test_trip_tank_overflows_into_the_pit() -> None:
    """What the trip tank cannot hold is not lost."""
    pit, trip = well_surface.tanks_step(90.0, 7.9, 1.0, 0.2, 0.0, 0.0, 0.0, 8.0)
    assert (pit, trip) == (pytest.approx(90.1), pytest.approx(8.0))


def test_gas_height_by_annular_area() -> None:
    """Pure gas fills its room; spread over twice the room it takes off the same head."""
    low, high = 3290.0, 3200.0
    room = well_geometry.volume_to(low, 3290.0, *STEPS) - well_geometry.volume_to(high, 3290.0, *STEPS)
    height, share, found = gas_column(high, low, room, 3290.0, *STEPS)
    assert (height, share, found) == (pytest.approx(90.0), pytest.approx(1.0), pytest.approx(room))
    spread, half, _ = gas_column(high - 90.0, low, room, 3290.0, *STEPS)
    assert half == pytest.approx(0.5, rel=1e-9)
    assert spread == pytest.approx(90.0, rel=1e-9)
