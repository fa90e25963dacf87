"""The control unit, worked by hand: gauges, totaliser, regulators with their selectors, and the levers.

What is looked after rather than operated (mixing, pumps, filters, banks, power) stands on a board of its own.
"""

from __future__ import annotations

from typing import Final

from trainer.drawing.context import DrawingContext
from trainer.drawing.controls import choice, position_word
from trainer.drawing.frame import deck, head, section
from trainer.drawing.gauges import dial, readout
from trainer.drawing.markup import Markup, command, el, hidden
from trainer.drawing.panels import totaliser
from trainer.drawing.regulator_rows import regulator_table
from trainer.plant.functions import Function

_GAUGES: Final = (
    ("accumulator.pressure", "Accumulator", "accumulator"),
    ("pilot.pressure", "Pilot", "pilot"),
    ("supply.pressure", "Pump discharge", "supply"),
    ("air.pressure", "Rig air", "air"),
    ("unit.accumulator_gauge", "Accumulator, direct", "accumulator"),
    ("unit.pilot_gauge", "Pilot, direct", "pilot"),
)


def lever(function: Function) -> Markup:
    """The lever of a function's four-way valve: three positions, the handle drawn where it stands."""
    valve = f"{function.id}.valve"
    handle = el(
        "svg",
        {"class": "handle", "viewBox": "-24 -30 48 36", "aria-hidden": "true", "focusable": "false"},
        el("path", {"class": "handle-slot", "d": "M-17 -14A22 22 0 0 1 17 -14"}),
        el("path", {"class": "handle-bar", "d": "M-2.5 0L-2 -22H2L2.5 0Z"}),
        el("circle", {"class": "handle-knob", "cy": -23, "r": 5.5}),
        el("circle", {"class": "handle-hub", "r": 5}),
    )
    keys = [
        el(
            "button",
            {
                "class": f"key lever-key lever-{position}",
                "type": "button",
                "data-send": command("set", function.id, position),
                "data-state": valve,
                "data-when": position,
                "aria-pressed": "false",
            },
            hidden(f"{function.name}: "),
            el("span", {"class": "key-word"}, position_word(function, position)),
        )
        for position in ("open", "block", "close")
    ]
    name = {"class": "lever-name card-link", "type": "button", "data-open-card": function.id}
    return el(
        "div",
        {"class": "lever", "role": "group", "aria-label": function.name, "data-state": valve},
        el("div", {"class": "lever-top"}, el("button", name, function.name), handle),
        el("div", {"class": "keys"}, keys),
    )


def _levers(desk: DrawingContext) -> Markup:
    rig = desk.rig
    order = (*rig.column(), *rig.others(), *rig.aside(), *rig.line_valves("kill"), *rig.line_valves("choke"))
    order = tuple(f for f in order if f in rig.levers)
    pods = None
    if rig.pods and desk.has("pod_selector.position"):
        names = [p.id for p in rig.pods]
        options = ((names[0], names[0].capitalize()), ("block", "Block"), *((n, n.capitalize()) for n in names[1:]))
        css = f"choice-pod choice-stacked{' choice-double' if len(options) > 3 else ''}"
        pods = choice("Pod selector", "pod_selector", options, "pod_selector.position", css, "pod_selector")
    side = None
    if desk.has("diverter.side"):
        css = "choice-stacked"
        options = (("port", "Port"), ("starboard", "Starbd"))
        side = choice("Divert to", "diverter.side", options, "diverter.side", css)
    tank = None
    if desk.has("tank.level"):
        tank = el("div", {"class": "beside-levers"}, readout("tank.level", "Tank level"))
    return section(
        "Four-way valves",
        "area-levers",
        el("div", {"class": "levers"}, pods, [lever(f) for f in order], side, tank),
        label=False,
    )


def unit_station(desk: DrawingContext) -> Markup:
    """The control unit: gauges and totaliser, regulators, pod selector and every lever."""
    gauges = [dial(desk, tag, name, 70, card) for tag, name, card in _GAUGES if desk.has(tag)]
    return deck(
        "unit",
        "unit",
        668,
        head(desk, "unit", "Control unit"),
        el(
            "div",
            {"class": "unit-body"},
            el(
                "div",
                {"class": "unit-column"},
                section("Gauges", "area-gauges", el("div", {"class": "gauges"}, gauges), label=False),
                totaliser(desk, label=False),
                regulator_table(desk, authority=True),
            ),
            _levers(desk),
        ),
    )
