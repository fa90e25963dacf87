"""How a function fails, what shows it, and what the crew does about it: the texts beside the physics that use them.

The severities named here are inputs of the laws in ``function_laws``, ``mechanics`` and the two feeds.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.hydraulics.network import Network
from trainer.plant.base import component_fault

if TYPE_CHECKING:
    from trainer.plant.functions import Feed, Function

Row = tuple[str, str, tuple[str, ...], str]
COUNT = ("totaliser.count", "totaliser.flow", "accumulator.pressure", "tank.level")
GATE = ("diverter.flow", "well.flow_out", "accumulator.pressure", "tank.level")
"""A valve of the diverter takes a few gallons past the totaliser: the way of the mud tells more than the header."""
BY_COUNT = "Judge by count, read-back and return flow, never by the lamp."

AT_REST = (
    "leak_close",
    "leak_open",
    "piston_bypass",
    "shuttle_leak",
    "pilot_leak",
    "lamp_burnt",
    "switch_stuck",
    "switch_dead",
    "seal_worn",
    "spring_broken",
    "not_home",
    "slips",
)
"""Kinds that act while nothing moves; a function with one of them does not sleep."""


def rows(function: Function, feed: Feed) -> list[Row]:
    """Every fault of this function: kind, title, what shows it, remedy."""
    i = function.id
    lamp = (f"{i}.lamp_close", f"{i}.lamp_open")
    lost = feed.lost_to
    found: list[Row] = [
        (
            "leak_close",
            f"closing chamber leaks {lost}",
            COUNT,
            "Count runs on after the function has moved: put it to block, find the leak, plan the repair.",
        ),
        (
            "leak_open",
            f"opening chamber leaks {lost}",
            COUNT,
            "Count runs on with the function open: put it to block, find the leak, plan the repair.",
        ),
        (
            "piston_bypass",
            "piston seals pass fluid from one chamber to the other",
            COUNT,
            "Count runs on in open and in close and stops in block; have the piston seals renewed.",
        ),
        _stuck(function),
        ("valve_stuck", "surface valve stuck", (*lamp, *COUNT), "Try the lever at the unit; use another function."),
        ("valve_slow", "surface valve slow to shift", (*lamp, *COUNT), "Clean and grease the valve and its cylinder."),
        ("solenoid_dead", "solenoid valve does not shift", (*lamp, *COUNT), "Work the lever at the unit."),
        ("lamp_burnt", "lamps do not light", lamp, "Lamp test; change the bulbs. " + BY_COUNT),
        ("switch_stuck", "pressure switch stuck, lamp says closed", (*lamp, *COUNT), BY_COUNT + " Change the switch."),
        ("switch_dead", "pressure switch dead, no close lamp", (*lamp, *COUNT), BY_COUNT + " Change the switch."),
    ]
    return [*found, *_of_kind(function), *feed.fault_kinds]


def _stuck(function: Function) -> Row:
    """A piston that does not move: seen by the count, or at the diverter by the way that the mud takes."""
    if function.kind == "diverter_valve":
        return "stuck", "piston does not move", GATE, "The mud still takes its old way: divert to the other side."
    return "stuck", "piston does not move", COUNT, "Count and read-back show no movement: use another function."


def _of_kind(function: Function) -> list[Row]:
    """What only this kind of function can suffer."""
    well = ("well.flow_out", "well.casing_pressure", "well.pit_gain")
    tables: dict[str, list[Row]] = {
        "annular": [
            (
                "seal_worn",
                "packing element worn: leaks under pressure",
                well,
                "Raise the annular regulator a little; close a pipe ram; renew the element.",
            ),
        ],
        "pipe_ram": [
            ("seal_worn", "ram packers worn: leak under pressure", well, "Close another ram below; renew the packers."),
        ],
        "shear_ram": [
            (
                "seal_worn",
                "ram packers worn: leak under pressure",
                (*well, "well.kill_pressure"),
                "Close another ram; renew the packers.",
            ),
            (
                "blunt",
                "shear blades blunt: need half as much pressure again",
                COUNT,
                "Raise the manifold regulator to its full pressure; renew the blades.",
            ),
        ],
        "failsafe_valve": [
            (
                "spring_broken",
                "closing spring broken: stays open without pressure",
                (*COUNT, *well),
                "Put it to close instead of block; close the other valve of the pair; renew the spring.",
            ),
        ],
        "connector": [
            (
                "not_home",
                "dogs stop short of home",
                COUNT,
                "Compare the count with the full volume; lock again at higher pressure; never pull on it.",
            ),
        ],
        "lock": [
            (
                "slips",
                "locks do not go home",
                COUNT,
                "Compare the count with the full volume; keep closing pressure on the rams.",
            ),
        ],
    }
    found = tables.get(function.kind, [])
    return found if function.seals else [row for row in found if row[0] != "seal_worn"]


def add_faults(net: Network, function: Function, feed: Feed) -> None:
    """Publish the function's faults."""
    for kind, title, shows, remedy in rows(function, feed):
        component_fault(net, function.id, kind, f"{function.name}: {title}", shows, remedy)


def at_rest(net: Network, function: Function) -> list[str]:
    """Severities of the faults that keep the function from sleeping."""
    prefix = f"{function.id}."
    kinds = [f.removeprefix(prefix) for f in net.faults if f.startswith(prefix)]
    return [function.fault(k) for k in kinds if k.startswith(AT_REST)]
