"""Things a hand or eye goes to on a board: lamps, push-buttons, function strips, selectors and levers.

Lamps follow the trade: closed red, open green, block amber. That differs from IEC 60073, where red means danger;
so each also has its own shape and word: closed a filled square, open a ring, block a diamond.
"""

from __future__ import annotations

from typing import Final

from trainer.drawing.markup import Markup, command, el, hidden, live
from trainer.plant.alarms import priority
from trainer.plant.functions import Function
from trainer.plant.panels import Panel

_SHAPES: Final = {
    "close": el("rect", {"x": 2.5, "y": 2.5, "width": 11, "height": 11}),
    "open": el("circle", {"cx": 8, "cy": 8, "r": 5.5}),
    "block": el("path", {"d": "M8 1.2L14.8 8L8 14.8L1.2 8Z"}),
    "warn": el("path", {"d": "M8 1.5L15 14.5H1Z"}),
    "round": el("circle", {"cx": 8, "cy": 8, "r": 6}),
}

POSITIONS: Final = ("open", "block", "close")
_WORDS: Final = {"open": "Open", "block": "Block", "close": "Close"}
_OWN_WORDS: Final = {
    "connector": {"open": "Unlatch", "close": "Latch"},
    "lock": {"open": "Unlock", "close": "Lock"},
    "unlatch": {"open": "Retract", "close": "Unlatch"},
}


def mark(shape: str) -> Markup:
    """The lamp shape of a position: square closed, ring open, diamond block, triangle warning."""
    return el(
        "svg",
        {"class": f"mark mark-{shape}", "viewBox": "0 0 16 16", "aria-hidden": "true", "focusable": "false"},
        _SHAPES[shape],
    )


def position_word(function: Function, position: str) -> str:
    """The word on the button: a connector latches, a lock locks, everything else closes; and the other way."""
    return (_WORDS | _OWN_WORDS.get(function.kind, {}))[position]


def lamp_of(function: Function, position: str, panel: Panel | None = None) -> str:
    """The reading of a function's lamp for open, block or close; a further ``panel`` has lamps of its own."""
    return panel.lamp(function.id, position) if panel is not None else f"{function.id}.lamp_{position}"


def function_button(function: Function, position: str, lamps: bool = True, panel: Panel | None = None) -> Markup:
    """One lit push-button of a function; its lamp is the pressure switch, never the ram itself."""
    lamp = lamp_of(function, position, panel)
    word = position_word(function, position)
    return el(
        "button",
        {
            "class": f"key key-{position}",
            "type": "button",
            "data-send": command("set", function.id, position),
            "data-state": lamp if lamps else f"{function.id}.valve",
            "data-when": "on" if lamps else position,
        },
        hidden(f"{function.name}: "),
        mark(position),
        el("span", {"class": "key-word"}, word),
        hidden(", lamp ", live(lamp, "off")) if lamps else None,
    )


def function_keys(function: Function, lamps: bool = True, panel: Panel | None = None) -> Markup:
    """The three buttons of a function: open, block, close; the closing side lies towards the well."""
    return el("div", {"class": "keys"}, [function_button(function, p, lamps, panel) for p in POSITIONS])


def function_strip(
    function: Function, stacked: bool = False, panel: Panel | None = None, answer: bool = False
) -> Markup:
    """Name and three lit buttons of one function, side by side or name above (``stacked``).

    ``answer``: its orders are messages, and the strip says what the pod made of the last one.
    """
    critical = function.critical
    css = "strip" + (" strip-stacked" if stacked else "") + (" strip-critical" if critical else "")
    css += " strip-answers" if answer else ""
    name = el(
        "button",
        {"class": "strip-name card-link", "type": "button", "data-open-card": function.id},
        el("span", {}, function.name),
        _note(critical, f"{function.id}.answer" if answer else ""),
    )
    return el(
        "div",
        {"class": css, "role": "group", "aria-label": function.name, "data-function": function.id},
        name,
        function_keys(function, panel=panel),
    )


def _note(critical: bool, answer: str) -> Markup | None:
    """What stands below the name on a strip: that enable comes first, and the tag of what the pod answered."""
    first = el("span", {"class": "strip-note"}, "enable first") if critical else None
    if not answer:
        return first
    said = el("span", {"class": "strip-note strip-answer", "data-state": answer}, live(answer, "answered"))
    return el("span", {"class": "strip-notes"}, first, said)


def push(
    word: str, target: str, css: str = "", note: str | None = None, state: str | None = None, do: str = "push"
) -> Markup:
    """A momentary push-button with its word; a note below it, and a state that lights it, where they are given."""
    return el(
        "button",
        {
            "class": f"push {css}".strip(),
            "type": "button",
            "data-send": command(do, target),
            "data-state": state,
            "data-when": "on" if state else None,
        },
        el("span", {"class": "push-word"}, word),
        el("span", {"class": "push-note"}, note, live(state, "off") if state else None) if note else None,
    )


def enable(held: bool = False) -> Markup:
    """The button that frees the critical buttons of every panel, and whether it does so now.

    held: whether it frees them as long as it is held; a short press of it lasts for a few seconds all the same.
    """
    target, state = "driller.enable", "driller.enabled"
    if not held:
        return push("Enable", target, "push-enable", "frees the critical buttons for 5 s; now ", state)
    return el(
        "button",
        {
            "class": "push push-enable hold",
            "type": "button",
            "data-send": command("push", target),
            "data-held": command("set", target, "held"),
            "data-release": command("set", target, "free"),
            "data-state": state,
            "data-when": "on",
        },
        el("span", {"class": "push-word"}, "Enable"),
        el("span", {"class": "push-note"}, "frees the critical buttons while held, or 5 s; now ", live(state, "off")),
    )


def setting(word: str, target: str, value: float | str, name: str, state: str | None = None) -> Markup:
    """A button that sets ``target`` to one value; with ``state`` it shows when that value holds."""
    return el(
        "button",
        {
            "class": "option",
            "type": "button",
            "data-send": command("set", target, value),
            "data-state": state,
            "data-when": value if state else None,
            "aria-pressed": "false" if state else None,
        },
        hidden(f"{name}: "),
        el("span", {"class": "option-word"}, word),
    )


def field(tag: str, name: str) -> Markup:
    """A field for any value of the setting ``tag``, with its button; ``name`` is what both say of it."""
    return el(
        "form",
        {"class": "post-field", "data-send": command("set", tag)},
        el(
            "input",
            {
                "name": "value",
                "aria-label": f"{name}, value",
                "inputmode": "decimal",
                "autocomplete": "off",
                "required": "required",
                "maxlength": 20,
            },
        ),
        el("span", {"data-unit": tag, "class": "sr"}, ""),
        el("button", {"class": "push", "type": "submit"}, "Set", hidden(f" {name}")),
    )


def hold(word: str, do: str, target: str, value: float | None = None, name: str = "", css: str = "") -> Markup:
    """A button that repeats while it is held, as raise and lower do; ``value`` is what each repeat sends."""
    arrow = {"raise": "▲", "lower": "▼", "up": "▲", "down": "▼"}.get(css, "")
    return el(
        "button",
        {
            "class": f"push hold hold-{css}",
            "type": "button",
            "data-send": command(do, target, value),
            "data-hold": "",
        },
        hidden(f"{name}: ") if name else None,
        el("span", {"class": "hold-arrow", "aria-hidden": "true"}, arrow) if arrow else None,
        el("span", {"class": "push-word"}, word),
    )


_ARROWS: Final = {"up": "▲", "down": "▼"}


def lever(word: str, target: str, way: str, name: str) -> Markup:
    """A lever's side: it runs ``way`` while it is held, and stops when it is let go."""
    return el(
        "button",
        {
            "class": f"push hold hold-{way}",
            "type": "button",
            "data-send": command("set", target, way),
            "data-release": command("set", target, "stop"),
            "data-hold": "",
        },
        hidden(f"{name}: "),
        el("span", {"class": "hold-arrow", "aria-hidden": "true"}, _ARROWS[way], " ", el("span", {}, "hold")),
        el("span", {"class": "push-word"}, word),
    )


def choice(
    name: str,
    target: str,
    options: tuple[tuple[str, str], ...],
    state: str,
    css: str = "",
    card: str | None = None,
    short: str | None = None,
) -> Markup:
    """A selector: one button a position; the chosen one is marked, ticked and pressed for screen readers.

    ``short`` is the name as printed where room is scarce.
    """
    label = (
        el("button", {"class": "choice-name card-link", "type": "button", "data-open-card": card}, short or name)
        if card
        else el("span", {"class": "choice-name"}, short or name)
    )
    return el(
        "div",
        {"class": f"choice {css}".strip(), "role": "group", "aria-label": name},
        label,
        el(
            "div",
            {"class": "choice-row"},
            [
                el(
                    "button",
                    {
                        "class": f"option option-{value}",
                        "type": "button",
                        "data-send": command("set", target, value),
                        "data-state": state,
                        "data-when": value,
                        "aria-pressed": "false",
                    },
                    hidden(f"{name}: "),
                    el("span", {"class": "option-word"}, word),
                )
                for value, word in options
            ],
        ),
    )


def warning_lamp(tag: str, word: str) -> Markup:
    """A warning lamp with its alarm's priority and state in words beside it."""
    return el(
        "div",
        {
            "class": "warning",
            "data-state": tag,
            "role": "group",
            "aria-label": f"Alarm, {priority(tag)} priority: {word}",
        },
        mark("warn"),
        el(
            "span",
            {"class": "warning-words"},
            el("span", {"class": "warning-name"}, word),
            el(
                "span",
                {"class": f"warning-state warning-{priority(tag)}", "data-state": tag},
                hidden(live(tag, "normal")),
            ),
        ),
    )


def lamp(tag: str, word: str, shape: str = "round", good: bool = True) -> Markup:
    """A plain status lamp of a state reading: shape, word, and its state in words for who sees no color."""
    return el(
        "div",
        {"class": "lamp " + ("lamp-good" if good else "lamp-bad"), "data-state": tag},
        mark(shape),
        el("span", {"class": "lamp-word"}, word),
        el("span", {"class": "lamp-state"}, live(tag)),
    )
