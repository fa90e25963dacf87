"""What every feed builds alike: what wakes a function's own logic, and the switches on its valve's cylinder."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import under
from trainer.plant.function_laws import SWITCH_ON, attend, cylinder_switches
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
