"""The drill floor: rotary, hoist, mud pumps, safety valve, choke, pit and flow instruments, test unit.

Two forms: a strip to stand under a panel, so that a whole drill is in view at once, and a full board.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from trainer.drawing.context import DrawingContext
from trainer.drawing.controls import field, hold, lever, push, setting
from trainer.drawing.frame import deck, section
from trainer.drawing.gauges import dial, readout
from trainer.drawing.markup import Child, Markup, command, el, hidden, live
from trainer.wording import written

STRIP_TALL: Final = 92
_DEPTHS: Final = ("well.bit_depth", "Bit depth"), ("well.hole_depth", "Hole depth")
_LOADS: Final = ("floor.hook_load", "Hook load"), ("floor.bit_weight", "Weight on bit"), ("floor.rop", "Drilling rate")
#: Readings beside a post that are not that post's own.
_WORDS: Final = {"well.pit_volume": "pit ", "well.standpipe": "SPP "}
_DIALS: Final = (
    ("well.flow_out", "Flow out"),
    ("well.flow_in", "Flow in"),
    ("well.standpipe", "Standpipe"),
    ("well.pit_gain", "Pit gain"),
    ("well.drillpipe_pressure", "Drill pipe pressure"),
    ("well.casing_pressure", "Casing pressure"),
    ("well.pit_volume", "Pit volume"),
    ("trip_tank.volume", "Trip tank"),
)


def _post(
    desk: DrawingContext, tag: str, name: str, *buttons: Child, more: Child = None, beside: str = "", shown: bool = True
) -> Markup | None:
    """One place to work at: its name, its reading (unless the buttons show it), its buttons.

    ``more`` stands below them, the reading ``beside`` before the post's own.
    """
    if not desk.has(tag):
        return None
    keys = sum(button is not None for button in buttons)
    return section(
        name,
        f"post post-{keys}",
        el(
            "p",
            {"class": "post-line"},
            el("span", {"class": "post-name"}, name),
            el("span", {"class": "post-beside", "data-title": beside}, _WORDS.get(beside), live(beside))
            if desk.has(beside)
            else None,
            el("span", {"class": "post-value"}, live(tag)) if shown else None,
        ),
        el("div", {"class": "row"}, *buttons),
        more,
        label=False,
    )


def _settings(target: str, name: str, *pairs: tuple[str, float]) -> list[Markup]:
    return [setting(word, target, value, name) for word, value in pairs]


def _steps(target: str, name: str, *pairs: tuple[str, float]) -> list[Markup]:
    """Buttons that hoist by a step each."""
    return [
        el(
            "button",
            {"class": "option", "type": "button", "data-send": command("hoist", target, value)},
            hidden(f"{name}: "),
            el("span", {"class": "option-word"}, written(word)),
        )
        for word, value in pairs
    ]


def _stabbed(desk: DrawingContext) -> Markup | None:
    if not desk.has("floor.stabbed"):
        return None
    # Stabbing takes a while, and nothing else moves meanwhile: how long it still takes stands beside it.
    left = el("b", {"data-text": "page.stabbing"}, "")
    return el("p", {"class": "post-note"}, "Stabbed: ", live("floor.stabbed", "no"), left)


def _states(target: str, name: str, *pairs: tuple[str, str]) -> list[Markup]:
    return [setting(word, target, value, name, target) for value, word in pairs]


def _posts(desk: DrawingContext, full: bool) -> list[Markup | None]:
    """The controls of the floor; ``full`` adds what a drill seldom needs and finer steps."""
    rotary = (("Stop", 0.0), ("60", 60.0), ("110", 110.0)) if full else (("Stop", 0.0), ("110", 110.0))
    pumps = (("Stop", 0.0), ("30", 30.0), ("70", 70.0), ("110", 110.0))
    hook = [
        lever("Down", "floor.hoist", "down", "Hoist"),
        lever("Up", "floor.hoist", "up", "Hoist"),
        *_steps("floor.hook", "Hoist", ("−1 ft", -1.0), ("+1 ft", 1.0)),
    ]
    stab = push("Stab", "floor.stab") if full and desk.has("floor.stabbed") else None
    valve = _states("floor.safety_valve", "Safety valve", ("open", "Open"), ("shut", "Shut"))
    drive = _states("floor.top_drive", "Top drive", ("on", "Made up"), ("off", "Off"))
    trip = _states("floor.trip", "Tripping", ("stop", "Stop"), ("out", "Out"), ("in", "In"))
    line_up = _states("trip_tank.line_up", "Trip tank", ("on", "Lined up"), ("off", "Off"))
    zero = push("Zero", "well.pit_reset", note="pit gain")
    posts = [
        _post(desk, "floor.rotary", "Rotary", *_settings("floor.rotary", "Rotary", *rotary)),
        _post(desk, "floor.hook", "Hoist", *hook, beside="floor.hook_load"),
        _post(
            desk,
            "floor.mud_pumps",
            "Mud pumps",
            *_settings("floor.mud_pumps", "Mud pumps", *pumps),
            field("floor.mud_pumps", "Mud pumps") if full else None,
            beside="" if full else "well.pit_volume",
        ),
        _post(desk, "floor.top_drive", "Top drive", *drive) if full else None,
        _post(
            desk,
            "floor.safety_valve",
            "Safety valve",
            stab,
            *valve,
            more=_stabbed(desk),
            shown=full,
        ),
        # The full floor has a panel for the choke.
        None if full else _post(desk, "floor.choke", "Choke", *_choke_keys(), beside="well.standpipe"),
        _post(desk, "floor.trip", "Tripping", *trip) if full else None,
        _post(desk, "trip_tank.line_up", "Trip tank and pit", *line_up, zero) if full else None,
    ]
    return [post for post in posts if post is not None]


def _choke_keys() -> list[Markup]:
    """The choke's keys, from shut to open."""
    shut, opened = _settings("floor.choke", "Choke", ("Shut", 0.0), ("Open", 100.0))
    # A tap is one per cent; held, it goes on at a third of the pace of the choke itself, so it never runs ahead.
    taps = [hold("1 %", way, "floor.choke", 1.0, "Choke", way) for way in ("lower", "raise")]
    return [shut, *taps, opened]


def _choke_panel(desk: DrawingContext) -> Markup | None:
    """The choke: its stem drawn where it stands in the seat, what it is watched by, and its keys."""
    if not desk.has("floor.choke"):
        return None
    stem = el("path", {"class": "choke-stem", "d": "M62 45L80 35H172V55H80Z"})
    body = el(
        "svg",
        {"class": "choke-body", "viewBox": "0 0 180 90", "aria-hidden": "true", "focusable": "false"},
        el("path", {"class": "choke-case", "d": "M4 28H40V6H84V28H150V62H84V84H40V62H4Z"}),
        el(
            "path",
            {"class": "choke-bore", "d": "M4 36H60V54H4ZM60 36L70 30V60L60 54ZM52 54H72V84H52ZM70 30H150V60H70Z"},
        ),
        el("path", {"class": "choke-seat", "d": "M56 30H64V40L58 44.5H56ZM56 60H64V50L58 45.5H56Z"}),
        el("g", {"data-shift": "floor.choke", "data-dx": 34, "data-dy": 0}, stem),
        el("path", {"class": "choke-way", "d": "M10 45H30M24 40L31 45L24 50M62 66V80M57 74L62 81L67 74"}),
    )
    shown = (
        ("floor.choke", "Opening"),
        ("well.drillpipe_pressure", "Drill pipe"),
        ("well.casing_pressure", "Casing"),
        ("floor.strokes", "Strokes"),
    )
    return section(
        "Choke panel",
        "choke-panel",
        body,
        el("div", {"class": "choke-shown"}, [readout(tag, name) for tag, name in shown if desk.has(tag)]),
        el("div", {"class": "row"}, *_choke_keys(), field("floor.choke", "Choke")),
        el("p", {"class": "post-note"}, "Returns through the choke do not pass Flow out."),
    )


def floor_strip(desk: DrawingContext) -> Markup:
    """The drill floor in one row, about 90 units tall, to stand under a panel."""
    return deck("floor-strip", "floor", STRIP_TALL, el("div", {"class": "floor-strip"}, _posts(desk, False)))


def _derrick(desk: DrawingContext) -> Markup:
    """The string in the rotary: the tool joint rises and sinks with the hook; the floor is the fixed line."""
    rise = 250.0
    joint = el(
        "g",
        {"data-shift": "floor.hook", "data-dx": 0, "data-dy": -rise},
        el("path", {"class": "string", "d": "M-7 -420H7V400H-7Z"}),
        el("path", {"class": "joint", "d": "M-7 -16L-14 -8V14L-7 22H7L14 14V-8L7 -16Z"}),
        # Beside the mast at every height: a word inside would lie across its legs higher up.
        el("path", {"class": "leader", "d": "M18 3H100"}),
        el("text", {"class": "label", "x": 104, "y": -5}, "tool"),
        el("text", {"class": "label", "x": 104, "y": 14}, "joint"),
    )
    return el(
        "div",
        {"class": "area derrick"},
        el(
            "svg",
            {
                "viewBox": "-150 -330 300 440",
                "role": "img",
                "data-title": "floor.hook",
                "aria-label": "Height of the tool joint above the rotary table",
            },
            el("clipPath", {"id": "floor-clip"}, el("rect", {"x": -150, "y": -330, "width": 300, "height": 440})),
            el("path", {"class": "mast", "d": "M-86 4L-30 -330M86 4L30 -330M-70 -90H70M-52 -200H52"}),
            el("g", {"clip-path": "url(#floor-clip)"}, joint),
            el("path", {"class": "table", "d": "M-100 4H-16V22H-100ZM100 4H16V22H100Z"}),
            el("text", {"class": "label", "x": -148, "y": 46}, "rotary table"),
            el("path", {"class": "mimic-bore", "d": "M-20 46H20V110H-20Z", "fill-opacity": 0.35}),
        ),
        el(
            "div",
            {"class": "derrick-shown"},
            [readout(tag, name) for tag, name in (*_DEPTHS, *_LOADS) if desk.has(tag)],
        ),
    )


def _mud_pits(desk: DrawingContext) -> Markup | None:
    """The pits: which mud is pumped, what the kill mud weighs, and the pumps' stroke counter."""
    if not desk.has("pits.line_up"):
        return None
    suction = _row("pits.line_up", "Suction", (("active pit", "Active pit"), ("kill pit", "Kill pit")))
    weight = el("div", {"class": "row"}, field("pits.kill_weight", "Kill mud weight"))
    zero = el("div", {"class": "row"}, push("Zero", "floor.strokes", note="strokes"))
    return section(
        "Mud pits",
        "area-pits",
        el(
            "div",
            {"class": "pit-posts"},
            el("div", {"class": "test-post"}, el("span", {"class": "post-name"}, "Suction"), suction),
            el("div", {"class": "test-post"}, readout("pits.kill_weight", "Kill mud weight"), weight),
            el("div", {"class": "test-post pit-strokes"}, readout("floor.strokes", "Strokes"), zero),
        ),
        label=False,
    )


def _test_unit(desk: DrawingContext) -> Markup | None:
    """The stack's test unit: plug, pump, bleed and chart recorder, with what they show."""
    if not desk.has("test.plug"):
        return None
    rows = (
        ("test.plug", "Test plug", ("out", "Out"), ("landed", "Land")),
        ("test.pump", "Test pump", ("stop", "Stop"), ("slow", "Slow"), ("fast", "Fast")),
        ("test.bleed", "Bleed", ("shut", "Shut"), ("cracked", "Crack"), ("open", "Open")),
        ("test.chart", "Chart", ("off", "Off"), ("running", "Run")),
    )
    shown = (
        ("test.pressure", "Test pressure"),
        ("test.held", "Held"),
        ("test.fall", "Fall"),
        ("test.pumped", "Pumped in"),
    )
    return section(
        "Test unit",
        "area-test",
        el(
            "div",
            {"class": "test-posts"},
            [
                el("div", {"class": "test-post"}, el("span", {"class": "post-name"}, name), _row(tag, name, states))
                for tag, name, *states in rows
            ],
        ),
        el("div", {"class": "test-shown"}, [readout(tag, name) for tag, name in shown]),
    )


def _row(tag: str, name: str, states: Sequence[tuple[str, str]]) -> Markup:
    return el("div", {"class": "row"}, _states(tag, name, *states))


def floor_board(desk: DrawingContext) -> Markup:
    """The full drill floor: the dials, the pumps, the choke, the string and what the driller sets."""
    dials = [dial(desk, tag, name, 102) for tag, name in _DIALS if desk.has(tag)]
    return deck(
        "floor",
        "floor",
        570,
        el(
            "div",
            {"class": "floor-body"},
            el("div", {"class": "posts"}, _posts(desk, True)),
            el("div", {"class": "floor-middle"}, _derrick(desk), _mud_pits(desk)),
            el(
                "div",
                {"class": "floor-right"},
                section("Well", "area-well", el("div", {"class": "floor-dials"}, dials)),
                _choke_panel(desk),
                _test_unit(desk),
            ),
        ),
    )
