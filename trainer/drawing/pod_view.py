"""The middle of the schematic: totaliser, pod selector, umbilical, pods with their regulators, shuttles.

A surface stack without pods has its regulators in line instead.
"""

from __future__ import annotations

from typing import Final

from trainer.drawing import symbols as sym
from trainer.drawing.context import DrawingContext
from trainer.drawing.markup import Child, Markup, el, join
from trainer.drawing.parts import label, part, value
from trainer.drawing.pipes import Point, knot, pipe, stream
from trainer.drawing.sheet import HEADER_END, MAIN, PILOT, SEA, bus, drawn_by, feeds, moves, of
from trainer.drawing.stack_view import gate, movers
from trainer.drawing.storage_view import fluid_height
from trainer.drawing.symbols import at
from trainer.drawing.telemetry_view import telemetry_symbol
from trainer.plant.pods import Pod

_X: Final = SEA + 28.0
_WIDE: Final = 100.0
_SELECTOR: Final = HEADER_END + 112.0
_RISE: Final = SEA - 24.0  # where the supply lines to the pods stand upright


def _half(desk: DrawingContext) -> float:
    """Half the height of a pod."""
    if len(desk.rig.pods) > 2:
        return 56.0
    return 72.0 if len(desk.rig.power_regulators) <= 2 else 94.0


def _heights(desk: DrawingContext) -> list[float]:
    """Heights of the pods: about the main line, two of three above the stack's bottles."""
    if len(desk.rig.pods) > 2:
        return [206.0, 358.0, 596.0]
    apart = _half(desk) + 60.0
    return [MAIN - apart, MAIN + apart][: len(desk.rig.pods)]


def _sides(desk: DrawingContext) -> list[float]:
    """How far below the main line each pod's line leaves the selector."""
    places = sym.selector_places([pod.id for pod in desk.rig.pods])
    return [places[pod.id] for pod in desk.rig.pods]


def _rises(desk: DrawingContext) -> list[float]:
    """Where each pod's line stands upright: the second of three behind the first, so that they do not cross."""
    return [_RISE, _RISE + 12.0, _RISE] if len(desk.rig.pods) > 2 else [_RISE] * len(desk.rig.pods)


def _offset(desk: DrawingContext, k: int) -> float:
    """How far below the pod's middle its regulator number ``k`` lies."""
    count = len(desk.rig.power_regulators)
    inside = 2.0 * (_half(desk) - (22.0 if len(desk.rig.pods) < 3 else 16.0)) / max(1, count - 1)
    return (k - (count - 1) / 2.0) * min(74.0, inside)


def _of_pod(pod: Pod, state: str | None, *drawn: Child) -> Markup:
    """Lines that carry pressure only while this pod is selected."""
    return el("g", {"class": f"supply-of supply-of-{pod.id}", "data-state": state}, *drawn)


def _regulators(desk: DrawingContext, y: float) -> list[Child]:
    found = desk.rig.power_regulators
    header = of(desk, "accumulator.pressure")
    scale = 0.8 if len(found) <= 2 and len(desk.rig.pods) < 3 else (0.62 if len(desk.rig.pods) < 3 else 0.46)
    left, right = _X + 54.0 - 24.0 * scale, _X + 54.0 + 24.0 * scale
    drawn: list[Child] = []
    for k, regulator in enumerate(found):
        at_y = y + _offset(desk, k)
        read = of(desk, f"{regulator.id}.readback")
        body = part(desk, regulator.id, regulator.name, read, sym.regulator())
        drawn += [
            pipe([(_X + 14, y), (_X + 14, at_y), (left, at_y)], header, drawn_by(desk, regulator.serves), "of-pod"),
            pipe([(right, at_y), (_X + _WIDE, at_y)], read, drawn_by(desk, regulator.serves), "of-pod"),
            at(_X + 54, at_y, body, scale=scale),
        ]
    return drawn


def _connector(desk: DrawingContext, pod: Pod, top: float) -> Markup | None:
    """What holds a pod in its receiver: latches that move in as it locks, on the pod's edge."""
    held = desk.rig.joining(pod.id)
    if held is None:
        return None
    bound = of(desk, f"{held.id}.position")
    body = el("path", {"class": "stack-body", "d": "M-13 -12H13V4H-13Z"})
    drawn = part(desk, held.id, held.name, bound or f"{held.id}.valve", body, movers("connector", 10.0, bound))
    return at(_X + _WIDE / 2.0, top - 4.0, drawn)


def _pod(desk: DrawingContext, pod: Pod, y: float, side: float, rise: float, state: str | None) -> list[Child]:
    """The supply line to one pod, its box, and the regulators in it."""
    half = _half(desk)
    way: list[Point] = [(_SELECTOR + 11, MAIN + side), (rise, MAIN + side), (rise, y), (_X + 14, y)]
    frame = {"x": _X, "y": y - half, "width": _WIDE, "height": 2.0 * half, "rx": 8}
    box = [el("rect", {"class": css, **frame}) for css in ("pod-edge", f"pod pod-{pod.id}")]
    own = of(desk, "pilot.pressure")
    return [
        _connector(desk, pod, y - half),
        part(desk, f"pod_{pod.id}", pod.name, state, box),
        _of_pod(pod, state, pipe(way, of(desk, "accumulator.pressure"), of(desk, "totaliser.flow"), css="of-pod")),
        label(_X + _WIDE / 2.0, y + half + 18, pod.name, "middle strong"),
        _of_pod(pod, state, _regulators(desk, y)),
        pipe([(SEA + 12, y + 20), (_X, y + 20)], own, css="pilotline", thin=True),
    ]


def _stack_bottles(desk: DrawingContext, state: str | None) -> list[Child]:
    """Bottles on the stack, between the pods, on the supply of whichever pod is selected.

    Several banks stand one below the other, smaller, each with the last word of its name or its number beside it.
    """
    header = of(desk, "accumulator.pressure")
    banks, middle = desk.rig.stack_banks, MAIN + (46.0 if len(desk.rig.pods) > 2 else 0.0)
    if not banks:
        return []
    scale, pitch = {1: (1.0, 0.0), 2: (0.6, 34.0)}.get(len(banks), (0.45, 25.0))
    heights = [middle + pitch * (k - (len(banks) - 1) / 2.0) for k in range(len(banks))]
    drawn: list[Child] = [
        _of_pod(pod, state, pipe([(_RISE, middle), (_RISE, MAIN + side), (rise, MAIN + side)], header, css="of-pod"))
        for pod, side, rise in zip(desk.rig.pods, _sides(desk), _rises(desk), strict=True)
    ]
    if len(banks) > 1:
        drawn.append(pipe([(_RISE, heights[0]), (_RISE, heights[-1])], header))
    for k, (bank, y) in enumerate(zip(banks, heights, strict=True), start=1):
        told = bank.name.removeprefix("Stack bottles").rsplit(" ", 1)[-1] or str(k)
        x = _X + 12.0 + 44.0 * scale
        fluid = sym.accumulator(of(desk, f"{bank.id}.fluid"), fluid_height(desk, bank))
        shut = desk.rig.isolating(bank.id)
        drawn += [
            pipe([(_RISE, y), (x - 44.0 * scale, y)], header),
            at(_RISE + 28, y, gate(desk, shut), scale=min(1.0, scale + 0.2)) if shut else None,
            at(x, y, part(desk, bank.id, bank.name, f"{bank.id}.pressure", fluid), turn=90, scale=scale),
            label(x - 6, y + 36, bank.name, "middle small")
            if len(banks) == 1
            else label(x + 44.0 * scale + 4, y + 4, told, "small"),
        ]
    return drawn


def _shuttles(desk: DrawingContext, heights: list[float], state: str | None) -> list[Child]:
    """One shuttle a supply: it lets the pod with pressure through to the bus."""
    found = desk.rig.power_regulators
    pods, levels = desk.rig.pods, feeds(desk)
    drawn: list[Child] = []
    for k, regulator in enumerate(found):
        supply = regulator.serves
        read, gives = of(desk, f"{regulator.id}.readback"), drawn_by(desk, supply)
        # Lines nest when the supply whose pipe starts highest turns down last.
        x = _X + _WIDE + 12.0 + 16.0 * (k if len(found) > 1 else 1)
        y = levels[supply]
        for i, (pod, middle) in enumerate(zip(pods, heights, strict=True)):
            start = middle + _offset(desk, k)
            end = y - 18.0 if middle <= MAIN and i < max(1, len(pods) - 1) else y + 18.0
            drawn.append(_of_pod(pod, state, pipe([(_X + _WIDE, start), (x, start), (x, end)], read, gives, "of-pod")))
        drawn += [
            pipe([(x + 18, y), (bus(desk, supply), y)], read, gives),
            at(x, y, part(desk, "shuttle", f"Shuttle valve, {supply} supply", read, sym.shuttle())),
            knot(bus(desk, supply), y),
        ]
    return drawn


def _numbers(desk: DrawingContext, top: float) -> list[Child]:
    """The read-back of every regulator, in two columns under the pods."""
    found = [r for r in desk.rig.power_regulators if desk.has(f"{r.id}.readback")]
    columns = 1 if len(found) <= 2 else 2
    drawn: list[Child] = [label(SEA + 8, top, "Read-back", "strong")] if found else []
    for i, regulator in enumerate(found):
        x = SEA + 8.0 + 112.0 * (i % columns)
        y = top + 22.0 + 40.0 * (i // columns)
        title = regulator.name.removesuffix(" regulator")
        drawn += [label(x, y, title, "small"), value(desk, x, y + 18, f"{regulator.id}.readback")]
    return drawn


def _pods(desk: DrawingContext) -> Markup:
    """Selector, umbilical, pods, shuttles and stack bottles."""
    state = of(desk, "pod_selector.position")
    own = of(desk, "pilot.pressure")
    heights, pods = _heights(desk), [pod.id for pod in desk.rig.pods]
    pilot: list[Point] = [(896, PILOT + 10), (896, PILOT + 46), (SEA + 12, PILOT + 46), (SEA + 12, heights[-1] + 20)]
    return join(
        el("path", {"class": "sea", "d": f"M{SEA:g} 112H1412V836H{SEA:g}Z"}),
        label(SEA + 8, 132, "Sea floor"),
        label(SEA - 8, 108, "Rig", "end"),
        at(_SELECTOR, MAIN, part(desk, "pod_selector", "Pod selector", state, sym.selector(state, pods))),
        label(_RISE - 6, MAIN + 56, "Pod selector", "end"),
        value(desk, _RISE - 6, MAIN + 76, "pod_selector.position", "end state"),
        pipe(pilot, own, css="pilotline", thin=True),
        telemetry_symbol(desk, 896, PILOT - 4),
        label(SEA - 8, PILOT + 64, "umbilical" if desk.rig.plant.telemetry is None else "cables", "small end"),
        _stack_bottles(desk, state),
        [
            _pod(desk, pod, y, side, rise, state)
            for pod, y, side, rise in zip(desk.rig.pods, heights, _sides(desk), _rises(desk), strict=True)
        ],
        _shuttles(desk, heights, state),
        _numbers(desk, max(heights[-1] + _half(desk) + 44.0, MAIN + 84.0)),
    )


def _inline(desk: DrawingContext) -> Markup:
    """Regulators in line, one branch each, for a stack at the surface."""
    found = desk.rig.power_regulators
    header = of(desk, "accumulator.pressure")
    flow = moves(desk, (f for r in found for f in desk.rig.functions if f.supply == r.serves))
    levels = feeds(desk)
    drawn: list[Child] = [pipe([(HEADER_END, MAIN), (960, MAIN)], header, flow)]
    if levels:
        drawn.append(pipe([(960, min(levels.values())), (960, max(levels.values()))], header))
    for regulator in found:
        supply = regulator.serves
        y, read = levels[supply], of(desk, f"{regulator.id}.readback")
        drawn += [
            pipe([(960, y), (1040, y)], header),
            pipe([(1080, y), (bus(desk, supply), y)], read),
            stream([(960, MAIN), (960, y), (1040, y)], drawn_by(desk, supply)),
            stream([(1080, y), (bus(desk, supply), y)], drawn_by(desk, supply)),
            at(1060, y, part(desk, regulator.id, regulator.name, read, sym.regulator())),
            knot(bus(desk, supply), y),
            label(1060, y - 44, regulator.name, "middle"),
            value(desk, 1060, y + 44, f"{regulator.id}.readback", "middle"),
        ]
    return join(drawn)


def control(desk: DrawingContext) -> Markup:
    """Everything between the header's end and the function buses: pods, or the lines that go without."""
    x, header = HEADER_END, of(desk, "accumulator.pressure")
    count = of(desk, "totaliser.count")
    if count is None:
        return _pods(desk) if desk.rig.pods else _inline(desk)
    return join(
        _pods(desk) if desk.rig.pods else _inline(desk),
        pipe([(x, MAIN), (x + 102, MAIN)], header, of(desk, "totaliser.flow")),
        at(x + 50, MAIN, part(desk, "totaliser", "Flow totaliser", count, sym.flow_meter())),
        label(x + 44, MAIN - 58, "Totaliser", "middle"),
        value(desk, x + 44, MAIN - 38, "totaliser.count", "middle"),
        value(desk, x + 44, MAIN + 36, "totaliser.flow", "middle small"),
    )
