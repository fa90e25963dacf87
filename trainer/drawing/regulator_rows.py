"""Regulators as rows of a table: name, pilot and read-back with their bars, lower and raise, and who has authority."""

from __future__ import annotations

from trainer.drawing.context import DrawingContext
from trainer.drawing.controls import choice, hold
from trainer.drawing.frame import section
from trainer.drawing.gauges import meter
from trainer.drawing.markup import Markup, el, live
from trainer.plant.regulators import Regulator

NO_METERS = "No meters here: read them at the driller's panel or the unit."
_COLUMNS = (("pilot", "Pilot"), ("readback", "Read-back"))


def short_title(regulator: Regulator) -> str:
    """The title of a regulator without the word that all of them share, for rows of regulators."""
    return regulator.name.removesuffix(" regulator")


def _row(desk: DrawingContext, regulator: Regulator, meters: bool, authority: bool) -> Markup:
    tag = f"{regulator.id}.authority"
    shown = (
        [meter(desk, f"{regulator.id}.{w}", f"{regulator.name}, {name}") for w, name in _COLUMNS] if meters else None
    )
    held = None
    if desk.has(tag):
        held = live(tag, "remote") if not authority else None
    return el(
        "div",
        {"class": "reg-row", "role": "group", "aria-label": regulator.name},
        el(
            "button",
            {"class": "reg-name card-link", "type": "button", "data-open-card": regulator.id},
            el("span", {}, short_title(regulator)),
            el("span", {"class": "strip-note", "data-state": tag}, "from ", held) if held else None,
        ),
        shown,
        hold("Lower", "lower", regulator.id, name=regulator.name, css="lower"),
        hold("Raise", "raise", regulator.id, name=regulator.name, css="raise"),
        choice(
            f"{regulator.name} set from", tag, (("unit", "Unit"), ("remote", "Remote")), tag, "choice-bare", None, ""
        )
        if authority and desk.has(tag)
        else None,
    )


def regulator_table(
    desk: DrawingContext, meters: bool = True, authority: bool = False, serves: str = "", but: str = ""
) -> Markup | None:
    """Regulators of the plant: all, or those that serve ``serves``, or all ``but`` those of one manifold.

    ``authority`` adds the unit / remote selectors, which stand at the unit, and leaves out what is not set there.
    """
    shown = [r for r in desk.rig.regulators if serves in ("", r.serves) and r.serves != but]
    shown = [r for r in shown if not authority or desk.has(f"{r.id}.authority")]
    rows = [_row(desk, r, meters, authority) for r in shown if desk.has(f"{r.id}.readback")]
    if not rows:
        return None
    heads: list[Markup] = [el("span", {"class": "area-title"}, "Regulators")]
    if meters:
        heads += [el("span", {"class": "area-title"}, name) for _, name in _COLUMNS]
    else:
        heads.append(el("span", {"class": "no-meters"}, NO_METERS))
    return section(
        "Regulators",
        "area-regs" + ("" if meters else " area-regs-blind") + (" area-regs-unit" if authority else ""),
        el("div", {"class": "reg-row reg-head"}, heads),
        rows,
        label=False,
    )
