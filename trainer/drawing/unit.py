"""The control unit itself: hand valves, pump selectors, filters, banks, regulators and the levers of every function.

Left to right along the fluid: reservoir, pumps, filters, accumulators, regulators with their gauges, then the levers.
"""

from __future__ import annotations

from typing import Final

from trainer.drawing.controls import choice, hold, position_word, push
from trainer.drawing.desk import Desk
from trainer.drawing.frame import deck, head, section
from trainer.drawing.gauges import bar, column, dial, readout
from trainer.drawing.markup import Markup, command, el, hidden, live
from trainer.drawing.rig_view import Part

_HAND: Final = (("open", "Open"), ("shut", "Shut"))
_GAUGES: Final = (
    ("accumulator.pressure", "Accumulator", "accumulator"),
    ("supply.pressure", "Pump discharge", "supply"),
    ("pilot.pressure", "Pilot", "pilot"),
    ("air.pressure", "Rig air", "air"),
)


def _reservoir(desk: Desk) -> Markup | None:
    level = f"{desk.rig.tank}.level"
    if not desk.has(level):
        return None
    return section("Mixed fluid", "area-tank", column(desk, level, "Level"))


def _hand(desk: Desk, tag: str, name: str, short: str) -> Markup | None:
    """A hand valve with two positions."""
    if not desk.has(tag):
        return None
    return choice(name, tag, _HAND, tag, "choice-small", tag, short)


def _pump(desk: Desk, pump: Part) -> Markup:
    mode, running = f"{pump.id}.mode", f"{pump.id}.running"
    options = (("off", "Off"), ("auto", "Auto"), ("manual", "Man."))
    return el(
        "div",
        {
            "class": "machine",
            "role": "group",
            "aria-label": pump.title,
            "data-state": running if desk.has(running) else None,
        },
        choice(pump.title, mode, options, mode, "choice-stacked", pump.id),
        el("span", {"class": "machine-lamp"}, "running ", live(running, "no")) if desk.has(running) else None,
    )


def _pumps(desk: Desk) -> Markup:
    return section("Pumps", "area-pumps", [_pump(desk, p) for p in desk.rig.pumps])


def _filters_and_banks(desk: Desk) -> Markup:
    filters = [
        el(
            "div",
            {"class": "holder"},
            _hand(desk, f"{f.id}.isolation", f.title, f.title),
            bar(desk, f"{f.id}.dp", "Pressure drop"),
        )
        for f in desk.rig.filters
        if desk.has(f"{f.id}.dp")
    ]
    banks = [
        el(
            "div",
            {"class": "holder"},
            el(
                "p",
                {"class": "post-line"},
                el("button", {"class": "post-name card-link", "type": "button", "data-open-card": bank.id}, bank.title),
                el("span", {"class": "post-value"}, live(f"{bank.id}.pressure")),
            ),
            el(
                "div",
                {"class": "row valves"},
                _hand(desk, f"{bank.id}.isolation", f"{bank.title} shut-off", "Shut-off"),
                _hand(desk, f"{bank.id}.bleed", f"{bank.title} bleed", "Bleed"),
            ),
        )
        for bank in (*desk.rig.surface_banks, *desk.rig.pilot_banks)
        if desk.has(f"{bank.id}.pressure")
    ]
    return el(
        "div",
        {"class": "stores"},
        section("Filters", "area-filters", filters) if filters else None,
        section("Accumulators", "area-banks", banks) if banks else None,
    )


def _regulator(desk: Desk, regulator: Part) -> Markup:
    tag = regulator.id
    authority = f"{tag}.authority"
    return section(
        regulator.title,
        "regulator",
        el(
            "div",
            {"class": "rows regulator-meters"},
            [
                bar(desk, f"{tag}.{w}", name)
                for w, name in (("pilot", "Pilot"), ("readback", "Read-back"))
                if desk.has(f"{tag}.{w}")
            ],
        ),
        el(
            "div",
            {"class": "row regulator-keys"},
            hold("Lower", "lower", tag, name=regulator.title, css="lower"),
            hold("Raise", "raise", tag, name=regulator.title, css="raise"),
            choice(
                f"{regulator.title} set from",
                authority,
                (("unit", "Unit"), ("remote", "Remote")),
                authority,
                "choice-bare",
                None,
                "",
            )
            if desk.has(authority)
            else None,
        ),
    )


def lever(desk: Desk, function: Part) -> Markup:
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
            hidden(f"{function.title}: "),
            el("span", {"class": "key-word"}, position_word(function, position)),
        )
        for position in ("open", "block", "close")
    ]
    return el(
        "div",
        {"class": "lever", "role": "group", "aria-label": function.title, "data-state": valve},
        el(
            "div",
            {"class": "lever-top"},
            el(
                "button",
                {"class": "lever-name card-link", "type": "button", "data-open-card": function.id},
                function.title,
            ),
            handle,
        ),
        el("div", {"class": "keys"}, keys),
    )


def _levers(desk: Desk) -> Markup:
    rig = desk.rig
    order = (*rig.column(), *rig.others(), *rig.line_valves("kill"), *rig.line_valves("choke"))
    pods = None
    if rig.pods and desk.has("pod_selector.position"):
        names = [p.id for p in rig.pods]
        options = ((names[0], names[0].capitalize()), ("block", "Block"), *((n, n.capitalize()) for n in names[1:]))
        pods = choice(
            "Pod selector",
            "pod_selector",
            options,
            "pod_selector.position",
            "choice-pod choice-stacked",
            "pod_selector",
        )
    return section(
        "Four-way valves",
        "area-levers",
        el("div", {"class": "levers"}, pods, [lever(desk, f) for f in order]),
        label=False,
    )


def _services(desk: Desk) -> Markup | None:
    """Main switch of the panels' supply and the rig air valve, with the battery's meters."""
    shown = [
        _hand(desk, "air.supply", "Rig air supply valve", "Air supply"),
        choice(
            "Main power switch",
            "power.main",
            (("on", "On"), ("off", "Off")),
            "power.ac",
            "choice-small",
            "power",
            "AC supply",
        )
        if desk.has("power.ac")
        else None,
    ]
    meters = [readout(t, n) for t, n in (("battery.volts", "Battery"), ("battery.amps", "Current")) if desk.has(t)]
    if not meters and not any(shown):
        return None
    return section("Air and power", "area-services", shown, el("div", {"class": "row"}, meters), label=False)


def unit_station(desk: Desk) -> Markup:
    """The control unit: everything a hand can work there, and its gauges."""
    gauges = [dial(desk, tag, name, 96, card) for tag, name, card in _GAUGES if desk.has(tag)]
    total = None
    if desk.has("totaliser.count"):
        total = section(
            "Fluid to the stack",
            "area-total",
            el(
                "div",
                {"class": "row"},
                readout("totaliser.count", "Flow count", big=True),
                push("Reset", "totaliser.reset"),
            ),
            label=False,
        )
    return deck(
        "unit",
        "unit",
        690,
        head(desk, "unit", "Control unit"),
        el(
            "div",
            {"class": "unit-body"},
            el(
                "div",
                {"class": "unit-column"},
                el("div", {"class": "unit-pair"}, _reservoir(desk), _pumps(desk)),
                _services(desk),
            ),
            _filters_and_banks(desk),
            el(
                "div",
                {"class": "unit-column"},
                section("Gauges", "area-gauges", el("div", {"class": "gauges"}, gauges), label=False),
                total,
                [_regulator(desk, r) for r in desk.rig.regulators],
            ),
            _levers(desk),
        ),
    )
