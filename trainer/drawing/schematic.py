"""The whole system on one sheet, drawn from the plant: water inlet at the left, sea floor and well at the right.

One continuous fluid path: tank, suction, pumps, discharge, filters, header with its banks, totaliser, pod selector,
pods with their regulators, shuttles, function valves, stack. Any number of pumps, filters, banks, regulators and
functions: rows share the height there is.
"""

from __future__ import annotations

from typing import Final

from trainer.drawing.acoustic_view import acoustic_symbol
from trainer.drawing.attached_view import attached
from trainer.drawing.context import DrawingContext
from trainer.drawing.diverter_view import diverter, outlets
from trainer.drawing.emergency_view import emergency_symbol
from trainer.drawing.frame import deck, without_power
from trainer.drawing.function_view import functions, pitch_of
from trainer.drawing.markup import Child, Markup, el
from trainer.drawing.parts import label
from trainer.drawing.path_view import path_style, runs_of
from trainer.drawing.pipes import moving
from trainer.drawing.pod_view import control
from trainer.drawing.position_view import position_symbol
from trainer.drawing.rov_view import rov_symbol
from trainer.drawing.sheet import FLOOR, STACK, STACK_TOP, H, W
from trainer.drawing.stack_view import stack_and_well
from trainer.drawing.storage_view import banks, pilot_supply
from trainer.drawing.supply_view import filters, pumps, services, tank
from trainer.hydraulics.catalogue import POWER

#: The whole and the subsystems: the window's name, left, top, width, height on the sheet.
VIEWS: Final = {
    "whole": ("Whole", (0.0, 0.0, W, H)),
    "mixing": ("Mixing", (0.0, 66.0, 400.0, 510.0)),
    "pumps": ("Pumps", (160.0, 176.0, 430.0, 540.0)),
    "storage": ("Storage", (540.0, 270.0, 420.0, 440.0)),
    "manifold": ("Control", (560.0, 6.0, 520.0, 500.0)),
    "pods": ("Pods", (890.0, 140.0, 420.0, 560.0)),
    "stack": ("Stack", (1130.0, 120.0, 550.0, 440.0)),
    "well": ("Well", (1130.0, 540.0, 550.0, 310.0)),
    "diverter": ("Diverter", (1120.0, 0.0, 560.0, 150.0)),
    "services": ("Services", (0.0, 0.0, 600.0, 340.0)),
}
#: Windows without a button: the tour looks there.
ASIDE: Final = ("services",)
#: The buttons lie over the foot of the drawing: what a window is about stands above them.
FREE: Final = 0.84


def window_box(name: str) -> str:
    """What a window shows of the sheet, as an SVG's viewBox: left, top, width, height in its units."""
    left, top, wide, tall = VIEWS[name][1]
    return f"{left:g} {top:g} {wide:g} {tall if name == 'whole' else round(tall / FREE, 1):g}"


def windows(desk: DrawingContext) -> Markup:
    """The buttons under the sheet: what to look at, nearer, farther, and keep the view as a file."""
    rig = desk.rig
    without = {"pods": not rig.pods, "diverter": not rig.diverter()}
    views = [
        el(
            "button",
            {
                "class": "option",
                "type": "button",
                "aria-label": f"Show {word.lower()}",
                "data-window": window_box(name),
                "aria-pressed": "true" if name == "whole" else "false",
            },
            el("span", {"class": "option-word"}, word),
        )
        for name, (word, _) in VIEWS.items()
        if name not in ASIDE and not without.get(name)
    ]

    def tool(words: str, shown: str, **given: object) -> Markup:
        wiring = {f"data-{name}": value for name, value in given.items()}
        return el("button", {"class": "option", "type": "button", "aria-label": words, **wiring}, shown)

    tools = (
        tool("Zoom in", "+", zoom=0.8),
        tool("Zoom out", "−", zoom=1.25),
        tool("Save this view as SVG, a drawing to print", "Save", save=f"{rig.id}-schematic.svg"),
    )
    return el("div", {"class": "windows", "role": "group", "aria-label": "View of the schematic"}, views, tools)


def _legend() -> Markup:
    rows = (
        ("dead", "no pressure"),
        ("live", "under pressure"),
        ("flow", "flowing"),
        ("low", "below normal"),
        ("high", "above normal"),
        ("shut", "shut off"),
    )
    drawn: list[Child] = []
    for i, (level, words) in enumerate(rows):
        x, y = 24.0 + i % 3 * 160.0, 806.0 + i // 3 * 26.0
        line = el(
            "path", {"class": "pipe", "d": f"M{x:g} {y:g}h34", "data-level": "live" if level == "flow" else level}
        )
        if level == "shut":
            line = el("g", {"class": "cutoff", "data-value": "shut"}, line)
        sample = moving([(x, y), (x + 34, y)], None, sample="forward") if level == "flow" else None
        drawn += [line, sample, label(x + 42, y + 5, words, "small")]
    return el("g", {"class": "legend"}, drawn)


def _all_runs(desk: DrawingContext) -> set[str]:
    rig = desk.rig
    found = {"suction", *(["pilot"] if desk.has("pilot.pressure") else []), *(["diverter"] if rig.diverter() else [])}
    for parts in (rig.functions, rig.regulators, rig.banks):
        for item in parts:
            found.update(runs_of(desk, item.id))
    return found


def schematic_svg(desk: DrawingContext, truth: bool = True, view: str = "whole") -> Markup:
    """The sheet as one SVG, 1680 by 850 units, or one subsystem of it enlarged (``view``, a key of ``VIEWS``).

    Without ``truth`` nothing is shown that no instrument tells. ``KeyError`` for an unknown view.
    """
    desk = desk if truth else desk.seen()
    return el(
        "svg",
        {
            "class": "schematic",
            "viewBox": window_box(view),
            "xmlns": "http://www.w3.org/2000/svg",
            "role": "group",
            "aria-label": f"Schematic of the control system of {desk.rig.title}, water inlet left, well right",
        },
        path_style(desk, _all_runs(desk)),
        control(desk),
        services(desk),
        tank(desk),
        pumps(desk),
        filters(desk),
        banks(desk),
        pilot_supply(desk),
        attached(desk),
        stack_and_well(desk, STACK, STACK_TOP, pitch_of(desk.rig), FLOOR, H - 22.0),
        outlets(desk),
        emergency_symbol(desk),
        position_symbol(desk),
        rov_symbol(desk),
        acoustic_symbol(desk),
        diverter(desk),
        functions(desk),
        _legend(),
    )


def schematic(desk: DrawingContext, truth: bool = True, view: str = "whole") -> Markup:
    """The schematic as a board. Components open their cards; nothing is commanded from here."""
    sign = without_power(POWER) if desk.has(POWER) else None
    return deck("schematic", "", 600, windows(desk), schematic_svg(desk, truth, view), sign)
