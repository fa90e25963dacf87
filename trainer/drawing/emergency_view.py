"""The back-ups on a board of their own: arming, bank and batteries of deadman and autoshear, and the conduits."""

from __future__ import annotations

from typing import Final

from trainer.drawing.context import DrawingContext
from trainer.drawing.controls import choice, enable, push
from trainer.drawing.frame import deck, section
from trainer.drawing.gauges import measured, readout
from trainer.drawing.markup import Markup, el
from trainer.drawing.parts import label, part, value
from trainer.drawing.pipes import pipe
from trainer.drawing.position_view import alert_repeated
from trainer.drawing.sheet import of
from trainer.drawing.symbols import accumulator, at
from trainer.plant.emergency import Emergency

TALL: Final = 540
BANK: Final = (1628.0, 752.0)
SCALE: Final = 0.8
LINE: Final = 1567.0
TO: Final = 568.0
"""Where the bank stands on the schematic, how large, and its line beside the well up to the stack."""
_ARMED: Final = (("disarmed", "Disarmed"), ("armed", "Armed"))
_DUMP: Final = (("shut", "Shut"), ("open", "Open"))


def backups_of(desk: DrawingContext) -> bool:
    """Whether the rig has anything for this board: an emergency bank and what fires it."""
    return desk.rig.plant.emergency is not None


def backups_panel(desk: DrawingContext) -> Markup:
    """The driller's board of back-ups; empty on a rig that has none."""
    own = desk.rig.plant.emergency
    if own is None:
        return deck("backups", "driller", TALL, css="panel")
    return deck(
        "backups",
        "driller",
        TALL,
        el(
            "div",
            {"class": "panel-body aside-body"},
            el(
                "div",
                {"class": "supply"},
                _arming(desk, own),
                _conduits(desk),
            ),
            el(
                "div",
                {"class": "supply"},
                section("Batteries of the deadman", "area-batteries", battery_rows(desk, own)),
                alert_repeated(desk),
            ),
        ),
        css="panel",
    )


def _arming(desk: DrawingContext, own: Emergency) -> Markup:
    i = own.id
    return section(
        "Deadman and autoshear",
        "area-emergency strip-critical",
        el(
            "div",
            {"class": "row"},
            choice("Deadman", f"{i}.arm", _ARMED, f"{i}.state", card=i),
            readout(f"{i}.state", "Deadman state"),
        ),
        el(
            "div",
            {"class": "row"},
            choice("Autoshear", "autoshear.arm", _ARMED, "autoshear.state", card=i),
            readout("autoshear.state", "Autoshear state"),
        ),
        el(
            "div",
            {"class": "row"},
            readout(f"{i}.pressure", "Bank above sea pressure"),
            push("Put back", f"{i}.reset", note="after it has fired; enable first"),
            enable(desk.rig.holds_enable),
        ),
    )


def _conduits(desk: DrawingContext) -> Markup:
    pods = desk.rig.pods
    return section(
        "Conduits at the stack",
        "area-conduits",
        el(
            "div",
            {"class": "row"},
            choice("Dump valves", "conduits.dump", _DUMP, "conduits.dump"),
            *(readout(f"pod_{pod.id}.conduit_pressure", f"{pod.id.capitalize()}, above sea pressure") for pod in pods),
        ),
    )


def battery_rows(desk: DrawingContext, own: Emergency) -> list[Markup]:
    """For each battery of the deadman its load test, its voltage now, and that of its last test."""
    rows = []
    for pod in desk.rig.pods:
        for letter in "ab":
            battery, name = f"{own.id}.battery_{pod.id}_{letter}", f"{pod.id.capitalize()} {letter.upper()}"
            rows.append(
                el(
                    "div",
                    {"class": "row", "role": "group", "aria-label": f"Deadman battery, {name}"},
                    push(f"Test {name}", f"{battery}.test", note="load, 5 s"),
                    el(
                        "div",
                        {"class": "linked", "data-state": f"link_{pod.id}.up"},
                        measured(f"{battery}.volts", f"{name}, now", el("span", {}, "not read")),
                        el("span", {}, "stale"),
                    ),
                    measured(f"{battery}.lowest", f"{name}, last test under load", el("span", {}, "not tested")),
                )
            )
    return rows


def emergency_symbol(desk: DrawingContext) -> Markup | None:
    """The bank of deadman and autoshear on the schematic, with its line to the lower stack; nothing without one."""
    own = desk.rig.plant.emergency
    if own is None:
        return None
    tag = f"{own.id}.pressure"
    bottle = part(desk, own.id, own.name, tag, accumulator())
    foot = BANK[1] + 44.0 * SCALE
    return el(
        "g",
        {},
        pipe([(BANK[0], foot), (BANK[0], foot + 8.0), (LINE, foot + 8.0), (LINE, TO)], of(desk, tag), thin=True),
        at(*BANK, bottle, scale=SCALE),
        label(BANK[0], BANK[1] - 40.0, "Deadman", "middle small"),
        value(desk, BANK[0], foot + 28.0, tag, "middle small"),
    )
