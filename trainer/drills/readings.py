"""Criteria on instruments that were read: entries compared with the gauge, gauges that stood, gauges looked at."""

from __future__ import annotations

from typing import Any, TypeVar

from trainer import units
from trainer.constants import HAIR
from trainer.drills.checking import Item
from trainer.drills.criteria import Judge
from trainer.drills.criteria_schema import Common, Confirm, Reading, Stood
from trainer.drills.language import Call, Name
from trainer.drills.scoring import CriterionResult, InstrumentSnapshot, ScoringContext
from trainer.drills.sheet import clock
from trainer.wording import amount, joined, worded, written

UNITS_OFF = 2.0
"""A dial is read to a unit or two."""
TIME_TO_READ = 20.0
"""From the look at a gauge to its entry, which may stand on another view; the gauge may move meanwhile, s. Common
practice."""
LONGEST_LOOK = 30.0
"""How long what an instrument showed is kept, s."""
EVERY = 1.0
"""Between two values that are kept, s."""

S = TypeVar("S", Reading, Stood)


class History:
    """What an instrument showed in the last half minute, once a second."""

    def __init__(self) -> None:
        self.times: list[float] = []
        self.values: list[float] = []
        self.due = 0.0
        """When the next value is to be taken, s from the start; at once when there is none."""

    def keep(self, t: float, value: float) -> None:
        """Take the value (SI) shown at ``t`` s; asked for a second after the last one, see ``due``."""
        self.times.append(t)
        self.values.append(value)
        self.due = t + EVERY
        while self.times[0] < t - LONGEST_LOOK:
            del self.times[0], self.values[0]

    def recall(self, times: list[float], values: list[float]) -> None:
        """Take back values (SI) with the times, s, at which they were taken."""
        self.times, self.values = times, values
        self.due = times[-1] + EVERY if times else 0.0

    def change(self, t: float, now: float, over: float) -> float:
        """Largest less smallest value of the last ``over`` s, with the one ``now``."""
        seen = self.since(t - over - HAIR)
        return max([now, *seen]) - min([now, *seen])

    def since(self, t: float) -> list[float]:
        """The values (SI) that were taken at ``t`` s from the start or later, in order."""
        return [value for at, value in zip(self.times, self.values, strict=True) if at >= t]


class _Entered(Judge[S]):
    """Hears the entries of one reading and keeps what its instrument showed before."""

    watches = True

    def __init__(self, item: Item[Common], desk: ScoringContext) -> None:
        super().__init__(item, desk)
        named = next(r for r in desk.prepared.drill.reading if r.id == self.spec.reading)
        self.tag = named.tag
        self.unit = named.unit or desk.prepared.catalogue.signals[named.tag].unit
        self.history = History()

    def watch(self, t: float, dt: float) -> None:
        if t >= self.history.due - HAIR and self.tag:
            self.history.keep(t, self.desk.scope.read(self.tag))

    def counts(self, do: str, target: str, value: float | None) -> bool:
        """Whether a command enters this reading."""
        return do == "read" and target in (self.spec.reading, self.tag) and value is not None

    def memory(self) -> object:
        return [list(self.history.times), list(self.history.values)]

    def progress(self) -> None:
        """Nothing: what the instrument showed is kept for the next entry and moves nothing by itself."""

    def recall(self, memory: Any) -> None:
        self.history.recall(list(memory[0]), list(memory[1]))


class ReadingJudge(_Entered[Reading]):
    """Compares an entry with the gauge at the moment it was entered; the last entry counts.

    A gauge that moves cannot be read more closely than it moved while it was read: what it changed by in the last
    twenty seconds is allowed, up to twice the tolerance.
    """

    def __init__(self, item: Item[Common], desk: ScoringContext) -> None:
        super().__init__(item, desk)
        self.true = desk.binder.quantity(self.ready["against"])
        self.tolerance = desk.binder.quantity(self.ready["tolerance"])
        self.holds = desk.binder.condition(self.ready["holds"]) if "holds" in self.ready else None
        self.entries = 0
        self.early: float | None = None
        self.last: list[float] | None = None  # time, given, true, tolerance, 1 where what must be so was so

    def hear(self, t: float, do: str, target: str, value: float | None) -> None:
        if not self.counts(do, target, value):
            return
        if self.spec.after is not None and self.spec.after not in self.desk.scope.reached:
            self.early = t
            return
        self.entries += 1
        allowed = self.tolerance()
        if self.tag:
            moved = self.history.change(t, self.desk.scope.read(self.tag), TIME_TO_READ)
            allowed = max(allowed, min(moved, 2.0 * allowed))
        so = 1.0 if self.holds is None or self.holds() else 0.0
        self.last = [t, value or 0.0, self.true(), allowed, so]

    def heard(self, t: float, do: str, target: str) -> bool | str | None:
        if do != "read" or target not in (self.spec.reading, self.tag):
            return None
        if self.spec.after is not None and self.spec.after not in self.desk.scope.reached:
            return worded("Entered too early: {0} comes first.", self.desk.title(self.spec.after))
        if self.last is None or self.last[0] != t:
            return None
        _, given, true, tolerance, so = self.last
        if not so:
            return worded("The instrument does not show it now. Required: {0}.", self._required())
        if true != true:
            return "Entered too early: it cannot be measured yet."
        return (
            units.apart(given, true, self.unit) <= tolerance
            or "The value does not agree with the instrument: read it again."
        )

    def judge(self, end: float) -> CriterionResult:
        spec, desk = self.spec, self.desk
        if self.last is None:
            said = f"Not entered by {clock(end)}."
            if self.early is not None:
                said = worded("Entered at {0}, before {1}: too early.", clock(self.early), desk.title(spec.after))
            sight = desk.of(end, self.tag) if self.tag else desk.now(end, self.ready["against"])
            return CriterionResult(0.0, self.early, worded("{0} Limit: ±{1}.", said, written(spec.tolerance)), sight)
        t, given, true, tolerance, so = self.last
        entered = worded("Entered {0} at {1}", amount(given, self.unit), clock(t))
        if true != true:  # NaN: what it is to be compared with has not come about
            return CriterionResult(
                0.0, t, worded("{0}, before it could be measured.", entered), desk.now(end, self.ready["against"])
            )
        named = "Gauge" if self.ready["against"].source == self.tag else "Correct value"
        said = worded("{0}. {1}: {2}", entered, named, amount(true, self.unit))
        sight = self._sight(t, end, true)
        if self.entries > spec.attempts:
            return CriterionResult(
                0.0,
                t,
                worded("{0}. {1} entries; at most {2} count.", said, str(self.entries), str(spec.attempts)),
                sight,
            )
        if not so:
            return CriterionResult(0.0, t, worded("{0}, when this was not met: {1}.", entered, self._required()), sight)
        good = units.apart(given, true, self.unit) <= tolerance
        limit = amount(tolerance + units.from_unit(0.0, self.unit), self.unit)
        why = ", as far as it moved while it was read" if tolerance > self.tolerance() + HAIR else ""
        return CriterionResult(float(good), t, worded("{0}, limit ±{1}{2}.", said, limit, why), None if good else sight)

    def _required(self) -> str:
        return self.desk.expected(self.spec, self.ready["holds"].tree)

    def _sight(self, t: float, end: float, true: float) -> InstrumentSnapshot:
        """The instrument at the entry, or when what it is compared with was kept; else all that this is made of."""
        against, shown = self.ready["against"], amount(true, self.unit)
        match against.tree:
            case Name(tag):
                return InstrumentSnapshot(t, {tag: shown})
            case Call("at", (_, Name(tag))):
                return InstrumentSnapshot(self.desk.scope.reached.get(against.uses[0], t), {tag: shown})
            case _:
                return self.desk.now(end, against)

    def best(self, t: float) -> float:
        return 1.0 if self.entries < self.spec.attempts else self.judge(t).share or 0.0

    def memory(self) -> object:
        return [self.entries, self.early, self.last, super().memory()]

    def recall(self, memory: Any) -> None:
        self.entries, self.early, self.last, history = memory
        super().recall(history)


class StoodJudge(_Entered[Stood]):
    """Whether the instrument stood still when it was read: how far it moved in the time before the last entry."""

    def __init__(self, item: Item[Common], desk: ScoringContext) -> None:
        super().__init__(item, desk)
        self.most = desk.binder.quantity(self.ready["change"])
        self.last: list[float] | None = None  # time, change, allowed

    def hear(self, t: float, do: str, target: str, value: float | None) -> None:
        if self.counts(do, target, value) and self.desk.since(self.spec.after) is not None:
            change = self.history.change(t, self.desk.scope.read(self.tag), self.spec.over)
            self.last = [t, change, self.most()]

    def judge(self, end: float) -> CriterionResult:
        spec = self.spec
        required = worded("Required: less than {0} in {1}.", written(spec.change), clock(spec.over))
        if self.last is None:
            return CriterionResult(
                0.0, None, worded("Not entered by {0}. {1}", clock(end), required), self.desk.of(end, self.tag)
            )
        t, change, most = self.last
        moved = amount(change + units.from_unit(0.0, self.unit), self.unit)
        if change < most:
            return CriterionResult(
                1.0,
                t,
                worded("Read at {0} when it was stable: it had moved {1} in {2}.", clock(t), moved, clock(spec.over)),
            )
        said = worded("Read at {0} while it moved {1} in {2}. {3}", clock(t), moved, clock(spec.over), required)
        return CriterionResult(0.0, t, said, self.desk.of(end, self.tag))

    def memory(self) -> object:
        return [self.last, super().memory()]

    def recall(self, memory: Any) -> None:
        self.last, history = memory
        super().recall(history)


class ConfirmJudge(Judge[Confirm]):
    """Counts the instruments that were demonstrably looked at: whose readings were entered about right."""

    def __init__(self, item: Item[Common], desk: ScoringContext) -> None:
        super().__init__(item, desk)
        named = {r.id: r.tag for r in desk.prepared.drill.reading}
        self.tags = {named.get(name, name): name for name in self.spec.of}
        self.named = named
        self.titles = {tag: desk.titles.of("noted", name) for tag, name in self.tags.items()}
        bound = {name: desk.binder.condition(self.ready[f"where.{name}"]) for name in self.spec.where}
        self.tells = {tag: bound[name] for tag, name in self.tags.items() if name in bound}
        """Whether a reading tells something now, for those that do not always."""
        self.aside: dict[str, float] = {}
        self.times: dict[str, float] = {}
        self.off: dict[str, float] = {}

    def _meant(self, do: str, target: str) -> str | None:
        """The instrument whose reading is entered; None where that is no concern here.

        Another reading of the same instrument, for another moment, is none.
        """
        tag = self.named.get(target, target)
        own = target in self.spec.of or tag in self.spec.of or target not in self.named
        return tag if do == "read" and own and tag in self.tags else None

    def hear(self, t: float, do: str, target: str, value: float | None) -> None:
        spec = self.spec
        tag = self._meant(do, target)
        if tag is None or tag in self.times or value is None:
            return
        if self.desk.since(spec.after) is None or self._over(t):
            return
        if tag in self.tells and not self.tells[tag]():
            self.aside[tag] = t
            return
        signal = self.desk.prepared.catalogue.signals[tag]
        true = self.desk.scope.read(tag)
        room = 0.5
        if signal.unit != "state":
            two = units.from_unit(UNITS_OFF, signal.unit) - units.from_unit(0.0, signal.unit)
            room = spec.tolerance * abs(true) + two
        if abs(value - true) <= room:
            self.times[tag] = t
        else:
            self.off[tag] = t

    def _over(self, t: float) -> bool:
        """Whether it is too late for entries."""
        spec, start = self.spec, self.desk.since(self.spec.after)
        late = spec.within is not None and start is not None and t - start > spec.within
        return late or (spec.until is not None and spec.until in self.desk.scope.reached)

    def best(self, t: float) -> float:
        if not self._over(t):
            return 1.0
        return min(1.0, len(self.times) / (self.spec.at_least or len(self.tags)))

    def heard(self, t: float, do: str, target: str) -> bool | str | None:
        tag = self._meant(do, target)
        if tag is None:
            return None
        if self.desk.since(self.spec.after) is None:
            return worded("Entered too early to count: {0} comes first.", self.desk.title(self.spec.after))
        if self.times.get(tag) == t:
            return True
        if self._over(t) and tag not in self.times:
            return "Entered too late for points."
        if self.aside.get(tag) == t:
            return worded("{0} says nothing of what you closed: read the one that feeds it.", self.titles[tag])
        return "That is not what the instrument shows: read it again." if self.off.get(tag) == t else None

    def judge(self, end: float) -> CriterionResult:
        spec = self.spec
        wanted = spec.at_least or len(self.tags)
        share = min(1.0, len(self.times) / wanted)
        last = max(self.times.values(), default=None)
        looked = (
            joined(", ", (worded("{0} at {1}", self.titles[tag], clock(t)) for tag, t in self.times.items())) or "none"
        )
        said = worded("Read and entered: {0}.", looked)
        if self.off:
            said += " Wrong value: " + joined(", ", (self.titles[tag] for tag in self.off)) + "."
        if share < 1.0:
            missing = joined(", ", (self.titles[tag] for tag in self.tags if tag not in self.times))
            limit = f" within {clock(spec.within)}" if spec.within is not None else ""
            said += worded(
                " Required: {0} of {1}{2} after {3}.",
                str(wanted),
                str(len(self.tags)),
                limit,
                self.desk.title(spec.after),
            )
            if spec.until is not None:
                said += worded(" Last time for it: {0}.", self.desk.title(spec.until))
            said += worded(" Not entered: {0}.", missing)
            due = self.desk.due(self.desk.since(spec.after), spec.within)
            return CriterionResult(
                share, last, said, self.desk.of(end, *(tag for tag in self.tags if tag not in self.times)), due
            )
        return CriterionResult(share, last, said)

    def memory(self) -> object:
        return [dict(self.times), dict(self.off)]

    def recall(self, memory: Any) -> None:
        self.times, self.off = dict(memory[0]), dict(memory[1])
