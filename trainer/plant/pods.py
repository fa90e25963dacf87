"""The subsea pods: supply, pilot-operated regulators and the manifolds that feed the functions.

Nodes of pod P: ``pod_P.supply``, ``pod_P.manifold``, ``pod_P.annular`` (Pa absolute at the sea floor). The stack
bottles stand on the supply of whichever pod is selected.
"""

from __future__ import annotations

from typing import Annotated, Protocol

from trainer.constants import ATMOSPHERE
from trainer.hydraulics.laws import opened
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives
from trainer.hydraulics.storage import Line
from trainer.plant.accumulators import Bank
from trainer.plant.base import PSI, Component, component_fault, reading
from trainer.plant.function_laws import leak_out
from trainer.plant.manifold import LITRE
from trainer.plant.regulators import Regulator
from trainer.units import Coefficient, Number, Pressure, Seconds, between

ISOLATION_K = 1.0e-5
"""m3/(s sqrt(Pa)) of a pod's open isolation valve, 13 Cv: 1 in (from memory)."""
LEAK_K = 2.0e-7
"""m3/(s sqrt(Pa)) of the worst leak of a pod's supply, 0.26 Cv. Invented."""
SEAT_K = 4.0e-8
"""m3/(s sqrt(Pa)) past a worn regulator seat in a pod, 0.05 Cv. Invented."""


PODS = ("yellow", "blue", "white")
"""Pods in the order in which a plant may have them: the trade calls the first two by these colors."""


class SupplyLine(Protocol):
    """What brings power fluid down to a pod: a hose of the umbilical or a rigid conduit."""

    @property
    def supply_modulus(self) -> float: ...

    def supply_volume(self) -> float: ...

    def supply_k(self, density: float, viscosity: float) -> float: ...


class Pod(Component):
    """One of up to three like pods. Its valves shift at ``shift_on`` of pilot pressure, above the sea's, and spring
    back below ``shift_off``; ``travel`` is the time of their stroke."""

    shift_on: Annotated[Pressure, between("100 psi", "5000 psi")] = 1200.0 * PSI
    shift_off: Annotated[Pressure, between("20 psi", "4000 psi")] = 800.0 * PSI
    travel: Annotated[Seconds, between("0.05 s", "20 s")] = 0.5

    @property
    def known_as(self) -> str:
        """What its readings and faults begin with, and drawings call it."""
        return f"pod_{self.id}"

    def build(
        self,
        net: Network,
        umbilical: SupplyLine,
        density: float,
        viscosity: float,
        modulus: float,
        head: float,
        start: float,
        serves: dict[str, Regulator],
        live: bool,
    ) -> None:
        """Add the pod and its power-fluid line; ``start`` is the supply pressure at the surface, Pa absolute.

        ``live``: the selector starts on this pod. ``viscosity`` is that of the mix at the sea's temperature (Pa s),
        ``modulus`` that of fluid and walls (Pa).
        """
        pod = self.known_as
        below = start + head if live else ATMOSPHERE + head
        line = f"line_{self.id}"
        volume = umbilical.supply_volume()
        k = umbilical.supply_k(density, viscosity) * 2.0**0.5
        net.node(line, Line(volume, umbilical.supply_modulus, start if live else ATMOSPHERE))
        net.node(f"{pod}.supply", Line(40 * LITRE, modulus, below))
        for name, reg in serves.items():
            held = min(below, reg.set + ATMOSPHERE + head)
            net.node(f"{pod}.{name}", Line(25 * LITRE, modulus, held))
            reg.feed(net, f"{pod}.{name}_regulator", f"{pod}.{name}_vent", f"{pod}.supply", f"{pod}.{name}", "sea")
            kind = f"{name}_creeps"
            seat = component_fault(
                net,
                pod,
                kind,
                f"{self.name}: {name} regulator's seat leaks, pressure creeps up to its relief",
                (f"{reg.id}.readback", "totaliser.flow", "totaliser.count"),
                "Read-back above pilot and a count that runs on: change to the other pod and compare.",
            )
            net.edge(
                f"{pod}.{kind}",
                f"{pod}.supply",
                f"{pod}.{name}",
                leak_out,
                dict(k=SEAT_K, severity=seat),
                fault=f"{pod}.{kind}",
            )
            reading(
                net,
                f"{pod}.{name}_pressure",
                "psi",
                0,
                6000,
                f"{self.name}: {name} pressure, seen from the surface.",
                (),
            )
            net.block(
                from_surface,
                inputs=dict(pressure=f"{pod}.{name}.p", offset=ATMOSPHERE + head),
                outputs=dict(seen=f"{pod}.{name}_pressure"),
                rate="observe",
            )
        # Two halves of the line's friction, either side of its one lump; the far half carries the fluid column.
        choked = component_fault(
            net,
            pod,
            "filter_blocked",
            f"{self.name}: filter in the power-fluid line nearly blocked",
            ("totaliser.flow", "manifold_regulator.readback", "annular_regulator.readback"),
            "Functions move slowly and read-backs sag on this pod only: change pod, flush the line.",
        )
        net.edge(f"{line}.down", line, f"{pod}.supply", choked_line, dict(k=k, choked=choked), head=head)
        leak = component_fault(
            net,
            pod,
            "supply_leak",
            f"{self.name}: power-fluid line leaks at the pod",
            ("totaliser.count", "totaliser.flow", "accumulator.pressure"),
            "Change to the other pod; block the leaking one.",
        )
        net.edge(
            f"{pod}.leak", f"{pod}.supply", "sea", leak_out, dict(k=LEAK_K, severity=leak), fault=f"{pod}.supply_leak"
        )


def choked_line(pu: Pressure, pd: Pressure, k: Coefficient, choked: Number) -> tuple[float, float, float]:
    """The power-fluid line with its filter, which lets a twentieth through when blocked."""
    q, gu, gd = opened(pu, pd, k, 1.0 - 0.95 * choked)
    return q, gu, gd


def build_stack_bottles(
    net: Network, banks: tuple[Bank, ...], wall_kelvin: float, start: float, modulus: float, pods: tuple[str, ...]
) -> None:
    """Add the stack's bottles, each bank behind its isolation, on the one line from the selected pod's supply."""
    if not banks:
        return
    node = "stack_supply"
    net.node(node, Line(15 * LITRE, modulus, start))
    for pod in pods:
        way = f"{banks[0].id}.to_{pod}"
        net.edge(way, node, f"pod_{pod}.supply", opened, dict(k=ISOLATION_K, x=f"pod_selector.{pod}"))
    for bank in banks:
        bank.build(net, node, "ambient.sea", wall_kelvin, start)


@gives("seen")
def from_surface(pressure: Pressure, offset: Pressure) -> Pressure:
    """A pressure below as a gauge at the surface would read it through a full line, Pa."""
    return pressure - offset
