"""Looking after the control unit: mixing, pumps, filters, accumulators, air and electricity.

Left to right along the fluid. Everything is drawn from the plant's catalogue: a valve or push that the plant lacks is
not shown.
"""

from __future__ import annotations

from typing import Final

from trainer.drawing.context import DrawingContext
from trainer.drawing.controls import choice
from trainer.drawing.frame import deck, head, section
from trainer.drawing.gauges import bar, column, readout
from trainer.drawing.markup import Child, Markup, command, el, hidden, live
from trainer.plant.accumulators import Bank
from trainer.plant.attachment import Attachment
from trainer.plant.filters import Filter
from trainer.plant.pumps import Pump

_HAND: Final = (("open", "Open"), ("shut", "Shut"))
_SWITCH: Final = (("on", "On"), ("off", "Off"))
_MODES: Final = (("off", "Off"), ("auto", "Auto"), ("manual", "Man."))
ENDS: Final = (("upstream", "before"), ("downstream", "after"))
LOCK: Final = (("off", "Off"), ("hung", "Hung"))
OPENS: Final = "Open the housing"


def hand(
    desk: DrawingContext, tag: str, name: str, short: str, options: tuple[tuple[str, str], ...] = _HAND
) -> Markup | None:
    """A hand valve or switch with two positions; nothing when the plant lacks it."""
    return choice(name, tag, options, tag, "choice-up", None, short) if desk.has(tag) else None


def service(desk: DrawingContext, near: str, target: str, word: str, note: str, name: str) -> Markup | None:
    """A job done by hand (clean, change, fill), shown where the part ``near`` exists."""
    if not desk.has(near):
        return None
    return el(
        "button",
        {"class": "push", "type": "button", "data-send": command("push", target)},
        hidden(f"{name}: "),
        el("span", {"class": "push-word"}, word),
        el("span", {"class": "push-note"}, note),
    )


def setter(desk: DrawingContext, tag: str, name: str) -> Markup | None:
    """A hand-set rate or pressure: the present value, a field for the new one, and the button."""
    if not desk.has(tag):
        return None
    field = "set-" + tag.replace(".", "-").replace("_", "-")
    return el(
        "form",
        {"class": "setter", "data-send": command("set", tag)},
        el("label", {"for": field}, el("span", {"class": "bar-name"}, name), el("strong", {}, live(tag))),
        el(
            "input",
            {"id": field, "name": "value", "inputmode": "decimal", "autocomplete": "off", "required": "required"},
        ),
        el("span", {"data-unit": tag, "class": "sr"}, ""),
        el("button", {"class": "push", "type": "submit"}, "Set", hidden(f" {name}")),
    )


def relief(desk: DrawingContext, part: str) -> Markup | None:
    """What a part's relief valve does, behind what stands before it in the line; nothing where it has none to see."""
    tag = f"{part}.relief_passing"
    return el("span", {}, " · relief ", live(tag, "shut")) if desk.has(tag) else None


def _numbers(desk: DrawingContext, *pairs: tuple[str, str]) -> Markup | None:
    found = [readout(tag, name) for tag, name in pairs if desk.has(tag)]
    return el("div", {"class": "row numbers"}, found) if found else None


def _mixing(desk: DrawingContext) -> Markup:
    tank = desk.rig.tank
    glasses = [
        column(desk, tag, name)
        for tag, name in (
            (f"{tank}.concentrate", "Concentrate"),
            (f"{tank}.level", "Tank level"),
            (f"{tank}.glycol", "Glycol"),
        )
        if desk.has(tag)
    ]
    mode = None
    if desk.has("mixing.mode"):
        mode = choice("Mixing", "mixing.mode", _MODES, "mixing.mode", "choice-up", "mixing")
    fills = [
        service(desk, f"{tank}.concentrate", "concentrate_tank.fill", "Fill", "concentrate", "Concentrate tank"),
        service(desk, f"{tank}.glycol", "glycol_tank.fill", "Fill", "glycol", "Glycol tank"),
        service(desk, "water.gate", "water.clean_strainer", "Clean", "strainer", "Water"),
    ]
    primes = [
        service(desk, "concentrate_pump.rate", "concentrate_pump.prime", "Prime", "conc. pump", "Concentrate pump"),
        service(desk, "glycol_pump.rate", "glycol_pump.prime", "Prime", "glycol pump", "Glycol pump"),
    ]
    drain = hand(desk, f"{tank}.drain", "Mixed-fluid tank drain valve", "Tank drain")
    return section(
        "Fluid and mixing",
        "care-mixing",
        el("div", {"class": "glasses"}, glasses),
        _numbers(
            desk, ("mix.concentrate", "Concentrate"), ("mix.glycol", "Glycol"), ("mix.freezing_point", "Freezes at")
        ),
        _numbers(desk, ("mix.finding", "Finding"), ("water.pressure", "Water"), ("water.flow", "Water in")),
        el(
            "div",
            {"class": "row pair"},
            mode,
            hand(desk, "water.gate", "Water gate valve", "Water gate"),
        ),
        el(
            "div",
            {"class": "setters"},
            setter(desk, "water.regulator", "Water pressure"),
            setter(desk, "water.rate_set", "Water rate"),
            setter(desk, "concentrate_pump.rate", "Conc. strokes"),
            setter(desk, "glycol_pump.rate", "Glycol strokes"),
        ),
        _numbers(
            desk,
            ("concentrate_pump.strokes", "Conc. pump counts"),
            ("glycol_pump.strokes", "Glycol pump counts"),
            ("mixing.running", "Mixing now"),
        ),
        el("div", {"class": "row jobs"}, fills),
        el("div", {"class": "row jobs"}, primes, drain),
    )


def _card_link(part: str, name: str) -> Markup:
    """The name of a part, which opens its card."""
    return el("button", {"class": "post-name card-link", "type": "button", "data-open-card": part}, name)


def _headline(part: str, name: str, value: Child) -> Markup:
    """The name of a part and, where there is one, its reading."""
    shown = el("span", {"class": "post-value"}, value) if value else None
    return el("p", {"class": "post-line"}, _card_link(part, name), shown)


def _pump(desk: DrawingContext, pump: Pump) -> Markup:
    running, tag = f"{pump.id}.running", pump.id
    title = _card_link(tag, pump.name)
    told = el("span", {"class": "machine-lamp"}, "running: ", live(running, "no")) if desk.has(running) else None
    load = [
        el("span", {"class": "machine-load"}, live(f"{tag}.{w}")) for w in ("amps", "strokes") if desk.has(f"{tag}.{w}")
    ]
    return el(
        "div",
        {
            "class": "machine",
            "role": "group",
            "aria-label": pump.name,
            "data-state": running if desk.has(running) else None,
        },
        el("p", {"class": "post-line"}, title, told, load),
        el(
            "div",
            {"class": "row valves"},
            choice(
                f"{pump.name} selector",
                f"{tag}.mode",
                _MODES,
                f"{tag}.mode",
                "choice-up choice-wide",
                None,
                "Selector",
            ),
            hand(desk, f"{tag}.suction", f"{pump.name} suction valve", "Suction"),
            service(desk, f"{tag}.suction", f"{tag}.clean_strainer", "Clean", "strainer", pump.name),
        ),
        el(
            "div",
            {"class": "row valves"},
            hand(desk, f"{tag}.air", f"{pump.name} air valve", "Air"),
            hand(desk, f"{tag}.bypass", f"{pump.name} switch by-pass", "By-pass"),
            service(desk, f"{tag}.air", f"{tag}.service_air", "Service", "air set", pump.name),
        )
        if desk.has(f"{tag}.air")
        else None,
        el("p", {"class": "care-note"}, "Motor ", live(f"{tag}.motor", "cool"), relief(desk, tag))
        if desk.has(f"{tag}.motor")
        else None,
    )


def _filter(desk: DrawingContext, item: Filter) -> Markup:
    tag = item.id
    single = not desk.has(f"{tag}.upstream")
    return el(
        "div",
        {"class": "holder"},
        _headline(tag, item.name, ("housing ", live(f"{tag}.pressure")) if desk.has(f"{tag}.pressure") else None),
        bar(desk, f"{tag}.dp", "Pressure drop") if desk.has(f"{tag}.dp") else None,
        el(
            "div",
            {"class": "row valves"},
            hand(desk, f"{tag}.isolation", f"{item.name} isolation", "Isolation") if single else None,
            hand(desk, f"{tag}.upstream", f"{item.name} valve before", "Before"),
            hand(desk, f"{tag}.downstream", f"{item.name} valve after", "After"),
            _opening(item) if desk.has(f"{tag}.upstream") else None,
        ),
    )


def _opening(item: Filter) -> tuple[Markup, Markup]:
    """The button that chooses a filter to work on, and the dialog in which its housing is opened."""
    about = f"open-{item.id.replace('_', '-')}"
    opens = {"class": "push", "type": "button", "popovertarget": about}
    closes = {"type": "button", "popovertarget": about, "popovertargetaction": "hide"}
    send = {"class": "push", **closes, "data-send": command("push", f"{item.id}.change_element")}
    where = {"class": "settings opening", "id": about, "popover": "auto", "role": "dialog", "aria-label": item.name}
    words = (el("span", {"class": "push-word"}, "Change"), el("span", {"class": "push-note"}, "element …"))
    return el("button", opens, hidden(f"{item.name}: "), words), el(
        "div",
        where,
        el("h2", {"class": "area-title"}, f"{item.name}: change the element"),
        el("p", {}, "This opens the housing. Pressure in it injures the person who opens it."),
        el("button", send, hidden(f"{item.name}: "), OPENS),
        el("button", {"class": "push", **closes}, "Leave it shut"),
    )


def _bank(desk: DrawingContext, bank: Bank) -> Markup:
    tag = bank.id
    precharge = f"{tag}.precharge"
    return el(
        "div",
        {"class": "holder"},
        _headline(tag, bank.name, live(f"{tag}.pressure")),
        el(
            "div",
            {"class": "row valves"},
            hand(desk, f"{tag}.isolation", f"{bank.name} shut-off", "Shut-off"),
            hand(desk, f"{tag}.bleed", f"{bank.name} bleed", "Bleed"),
            service(desk, precharge, f"{tag}.charge_nitrogen", "Charge", "nitrogen", bank.name),
        ),
        el("p", {"class": "care-note"}, "Gas side ", el("strong", {}, live(precharge)), relief(desk, tag))
        if desk.has(precharge)
        else None,
    )


def _headers(desk: DrawingContext) -> Markup | None:
    if not desk.has("header.crossover"):
        return None
    return el(
        "div",
        {"class": "holder"},
        el("p", {"class": "post-line"}, el("span", {"class": "post-name"}, "Dual header")),
        el(
            "div",
            {"class": "row valves"},
            hand(desk, "header_a.isolation", "Header A isolation", "Header A"),
            hand(desk, "header_b.isolation", "Header B isolation", "Header B"),
            hand(desk, "header.crossover", "Header cross-over", "Cross-over"),
        ),
    )


def _attached(desk: DrawingContext, item: Attachment) -> Markup:
    shown = f"{item.id}.{item.shows}"
    return el(
        "div",
        {"class": "holder"},
        _headline(item.id, item.name, live(shown)),
        el(
            "div",
            {"class": "row valves"},
            hand(desk, f"{item.id}.{item.valve}", f"{item.name} hand valve", "Valve"),
            [service(desk, shown, f"{item.id}.{end}", word, on, item.name) for end, (word, on) in item.jobs.items()],
        ),
    )


def _services(desk: DrawingContext) -> Markup:
    boxes: list[Child] = [
        service(desk, "boxes.moisture", "boxes.drain", "Drain", "separator", "Junction boxes"),
        service(desk, "boxes.moisture", "boxes.change_filter", "Change", "air filter", "Junction boxes"),
        service(desk, "boxes.moisture", "boxes.thaw", "Thaw", "air line", "Junction boxes"),
    ]
    main = "power.main" if desk.has("power.main") else "power.ac"
    return section(
        "Air and electricity",
        "care-services",
        _numbers(desk, ("air.pressure", "Rig air"), ("boxes.moisture", "Moisture"), ("boxes.air_pressure", "Box air")),
        _numbers(desk, ("battery.volts", "Battery"), ("battery.amps", "Current"), ("battery.weakest", "Weakest unit")),
        _numbers(desk, ("panel.volts", "Panels"), ("panel.power", "Panel power"), ("battery.low", "DC low")),
        _numbers(
            desk, ("power.ac", "AC supply"), ("power.emergency", "Emergency bus"), ("relief.passing", "System relief")
        ),
        el(
            "div",
            {"class": "row valves"},
            hand(desk, "air.supply", "Rig air supply valve", "Air supply"),
            choice("Main switch", "power.main", _SWITCH, main, "choice-up", None, "Main switch")
            if desk.has(main)
            else None,
        ),
        el("div", {"class": "row valves"}, hand(desk, "power.charger", "Battery charger", "Charger", _SWITCH), boxes),
    )


def _locks(desk: DrawingContext) -> tuple[Markup, Markup]:
    """The button that opens what work on the unit begins and ends with, and its dialog: bleeds, locks and tags."""
    rig = desk.rig
    rows: list[Child] = [
        el(
            "div",
            {},
            hand(desk, f"{item.id}.bleed", f"{item.name} bleed", f"{item.name}: bleed"),
            el("p", {"class": "care-note"}, "Housing ", el("strong", {}, live(f"{item.id}.pressure")))
            if desk.has(f"{item.id}.pressure")
            else None,
        )
        for item in rig.filters
        if desk.has(f"{item.id}.bleed")
    ]
    rows += [hand(desk, tag, f"{name}: lock", f"{name}: lock", LOCK) for tag, name in lockable(desk).items()]
    where = {"class": "settings locks", "id": "care-locks", "popover": "auto", "role": "dialog", "aria-label": "Locks"}
    title = el("h2", {"class": "area-title"}, "Bleeds, locks and tags")
    closes = {"class": "push", "type": "button", "popovertarget": "care-locks"}
    body = el("div", where, title, el("div", {"class": "locks-body"}, rows), el("button", closes, "Hide"))
    opens = {"class": "push", "type": "button", "popovertarget": "care-locks"}
    return el("div", {"class": "row"}, el("button", opens, "Bleeds, locks and tags")), body


def lockable(desk: DrawingContext) -> dict[str, str]:
    """Where a lock and tag can be hung: by the reading of each the name of what it holds."""
    rig = desk.rig
    named = {
        **{f"{f.id}.{end}_lock": f"{f.name} valve {word}" for f in rig.filters for end, word in ENDS},
        **{f"{p.id}.mode_lock": f"{p.name} selector" for p in rig.pumps},
        **{f"{p.id}.suction_lock": f"{p.name} suction valve" for p in rig.pumps},
        "air.supply_lock": "Rig air supply valve",
        "power.main_lock": "Main switch",
        **{f"{b.id}.isolation_lock": f"{b.name} shut-off" for b in (*rig.surface_banks, *rig.pilot_banks)},
        "header_a.isolation_lock": "Header A isolation",
        "header_b.isolation_lock": "Header B isolation",
        "header.crossover_lock": "Header cross-over",
    }
    return {tag: name for tag, name in named.items() if desk.has(tag)}


def _further(desk: DrawingContext) -> Markup | None:
    """Breaker or air valve of each further panel, with what it has of volts or air."""
    panels = desk.rig.plant.further
    if not panels:
        return None
    feeds, shown = [], []
    for panel in panels.values():
        word = panel.name
        if panel.electric:
            feeds.append(hand(desk, panel.feed, f"{panel.name} breaker", word, _SWITCH))
            shown.append((f"{panel.id}.volts", "Volts"))
        else:
            feeds.append(hand(desk, panel.feed, f"{panel.name} air valve", word))
            shown.append((f"{panel.id}.air", "Air"))
    return el(
        "div",
        {"class": "holder"},
        el("p", {"class": "post-line"}, el("span", {"class": "post-name"}, "Further panels")),
        el("div", {"class": "row valves"}, feeds),
        _numbers(desk, *shown),
    )


def unit_care(desk: DrawingContext) -> Markup:
    """Mixing, pumps, filters, accumulators, air and electricity of the control unit."""
    rig = desk.rig
    banks = [_bank(desk, b) for b in (*rig.surface_banks, *rig.pilot_banks) if desk.has(f"{b.id}.pressure")]
    return deck(
        "unit_care",
        "unit",
        664,
        head(desk, "unit", "Maintenance"),
        el(
            "div",
            {"class": "care-body"},
            _mixing(desk),
            section("Pumps", "care-pumps", [_pump(desk, p) for p in rig.pumps]),
            el(
                "div",
                {"class": "unit-column"},
                section("Filters", "care-filters", [_filter(desk, f) for f in rig.filters]),
                _services(desk),
            ),
            section(
                "Accumulators",
                "care-banks",
                *_locks(desk),
                _headers(desk),
                banks,
                [_attached(desk, part) for part in rig.attached],
                _further(desk),
            ),
        ),
    )
