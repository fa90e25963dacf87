"""Written words in the chosen units, and no number of the other system anywhere on a page in metric."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from typing import Any

import pytest

from trainer import units
from trainer.classroom.rooms import shipped_seat
from trainer.console import debrief
from trainer.console.in_units import in_units
from trainer.console.seat import Seat
from trainer.console.texts import retell_markup
from trainer.drawing.markup import el
from trainer.drills.guide import Guide
from trainer.drills.runner import Runner
from trainer.hydraulics.refusal import Refusal
from trainer.wording import amount, joined, put, told, worded, written

#: A number before a unit of the field system, as a person would read it.
FIELD = re.compile(r"\d\s?(?:psi|gal|gpm|ft|bbl|lb/gal|ppg|°F|lbf|klbf)\b")


@pytest.mark.parametrize(
    ("read", "metric"),
    [
        ("Within 20 psi of the true value.", "Within 1.4 bar of the true value."),
        ("at 11,250 ft with 10.4 lb/gal mud", "at 3,429.0 m with 1,246 kg/m³ mud"),
        ("30 to 40 psi", "2.1 to 2.8 bar"),
        ("between 500 and 1,000 psi", "between 34.5 and 68.9 bar"),
        ("step 2 and 500 psi", "step 2 and 34.5 bar"),
        ("70 °F, 0.1 psi/ft, -3.5 bbl", "21 °C, 0.0226 bar/m, -0.56 m³"),
        ("12-1/4 in hole, 30 CFR 250.710, 70 strokes", "12-1/4 in hole, 30 CFR 250.710, 70 strokes"),
        ("103.4 bar", "103.4 bar"),
    ],
)
def test_quantities_in_words(read: str, metric: str) -> None:
    text = written(read)
    assert text == told(text, "field") == read
    assert told(text, "metric") == metric


def test_a_text_put_together_keeps_its_amounts() -> None:
    limit = amount(units.from_unit(20.0, "psi"), "psi")
    said = worded("Read {0}, limit ±{1}.", written("30 to 40 psi"), limit) + " Again: " + joined(" or ", [limit, "no"])
    assert said == "Read 30 to 40 psi, limit ±20 psi. Again: 20 psi or no"
    assert said.told("metric") == "Read 2.1 to 2.8 bar, limit ±1.4 bar. Again: 1.4 bar or no"
    assert told(said[5:17], "metric") == "2.1 to 2.8 bar"
    assert told(put("at {x}, {x}", "{x}", limit), "metric") == "at 1.4 bar, 1.4 bar"
    assert said.moved_to("Limite ±20 psi; lido 30 a 40 psi").told("metric") == "Limite ±1.4 bar; lido 2.1 a 2.8 bar"
    # A value is told from itself, not from the rounded figure that stands in the text.
    assert amount(units.from_unit(0.4, "psi"), "psi").told("metric") == units.show(units.from_unit(0.4, "psi"), "bar")
    assert json.loads(json.dumps({"said": said})) == {"said": said}
    assert told(str(ValueError(limit)), "metric") == told(Refusal("code", limit), "metric") == "1.4 bar"


def test_markup_keeps_what_a_page_sends_back() -> None:
    quantity = written("30 psi & more")
    key = el("button", {"data-send": {"value": "30 psi"}}, quantity)
    markup = el("p", {"aria-label": written("at <30 psi")}, key)
    metric = (
        '<p aria-label="at &lt;2.1 bar"><button data-send="{&quot;value&quot;:&quot;30 psi&quot;}">2.1 bar &amp; more'
    )
    assert in_units({"board": {"markup": markup}}, "metric")["board"]["markup"] == f"{metric}</button></p>"
    assert retell_markup(markup, lambda text: told(text, "metric").upper()).startswith(
        '<p aria-label="AT &lt;2.1 BAR">'
    )


def words(patch: Mapping[str, Mapping[str, Any]]) -> Iterator[tuple[str, str]]:
    """Every text of a patch that a person sees or hears."""
    for board, change in patch.items():
        for key, reading in change.get("readings", {}).items():
            for part in ("text", "title", "html"):
                if part in reading and key != "page.attempt":
                    yield f"{board} {key}", str(reading[part])
        if "markup" in change:
            yield board, change["markup"]


def left_over(seat: Seat, patch: Mapping[str, Mapping[str, Any]]) -> list[str]:
    found = []
    for where, text in words(in_units(patch, seat.words_in)):
        spoken = " ".join(re.findall(r'(?:aria-label|title|placeholder)="([^"]*)"', text))
        seen = re.sub(r"<(style|script).*?</\1>|<[^>]*>", " ", text, flags=re.S)
        found += [f"{where}: {hit[0]}" for hit in FIELD.finditer(f"{seen} {spoken}")]
    return found


@pytest.mark.parametrize("drill", ["kick-while-drilling", "surface-kick-while-drilling"])
def test_no_field_unit_is_left_on_any_page_in_metric(drill: str) -> None:
    seat = shipped_seat()
    seat.hello()
    assert left_over(seat, seat.handle({"page": "units"})) == []
    plant = seat.drills[drill].plants[0]
    wrong = left_over(seat, seat.handle({"page": "learn", "plant": plant}))
    assert seat.learning is not None
    for part in list(seat.learning.lesson.parts):
        wrong += left_over(seat, seat.handle({"page": "card", "value": part}))
    wrong += left_over(seat, seat.handle({"page": "leave"}))
    wrong += left_over(seat, seat.handle({"page": "start", "drill": drill, "mode": "practice", "seed": "3"}))
    assert "{vary" not in str(seat.first()["brief"])
    seat.handle({"page": "begin"})
    assert seat.run is not None
    for part in ("relief", "annular_regulator", "well"):
        wrong += left_over(seat, seat.handle({"page": "card", "value": part}))
    for command in (
        {"do": "raise", "target": "annular_regulator", "value": 1e6},
        {"do": "set", "target": "blind_shear_ram", "value": "close"},
        {"do": "read", "target": "sidpp", "value": "36"},
        {"do": "read", "target": "sidpp", "value": "high"},
    ):
        wrong += left_over(seat, seat.handle({**command, "from": "driller"}))
    for _ in range(3):
        wrong += left_over(seat, seat.tick(1.0))
    seat.handle({"page": "finish"})
    wrong += left_over(seat, seat.handle({"page": "finish"}))
    assert seat.page == "sheet"
    for tab in ("timeline", "what-if", "score"):
        wrong += left_over(seat, seat.handle({"page": "after", "value": tab}))
        for _ in range(40):
            wrong += left_over(seat, seat.tick(0.1))
    assert wrong == []


@pytest.mark.long
def test_no_drill_leaves_a_field_unit_on_its_pages_in_metric() -> None:
    """Every drill: briefing, half a minute, all that the coach can say, reports, timeline and sheet."""
    seat = shipped_seat()
    seat.hello()
    wrong = left_over(seat, seat.handle({"page": "units"})) + left_over(seat, seat.first())
    for name, drill in seat.drills.items():
        wrong += left_over(seat, seat.handle({"page": "start", "drill": name, "mode": "practice", "seed": "3"}))
        wrong += left_over(seat, seat.first())
        seat.handle({"page": "begin"})
        for _ in range(30):
            wrong += left_over(seat, seat.tick(1.0))
        assert seat.run is not None and isinstance(seat.run.referee, Runner)
        guide = Guide(seat.run.referee)
        for one in (*guide.steps, *guide.watches):
            coach = {"html": debrief.coach((one.say, one.why))}
            wrong += left_over(seat, {"messages": {"readings": {"page.coach": coach}}})
        for said in drill.statement[:2]:
            wrong += left_over(seat, seat.handle({"do": "say", "target": said.id, "from": "driller"}))
        seat.handle({"page": "finish"})
        wrong += left_over(seat, seat.handle({"page": "finish"}))
        for tab in ("timeline", "score"):
            wrong += left_over(seat, seat.handle({"page": "after", "value": tab}))
        seat.handle({"page": "leave"})
    assert wrong == []
