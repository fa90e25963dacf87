"""A component that is whole in one module of ``trainer/plant/attached``: everything that the rest asks of it.

The plant reads it from a table of its own, named after its class, builds it with the unit, and knows its readings,
commands and faults. Schematic, picture, *Maintenance*, cards and exercises draw and tell it by what stands here, so
that none of them names its kind.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

from trainer.hydraulics.network import Network
from trainer.plant.base import Component


class Attachment(Component):
    """A component between two parts of the unit. A kind sets the class's own values and says how it is built."""

    after: ClassVar[str] = "accumulator"
    before: ClassVar[str] = "tank"
    """The parts, as drawings call them, that its fluid comes from and goes to."""
    symbol: ClassVar[str]
    """Its symbol on the schematic, fluid from left to right: an SVG path within 24 units of its middle."""
    body: ClassVar[str]
    room: ClassVar[tuple[float, float, float, float]]
    """Its drawing in the picture of the unit, in the words of ``drawing/picture/ink.py``, and the box that it fills."""
    shows: ClassVar[str]
    """The end of the name of the reading that belongs to it."""
    valve: ClassVar[str] = ""
    """The end of the name of the hand valve that takes it out of service; empty without one."""
    jobs: ClassVar[Mapping[str, tuple[str, str]]] = {}
    """What a crew does on it: the end of the command's name, the button's word, and what it is done to."""
    first: ClassVar[Mapping[str, str]] = {}
    """What the first of its kind begins with where a rig is fitted, as in a plant file; empty: not offered there."""
    text: ClassVar[Mapping[str, str]]
    """Its card: title, what, does, normal, fails, notice, check, safety."""

    def build(self, net: Network) -> None:
        """Add its nodes, edges, readings, controls and faults to the network; each kind says how, in its own module."""
        raise NotImplementedError(f"{type(self).__name__} does not say how it is built")
