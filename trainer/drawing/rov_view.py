"""The vehicle's panel: ports as labeled, stab, valve and pump on the board of back-ups, and the vehicle's symbol."""

from __future__ import annotations

from typing import Final

from trainer.drawing.context import DrawingContext
from trainer.drawing.controls import choice, push
from trainer.drawing.frame import section
from trainer.drawing.gauges import readout
from trainer.drawing.markup import Markup, el
from trainer.drawing.parts import label, part
from trainer.drawing.symbols import at

_PLACE: Final = (1114.0, 176.0)
"""Middle of the vehicle's symbol on the schematic, beside the pods."""


def rov_section(desk: DrawingContext) -> Markup | None:
    """Calls to the vehicle's crew and what its gauges show; nothing on a rig whose stack has no such panel."""
    own = desk.rig.plant.rov
    if own is None:
        return None
    i = own.id
    ports = (("none", "Pull"), *((f"port {n}", str(n)) for n in range(1, len(own.port) + 1)))
    labels = ", ".join(f"{n} {port.label}" for n, port in enumerate(own.port, 1))
    return section(
        "Vehicle panel, as labeled",
        "area-rov",
        el("p", {"class": "rov-labels"}, labels),
        choice("Stab port", f"{i}.port", ports, f"{i}.port", card=i),
        el(
            "div",
            {"class": "row"},
            choice("Port valve", f"{i}.valve", (("shut", "Shut"), ("open", "Open")), f"{i}.valve"),
            choice("Vehicle pump", f"{i}.pump", (("off", "Off"), ("on", "On")), f"{i}.pump"),
        ),
        el(
            "div",
            {"class": "row"},
            readout(f"{i}.stabbed", "Stab in"),
            readout(f"{i}.left", "Until then"),
            readout(f"{i}.pressure", "Pump, over the sea"),
            readout(f"{i}.flow", "Flow"),
            readout(f"{i}.count", "Pumped"),
            push("Pumped to zero", f"{i}.reset"),
        ),
    )


def rov_symbol(desk: DrawingContext) -> Markup | None:
    """The vehicle on the schematic, beside the pods; nothing on a rig whose stack has no panel for one."""
    own = desk.rig.plant.rov
    if own is None:
        return None
    body = el("path", {"class": "stack-body", "d": "M-22 -14H22V-4H-22ZM-18 -4H18V10H-18ZM18 2H30"})
    drawn = part(desk, own.id, own.name, f"{own.id}.stabbed", body)
    return el("g", {}, at(*_PLACE, drawn), label(_PLACE[0], _PLACE[1] + 28.0, "Vehicle", "middle small"))
