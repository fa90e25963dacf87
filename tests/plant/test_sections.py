"""The bore in sections: what each line reads, what is trapped between closed preventers, and that no mud is lost."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.plant.hands import PSI, Hands

MUD = ("string_mud", "annulus_mud", "line_mud", "riser_mud", "pit", "spilled", "lost", "to_sea", "fish_mud")


def mud(rig: Hands) -> float:
    """All mud there is, m3: what leaves the well is in a pit, a tank, the sea, on the floor or in the rock."""
    total = rig["trip_tank.volume"] + (rig["test.extra"] if "test.extra" in rig.machine.index else 0.0)
    for name in MUD:
        total += rig[f"well.{name}"]
    for at in (1, 2, 3):
        total += rig.machine.read(f"outlet_{at}.extra") if f"outlet_{at}.extra" in rig.machine.index else 0.0
    return total


def pair(rig: Hands, where: str, line: str, way: str = "open") -> None:
    """Work both valves of an outlet."""
    for valve in ("inner", "outer"):
        rig.set(f"{where}_{valve}_{line}", way)
    rig.wait(10.0)


def out_of_hole(over: float = 400.0) -> Hands:
    """Nothing across, blind shear shut on a well whose pressure rises by ``over`` psi."""
    rig = Hands()
    rig.start("out_of_hole")
    rig.wait(2.0)
    rig.set("blind_shear_ram", "close")
    rig.wait(40.0)
    assert rig["blind_shear_ram.sealing"] == 1.0
    rig.machine.put("well.formation_pressure", rig["well.bottom_pressure"] + over * PSI)
    rig.wait(120.0)
    return rig


def test_an_outlet_above_the_blind_shear_reads_the_riser_not_the_well() -> None:
    """400 psi stand under the ram: the upper outlet shows none of it, the lower one shows it."""
    rig = out_of_hole()
    pair(rig, "upper", "choke")
    rig.wait(20.0)
    assert rig["choke_line.sees_well"] == 0.0
    assert rig.psi("well.casing_pressure") < 15.0
    pair(rig, "upper", "choke", "close")
    pair(rig, "lower", "choke")
    rig.wait(30.0)
    assert rig["choke_line.sees_well"] == 1.0
    assert rig.psi("well.casing_pressure") == pytest.approx(400.0, rel=0.05)
    assert rig["well.sealed"] == 1.0


def test_a_closed_section_keeps_its_pressure_and_gives_hardly_any_mud() -> None:
    """Annular shut, then the ram below it: the upper outlet reads what is trapped between, and bleeds to none."""
    rig = out_of_hole()
    rig.set("upper_annular", "close")
    rig.wait(40.0)
    rig.set("blind_shear_ram", "open")
    rig.wait(40.0)
    rig.set("blind_shear_ram", "close")
    rig.wait(40.0)
    pair(rig, "upper", "kill")
    assert rig["kill_line.sees_well"] == 0.0
    assert rig.psi("well.kill_pressure") == pytest.approx(400.0, rel=0.1)
    pair(rig, "upper", "choke")
    rig.wait(30.0)
    assert rig["choke_line.sees_well"] == 0.0
    before, well = rig["well.pit"], rig["well.stack_pressure"]
    assert rig.do("set", "floor.choke", 20, "floor") is None
    rig.wait(60.0)
    assert rig.psi("well.casing_pressure") < 10.0
    assert rig["well.pit"] - before < 0.05
    assert rig["well.stack_pressure"] == pytest.approx(well, rel=1e-3)


def test_both_outlets_of_a_line_open_lead_the_well_round_the_ram() -> None:
    """Upper and lower kill outlets open at once: the blind shear between them no longer seals the well."""
    rig = out_of_hole()
    assert rig["well.sealed"] == 1.0
    pair(rig, "lower", "kill")
    pair(rig, "upper", "kill")
    rig.wait(10.0)
    assert rig["well.sealed"] == 0.0
    assert rig["well.flow_out"] > 0.0


@pytest.mark.parametrize("plant", ["quillback", "sandpiper"])
def test_a_static_well_shows_no_flow_at_all_after_it_has_drained_back(plant: str) -> None:
    """Pumps off on a balanced well: within a minute flow out is zero, not small, and pit and bottom stand still."""
    rig = Hands(plant)
    rig.do("set", "floor.rotary", 0, "floor")
    rig.do("hoist", "floor.hook", 20, "floor")
    rig.wait(25.0)
    rig.do("set", "floor.mud_pumps", 0, "floor")
    rig.wait(67.0)
    pit, bottom = rig["well.pit"], rig["well.bottom_pressure"]
    for _ in range(600):
        rig.machine.scan()
        assert rig["well.flow_out"] == 0.0
    assert rig["well.pit"] == pytest.approx(pit, abs=1e-9)
    assert rig["well.bottom_pressure"] == pytest.approx(bottom, abs=1.0)


def test_choke_line_friction_grows_with_the_square_of_the_rate() -> None:
    """Circulating through choke and line: the loss at 40 strokes is four times that at 20 (Darcy, constant factor)."""
    rig = Hands()
    rig.do("set", "floor.rotary", 0, "floor")
    rig.do("hoist", "floor.hook", 21, "floor")
    rig.do("set", "floor.mud_pumps", 0, "floor")
    rig.wait(30.0)
    rig.set("upper_annular", "close")
    pair(rig, "lower", "choke")
    rig.wait(30.0)
    rig.do("set", "floor.choke", 100, "floor")
    taken = []
    for rate in (20, 40):
        rig.do("set", "floor.mud_pumps", rate, "floor")
        rig.wait(120.0)
        taken.append(rig.psi("choke_line.friction"))
    assert taken[1] / taken[0] == pytest.approx(4.0, rel=0.06)
    assert 100.0 < taken[1] < 200.0


ACTS = st.one_of(
    st.tuples(
        st.sampled_from(
            ["upper_annular", "lower_annular", "blind_shear_ram", "upper_pipe_ram", "middle_pipe_ram", "lower_pipe_ram",
             "riser_connector", "ram_locks", "diverter_packer", "port_overboard", "diverter_flowline"]
        ),
        st.sampled_from(["open", "close"]),
    ),
    st.tuples(
        st.sampled_from(["upper_choke", "lower_choke", "upper_kill", "lower_kill"]), st.sampled_from(["open", "close"])
    ),
    st.tuples(st.just("floor.mud_pumps"), st.sampled_from([0, 20, 70, 110])),
    st.tuples(st.just("floor.choke"), st.sampled_from([0, 5, 50, 100])),
    st.tuples(st.just("floor.hook"), st.sampled_from([-20, -3, 3, 30])),
    st.tuples(st.just("floor.rotary"), st.sampled_from([0, 120])),
    st.tuples(st.just("kick"), st.sampled_from([0.0, 1.0])),
)  # fmt: skip
_RIG: dict[str, tuple[Hands, bytes]] = {}


@settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.lists(st.tuples(ACTS, st.integers(1, 250)), min_size=3, max_size=14))
def test_no_mud_is_made_or_lost_whatever_is_closed_and_opened(script: list[tuple[tuple[str, object], int]]) -> None:
    """At every scan all mud is somewhere to 1e-9 of the whole, and so is all control fluid."""
    if not _RIG:
        rig = Hands()
        _RIG["rig"] = (rig, rig.machine.saved())
    rig, first = _RIG["rig"]
    rig.machine.restore(first)
    whole = mud(rig)
    for (what, way), scans in script:
        if what == "kick":
            rig.machine.set_fault("well.kick", float(str(way)))
        elif what.startswith("floor."):
            rig.do("hoist" if what == "floor.hook" else "set", what, way, "floor")
        elif what.split("_")[0] in ("upper", "lower") and what.endswith(("choke", "kill")):
            where, line = what.split("_")
            for valve in ("inner", "outer"):
                rig.do("set", f"{where}_{valve}_{line}", way)
        else:
            rig.do("set", what, way)
        for _ in range(scans):
            rig.machine.scan()
            assert mud(rig) == pytest.approx(whole, rel=1e-9)
    assert rig.lost() < 1e-9
