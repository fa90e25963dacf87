"""Fluid-power symbols after ISO 1219-1, each drawn about its own origin as one ``<g>``.

Ports lie on the horizontal axis unless a docstring says otherwise; fluid enters on the left. A symbol of size s fits
a square of side s. Place one with ``at``.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from trainer.drawing.markup import Child, Markup, el, shorten

BOTTLE: Final = 72.0  # height of fluid in a full bottle
PORT: Final = 24.0  # half the length of an inline symbol between its two ports


def at(x: float, y: float, *drawn: Child, turn: float = 0.0, scale: float = 1.0) -> Markup:
    """The drawing moved to (x, y), turned clockwise by ``turn`` degrees and scaled."""
    moved = f"translate({shorten(x)} {shorten(y)})"
    if turn:
        moved += f" rotate({shorten(turn)})"
    if scale != 1.0:
        moved += f" scale({shorten(scale)})"
    return el("g", {"transform": moved}, *drawn)


def _symbol(name: str, *children: Child, **attributes: object) -> Markup:
    given = {"class": f"sym sym-{name}", **{k.replace("_", "-"): v for k, v in attributes.items()}}
    return el("g", given, *children)


def _line(d: str, css: str = "sym-line") -> Markup:
    return el("path", {"class": css, "d": d})


def pump(drive: str = "electric", running: str | None = None) -> Markup:
    """Fixed pump, one direction: circle with a filled triangle towards the outlet; the driver stands above.

    ``drive`` "electric" draws a motor (circle with M), "air" an open triangle towards the shaft (air motor).
    ``running`` is the state reading that fills the circle while the pump runs.
    """
    if drive == "air":
        driver = [el("circle", {"class": "sym-body", "cy": -38, "r": 13}), _line("M-7 -44L7 -44L0 -33Z")]
    else:
        driver = [
            el("circle", {"class": "sym-body", "cy": -38, "r": 13}),
            el("text", {"class": "sym-letter", "y": -33}, "M"),
        ]
    return _symbol(
        "pump",
        _line(f"M{-PORT} 0H{PORT}"),
        _line("M0 -25V-17", "sym-shaft"),
        driver,
        el("circle", {"class": "sym-body sym-turning", "r": 19}),
        el("path", {"class": "sym-solid", "d": "M19 0L4 -10V10Z"}),
        data_state=running,
    )


def check_valve() -> Markup:
    """Check valve: free flow left to right, a ball held on its seat against return."""
    return _symbol(
        "check",
        _line("M-24 0H-9M7 0H24"),
        _line("M4 -11L-10 0L4 11"),
        el("circle", {"class": "sym-body", "cx": 0, "r": 7}),
    )


def filter_element() -> Markup:
    """Filter or strainer: a square on its corner with a dashed element across the flow."""
    return _symbol(
        "filter",
        _line("M-24 0H-17M17 0H24"),
        el("path", {"class": "sym-body", "d": "M-17 0L0 -17L17 0L0 17Z"}),
        el("path", {"class": "sym-dash", "d": "M0 -17V17"}),
    )


def shut_off(state: str | None = None) -> Markup:
    """Two-way shut-off valve: two triangles tip to tip; filled while shut when bound to a hand valve's state."""
    return _symbol(
        "shutoff",
        _line("M-24 0H-13M13 0H24"),
        el("path", {"class": "sym-body sym-gate", "d": "M-13 -9L13 9V-9L-13 9Z"}),
        data_state=state,
    )


def air_valve(state: str | None = None) -> Markup:
    """A shut-off valve worked by air: the open triangle of air pressure stands above it."""
    return _symbol("airvalve", shut_off(state), _line("M0 0V-15"), _line("M-8 -26H8L0 -15Z"))


def throttle() -> Markup:
    """Adjustable restriction: two arcs that narrow the line, and the slanted arrow of adjustment."""
    return _symbol(
        "throttle",
        el("circle", {"class": "sym-body", "r": 15}),
        _line("M-24 0H24M-10 -11Q0 -2 10 -11M-10 11Q0 2 10 11"),
        _line("M-16 16L16 -16M16 -16L9 -14M16 -16L14 -9"),
    )


def spring(x: float, y: float, length: float = 14.0) -> Markup:
    """A spring, lying, from (x, y) to the right over ``length``, in units of the sheet."""
    step = length / 6.0
    d = f"M{shorten(x)} {shorten(y)}" + "".join(f"l{shorten(step)} {'-5' if i % 2 else '5'}" for i in range(6))
    return _line(d)


def relief_valve() -> Markup:
    """Relief valve: one box, its arrow off the line at rest, spring on one side, pilot from the inlet (dashed)."""
    return _symbol(
        "relief",
        el("rect", {"class": "sym-body", "x": -14, "y": -14, "width": 28, "height": 28}),
        _line("M-24 0H-14M14 0H24"),
        _line("M-10 6H6"),
        el("path", {"class": "sym-solid", "d": "M11 6L4 2V10Z"}),
        el("path", {"class": "sym-dash", "d": "M-20 0V20H0V14"}),
        el("g", {"transform": "translate(0 -14) rotate(-90)"}, spring(0.0, 0.0, 12.0)),
    )


def regulator() -> Markup:
    """Pressure-reducing valve: arrow in line at rest, control line from the outlet, spring with a set arrow."""
    return _symbol(
        "regulator",
        el("rect", {"class": "sym-body", "x": -15, "y": -15, "width": 30, "height": 30}),
        _line("M-24 0H-15M15 0H24M-11 0H5"),
        el("path", {"class": "sym-solid", "d": "M11 0L4 -4V4Z"}),
        el("path", {"class": "sym-dash", "d": "M20 0V21H0V15"}),
        el("g", {"transform": "translate(0 -15) rotate(-90)"}, spring(0.0, 0.0, 12.0)),
        _line("M-9 -15L9 -29M9 -29L3 -28M9 -29L7 -23"),
    )


def accumulator(fraction: str | None = None, full: float = BOTTLE) -> Markup:
    """Gas-loaded accumulator, port at the bottom centre (0, 44): capsule, gas above the separator, fluid below.

    ``fraction`` binds the fluid's height to a reading; ``full`` is the height at the end of that reading's range.
    """
    fill = el(
        "rect",
        {
            "class": "sym-fluid",
            "x": -18,
            "y": -6,
            "width": 36,
            "height": 44,
            "data-fill": fraction,
            "data-full": full if fraction else None,
            "data-bottom": 36 if fraction else None,
        },
    )
    return _symbol(
        "accumulator",
        el("rect", {"class": "sym-body", "x": -19, "y": -38, "width": 38, "height": 76, "rx": 19}),
        el("g", {"clip-path": "inset(0 round 17px)"}, fill),
        el("rect", {"class": "sym-outline", "x": -19, "y": -38, "width": 38, "height": 76, "rx": 19}),
        _line("M-19 -4H19M0 38V44"),
        el("path", {"class": "sym-open", "d": "M-6 -28H6L0 -18Z"}),
    )


def tank(width: float, height: float, level: str | None = None) -> Markup:
    """Open reservoir, top left at the origin; ``level`` binds the fluid's height to a reading."""
    return _symbol(
        "tank",
        el("rect", {"class": "sym-body-plain", "x": 0, "y": 0, "width": width, "height": height}),
        el(
            "rect",
            {
                "class": "sym-fluid",
                "x": 0,
                "y": height * 0.3,
                "width": width,
                "height": height * 0.7,
                "data-fill": level,
                "data-full": height if level else None,
                "data-bottom": height if level else None,
            },
        ),
        _line(f"M0 0V{shorten(height)}H{shorten(width)}V0", "sym-wall"),
    )


def circled(d: str) -> Markup:
    """A symbol of its own: the path ``d`` over a circle, fluid from left to right."""
    return _symbol("circled", el("circle", {"class": "sym-body", "r": 15}), _line(d))


def flow_meter() -> Markup:
    """Totalising flow meter: circle with two arcs of flow and a counter box above."""
    return _symbol(
        "meter",
        _line("M-24 0H-17M17 0H24"),
        el("circle", {"class": "sym-body", "r": 17}),
        _line("M-5 -9Q1 0 -5 9M5 -9Q-1 0 5 9"),
        el("rect", {"class": "sym-body", "x": -11, "y": -30, "width": 22, "height": 11}),
    )


def pressure_gauge(bound: str | None = None) -> Markup:
    """Pressure gauge, port at the bottom (0, 26): circle with a pointer that follows the reading."""
    needle = el("path", {"class": "sym-needle", "d": "M-2 4L0 -14L2 4Z"})
    moved = (
        {"data-needle": bound, "data-sweep-from": -130, "data-sweep-to": 130} if bound else {"transform": "rotate(40)"}
    )
    return _symbol("gauge", _line("M0 18V26"), el("circle", {"class": "sym-body", "r": 18}), el("g", moved, needle))


def four_way(state: str | None, scale: float = 1.0) -> Markup:
    """4/3 directional valve: open, block and close boxes side by side; the box in force is marked.

    Ports P and T below, A and B to the right in the drawing's convention. ``state`` binds the box in force.
    """
    size = 20.0
    boxes = []
    for i, (position, inside) in enumerate(
        (
            ("open", "M-5 7V-7M-8 -3L-5 -8L-2 -3M5 -7V7M2 3L5 8L8 3"),
            ("block", "M-5 8V3M-8 3H-2M5 8V3M2 3H8M-5 -8V-3M-8 -3H-2M5 -8V-3M2 -3H8"),
            ("close", "M-6 7L6 -7M1 -6L6 -7L6 -2M6 7L-6 -7M-1 -6L-6 -7L-6 -2"),
        )
    ):
        x = (i - 1) * size
        boxes.append(
            el(
                "g",
                {"class": f"way way-{position}", "transform": f"translate({shorten(x)} 0)"},
                el("rect", {"class": "way-box", "x": -size / 2, "y": -size / 2, "width": size, "height": size}),
                el("path", {"class": "way-path", "d": inside}),
            )
        )
    inner = _symbol("fourway", boxes, data_state=state)
    return at(0.0, 0.0, inner, scale=scale) if scale != 1.0 else inner


def selector_places(pods: Sequence[str]) -> dict[str, float]:
    """How far below the middle of the pod selector's symbol each position stands: block after the first pod."""
    order = [*pods[:1], "block", *pods[1:]] if len(pods) < 3 else [*pods[:2], "block", *pods[2:]]
    return {position: 22.0 * (i - (1.0 if len(order) < 4 else 1.5)) for i, position in enumerate(order)}


def selector(state: str | None, pods: Sequence[str] = ("yellow", "blue")) -> Markup:
    """Pod selector as a valve with a position for each pod and one in block; one inlet at the left."""
    up, down, stop = "M-8 0H2L8 -7M3 -7H8V-2", "M-8 0H2L8 7M3 7H8V2", "M-8 0H-3M-3 -5V5"
    boxes = []
    for position, below in selector_places(pods).items():
        inside = stop if position == "block" else (up if below < 0.0 else down)
        boxes.append(
            el(
                "g",
                {"class": f"way way-{position}", "transform": f"translate(0 {shorten(below)})"},
                el("rect", {"class": "way-box", "x": -11, "y": -11, "width": 22, "height": 22}),
                el("path", {"class": "way-path", "d": inside}),
            )
        )
    return _symbol("selector", boxes, data_state=state)


def shuttle() -> Markup:
    """Shuttle valve: inlets above (0, -18) and below (0, 18), outlet right (18, 0); a ball shuts the weaker inlet."""
    return _symbol(
        "shuttle",
        el("rect", {"class": "sym-body", "x": -11, "y": -18, "width": 22, "height": 36}),
        _line("M-6 -12L0 -6L6 -12M-6 12L0 6L6 12M11 0H18"),
        el("circle", {"class": "sym-ball", "r": 5}),
    )


def reservoir() -> Markup:
    """The tank, repeated at the end of a return line: an open trough about the line's end at the origin."""
    return _symbol("reservoir", _line("M0 -6V8"), _line("M-12 0V11H12V0", "sym-wall"))


def vent() -> Markup:
    """Fluid let out, to sea or tank: a short line with an open arrow."""
    return _symbol("vent", _line("M0 0V10"), el("path", {"class": "sym-open", "d": "M-5 10H5L0 18Z"}))
