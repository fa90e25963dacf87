"""Criteria on what the trainee reports: statements, answers, faults named."""

from __future__ import annotations

from typing import Any

from trainer.drills.called import CallJudge, RepeatJudge
from trainer.drills.checking import Item
from trainer.drills.criteria import (
    AssessJudge,
    C,
    EconomyJudge,
    FinalJudge,
    Judge,
    LimitJudge,
    OrderJudge,
    ReachJudge,
)
from trainer.drills.criteria_schema import Answer, Common, Diagnose, Say
from trainer.drills.expressions import never_again
from trainer.drills.figured import FigureJudge
from trainer.drills.readings import ConfirmJudge, ReadingJudge, StoodJudge
from trainer.drills.scoring import CriterionResult, InstrumentSnapshot, ScoringContext, share_by, window
from trainer.drills.sheet import clock
from trainer.wording import worded

GUESSES = 3
"""So many wrong faults named are a guess: nothing is left to earn, and the drill cannot be passed. Invented."""


class ReportJudge(Judge[C]):
    """Waits for a statement. Another one that says the opposite takes the points, whenever it is made: whoever hears
    both knows nothing."""

    def __init__(self, item: Item[Common], desk: ScoringContext) -> None:
        super().__init__(item, desk)
        self.texts = {s.id: s.text for s in desk.prepared.drill.statement}
        self.good: float | None = None
        self.wrong: list[Any] | None = None  # time, statement

    def _contradicted(self, expected: str, due: float | None) -> CriterionResult | None:
        """The verdict where a report went against the right one; None where none did."""
        if self.wrong is None or self.good is None:
            return None
        t, other = self.wrong
        said = worded(
            "Right at {0}, but contradicted at {1}: '{2}' {3}", clock(self.good), clock(t), self.texts[other], expected
        )
        return CriterionResult(0.0, t, said, None, due)


CONTRADICTS = "That contradicts what you reported before."
"""Said to a trainee of a report that goes against a right one."""


class SayJudge(ReportJudge[Say]):
    """Waits for a statement, made in time and true. Made too early it counts for nothing; it may be made again."""

    def __init__(self, item: Item[Common], desk: ScoringContext) -> None:
        super().__init__(item, desk)
        self.holds = desk.binder.condition(self.ready["holds"]) if "holds" in self.ready else None
        self.false: float | None = None
        self.early: float | None = None
        self.late: float | None = None

    def hear(self, t: float, do: str, target: str, value: float | None) -> None:
        spec = self.spec
        if do != "say":
            return
        if target in spec.instead_of and self.wrong is None:
            self.wrong = [t, target]
        if target != spec.statement or self.good is not None:
            return
        start = self.desk.since(spec.after)
        if start is None:
            self.early = t
        elif self.holds is not None and not self.holds():
            if self.false is None:
                self.false = t
                self.desk.note(self.key, self.ready["holds"])
        elif not self._overdue(t):
            self.good = t
        elif self.late is None:
            self.late = t

    def heard(self, t: float, do: str, target: str) -> bool | str | None:
        spec = self.spec
        if do != "say":
            return None
        if target in spec.instead_of:
            return "That report is wrong: look at the instruments again." if self.good is None else CONTRADICTS
        if target != spec.statement or (self.good is not None and self.good != t):
            return None
        if self.good == t:
            return True
        if self._too_late(t):
            return "Reported too late for points."
        if self.desk.since(spec.after) is None:
            return worded("Reported too early: {0} comes first. Report it again then.", self.desk.title(spec.after))
        needed = self.desk.expected(spec, self.ready["holds"].tree)
        return worded("Reported when it was not so. Required: {0}. Report it again when it is so.", needed)

    def judge(self, end: float) -> CriterionResult:
        spec, desk = self.spec, self.desk
        limit = f" within {clock(spec.within)}" if spec.within is not None else ""
        expected = worded("Required: '{0}'{1} after {2}.", self.texts[spec.statement], limit, desk.title(spec.after))
        due = desk.due(desk.since(spec.after), spec.within)
        if self.good is None and self.wrong is not None:
            wrong = worded("Wrong report at {0}: '{1}' {2}", clock(self.wrong[0]), self.texts[self.wrong[1]], expected)
            return CriterionResult(0.0, self.wrong[0], wrong, self._sight(end), due)
        if self.good is not None:
            against = self._contradicted(expected, due)
            return against or CriterionResult(1.0, self.good, f"Reported at {clock(self.good)}.", None, due)
        if self.false is not None:
            needed = desk.expected(spec, self.ready["holds"].tree)
            said = worded("Reported at {0}, when this was not met: {1}.", clock(self.false), needed)
            sight = desk.then(self.key, self.false, self.ready["holds"])
            return CriterionResult(0.0, self.false, worded("{0} {1}", said, expected), sight, due)
        if self.early is not None:
            early = worded("Reported at {0}, too early. {1}", clock(self.early), expected)
            return CriterionResult(0.0, self.early, early, self._sight(end), due)
        if self.late is not None and due is not None:
            late = worded("Reported at {0}, {1} late. {2}", clock(self.late), clock(self.late - due), expected)
            return CriterionResult(0.0, self.late, late, self._sight(end), due)
        return CriterionResult(
            0.0, None, worded("Not reported by {0}. {1}", clock(end), expected), self._sight(end), due
        )

    def _sight(self, end: float) -> InstrumentSnapshot:
        """What bears on the statement: what must be so for it, else what came, or has to come, before it."""
        desk, after = self.desk, self.spec.after
        if "holds" in self.ready:
            return desk.now(end, self.ready["holds"])
        t = desk.since(after)
        return desk.missing(end, after) if t is None or after is None else desk.then(after, t)

    def best(self, t: float) -> float:
        lost = self.wrong is not None or (self.good is None and self._too_late(t))
        return 0.0 if lost else 1.0

    def _overdue(self, t: float) -> bool:
        """Whether the time allowed for the report is over."""
        start = self.desk.since(self.spec.after)
        return self.spec.within is not None and start is not None and t - start > self.spec.within

    def _too_late(self, t: float) -> bool:
        """Whether a report earns nothing any more: its time is over, or what must be so for it had to come before
        something that is now done."""
        past = "holds" in self.ready and never_again(self.ready["holds"].tree, self.desk.scope.reached)
        return past or self._overdue(t)

    def memory(self) -> object:
        return [self.good, self.false, self.wrong, self.early, self.late]

    def recall(self, memory: Any) -> None:
        self.good, self.false, self.wrong, self.early, self.late = memory


class AnswerJudge(ReportJudge[Answer]):
    """Waits for the first statement after a question that the seed picked; until the next question is put, another
    answer goes against it."""

    def __init__(self, item: Item[Common], desk: ScoringContext) -> None:
        super().__init__(item, desk)
        drill, picked = desk.prepared.drill, self.spec.question.removeprefix("vary.")
        self.right = self.spec.answers[int(desk.scope.vary[picked])]
        # A report that another criterion waits for is no answer to a question.
        self.reports = {c.statement for c in drill.criterion if isinstance(c, Say)}
        self.against = {*self.spec.answers, *self.spec.instead_of} - {self.right}
        asked = [c for c in drill.criterion if isinstance(c, Answer)]
        self.later = [c.after for c in asked[[c.id for c in asked].index(self.spec.id) + 1 :]]

    def hear(self, t: float, do: str, target: str, value: float | None) -> None:
        answered = self.good is not None or self.wrong is not None
        if do != "say" or target in self.reports or self.desk.since(self.spec.after) is None:
            return
        if not answered:
            self.desk.scope.answered[self.spec.id] = t
            if target == self.right:
                self.good = t
            else:
                self.wrong = [t, target]
        elif self.wrong is None and target in self.against and not self._next_put():
            self.wrong = [t, target]

    def _next_put(self) -> bool:
        return any(self.desk.since(question) is not None for question in self.later)

    def heard(self, t: float, do: str, target: str) -> bool | str | None:
        if do != "say" or target in self.reports:
            return None
        if self.wrong is not None and self.wrong == [t, target]:
            return "That answer is wrong." if self.good is None else CONTRADICTS
        return True if self.good == t and target == self.right else None

    def judge(self, end: float) -> CriterionResult:
        spec, right = self.spec, self.texts[self.right]
        start = self.desk.since(spec.after)
        due = self.desk.due(start, spec.within)
        t = self.good
        if t is None and self.wrong is not None:
            at, given = self.wrong
            wrong = worded("Wrong answer at {0}: '{1}' Correct answer: '{2}'", clock(at), self.texts[given], right)
            return CriterionResult(0.0, at, wrong, None, due)
        if t is None or start is None:
            sight = self.desk.missing(end, spec.after) if start is None else None
            nothing = worded("Not answered by {0}. Correct answer: '{1}'", clock(end), right)
            return CriterionResult(0.0, None, nothing, sight, due)
        against = self._contradicted(worded("Correct answer: '{0}'", right), due)
        if against is not None:
            return against
        if spec.within is not None and t - start > spec.within:
            late = f"Correct answer at {clock(t)}, {clock(t - start - spec.within)} late."
            return CriterionResult(0.0, t, late, None, due)
        return CriterionResult(1.0, t, worded("Correct answer at {0}: '{1}'", clock(t), right), None, due)

    def best(self, t: float) -> float:
        return 1.0 if self.good is None and self.wrong is None else self.judge(t).share or 0.0

    def memory(self) -> object:
        return [self.good, self.wrong]

    def recall(self, memory: Any) -> None:
        self.good, self.wrong = memory


class DiagnoseJudge(Judge[Diagnose]):
    """Waits for the fault to be named; ``fault`` is the one the seed picked. Wrong ones count whenever they come."""

    def __init__(self, item: Item[Common], desk: ScoringContext) -> None:
        super().__init__(item, desk)
        picked = desk.prepared.picked(desk.scope.vary)
        self.fault = picked.get(self.spec.fault, self.spec.fault)
        # What is right elsewhere in the drill is no wrong guess here.
        asked = [c for c in desk.prepared.drill.criterion if isinstance(c, Diagnose)]
        part = self.fault.split(".")[0]
        self.right = {self.fault, *(f"{part}.{kind}" for kind in self.spec.alike)}
        self.others = {picked.get(c.fault, c.fault) for c in asked if c.id != self.spec.id}
        self.good: float | None = None
        self.wrong: list[str] = []

    def hear(self, t: float, do: str, target: str, value: float | None) -> None:
        if do != "name":
            return
        if target in self.right:
            self.good = t if self.good is None else self.good
        elif target not in self.wrong and target not in self.others:
            self.wrong.append(target)

    def heard(self, t: float, do: str, target: str) -> bool | str | None:
        if do != "name" or target in self.others:
            return None
        if target in self.right:
            return True
        left = GUESSES - len(self.wrong)
        return "That is not the fault. " + (
            f"After {left} more wrong one{'s' if left > 1 else ''} the drill cannot be passed."
            if left > 0
            else "The drill can no longer be passed."
        )

    def judge(self, end: float) -> CriterionResult:
        spec, desk = self.spec, self.desk
        fault = desk.prepared.catalogue.faults[self.fault]
        wrong = ", ".join(desk.prepared.catalogue.faults[name].title for name in self.wrong)
        said = f" Wrong faults reported: {wrong}." if wrong else ""
        cost = f"{said} They leave {self._left():.0%} of the points." if wrong else ""
        start = desk.since(spec.from_)
        due = desk.due(start, spec.full if spec.zero is None else spec.zero)
        sight = desk.of(end, *fault.shows)
        if self.good is None or start is None:
            text = f"Fault not named by {clock(end)}.{said} The fault: {fault.title}."
            return CriterionResult(0.0, self.good, text, sight, due)
        if self.guessed:
            many = f"{len(self.wrong)} wrong faults were reported; after {GUESSES} the drill cannot be passed."
            return CriterionResult(0.0, self.good, f"{many}{said} The fault: {fault.title}.", sight, due)
        took = self.good - start
        share = share_by(took, spec.full, spec.zero) * self._left()
        expected = (
            ""
            if spec.full is None
            else worded(" Required {0} of {1}.", window(spec.full, spec.zero), desk.title(spec.from_))
        )
        if took < 0.0:
            early = f"Fault named at {clock(self.good)}, before it appeared."
            return CriterionResult(0.0, self.good, early, sight, due)
        text = f"Fault named at {clock(self.good)}: {fault.title}.{cost}"
        if share < 1.0:
            return CriterionResult(share, self.good, text + expected, sight, due)
        return CriterionResult(share, self.good, text, None, due)

    def _left(self) -> float:
        """The share of the points that the wrong faults leave: each takes its part of what there was."""
        left = 1.0
        for _ in self.wrong:
            left = left * (1.0 - self.spec.each_wrong)
        return left

    @property
    def guessed(self) -> bool:
        """Whether so many wrong faults were named that it is no diagnosis."""
        return len(self.wrong) >= GUESSES

    @property
    def required(self) -> bool:
        """A pass needs points here where the drill says so, and from whoever guesses."""
        return self.spec.required or self.guessed

    def best(self, t: float) -> float:
        if self.guessed:
            return 0.0
        if self.good is not None:
            return self.judge(t).share or 0.0
        start = self.desk.since(self.spec.from_)
        share = 1.0 if start is None else share_by(t - start, self.spec.full, self.spec.zero)
        return share * self._left()

    def memory(self) -> object:
        return [self.good, list(self.wrong)]

    def recall(self, memory: Any) -> None:
        self.good, self.wrong = memory[0], list(memory[1])


_JUDGES: dict[str, type[Judge[Common]]] = {
    "reach": ReachJudge,
    "order": OrderJudge,
    "limit": LimitJudge,
    "final": FinalJudge,
    "assess": AssessJudge,
    "reading": ReadingJudge,
    "stood": StoodJudge,
    "say": SayJudge,
    "answer": AnswerJudge,
    "confirm": ConfirmJudge,
    "economy": EconomyJudge,
    "diagnose": DiagnoseJudge,
    "call": CallJudge,
    "figure": FigureJudge,
    "repeats": RepeatJudge,
}


def judge_of(item: Item[Common], desk: ScoringContext) -> Judge[Common]:
    """The judge for a criterion of the drill file, chosen by the criterion's kind."""
    return _JUDGES[getattr(item.spec, "kind", "")](item, desk)
