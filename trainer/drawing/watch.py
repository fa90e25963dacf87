"""What finds trouble, near the eye at the driller's panel: flow, pit gain, pressures of the well, all alarms.

Each instrument leaves room on its right for its trend, which the page lays there. Once a preventer's lamp shows
closed, the pressures are the large ones: from then on they show what the well does.
"""

from __future__ import annotations

from typing import Final

from trainer import naming
from trainer.drawing.context import DrawingContext
from trainer.drawing.controls import push, warning_lamp
from trainer.drawing.frame import deck, section
from trainer.drawing.markup import Child, Markup, command, el, hidden, live
from trainer.plant.alarms import by_priority
from trainer.plant.names import ALARM_WORDS

TALL: Final = 96  # design units, whatever stands below
#: Alarms that the driller sets: tag, name, and the command and reading of the set point.
WELL_ALARMS: Final = (
    ("alarm.flow_difference", "Flow difference", "alarms.flow_difference_limit"),
    ("alarm.pit_gain", "Pit gain", "alarms.pit_gain_limit"),
)
HELD: Final = "alarms.well_held"
TRIP_TANK: Final = "trip_tank.line_up"


def _set_point(desk: DrawingContext, tag: str, limit: str) -> Markup | None:
    """Where the alarm stands, or that it is paused; nothing without the alarm."""
    if not desk.has(limit):
        return None
    return el(
        "p",
        {"class": "watch-alarm", "data-state": HELD},
        el(
            "span",
            {"class": "watch-set"},
            el("span", {"class": "watch-key watch-key-dashed", "aria-hidden": "true"}),
            " alarm ±",
            live(limit),
        ),
        el(
            "span",
            {"class": "watch-waits", "role": "status", "data-state": TRIP_TANK if desk.has(TRIP_TANK) else None},
            el("span", {"class": "waits-pumps"}, "alarm paused"),
            el("span", {"class": "waits-tank"}, "paused: trip tank"),
        ),
    )


def _cell(desk: DrawingContext, css: str, name: str, alarm: str | None, *inside: Child) -> Markup:
    return el(
        "section",
        {"class": f"watch {css}", "aria-label": name, "data-state": alarm if alarm and desk.has(alarm) else None},
        el("div", {"class": "watch-words"}, inside),
    )


def _line(tag: str, name: str, key: str) -> Markup:
    """A reading with its name and a piece of the line that draws it on the trend."""
    return el(
        "p",
        {"class": "watch-line", "data-tag": tag},
        el("span", {"class": f"watch-key watch-key-{key}", "aria-hidden": "true"}),
        el("span", {"class": "watch-word"}, name),
        live(tag, "–", **{"class": "watch-value"}),
    )


def _plain(tag: str, name: str) -> Markup:
    return el("p", {"class": "watch-line", "data-tag": tag}, el("span", {"class": "watch-word"}, name), live(tag, "–"))


def _big(tag: str, name: str) -> Markup:
    return el(
        "p",
        {"class": "watch-main", "data-tag": tag},
        el(
            "span",
            {"class": "watch-name"},
            el("span", {"class": "watch-key watch-key-solid", "aria-hidden": "true"}),
            f" {name}",
        ),
        live(tag, "–", **{"class": "watch-big"}),
    )


def _instruments(desk: DrawingContext) -> list[Markup]:
    flow_tag, pit_tag = WELL_ALARMS[0], WELL_ALARMS[1]
    closed = [
        el("i", {"class": "shutter", "hidden": "hidden", "data-state": f"{f.id}.lamp_close"})
        for f in desk.rig.column()
        if f.kind != "connector" and desk.has(f"{f.id}.lamp_close")
    ]
    flow = _cell(
        desk,
        "watch-flow",
        "Flow",
        flow_tag[0],
        _big("well.flow_difference", "Flow out − in"),
        # The trend beside it draws the difference: these two are on the page of trends.
        _plain("well.flow_out", "out"),
        _plain("well.flow_in", "in"),
        _set_point(desk, flow_tag[0], flow_tag[2]),
        closed,
        el("p", {"class": "watch-note"}, "choke not counted"),
    )
    pit = _cell(
        desk,
        "watch-pit",
        "Pit gain",
        pit_tag[0],
        _big("well.pit_gain", "Pit gain"),
        _plain("well.bit_depth", "Bit"),
        _plain("well.hole_depth", "Hole"),
        _set_point(desk, pit_tag[0], pit_tag[2]),
    )
    pressure = _cell(
        desk,
        "watch-pressure",
        "Pressures of the well",
        None,
        el("p", {"class": "watch-name"}, "Pressure"),
        _line("well.drillpipe_pressure", "Drill pipe", "solid"),
        _line("well.casing_pressure", "Casing", "dashed"),
    )
    return [flow, pit, pressure]


def settings(desk: DrawingContext) -> Markup:
    """The set points of the well's alarms and the sound of this page, opened when asked for."""
    forms = [
        el(
            "form",
            {"class": "set-alarm", "data-send": command("set", limit), "aria-label": f"{name} alarm"},
            el("label", {"for": f"set-{tag.partition('.')[2]}"}, f"{name} alarm, now ±", live(limit)),
            el(
                "input",
                {
                    "id": f"set-{tag.partition('.')[2]}",
                    "name": "value",
                    "inputmode": "decimal",
                    "autocomplete": "off",
                    "required": "required",
                    "maxlength": 8,
                },
            ),
            el("span", {"data-unit": limit}, ""),
            el("button", {"class": "push", "type": "submit"}, "Set", hidden(f" {name} alarm")),
        )
        for tag, name, limit in WELL_ALARMS
        if desk.has(limit)
    ]
    return el(
        "div",
        {"class": "settings", "id": "alarm-settings", "popover": "auto", "role": "dialog", "aria-label": "Alarms"},
        el("h2", {"class": "area-title"}, "Alarms of the well"),
        forms,
        el(
            "p",
            {"class": "settings-note"},
            "Both alarms are paused while the mud pumps change speed. The flow alarm stays paused 30 s longer, and "
            "while the returns go to the trip tank.",
        )
        if forms
        else None,
        el(
            "button",
            {"class": "push", "type": "button", "data-sound-switch": "", "aria-pressed": "false"},
            "Sound of the horn",
        ),
        el("button", {"class": "push", "type": "button", "popovertarget": "alarm-settings"}, "Hide"),
    )


def alarm_lamps(desk: DrawingContext) -> list[Markup]:
    """Lamps of all alarms of the plant, the most pressing first, each with its word."""
    return [
        warning_lamp(tag, ALARM_WORDS.get(tag, naming.title(tag.removeprefix("alarm."))))
        for tag in by_priority(desk.signals)
    ]


def watch_panel(desk: DrawingContext) -> Markup:
    """Well instruments, alarm lamps, and the keys that belong to them."""
    setter = (
        el("button", {"class": "push push-set", "type": "button", "popovertarget": "alarm-settings"}, "Set alarms")
        if desk.has(HELD)
        else None
    )
    return deck(
        "watch",
        "driller",
        TALL,
        _instruments(desk),
        section(
            "Alarms",
            "alarm-block",
            el("div", {"class": "warnings", "role": "group", "aria-label": "Warning lamps"}, alarm_lamps(desk), setter),
            el(
                "div",
                {"class": "alarm-keys"},
                push("Acknowledge", "alarms.acknowledge", "push-main"),
                push("Silence", "alarms.silence"),
                push("Lamp test", "driller.lamp_test"),
            ),
            label=False,
        ),
        settings(desk),
    )
