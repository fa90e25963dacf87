"""Whether a drill that is well written also makes sense: steps that nobody can reach, points that nobody can earn.

Works on a drill joined to a plant, by the ranges of the readings and by what waits for what; nothing is run.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from trainer import units
from trainer.drills.criteria_schema import Answer, Common, Diagnose, Economy, Final, Limit, Order, Reach, Reading, Say
from trainer.drills.dimensions import NONE
from trainer.drills.expressions import Expression, walk
from trainer.drills.language import Call, Name
from trainer.drills.prepare import Prepared
from trainer.drills.ranges import Facts, Interval, conjuncts, interval, milestone_of, possible
from trainer.drills.schema import Problem

WIDEST = 0.5
"""A tolerance of this share of the instrument's range lets any entry pass; invented."""


def problems(prepared: Prepared) -> list[Problem]:
    """Everything in a sound drill that can never come about or is never judged; empty when all makes sense."""
    return list(_Sense(prepared).problems())


class _Sense:
    def __init__(self, prepared: Prepared) -> None:
        self.prepared = prepared
        self.drill = prepared.drill
        signals = prepared.catalogue.signals
        self.whens = {item.spec.id: item.ready["when"] for item in prepared.milestones}
        picked = Facts(signals)
        vary: dict[str, Interval] = {}
        for item in prepared.vary:
            if "low" in item.ready and "high" in item.ready:
                vary[item.spec.id] = (
                    interval(item.ready["low"].tree, picked)[0],
                    interval(item.ready["high"].tree, picked)[1],
                )
        self.facts = Facts(signals, vary, self.drill.end.at)
        self.facts = replace(self.facts, reachable=self._reachable())
        self.used = _used(prepared)
        self.before = {name: self._before(name) for name in self.whens}

    # -- what waits for what

    def _reachable(self) -> frozenset[str]:
        """Milestones that can be reached and answers that can be given, found by going on until nothing is added."""
        answers = {item.spec.id: item.spec.after for item in self.prepared.criteria if isinstance(item.spec, Answer)}
        reached: frozenset[str] = frozenset()
        while True:
            facts = replace(self.facts, reachable=reached)
            new = {name for name, when in self.whens.items() if possible(when.tree, facts)[0]}
            new |= {name for name, after in answers.items() if after is None or after in reached}
            if new <= reached:
                return reached
            reached = reached | new

    def _asks(self, expression: Expression) -> set[str]:
        """Milestones without which a condition cannot hold."""
        asked = set()
        for term in conjuncts(expression.tree):
            if isinstance(term, Call) and term.name == "done":
                asked.add(milestone_of(term))
        return asked & self.whens.keys()

    def _before(self, name: str) -> frozenset[str]:
        """Milestones that have always been reached when this one is."""
        found: set[str] = set()
        new = self._asks(self.whens[name])
        while new:
            found |= new
            new = {deeper for each in new for deeper in self._asks(self.whens[each])} - found
        return frozenset(found)

    def _after(self, name: str | None) -> Facts:
        """What is known once a milestone has been reached."""
        if name is None or name not in self.whens:
            return self.facts
        return replace(self.facts, happened=self.before[name] | {name})

    # -- the tables

    def problems(self) -> Iterator[Problem]:
        yield from self._frame()
        yield from self._milestones()
        for n, item in enumerate(self.prepared.criteria, 1):
            for key, text in self._criterion(item.spec, item.ready):
                yield Problem(f"criterion[{n}].{key}", text)
        for n, failure in enumerate(self.prepared.criticals, 1):
            can, cannot = possible(failure.ready["when"].tree, self.facts)
            if not can:
                yield Problem(f"critical[{n}].when", "can never come about; " + self._why(failure.ready["when"]))
            elif not cannot:
                yield Problem(f"critical[{n}].when", "always holds, so that everybody fails; turn it round.")
        yield from self._coach()
        yield from self._variations()

    def _why(self, expression: Expression) -> str:
        """The likeliest reason why a condition cannot come true, as the second half of a sentence."""
        reachable = self.facts.reachable or frozenset()
        waits = sorted(name for name in self._asks(expression) if name not in reachable)
        if waits:
            return f"it waits for {' and '.join(repr(name) for name in waits)}, which is never reached."
        return "its terms contradict each other, the ranges of the readings or the order of the milestones."

    def _frame(self) -> Iterator[Problem]:
        end, minutes = self.drill.end, self.drill.minutes
        if not 0.5 * minutes * 60.0 <= end.at <= 10.0 * minutes * 60.0:
            text = f"{units.show(end.at, 's')} does not go with minutes = {minutes:g}; check the unit."
            yield Problem("end.at", text)
        if self.prepared.end.ready and not possible(self.prepared.end.ready["when"].tree, self.facts)[0]:
            yield Problem("end.when", "can never come about; " + self._why(self.prepared.end.ready["when"]))
        for n, item in enumerate(self.prepared.events, 1):
            ready = item.ready
            if "at" in ready and interval(ready["at"].tree, self.facts)[0] >= end.at:
                yield Problem(f"event[{n}].at", f"comes after the drill's end at {units.show(end.at, 's')}.")
            if "when" in ready and not possible(ready["when"].tree, self.facts)[0]:
                yield Problem(f"event[{n}].when", "can never come about; " + self._why(ready["when"]))
            yield from self._values(f"event[{n}]", ready)
        for key, expression in self.prepared.initial.items():
            yield from self._values("initial", {f"values.{key}": expression})

    def _values(self, path: str, ready: Mapping[str, Expression]) -> Iterator[Problem]:
        """Values set by the drill itself that no instrument could show, and severities beyond the whole."""
        for key, expression in ready.items():
            low, high = interval(expression.tree, self.facts)
            tag = key.removeprefix("values.")
            if key == "severity" and (low < 0.0 or high > 1.0):
                yield Problem(f"{path}.{key}", f"{expression.source!r} is beyond 0 to 100 %; did you leave out the %?")
            signal = self.facts.signals.get(tag)
            if tag == key or signal is None or signal.unit == "state":
                continue
            least, most = (units.from_unit(bound, signal.unit) for bound in (signal.low, signal.high))
            if low > most or high < least:
                text = f"{expression.source!r} is beyond the range of {tag}, {signal.low:g} to {signal.high:g} "
                yield Problem(f"{path}.{key}", f"{text}{signal.unit}; check the unit.")

    def _milestones(self) -> Iterator[Problem]:
        for n, item in enumerate(self.prepared.milestones, 1):
            name = item.spec.id
            path = f"milestone[{n}]"
            if name in self.before[name]:
                yield Problem(f"{path}.when", f"can never be reached: {name!r} waits for itself.")
            elif (
                name not in (self.facts.reachable or ()) or not possible(item.ready["when"].tree, self._given(name))[0]
            ):
                yield Problem(f"{path}.when", "can never be reached; " + self._why(item.ready["when"]))
            if item.spec.hold >= self.drill.end.at:
                yield Problem(f"{path}.for", "lasts longer than the drill.")

    def _given(self, name: str) -> Facts:
        return replace(self.facts, happened=self.before[name])

    def _criterion(self, spec: Common, ready: Mapping[str, Expression]) -> Iterator[tuple[str, str]]:
        for key in ("when", "holds"):
            if key in ready:
                yield from self._condition(spec, key, ready[key])
        match spec:
            case Reach() | Order() | Limit():
                yield from self._order(spec, ready)
            case Economy():
                yield from self._order(spec, ready)
                if interval(ready["full"].tree, self.facts)[0] > interval(ready["zero"].tree, self.facts)[1]:
                    yield "zero", "is less than what earns full points; make it the larger of the two."
            case Say() if spec.statement in spec.instead_of:
                yield "instead_of", f"{spec.statement!r} is the right answer too; take it out of the wrong ones."
            case Reading():
                yield from self._tolerance(spec, ready)
            case Answer():
                yield from self._question(spec)
            case Diagnose():
                yield from self._fault(spec)

    def _order(
        self, spec: Reach | Order | Limit | Economy, ready: Mapping[str, Expression]
    ) -> Iterator[tuple[str, str]]:
        """Windows that end before they begin, and orders that the milestones themselves forbid."""
        if isinstance(spec, Order):
            for first, second in zip(spec.steps, spec.steps[1:], strict=False):
                if second in self.before[first]:
                    yield "steps", f"{second!r} always comes before {first!r}, so this order can never be kept."
            return
        earlier = self.before.get(spec.from_ or "", frozenset())
        if isinstance(spec, Reach):
            if _only_done(ready["when"]) and self._asks(ready["when"]) <= earlier:
                yield "from", f"{spec.from_!r} always comes after what is to be reached, so it is always too early."
        elif spec.until is not None and spec.until in earlier | {spec.from_}:
            yield "until", f"{spec.until!r} always comes before {spec.from_!r}: the window ends before it begins."

    def _condition(self, spec: Common, key: str, expression: Expression) -> Iterator[tuple[str, str]]:
        begins = getattr(spec, "from_", None) if isinstance(spec, Limit) else getattr(spec, "after", None)
        can, cannot = possible(expression.tree, self._after(begins))
        if not can:
            yield key, "can never hold, so the points can never be earned; " + self._why(expression)
        elif not cannot and isinstance(spec, Limit | Final | Reach):
            yield key, "always holds, so the points are earned for nothing; ask for more."

    def _tolerance(self, spec: Reading, ready: Mapping[str, Expression]) -> Iterator[tuple[str, str]]:
        if "tolerance" not in ready:
            return
        low, high = interval(ready["tolerance"].tree, self.facts)
        named = next((r for r in self.drill.reading if r.id == spec.reading), None)
        signal = self.facts.signals.get(named.tag) if named else None
        if high <= 0.0:
            yield "tolerance", "is not above zero, so no entry can be right."
        elif signal is not None:
            whole = units.from_unit(signal.high, signal.unit) - units.from_unit(signal.low, signal.unit)
            if low >= WIDEST * whole:
                text = f"{spec.tolerance} is half the range of {signal.tag} ({signal.low:g} to {signal.high:g} "
                yield "tolerance", f"{text}{signal.unit}): any entry is right; check the unit."

    def _question(self, spec: Answer) -> Iterator[tuple[str, str]]:
        put = f"{{{spec.question}}}"
        texts = [self.drill.initial.text, *(event.tell or "" for event in self.drill.event)]
        # A question may also be put by what the plant does: a fault that the seed picks, to be named.
        shown = {event.fault for event in self.drill.event} | {fault for fault, _ in self.prepared.initial_faults}
        if spec.question not in shown | {f"vary.{name}" for name in self.used} and not any(put in t for t in texts):
            yield "question", f"is never put: write {put} in the opening text or in the message of an event."

    def _fault(self, spec: Diagnose) -> Iterator[tuple[str, str]]:
        drill = self.drill
        brought = {event.fault for event in drill.event} | {setting.fault for setting in drill.initial.faults}
        if spec.fault not in brought:
            yield "fault", f"{spec.fault!r} is never brought, by [initial] or an event, so it can never be found."

    def _coach(self) -> Iterator[Problem]:
        for n, item in enumerate(self.prepared.coach, 1):
            for key, expression in item.ready.items():
                if not possible(expression.tree, self.facts)[0]:
                    yield Problem(f"coach[{n}].{key}", "can never come about; " + self._why(expression))
            need, done = item.ready.get("need"), item.ready["done"]
            if need is None or item.spec.names:
                continue
            when_needed = {each for name in self._asks(need) for each in self.before.get(name, frozenset()) | {name}}
            if not possible(done.tree, replace(self.facts, happened=frozenset(when_needed)))[1]:
                yield Problem(f"coach[{n}].done", "always holds before the step is needed, so it is never shown.")

    def _variations(self) -> Iterator[Problem]:
        words = self.drill.model_dump_json()
        for n, item in enumerate(self.prepared.vary, 1):
            spec = item.spec
            if spec.id not in self.used and f'"vary.{spec.id}"' not in words and f"{{vary.{spec.id}}}" not in words:
                yield Problem(f"vary[{n}]", f"nothing uses vary.{spec.id}; use it or take it out.")
            if spec.id in self.facts.vary:
                low, high = self.facts.vary[spec.id]
                if low >= high:
                    yield Problem(f"vary[{n}].high", "is not above low; turn them round.")
                elif "step" in item.ready and interval(item.ready["step"].tree, self.facts)[0] > high - low:
                    yield Problem(f"vary[{n}].step", "is wider than from low to high; make it smaller.")


def _only_done(expression: Expression) -> bool:
    return expression.dimension == NONE and all(
        isinstance(term, Call) and term.name == "done" for term in conjuncts(expression.tree)
    )


def _used(prepared: Prepared) -> set[str]:
    """Variations that some condition or quantity looks at."""
    arranged = (*prepared.initial.values(), *(e for _, e in prepared.initial_faults))
    expressions = (*prepared.expressions(), *arranged)
    trees = (node for expression in expressions for node in walk(expression.tree))
    return {node.value[5:] for node in trees if isinstance(node, Name) and node.value.startswith("vary.")}
