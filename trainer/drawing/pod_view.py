"""The middle of the schematic: pilot supply, totaliser, pod selector, umbilical, pods with regulators, shuttles.

A surface stack without pods has its regulators in line instead.
"""

from __future__ import annotations

from typing import Final

from trainer.drawing import symbols as sym
from trainer.drawing.desk import Desk
from trainer.drawing.markup import Child, Markup, el, join
from trainer.drawing.parts import label, part, value
from trainer.drawing.pipes import Point, knot, pipe
from trainer.drawing.rig_view import Part
from trainer.drawing.symbols import at

_POD_X: Final = 1006.0
_POD_W: Final = 112.0
_SEA_X: Final = 962.0
_PILOT_Y: Final = 176.0


def serves(regulator: Part) -> str:
    """Which supply of the stack a regulator feeds."""
    return str(regulator.get("serves") or regulator.id.removesuffix("_regulator"))


def bus_inlets(desk: Desk, main: float) -> dict[str, list[float]]:
    """At what heights the supply buses of the functions are fed, by what they serve."""
    regulators = desk.rig.regulators
    step = 52.0 if desk.rig.pods else 120.0
    found: dict[str, list[float]] = {}
    for k, regulator in enumerate(regulators):
        found.setdefault(serves(regulator), []).append(main + (k - (len(regulators) - 1) / 2.0) * step)
    return found


def _pilot(desk: Desk, main: float, x: float) -> Markup:
    """Check valve from the header, pilot bottles, and the pilot manifold towards the pods."""
    own = "pilot.pressure" if desk.has("pilot.pressure") else None
    header = "accumulator.pressure" if desk.has("accumulator.pressure") else None
    drawn: list[Child] = [
        knot(x, main),
        pipe([(x, main), (x, 330)], header),
        at(x, 306, part(desk, "pilot_check", "Pilot supply check valve", own, sym.check_valve()), turn=-90),
        pipe([(x, 282), (x, _PILOT_Y)], own),
        pipe([(x, _PILOT_Y), (868, _PILOT_Y)], own),
        at(
            896,
            _PILOT_Y,
            part(desk, "pilot_valves", "Pilot valves of the functions, at the unit", own, sym.four_way(None)),
        ),
        label(896, _PILOT_Y - 22, "Pilot valves", "middle"),
        label(x + 14, _PILOT_Y - 10, "Pilot"),
        value(desk, x + 14, _PILOT_Y + 24, "pilot.pressure"),
    ]
    for i, bank in enumerate(desk.rig.pilot_banks):
        bx = x - 60.0 - 70.0 * i
        drawn += [
            pipe([(x, _PILOT_Y), (bx, _PILOT_Y), (bx, 160)], own),
            at(bx, 112, part(desk, bank.id, bank.title, f"{bank.id}.pressure", sym.accumulator(None))),
            label(bx, 64, bank.title, "middle"),
        ]
    return join(drawn)


def _pod_regulators(desk: Desk, y: float, regulators: tuple[Part, ...], step: float) -> list[Markup]:
    drawn: list[Child] = []
    for i, regulator in enumerate(regulators):
        at_y = y + (i - (len(regulators) - 1) / 2.0) * step
        read = f"{regulator.id}.readback"
        drawn.append(
            join(
                pipe(
                    [(_POD_X + 16, y), (_POD_X + 16, at_y), (_POD_X + 36, at_y)],
                    "accumulator.pressure" if desk.has("accumulator.pressure") else None,
                    css="of-pod",
                ),
                at(_POD_X + 60, at_y, part(desk, regulator.id, regulator.title, read, sym.regulator()), scale=0.8),
                pipe([(_POD_X + 79, at_y), (_POD_X + _POD_W, at_y)], read if desk.has(read) else None, css="of-pod"),
            )
        )
    return drawn


def _pods(desk: Desk, main: float, x: float, valves: float) -> Markup:
    """Selector, umbilical, both pods, and a shuttle for each supply that picks the pod with pressure."""
    pods = desk.rig.pods
    regulators = desk.rig.regulators
    state = "pod_selector.position" if desk.has("pod_selector.position") else None
    flow = "totaliser.flow" if desk.has("totaliser.flow") else None
    own = "pilot.pressure" if desk.has("pilot.pressure") else None
    step = min(74.0, 128.0 / max(1, len(regulators)) + 10.0)
    heights = [main - 136.0 + 272.0 * i / max(1, len(pods) - 1) for i in range(len(pods))]
    drawn: list[Child] = [
        el("path", {"class": "sea", "d": f"M{_SEA_X:g} 80H1412V818H{_SEA_X:g}Z"}),
        label(_SEA_X + 8, 100, "Sea floor"),
        label(_SEA_X - 8, 100, "Rig", "end"),
        at(x + 112, main, part(desk, "pod_selector", "Pod selector", state, sym.selector(state))),
        label(x + 130, main + 56, "Pod selector", "end"),
        value(desk, x + 130, main + 76, "pod_selector.position", "end state"),
        pipe(
            [(896, _PILOT_Y + 10), (896, _PILOT_Y + 40), (_SEA_X + 20, _PILOT_Y + 40), (_SEA_X + 20, heights[-1] + 34)],
            own,
            css="pilotline",
            thin=True,
        ),
        [pipe([(_SEA_X + 20, y + 34), (_POD_X, y + 34)], own, css="pilotline", thin=True) for y in heights],
        label(_SEA_X - 8, _PILOT_Y + 58, "umbilical", "small end"),
        _stack_bottles(desk, main),
    ]
    for i, (pod, y) in enumerate(zip(pods, heights, strict=True)):
        side = -22.0 if i == 0 else 22.0
        way: list[Point] = [(x + 123, main + side), (_SEA_X - 24, main + side), (_SEA_X - 24, y), (_POD_X + 16, y)]
        drawn += [
            el(
                "g",
                {"class": f"supply-of supply-of-{pod.id}", "data-state": state},
                pipe(way, "accumulator.pressure" if desk.has("accumulator.pressure") else None, flow, css="of-pod"),
            ),
            part(
                desk,
                f"pod_{pod.id}",
                pod.title,
                state,
                [
                    el("rect", {"class": css, "x": _POD_X, "y": y - 72, "width": _POD_W, "height": 144, "rx": 8})
                    for css in ("pod-edge", f"pod pod-{pod.id}")
                ],
            ),
            label(_POD_X + _POD_W / 2.0, y + 90, pod.title, "middle strong"),
            el(
                "g",
                {"class": f"supply-of supply-of-{pod.id}", "data-state": state},
                _pod_regulators(desk, y, regulators, step),
            ),
        ]
    for k, regulator in enumerate(regulators):
        read = f"{regulator.id}.readback" if desk.has(f"{regulator.id}.readback") else None
        sx = _POD_X + _POD_W + 14.0 + 20.0 * k
        sy = main + (k - (len(regulators) - 1) / 2.0) * 52.0
        offset = (k - (len(regulators) - 1) / 2.0) * step
        for i, y in enumerate(heights):
            end = sy - 18.0 if i == 0 else sy + 18.0
            drawn.append(
                el(
                    "g",
                    {"class": f"supply-of supply-of-{pods[i].id}", "data-state": state},
                    pipe([(_POD_X + _POD_W, y + offset), (sx, y + offset), (sx, end)], read, css="of-pod"),
                )
            )
        bus = valves - (62.0 if serves(regulator) == "annular" else 46.0)
        drawn += [
            pipe([(sx + 18, sy), (bus, sy)], read, flow),
            at(sx, sy, part(desk, "shuttle", f"Shuttle valve, {serves(regulator)} supply", read, sym.shuttle())),
            knot(bus, sy),
        ]
    drawn.append(_pod_numbers(desk, main))
    return join(drawn)


def _stack_bottles(desk: Desk, main: float) -> Markup:
    """Bottles on the stack, between the pods, on the supply of whichever pod is selected."""
    header = "accumulator.pressure" if desk.has("accumulator.pressure") else None
    drawn: list[Child] = []
    for i, bank in enumerate(desk.rig.stack_banks[:2]):
        own = f"{bank.id}.pressure"
        x, fluid = _POD_X + 74.0 - 60.0 * i, f"{bank.id}.fluid"
        drawn += [
            pipe([(_SEA_X - 24, main), (x - 44, main)], header),
            [
                el(
                    "g",
                    {"class": f"supply-of supply-of-{pod.id}", "data-state": "pod_selector.position"},
                    pipe([(_SEA_X - 24, main), (_SEA_X - 24, main + side)], header, css="of-pod"),
                )
                for pod, side in zip(desk.rig.pods, (-22.0, 22.0), strict=False)
            ],
            at(
                x,
                main,
                part(desk, bank.id, bank.title, own, sym.accumulator(fluid if desk.has(fluid) else None)),
                turn=90,
            ),
            label(x - 6, main + 36, bank.title, "middle small"),
        ]
    return join(drawn)


def _pod_numbers(desk: Desk, main: float) -> Markup:
    """Pilot and read-back of every regulator, written between the pods."""
    drawn: list[Child] = []
    rows = [(r, f"{r.id}.readback") for r in desk.rig.regulators if desk.has(f"{r.id}.readback")]
    top = main + 136.0 + 72.0 + 50.0
    for i, (regulator, read) in enumerate(rows):
        y = top + 46.0 * i
        drawn += [
            label(_POD_X - 30, y, regulator.title),
            value(desk, _POD_X - 30, y + 20, read),
            label(_POD_X + 50, y + 20, "read-back", "small"),
        ]
    return join(drawn)


def _inline(desk: Desk, main: float, x: float, valves: float) -> Markup:
    """Regulators in line, one branch each, for a stack at the surface."""
    regulators = desk.rig.regulators
    header = "accumulator.pressure" if desk.has("accumulator.pressure") else None
    flow = "totaliser.flow" if desk.has("totaliser.flow") else None
    rows = [main + (i - (len(regulators) - 1) / 2.0) * 120.0 for i in range(len(regulators))]
    drawn: list[Child] = [pipe([(x + 76, main), (960, main)], header, flow)]
    if rows:
        drawn.append(pipe([(960, min(rows)), (960, max(rows))], header))
    for regulator, y in zip(regulators, rows, strict=True):
        read = f"{regulator.id}.readback" if desk.has(f"{regulator.id}.readback") else None
        bus = valves - (62.0 if serves(regulator) == "annular" else 46.0)
        drawn += [
            pipe([(960, y), (1040, y)], header),
            at(1060, y, part(desk, regulator.id, regulator.title, read, sym.regulator())),
            pipe([(1080, y), (bus, y)], read, flow),
            knot(bus, y),
            label(1060, y - 44, regulator.title, "middle"),
            value(desk, 1060, y + 44, f"{regulator.id}.readback", "middle"),
        ]
    return join(drawn)


def pods_and_supply(desk: Desk, main: float, x: float, valves: float) -> Markup:
    """Everything between the header's end at ``x`` and the function buses left of ``valves``."""
    header = "accumulator.pressure" if desk.has("accumulator.pressure") else None
    flow = "totaliser.flow" if desk.has("totaliser.flow") else None
    count = "totaliser.count" if desk.has("totaliser.count") else None
    return join(
        _pods(desk, main, x, valves) if desk.rig.pods else _inline(desk, main, x, valves),
        pipe([(x, main), (x + 102, main)], header, flow),
        at(x + 50, main, part(desk, "totaliser", "Flow totaliser", count, sym.flow_meter())),
        label(x + 44, main - 58, "Totaliser", "middle"),
        value(desk, x + 44, main - 38, "totaliser.count", "middle"),
        value(desk, x + 44, main + 36, "totaliser.flow", "middle small"),
        _pilot(desk, main, x - 44.0),
    )
