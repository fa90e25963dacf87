"""Learn the parts on a page: a lesson over a plant at rest, its messages in, its patches out.

What was asked before is kept by the page itself, one short text a plant, and comes back with the message that opens
the lesson.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from trainer import resources, units
from trainer.console import learn_view as view
from trainer.console.bindings import bindings
from trainer.console.kept import KEPT_LEARNT
from trainer.console.message import Message
from trainer.console.presenter import Patch, Presenter
from trainer.console.reading import Reading, reader
from trainer.drawing.context import DrawingContext
from trainer.drawing.picture.still import still
from trainer.drawing.picture.view import exercise
from trainer.drawing.rig_view import RigView
from trainer.drawing.sample import sample_readings
from trainer.drawing.schematic import schematic_svg, window_box
from trainer.learn.lesson import Lesson
from trainer.learn.standing import Path
from trainer.plant.rig import load_plant
from trainer.simulator import Session

#: The instruments of a plant that has just been built settle within this time, s.
SETTLE = 2.0
#: What this page answers to; leaving and the theme are the seat's.
PAGES = ("learn", "card", "units")


class Learning:
    """The page on which somebody learns the parts of one plant. ``run`` is free practice, in which nobody acts."""

    def __init__(self, run: Session, plant: str, kept: str, system: units.System, today: date, goal: int) -> None:
        self._run = run
        self._plant = plant
        run.advance(SETTLE)
        self._units = system
        self._shown: tuple[object, str] = ((), "")
        self._desk = self._seen()
        self._sheet = schematic_svg(self._desk)
        self._today = today
        self.lesson = Lesson(self._desk, self._sheet, kept, today, goal)
        self._presenter = self._present()

    def _seen(self) -> DrawingContext:
        return DrawingContext(RigView(load_plant(self._plant)[0]), self._run.machine.signals, self._units)

    def _present(self) -> Presenter:
        self._markup = view.board(self._desk, self._sheet, self.lesson)
        return Presenter(self._run, self._units, {"learn": bindings(self._markup)}, self._texts)

    def first(self) -> Patch:
        """Everything for a page that has just opened."""
        patch = self._presenter.first()
        at = {"readings": {"page.page": {"state": "learn"}}}
        return {"header": at, "learn": {"markup": self._markup, **patch.get("learn", {})}}

    def handle(self, message: Message) -> Patch:
        """Do what a message of the page says."""
        page = message.get("page")
        if page == "learn":
            self.lesson.do(str(message.get("do") or ""), str(message.get("value") or ""))
        elif page == "card":
            self.lesson.point(str(message.get("value") or ""))
        elif page == "units":
            self._units = "metric" if self._units == "field" else "field"
            # Bands are told in the units shown: the lesson goes on where it was, with its questions made anew.
            before, self._desk = self.lesson, self._seen()
            self._sheet = schematic_svg(self._desk)
            self.lesson = Lesson(self._desk, self._sheet, before.boxes.text(), self._today, before.goal)
            self.lesson.take_over(before)
            self._presenter = self._present()
            return self.first()
        patch = self._presenter.patch()
        return {"learn": patch["learn"]} if "learn" in patch else {}

    @property
    def units(self) -> units.System:
        """The units that the page shows."""
        return self._units

    def _texts(self) -> dict[str, Reading]:
        lesson = self.lesson
        return {
            "page.learn": {"html": view.column(self._desk, lesson, self._told)},
            "page.learn_mode": {"state": lesson.mode},
            "page.learn_lit": {"state": view.lit_words(self._desk, lesson)},
            "page.learn_look": {"text": window_box(lesson.view), "around": " ".join(lesson.around)},
            "page.learn_picture": {"html": self._picture()},
            "page.learn_kept": {"text": lesson.boxes.text(), "state": KEPT_LEARNT + self._plant},
        }

    def _picture(self) -> str:
        """The picture that the question under way shows, with the readings of its scene; nothing in other modes."""
        lesson, question = self.lesson, self.lesson.question
        if lesson.mode != "sight" or question is None:
            return ""
        near = lesson.sight.around(question)
        scene = lesson.sight.scenes[question.about] if question.kind in ("wrong", "round") else None
        key = (question.key, self._units)
        if self._shown[0] != key:
            dead = question.about if scene is not None and scene.dead else ""
            drawn = exercise(self._desk, near, dead)
            readings = sample_readings(self._run.machine, self._units, scene.changed if scene is not None else {})
            self._shown = (key, still(drawn, readings))
        return self._shown[1]

    def _told(self, tag: str) -> str:
        signal = self._run.machine.signals[tag]
        return str(reader(signal, ("text",), self._units)(self._run.machine.read(tag)).get("text", ""))


def opened(
    start: Callable[[str | None, str | None, int, str], Session],
    message: Message,
    system: units.System,
    today: date,
    way: Path,
) -> Learning:
    """The page for the plant that a message names, on a day; ValueError when there is no such plant.

    way: the person's courses, which say how many questions are to be known.
    """
    plant = str(message.get("plant") or "")
    if plant not in resources.plant_files():
        raise ValueError(f"There is no rig called {plant!r}.")
    goal = max((each.course.parts for each in way.courses if each.course.rig == plant), default=0)
    return Learning(start(None, plant, 0, "practice"), plant, str(message.get("kept") or ""), system, today, goal)
