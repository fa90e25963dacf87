"""What a hand seldom reaches for at the panels: diverter, emergency disconnect, connectors of the pods, isolations."""

from __future__ import annotations

from typing import Final

from trainer.drawing.context import DrawingContext
from trainer.drawing.controls import choice, enable, function_strip, push
from trainer.drawing.frame import deck, section
from trainer.drawing.gauges import readout
from trainer.drawing.markup import Markup, el
from trainer.drawing.regulator_rows import regulator_table
from trainer.drawing.telemetry_view import answers, telemetry_controls

TALL: Final = 540
_SIDES: Final = (("port", "Port"), ("starboard", "Starboard"))


def diverter_controls(desk: DrawingContext, meters: bool = True) -> Markup | None:
    """Side and divert button, with stage, flow, wind and heading; nothing where the plant has no diverter.

    Without ``meters`` only how far the sequence has come.
    """
    if not desk.has("diverter.side"):
        return None
    return section(
        "Divert",
        "area-divert",
        choice("Choose the downwind side", "diverter.side", _SIDES, "diverter.side"),
        el(
            "div",
            {"class": "row"},
            push("Divert", "diverter.divert", note="enable first"),
            *(readout(t, n) for t, n in (_WIND if meters else _WIND[:1]) if desk.has(t)),
        ),
    )


def disconnect_controls(desk: DrawingContext) -> Markup | None:
    """The emergency disconnect: arm, then start, state and clock beside them; nothing where the plant has none.

    Where there are several sequences, one of them is chosen first.
    """
    if not desk.has("eds.state"):
        return None
    declared = desk.rig.plant.disconnect
    known = declared.sequence if declared is not None else ()
    words = tuple((one.id, one.title) for one in known)
    return section(
        "Emergency disconnect: cannot be undone",
        "area-disconnect strip-critical",
        choice("Sequence for", "eds.sequence", words, "eds.sequence") if words else None,
        el(
            "div",
            {"class": "row"},
            push("Arm", "eds.arm", note="enable first"),
            push("Start", "eds.start", note="armed only"),
            readout("eds.state", "Sequence"),
            readout("eds.clock", "Since start"),
            readout("eds.takes", "Takes") if words else None,
        ),
    )


_WIND: Final = (
    ("diverter.stage", "Sequence"),
    ("diverter.flow", "Overboard"),
    ("weather.wind_from", "Wind from"),
    ("rig.heading", "Heading"),
)


def aside_of(desk: DrawingContext) -> bool:
    """Whether the rig has anything for this board: a diverter, a disconnect or a function seldom used."""
    return bool(desk.rig.aside()) or desk.has("diverter.side") or desk.has("eds.state")


def aside_panel(desk: DrawingContext) -> Markup:
    """The driller's second board: diverter, disconnect, and the functions seldom used."""
    strips = [function_strip(f, answer=answers(desk, f)) for f in desk.rig.aside()]
    functions = section("Functions", "area-aside", el("div", {"class": "strips"}, strips), label=False)
    chooses = desk.has("eds.sequence")
    return deck(
        "aside",
        "driller",
        TALL,
        el(
            "div",
            {"class": "panel-body aside-body"},
            el("div", {"class": "supply"}, functions, disconnect_controls(desk)) if chooses else functions,
            el(
                "div",
                {"class": "supply"},
                regulator_table(desk, serves="diverter"),
                diverter_controls(desk),
                None if chooses else disconnect_controls(desk),
                telemetry_controls(desk),
                section("Enable", "", enable(desk.rig.holds_enable)),
            ),
        ),
        css="panel",
    )
