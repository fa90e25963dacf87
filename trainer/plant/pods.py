"""The subsea pods: supply, pilot-operated regulators and the manifolds that feed the functions.

Nodes of pod P: ``pod_P.supply``, ``pod_P.manifold``, ``pod_P.annular`` (Pa absolute at the sea floor). The stack
bottles stand on the supply of whichever pod is selected.
"""

from __future__ import annotations

from trainer.hydraulics.laws import opened, regulator, venting
from trainer.hydraulics.network import Network
from trainer.hydraulics.storage import Line
from trainer.plant.accumulators import Bank
from trainer.plant.base import PSI, Component, component_fault, reading
from trainer.plant.function_laws import leak_out
from trainer.plant.manifold import LITRE, STEEL_AND_FLUID
from trainer.plant.regulators import Regulator
from trainer.plant.umbilical import Umbilical

REGULATOR_K = 8.0e-6
DROOP = 120.0 * PSI
RELIEVE = 100.0 * PSI
ISOLATION_K = 1.0e-5
LEAK_K = 2.0e-7
SEAT_K = 4.0e-8


class Pod(Component):
    """One of two like pods; the trade calls them yellow and blue."""

    def build(
        self,
        net: Network,
        umbilical: Umbilical,
        density: float,
        head: float,
        start: float,
        serves: dict[str, Regulator],
    ) -> None:
        """Add the pod and its power-fluid line; ``start`` is the supply pressure at the surface, Pa absolute.

        The selector starts on the yellow pod.
        """
        pod = f"pod_{self.id}"
        live = self.id == "yellow"
        below = start + head if live else 101325.0 + head
        line = f"line_{self.id}"
        volume = umbilical.supply_volume()
        k = umbilical.supply_k(density) * 2.0**0.5
        net.node(line, Line(volume, umbilical.supply_modulus, start if live else 101325.0))
        net.node(f"{pod}.supply", Line(40 * LITRE, STEEL_AND_FLUID, below))
        for name, reg in serves.items():
            held = min(below, reg.set + 101325.0 + head)
            net.node(f"{pod}.{name}", Line(25 * LITRE, STEEL_AND_FLUID, held))
            net.edge(
                f"{pod}.{name}_regulator",
                f"{pod}.supply",
                f"{pod}.{name}",
                regulator,
                REGULATOR_K,
                f"{reg.id}.subsea",
                DROOP,
            )
            net.edge(
                f"{pod}.{name}_vent",
                f"{pod}.{name}",
                "sea",
                venting,
                0.2 * REGULATOR_K,
                f"{reg.id}.subsea",
                RELIEVE,
                group=net.group(f"{pod}.{name}_relieving", awake=0.0),
            )
            net.block(relieves, [f"{pod}.{name}.p", f"{reg.id}.subsea"], [f"{pod}.{name}_relieving.awake"])
            kind = f"{name}_creeps"
            seat = component_fault(
                net,
                pod,
                kind,
                f"{self.name}: {name} regulator's seat leaks, pressure creeps up to its relief",
                (f"{reg.id}.readback", "totaliser.flow", "totaliser.count"),
                "Read-back above pilot and a count that runs on: change to the other pod and compare.",
            )
            net.edge(f"{pod}.{kind}", f"{pod}.supply", f"{pod}.{name}", leak_out, SEAT_K, seat, fault=f"{pod}.{kind}")
            reading(
                net,
                f"{pod}.{name}_pressure",
                "psi",
                0,
                6000,
                f"{self.name}: {name} pressure, seen from the surface.",
                (),
            )
            net.block(from_surface, [f"{pod}.{name}.p", 101325.0 + head], [f"{pod}.{name}_pressure"], rate="observe")
        # Two halves of the line's friction, either side of its one lump; the far half carries the fluid column.
        choked = component_fault(
            net,
            pod,
            "filter_blocked",
            f"{self.name}: filter in the power-fluid line nearly blocked",
            ("totaliser.flow", "manifold_regulator.readback", "annular_regulator.readback"),
            "Functions move slowly and read-backs sag on this pod only: change pod, flush the line.",
        )
        net.edge(f"{line}.down", line, f"{pod}.supply", choked_line, k, choked, head=head)
        leak = component_fault(
            net,
            pod,
            "supply_leak",
            f"{self.name}: power-fluid line leaks at the pod",
            ("totaliser.count", "totaliser.flow", "accumulator.pressure"),
            "Change to the other pod; block the leaking one.",
        )
        net.edge(f"{pod}.leak", f"{pod}.supply", "sea", leak_out, LEAK_K, leak, fault=f"{pod}.supply_leak")


def choked_line(pu: float, pd: float, k: float, choked: float) -> tuple[float, float, float]:
    """The power-fluid line with its filter, which lets a twentieth through when blocked."""
    q, gu, gd = opened(pu, pd, k, 1.0 - 0.95 * choked)
    return q, gu, gd


def build_stack_bottles(net: Network, bank: Bank, wall_kelvin: float, start: float, pods: tuple[str, ...]) -> None:
    """Add the stack's bottles behind their isolation on the selected pod's supply."""
    node = "stack_supply"
    net.node(node, Line(15 * LITRE, STEEL_AND_FLUID, start))
    for pod in pods:
        net.edge(f"{bank.id}.to_{pod}", node, f"pod_{pod}.supply", opened, ISOLATION_K, f"pod_selector.{pod}")
    bank.build(net, node, "ambient.sea", wall_kelvin, start)


def relieves(p: float, setting: float) -> float:
    """1 while the relieving side of a regulator may pass."""
    return 1.0 if p > setting + 0.5 * RELIEVE else 0.0


def from_surface(pressure: float, offset: float) -> float:
    """A pressure below as a gauge at the surface would read it through a full line, Pa."""
    return pressure - offset
