"""What feeds build alike: what wakes a function's own logic, its valve's switches, and the way in of a back-up."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from trainer.hydraulics.laws import opened
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import under
from trainer.plant.function_laws import SWITCH_ON, attend, cylinder_switches, keeps_awake, not_back
from trainer.plant.functions import Function

HOLDS = ("annular", "pipe_ram", "shear_ram", "lock", "diverter_packer")
"""Kinds that may hold the well: off the open stop, they do not sleep."""
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
"""Kinds of faults that act while nothing moves; a function with one of them does not sleep."""


def wake_by(
    net: Network,
    function: Function,
    supplies: Mapping[str, str],
    pulses: Sequence[str],
    pilots: bool = True,
) -> None:
    """Add ``attend``, the one cheap test a scan that decides whether a function's own logic runs at all.

    supplies: the nodes whose pressure is watched, by the names under which it is kept as last seen. pulses: variables
    that are over 0 in a scan in which the panel, pods or telemetry stir. pilots: whether pilots lie between valve and
    chambers, which stir by themselves and with those of other functions.
    """
    i, prefix = function.id, f"{function.id}."
    seen = [net.var(f"{i}.{name}", 0.0, "Pa") for name in supplies]
    kinds = [fault.removeprefix(prefix) for fault in net.faults if fault.startswith(prefix)]
    net.block(
        attend,
        inputs=dict(
            **under(i, "valve", "open_way", "close_way", "x"),
            holds=1.0 if function.kind in HOLDS else 0.0,
            awake=[*([f"{i}.pilot.awake"] if pilots else []), f"{i}.power.awake"],
            pulses=pulses,
            timers=["functions.stir"] if pilots else [],
            supplies=[f"{node}.p" for node in supplies.values()],
            settled=net.settled,
            ails=[function.fault(kind) for kind in kinds if kind.startswith(AT_REST)],
        ),
        states=dict(was=f"{i}.attend", seen=seen),
    )


def add_cylinder_switches(net: Network, function: Function) -> None:
    """Add the pressure switches on the air cylinder of a function's valve, ``open_switch`` and ``close_switch``, Pa."""
    i = function.id
    for way in ("open", "close"):
        net.var(f"{i}.{way}_switch", 2.0 * SWITCH_ON if way == function.starts else 0.0, "Pa")
    net.block(
        cylinder_switches,
        inputs=under(i, "open_way", "close_way"),
        outputs=under(i, "open_switch", "close_switch"),
        gate=f"{i}.attend",
    )


def pod_ways(function: Function, pods: Sequence[str]) -> tuple[list[str], list[str]]:
    """The openings that the shuttles leave from each pod into a function's closing chamber, and the pressure there.

    One pod alone has the second's opening too, which stays shut.
    """
    lines = [f"pod_{pod}.{function.supply}.p" for pod in pods]
    pressures = [*lines, *lines[: 2 - len(lines)]] if len(lines) < 2 else lines
    return [f"{function.id}.close.from_{n}" for n in "abc"[: len(pressures)]], pressures


def add_back_up(net: Network, function: Function, name: str, line: str, valve: str, shuttle: str, through: str) -> None:
    """Add a back-up's way into a function's closing chamber, past a check valve: the edge of this name from ``line``.

    valve, shuttle: the variables that are over 0 while the back-up's own valve is open, and while its shuttle stands
    over; then the chambers do not sleep. through: the opening that the shuttle leaves, 0 to 1.
    """
    group, node = f"{function.id}.power", f"{function.id}.close"
    net.block(
        not_back,
        inputs=dict(line=f"{line}.p", chamber=f"{node}.p"),
        states=dict(x=through),
        rate="tick",
        group=group,
    )
    net.edge(f"{node}.{name}", line, node, opened, dict(k=function.k, x=through), group=group)
    net.block(
        keeps_awake,
        inputs=dict(valve=valve, shuttle=shuttle),
        states=dict(awake=f"{group}.awake"),
        gate=f"{function.id}.attend",
    )
