"""Texts of drills take the plant's figures from the plant, name the hazards of the work, and point to the rules."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from typing import Any

import pytest
from pydantic import BaseModel

from trainer import units
from trainer.drills import library
from trainer.drills.schema import Drill
from trainer.plant.rig import load_plant
from trainer.simulator import Session

DRILLS = library.all_drills()
TEXTS = {"why", "title", "reason", "say", "purpose", "method", "text", "tell", "expected", "look_for", "learning"}
FIGURE = re.compile(r"(?<![\w.{:,])(\d[\d,]*(?:\.\d+)?) ?(psi|bbl|gal|ft|in|lb/gal|V|klbf)(?![\w/])")
CHANCE = {
    "0.105 bbl": "the pump's output in the formula, to three digits, which the plant's figure is not shown to",
    "6 ft": "a limit of the hanging off, not the plant's length",
    "1 in": "pump 1 in manual",
    "2 in": "filter 2 in line",
    "60 psi": "limits of a float and of a test",
    "350 psi": "the low test of 30 CFR 250.737 (a)",
    "600 psi": "an annular pressure for stripping",
    "900 psi": "cold nitrogen, and an annular at rest",
    "1,000 psi": "above the ordered test pressure",
    "1,200 psi": "precharge and 200 psi: a limit with conditions beside it, in statements that are kept",
    "1,500 psi": "a limit while one bank is out",
    "2,600 psi": "a limit after a test",
    "4,000 psi": "a limit at the end of a drill",
    "18.0 V": "what a deadman's coils need on every rig",
    "18 V": "the same",
    "24 V": "a deadman's battery without load, on every rig",
}
"""Figures that a text may give although the plant has the same somewhere, with the reason."""


def texts(data: Any, key: str = "") -> Iterator[str]:
    """Everything that a trainee reads in a drill."""
    if isinstance(data, BaseModel):
        data = {name: getattr(data, name) for name in type(data).model_fields}
    if isinstance(data, dict):
        for name, value in data.items():
            yield from texts(value, name)
    elif isinstance(data, list):
        for value in data:
            yield from texts(value, key)
    elif isinstance(data, str) and key in TEXTS:
        yield data


@cache
def figures(plant: str) -> tuple[float, ...]:
    """Every number of a plant, SI."""

    def walk(data: Any) -> Iterator[float]:
        if isinstance(data, BaseModel):
            data = [getattr(data, name) for name in type(data).model_fields]
        if isinstance(data, dict):
            data = list(data.values())
        if isinstance(data, list | tuple):
            for value in data:
                yield from walk(value)
        elif isinstance(data, float):
            yield data

    return tuple(walk(load_plant(plant)[0]))


@pytest.mark.parametrize("drill", DRILLS.values(), ids=lambda drill: drill.id)
def test_figures_of_the_plant_come_from_the_plant(drill: Drill) -> None:
    """A figure typed in could contradict the plant after a change of its file."""
    known = figures(drill.plants[0])
    for text in texts(drill):
        for number, unit in FIGURE.findall(re.sub(r"\{[^}]*\}", "", text)):
            value = float(number.replace(",", ""))
            if f"{number} {unit}" in CHANCE:
                continue
            si = units.from_unit(value, unit)
            same = [figure for figure in known if abs(figure - si) <= 1e-4 * abs(si)]
            assert not same, f"{number} {unit} in {text!r}: write {{plant...:{unit}}}"


@pytest.mark.parametrize("drill", DRILLS.values(), ids=lambda drill: drill.id)
def test_hazards_and_rules_are_named(drill: Drill) -> None:
    """Local regulations and licensed practice, the manufacturer's manual and the rig's procedures in the first line;
    then the hazards of this drill's own work."""
    first, *rest = drill.safety
    for words in ("local regulations", "licensed practice", "manufacturer's manual", "procedure"):
        assert words in first, (drill.id, words)
    assert rest, f"{drill.id}: name the hazards of its work"


def test_no_placeholder_is_left_for_the_trainee() -> None:
    """One run each of drills with figures of the plant in the situation, on both rigs."""
    for drill in (
        "accumulator-drawdown",
        "surface-accumulator-drawdown",
        "kick-while-drilling",
        "kill-drillers-method",
    ):
        session = Session.start(drill)
        assert "{" not in session.referee.messages[0][1]


def test_a_place_without_its_unit_is_found() -> None:
    """``{plant.well.mud}`` would be shown as it stands."""
    for drill in DRILLS.values():
        for text in texts(drill):
            for found in re.findall(r"\{plant\.[^}]*\}", text):
                assert ":" in found, (drill.id, found)
