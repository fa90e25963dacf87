"""Direct feed: reduced lines at the unit, and a hose from a four-way valve to each chamber; what returns goes to tank.

The four-way valve has a blocked centre: in block both hoses are shut and keep what they hold. The panel's lamps are
switches on the valve's air cylinder: they tell where the valve went, not the piston.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

from trainer.constants import ATMOSPHERE
from trainer.hydraulics.laws import opened
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import under
from trainer.hydraulics.storage import Line
from trainer.plant.base import Part, component_fault
from trainer.plant.feeds import add_cylinder_switches, wake_by
from trainer.plant.function_laws import direct_awake, leak_out
from trainer.plant.functions import Row
from trainer.plant.pods import LEAK_K, SEAT_K
from trainer.plant.regulators import Regulator
from trainer.plant.surface_valve import SurfaceValve
from trainer.plant.umbilical import PI, line_k
from trainer.units import Length, Pressure, between

if TYPE_CHECKING:
    from trainer.plant.functions import Function

TANK = ATMOSPHERE + 5.0e3
"""Pa in a line that is open to the tank: half a metre of fluid over it."""


class Hoses(Part):
    """Hoses from the unit's four-way valves to what they work: all alike."""

    length: Annotated[Length, between("5 ft", "1000 ft")]
    bore: Annotated[Length, between("0.2 in", "3 in")]
    modulus: Annotated[Pressure, between("50 MPa", "3000 MPa")]

    @property
    def volume(self) -> float:
        """Fluid in one hose, m3: its bore's area times its length, at no pressure."""
        return PI / 4.0 * self.bore * self.bore * self.length

    def k(self, density: float, viscosity: float) -> float:
        """Flow coefficient of one hose, m3/(s sqrt(Pa)), for a density in kg/m3 and a viscosity in Pa s."""
        return line_k(self.bore, self.length, density, viscosity)


def build_direct(net: Network, served: Regulator, start: float, modulus: float) -> str:
    """Add the reduced line of a regulator at the unit between header and tank; returns its node.

    ``start`` is the header's pressure, Pa absolute; ``modulus`` (Pa) that of fluid and walls.
    """
    node = f"direct.{served.serves}"
    net.node(node, Line(0.025, modulus, min(start, served.set + ATMOSPHERE)))
    served.feed(net, f"{node}.regulator", f"{node}.vent", "header", node, "tank")
    shows = (f"{served.id}.readback", "accumulator.pressure", "tank.level")
    seat = component_fault(
        net, served.id, "seat_leak", f"{served.name}: seat leaks, pressure creeps to its relief", shows,
        "Lower and watch it creep back: replace the regulator's seat; use the bypass meanwhile.",
    )  # fmt: skip
    net.edge(f"{node}.seat", "header", node, leak_out, dict(k=SEAT_K, severity=seat), fault=f"{served.id}.seat_leak")
    leak = component_fault(
        net, served.id, "line_leak", f"{served.name}: reduced line leaks at the unit", shows,
        "Find the wet place; isolate; repair before anything else is moved.",
    )  # fmt: skip
    net.edge(f"{node}.leak", node, "ground", leak_out, dict(k=LEAK_K, severity=leak), fault=f"{served.id}.line_leak")
    return node


@dataclass(frozen=True)
class Direct(SurfaceValve):
    """What directly fed functions hang on: hoses, fluid (kg/m3, Pa s), pressures around them and at the start (Pa)."""

    hoses: Hoses
    density: float
    viscosity: float
    outside: float
    held: dict[str, float]
    outside_node: str = "ground"
    lost_to: str = "at the hose end"

    @property
    def fault_kinds(self) -> tuple[Row, ...]:
        """The hoses' leaks are those of the chambers; nothing more lies between."""
        return ()

    def start(self, function: Function, way: str) -> float:
        """Absolute pressure of a chamber at the start, Pa: the supply's on the side where the function stands, else the
        tank's."""
        return self.held[function.supply] if way == function.starts else TANK

    def attend(self, net: Network, function: Function) -> None:
        """Add what decides whether the function's own logic runs: its supplies, and what may stir it."""
        wake_by(net, function, {"seen": f"direct.{function.supply}"}, ["lamps.stir"], pilots=False)

    def lines(self, net: Network, function: Function) -> None:
        """Nothing lies between valve and chamber but the hose, which is counted with the chamber."""
        add_cylinder_switches(net, function)

    def chamber(self, net: Network, function: Function, way: str, k: float) -> None:
        """A chamber with its hose, its feed through the valve and its return to tank when the other way is open."""
        i, group = function.id, f"{function.id}.power"
        other = "close" if way == "open" else "open"
        line = function.chamber_line(self.hoses.volume, self.start(function, way), self.hoses.modulus)
        node = net.node(f"{i}.{way}", line, group)
        hose = self.hoses.k(self.density, self.viscosity)
        through = 1.0 / (1.0 / (k * k) + 1.0 / (hose * hose)) ** 0.5
        net.edge(
            f"{node}.feed", f"direct.{function.supply}", node, opened, dict(k=through, x=f"{i}.{way}_way"), group=group
        )
        net.edge(f"{node}.return", node, "tank", opened, dict(k=1.6 * through, x=f"{i}.{other}_way"), group=group)

    def wake(self, net: Network, function: Function) -> None:
        """Add the block that says whether the chambers' equations have to run: at rest they cost nothing."""
        i = function.id
        net.block(
            direct_awake,
            inputs=dict(
                **under(i, "open_way", "close_way", "against", "x", "limit"),
                pc=f"{i}.close.p",
                po=f"{i}.open.p",
                supply=f"direct.{function.supply}.p",
                tank=TANK,
                ratio=function.ratio,
                friction=function.friction,
                locked=f"{i}.held",
                leaks=[function.fault(kind) for kind in ("leak_close", "leak_open", "piston_bypass")],
                wake=net.wake,
                settled=net.settled,
            ),
            states=dict(awake=f"{i}.power.awake"),
            gate=f"{i}.attend",
        )

    def switches(self, net: Network, function: Function) -> tuple[str, str]:
        """Names of the variables of the two switches on the valve's air cylinder: open side, close side."""
        return f"{function.id}.open_switch", f"{function.id}.close_switch"
