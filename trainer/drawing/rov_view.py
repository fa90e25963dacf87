"""The vehicle's control room: ports as labeled, stab, valve, pump and its gauges; and the vehicle's symbol."""

from __future__ import annotations

from typing import Final

from trainer.drawing.context import DrawingContext
from trainer.drawing.controls import choice, push
from trainer.drawing.frame import deck, section
from trainer.drawing.gauges import readout
from trainer.drawing.markup import Markup, el
from trainer.drawing.parts import label, part
from trainer.drawing.symbols import at
from trainer.plant.rov import Rov

TALL: Final = 540
_PLACE: Final = (1114.0, 176.0)
"""Middle of the vehicle's symbol on the schematic, beside the pods."""


def vehicle_of(desk: DrawingContext) -> bool:
    """Whether the stack of the rig has a panel for a vehicle, and so the vehicle a board."""
    return desk.rig.plant.rov is not None


def vehicle_panel(desk: DrawingContext) -> Markup:
    """The board in the vehicle's control room; empty on a rig whose stack has no such panel."""
    own = desk.rig.plant.rov
    if own is None:
        return deck("vehicle", "vehicle", TALL, css="panel")
    i = own.id
    ports = (("none", "Pull"), *((f"port {n}", str(n)) for n in range(1, len(own.port) + 1)))
    labels = [el("li", {}, f"{n} {port.label}") for n, port in enumerate(own.port, 1)]
    return deck(
        "vehicle",
        "vehicle",
        TALL,
        el(
            "div",
            {"class": "panel-body aside-body"},
            el(
                "div",
                {"class": "supply"},
                section("Ports, as labeled", "area-ports", el("ul", {"class": "rov-labels"}, labels)),
                section(
                    "Stab",
                    "area-stab",
                    choice("Stab port", f"{i}.port", ports, f"{i}.port", card=i),
                    el("div", {"class": "row"}, readout(f"{i}.stabbed", "Stab in"), readout(f"{i}.left", "Time left")),
                ),
            ),
            el(
                "div",
                {"class": "supply"},
                section(
                    "Valve and pump",
                    "area-rov",
                    choice("Port valve", f"{i}.valve", (("shut", "Shut"), ("open", "Open")), f"{i}.valve"),
                    choice("Vehicle pump", f"{i}.pump", (("off", "Off"), ("on", "On")), f"{i}.pump"),
                ),
                section(
                    "Gauges of the vehicle",
                    "area-rov-gauges",
                    el(
                        "div",
                        {"class": "row"},
                        readout(f"{i}.pressure", "Pump, above sea pressure", True),
                        readout(f"{i}.flow", "Flow", True),
                        readout(f"{i}.count", "Pumped", True),
                        push("Pumped to zero", f"{i}.reset"),
                    ),
                ),
                _looks(desk, own),
            ),
        ),
        css="panel",
    )


def _looks(desk: DrawingContext, own: Rov) -> Markup | None:
    """What the vehicle is sent to look at, and what its picture shows; nothing where it sees no marks."""
    if not own.look:
        return None
    i, names = own.id, {f.id: f.name for f in desk.rig.functions}
    marks = (("nothing", "Nothing"), *((name, names[name]) for name in own.look))
    return section(
        "Picture of a position mark",
        "area-look",
        choice("Look at", f"{i}.look", marks, f"{i}.look", "choice-bare"),
        el(
            "div",
            {"class": "row"},
            readout(f"{i}.picture", "Picture, closed is latched", True),
            readout(f"{i}.look_left", "Until it is there"),
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
