"""A flow meter in each pod of a multiplexed system: what has gone to the functions since the last order, and in all.

It stands behind the pod's supply, before its regulators: what recharges the stack bottles does not pass it, and what
the bottles give does. So its count is the function's own, where the count at the surface runs on with the recharge. It
does not turn below ``CUT_OFF``. Its figures come up by telemetry: over a lost link the last ones stay.
"""

from __future__ import annotations

from collections.abc import Sequence

from trainer.constants import SCAN
from trainer.hydraulics.lists import added
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import Wires, gives, under
from trainer.plant.base import component_fault, reading
from trainer.plant.functions import STIR
from trainer.units import Flow, Number, Seconds, Volume, from_unit

CUT_OFF = from_unit(1.0, "gpm")
"""Flow, m3/s, below which the meter does not turn. Invented."""
FRESH = STIR - 1.5 * SCAN
"""What is left of a function's stir, s, in the scan after an order, and in no later one."""
SHOWN = ("driller", "workshop")


def build_pod_meter(net: Network, pod: str, lines: Sequence[str], frozen: str) -> None:
    """Add the meter of ``pod`` (its id) on the way to its reduced ``lines``, with its readings and faults.

    ``frozen`` names the severity of the fault that the panels' screens are frozen: then no new figure is shown.
    """
    i, name = f"pod_{pod}", f"{pod.capitalize()} pod"
    reading(net, f"{i}.flow", "gpm", 0, 600, f"{name}: flow to the functions now.", SHOWN)
    reading(net, f"{i}.count", "gal", 0, 9999, f"{name}: flow count since the last order.", SHOWN)
    reading(net, f"{i}.total", "gal", 0, 1e6, f"{name}: flow count in all.", SHOWN)
    shows = (f"{i}.count", f"{i}.flow")
    dead = component_fault(
        net, i, "meter_dead", f"{name}: flow meter does not count", shows,
        "Its count stops while the count at the surface and the read-back show movement: judge by those, repair it.",
    )  # fmt: skip
    double = component_fault(
        net, i, "meter_double", f"{name}: flow meter counts twice", shows,
        "Twice the function's volume, on this pod only: compare with the count at the surface and the other pod.",
    )  # fmt: skip
    for seen in ("metered", "since"):
        net.var(f"{i}.{seen}", 0.0, "m3")
    meter: Wires = dict(flows=[f"{i}.{line}_regulator.q" for line in lines], least=CUT_OFF, dead=dead, double=double)
    net.block(turns, inputs=dict(**meter, tick=net.tick), states=dict(total=f"{i}.metered"), rate="after")
    net.block(
        shows_count,
        inputs=dict(
            **meter,
            metered=f"{i}.metered",
            stir="functions.stir",
            up=f"link_{pod}.up",
            frozen=frozen,
            fresh=FRESH,
        ),
        states=under(i, "since", "count", "total", "flow"),
    )


def metered_flow(flows: list[float], least: float, dead: float, double: float) -> float:
    """The flow that the meter sees, m3/s: none below ``least``, and what its faults make of it."""
    q = added(flows)
    return q * (1.0 - dead) * (1.0 + double) if q >= least else 0.0


@gives("total")
def turns(total: Volume, flows: list[Flow], tick: Seconds, least: Flow, dead: Number, double: Number) -> Volume:
    """What the meter has counted in all, m3, after a tick: nothing below ``least``, and with its faults."""
    return total + tick * metered_flow(flows, least, dead, double)


@gives("since", "count", "total", "flow")
def shows_count(
    since: Volume,
    count: Volume,
    total: Volume,
    flow: Flow,
    flows: list[Flow],
    metered: Volume,
    stir: Seconds,
    up: Number,
    frozen: Number,
    fresh: Seconds,
    least: Flow,
    dead: Number,
    double: Number,
) -> tuple[Volume, Volume, Volume, Flow]:
    """The meter's count at the last order, and what the panels show: count since then, in all (m3) and flow (m3/s).

    A fresh order sets the count to zero; what is shown stays as it is over a lost link and on frozen screens.
    """
    at = metered if stir >= fresh else since
    now = metered_flow(flows, least, dead, double)
    shown = up > 0.5 and frozen <= 0.0
    return at, (metered - at if shown else count), (metered if shown else total), (now if shown else flow)
