"""Criteria on figures that members of a crew tell each other: as the instrument shows them, repeated back as told."""

from __future__ import annotations

from typing import NamedTuple, cast

from trainer import units
from trainer.drills.checking import Item
from trainer.drills.criteria import Judge
from trainer.drills.criteria_schema import Common, TellFigure
from trainer.drills.prepare import figure_units
from trainer.drills.scoring import CriterionResult, ScoringContext
from trainer.drills.sheet import clock
from trainer.session.commands import CALL, REPEAT, Command
from trainer.wording import amount, worded

PUT_RIGHT = 0.5
"""Share of the points for a figure that was wrong first and that the crew put right; this trainer's own."""


class Telling(NamedTuple):
    """A figure told at ``t`` s, what the instrument showed then, both in SI, and whether that agrees."""

    t: float
    given: float
    true: float
    right: bool


class Back(NamedTuple):
    """A figure repeated back at ``t`` s, in SI, and whether it is the one that was told."""

    t: float
    given: float
    right: bool


class FigureJudge(Judge[TellFigure]):
    """Waits for a figure that is told as the instrument shows it and comes back as it was told.

    The last telling counts; what was wrong before it and was put right costs a share of the points.
    """

    def __init__(self, item: Item[Common], desk: ScoringContext) -> None:
        super().__init__(item, desk)
        drill = desk.prepared.drill
        self.true = desk.binder.quantity(self.ready["against"])
        self.tolerance = desk.binder.quantity(self.ready["tolerance"])
        self.unit = figure_units(drill, desk.prepared.catalogue.signals)[self.spec.call]
        self.text = next(call.text for call in drill.call if call.id == self.spec.call)
        self.posts = {post.id: post.title for post in drill.post}
        self.told: Telling | None = None
        self.back: Back | None = None
        self.first: float | None = None
        """When it was told right for the first time, s."""
        self.slip: Telling | Back | None = None
        """The first figure that was wrong, told or repeated."""
        self.untimely: tuple[float, str] | None = None

    def overhear(self, t: float, command: Command) -> None:
        spec = self.spec
        if command.target != spec.call or not isinstance(command.figure, float):
            return
        given = units.from_unit(command.figure, self.unit)
        if (
            command.do == CALL
            and command.by == (spec.post or command.by)
            and command.value == (spec.to or command.value)
        ):
            self._tell(t, given)
        elif command.do == REPEAT and command.by == (spec.to or command.by) and self.told and self.back is None:
            told = units.to_unit(self.told.given, self.unit)
            self.back = Back(t, given, units.alike(told, command.figure, self.unit))
            if not self.back.right:
                self.slip = self.slip or self.back

    def _tell(self, t: float, given: float) -> None:
        start, within = self.desk.since(self.spec.after), self.spec.within
        if start is None or (self.first is None and within is not None and t - start > within):
            self.untimely = self.untimely or (t, "early" if start is None else "late")
            return
        true = self.true()
        self.told, self.back = Telling(t, given, true, units.apart(given, true, self.unit) <= self.tolerance()), None
        if self.told.right:
            self.first = self.first if self.first is not None else t
        else:
            self.slip = self.slip or self.told

    def _shown(self, value: float) -> str:
        return amount(value, self.unit)

    def _expected(self) -> str:
        spec, desk = self.spec, self.desk
        return worded(
            "Required: '{0}' reported{1}{2}{3} after {4}, within {5} of the instrument, repeated back in {6}.",
            self.text,
            f" by the {self.posts[spec.post]}" if spec.post is not None else "",
            f" to the {self.posts[spec.to]}" if spec.to is not None else "",
            f" within {clock(spec.within)}" if spec.within is not None else "",
            desk.title(spec.after),
            self._shown(self.tolerance()),
            clock(spec.repeated),
        )

    def judge(self, end: float) -> CriterionResult:
        spec, desk, told, back = self.spec, self.desk, self.told, self.back
        due = desk.due(desk.since(spec.after), spec.within)
        if told is None:
            if self.untimely is None:
                said = worded("Not reported by {0}. {1}", clock(end), self._expected())
                return CriterionResult(0.0, None, said, desk.missing(end, spec.after), due)
            at, how = self.untimely
            return CriterionResult(
                0.0, at, worded("Reported at {0}, too {1}. {2}", clock(at), how, self._expected()), None, due
            )
        said = worded("{0} reported at {1}", self._shown(told.given), clock(told.t))
        if not told.right:
            said = worded("{0}, where the instrument showed {1}. {2}", said, self._shown(told.true), self._expected())
            return CriterionResult(0.0, told.t, said, None, due)
        limit = told.t + spec.repeated
        if back is None:
            return CriterionResult(
                0.0, told.t, worded("{0}, not repeated back. {1}", said, self._expected()), None, limit
            )
        said = worded("{0}, repeated back at {1}", said, clock(back.t))
        if not back.right:
            said = worded("{0} as {1} and not corrected. {2}", said, self._shown(back.given), self._expected())
            return CriterionResult(0.0, back.t, said, None, limit)
        if back.t > limit:
            return CriterionResult(0.0, back.t, worded("{0}: too late. {1}", said, self._expected()), None, limit)
        if self.slip is None:
            return CriterionResult(1.0, back.t, worded("{0}.", said), None, due)
        return CriterionResult(PUT_RIGHT, back.t, worded("{0}. {1}", said, self._slipped(self.slip)), None, due)

    def _slipped(self, slip: Telling | Back) -> str:
        wrong = self._shown(slip.given)
        if isinstance(slip, Back):
            return worded("Corrected: it was repeated back as {0} at {1}. Half of the points.", wrong, clock(slip.t))
        shown = self._shown(slip.true)
        return worded(
            "Corrected: {0} was reported at {1}, where the instrument showed {2}. Half of the points.",
            wrong, clock(slip.t), shown,
        )  # fmt: skip

    def best(self, t: float) -> float:
        start, within = self.desk.since(self.spec.after), self.spec.within
        if self.first is None and start is not None and within is not None and t - start > within:
            return 0.0
        return 1.0 if self.slip is None else PUT_RIGHT

    def memory(self) -> object:
        rows = [None if row is None else list(row) for row in (self.told, self.back, self.slip, self.untimely)]
        return [self.first, *rows]

    def recall(self, memory: object) -> None:
        first, told, back, slip, amiss = cast(
            "tuple[float | None, list[float], list[float], list[float], list[str]]", memory
        )
        self.first = first
        self.told = None if told is None else Telling(*cast("tuple[float, float, float, bool]", told))
        self.back = None if back is None else Back(*cast("tuple[float, float, bool]", back))
        self.slip = None if slip is None else _slip(slip)
        self.untimely = None if amiss is None else cast("tuple[float, str]", tuple(amiss))


def _slip(row: list[float]) -> Telling | Back:
    if len(row) == len(Back._fields):
        return Back(*cast("tuple[float, float, bool]", row))
    return Telling(*cast("tuple[float, float, float, bool]", row))
