"""The frame every board stands in: title, station, warning lamps and the buttons that belong to them."""

from __future__ import annotations

from trainer import naming
from trainer.drawing.context import DrawingContext
from trainer.drawing.controls import push, warning_lamp
from trainer.drawing.markup import Child, Markup, el, hidden
from trainer.plant.alarms import by_priority
from trainer.plant.names import ALARM_WORDS
from trainer.plant.panels import Panel


def deck(name: str, station: str, tall: int, *children: Child, css: str = "") -> Markup:
    """The root of a board's markup. ``tall`` is its height in design units: the style scales it to the room."""
    return el(
        "div",
        {
            "class": f"deck deck-{name} {css}".strip(),
            "data-board": name,
            "data-station": station,
            "role": "region",
            "aria-label": naming.title(naming.STATIONS.get(name, name)),
            "style": f"--tall:{tall}",
        },
        *children,
    )


def without_power(tag: str, words: str = "No panel power: instruments on the panels' supply show nothing.") -> Markup:
    """A sign that the panels' instruments have no power, in sight only then; ``tag`` is the reading of their supply."""
    return el("p", {"class": "no-power", "role": "status", "data-state": tag}, words)


def section(title: str, css: str, *children: Child, label: bool = True) -> Markup:
    """A titled area of a board; without ``label`` the title is only heard, not seen."""
    heading = el("h2", {"class": "area-title"}, title) if label else None
    return el("section", {"class": f"area {css}", "aria-label": title}, heading, *children)


def warnings(desk: DrawingContext, station: str = "remote") -> Markup:
    """The control system's warning lamps in a row, the most pressing first: the well's are the driller's."""
    tags = [tag for tag in by_priority(desk.signals) if station in desk.signals[tag].station]
    lamps = [warning_lamp(t, ALARM_WORDS.get(t, naming.title(t.removeprefix("alarm.")))) for t in tags]
    return el("div", {"class": "warnings", "role": "group", "aria-label": "Warning lamps"}, lamps)


def head(desk: DrawingContext, station: str, title: str, panel: Panel | None = None) -> Markup:
    """Title with warning lamps, acknowledge, silence and lamp test. Who sets a regulator is shown beside each.

    A further ``panel`` has what its declaration says.
    """
    tests = station in ("driller", "remote") if panel is None else panel.electric
    # The horn is acknowledged where the lamps are: at the panels and at the unit.
    acknowledges = station != "floor" if panel is None else panel.warnings
    acknowledge = [push("Acknowledge", "alarms.acknowledge", "push-main"), push("Silence", "alarms.silence")]
    return el(
        "header",
        {"class": "head"},
        el("div", {"class": "head-title"}, el("h2", {}, title), hidden("Station: ", station)),
        warnings(desk) if panel is None else warnings(desk, station) if panel.warnings else None,
        el(
            "div",
            {"class": "head-keys"},
            acknowledge if acknowledges else None,
            push("Lamp test", "driller.lamp_test") if tests else None,
        ),
    )
