"""The driller's panel, the toolpusher's panel and further ones, laid out along the fluid's way.

From left to right: what the system holds and is set to (meters, totaliser, regulators), the stack with a row of
buttons for each element, then choke and kill valves and the pod selector. The same functions serve any plant.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from trainer.drawing.aside import disconnect_controls, diverter_controls
from trainer.drawing.context import DrawingContext
from trainer.drawing.controls import choice, enable, function_strip, push
from trainer.drawing.frame import deck, head, section, without_power
from trainer.drawing.gauges import dial, readout
from trainer.drawing.markup import Markup, el, live
from trainer.drawing.mimic import stack_mimic
from trainer.drawing.regulator_rows import regulator_table
from trainer.drawing.rig_view import RigView
from trainer.drawing.telemetry_view import answers, pod_counts
from trainer.plant.functions import Function
from trainer.plant.names import instrument
from trainer.plant.panels import Panel

PITCH: Final = 45.0  # design units of one row of the stack at the least: the buttons measure 44
VALVES: Final = 4  # as many valves of a line leave the pod selector a row of its own
FEW: Final = 4  # as many other functions find room beside the column
REMOTE_TALL: Final = 662  # of the toolpusher's panel, with its rows of what is seldom used
TALL: Final = 494  # of a panel whose stack leaves it free: regulators and lines stand as close as they may
STACKED: Final = 9  # elements of a stack that leave the Enable button room below them
EDGES: Final = 22  # what the edges take above and below the stack
BESIDE_STACK: Final = 70  # what the Enable button and the edges take below the stack
ABREAST: Final = 4  # gauges of a further panel side by side; more of them are numbers
SPENT_OF: Final = "page.spent_of"  # what should have been counted; in practice only
SPENT: Final = "page.spent"  # a text of the page: no instrument keeps it
_METERS: Final = (
    ("accumulator.pressure", "Accumulator", "accumulator"),
    ("pilot.pressure", "Pilot", "pilot"),
    ("air.pressure", "Rig air", "air"),
)


def _meters(desk: DrawingContext) -> Markup:
    shown = [dial(desk, tag, name, 96, card) for tag, name, card in _METERS if desk.has(tag)]
    return section("System", "area-meters", el("div", {"class": "row"}, shown))


def totaliser(desk: DrawingContext, label: bool = True, pods: Markup | None = None) -> Markup:
    """What the functions take: count since reset and of this operation; off the header where no meter counts.

    ``pods``: the row of the meters in the pods, which the panels show.
    """
    if not desk.has("totaliser.count"):
        spent = readout(SPENT, "This operation: accumulator pressure fell by")
        return section("Pressure used", "area-total", el("div", {"class": "row"}, spent), label=label)
    return section(
        "Fluid to the stack",
        "area-total",
        el(
            "div",
            {"class": "row counted"},
            readout("totaliser.count", "Flow count", big=True),
            el("div", {"class": "spent"}, readout(SPENT, "This operation"), live(SPENT_OF, "")),
            readout("totaliser.flow", "Flow now") if desk.has("totaliser.flow") else None,
            push("Reset", "totaliser.reset", note="count"),
        ),
        pods,
        label=label,
    )


def _pods(desk: DrawingContext) -> Markup | None:
    if not desk.rig.pods or not desk.has("pod_selector.position"):
        return None
    names = [p.id for p in desk.rig.pods]
    options = [(names[0], names[0].capitalize()), ("block", "Block")]
    options += [(n, n.capitalize()) for n in names[1:]]
    css = "choice-pod choice-stacked" if _crowded(desk) else "choice-pod"
    return section(
        "Pod",
        "area-pod",
        choice("Pod selector", "pod_selector", tuple(options), "pod_selector.position", css, "pod_selector"),
        label=False,
    )


def _crowded(desk: DrawingContext) -> bool:
    """Whether the choke and kill valves leave the pod selector no row of its own."""
    return any(len(desk.rig.line_valves(line)) > VALVES for line in ("choke", "kill"))


def _tall(desk: DrawingContext) -> int:
    """The least height of a panel: that of its stack, or of what stands beside it."""
    below = EDGES if _enable_beside(desk) else BESIDE_STACK
    return max(TALL, round(PITCH * len(desk.rig.column())) + below)


def _stack(desk: DrawingContext, panel: Panel | None = None) -> Markup:
    column = desk.rig.column()
    return section(
        "Stack, top down",
        "area-stack",
        el(
            "div",
            {"class": "stack", "style": f"--pitch:{PITCH:g}"},
            el(
                "div",
                {"class": "strips"},
                [_strip(desk, f, False, panel) for f in column],
            ),
            stack_mimic(desk.rig, PITCH, panel),
        )
        if column
        else None,
        None if _enable_beside(desk) else _enable(desk),
        label=False,
    )


def _enable(desk: DrawingContext) -> Markup | None:
    return enable(desk.rig.holds_enable) if any(f.critical for f in desk.rig.functions) else None


def _enable_beside(desk: DrawingContext) -> bool:
    """Whether the stack is too high to leave the Enable button room below it: it stands beside it then."""
    return len(desk.rig.column()) > STACKED


def _strip(desk: DrawingContext, function: Function, stacked: bool, panel: Panel | None) -> Markup:
    return function_strip(function, stacked, panel, answers(desk, function))


def _line(desk: DrawingContext, line: str, title: str, panel: Panel | None) -> Markup | None:
    valves = desk.rig.line_valves(line)
    if not valves:
        return None
    return section(title, f"area-line area-{line}", [_strip(desk, v, True, panel) for v in valves])


def _others(desk: DrawingContext, wide: bool, panel: Panel | None = None) -> Markup | None:
    """Functions outside the column and the lines: beside it while they are few, else in a row across the panel.

    Where the stack leaves the Enable button no room below it, it stands with those beside it.
    """
    others, enable = desk.rig.others(), None if wide or not _enable_beside(desk) else _enable(desk)
    shown = [_strip(desk, f, True, panel) for f in others] if wide == (len(others) > FEW) else []
    if not shown and enable is None:
        return None
    css = "others-row" if wide else "rest"
    return section("Other functions", css, shown, enable, label=False)


def _functions_side(desk: DrawingContext, panel: Panel | None = None) -> Markup:
    below = (_pods(desk) if panel is None else None, _others(desk, False, panel))
    return el(
        "div",
        {"class": "lines"},
        el(
            "div",
            {"class": "lines-pair"},
            _line(desk, "kill", "Kill valves", panel),
            _line(desk, "choke", "Choke valves", panel),
        ),
        el("div", {"class": "lines-pair lines-foot"}, below) if _crowded(desk) else below,
    )


def driller_panel(desk: DrawingContext) -> Markup:
    """The driller's panel: meters, totaliser, pod, regulators, every function, enable push, warning lamps."""
    supply = el(
        "div",
        {"class": "supply"},
        _meters(desk),
        totaliser(desk, pods=pod_counts(desk)),
        regulator_table(desk, but="diverter"),
    )
    return deck(
        "driller",
        "driller",
        _tall(desk),
        el("div", {"class": "panel-body"}, supply, _stack(desk), _functions_side(desk)),
        _others(desk, wide=True),
        css="panel",
    )


def second_panel(desk: DrawingContext) -> Markup:
    """The toolpusher's panel, away from the drill floor: the same functions, no meters."""
    supply = el(
        "div",
        {"class": "supply"},
        regulator_table(desk, meters=False),
        diverter_controls(desk, meters=False),
        disconnect_controls(desk),
    )
    return deck(
        "remote",
        "remote",
        max(REMOTE_TALL, _tall(desk) + 138),
        head(desk, "remote", "Toolpusher's panel"),
        el("div", {"class": "panel-body"}, supply, _stack(desk), _functions_side(desk)),
        _others(desk, wide=True),
        section(
            "Seldom used",
            "others-row",
            [_strip(desk, f, True, None) for f in desk.rig.aside()],
            label=False,
        )
        if desk.rig.aside()
        else None,
        css="panel",
    )


def further_panel(desk: DrawingContext, station: str) -> Markup:
    """The panel of a rig's file that stands at ``station``: what it carries, what feeds it, its gauges.

    KeyError when the rig has none there.
    """
    plant = desk.rig.plant
    panel = plant.further[station]
    carried = {
        "function": tuple(f for f in plant.function if f.id in panel.functions),
        "regulator": tuple(r for r in plant.regulator if r.id in panel.regulators),
    }
    own = replace(desk, rig=RigView(plant.model_copy(update=carried)))
    fed = f"{panel.id}.volts" if panel.electric else f"{panel.id}.air"
    shown = [(fed, "Volts" if panel.electric else "Air"), *((tag, instrument(tag)) for tag in panel.gauges)]
    gauges = [
        readout(tag, name)
        if desk.signals[tag].states or len(shown) > ABREAST
        else dial(desk, tag, name, 96, panel.id if tag == fed else None)
        for tag, name in shown
    ]
    supply = el(
        "div",
        {"class": "supply"},
        section(
            "Gauges",
            "area-meters",
            [el("div", {"class": "row"}, gauges[:ABREAST]), el("div", {"class": "row"}, gauges[ABREAST:])],
        ),
        regulator_table(own, meters=False),
    )
    column = own.rig.column()
    return deck(
        station,
        station,
        max(REMOTE_TALL, round(PITCH * len(column)) + BESIDE_STACK + 138),
        head(desk, station, panel.name, panel),
        without_power(
            f"{panel.id}.power", f"This panel has no {'power' if panel.electric else 'air'}: it shows nothing."
        ),
        el(
            "div",
            {"class": "panel-body"},
            supply,
            _stack(own, panel) if column or any(f.critical for f in own.rig.functions) else None,
            _functions_side(own, panel),
        ),
        _others(own, True, panel),
        section("Seldom used", "others-row", [_strip(own, f, True, panel) for f in own.rig.aside()], label=False)
        if own.rig.aside()
        else None,
        css="panel deck-remote",
    )
