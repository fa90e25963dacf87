"""Laws are bound by the names of their ports: what is swapped stays right, and what is wrong is one clear sentence."""

from __future__ import annotations

from typing import Any

import pytest

from trainer.hydraulics.compile import check_wiring
from trainer.hydraulics.laws import opened
from trainer.hydraulics.lists import added
from trainer.hydraulics.machine import Machine
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import WiringError, gives, ports_of, under
from trainer.hydraulics.storage import Fixed
from trainer.plant.rig import load_plant
from trainer.units import Alike, Number, Volume


@gives("level", "spilled")
def fills(level: Volume, inflow: Volume, full: Volume) -> tuple[Volume, Volume]:
    """A tank's level after a scan, and what ran over."""
    over = max(level + inflow - full, 0.0)
    return level + inflow - over, over


@gives("level")
def forgets_one(level: float) -> tuple[float, float]:
    """A law with two results of which one has no name."""
    return level, level


@gives("value")
def nears(value: Alike, goal: Alike, share: Number) -> Alike:
    """A value of any unit that nears a goal of the same."""
    return value + share * (goal - value)


@gives("total", "seen")
def watches(seen: list[Volume], now: list[Volume]) -> tuple[Volume, list[Volume]]:
    """The total of as many tanks as there are, and what each held."""
    return added(now) - added(seen), now


RIGHT: dict[str, Any] = dict(
    inputs=dict(inflow="pump.q", full=2.0), states=dict(level="tank.level"), outputs=dict(spilled="deck.spilled")
)


def test_the_order_in_which_ports_are_written_does_not_matter() -> None:
    """Two neighbours that change places at the call leave the very same plant."""
    one, other = Network(), Network()
    one.block(fills, **RIGHT)
    other.block(fills, **(RIGHT | dict(inputs=dict(full=2.0, inflow="pump.q"))))
    assert one.blocks[0].inputs == ("tank.level", "pump.q", 2.0) and one.blocks[0].outputs == (
        "tank.level",
        "deck.spilled",
    )
    assert one.fingerprint() == other.fingerprint()


def test_ports_cannot_be_bound_by_their_place() -> None:
    with pytest.raises(TypeError):
        Network().block(fills, ["tank.level", "pump.q", 2.0], ["tank.level", "deck.spilled"])  # type: ignore[call-arg, arg-type]


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        (dict(inputs=dict(inflow="pump.q")), "fills needs its input 'full': bind a variable to it"),
        (dict(states={}), "fills needs its state 'level': bind a variable to it"),
        (dict(outputs={}), "fills needs its output 'spilled': bind a variable to it"),
        (
            dict(inputs=dict(inflow="pump.q", full=2.0, fall=1.0)),
            "fills has no input 'fall': its inputs are inflow, full",
        ),
        (
            dict(inputs=dict(inflow="pump.q", full=2.0, level="tank.level"), states={}),
            "fills has no input 'level': bind it under states",
        ),
        (
            dict(outputs=dict(spilled="tank.level")),
            "fills writes tank.level by 'level' and 'spilled': give each its own variable",
        ),
    ],
)
def test_a_wrong_binding_is_one_sentence(changed: dict[str, Any], said: str) -> None:
    with pytest.raises(WiringError) as told:
        Network().block(fills, **(RIGHT | changed))
    assert str(told.value) == said


def test_a_law_names_each_of_its_results() -> None:
    with pytest.raises(WiringError, match="forgets_one gives 2 results and names 1: name each once"):
        ports_of(forgets_one)


def test_the_ports_of_an_edge_are_named_too() -> None:
    net = Network()
    for name in ("a", "b"):
        net.node(name, Fixed(1.0e5))
    with pytest.raises(WiringError, match="opened needs its input 'x'"):
        net.edge("line", "a", "b", opened, dict(k=1.0e-6))
    net.edge("line", "a", "b", opened, dict(x="valve.x", k=1.0e-6))
    assert net.edges["line"].args == (1.0e-6, "valve.x")


def test_a_list_takes_as_many_as_the_plant_has() -> None:
    net = Network()
    for name in ("a", "b", "c", "was_a", "was_b", "total"):
        net.var(name, 1.0, "m3")
    net.block(watches, inputs=dict(now=["a", "b"]), states=dict(seen=["was_a", "was_b"]), outputs=dict(total="total"))
    assert net.blocks[0].inputs == (("was_a", "was_b"), ("a", "b")) and net.blocks[0].outputs == (
        "total",
        "was_a",
        "was_b",
    )
    machine = Machine(net)
    machine.put("a", 5.0)
    machine.scan()
    assert [machine.read(n) for n in ("total", "was_a", "was_b")] == [4.0, 5.0, 1.0]
    with pytest.raises(WiringError, match="watches takes a list as its input 'now'"):
        net.block(watches, inputs=dict(now="a"), states=dict(seen=["was_a"]), outputs=dict(total="total"))
    with pytest.raises(WiringError, match="fills takes one value as its input 'inflow'"):
        net.block(fills, **(RIGHT | dict(inputs=dict(inflow=["a"], full=2.0))))


def test_ports_of_the_same_names_under_a_stem() -> None:
    assert under("bank_a", "p", "v") == {"p": "bank_a.p", "v": "bank_a.v"}


def tank(inflow: str = "m3", spilled: str = "m3") -> Network:
    """A network of one tank, with the units of what flows in and of what is spilled as given."""
    net = Network()
    for name, unit in (("tank.level", "m3"), ("pump.q", inflow), ("deck.spilled", spilled)):
        net.var(name, 0.0, unit)
    net.block(fills, **RIGHT)
    return net


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (dict(inflow="m3/s"), "fills has 'inflow' in m3, but pump.q is in m3/s: bind a variable in m3"),
        (dict(spilled="Pa"), "fills has 'spilled' in m3, but deck.spilled is in Pa: bind a variable in m3"),
    ],
)
def test_a_wrong_unit_is_one_sentence_that_names_both(wrong: dict[str, str], said: str) -> None:
    check_wiring(tank())
    with pytest.raises(WiringError) as told:
        check_wiring(tank(**wrong))
    assert str(told.value) == said


def test_the_unit_of_a_flow_law_is_checked_too() -> None:
    net = Network()
    for name in ("a", "b"):
        net.node(name, Fixed(1.0e5))
    net.edge("line", "a", "b", opened, dict(x="a.p", k=1.0e-6))
    with pytest.raises(WiringError, match=r"opened has 'x' in 1, but a.p is in Pa: bind a variable in 1"):
        check_wiring(net)


def test_a_law_for_any_unit_takes_one_at_a_time() -> None:
    net = Network()
    for name, unit in (("a", "Pa"), ("b", "Pa"), ("c", "m3")):
        net.var(name, 0.0, unit)
    net.block(nears, inputs=dict(goal="b", share=0.1), states=dict(value="a"))
    check_wiring(net)
    net.block(nears, inputs=dict(goal="c", share=0.1), states=dict(value="a"))
    with pytest.raises(WiringError, match="nears needs one unit throughout, but a is in Pa and c in m3"):
        check_wiring(net)


def test_an_unknown_unit_of_a_variable_is_refused() -> None:
    with pytest.raises(ValueError, match="a is in 'psi', which is no SI unit known here: write one of Pa, "):
        Network().var("a", 0.0, "psi")


@pytest.mark.parametrize("plant", ["quillback", "sandpiper"])
def test_every_port_of_a_shipped_plant_has_a_unit(plant: str) -> None:
    net = load_plant(plant)[0].network()
    steps = {(b.law, 0) for b in net.blocks} | {(e.law, 2) for e in net.edges.values()}
    bare = {
        f"{p.law}.{n}" for p in (ports_of(*s) for s in steps) for n in (*p.parameters, *p.results) if n not in p.units
    }
    assert not bare
