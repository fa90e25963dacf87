"""Exercises on the picture of the unit: each has one right answer, and what is wrong in a scene can be seen in it."""

from __future__ import annotations

import random
import re
from collections import Counter
from xml.etree import ElementTree

import pytest

from tests.learn.conftest import Place
from trainer.drawing.fill_in import fill_in
from trainer.drawing.picture.still import still
from trainer.drawing.picture.view import exercise
from trainer.drawing.sample import sample_readings
from trainer.learn.by_sight import FAMILIES, KINDS, SightQuestions
from trainer.learn.questions import FEWEST

PRESENT = re.compile(r'data-component="([^"]+)"')


@pytest.fixture(scope="module")
def sight(place: Place) -> SightQuestions:
    """The exercises of each plant in turn."""
    return SightQuestions(place.desk)


def test_every_question_has_one_right_answer_and_says_why(sight: SightQuestions) -> None:
    titles = [p.name for p in sight.pieces.values()]
    assert {key.partition(" ")[0] for key in sight.keys} == set(KINDS)
    assert len(sight.keys) == len(set(sight.keys)) > 200
    for key in sight.keys:
        question = sight.make(key, random.Random(key))
        assert question.why.strip() and question.nameless and question.key == key
        assert not question.goal and set(question.lit) <= set(sight.pieces)
        if not question.choices:
            assert question.about in sight.pieces
            continue
        assert len(set(question.choices)) == len(question.choices) >= FEWEST
        assert question.choices[question.right] == sight.title(question.about)
        assert set(question.choices) <= set(titles)


def test_wrong_answers_look_like_the_part_and_place_tells_twins_apart(sight: SightQuestions) -> None:
    kinds = {p.name: p.kind for p in sight.pieces.values()}
    many, known = Counter(kinds.values()), frozenset().union(*FAMILIES)
    for key in (key for key in sight.keys if key.startswith("look ")):
        question = sight.make(key, random.Random(key))
        kind = sight.pieces[question.about].kind
        # A kind that came by a module of its own may be like no other.
        family = {kind}.union(*(one for one in FAMILIES if kind in one)) if kind in known else set(many)
        assert {kinds[choice] for choice in question.choices} <= family, question.choices
        others = [choice for choice in question.choices if choice != sight.title(question.about)]
        assert sum(kinds[choice] == kind for choice in others) == min(many[kind] - 1, len(others))
    says = {p.name: sight.make(f"look {p.id}", random.Random(1)).why for p in sight.pieces.values()}
    assert says["Glycol tank"].endswith("The second of 3 from the left.")
    assert says["Starbd overboard"].endswith("The third of 3 from the top.")
    before = next(text for name, text in says.items() if name.endswith("filter 2: valve before"))
    assert before.endswith(
        "It belongs to Discharge filter 2, the lower one of two; there it is the left one of two in the upper row."
    )


def test_new_questions_go_from_the_large_to_the_small_and_from_name_to_place(sight: SightQuestions) -> None:
    kinds = {p.kind for p in sight.pieces.values()}
    named = [key for key in sight.keys if key.startswith("look ")]
    assert {sight.pieces[key.partition(" ")[2]].kind for key in named[: len(kinds)]} == kinds
    assert named[0] == "look tank"
    # Twenty parts are named within the first forty questions, and what is to be found was named some questions before.
    assert sum(key.startswith("look ") for key in sight.keys[:40]) >= 20
    for place, key in enumerate(sight.keys):
        kind, _, name = key.partition(" ")
        apart = 5 if place < 60 else 0
        assert kind == "look" or sight.keys.index(f"look {name}") + apart < place


def test_what_is_told_of_a_part_is_told_of_itself(sight: SightQuestions) -> None:
    """Not the card of the assembly to which it belongs: a lever is no ring of rubber, a motor no pump."""
    says = {p.id: sight.make(f"look {p.id}", random.Random(1)).why for p in sight.pieces.values()}
    assert "the electric motor" in says["triplex_1.motor"].lower()
    assert "a three-plunger pump" in says["triplex_1"].lower()
    assert "spring-loaded valve" in says["bank_a.relief"]
    levers = [text for name, text in says.items() if sight.pieces[name].kind == "lever"]
    assert levers and all("the lever of the function's control valve" in text.lower() for text in levers)


def test_what_stands_beside_is_in_the_same_picture_and_no_wrong_choice_is(sight: SightQuestions, place: Place) -> None:
    asked = [key for key in sight.keys if key.startswith("beside ")]
    assert len(asked) > 40
    for key in asked[::9]:
        question = sight.make(key, random.Random(key))
        shown = PRESENT.findall(exercise(place.desk, sight.around(question)))
        assert question.about in shown and question.lit[0] in shown


def test_what_is_wrong_in_a_scene_can_be_seen(sight: SightQuestions, place: Place) -> None:
    """The drawing at rest and that of the scene differ: what is wrong can be seen."""
    kinds: dict[str, str] = {}
    for name in sight.scenes:
        kinds.setdefault(sight.pieces[name].kind, name)
    assert {"ball_valve", "gauge", "lever", "tank", "starter", "regulator"} <= set(kinds)
    rest = sample_readings(place.machine)
    for name in kinds.values():
        scene = sight.scenes[name]
        assert set(scene.changed) <= set(place.machine.signals)
        before = still(exercise(place.desk, name), rest)
        after = still(
            exercise(place.desk, name, name if scene.dead else ""),
            sample_readings(place.machine, "field", scene.changed),
        )
        assert before != after, f"{name}: nothing is to be seen"


def test_a_lesson_by_sight_is_answered_by_pointing_and_comes_back(place: Place) -> None:
    lesson = place.lesson()
    lesson.do("mode", "sight")
    lesson.do("only", "wrong")
    question = lesson.question
    assert question is not None and question.kind == "wrong" and lesson.nameless
    other = next(name for name in lesson.sight.pieces if name != question.about)
    lesson.do("part", other)
    assert lesson.answer is not None and not lesson.answer.right
    assert question.about in lesson.lit
    missed = question.key
    for _ in range(6):
        lesson.do("next", "")
        question = lesson.question
        assert question is not None
        if question.key == missed:
            break
        lesson.do("part", question.about)
        assert lesson.answer is not None and lesson.answer.right
    assert question.key == missed, "what was missed comes back soon"
    # Kept with the other exercises, and the schematic's own go on beside it.
    again = place.lesson(lesson.boxes.text())
    assert again.boxes.lying == lesson.boxes.lying
    lesson.do("mode", "quiz")
    assert lesson.question is not None and lesson.question.key in lesson.questions.keys


def test_no_name_is_told_before_the_answer(place: Place, sight: SightQuestions) -> None:
    question = sight.make(next(k for k in sight.keys if k.startswith("look ")), random.Random(1))
    drawn = exercise(place.desk, sight.around(question))
    whole = still(exercise(place.desk), sample_readings(place.machine))
    assert set(sight.pieces) == set(PRESENT.findall(whole)), "to find a part the whole unit is shown"
    assert "<title>" not in drawn and 'class="hand' not in drawn and "data-send" not in drawn


def test_a_still_picture_shows_what_the_live_one_would(place: Place) -> None:
    """Against the filling that parses the markup: the same states, needles, levels, pressures and numbers."""
    drawn, readings = exercise(place.desk), sample_readings(place.machine)
    ways = []
    for filled in (still(drawn, readings), fill_in(drawn, readings)):
        nodes = [*ElementTree.fromstring(filled).iter()]
        shown = ("data-value", "data-level", "data-flowing", "transform", "height", "y")
        ways.append([[node.get(name) for name in shown] + [node.text or ""] for node in nodes])
    assert ways[0] == ways[1]
    assert sum(1 for row in ways[0] if row[0] is not None) > 60
