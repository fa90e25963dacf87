"""Telemetry on the boards: what a pod answers, the two controllers, and the links with their sides of electronics."""

from __future__ import annotations

from typing import Final

from trainer.drawing.context import DrawingContext
from trainer.drawing.controls import choice, push
from trainer.drawing.frame import section
from trainer.drawing.gauges import readout
from trainer.drawing.markup import Markup, el
from trainer.drawing.parts import label, part
from trainer.drawing.symbols import at
from trainer.plant.functions import Function

_SWITCH: Final = (("on", "On"), ("off", "Off"))


def answers(desk: DrawingContext, function: Function) -> bool:
    """Whether the strip of a function tells an answer: its orders are messages, from whichever panel they come."""
    return desk.has(f"{function.id}.answer")


def _side(desk: DrawingContext, pod: str, letter: str) -> Markup:
    tag, name = f"pod_{pod}.side_{letter}", f"{pod.capitalize()} pod, side {letter.upper()}"
    return el(
        "div",
        {"class": "row"},
        choice(name, tag, _SWITCH, tag, "choice-up", f"pod_{pod}", f"{pod.capitalize()} {letter.upper()}"),
        readout(f"{tag}_answers", "Answers"),
    )


def pod_counts(desk: DrawingContext) -> Markup | None:
    """A row with what has gone through each pod since the last order, and what flows; nothing without such meters."""
    metered = [pod for pod in desk.rig.pods if desk.has(f"{pod.known_as}.count")]
    if not metered:
        return None
    return el(
        "div",
        {"class": "row", "role": "group", "aria-label": "Flow meters in the pods"},
        [
            (readout(f"{pod.known_as}.count", f"{pod.name}, since order"), readout(f"{pod.known_as}.flow", "Now"))
            for pod in metered
        ],
    )


def telemetry_controls(desk: DrawingContext) -> Markup | None:
    """Which controller leads, the clock of the screens, and for each pod its link, retries and sides of electronics.

    Nothing where orders are no messages.
    """
    told = desk.rig.plant.telemetry
    if told is None or not desk.has(f"{told.id}.leads"):
        return None
    i = told.id
    return section(
        "Telemetry",
        "area-telemetry",
        el(
            "div",
            {"class": "row"},
            readout(f"{i}.leads", "Leads"),
            readout(f"{i}.a", "Controller A"),
            readout(f"{i}.b", "Controller B"),
            readout(f"{i}.clock", "Screen clock"),
            push("Take over", f"{i}.takeover", note="the other leads"),
        ),
        [
            el(
                "div",
                {"class": "row", "role": "group", "aria-label": f"{pod.name}, link"},
                readout(f"link_{pod.id}.up", f"{pod.name}, link"),
                readout(f"link_{pod.id}.retries", "Retries"),
                readout(f"{pod.known_as}.total", "Flow in all"),
                _side(desk, pod.id, "a"),
                _side(desk, pod.id, "b"),
            )
            for pod in desk.rig.pods
        ],
    )


def pod_rows(desk: DrawingContext) -> list[Markup]:
    """For each pod what its cable's insulation and its housing show."""
    return [
        el(
            "div",
            {"class": "row", "role": "group", "aria-label": f"{pod.name}, cable and housing"},
            readout(f"link_{pod.id}.insulation", f"{pod.name}, insulation"),
            readout(f"link_{pod.id}.ground", "Monitor"),
            readout(f"pod_{pod.id}.temperature", "Inside"),
            readout(f"pod_{pod.id}.humidity", "Humidity"),
        )
        for pod in desk.rig.pods
    ]


def telemetry_symbol(desk: DrawingContext, x: float, y: float) -> Markup | None:
    """The controllers on the schematic, with which of them leads; nothing where orders are no messages."""
    told = desk.rig.plant.telemetry
    if told is None:
        return None
    body = el("path", {"class": "stack-body", "d": "M-26 -14H-3V14H-26ZM3 -14H26V14H3Z"})
    drawn = part(desk, told.id, told.name, f"{told.id}.leads", body)
    return el("g", {}, at(x, y, drawn), label(x, y - 22, told.name, "middle small"))
