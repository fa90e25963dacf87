"""The flex joint at the foot of the riser: a chamber behind its bearing that its own regulator keeps pressed.

Raising its pressure takes fluid, which the totaliser counts; a seal that leaks takes it all the time.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

from trainer.hydraulics.laws import opened
from trainer.hydraulics.network import Network
from trainer.hydraulics.storage import Line
from trainer.plant.base import Part, component_fault
from trainer.plant.function_laws import leak_out
from trainer.units import Pressure, Volume, between

FLEX_JOINT = "flexjoint"
"""What the regulator of the flex joint serves."""
LINE_K = 1.0e-6
"""m3/(s sqrt(Pa)) of the line from a pod, 1.3 Cv: half an inch (from memory)."""
LEAK_K = 1.5e-7
"""m3/(s sqrt(Pa)) of the worst leak, 0.2 Cv. Invented."""


class FlexJoint(Part):
    """The chamber: its volume, and the modulus of fluid and bearing together."""

    volume: Annotated[Volume, between("0.5 gal", "100 gal")]
    modulus: Annotated[Pressure, between("5 MPa", "2000 MPa")]

    def build(self, net: Network, pods: Sequence[str], start: float) -> None:
        """Add the chamber at ``start`` (Pa absolute) on the flex-joint line of whichever pod is selected."""
        net.node("flex_joint", Line(self.volume, self.modulus, start))
        for pod in pods:
            line = f"pod_{pod}.{FLEX_JOINT}"
            net.edge(f"flex_joint.from_{pod}", line, "flex_joint", opened, dict(k=LINE_K, x=f"pod_selector.{pod}"))
        leak = component_fault(
            net,
            "flex_joint",
            "seal_leak",
            "Flex joint: seal leaks to sea",
            ("totaliser.flow", "totaliser.count", "flexjoint_regulator.readback"),
            "A count that runs on until its regulator is lowered: keep it low, plan to replace the seal with the "
            "riser.",
        )
        net.edge(
            "flex_joint.leak",
            "flex_joint",
            "sea",
            leak_out,
            dict(k=LEAK_K, severity=leak),
            fault="flex_joint.seal_leak",
        )
