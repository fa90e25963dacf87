"""The page on which a plant file is fitted to a rig: its fields, what is wrong, what differs, how it looks.

The page keeps a list of orders (add, remove, put) and sends all of them each time; here they are carried out on the
base anew. So nothing is kept for a page that may never come back, and undoing is taking the last order away.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence

from trainer import naming
from trainer.console.crews import crew_of
from trainer.drawing.markup import Markup, el
from trainer.drawing.preview import page as board_page
from trainer.hydraulics.machine import Machine
from trainer.planning.draft import DROPPED, FIRST, KINDS, STACKED, Draft
from trainer.planning.errors import PlanningError
from trainer.planning.optional import open_keys, open_tables, words_of
from trainer.planning.origin import origin
from trainer.planning.suited import tried
from trainer.plant.attachments import KINDS as ATTACHED
from trainer.plant.rig import Plant, PlantError, fit_out
from trainer.units import from_unit

MOST_ORDERS = 2000
#: A text longer than this has a row of its own.
LONG = 24
BOARDS = {"schematic": "The drawing", "driller": "The driller's panel", "unit": "The control unit"} | {
    station: f"The {naming.STATIONS[station]}" for station in naming.FURTHER
}
NAMED = {"bank": "Bottles", "panel": "Further panels"}
SHOWN = {kind: NAMED.get(kind, f"{naming.title(kind)}s") for kind in sorted(KINDS, key=ATTACHED.__contains__)}
"""Every kind of part of which a plant has any number, under its heading."""
HEAD = ("id", "title", "base")
"""What the head of the page asks for."""
FIELDS = {
    "title": "Label on the panels",
    "bottle_volume": "Gas space of a bottle, no fluid in it",
    "supply": "Fed from",
    "set": "Set point",
    "low": "Bottom of its range",
    "high": "Top of its range",
    "below": "Height below the upper pipe ram (above it: with a minus)",
    "starts": "Stands at the start (open or close)",
    "line": "On the choke or the kill line",
    "isolates": "Bottles that it shuts off",
    "bears": "Weight of string that may hang on it",
    "rated_pressure": "Working pressure that the preventers are rated for",
    "mixed_volume": "Volume of the mixed-fluid tank",
    "panel_load": "Load of the panels",
    "battery_capacity": "Capacity of the battery (the planning sheet shows the hours)",
    "battery_units": "Battery units of 12 V in series",
    "panel_voltage": "Direct voltage that the panels are built for",
    "functions": "Functions on it, by their ids",
    "regulators": "Regulators on it, by their ids",
    "gauges": "Gauges on it, by their readings (below)",
    "panel.supply": "Fed from",
    "panel.length": "Length of its cable or air line",
    "panel.load": "Its load",
    "panel.bore": "Bore of its air line",
    "panel.charger": "Charger of its own battery",
    "panel.battery_capacity": "Capacity of its own battery",
    "conductor": "Copper of each wire of its cable",
    "warnings": "Warning lamps",
    "walk": "On foot from the driller's panel",
    "pump.bus": "Bus that drives it",
    "disconnect.at": "Seconds from its start",
    "disconnect.to": "Ordered to",
    "disconnect.done": "Done, seconds from its start",
    "emergency.at": "Seconds from its start",
    "rov.crossed": "Ports that may be changed, by number",
    "telemetry.panel": "Time of a message in a panel",
    "telemetry.controller": "In a controller",
    "telemetry.cable": "In the cable to a pod",
    "telemetry.electronics": "In the pod's electronics",
    "telemetry.coil": "Until a coil pulls",
    "telemetry.answer": "Time in which an answer is due",
    "conduits.length": "Length from the unit to the stack",
    "conduits.supply_bore": "Bore of a conduit",
    "conduits.supply_modulus": "Effective bulk modulus of conduit and fluid",
    "conduits.friction": "Darcy friction factor",
    "rated_hours": "Hours over which the battery's capacity is stated",
}
SAID = {"unit_battery": "the unit's battery", "own_battery": "a battery of its own", "": "none"}
"""Choices that are not called as they are written."""
WORDS = {
    "well": "Well",
    "fluid": "Control fluid",
    "umbilical": "Lines to the pods",
    "conduits": "Conduits to the pods",
    "telemetry": "Controllers and telemetry",
    "selector": "Pod selector",
    "hoses": "Hoses",
    "supply": "Supply and set points",
    "reservoir": "Tanks",
    "electrical": "Power and battery",
    "air": "Rig air",
    "floor": "Drill floor",
    "condition": "Condition found by tests",
}


class Drawn(Machine):
    """A machine to draw, which never runs: its instruments stand amid their normal bands."""

    def read(self, tag: str) -> float:
        """A variable's value, SI. An instrument that has shown nothing yet stands amid its normal band."""
        value = super().read(tag)
        signal = self.signals.get(tag)
        if value or signal is None or signal.normal is None:
            return value
        return from_unit(0.5 * (signal.normal[0] + signal.normal[1]), signal.unit)


def drafted(base: str, name: str, title: str, orders: Sequence[object]) -> Draft:
    """The draft after all ``orders``; PlanningError says what an order asked that does not go."""
    if len(orders) > MOST_ORDERS:
        raise PlanningError(f"{len(orders)} changes are too many for one plant; save it and begin again from there")
    if base.endswith(".toml") or "/" in base or "\\" in base:
        raise PlanningError(f"{base!r} is no plant; choose one from the list")
    draft = Draft.open(base)
    if name:
        draft.rename(name, title)
    for order in orders:
        if not isinstance(order, list) or not all(isinstance(word, str) and len(word) < 400 for word in order):
            raise PlanningError("a change could not be read; reload the page")
        match order:
            case ["add", "row", place, _]:
                draft.add_row(place)
            case ["remove", "row", place]:
                draft.remove_row(place)
            case ["move", "function", part, "up" | "down" as way]:
                draft.move(part, way)
            case ["add", kind, new, like]:
                draft.add(kind, new, like)
            case ["remove", kind, part]:
                draft.remove(kind, part)
            case ["put", place, value]:
                draft.put(place, value)
            case _:
                raise PlanningError("a change could not be read; reload the page")
    return draft


def checked(draft: Draft) -> tuple[Plant | None, Drawn | None, list[str]]:
    """The plant and a machine to draw, or everything wrong with it."""
    try:
        plant = draft.plant()
        machine = fit_out(Drawn(plant.network()), plant)
        tank = plant.reservoir
        # A gauge stands amid its band; the sight glass beside it must not say otherwise than the file.
        machine.put(f"{tank.id}.level", tank.mixed_fill)
        machine.put(f"{tank.id}.volume", tank.mixed_fill * tank.mixed_volume)
        return plant, machine, []
    except (PlantError, ValueError) as error:
        return None, None, draft.readable(str(error))


def state(draft: Draft, board: str, theme: str) -> dict[str, object]:
    """What the page shows after each change: ``faults`` by place, ``differences``, the drawing while it is sound.

    ``boards`` are those that can be drawn of this rig.
    """
    plant, machine, faults = checked(draft)
    drawing, boards = "", list(BOARDS)
    if plant is not None and machine is not None:
        scheme = "dark" if theme == "dark" else "light"
        boards = [name for name in BOARDS if name not in naming.FURTHER or name in plant.further]
        drawing = board_page(plant, machine, board if board in boards else "schematic", scheme)
        drawing = drawing.replace("<style>", f"<style>html{{color-scheme:{scheme};background:canvas}}", 1)
    return {
        "faults": [{"place": line.split(": ", 1)[0], "text": line} for line in faults],
        "differences": [d.sentence() for d in draft.differences() if d.place not in HEAD],
        "drawing": drawing,
        "boards": boards,
        "given": given(draft),
    }


def given(draft: Draft) -> list[str]:
    """Places whose values were given for this rig; the others stand as in the invented rig it is fitted from."""
    return sorted(origin(draft.text()).given)


def drills(draft: Draft, drill: str = "") -> list[dict[str, object]]:
    """Each drill with whether the plant suits it, and why not; one of them alone, tried by its good crew."""
    rows = tried(draft.plant(), [drill] if drill else ())
    # Those that are tried soonest stand first.
    rows.sort(key=lambda row: (row.outcome == "does not suit", crew.seconds if (crew := crew_of(row.drill)) else 0.0))
    return [row.record() for row in rows if not drill or row.drill == drill]


def form(draft: Draft) -> Markup:
    """Every value of the plant file as a field, parts by kind, each with its own way out."""
    data = draft.data()
    rig = {key: value for key, value in data.items() if _plain(value) and key not in HEAD}
    tables = {key: value for key, value in data.items() if isinstance(value, Mapping)}
    tables |= {key: {} for key in open_tables(data)}
    others = {key: value for key, value in data.items() if _parts(value) and key not in KINDS}
    return el(
        "div",
        {},
        _group("The rig", [*_fields("", rig), _more("", data)], True),
        [
            _kind(kind, word, data.get(kind, []), _named(draft) if kind == "panel" and data.get(kind) else None)
            for kind, word in SHOWN.items()
        ],
        [
            _group(WORDS.get(key, naming.title(key)), [*_deep(f"{key}.", table), _more(f"{key}.", table), _drop(key)])
            for key, table in tables.items()
        ],
        [
            _group(naming.title(key), [_part(key, str(part.get("id", n)), part, False) for n, part in enumerate(parts)])
            for key, parts in others.items()
        ],
    )


def _drop(table: str) -> Markup | None:
    """What takes a table out that a rig may be without."""
    if table not in DROPPED:
        return None
    way = {"type": "button", "data-remove": "table", "data-part": table, "aria-label": f"Remove {table} from the rig"}
    return el("button", way, "Remove, with its functions and regulator" if table == "diverter" else "Remove")


def _plain(value: object) -> bool:
    return not isinstance(value, Mapping) and not _parts(value)


def _parts(value: object) -> bool:
    return isinstance(value, list) and bool(value) and isinstance(value[0], Mapping)


def _group(title: str, content: object, is_open: bool = False) -> Markup:
    return el("details", {"open": "open" if is_open else None}, el("summary", {}, title), content)


def _fields(prefix: str, values: Mapping[str, object]) -> list[Markup]:
    return [_field(f"{prefix}{key}", _label(prefix, key), value) for key, value in values.items() if _plain(value)]


def _label(prefix: str, key: str) -> str:
    """What a field is called: by its kind of part where that says more."""
    return FIELDS.get(f"{prefix.split('.')[0]}.{key}", FIELDS.get(key, naming.title(key)))


def _deep(prefix: str, table: Mapping[str, object]) -> list[Markup]:
    """The fields of a table, of the tables in it, and of the lists in it row by row."""
    found = _fields(prefix, table)
    for key, value in table.items():
        if isinstance(value, Mapping):
            found += _deep(f"{prefix}{key}.", value)
        elif isinstance(value, list) and _parts(value):
            found.append(_rows(f"{prefix}{key}", value))
    return found


def _rows(place: str, rows: Sequence[Mapping[str, object]]) -> Markup:
    """A list inside a table, such as the steps of a sequence: each with its fields and its way out, and one more."""
    word = naming.plain(place.rpartition(".")[2])

    def row(n: int, values: Mapping[str, object]) -> Markup:
        name = str(values.get("id", n))
        own = f"{place}.{name}"
        title = f"{naming.title(word)} {values.get('title') or (n + 1)}"
        shown = {key: value for key, value in values.items() if key != "id"}
        away = {"type": "button", "data-remove": "row", "data-part": own, "aria-label": f"Remove {title}"}
        return el("fieldset", {}, el("legend", {}, title), _deep(f"{own}.", shown), _more(f"{own}.", values),
                  el("button", away, "Remove"))  # fmt: skip

    return el(
        "details",
        {"class": "fit-more"},
        el("summary", {}, f"{naming.title(word)}s of {place.rpartition('.')[0]} ({len(rows)})"),
        [row(n, values) for n, values in enumerate(rows)],
        el(
            "button",
            {"type": "button", "data-order": json.dumps(["add", "row", place, ""])},
            f"Add a {word} like the last",
        ),
    )


def _more(prefix: str, values: Mapping[str, object]) -> Markup | None:
    """Empty fields for what a part or table may say and does not, each with what holds until it does."""
    place = prefix.removesuffix(".")
    found = [(key, holds) for key, holds in open_keys(place, values) if key not in HEAD]
    if not found:
        return None
    fields = [_field(f"{prefix}{key}", _label(prefix, key), "", holds) for key, holds in found]
    return el("details", {"class": "fit-more"}, el("summary", {}, f"More of {place or 'the rig'}"), fields)


def _field(place: str, label: str, value: object, without: str = "") -> Markup:
    text = ", ".join(map(str, value)) if isinstance(value, list) else str(value)
    text = text.lower() if isinstance(value, bool) else text
    shown = {"data-place": place, "value": text, "autocomplete": "off", "spellcheck": "false", "maxlength": 300}
    if without:
        shown["placeholder"] = without
    css = "fit-field fit-wide" if len(text) > LONG else "fit-field"
    if words := words_of(place):
        # A choice: what stands there, or for an empty one that nothing is said.
        offered = [*(() if text else ("",)), *words, *((text,) if text and text not in words else ())]
        options = [
            el("option", {"value": word, "selected": "selected" if word == text else None}, _said(word, without))
            for word in offered
        ]
        chosen = el("select", {"data-place": place}, options)
        return el("label", {"class": css}, el("span", {}, label), chosen)
    return el("label", {"class": css}, el("span", {}, label), el("input", shown))


def _said(word: str, without: str) -> str:
    """A choice in words: an empty one by what holds without it."""
    return SAID.get(word, naming.plain(word)) if word else f"not said: {without.partition(' (')[0] or 'none'}"


def _named(draft: Draft) -> Markup:
    """What a further panel may carry: functions and regulators with their ids, and readings that it may show."""
    data = draft.data()
    rows = [
        el("li", {}, f"{part.get('title', part['id'])}: {part['id']}")
        for kind in ("function", "regulator")
        for part in data.get(kind, [])
    ]
    _, machine, _ = checked(draft)
    if machine is not None:
        shown = [(tag, signal) for tag, signal in machine.signals.items() if signal.station and signal.unit != "state"]
        rows += [el("li", {}, f"{naming.title(tag)}: {tag}") for tag, _ in sorted(shown)]
    return el("details", {"class": "fit-more"}, el("summary", {}, "What it can carry, with ids"), el("ul", {}, rows))


def _kind(kind: str, word: str, parts: Sequence[Mapping[str, object]], named: Markup | None = None) -> Markup:
    one = {"bank": "bank of bottles", "panel": "further panel"}.get(kind, kind)
    like = [el("option", {"value": part["id"]}, str(part.get("title", part["id"]))) for part in parts]
    adding = el(
        "form",
        {"class": "fit-add", "data-add": kind, "aria-label": f"Add a {one}"},
        el("label", {}, el("span", {}, "New id"), el("input", {"name": "new", "maxlength": 40, "autocomplete": "off"})),
        el(
            "label",
            {"hidden": None if like else "hidden"},
            el("span", {}, "like"),
            el("select", {"name": "like"}, like),
        ),
        el("button", {"type": "submit"}, f"Add a {one}"),
    )
    if not parts and kind not in FIRST:
        return Markup("")
    return _group(f"{word} ({len(parts)})", [*(_part(kind, str(p["id"]), p, True, named) for p in parts), adding])


def _part(kind: str, part: str, values: Mapping[str, object], goes: bool, named: Markup | None = None) -> Markup:
    away = {"type": "button", "data-remove": kind, "data-part": part, "aria-label": f"Remove {part}"}
    shown = {key: value for key, value in values.items() if key != "id"}
    return el(
        "fieldset",
        {"data-fieldset": f"{kind}.{part}"},
        el("legend", {}, part),
        _fields(f"{kind}.{part}.", shown),
        _more(f"{kind}.{part}.", values),
        named,
        _moves(kind, part, values),
        el("button", away, "Remove") if goes else None,
    )


def _moves(kind: str, part: str, values: Mapping[str, object]) -> Markup | None:
    """What lets a preventer change places with its neighbor; nothing for what does not stand in the stack's order."""
    if kind != "function" or values.get("kind") not in STACKED:
        return None
    return el(
        "span",
        {"class": "fit-moves"},
        [
            el(
                "button",
                {"type": "button", "data-order": json.dumps(["move", "function", part, way]),
                 "aria-label": f"Move {part} {way} in the stack"},
                f"Move {way}",
            )
            for way in ("up", "down")
        ],
    )  # fmt: skip
