"""A page's messages are heard in their turn: what costs the server much waits, and no press is lost."""

from __future__ import annotations

import pytest

from trainer.classroom.turns import LARGEST_WAITING, MOST_WAITING, Turns


class Line:
    """The turns of one page on a clock that the test moves, and what has been done."""

    def __init__(self) -> None:
        self.now = 0.0
        self.done: list[str] = []
        self.turns = Turns(lambda: self.now)

    def press(self, page: str | None, name: str, more: str = "") -> None:
        self.turns.ask({"page": page, "value": name + more}, lambda: self.done.append(name))

    def wait(self, seconds: float) -> None:
        for _ in range(round(seconds * 12.5)):
            self.now += 0.08
            self.turns.go_on()


@pytest.mark.parametrize(
    ("page", "at_once", "a_second"), [("learn", 20, 2.0), ("what-if", 10, 0.5), ("units", 10, 0.5)]
)
def test_more_presses_than_a_page_may_are_done_later_in_their_order(page: str, at_once: int, a_second: float) -> None:
    line = Line()
    presses = [f"press {n}" for n in range(at_once + 10)]
    for name in presses:
        line.press(page, name)
    assert line.done == presses[:at_once]
    line.wait(4.9 / a_second)
    assert line.done == presses[: at_once + 4]
    line.wait(6.0 / a_second)
    assert line.done == presses


def test_twelve_questions_in_five_seconds_are_all_answered() -> None:
    line = Line()
    presses = ["by sight", "only", *(f"{n} {what}" for n in range(12) for what in ("answer", "next"))]
    for name in presses:
        line.press("learn", name)
        line.wait(5.0 / len(presses))
    line.wait(1.0)
    assert line.done == presses


def test_hands_do_not_wait_behind_pages_that_are_drawn() -> None:
    line = Line()
    for n in range(12):
        line.press("units", f"{n}")
    line.press("pause", "pause")
    line.press(None, "close the ram")
    line.press("holding", "holding")
    # What turns the page itself keeps its place behind the pages asked for before it.
    assert line.done[10:] == ["close the ram", "holding"]
    line.wait(4.1)
    assert line.done[12:] == ["10", "11", "pause"]


def test_what_no_hand_can_do_is_bounded() -> None:
    line = Line()
    for n in range(1000):
        line.press("learn", f"{n}")
        line.press(None, f"hand {n}")
    line.wait(120.0)
    assert len(line.done) <= 100 + 2 * MOST_WAITING
    line = Line()
    for n in range(100):
        line.press("learn", f"{n}", "x" * 50_000)
    line.wait(120.0)
    assert len(line.done) <= 20 + LARGEST_WAITING / 50_000
    # A line that breaks again and again is told once what it has missed.
    line = Line()
    for n in range(50):
        line.press("hello", f"{n}")
    line.wait(120.0)
    assert len(line.done) == 11
