"""What the judges of a drill share: the drill, its bound scope, and what the instruments showed beside a verdict."""

from __future__ import annotations

import functools
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from trainer.drills import phrases
from trainer.drills.binding import Binder
from trainer.drills.criteria_schema import Common, Critical
from trainer.drills.expressions import Expression, Scope, deciding, show_value, walk
from trainer.drills.language import Call, Name, Node, Text
from trainer.drills.prepare import Prepared
from trainer.drills.sheet import Failure, clock
from trainer.plant import names
from trainer.wording import joined, worded

_ONLY = re.compile(r"\s*done\(\s*(\w+)\s*\)\s*")
"""A condition that is one milestone."""


@dataclass(frozen=True, slots=True)
class InstrumentSnapshot:
    """What the instruments showed at a moment (s), as text by tag."""

    t: float
    shown: dict[str, str]


@dataclass
class ScoringContext:
    """What the judges share: the drill, the bound scope, and readings noted when something was reached."""

    prepared: Prepared
    scope: Scope
    binder: Binder
    seen: dict[str, dict[str, float]] = field(default_factory=dict)
    """Readings (SI) at the moment a milestone or criterion was decided, by its key."""

    def note(self, key: str, expression: Expression) -> None:
        """Keep what the readings that a condition looks at show now, SI, as evidence under ``key``."""
        self.seen[key] = {tag: self.scope.read(tag) for tag in expression.tags}

    def shown(self, key: str) -> dict[str, str]:
        """The readings kept under ``key``, as text; of a milestone those that decide it in this variation."""
        own = next((item.ready["when"] for item in self.prepared.milestones if item.spec.id == key), None)
        decisive = None if own is None else self._decisive(own)
        return {
            tag: self.text(tag, value)
            for tag, value in self.seen.get(key, {}).items()
            if decisive is None or tag in decisive
        }

    def _decisive(self, expression: Expression) -> list[str]:
        """The readings that a condition looks at, without those that only other variations ask for."""
        picked = self.prepared.picked(self.scope.vary)
        terms = deciding(expression.tree, picked)
        named = {node.value for term in terms for node in walk(term) if isinstance(node, Name)}
        return [tag for tag in expression.tags if tag in named]

    def text(self, tag: str, value: float) -> str:
        """A reading (SI) as people say it: number with unit, or the word of its state."""
        return show_value(self.prepared.catalogue.signals[tag], value)

    def then(self, key: str, t: float, *expressions: Expression) -> InstrumentSnapshot:
        """What was kept under ``key`` at ``t``; of a condition on milestones alone, what was kept with them."""
        shown = self.shown(key)
        for expression in expressions if not shown else ():
            for name in expression.uses:
                shown |= self.shown(name)
        return InstrumentSnapshot(t, shown)

    def now(self, end: float, *expressions: Expression) -> InstrumentSnapshot:
        """What the instruments show now of what these conditions ask for, down to what the unreached ones ask."""
        looked_at: set[str] = set()
        sight = self.of(end, *(tag for expression in expressions for tag in self._asked(expression, looked_at)))
        if not sight.shown:
            # All of it hangs on what was reached before: what was seen then.
            for name in (name for expression in expressions for name in expression.uses):
                if self.seen.get(name) and name in self.scope.reached:
                    return self.then(name, self.scope.reached[name])
        return sight

    def of(self, end: float, *tags: str) -> InstrumentSnapshot:
        """What these instruments show now, as text by tag; tags that the plant lacks are left out."""
        signals = self.prepared.catalogue.signals
        return InstrumentSnapshot(
            end, {tag: self.text(tag, self.scope.read(tag)) for tag in dict.fromkeys(tags) if tag in signals}
        )

    def missing(self, end: float, *milestones: str | None, beside: Sequence[Expression] = ()) -> InstrumentSnapshot:
        """What the instruments show now ``beside`` what these milestones, none of them reached, ask for."""
        asked = [item.ready["when"] for item in self.prepared.milestones if item.spec.id in milestones]
        return self.now(end, *beside, *asked)

    def failure(self, spec: Critical, t: float, end: float, when: Expression) -> Failure:
        """The sheet's line about a critical error that was made at ``t`` s: what the instruments showed then."""
        sight = self.then(f"critical.{spec.id}", t, when)
        if not sight.shown:
            sight = self.now(end, when)
        return Failure(spec.id, spec.title, t, spec.reason, spec.source, sight.shown, sight.t)

    def _asked(self, expression: Expression, looked_at: set[str]) -> Iterator[str]:
        """The readings that decide a condition: its own, those of milestones not reached, those not entered yet.

        Each milestone is looked at once: a drill may have them wait for each other.
        """
        yield from self._decisive(expression)
        for node in walk(expression.tree):
            if not isinstance(node, Call) or not isinstance(node.arguments[0], Name | Text):
                continue
            name = node.arguments[0].value
            if node.name in ("done", "since", "at") and name not in self.scope.reached and name not in looked_at:
                looked_at.add(name)
                for item in self.prepared.milestones:
                    if item.spec.id == name:
                        yield from self._asked(item.ready["when"], looked_at)
            elif node.name == "noted":
                yield next((r.tag for r in self.prepared.drill.reading if r.id == name), name)
            elif node.name in ("pushed", "by", "hand"):
                yield from (name, f"{name}.position")

    def since(self, milestone: str | None) -> float | None:
        """Time of a milestone, the start for None; None while it is not reached."""
        return 0.0 if milestone is None else self.scope.reached.get(milestone)

    def due(self, start: float | None, limit: float | None) -> float | None:
        """The time by which something had to be so; None without a limit or before it began to count."""
        return None if start is None or limit is None else start + limit

    def expected(self, spec: Common, condition: Node) -> str:
        """What was expected, in words: those that the drill gives, or its condition's."""
        if spec.expected is not None:
            return spec.expected
        match condition:
            case Call("done", (Name(name) | Text(name),)):
                return self.title(name)
            case _:
                return phrases.condition(condition, self.titles)

    @functools.cached_property
    def titles(self) -> phrases.Titles:
        """What the ids in conditions are called in this drill: for each kind of id, the title or text by id."""
        drill = self.prepared.drill
        known = {
            "done": {item.spec.id: item.spec.title for item in self.prepared.milestones},
            "noted": {one.id: one.title for one in drill.reading},
            "said": {one.id: one.text for one in drill.statement},
            "vary": {one.id: one.title for one in drill.vary},
            "called": {one.id: one.text for one in drill.call},
            "post": {one.id: one.title for one in drill.post},
        }
        return phrases.Titles(
            self.prepared.catalogue.signals, lambda kind, name: known[kind].get(name) or names.instrument(name)
        )

    def hold(self, condition: str) -> float:
        """For how long a condition that is one milestone has to last, s."""
        return self._holds.get(self.milestone(condition) or "", 0.0)

    def milestone(self, condition: str) -> str | None:
        """The milestone that a condition waits for, if it waits for nothing else."""
        only = _ONLY.fullmatch(condition)
        return None if only is None else only[1]

    def unreached(self, *milestones: str | None) -> str:
        """That these milestones were not reached, with how long each has to last."""
        said = []
        for name in milestones:
            lasting = self._holds.get(name or "", 0.0)
            said.append(self.title(name) + (f" (for at least {clock(lasting)})" if lasting else ""))
        return worded("{0} not reached", joined(" and ", said))

    @property
    def _holds(self) -> dict[str, float]:
        return {item.spec.id: item.spec.hold for item in self.prepared.milestones}

    def title(self, milestone: str | None) -> str:
        """The milestone's title in quotes, for a sentence; "the start" for None."""
        return "the start" if milestone is None else worded("'{0}'", self.prepared.milestone_title(milestone))


@dataclass(frozen=True, slots=True)
class CriterionResult:
    """Share of the points earned (None: not a machine's to judge), deciding time and the sentences why."""

    share: float | None
    t: float | None
    reason: str
    sight: InstrumentSnapshot | None = None
    due: float | None = None
    """The time by which it had to be so for any points."""


def share_by(value: float, full: float | None, zero: float | None) -> float:
    """Share earned: 1 up to ``full``, falling in a straight line to 0 at ``zero``."""
    if full is None or value <= full:
        return 1.0
    if zero is None or value >= zero:
        return 0.0
    return (zero - value) / (zero - full)


def window(full: float | None, zero: float | None) -> str:
    """The time window in words, both ends in s: full points until one, none after the other."""
    if full is None:
        return "at any time"
    if zero is None or zero == full:
        return f"within {clock(full)}"
    return f"within {clock(full)} for full points, none after {clock(zero)}"
