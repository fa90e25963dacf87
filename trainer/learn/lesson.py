"""A lesson on one plant: the tour, the cards and the exercises, as a state that messages move. No page, no clock."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Final

from trainer.drawing.context import DrawingContext
from trainer.learn import by_sight
from trainer.learn.boxes import EPOCH, read_boxes
from trainer.learn.by_sight import SightQuestions
from trainer.learn.parts import Thing, search, things
from trainer.learn.questions import KINDS, Question, Questions
from trainer.learn.tour import stops

MODES: Final = {"tour": "Follow the fluid", "cards": "Cards", "quiz": "Exercises", "sight": "By sight"}
ASKS: Final = ("quiz", "sight")
"""The modes that ask questions."""
LONGEST_WORDS: Final = 80


@dataclass(frozen=True, slots=True)
class Standing:
    """How many questions of one tab are known, right once, missed and not asked yet, and this session's answers."""

    known: int
    begun: int
    missed: int
    new: int
    asked: int
    right: int


@dataclass(frozen=True, slots=True)
class Answer:
    """What became of a question: right or not, and what was chosen; nothing where the learner had it shown."""

    right: bool
    given: str = ""


class Lesson:
    """One person learning the parts of one plant.

    ``sheet`` is the schematic's markup, ``kept`` the text of the boxes from before, ``today`` the day it is,
    ``goal`` how many questions a course wants known, 0 for none. ``do`` takes a message of the page; whatever does not
    fit the moment does nothing. ``tell`` gives a text in the language in which parts are sought.
    """

    def __init__(self, desk: DrawingContext, sheet: str, kept: str = "", today: date = EPOCH, goal: int = 0) -> None:
        self.tell: Callable[[str], str] = str
        self.parts = things(desk, sheet)
        self.questions = Questions(desk, self.parts)
        self.stops = stops(desk, self.parts)
        self.sight = SightQuestions(desk)
        self.boxes = read_boxes(kept, (*self.questions.keys, *self.sight.keys), today)
        self.mode = "tour"
        self.at = 0
        self.words = ""
        self.open = ""
        self.only = ""
        self.question: Question | None = None
        self.answer: Answer | None = None
        self.traced: list[str] = []
        self.goal = goal
        self.asked = dict.fromkeys(ASKS, 0)
        self.right = dict.fromkeys(ASKS, 0)

    def do(self, what: str, value: str) -> None:
        """Carry out a message of the page: a verb and its value; one that does not fit now is left aside."""
        acts: dict[str, Callable[[str], None]] = {
            "mode": self._mode,
            "step": self._step,
            "stop": self._stop,
            "find": self._find,
            "part": self.point,
            "answer": self._choose,
            "next": self._next,
            "show": self._give_up,
            "only": self._only,
        }
        act = acts.get(what)
        if act is not None:
            act(value)

    def take_over(self, other: Lesson) -> None:
        """Stand where another lesson on the same plant stands; a question under way is made anew."""
        self.mode, self.at, self.words, self.open, self.only = other.mode, other.at, other.words, other.open, other.only
        self.asked, self.right = dict(other.asked), dict(other.right)
        self.tell = other.tell
        if other.question is not None:
            self._next("")

    # What lights up

    @property
    def lit(self) -> tuple[str, ...]:
        """Ids of the parts to light on the schematic now; empty for none."""
        if self.mode == "tour":
            return (self.open,) if self.open else self.stops[self.at].parts
        if self.mode == "cards":
            return (self.open,) if self.open else tuple(t.id for t in self.found() if self.words)
        question = self.question
        if question is None:
            return ()
        if self.answer is not None:
            return tuple(dict.fromkeys((question.about, *question.lit, *self.traced)))
        return (*question.lit, *self.traced)

    @property
    def view(self) -> str:
        """The window of the schematic to look through now: a key of its ``VIEWS``."""
        if self.mode == "tour":
            return self.stops[self.at].view
        if self.mode == "cards":
            return self._view_of(self.open)
        question = self.question
        if question is None or question.nameless or question.goal:
            return "whole"
        return self._view_of(question.about)

    @property
    def around(self) -> tuple[str, ...]:
        """The parts that must lie within the view, wider than its subsystem where they lie apart."""
        if self.mode == "tour":
            return (*self.stops[self.at].parts, *([self.open] if self.open else []))
        return self.lit

    @property
    def nameless(self) -> bool:
        """Whether the drawing must not tell names now, since a name is what is asked for."""
        return self.mode in ASKS and self.answer is None and self.question is not None and self.question.nameless

    def found(self) -> list[Thing]:
        """The parts that fit the words in the search box; all of them without any."""
        return search(self.parts, self.words, len(self.parts), self.tell)

    # Tour and cards

    def _mode(self, value: str) -> None:
        if value not in MODES:
            return
        self.mode, self.open = value, ""
        if value in ASKS and (self.question is None or self.question.key not in self._bank.keys):
            self.only, self.question, self.answer = "", None, None
            self._next("")

    @property
    def _bank(self) -> Questions | SightQuestions:
        """The questions of this mode."""
        return self._banks["sight" if self.mode == "sight" else "quiz"]

    @property
    def _banks(self) -> dict[str, Questions | SightQuestions]:
        return {"sight": self.sight, "quiz": self.questions}

    def standing(self, mode: str) -> Standing:
        """Where the questions of a mode, one of ``ASKS``, stand; KeyError for another mode."""
        keys = self._banks[mode].keys
        known, begun = self.boxes.known(keys), self.boxes.begun(keys)
        missed = len(set(self.boxes.missed()) & set(keys))
        return Standing(known, begun, missed, len(keys) - known - begun - missed, self.asked[mode], self.right[mode])

    @property
    def unread(self) -> bool:
        """Whether the drawing must not show readings now, since what a gauge should read is what is asked."""
        question = self.question
        return self.mode == "quiz" and self.answer is None and question is not None and question.kind == "reads"

    def _titled(self, name: str) -> str | None:
        """What a part of this mode's drawing is called; None for something else."""
        if self.mode == "sight":
            return self.sight.title(name) if name in self.sight.pieces else None
        return self.parts[name].title if name in self.parts else None

    def _step(self, value: str) -> None:
        self._stop(str(self.at + (1 if value == "on" else -1)))

    def _stop(self, value: str) -> None:
        if self.mode == "tour" and value.isdecimal() and int(value) < len(self.stops):
            self.at, self.open = int(value), ""

    def _find(self, value: str) -> None:
        self.mode, self.open, self.words = "cards", "", value[:LONGEST_WORDS].strip()

    def _view_of(self, name: str) -> str:
        return next((stop.view for stop in self.stops if name in stop.parts), "whole")

    # Exercises

    def point(self, name: str) -> None:
        """A part was clicked on the drawing or in a list; nothing closes an open card."""
        if self.mode not in ASKS:
            self.open = name if name in self.parts else ""
            return
        question, title = self.question, self._titled(name)
        if question is None or question.choices or self.answer is not None or title is None:
            return
        if not question.goal:
            self._end(name == question.about, title)
            return
        here = self.traced[-1] if self.traced else question.about
        if name == here:
            return
        if name not in self.questions.network.get(here, ()):
            self._end(False, title)
            return
        self.traced.append(name)
        if name == question.goal:
            self._end(True, "")

    def _choose(self, value: str) -> None:
        question = self.question
        if question is None or self.answer is not None or not value.isdecimal():
            return
        if int(value) < len(question.choices):
            self._end(int(value) == question.right, question.choices[int(value)])

    def _give_up(self, _: str) -> None:
        if self.mode in ASKS and self.question is not None and self.answer is None:
            self._end(False, "")

    def _end(self, right: bool, given: str) -> None:
        assert self.question is not None
        self.answer = Answer(right, given)
        self.asked[self.mode] += 1
        self.right[self.mode] += right
        self.boxes.answer(self.question.key, right)

    def _next(self, _: str) -> None:
        if self.question is not None and self.answer is None:
            return
        last = self.question.key if self.question is not None else ""
        key = self.boxes.choose(self.keys(), last)
        # Other wrong choices each time a question comes, the same ones for the same course of answers.
        self.question = self._bank.make(key, random.Random(f"{key} {self.boxes.asked}"))
        self.answer, self.traced = None, []

    def _only(self, value: str) -> None:
        if value and not any(key.startswith(f"{value} ") for key in self._bank.keys):
            return
        self.only, self.question, self.answer = value, None, None
        self._next("")

    def keys(self) -> tuple[str, ...]:
        """The questions of the chosen kind, all kinds when none is chosen."""
        return tuple(key for key in self._bank.keys if not self.only or key.startswith(f"{self.only} "))

    def kinds(self) -> dict[str, str]:
        """The kinds of exercise that this plant gives, with their words."""
        there = {key.partition(" ")[0] for key in self._bank.keys}
        return {kind: word for kind, word in {**KINDS, **by_sight.KINDS}.items() if kind in there}
