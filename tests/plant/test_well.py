"""The well as a crew meets it: steady drilling, a kick, shut-in, stripping nothing, losing nothing."""

from __future__ import annotations

import math

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.plant.bare_well import BareWell, make
from trainer.constants import ATMOSPHERE
from trainer.units import from_unit

BBL, PSI = 0.158987294928, 6894.757293168


def kicked(well: BareWell, gain: float = 12.0) -> None:
    """Drill into the formation and let it flow to a gain (bbl); stop, pick up, stop the pumps."""
    well.run(20)
    well.machine.set_fault("well.kick", 1.0)
    while well["well.pit_gain"] < gain:
        well.run(1)
    assert well.do("set", "floor.rotary", 0) is None
    assert well.do("hoist", "floor.hook", 20) is None
    well.run(20)
    assert well.do("set", "floor.mud_pumps", 0) is None
    well.run(15)


def shut(well: BareWell, seconds: float = 120.0) -> None:
    """Close on the pipe and open the choke line."""
    well.bore(area=0.0)
    well.run(5)
    well.bore(choke_path=1.0)
    well.run(seconds)


@pytest.mark.parametrize(("start", "hole", "bit"), [("drilling", 9600.0, None), ("tripping", 11600.0, 4600.0)])
def test_a_drill_may_begin_with_hole_and_bit_at_any_depth(start: str, hole: float, bit: float | None) -> None:
    """At rest or drilling, bottom pressure is the mud's weight and the friction above that depth; nothing moves."""
    well = BareWell()
    spec, deep = well.site.well, from_unit(hole, "ft")
    at = None if bit is None else from_unit(bit, "ft")
    for name, value in spec.start_at(well.site, start, deep, at).items():
        well.machine.put(name, value)
    first = well.mud()
    well.run(30)
    pumping = start == "drilling"
    friction = spec.annular_loss * deep / spec.depth if pumping else 0.0
    assert well.machine.read("well.bottom_pressure") == pytest.approx(spec.gradient * deep + friction, rel=1e-3)
    assert well.machine.read("well.string_head") == pytest.approx(spec.gradient * deep)
    assert well["well.bit_depth"] == pytest.approx(hole if bit is None else bit, abs=1.0)
    assert well["well.flow_out"] == pytest.approx(well["well.flow_in"], abs=2.0)
    assert well.mud() == pytest.approx(first, abs=1e-9)


def test_drilling_is_steady() -> None:
    """Twenty minutes of drilling: nothing drifts by more than 0.1 per cent, no gain, returns equal the pumps."""
    well = BareWell()
    well.run(60)
    first = {t: well[t] for t in ("well.standpipe", "well.flow_out", "well.bottom_pressure", "well.pit_volume")}
    well.run(1200)
    for tag, value in first.items():
        assert well[tag] == pytest.approx(value, rel=1e-3), tag
    assert well["well.standpipe"] == pytest.approx(3000.0, rel=5e-3)
    # The pipe that follows the bit down displaces 1 gpm.
    assert well["well.flow_out"] == pytest.approx(well["well.flow_in"], rel=4e-3)
    assert abs(well["well.pit_gain"]) < 0.02
    assert well["well.influx_volume"] == 0.0


def test_shut_in_readings_are_the_handbooks() -> None:
    """SIDPP, SICP and pit gain within 0.5, 0.5 and 1 per cent of handbook arithmetic on the true values."""
    well = BareWell()
    kicked(well)
    gain_open = well["well.pit_gain"]
    assert gain_open > 12.0
    shut(well)
    site = well.site
    gradient = site.well.mud * 9.80665
    sidpp = (site.well.formation - site.well.mud) * 9.80665 * site.well.depth
    assert well["well.drillpipe_pressure"] == pytest.approx(sidpp / 6894.757, rel=5e-3)
    assert well["well.pit_gain"] == pytest.approx(well["well.influx_volume"], rel=1e-2)
    capacity = math.pi / 4.0 * (site.well.hole**2 - site.well.collar**2)
    height = from_unit(well["well.pit_gain"], "bbl") / capacity
    gas = well.machine.read("well.gas_density") * 9.80665
    sicp = sidpp + height * (gradient - gas)
    assert well["well.casing_pressure"] == pytest.approx(sicp / 6894.757, rel=5e-3)
    assert well["well.sealed"] == 1.0
    assert well["well.bottom_pressure"] == pytest.approx(well["well.formation_pressure"], rel=1e-3)


def test_casing_gauge_reads_the_well_only_through_an_open_choke_line() -> None:
    """With the choke-line valves shut the gauge at the manifold stays at rest."""
    well = BareWell()
    kicked(well)
    well.bore(area=0.0)
    well.run(90)
    assert well["well.casing_pressure"] < 5.0
    assert well["well.drillpipe_pressure"] > 250.0
    well.bore(choke_path=1.0)
    well.run(20)
    assert well["well.casing_pressure"] > 350.0


def test_an_opening_left_in_the_preventer_lets_the_well_flow() -> None:
    """Half closed, or closed on nothing, does not stop the flow."""
    well = BareWell()
    kicked(well, 6.0)
    well.bore(area=0.3)
    well.run(60)
    assert well["well.influx_rate"] > 50.0
    assert well["well.sealed"] == 0.0
    well.bore(area=0.0, leak=3.0e-6)
    well.run(120)
    assert well["well.flow_out"] > 5.0
    assert well["well.sealed"] == 0.0


def test_open_string_flows_until_the_safety_valve_is_stabbed_and_shut() -> None:
    """Out of the hole's bottom, no top drive: a kick comes up the string too; the valve stops it."""
    well = BareWell(start="tripping")
    well.run(10)
    assert well["well.influx_rate"] == 0.0
    well.machine.put("well.formation_pressure", from_unit(6143.0, "psi"))
    well.run(60)
    well.bore(area=0.0)
    well.run(60)
    assert well["well.spilled"] == 0.0, "the slug in the string holds back at first"
    well.run(120)
    assert well["well.spilled"] > 1.0
    assert "no safety valve" in str(well.do("set", "floor.safety_valve", "shut"))
    assert well.do("push", "floor.stab") is None
    well.run(13)
    assert well.do("set", "floor.safety_valve", "shut") is None
    well.run(2)
    spilled = well["well.spilled"]
    well.run(60)
    assert well["well.spilled"] == pytest.approx(spilled, abs=1e-6)
    assert well["well.sealed"] == 1.0
    assert well["well.drillpipe_pressure"] == pytest.approx(0.0, abs=1.0)
    assert well.do("set", "floor.top_drive", "on") is None
    assert well.do("set", "floor.safety_valve", "open") is None
    well.run(60)
    assert well["well.drillpipe_pressure"] > 200.0


def test_hole_takes_its_fill_from_the_trip_tank() -> None:
    """Tripping out: the trip tank falls by the steel and mud that leave; the hole stays full and the well dead."""
    well = BareWell(start="tripping")
    well.run(5)
    tank, depth = well["trip_tank.volume"], well["well.bit_depth"]
    assert well.do("set", "floor.trip", "out") is None
    well.run(600)
    assert well.do("set", "floor.trip", "stop") is None
    well.run(120)
    pulled = depth - well["well.bit_depth"]
    assert pulled > 300.0
    steel = (5.0**2 - 4.276**2) / 1029.4 * pulled
    assert tank - well["trip_tank.volume"] == pytest.approx(steel, rel=0.03)
    assert well["well.influx_rate"] == 0.0


def test_a_balled_bit_swabs_the_well() -> None:
    """Pulling fast with a balled bit brings gas in; the hole takes less than the steel pulled."""
    well = BareWell(start="tripping")
    well.machine.set_fault("well.balled_bit", 1.0)
    well.do("set", "floor.trip", "out")
    well.run(300)
    assert well["well.influx_volume"] > 0.1


def test_choke_bleeds_and_gas_expands() -> None:
    """Opened on a closed well, the choke drops the pressure and the pit gains; mud is conserved."""
    well = BareWell()
    before = well.mud()
    kicked(well)
    shut(well)
    gain = well["well.pit_gain"]
    well.do("set", "floor.choke", 20)
    well.run(60)
    assert well["well.choke_flow"] > 0.0
    assert well["well.pit_gain"] > gain + 0.5
    assert well["well.influx_rate"] > 0.0
    assert well.mud() == pytest.approx(before, rel=1e-12)


def test_gas_let_up_the_riser_expands_and_unloads() -> None:
    """A kick left flowing: gas passes the open preventers, rises in the riser and arrives at the flow line."""
    well = BareWell(make(productivity="6 bbl/min"))
    before = well.mud()
    well.machine.set_fault("well.kick", 1.0)
    peak = 0.0
    for _ in range(900):
        well.run(2)
        peak = max(peak, well["well.flow_out"])
    assert well.machine.read("well.riser_gas_top") < 1.0
    assert peak > 2000.0
    assert well.mud() == pytest.approx(before, rel=1e-12)


def test_losses_at_the_shoe() -> None:
    """Pumping into a closed well breaks the shoe down at its leak-off pressure, not above."""
    well = BareWell()
    well.do("set", "floor.mud_pumps", 20)
    well.run(20)
    well.bore(area=0.0, choke_path=1.0)
    well.run(120)
    maasp = (14.2 - 10.4) * 0.0519481 * 6500
    assert well["well.lost"] > 1.0
    assert maasp < well["well.casing_pressure"] < maasp + 60.0


def test_blocked_string_sits_at_the_relief_pressure() -> None:
    """A pump on a shut safety valve lifts its relief valve; no pressure goes down the string."""
    well = BareWell()
    assert well.do("set", "floor.safety_valve", "shut") is None
    well.run(60)
    assert well["well.standpipe"] == pytest.approx(4500.0, rel=0.01)
    assert well["well.flow_out"] < 20.0


def test_a_cut_string_parts_from_the_well() -> None:
    """Sheared, the string no longer tells of the well, its load is gone, and nothing becomes negative."""
    well = BareWell()
    kicked(well)
    before = well.mud()
    load = well["floor.hook_load"]
    well.bore(area=0.0, sheared=1.0)
    well.run(60)
    assert well["floor.hook_load"] < 0.5 * load
    assert well["floor.pipe_in_stack"] == 0.0
    assert well["well.drillpipe_pressure"] < 50.0
    assert well.mud() == pytest.approx(before, rel=1e-12)


def test_a_cut_string_keeps_its_mud_in_the_hole_and_the_riser_gives_its_own_to_the_sea() -> None:
    """Below the cut capacity x length stays in the hole: ID^2 / 1029.4 bbl/ft (Lapeyrouse, ch. 1). The rock takes none.

    The riser's (D^2 - d^2) / 1029.4 bbl/ft is what the sea gets, with what the open end above the cut lets out.
    """
    well = BareWell()
    kicked(well)
    before, riser = well.mud(), well.machine.read("well.riser_mud") / BBL
    spec = well.site.well
    stack = spec.stack_at(well.site) / 0.3048
    length = well["well.bit_depth"] - stack
    well.bore(area=0.0, sheared=1.0)
    well.run(1)
    inside = spec.pipe_inside / 0.0254
    assert well["well.fish_mud"] == pytest.approx(inside**2 / 1029.4 * length, rel=2e-3)
    assert well["well.spilled"] == 0.0
    well.bore(disconnected=1.0)
    well.run(60)
    assert well["well.lost"] == 0.0
    outer, pipe = spec.riser_inside / 0.0254, spec.pipe / 0.0254
    assert riser == pytest.approx((outer**2 - pipe**2) / 1029.4 * stack, rel=0.01)
    upper = inside**2 / 1029.4 * (stack + well["floor.hook"])
    drawn = (before - well.mud()) / BBL
    assert abs(drawn) < 1e-6
    assert riser < well["well.to_sea"] < riser + upper
    assert well.mud() == pytest.approx(before, rel=1e-12)


def test_air_shut_in_above_the_mud_is_pressed_together() -> None:
    """A string pulled dry and shut: mud rises into it until the air holds it. Boyle: pressure x volume stays.

    The casing pressure comes to the formation's pressure less the mud in the annulus.
    """
    well = BareWell(start="tripping")
    well.run(5)
    assert well.do("push", "floor.stab") is None
    well.run(15)
    assert well.do("set", "floor.safety_valve", "shut") is None
    well.run(1)
    first = well.mud()
    air = well.machine.read("well.string_air")
    spec = well.site.well
    bore = math.pi / 4 * spec.pipe_inside**2
    assert air == pytest.approx((spec.slug + well.machine.read("floor.hook")) * bore, rel=1e-2)
    tank = well["trip_tank.volume"]
    well.run(60)
    assert well["trip_tank.volume"] == pytest.approx(tank, abs=0.01), "shutting the valve moves no mud"
    over = 350.0
    well.machine.put("well.formation_pressure", well.machine.read("well.bottom_pressure") + over * PSI)
    well.machine.put("well.exposed", 1.0)
    shut(well, 0.0)
    well.run(300)
    room = well.machine.read("well.string_room") - well.machine.read("well.string_mud")
    head = well.machine.read("well.slug") + spec.gradient * well.machine.read("well.string_mud") / bore
    pressed = well.machine.read("well.string_pressure") - head
    given = (pressed - ATMOSPHERE) / spec.mud_bulk_modulus * well.machine.read("well.string_mud")
    assert pressed * (room + given) == pytest.approx(air * ATMOSPHERE, rel=0.02)
    assert well["well.casing_pressure"] == pytest.approx(over, rel=0.05)
    assert well.mud() == pytest.approx(first, abs=1e-9)


COMMANDS = st.one_of(
    st.tuples(st.just("set"), st.just("floor.mud_pumps"), st.floats(0, 120)),
    st.tuples(st.just("set"), st.just("floor.rotary"), st.floats(0, 180)),
    st.tuples(st.just("set"), st.just("floor.choke"), st.floats(0, 100)),
    st.tuples(st.just("hoist"), st.just("floor.hook"), st.floats(-100, 100)),
    st.tuples(st.just("set"), st.just("floor.safety_valve"), st.sampled_from(["shut", "open"])),
    st.tuples(st.just("set"), st.just("floor.top_drive"), st.sampled_from(["off", "on"])),
    st.tuples(st.just("set"), st.just("floor.trip"), st.sampled_from(["stop", "out", "in"])),
    st.tuples(st.just("set"), st.just("trip_tank.line_up"), st.sampled_from(["off", "on"])),
    st.tuples(st.just("push"), st.sampled_from(["floor.stab", "well.pit_reset"]), st.none()),
    st.tuples(
        st.just("bore"),
        st.sampled_from(["area", "choke_path", "choke_up", "sheared", "kill_path", "disconnected"]),
        st.sampled_from([0.0, 1.0]),
    ),
    st.tuples(st.just("bore"), st.just("outlet"), st.sampled_from([0.0, 1.0, 2.0, 3.0])),
    st.tuples(st.just("bore"), st.just("area"), st.floats(0, 1)),
    st.tuples(st.just("bore"), st.just("leak"), st.sampled_from([0.0, 3.0e-6, 1.0e-4])),
    st.tuples(
        st.just("fault"),
        st.sampled_from(["well.kick", "well.losses", "well.washout", "well.plugged_nozzle", "floor.choke_washed_out"]),
        st.floats(0, 1),
    ),
    st.tuples(st.just("pressure"), st.just("well.formation_pressure"), st.floats(3.0e7, 7.0e7)),
)
HELD = ("string_mud", "annulus_mud", "annulus_gas", "line_mud", "line_gas", "riser_mud", "riser_gas", "pit")
MACHINES: dict[str, BareWell] = {}


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    st.sampled_from(["drilling", "tripping", "collars", "out_of_hole"]),
    st.lists(st.tuples(COMMANDS, st.integers(1, 400)), max_size=25),
)
def test_random_commands_never_break_the_well(start: str, script: list[tuple[tuple[str, str, object], int]]) -> None:
    """Whatever is commanded: every number finite, every content non-negative, no mud created or lost."""
    if start not in MACHINES:
        MACHINES[start] = BareWell(start=start)
        MACHINES[start].first = MACHINES[start].machine.saved()
    well = MACHINES[start]
    well.machine.restore(well.first)
    before = well.mud()
    for (verb, target, value), scans in script:
        if verb == "bore":
            well.bore(**{target: value})
        elif verb == "fault":
            well.machine.set_fault(target, float(str(value)))
        elif verb == "pressure":
            well.machine.put(target, float(str(value)))
        else:
            well.do(verb, target, value)
        for _ in range(scans):
            well.machine.scan()
        for name, number in zip(well.machine.names, well.machine.state, strict=True):
            assert math.isfinite(number), name
        for name in HELD:
            assert well.machine.read(f"well.{name}") >= -1.0e-12, name
        assert well.machine.read("trip_tank.volume") >= -1.0e-12
        assert well.mud() == pytest.approx(before, rel=1e-11)
