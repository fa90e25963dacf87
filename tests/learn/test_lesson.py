"""A lesson as messages move it: tour, cards, exercises, score."""

from __future__ import annotations

import re

from tests.learn.conftest import Place
from trainer.drawing.schematic import ASIDE, window_box, windows
from trainer.learn.lesson import Lesson
from trainer.learn.parts import search
from trainer.learn.path import HEADER


def answer(lesson: Lesson, right: bool) -> str:
    """Answer the question under way as a hand would; gives its key."""
    question = lesson.question
    assert question is not None
    if question.choices:
        at = question.right if right else (question.right + 1) % len(question.choices)
        lesson.do("answer", str(at))
    elif not right:
        lesson.do("show", "")
    elif question.goal:
        network, here = lesson.questions.network, question.about
        for _ in range(30):
            if lesson.answer is not None:
                break
            feeding = network[here]
            here = next((f for f in feeding if f == question.goal), feeding[0])
            lesson.do("part", here)
    else:
        lesson.do("part", question.about)
    assert lesson.answer is not None
    assert lesson.answer.right is right
    return question.key


def test_the_tour_goes_from_the_water_inlet_to_the_stack_and_leaves_no_drawn_part_out(place: Place) -> None:
    lesson = place.lesson()
    seen: list[str] = []
    for _ in range(len(lesson.stops)):
        assert set(lesson.lit) <= set(lesson.parts)
        seen += lesson.lit
        lesson.do("step", "on")
    assert lesson.at == len(lesson.stops) - 1
    assert {thing.id for thing in lesson.parts.values() if thing.drawn} == set(seen)
    order = [
        "water_supply",
        place.desk.rig.tank,
        "triplex_1",
        "filter_1",
        HEADER,
        "annular_regulator",
        "upper_pipe_ram",
    ]
    assert [seen.index(name) for name in order] == sorted(seen.index(name) for name in order)
    lesson.do("step", "back")
    assert lesson.at == len(lesson.stops) - 2


def test_search_finds_by_name_id_and_words(lesson: Lesson) -> None:
    assert search(lesson.parts, "annular reg")[0].id == "annular_regulator"
    assert search(lesson.parts, "upper_pipe_ram")[0].id == "upper_pipe_ram"
    assert "bank_a" in {thing.id for thing in search(lesson.parts, "nitrogen bladder")}
    assert search(lesson.parts, "flux capacitor") == []


def test_a_search_opens_the_cards_and_a_click_a_card(place: Place) -> None:
    lesson = place.lesson()
    lesson.do("find", "relief")
    assert lesson.mode == "cards"
    assert "relief" in lesson.lit
    lesson.do("part", "relief")
    assert (lesson.open, lesson.lit) == ("relief", ("relief",))
    assert lesson.view == next(stop.view for stop in lesson.stops if "relief" in stop.parts)
    lesson.do("part", "no such part")
    assert lesson.open == ""


def test_every_exercise_can_be_answered_right_and_wrong(place: Place) -> None:
    for right in (True, False):
        lesson = place.lesson()
        lesson.do("mode", "quiz")
        for _ in range(len(lesson.questions.keys)):
            answer(lesson, right)
            lesson.do("next", "")
        asked = lesson.standing("quiz").asked
        assert asked == lesson.boxes.asked == len(lesson.questions.keys)
        assert lesson.standing("quiz").right == (asked if right else 0)


def test_the_counts_of_the_two_tabs_are_kept_apart(place: Place) -> None:
    lesson = place.lesson()
    lesson.do("mode", "sight")
    answer(lesson, True)
    lesson.do("next", "")
    answer(lesson, False)
    lesson.do("mode", "quiz")
    answer(lesson, True)
    sight, quiz = lesson.standing("sight"), lesson.standing("quiz")
    assert (sight.known, sight.begun, sight.missed, sight.asked, sight.right) == (0, 1, 1, 2, 1)
    assert (quiz.known, quiz.begun, quiz.missed, quiz.asked, quiz.right) == (0, 1, 0, 1, 1)
    assert sight.new == len(lesson.sight.keys) - 2 and quiz.new == len(lesson.questions.keys) - 1


def test_what_a_gauge_should_read_is_not_shown_while_it_is_asked(place: Place) -> None:
    lesson = place.lesson()
    lesson.do("mode", "quiz")
    lesson.do("only", "reads")
    assert lesson.unread
    answer(lesson, True)
    assert not lesson.unread
    lesson.do("only", "name")
    assert not lesson.unread


def test_all_kinds_come_and_one_can_be_chosen(place: Place) -> None:
    lesson = place.lesson()
    for kind in lesson.kinds():
        lesson.do("only", kind)
        assert lesson.question is not None
        assert lesson.question.kind == kind
    before = lesson.question
    lesson.do("only", "nonsense")
    assert lesson.question is before


def test_a_miss_is_shown_and_comes_back(place: Place) -> None:
    lesson = place.lesson()
    lesson.do("mode", "quiz")
    missed = answer(lesson, False)
    came = []
    for _ in range(4):
        lesson.do("next", "")
        came.append(answer(lesson, True))
    assert missed in came


def test_a_wrong_step_of_a_trace_ends_it(place: Place) -> None:
    lesson = place.lesson()
    lesson.do("only", "trace")
    lesson.do("mode", "quiz")
    question = lesson.question
    assert question is not None
    lesson.do("part", "pit")
    assert lesson.answer is not None
    assert not lesson.answer.right


def test_names_are_hidden_only_while_they_are_asked(place: Place) -> None:
    lesson = place.lesson()
    assert not lesson.nameless
    lesson.do("mode", "quiz")
    lesson.do("only", "name")
    assert lesson.nameless
    answer(lesson, True)
    assert not lesson.nameless


def test_messages_out_of_place_do_nothing(place: Place) -> None:
    lesson = place.lesson()
    for what, value in (("answer", "0"), ("next", ""), ("show", ""), ("stop", "99"), ("stop", "-1"), ("nonsense", "x")):
        lesson.do(what, value)
    lesson.do("mode", "quiz")
    asked = lesson.question
    lesson.do("next", "")
    lesson.do("answer", "99")
    lesson.do("answer", "x")
    lesson.do("mode", "nowhere")
    assert lesson.question is asked
    assert lesson.answer is None


def test_each_view_is_that_of_a_button(place: Place) -> None:
    shown = {window_box(stop.view) for stop in place.lesson().stops if stop.view not in ASIDE}
    assert shown <= set(re.findall(r'data-window="([^"]+)"', windows(place.desk)))
    assert len(shown) > 3
