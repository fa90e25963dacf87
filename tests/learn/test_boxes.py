"""Spaced repetition: what was missed comes back soon, what was known later and later, and the text survives."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise

from trainer.learn.boxes import AT_ONCE, GAPS, Boxes, due_by, read_boxes

KEYS = [f"name part_{n}" for n in range(40)]


def test_what_is_known_at_once_leaves_room_for_what_is_new() -> None:
    boxes, last, seen = Boxes(), "", []
    for _ in range(61):
        last = boxes.choose(KEYS, last)
        seen.append(last)
        boxes.answer(last, True)
    assert len(set(seen)) > len(seen) / 2, "more is new than comes back"
    places = {key: [at for at, came in enumerate(seen) if came == key] for key in KEYS}
    assert min(b - a for found in places.values() for a, b in pairwise(found)) >= GAPS[AT_ONCE - 1]


def test_a_missed_question_is_the_next_but_three() -> None:
    boxes, last = Boxes(), ""
    missed = boxes.choose(KEYS)
    boxes.answer(missed, False)
    assert boxes.missed() == [missed]
    came, last = [], missed
    for _ in range(GAPS[0] + 1):
        last = boxes.choose(KEYS, last)
        came.append(last)
        boxes.answer(last, True)
    assert came.index(missed) == GAPS[0]
    assert boxes.missed() == [key for key in came if boxes.lying[key][0] == 1]


def test_right_answers_make_it_known_and_one_miss_unmakes_it() -> None:
    boxes = Boxes()
    boxes.answer(KEYS[0], True)
    assert boxes.lying[KEYS[0]] == (AT_ONCE, 1 + GAPS[AT_ONCE - 1])
    assert boxes.known(KEYS) == 0
    boxes.answer(KEYS[0], True)
    assert boxes.known(KEYS) == 1
    boxes.answer(KEYS[0], False)
    for box in (1, AT_ONCE):
        assert boxes.known(KEYS) == 0
        assert boxes.lying[KEYS[0]][0] == box
        boxes.answer(KEYS[0], True)
    assert boxes.known(KEYS) == 1


def test_a_first_sitting_of_forty_questions_gives_a_dozen_that_are_known() -> None:
    """Nine of ten answers right, the misses spread evenly: what a course asks for is reached, and never by repeating
    at once: at least ten other questions lie between the two right answers."""
    boxes, last, came = Boxes(), "", []
    for n in range(42):
        last = boxes.choose(KEYS, last)
        came.append(last)
        boxes.answer(last, n % 10 != 4)
        assert boxes.known(KEYS) + boxes.begun(KEYS) + len(boxes.missed()) == len(boxes.lying)
    assert boxes.known(KEYS) >= 12
    for key in KEYS:
        places = [at for at, asked in enumerate(came) if asked == key and at % 10 != 4]
        if boxes.known([key]):
            assert places[-1] - places[-2] > 10


def test_the_first_right_answer_is_seen_at_once() -> None:
    boxes = Boxes()
    boxes.answer(KEYS[0], True)
    assert (boxes.known(KEYS), boxes.begun(KEYS)) == (0, 1)
    assert boxes.text().splitlines()[0].split()[2] == "0+1"
    boxes.answer(KEYS[1], False)
    assert boxes.begun(KEYS) == 1, "what was missed is not right once"
    assert read_boxes("9 7 3 2524x3\nname part_1 4 9", KEYS).known(KEYS) == 1, "a text from before counts only known"


def test_the_same_question_never_comes_twice_running() -> None:
    boxes = Boxes()
    boxes.answer(KEYS[0], False)
    assert boxes.choose(KEYS[:2], KEYS[0]) == KEYS[1]
    assert boxes.choose(KEYS[:1], KEYS[0]) == KEYS[0]


def test_boxes_come_back_from_their_text() -> None:
    boxes = Boxes()
    for n, key in enumerate(KEYS):
        boxes.answer(key, n % 3 > 0)
    again = read_boxes(boxes.text(), KEYS)
    assert again == boxes


def test_a_text_that_is_none_or_not_ours_does_no_harm() -> None:
    assert read_boxes("", KEYS) == Boxes()
    assert read_boxes("<script>\n{}", KEYS) == Boxes()
    odd = read_boxes("5 9\nname part_1 7 3\nname nobody 1 3\nname part_2 1 9999999\nrubbish", KEYS)
    assert (odd.asked, odd.right) == (5, 5)
    assert odd.lying == {"name part_2": (1, 5 + GAPS[-1])}


def test_a_question_is_due_again_after_days_that_grow_and_soon_after_a_miss() -> None:
    """By FSRS version 6 with its published parameters: a first good answer is due after 2 days, a miss after 1."""
    day, gaps = date(2026, 3, 1), []
    text = ""
    for _ in range(4):
        boxes = read_boxes(text, KEYS, day)
        boxes.answer(KEYS[0], True)
        boxes.answer(KEYS[0], False)  # later answers of the day are the boxes' business
        text, due = boxes.text(), boxes.memory[KEYS[0]].due
        gaps.append((due - day).days)
        day = due
    assert gaps[0] == 2 and gaps == sorted(set(gaps))
    missed = read_boxes(text, KEYS, day)
    missed.answer(KEYS[0], False)
    assert 1 <= (missed.memory[KEYS[0]].due - day).days < gaps[-1]


def test_what_is_due_by_its_day_comes_before_what_is_new() -> None:
    today = date(2026, 3, 1)
    boxes = Boxes(today)
    for key in KEYS[:3]:
        boxes.answer(key, True)
    assert boxes.choose(KEYS) == KEYS[3]
    later = read_boxes(boxes.text(), KEYS, today + timedelta(days=3))
    assert later.due(KEYS) == KEYS[:3]
    assert later.choose(KEYS) == KEYS[0]
    later.answer(KEYS[0], True)
    assert later.choose(KEYS) == KEYS[1]
    days = boxes.text().splitlines()[0].split()[3]
    assert [due_by(days, today + timedelta(days=ahead)) for ahead in (1, 2)] == [0, 3]


def test_days_that_no_scheduler_wrote_are_passed_over() -> None:
    for tail in ("1+1 0 5", "1+1 2.5 11", "99999+1 2.5 5", "1+99999 2.5 5"):
        assert read_boxes(f"1 1 0\nname part_1 3 4 {tail}", KEYS, date(2026, 1, 1)).memory == {}
    assert due_by("<script>", date(2026, 1, 1)) == 0
