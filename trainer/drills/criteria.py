"""How each kind of criterion is watched while the drill runs and judged at the end."""

from __future__ import annotations

import math
from typing import Any, Generic, TypeVar, cast

from trainer.drills.checking import Item
from trainer.drills.criteria_schema import Assess, Common, Economy, Final, Limit, Order, Reach
from trainer.drills.dimensions import sample_unit
from trainer.drills.language import Name
from trainer.drills.scoring import CriterionResult, InstrumentSnapshot, ScoringContext, share_by, window
from trainer.drills.sheet import Row, clock
from trainer.session.commands import Command
from trainer.wording import amount, joined, worded, written

C = TypeVar("C", bound=Common, covariant=True)


class Judge(Generic[C]):
    """Watches one criterion. All that it remembers goes through memory() and recall()."""

    watches = False

    def __init__(self, item: Item[Common], desk: ScoringContext) -> None:
        self.spec = cast(C, item.spec)
        self.ready = item.ready
        self.desk = desk

    @property
    def key(self) -> str:
        """Name under which evidence and the time of this criterion are kept."""
        return f"criterion.{self.spec.id}"

    @property
    def required(self) -> bool:
        """Whether a run is passed only with points on this criterion, as the drill's file says."""
        return self.spec.required

    def hear(self, t: float, do: str, target: str, value: float | None) -> None:
        """A spoken command (say, read, name); ``value`` in SI, None when it could not be read."""

    def overhear(self, t: float, command: Command) -> None:
        """A call from one member of a crew to another at ``t`` s, or its repeating back."""

    def heard(self, t: float, do: str, target: str) -> bool | str | None:
        """What to say to a trainee of a word just heard: True for right, a sentence for wrong, None if no concern."""
        return None

    def amiss(self) -> bool:
        """Whether something that costs points goes on at this moment; False for kinds that only look at deeds."""
        return False

    def watch(self, t: float, dt: float) -> None:
        """See the plant after a scan at ``t`` s, ``dt`` s after the last; called where ``watches`` is set."""

    def judge(self, end: float) -> CriterionResult:
        """What the criterion would earn if the drill ended at ``t`` s, with the reason; changes nothing."""
        raise NotImplementedError

    def best(self, t: float) -> float:
        """Largest share of the points that the run can still come to, whatever is done from ``t`` on."""
        return 1.0

    def memory(self) -> object:
        """All that must survive a snapshot, as plain JSON data; None where there is nothing."""
        return None

    def progress(self) -> object:
        """What ``watch`` carries on from scan to scan: while it stays the same, the next look may wait.

        The whole memory, where a judge does not say that a part of it is only kept for later.
        """
        return self.memory()

    def recall(self, memory: object) -> None:
        """Take back what ``memory()`` gave, on a judge of the same criterion."""

    def row(self, end: float) -> Row:
        """The line of the score sheet as it would stand if the drill ended at ``end`` s."""
        spec = self.spec
        verdict = self.judge(end)
        share, reason, sight = verdict.share, verdict.reason, verdict.sight
        missing = [name for name in spec.needs if name not in self.desk.scope.reached]
        if share is not None and share > 0.0 and missing:
            share, reason = 0.0, worded("No points: {0}. {1}", self.desk.unreached(*missing), reason)
            sight = self.desk.missing(end, *missing)
        return Row(
            id=spec.id,
            title=spec.title,
            category=spec.category,
            points=spec.points,
            earned=None if share is None else round(spec.points * share, 3),
            t=verdict.t,
            reason=reason,
            why=spec.why,
            source=spec.source,
            required=self.required,
            seen=sight.shown if sight else {},
            seen_t=sight.t if sight else None,
            due=verdict.due,
            post=spec.post or "",
        )


class ReachJudge(Judge[Reach]):
    """The runner latches its condition like a milestone, under this judge's key."""

    def judge(self, end: float) -> CriterionResult:
        spec, desk, when = self.spec, self.desk, self.ready["when"]
        t = self._reached()
        start = desk.since(spec.from_)
        due = desk.due(start, spec.full if spec.zero is None else spec.zero)
        limit = (
            "" if spec.full is None else worded(", {0} of {1}", window(spec.full, spec.zero), desk.title(spec.from_))
        )
        lasting = f", for at least {clock(self._hold)}" if self._hold else ""
        expected = worded("Required: {0}{1}{2}.", desk.expected(spec, when.tree), lasting, limit)
        if t is None:
            return CriterionResult(
                0.0, None, worded("Not done by {0}. {1}", clock(end), expected), desk.now(end, when), due
            )
        seen = desk.then(self.key, t, when)
        if start is None:
            return CriterionResult(
                0.0, t, worded("Done at {0}, but {1} did not occur.", clock(t), desk.title(spec.from_)), seen
            )
        took = t - start
        if took < 0.0:
            early = worded(
                "Done at {0}, before {1} at {2}: too early to count.", clock(t), desk.title(spec.from_), clock(start)
            )
            return CriterionResult(0.0, t, worded("{0} {1}", early, expected), seen, due)
        share = share_by(took, spec.full, spec.zero)
        if start > 0.0:
            done = worded("Done at {0}, {1} after {2}.", clock(t), clock(took), desk.title(spec.from_))
        else:
            done = worded("Done {0} after {1}.", clock(took), desk.title(spec.from_))
        if share < 1.0 and spec.full is not None:
            done += f" {'Late' if share > 0.0 else 'Too late'}: {clock(took - spec.full)} over the limit."
        return CriterionResult(share, t, done if share == 1.0 else worded("{0} {1}", done, expected), seen, due)

    @property
    def _hold(self) -> float:
        """How long it has to last, s: its own time or that of the one milestone that it waits for."""
        return max(self.spec.hold, self.desk.hold(self.spec.when))

    def _reached(self) -> float | None:
        """When it was reached; a criterion that is one milestone has the milestone's own time.

        Of one that began before ``from`` and lasted past it, when it had lasted.
        """
        t, name = self.desk.scope.reached.get(self.key), self.desk.milestone(self.spec.when)
        began = None if t is None or name is None else self.desk.since(name)
        start = self.desk.since(self.spec.from_)
        if t is None or began is None or (start is not None and began < start <= t):
            return t
        return began

    def best(self, t: float) -> float:
        spec, start = self.spec, self.desk.since(self.spec.from_)
        if self.key in self.desk.scope.reached and start is not None:
            return self.judge(t).share or 0.0
        # What counts is when the state began, and it may have begun already.
        return 1.0 if start is None else share_by(t - start - self._hold, spec.full, spec.zero)


class OrderJudge(Judge[Order]):
    """Compares the times at which milestones were reached: each pair in order earns its part, or only all do."""

    def judge(self, end: float) -> CriterionResult:
        reached = self.desk.scope.reached
        good = 0
        wrong: list[str] = []
        amiss: list[str] = []
        last: float | None = None
        for first, second in zip(self.spec.steps, self.spec.steps[1:], strict=False):
            a, b = reached.get(first), reached.get(second)
            if a is not None and b is not None and a <= b:
                good += 1
                last = b
                continue
            amiss.append(first if b is not None and a is None else second)
            if b is None:
                wrong.append(worded("{0} not done", self.desk.title(second)))
            elif a is None:
                wrong.append(
                    worded("{0} at {1} without {2}", self.desk.title(second), clock(b), self.desk.title(first))
                )
            else:
                wrong.append(
                    worded(
                        "{0} at {1} before {2} at {3}",
                        self.desk.title(second),
                        clock(b),
                        self.desk.title(first),
                        clock(a),
                    )
                )
        pairs = len(self.spec.steps) - 1
        share = good / pairs if self.spec.partial else float(good == pairs)
        if not wrong:
            return CriterionResult(share, last, f"In the correct order, complete at {clock(last or 0.0)}.")
        order = joined(", then ", (self.desk.title(name) for name in self.spec.steps))
        return CriterionResult(
            share, last, worded("{0}. Required: {1}.", joined("; ", wrong), order), self._sight(end, amiss[0])
        )

    def _sight(self, end: float, name: str) -> InstrumentSnapshot:
        """What the instruments showed when a step came too early, or what they show of one that never came."""
        t = self.desk.since(name)
        return self.desk.missing(end, name) if t is None else self.desk.then(name, t)

    def best(self, t: float) -> float:
        reached, holds = self.desk.scope.reached, {m.spec.id: m.spec.hold for m in self.desk.prepared.milestones}
        good = 0
        for first, second in zip(self.spec.steps, self.spec.steps[1:], strict=False):
            b = reached.get(second)
            # A milestone that has to last may have begun before the other one, and is told only later.
            good += b is None or reached.get(first, t - holds[first]) <= b
        pairs = len(self.spec.steps) - 1
        return good / pairs if self.spec.partial else float(good == pairs)


class LimitJudge(Judge[Limit]):
    """Adds up the time (s) outside a limit between two milestones: what is over the grace costs points."""

    watches = True

    def __init__(self, item: Item[Common], desk: ScoringContext) -> None:
        super().__init__(item, desk)
        self.holds = desk.binder.condition(self.ready["holds"])
        self.outside = 0.0
        self.first: float | None = None

    @property
    def _counts(self) -> bool:
        spec, reached = self.spec, self.desk.scope.reached
        begun = spec.from_ is None or spec.from_ in reached
        return begun and (spec.until is None or spec.until not in reached)

    def amiss(self) -> bool:
        return self._counts and not self.holds()

    def watch(self, t: float, dt: float) -> None:
        if self._counts and not self.holds():
            if self.first is None:
                self.first = t
                self.desk.note(self.key, self.ready["holds"])
            self.outside += dt

    def judge(self, end: float) -> CriterionResult:
        spec, desk = self.spec, self.desk
        start = desk.since(spec.from_)
        expected = worded("Required from {0}", desk.title(spec.from_))
        expected += worded(" until {0}", desk.title(spec.until)) if spec.until else " to the end"
        expected += worded(": {0}.", desk.expected(spec, self.ready["holds"].tree))
        if start is None:
            said = worded("{0}, so there was nothing to hold. {1}", desk.unreached(spec.from_), expected)
            return CriterionResult(0.0, None, said, desk.missing(end, spec.from_, beside=[self.ready["holds"]]))
        if self.first is None:
            return CriterionResult(1.0, start, worded("Held throughout. {0}", expected))
        share = share_by(self.outside, spec.grace, spec.zero)
        said = worded("Out of limits for {0}, first at {1}. {2}", clock(self.outside), clock(self.first), expected)
        return CriterionResult(share, self.first, said, desk.then(self.key, self.first, self.ready["holds"]))

    def best(self, t: float) -> float:
        return 1.0 if self.first is None else share_by(self.outside, self.spec.grace, self.spec.zero)

    def memory(self) -> object:
        return [self.outside, self.first]

    def recall(self, memory: Any) -> None:
        self.outside, self.first = memory


class FinalJudge(Judge[Final]):
    """Looks once, at the end of the run, whether a condition holds: all points or none."""

    def __init__(self, item: Item[Common], desk: ScoringContext) -> None:
        super().__init__(item, desk)
        self.holds = desk.binder.condition(self.ready["holds"])

    def judge(self, end: float) -> CriterionResult:
        so = self.holds()
        said = f"At the end ({clock(end)}): {'met' if so else 'not met'}. "
        said += worded("Required: {0}.", self.desk.expected(self.spec, self.ready["holds"].tree))
        return CriterionResult(float(so), end, said, self.desk.now(end, self.ready["holds"]))


class EconomyJudge(Judge[Economy]):
    """Takes a quantity at two milestones and grades the difference."""

    watches = True

    def __init__(self, item: Item[Common], desk: ScoringContext) -> None:
        super().__init__(item, desk)
        self.measure = desk.binder.quantity(self.ready["measure"])
        self.full = desk.binder.quantity(self.ready["full"])
        self.zero = desk.binder.quantity(self.ready["zero"])
        self.first: float | None = None
        self.last: float | None = None

    def watch(self, t: float, dt: float) -> None:
        if self.last is not None:
            return
        if self.first is None and self.desk.since(self.spec.from_) is not None:
            self.first = self.measure()
        if self.spec.until is not None and self.spec.until in self.desk.scope.reached:
            self.last = self.measure()

    def amiss(self) -> bool:
        if self.first is None or self.last is not None:
            return False
        return self.measure() - self.first > self.full()

    def judge(self, end: float) -> CriterionResult:
        spec, desk = self.spec, self.desk
        expected = worded("Full points to {0}, none above {1}.", written(spec.full), written(spec.zero))
        if self.first is None or (spec.until is not None and self.last is None):
            missing = spec.from_ if self.first is None else spec.until
            sight = desk.missing(end, missing, beside=[self.ready["measure"]])
            return CriterionResult(0.0, None, worded("{0}. {1}", desk.unreached(missing), expected), sight)
        used = (self.measure() if self.last is None else self.last) - self.first
        if math.isnan(used):
            sight = desk.now(end, self.ready["measure"])
            return CriterionResult(0.0, None, worded("No measurement. {0}", expected), sight)
        tags = self.ready["measure"].tags
        signals = desk.prepared.catalogue.signals
        unit = signals[tags[0]].unit if tags else sample_unit(self.ready["measure"].dimension)
        t = end if spec.until is None else desk.scope.reached.get(spec.until, end)
        text = amount(used, unit) if unit else f"{used:.3g}"
        share = share_by(used, self.full(), self.zero())
        return CriterionResult(
            share,
            t,
            worded("{0}: {1} at {2}. {3}", spec.title, text, clock(t), expected),
            None if share == 1.0 else self._sight(t, end),
        )

    def _sight(self, t: float, end: float) -> InstrumentSnapshot:
        """What was measured, at the milestone where it was taken; made of several readings, those at the end."""
        measure = self.ready["measure"]
        match measure.tree:
            case Name(tag) if self.last is not None and tag in measure.tags:
                return InstrumentSnapshot(t, {tag: self.desk.text(tag, self.last)})
            case _:
                return self.desk.now(end, measure)

    def memory(self) -> object:
        return [self.first, self.last]

    def recall(self, memory: Any) -> None:
        self.first, self.last = memory


class AssessJudge(Judge[Assess]):
    """Left to the assessor: no points until somebody marks it, and none are lost meanwhile."""

    def judge(self, end: float) -> CriterionResult:
        return CriterionResult(None, None, worded("For the assessor to judge: {0}", self.spec.look_for))
