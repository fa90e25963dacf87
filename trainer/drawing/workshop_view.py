"""The subsea workshop's board: coils of one solenoid valve, each pod's electronics, batteries and meters."""

from __future__ import annotations

from typing import Final

from trainer.drawing.context import DrawingContext
from trainer.drawing.controls import choice
from trainer.drawing.emergency_view import battery_rows
from trainer.drawing.frame import deck, section
from trainer.drawing.gauges import readout
from trainer.drawing.markup import Markup, el
from trainer.drawing.telemetry_view import pod_counts, pod_rows, telemetry_controls
from trainer.plant.emergency import Emergency

TALL: Final = 560
_SHOWN: Final = ((f"{way}_{letter}", f"{word} {letter.upper()}")
                 for way, word in (("open", "Open"), ("close", "Close")) for letter in "ab")  # fmt: skip
COILS: Final = tuple(_SHOWN)
"""The four coils of a function's two solenoid valves in a pod: the end of their tags, and their names."""


def workshop_of(desk: DrawingContext) -> bool:
    """Whether the rig has a subsea workshop: where orders are messages there are electronics to look after."""
    return desk.rig.plant.telemetry is not None


def workshop_panel(desk: DrawingContext) -> Markup:
    """The board of the subsea workshop; empty on a rig whose pods have no electronics."""
    own = desk.rig.plant.emergency
    if not workshop_of(desk):
        return deck("workshop", "workshop", TALL, css="panel")
    return deck(
        "workshop",
        "workshop",
        TALL,
        el(
            "div",
            {"class": "panel-body aside-body workshop-body"},
            el(
                "div",
                {"class": "supply"},
                _coils(desk),
                section("Flow meters", "area-counts", pod_counts(desk), label=False) if pod_counts(desk) else None,
                _arming(own) if own else None,
            ),
            el(
                "div",
                {"class": "supply"},
                telemetry_controls(desk),
                section("Cable and housing", "area-housing", pod_rows(desk)),
                section("Batteries of the deadman", "area-batteries", battery_rows(desk, own)) if own else None,
            ),
        ),
        css="panel",
    )


def _arming(own: Emergency) -> Markup:
    """Both back-ups and their bank as the stack reports them: they are armed at the driller's panel."""
    return section(
        "Armed at the driller's panel",
        "area-arming",
        el(
            "div",
            {"class": "row"},
            readout(f"{own.id}.state", "Deadman state"),
            readout("autoshear.state", "Autoshear state"),
            readout(f"{own.id}.pressure", "Bank above sea pressure"),
        ),
    )


def _coils(desk: DrawingContext) -> Markup:
    """Which function's coils are measured, and what each of them draws."""
    known = tuple((f.id, f.name) for f in desk.rig.functions if desk.rig.plant.ordered(f))
    return section(
        "Coil currents",
        "area-coils",
        choice("Coils of", "workshop.solenoid", known, "workshop.solenoid", "choice-stacked choice-many"),
        [
            el(
                "div",
                {"class": "row", "role": "group", "aria-label": f"{pod.name}, coil currents"},
                el("span", {"class": "row-name"}, pod.name),
                [readout(f"pod_{pod.id}.coil_{end}", word) for end, word in COILS],
            )
            for pod in desk.rig.pods
        ],
    )
