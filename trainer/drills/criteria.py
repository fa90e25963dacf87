"""How each kind of criterion is watched while the drill runs and judged at the end."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any, Generic, TypeVar, cast

from trainer.drills.binding import Binder
from trainer.drills.checking import Item
from trainer.drills.criteria_schema import Assess, Common, Final, Limit, Order, Reach
from trainer.drills.expressions import Expression, Scope, show_value
from trainer.drills.prepare import Prepared
from trainer.drills.sheet import Row, clock, in_words

C = TypeVar("C", bound=Common)


@dataclass(slots=True)
class Desk:
    """What the judges share: the drill, the bound scope, and readings noted when something was reached."""

    prepared: Prepared
    scope: Scope
    binder: Binder
    seen: dict[str, dict[str, float]] = field(default_factory=dict)
    """Readings (SI) at the moment a milestone or criterion was decided, by its key."""

    def note(self, key: str, expression: Expression) -> None:
        """Keep the readings that a condition looks at, as evidence."""
        self.seen[key] = {tag: self.scope.read(tag) for tag in expression.tags}

    def shown(self, key: str) -> dict[str, str]:
        """The readings kept under ``key``, as text."""
        signals = self.prepared.catalogue.signals
        return {tag: show_value(signals[tag], value) for tag, value in self.seen.get(key, {}).items()}

    def now(self, expression: Expression) -> dict[str, str]:
        """The readings a condition looks at, as text, at this moment."""
        signals = self.prepared.catalogue.signals
        return {tag: show_value(signals[tag], self.scope.read(tag)) for tag in expression.tags}

    def since(self, milestone: str | None) -> float | None:
        """Time of a milestone, the start for None; None while it is not reached."""
        return 0.0 if milestone is None else self.scope.reached.get(milestone)

    def expected(self, spec: Common, condition: str) -> str:
        """What was expected, in words where the drill gives them: its own, or the milestone's title."""
        if spec.expected is not None:
            return spec.expected
        only = re.fullmatch(r"\s*done\((\w+)\)\s*", condition)
        return self.title(only[1]) if only else in_words(" ".join(condition.split()))

    def title(self, milestone: str | None) -> str:
        """The milestone's title in quotes, or "the start"."""
        return "the start" if milestone is None else f"'{self.prepared.milestone_title(milestone)}'"


@dataclass(frozen=True, slots=True)
class Verdict:
    """Share of the points earned (None: not a machine's to judge), deciding time and the sentences why."""

    share: float | None
    t: float | None
    reason: str
    seen: dict[str, str] = field(default_factory=dict)


class Judge(Generic[C]):
    """Watches one criterion. All that it remembers goes through memory() and recall()."""

    watches = False

    def __init__(self, item: Item[Common], desk: Desk) -> None:
        self.spec = cast(C, item.spec)
        self.ready = item.ready
        self.desk = desk

    @property
    def key(self) -> str:
        """Name under which evidence and the time of this criterion are kept."""
        return f"criterion.{self.spec.id}"

    def hear(self, t: float, do: str, target: str, value: float | None) -> None:
        """A spoken command (say, read, name); ``value`` in SI, None when it could not be read."""

    def watch(self, t: float, dt: float) -> None:
        """Called after every scan if ``watches``."""

    def judge(self, end: float) -> Verdict:
        """The verdict if the drill ended now."""
        raise NotImplementedError

    def best(self, t: float) -> float:
        """Largest share of the points that the run can still come to, whatever is done from ``t`` on."""
        return 1.0

    def memory(self) -> Any:
        """All that must survive a snapshot, as JSON data."""
        return None

    def recall(self, memory: Any) -> None:
        """Take back what memory() gave."""

    def row(self, end: float) -> Row:
        """The line of the score sheet."""
        spec = self.spec
        verdict = self.judge(end)
        share, reason = verdict.share, verdict.reason
        missing = [name for name in spec.needs if name not in self.desk.scope.reached]
        if share is not None and share > 0.0 and missing:
            names = " and ".join(self.desk.title(name) for name in missing)
            share, reason = 0.0, f"Counts only once {names} was reached, and it was not. {reason}"
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
            required=spec.required,
            seen=verdict.seen,
        )


def graded(value: float, full: float | None, zero: float | None) -> float:
    """Share earned: 1 up to ``full``, falling in a straight line to 0 at ``zero``."""
    if full is None or value <= full:
        return 1.0
    if zero is None or value >= zero:
        return 0.0
    return (zero - value) / (zero - full)


def window(full: float | None, zero: float | None) -> str:
    """The time window in words."""
    if full is None:
        return "at any time"
    if zero is None or zero == full:
        return f"within {clock(full)}"
    return f"within {clock(full)} for full points, none after {clock(zero)}"


class ReachJudge(Judge[Reach]):
    """The runner latches its condition like a milestone, under this judge's key."""

    def judge(self, end: float) -> Verdict:
        spec, desk = self.spec, self.desk
        t = desk.scope.reached.get(self.key)
        start = desk.since(spec.from_)
        limit = f"{window(spec.full, spec.zero)} from {desk.title(spec.from_)}"
        expected = f"Expected: {desk.expected(spec, spec.when)}, {limit}."
        if t is None:
            return Verdict(0.0, None, f"Not reached by {clock(end)}. {expected}", desk.now(self.ready["when"]))
        seen = desk.shown(self.key)
        if start is None:
            return Verdict(0.0, t, f"Reached at {clock(t)}, but {desk.title(spec.from_)} never came.", seen)
        took = t - start
        if took < 0.0:
            early = f"Done at {clock(t)}, before {desk.title(spec.from_)} at {clock(start)}: too early to count."
            return Verdict(0.0, t, f"{early} {expected}", seen)
        share = graded(took, spec.full, spec.zero)
        done = f"Reached at {clock(t)}, {clock(took)} after {desk.title(spec.from_)}."
        return Verdict(share, t, done if share == 1.0 else f"{done} {expected}", seen)

    def best(self, t: float) -> float:
        spec, start = self.spec, self.desk.since(self.spec.from_)
        if self.key in self.desk.scope.reached and start is not None:
            return self.judge(t).share or 0.0
        # What counts is when the state began, and it may have begun already.
        return 1.0 if start is None else graded(t - start - spec.hold, spec.full, spec.zero)


class OrderJudge(Judge[Order]):
    """Compares the times at which milestones were reached."""

    def judge(self, end: float) -> Verdict:
        reached = self.desk.scope.reached
        good = 0
        wrong: list[str] = []
        last: float | None = None
        for first, second in zip(self.spec.steps, self.spec.steps[1:], strict=False):
            a, b = reached.get(first), reached.get(second)
            if a is not None and b is not None and a <= b:
                good += 1
                last = b
            elif b is None:
                wrong.append(f"{self.desk.title(second)} was not reached")
            elif a is None:
                wrong.append(f"{self.desk.title(second)} at {clock(b)} without {self.desk.title(first)}")
            else:
                wrong.append(f"{self.desk.title(second)} at {clock(b)} before {self.desk.title(first)} at {clock(a)}")
        pairs = len(self.spec.steps) - 1
        share = good / pairs if self.spec.partial else float(good == pairs)
        if not wrong:
            return Verdict(share, last, f"In the right order, complete at {clock(last or 0.0)}.")
        order = ", then ".join(self.desk.title(name) for name in self.spec.steps)
        return Verdict(share, last, f"{'; '.join(wrong)}. Expected: {order}.")

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
    """Adds up the time outside a limit."""

    watches = True

    def __init__(self, item: Item[Common], desk: Desk) -> None:
        super().__init__(item, desk)
        self.holds = desk.binder.condition(self.ready["holds"])
        self.outside = 0.0
        self.first: float | None = None

    def watch(self, t: float, dt: float) -> None:
        spec, reached = self.spec, self.desk.scope.reached
        if spec.from_ is not None and spec.from_ not in reached:
            return
        if spec.until is not None and spec.until in reached:
            return
        if not self.holds():
            if self.first is None:
                self.first = t
                self.desk.note(self.key, self.ready["holds"])
            self.outside += dt

    def judge(self, end: float) -> Verdict:
        spec, desk = self.spec, self.desk
        start = desk.since(spec.from_)
        expected = f"Expected from {desk.title(spec.from_)}"
        expected += f" until {desk.title(spec.until)}" if spec.until else " to the end"
        expected += f": {desk.expected(spec, spec.holds)}."
        if start is None:
            return Verdict(0.0, None, f"{desk.title(spec.from_)} was not reached, so nothing was held. {expected}")
        if self.first is None:
            return Verdict(1.0, start, f"Held throughout. {expected}")
        share = graded(self.outside, spec.grace, spec.zero)
        said = f"Left at {clock(self.first)}, outside for {clock(self.outside)} in all. {expected}"
        return Verdict(share, self.first, said, desk.shown(self.key))

    def best(self, t: float) -> float:
        return 1.0 if self.first is None else graded(self.outside, self.spec.grace, self.spec.zero)

    def memory(self) -> Any:
        return [self.outside, self.first]

    def recall(self, memory: Any) -> None:
        self.outside, self.first = memory


class FinalJudge(Judge[Final]):
    """Looks once, at the end."""

    def __init__(self, item: Item[Common], desk: Desk) -> None:
        super().__init__(item, desk)
        self.holds = desk.binder.condition(self.ready["holds"])

    def judge(self, end: float) -> Verdict:
        so = self.holds()
        said = f"At the end ({clock(end)}) it was {'so' if so else 'not so'}: "
        said += f"{self.desk.expected(self.spec, self.spec.holds)}."
        return Verdict(float(so), end, said, self.desk.now(self.ready["holds"]))


class AssessJudge(Judge[Assess]):
    """Left to the assessor."""

    def judge(self, end: float) -> Verdict:
        return Verdict(None, None, f"For the assessor to judge: {self.spec.look_for}")
