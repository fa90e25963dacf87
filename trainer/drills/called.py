"""Criteria on what the members of a crew call to each other: made in time and true, repeated back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

from trainer import units
from trainer.drills.checking import Item
from trainer.drills.criteria import Judge
from trainer.drills.criteria_schema import Common, MakeCall, RepeatBack
from trainer.drills.prepare import figure_units
from trainer.drills.scoring import CriterionResult, ScoringContext
from trainer.drills.sheet import clock
from trainer.session.commands import CALL, REPEAT, Command
from trainer.wording import amount, joined, worded


class CallJudge(Judge[MakeCall]):
    """Waits for a call, made in time and true; where it has to be repeated back, for that too."""

    def __init__(self, item: Item[Common], desk: ScoringContext) -> None:
        super().__init__(item, desk)
        self.holds = desk.binder.condition(self.ready["holds"]) if "holds" in self.ready else None
        self.texts = {call.id: call.text for call in desk.prepared.drill.call}
        self.posts = {post.id: post.title for post in desk.prepared.drill.post}
        self.good: float | None = None
        self.back: float | None = None
        self.amiss_at: float | None = None
        self.amiss_how = ""
        self.wrong: tuple[float, str] | None = None

    def overhear(self, t: float, command: Command) -> None:
        spec = self.spec
        if spec.post is not None and command.do == CALL and command.by != spec.post:
            return
        if command.do == CALL and command.target in spec.instead_of and self.wrong is None:
            self.wrong = t, command.target
        if command.target != spec.call:
            return
        if command.do == REPEAT:
            if self.good is not None and self.back is None and spec.to in (None, command.by):
                self.back = t
            return
        if self.good is not None or (spec.to is not None and command.value != spec.to):
            return
        start = self.desk.since(spec.after)
        if start is None:
            self._note(t, "early")
        elif self.holds is not None and not self.holds():
            self._note(t, "false")
        elif spec.within is not None and t - start > spec.within:
            self._note(t, "late")
        else:
            self.good = t

    def _note(self, t: float, how: str) -> None:
        if how == "false" and self.amiss_how != "false":
            self.desk.note(self.key, self.ready["holds"])
            self.amiss_at, self.amiss_how = t, how
        elif self.amiss_at is None:
            self.amiss_at, self.amiss_how = t, how

    def _expected(self) -> str:
        spec, desk = self.spec, self.desk
        limit = f" within {clock(spec.within)}" if spec.within is not None else ""
        who = f" by the {self.posts[spec.post]}" if spec.post is not None else ""
        to = f" to the {self.posts[spec.to]}" if spec.to is not None else ""
        back = f", repeated back within {clock(spec.repeated)}" if spec.repeated is not None else ""
        return worded(
            "Required: '{0}' called{1}{2}{3} after {4}{5}.",
            self.texts[spec.call], who, to, limit, desk.title(spec.after), back,
        )  # fmt: skip

    def judge(self, end: float) -> CriterionResult:
        spec, desk = self.spec, self.desk
        due = desk.due(desk.since(spec.after), spec.within)
        if self.wrong is not None:
            at, other = self.wrong
            said = worded("Wrong call at {0}: '{1}' {2}", clock(at), self.texts[other], self._expected())
            return CriterionResult(0.0, at, said, None, due)
        if self.good is None:
            return self._not_made(end, due)
        if spec.repeated is None:
            return CriterionResult(1.0, self.good, f"Called at {clock(self.good)}.", None, due)
        if self.back is None:
            said = worded("Called at {0}, not repeated back. {1}", clock(self.good), self._expected())
            return CriterionResult(0.0, self.good, said, None, self.good + spec.repeated)
        if self.back - self.good > spec.repeated:
            said = worded(
                "Called at {0}, repeated back at {1}: too late. {2}",
                clock(self.good), clock(self.back), self._expected(),
            )  # fmt: skip
            return CriterionResult(0.0, self.back, said, None, self.good + spec.repeated)
        both = f"Called at {clock(self.good)}, repeated back at {clock(self.back)}."
        return CriterionResult(1.0, self.back, both, None, due)

    def _not_made(self, end: float, due: float | None) -> CriterionResult:
        desk, at = self.desk, self.amiss_at
        if at is None:
            said = worded("Not called by {0}. {1}", clock(end), self._expected())
            return CriterionResult(0.0, None, said, desk.missing(end, self.spec.after), due)
        if self.amiss_how == "false":
            needed = desk.expected(self.spec, self.ready["holds"].tree)
            said = worded("Called at {0}, when this was not met: {1}. {2}", clock(at), needed, self._expected())
            return CriterionResult(0.0, at, said, desk.then(self.key, at, self.ready["holds"]), due)
        said = worded("Called at {0}, too {1}. {2}", clock(at), self.amiss_how, self._expected())
        return CriterionResult(0.0, at, said, None, due)

    def best(self, t: float) -> float:
        spec = self.spec
        if self.wrong is not None:
            return 0.0
        if self.good is None:
            start = self.desk.since(spec.after)
            return 0.0 if spec.within is not None and start is not None and t - start > spec.within else 1.0
        if spec.repeated is None or (self.back is not None and self.back - self.good <= spec.repeated):
            return 1.0
        return 1.0 if self.back is None and t - self.good <= spec.repeated else 0.0

    def memory(self) -> object:
        return [self.good, self.back, self.amiss_at, self.amiss_how, None if self.wrong is None else list(self.wrong)]

    def recall(self, memory: object) -> None:
        self.good, self.back, self.amiss_at, self.amiss_how, wrong = cast(
            "tuple[float | None, float | None, float | None, str, tuple[float, str] | None]", memory
        )
        self.wrong = None if wrong is None else (wrong[0], wrong[1])


@dataclass
class Heard:
    """A call that was made: which, to whom, when (s), when it was repeated back; its figures in their field unit."""

    call: str
    to: str
    t: float
    back: float | None = None
    figure: float | None = None
    back_figure: float | None = None

    def kept(self, within: float, unit: str = "") -> bool:
        """Whether it was repeated back as it was told within so many seconds of the call; never while it is open."""
        if self.back is None or self.back - self.t > within:
            return False
        return self.figure is None or units.alike(self.figure, self.back_figure or 0.0, unit)

    def record(self) -> list[object]:
        """The call as plain data, times in s; one of words alone as before there were figures."""
        row = [self.call, self.to, self.t, self.back]
        return row if self.figure is None else [*row, self.figure, self.back_figure]


class RepeatJudge(Judge[RepeatBack]):
    """Counts the calls to a member, or to anybody, and which of them were repeated back in time."""

    def __init__(self, item: Item[Common], desk: ScoringContext) -> None:
        super().__init__(item, desk)
        self.texts = {call.id: call.text for call in desk.prepared.drill.call}
        self.units = figure_units(desk.prepared.drill, desk.prepared.catalogue.signals)
        self.made: list[Heard] = []

    def overhear(self, t: float, command: Command) -> None:
        spec = self.spec
        if spec.calls and command.target not in spec.calls:
            return
        if command.do == CALL and spec.post in (None, command.value):
            figure = command.figure if isinstance(command.figure, float) else None
            self.made.append(Heard(command.target, str(command.value), t, figure=figure))
        elif command.do == REPEAT:
            for row in self.made:
                if row.call == command.target and row.to == command.by and row.back is None:
                    row.back = t
                    row.back_figure = command.figure if isinstance(command.figure, float) else None
                    return

    def _kept(self, row: Heard) -> bool:
        """Whether a call was repeated back as it was told, or put right: made again as soon, and then repeated."""
        within, back = self.spec.within, row.back
        if row.kept(within, self.units.get(row.call, "")):
            return True
        return back is not None and any(
            (one.call, one.to) == (row.call, row.to) and 0.0 < one.t - back <= within and self._kept(one)
            for one in self.made
        )

    def _lost(self, row: Heard, t: float) -> bool:
        """Whether a call can no more be repeated back in time, nor be put right."""
        since = row.t if row.back is None else row.back
        return not self._kept(row) and t - since > self.spec.within

    def _missed(self, row: Heard) -> str:
        """A call that was not repeated back, in words: when it was made, and as what it came back."""
        said = worded("'{0}' at {1}", self.texts[row.call], clock(row.t))
        unit = self.units.get(row.call, "")
        if row.figure is None or row.back_figure is None or units.alike(row.figure, row.back_figure, unit):
            return said
        told, back = (amount(units.from_unit(one, unit), unit) for one in (row.figure, row.back_figure))
        return worded("{0}, {1} repeated back as {2}", said, told, back)

    def judge(self, end: float) -> CriterionResult:
        within = self.spec.within
        wanted = f"Required: each call repeated back within {clock(within)}."
        if not self.made:
            return CriterionResult(0.0, None, worded("No call was made by {0}. {1}", clock(end), wanted))
        missed = [row for row in self.made if not self._kept(row)]
        if not missed:
            last = max(row.back or 0.0 for row in self.made)
            said = f"All {len(self.made)} calls repeated back." if len(self.made) > 1 else "Repeated back."
            return CriterionResult(1.0, last, said)
        share = (len(self.made) - len(missed)) / len(self.made)
        named = joined("; ", map(self._missed, missed))
        said = worded("Not repeated back in time: {0}. {1}", named, wanted)
        return CriterionResult(share, missed[0].t, said)

    def best(self, t: float) -> float:
        lost = [row for row in self.made if self._lost(row, t)]
        return 1.0 - len(lost) / len(self.made) if lost else 1.0

    def memory(self) -> object:
        return [row.record() for row in self.made]

    def recall(self, memory: object) -> None:
        self.made = [Heard(*row) for row in cast("list[tuple[str, str, float, float | None]]", memory)]
