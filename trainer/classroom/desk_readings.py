"""What changes on the instructor's page: the rows of the roster, and the boards about the place that is chosen."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from weakref import WeakKeyDictionary

from trainer.classroom.roster import AnyPlace, FarPlace, Place
from trainer.console import debrief, shell
from trainer.console.reading import Reading
from trainer.console.told import Deed, Teller
from trainer.drawing.markup import Markup, el, join
from trainer.simulator import Session
from trainer.wording import worded

LAST_ACTIONS = 14


def code_readings(codes: Mapping[str, str]) -> dict[str, Reading]:
    """The codes of the open classes, and a button to close each."""
    shown = ", ".join(f"{title}: {code}" if title else code for title, code in codes.items())
    close = [
        shell.button(f"Close {title}" if title else "Close class", {"page": "close_class", "title": title})
        for title in codes
    ]
    return {"desk.code": {"text": shown or "no open class"}, "desk.classes": {"html": Markup("".join(close))}}


def row_readings(place: AnyPlace, chosen: str | None) -> dict[str, Reading]:
    """What changes in a row of the roster."""
    if isinstance(place, FarPlace):
        row = dict(place.row)
        if place.number == chosen:
            row[f"seat.{place.number}.row"] = {"state": "chosen"}
        return row
    seat, run = place.seat, place.run
    drill = seat.drill.title if seat.drill else "Free practice"
    over = seat.page in ("sheet", "replay")
    pages = {"chooser": "choosing", "learn": "learning the parts", "sheet": "finished", "replay": "finished, in replay"}
    state = pages.get(seat.page, "running")
    if state == "running":
        state = (
            f"frozen: {seat.stuck}"
            if seat.stuck
            else "frozen"
            if seat.frozen
            else "waits for Begin"
            if seat.unbegun
            else "paused"
            if seat.paused
            else "running"
        )
        state += " (check)" if seat.mode == "check" else ""
    if seat.unsaved:
        state += f", not saved: {seat.unsaved}"
    if place.page is None:
        state += ", away"
    waiting = len([one for one in seat.talk.requests if not one.answered])
    score = f"{seat.score:.0f}" if seat.score is not None and over else ""
    prefix = f"seat.{place.number}."
    return {
        f"{prefix}class": {"text": seat.who.joined if seat.who else ""},
        f"{prefix}drill": {"text": drill if run else "–"},
        f"{prefix}clock": {"text": debrief.clock(run.time) if run else ""},
        f"{prefix}state": {"text": state},
        f"{prefix}score": {"text": score},
        f"{prefix}asks": {"text": "check" if seat.wish else str(waiting) if waiting else ""},
        f"{prefix}row": {"state": "chosen" if place.number == chosen else "waiting" if waiting or seat.wish else "row"},
    }


def row_texts(place: AnyPlace) -> dict[str, str]:
    """The texts of a row by what they are: ``class``, ``drill``, ``clock``, ``state``, ``score`` and ``asks``."""
    return {key.rpartition(".")[2]: str(value.get("text", "")) for key, value in row_readings(place, None).items()}


def place_readings(place: AnyPlace) -> dict[str, Reading]:
    """What changes in the boards about the chosen place."""
    if isinstance(place, FarPlace):
        return {**_empty(), **place.about}
    seat, run = place.seat, place.run
    wish = (
        [el("li", {}, f"Asks for the check {seat.wish.title} ", shell.button("Allow", {"page": "allow"}))]
        if seat.wish is not None
        else []
    )
    if not isinstance(run, Session):
        return {**_empty(), "desk.asks": _list(wish)}
    return {
        "desk.run": {"text": f"{seat.drill.title if seat.drill else 'Free practice'} {debrief.clock(run.time)}"},
        "desk.pace": {"text": f"{seat.pace:g}"},
        "desk.moments": {
            "html": el(
                "div",
                {},
                [
                    shell.button(f"Take back: {seat.before.title} {debrief.clock(seat.before.t)}", {"page": "undo"})
                    if seat.before is not None
                    else None,
                    [
                        shell.button(kept.label, {"page": "rewind", "tick": str(kept.tick)}, "tool")
                        for kept in reversed(seat.snapshots[-24:])
                    ],
                ],
            )
        },
        "desk.faults": _list(_fault_line(run, fault) for fault in present_faults(run)),
        "desk.asks": _list([*wish, *(_ask_line(place, number) for number in range(len(seat.talk.requests)))]),
        "desk.log": _list(map(_action, Teller(run.machine, seat.drill, "field").deeds(run.log[-LAST_ACTIONS:])[::-1])),
        "desk.notes": _list(el("li", {}, debrief.clock(t), " ", text) for t, text, _ in seat.talk.notes),
    }


def _list(lines: Iterable[Markup]) -> Reading:
    """Items that stand in a list of the board's own."""
    return {"html": join(*lines)}


def _empty() -> dict[str, Reading]:
    keys = ("desk.run", "desk.moments", "desk.faults", "desk.asks", "desk.log", "desk.notes")
    return {key: {"text": "", "html": ""} for key in keys}


def present_faults(run: Session) -> list[str]:
    """The faults that are there now, whoever brought them."""
    machine = run.machine
    places = _FAULTS.get(machine)
    if places is None:
        places = _FAULTS[machine] = [(fault, machine.index[f"fault.{fault}"]) for fault in sorted(machine.faults)]
    state = machine.state
    return [fault for fault, at in places if state[at] > 0.0]


_FAULTS: WeakKeyDictionary[object, list[tuple[str, int]]] = WeakKeyDictionary()
"""Where the severity of each fault of a machine stands: a wall asks for all of them every second."""


def _fault_line(run: Session, fault: str) -> Markup:
    title = run.machine.faults[fault].title
    severity = 100.0 * run.machine.read(f"fault.{fault}")
    return el("li", {}, f"{title}, {severity:.0f} % ", shell.button("Clear", {"page": "clear", "fault": fault}))


def _ask_line(place: Place, at: int) -> Markup:
    request = place.seat.talk.requests[at]
    words = worded("{0} {1}", debrief.clock(request.t), request.text)
    if request.answered:
        return el("li", {"class": "desk-soft"}, f"{words} ({request.answer[:1].lower()}{request.answer[1:]})")
    number = {"number": str(request.number)}
    control = request.what is not None
    given = {"name": "text", "aria-label": f"A word about: {request.text}", "placeholder": "A word", "maxlength": 200}
    return el(
        "li",
        {},
        el("span", {}, words),
        shell.button("Do it", {"page": "grant", **number}) if control else None,
        el(
            "form",
            {"class": "desk-row", "data-page": {"page": "decline" if control else "answer", **number}},
            el("input", given | {"autocomplete": "off"}),
            el("button", {"class": "tool", "type": "submit"}, "Decline" if control else "Answer"),
        ),
    )


def _action(deed: Deed) -> Markup:
    return el(
        "li",
        {"class": "desk-refused" if deed.refused else "desk-did"},
        f"{debrief.clock(deed.t)} {deed.by}: {deed.text}",
        f" – {deed.refused}" if deed.refused else None,
    )
