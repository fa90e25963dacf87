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
from trainer.learn.alike import APART, FAMILIES
from trainer.learn.by_sight import KINDS, SightQuestions
from trainer.learn.questions import FEWEST
from trainer.learn.what_is import what_is

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


def look(sight: SightQuestions, name: str) -> tuple[str, object, int, int]:
    """What a part looks like: its kind, its shape and its size."""
    piece = sight.pieces[name]
    return piece.kind, piece.facts.get("shape"), round(piece.room.wide), round(piece.room.tall)


def test_every_part_has_a_sentence_of_its_own_and_the_answer_begins_with_it(sight: SightQuestions) -> None:
    said: dict[str, set[tuple[str, str]]] = {}
    for piece in sight.pieces.values():
        text = what_is(sight.desk.rig, piece)
        assert text, piece.id
        # Of the parts of an assembly each says what it is itself, never what the assembly is.
        own = piece.name.rpartition(": ")[2] if ": " in piece.name else ""
        said.setdefault(text, set()).add((piece.kind, own))
        for kind in ("look", "find"):
            assert sight.make(f"{kind} {piece.id}", random.Random(1)).why.startswith(f"{piece.name}. {text}")
    # The bleed valve of a bank and that of a housing are the same thing, as are the selectors of both kinds of pump.
    assert {text: of for text, of in said.items() if len({kind for kind, _ in of}) > 1} == {}
    for piece in sight.pieces.values():
        owner = sight.alike.owner(piece)
        assert owner is None or what_is(sight.desk.rig, piece) != what_is(sight.desk.rig, owner)


def test_wrong_answers_stand_near_or_look_alike_and_no_word_gives_the_right_one_away(sight: SightQuestions) -> None:
    names = {p.name: name for name, p in sight.pieces.items()}
    for key in (key for key in sight.keys if key.startswith("look ")):
        question = sight.make(key, random.Random(key))
        piece = sight.pieces[question.about]
        family = {piece.kind}.union(*(one for one in FAMILIES if piece.kind in one))
        shown = set(PRESENT.findall(exercise(sight.desk, sight.around(question))))
        others = [names[words] for words in question.choices if words != piece.name]
        if {sight.pieces[name].kind for name in sight.pieces if name not in shown} & family:
            fair = [name for name in others if name in shown or sight.pieces[name].kind in family]
            assert len(fair) >= 2 or piece.kind == "lever", (question.choices, piece.name)
        if sight.alike.owner(piece) is not None:
            owner = piece.name.rpartition(": ")[0]
            fitted = sum(p.name.startswith(f"{owner}: ") for p in sight.pieces.values())
            twins = len({words.rpartition(": ")[2] for words in question.choices}) == 1
            of_it = sum(words.startswith(owner) for words in question.choices)
            assert fitted == 1 or twins or of_it >= 2, question.choices
        if piece.name.startswith("Water "):
            assert sum(words.startswith("Water ") for words in question.choices) >= 2


def test_twins_are_told_apart_only_when_one_was_met_and_with_something_to_reason_from(sight: SightQuestions) -> None:
    levels = sight.alike.levels
    for at, key in enumerate(key for key in sight.keys if key.startswith("look ")):
        question = sight.make(key, random.Random(key))
        name = question.about
        alike = {sight.title(other) for other in sight.pieces if look(sight, other) == look(sight, name)}
        twins = alike & set(question.choices) - {sight.title(name)}
        if levels[name] < APART:
            assert not twins and question.ask == "Which part is marked?"
            continue
        assert at >= 10, "never one of a newcomer's first ten questions"
        if hint := sight.alike.hint(sight.pieces[name]):
            assert question.ask.endswith(hint) and re.search(r" stands: .+\.$", hint)
    assert sum(level >= APART for level in levels.values()) > 40


def test_place_tells_twins_apart(sight: SightQuestions) -> None:
    says = {p.name: sight.make(f"look {p.id}", random.Random(1)).why for p in sight.pieces.values()}
    assert says["Glycol tank"].endswith("Of 2 parts here that look like this, it is the one on the right.")
    assert says["Starbd overboard"].endswith("Of 3 parts here that look like this, it is number 3 from the top.")
    before = next(text for name, text in says.items() if name.endswith("filter 2: valve before"))
    assert before.endswith(
        "It belongs to Discharge filter 2, the lower one. "
        "Of 3 parts here that look like this, it is the one on the left in the upper row."
    )


def test_new_questions_go_from_the_large_to_the_small_and_from_name_to_place(sight: SightQuestions) -> None:
    kinds = {p.kind for p in sight.pieces.values()}
    named = [key for key in sight.keys if key.startswith("look ")]
    assert {sight.pieces[key.partition(" ")[2]].kind for key in named[: len(kinds)]} == kinds
    assert named[0] == "look tank"
    # Of these the ones first that nothing else looks like: a newcomer need not guess between twins.
    looks = Counter(look(sight, name) for name in sight.pieces)
    assert sum(looks[look(sight, key.partition(" ")[2])] == 1 for key in named[:10]) >= 8
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
    assert "a valve with a spring" in says["bank_a.relief"].lower()
    levers = [text for name, text in says.items() if sight.pieces[name].kind == "lever"]
    assert levers and all("the hand lever of one control valve" in text.lower() for text in levers)


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
