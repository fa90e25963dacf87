"""The acoustic back-up: its case on the boat deck as a board, and the receiver on the schematic.

The case is laid out along the sound's way: transducer and noise at the left, the orders behind their two keys in the
middle, what came back at the right.
"""

from __future__ import annotations

from typing import Final

from trainer.drawing.context import DrawingContext
from trainer.drawing.controls import choice, push
from trainer.drawing.frame import deck, section
from trainer.drawing.gauges import measured, readout
from trainer.drawing.markup import Child, Markup, el
from trainer.drawing.parts import label, part
from trainer.drawing.symbols import at
from trainer.plant.acoustic import BOAT, HANGS, STATUS, Acoustic

TALL: Final = 520
_HANGS: Final = tuple((name, name.capitalize()) for name in HANGS)
_KEY: Final = (("off", "Off"), ("on", "On"))
_RULE: Final = 320.0
"""Length of the rule of levels, for the whole scale of the noise, in units of its drawing."""
_PLACE: Final = (1634.0, 556.0)
"""Middle of the receiver's symbol on the schematic, beside the lower stack."""


def boat_of(desk: DrawingContext) -> bool:
    """Whether the rig has anything for this board: an acoustic back-up with its case."""
    return desk.rig.plant.acoustic is not None


def boat_panel(desk: DrawingContext) -> Markup:
    """The board of the boat deck; empty on a rig that has no acoustic back-up."""
    own = desk.rig.plant.acoustic
    if own is None:
        return deck(BOAT, BOAT, TALL, css="panel")
    return deck(
        BOAT,
        BOAT,
        TALL,
        el(
            "div",
            {"class": "panel-body sound-body"},
            el("div", {"class": "supply"}, _transducer(own)),
            el("div", {"class": "supply"}, _orders(desk, own)),
            el("div", {"class": "supply"}, _reply(own)),
        ),
        css="panel",
    )


def _transducer(own: Acoustic) -> Markup:
    i = own.id
    return section(
        "Transducer and noise",
        "area-sound",
        _water(i),
        choice("Transducer", f"{i}.transducer", _HANGS, f"{i}.transducer", card=i),
        el(
            "div",
            {"class": "row"},
            readout(f"{i}.hangs", "It hangs"),
            readout(f"{i}.left", "Until then"),
        ),
        _rule(i),
        el(
            "div",
            {"class": "row"},
            measured(f"{i}.noise", "Noise", el("span", {}, "not in the water"), big=True),
            readout(f"{i}.most", "A reply is understood up to"),
        ),
    )


def _water(i: str) -> Markup:
    """Hull, transducer on its cable, and the receiver on the stack; the sound while a code is on its way."""

    def hangs(name: str, y: float) -> Markup:
        cable = el("path", {"class": "sound-cable", "d": f"M60 22V{y:g}"})
        head = el("path", {"class": "sound-head", "d": f"M53 {y:g}H67L64 {y + 10:g}H56Z"})
        return el("g", {"class": f"sound-at at-{name}", "data-state": f"{i}.hangs"}, cable, head)

    rings: list[Child] = [
        el("path", {"class": "sound-ring", "d": f"M{54 + 8 * n} {62 + 13 * n}q10 7 20 0"}) for n in range(1, 7)
    ]
    drawn: list[Child] = [
        el("path", {"class": "sound-sea", "d": "M0 26H240V150H0Z"}),
        el("path", {"class": "sound-bed", "d": "M0 150H240V164H0Z"}),
        el("path", {"class": "stack-body", "d": "M14 8H108L98 30H26ZM54 8V0H66V8"}),
        hangs("shallow", 40.0),
        hangs("deep", 62.0),
        el("g", {"class": "sound-on", "data-state": f"{i}.reply"}, rings),
        el("path", {"class": "stack-body", "d": "M118 116H146V150H118ZM124 104H140V116H124ZM118 126H104V120"}),
    ]
    words = "The vessel with its transducer over the side, and the receiver on the stack at the sea floor"
    return el("svg", {"class": "sound-way", "viewBox": "0 0 240 164", "role": "img", "aria-label": words}, drawn)


def _rule(i: str) -> Markup:
    """Levels on a rule: the noise as a filled bar, and the mark beyond which a reply drowns."""
    bar = el("rect", {"class": "sound-noise", "x": 0, "y": -7, "width": _RULE, "height": 14, "data-fill": f"{i}.noise",
                      "data-fill-axis": "x", "data-full": _RULE})  # fmt: skip
    mark = el("path", {"class": "sound-most", "d": "M0 -14V14M-6 -20H6L0 -12Z", "data-shift": f"{i}.most",
                       "data-dx": _RULE, "data-dy": 0})  # fmt: skip
    line = el("rect", {"class": "sound-scale", "x": 0, "y": -7, "width": _RULE, "height": 14})
    words = "Noise as a bar, with the mark up to which a reply is understood"
    return el(
        "svg",
        {"class": "sound-rule", "viewBox": f"-8 -24 {_RULE + 16:g} 42", "role": "img", "aria-label": words},
        line,
        bar,
        mark,
    )


def _orders(desk: DrawingContext, own: Acoustic) -> Markup:
    i = own.id
    named = {f.id: f.name for f in desk.rig.functions}
    keys = [
        el("div", {"class": "sound-key"}, _lock(key), choice(name, key, _KEY, key))
        for name, key in (("Key 1", f"{i}.key_1"), ("Key 2", f"{i}.key_2"))
    ]
    orders = [push(named[name], f"{i}.{name}", note=f"order {n}") for n, name in enumerate(own.command, 1)]
    return section(
        "Orders, both keys on",
        "area-orders strip-critical",
        el("div", {"class": "sound-keys"}, keys),
        el("div", {"class": "sound-orders"}, orders),
    )


def _lock(tag: str) -> Markup:
    """A lock with its key as it stands: across while off, upright while on."""
    turned = [
        el("g", {"class": f"sound-turn at-{way}", "data-state": tag},
           el("path", {"class": "sound-bow", "d": "M-3 -14H3V14H-3Z", "transform": f"rotate({angle})"}))
        for way, angle in (("off", 90), ("on", 0))
    ]  # fmt: skip
    plate = el("circle", {"class": "sound-lock", "r": 18})
    return el("svg", {"class": "sound-plate", "viewBox": "-20 -20 40 40", "aria-hidden": "true"}, plate, turned)


def _reply(own: Acoustic) -> Markup:
    i = own.id
    return section(
        "Reply from the stack",
        "area-reply",
        el(
            "div",
            {"class": "row"},
            push("Ask for status", f"{i}.{STATUS}", note="no key"),
            readout(f"{i}.tries", "Codes sent"),
        ),
        el(
            "div",
            {"class": "row"},
            el("div", {"class": "said", "data-state": f"{i}.reply"}, readout(f"{i}.reply", "Reply", big=True)),
            readout(f"{i}.age", "Age"),
        ),
        el(
            "div",
            {"class": "row"},
            measured(f"{i}.bank", "Bank above sea pressure", el("span", {}, "no reply yet")),
            measured(f"{i}.volts", "Receiver's battery", el("span", {}, "no reply yet")),
        ),
        el("p", {"class": "rov-labels"}, "A reply says that a valve was driven, not that a ram has moved."),
    )


def acoustic_symbol(desk: DrawingContext) -> Markup | None:
    """The receiver on the schematic, beside the stack; nothing on a rig whose stack has none."""
    own = desk.rig.plant.acoustic
    if own is None:
        return None
    body = el("path", {"class": "stack-body", "d": "M-8 -4H8V14H-8ZM0 -4V-10M-14 -14Q0 -4 14 -14M-20 -20Q0 -5 20 -20"})
    drawn = part(desk, own.id, own.name, f"{own.id}.reply", body)
    return el("g", {}, at(*_PLACE, drawn), label(_PLACE[0], _PLACE[1] + 30.0, "Acoustic", "middle small"))
