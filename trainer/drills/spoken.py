"""Criteria on what the trainee reports and uses: readings, statements, answers, faults named."""

from __future__ import annotations

from typing import Any

from trainer import units
from trainer.drills.checking import Item
from trainer.drills.criteria import (
    AssessJudge,
    EconomyJudge,
    FinalJudge,
    Judge,
    LimitJudge,
    OrderJudge,
    ReachJudge,
)
from trainer.drills.criteria_schema import Answer, Common, Confirm, Diagnose, Reading, Say
from trainer.drills.desk import Desk, Sight, Verdict, graded, window
from trainer.drills.language import Call, Name
from trainer.drills.sheet import clock, in_words

GUESSES = 3
"""So many wrong faults named are a guess: nothing is left to earn, and the drill cannot be passed. Invented."""
UNITS_OFF = 2.0
"""A dial is read to a unit or two."""


class ReadingJudge(Judge[Reading]):
    """Compares an entry with the true value at the moment it was entered; the last entry counts."""

    def __init__(self, item: Item[Common], desk: Desk) -> None:
        super().__init__(item, desk)
        named = next(r for r in desk.prepared.drill.reading if r.id == self.spec.reading)
        self.tag = named.tag
        self.unit = named.unit or desk.prepared.catalogue.signals[named.tag].unit
        self.true = desk.binder.quantity(self.ready["against"])
        self.tolerance = desk.binder.quantity(self.ready["tolerance"])
        self.entries = 0
        self.early: float | None = None
        self.last: list[float] | None = None  # time, given, true, tolerance

    def hear(self, t: float, do: str, target: str, value: float | None) -> None:
        if do != "read" or target not in (self.spec.reading, self.tag) or value is None:
            return
        if self.spec.after is not None and self.spec.after not in self.desk.scope.reached:
            self.early = t
            return
        self.entries += 1
        self.last = [t, value, self.true(), self.tolerance()]

    def heard(self, t: float, do: str, target: str) -> bool | str | None:
        if do != "read" or target not in (self.spec.reading, self.tag):
            return None
        if self.spec.after is not None and self.spec.after not in self.desk.scope.reached:
            return f"Entered too early: {self.desk.title(self.spec.after)} comes first."
        if self.last is None or self.last[0] != t:
            return None
        _, given, true, tolerance = self.last
        if true != true:
            return "Entered too early: it cannot be measured yet."
        return abs(given - true) <= tolerance or "The value does not agree with the instrument: read it again."

    def judge(self, end: float) -> Verdict:
        spec, desk = self.spec, self.desk
        if self.last is None:
            said = f"No reading was entered by {clock(end)}."
            if self.early is not None:
                said = f"Entered at {clock(self.early)}, before {desk.title(spec.after)}: too early."
            sight = desk.of(end, self.tag) if self.tag else desk.now(end, self.ready["against"])
            return Verdict(0.0, self.early, f"{said} Expected within {spec.tolerance} of the true value.", sight)
        t, given, true, tolerance = self.last
        if true != true:  # NaN: what it is to be compared with has not come about
            early = f"{units.show(given, self.unit)} entered at {clock(t)}, before it could be measured."
            return Verdict(0.0, t, early, desk.now(end, self.ready["against"]))
        said = f"{units.show(given, self.unit)} entered at {clock(t)}; it was {units.show(true, self.unit)}"
        sight = self._sight(t, end, true)
        if self.entries > spec.attempts:
            return Verdict(0.0, t, f"{said}. It took {self.entries} entries, {spec.attempts} are allowed.", sight)
        good = abs(given - true) <= tolerance
        return Verdict(float(good), t, f"{said}, tolerance {spec.tolerance}.", None if good else sight)

    def _sight(self, t: float, end: float, true: float) -> Sight:
        """The instrument at the entry, or when what it is compared with was kept; else all that this is made of."""
        against, shown = self.ready["against"], units.show(true, self.unit)
        match against.tree:
            case Name(tag):
                return Sight(t, {tag: shown})
            case Call("at", (_, Name(tag))):
                return Sight(self.desk.scope.reached.get(against.uses[0], t), {tag: shown})
            case _:
                return self.desk.now(end, against)

    def best(self, t: float) -> float:
        return 1.0 if self.entries < self.spec.attempts else self.judge(t).share or 0.0

    def memory(self) -> Any:
        return [self.entries, self.early, self.last]

    def recall(self, memory: Any) -> None:
        self.entries, self.early, self.last = memory


class SayJudge(Judge[Say]):
    """Waits for a statement, made in time and true."""

    def __init__(self, item: Item[Common], desk: Desk) -> None:
        super().__init__(item, desk)
        self.holds = desk.binder.condition(self.ready["holds"]) if "holds" in self.ready else None
        self.good: float | None = None
        self.false: float | None = None
        self.wrong: list[Any] | None = None  # time, statement
        self.early: float | None = None

    def hear(self, t: float, do: str, target: str, value: float | None) -> None:
        spec = self.spec
        if do != "say" or self.good is not None:
            return
        if target in spec.instead_of and self.wrong is None:
            self.wrong = [t, target]
        if target != spec.statement:
            return
        start = self.desk.since(spec.after)
        if start is None:
            self.early = t
        elif self.holds is not None and not self.holds():
            if self.false is None:
                self.false = t
                self.desk.note(self.key, self.ready["holds"])
        elif spec.within is None or t - start <= spec.within:
            self.good = t

    def heard(self, t: float, do: str, target: str) -> bool | str | None:
        spec, start = self.spec, self.desk.since(self.spec.after)
        if do != "say" or (self.good is not None and self.good != t):
            return None
        if target in spec.instead_of:
            return "That report is wrong: look at the instruments again."
        if target != spec.statement:
            return None
        if self.good == t:
            return True
        if start is None:
            return f"Reported too early: {self.desk.title(spec.after)} comes first."
        if self.holds is not None and not self.holds():
            return f"Reported when it was not so. Required: {self.desk.expected(spec, spec.holds or '')}."
        return "Reported too late for points."

    def judge(self, end: float) -> Verdict:
        spec, desk = self.spec, self.desk
        text = next(s.text for s in desk.prepared.drill.statement if s.id == spec.statement)
        limit = f" within {clock(spec.within)}" if spec.within is not None else ""
        expected = f"Expected: '{text}'{limit} after {desk.title(spec.after)}."
        due = desk.due(desk.since(spec.after), spec.within)
        if self.wrong is not None:
            other = next(s.text for s in desk.prepared.drill.statement if s.id == self.wrong[1])
            wrong = f"'{other}' was said at {clock(self.wrong[0])}. {expected}"
            return Verdict(0.0, self.wrong[0], wrong, self._sight(end), due)
        if self.false is not None:
            said = f"Said at {clock(self.false)} when it was not so ({in_words(spec.holds or '')})."
            sight = desk.then(self.key, self.false, self.ready["holds"])
            return Verdict(0.0, self.false, f"{said} {expected}", sight, due)
        if self.good is not None:
            return Verdict(1.0, self.good, f"Said at {clock(self.good)}.", None, due)
        if self.early is not None:
            early = f"Said at {clock(self.early)}, too early. {expected}"
            return Verdict(0.0, self.early, early, self._sight(end), due)
        return Verdict(0.0, None, f"Not said in time by {clock(end)}. {expected}", self._sight(end), due)

    def _sight(self, end: float) -> Sight:
        """What bears on the statement: what must be so for it, else what came, or has to come, before it."""
        desk, after = self.desk, self.spec.after
        if "holds" in self.ready:
            return desk.now(end, self.ready["holds"])
        t = desk.since(after)
        return desk.missing(end, after) if t is None or after is None else desk.then(after, t)

    def best(self, t: float) -> float:
        start = self.desk.since(self.spec.after)
        late = self.spec.within is not None and start is not None and t - start > self.spec.within
        lost = self.wrong is not None or self.false is not None or (self.good is None and late)
        return 0.0 if lost else 1.0

    def memory(self) -> Any:
        return [self.good, self.false, self.wrong, self.early]

    def recall(self, memory: Any) -> None:
        self.good, self.false, self.wrong, self.early = memory


class AnswerJudge(Judge[Answer]):
    """Waits for the first statement after a question that the seed picked."""

    def __init__(self, item: Item[Common], desk: Desk) -> None:
        super().__init__(item, desk)
        drill, picked = desk.prepared.drill, self.spec.question.removeprefix("vary.")
        self.right = self.spec.answers[int(desk.scope.vary[picked])]
        self.texts = {s.id: s.text for s in drill.statement}
        # A report that another criterion waits for is no answer to a question.
        self.reports = {c.statement for c in drill.criterion if isinstance(c, Say)}
        self.given: list[Any] | None = None  # time, statement

    def hear(self, t: float, do: str, target: str, value: float | None) -> None:
        if do != "say" or self.given is not None or target in self.reports:
            return
        if self.desk.since(self.spec.after) is not None:
            self.given = [t, target]
            self.desk.scope.answered[self.spec.id] = t

    def heard(self, t: float, do: str, target: str) -> bool | str | None:
        if do != "say" or self.given is None or self.given[0] != t:
            return None
        return target == self.right or "That answer is wrong."

    def judge(self, end: float) -> Verdict:
        spec, right = self.spec, self.texts[self.right]
        start = self.desk.since(spec.after)
        due = self.desk.due(start, spec.within)
        if self.given is None or start is None:
            sight = self.desk.missing(end, spec.after) if start is None else None
            return Verdict(0.0, None, f"Not answered by {clock(end)}. Right was: '{right}'", sight, due)
        t, target = self.given
        if target != self.right:
            wrong = f"Answered at {clock(t)}: '{self.texts[target]}' Right was: '{right}'"
            return Verdict(0.0, t, wrong, None, due)
        if spec.within is not None and t - start > spec.within:
            late = f"Right, but {clock(t - start)} after the question; expected within {clock(spec.within)}."
            return Verdict(0.0, t, late, None, due)
        return Verdict(1.0, t, f"Answered rightly at {clock(t)}: '{right}'", None, due)

    def best(self, t: float) -> float:
        return 1.0 if self.given is None else self.judge(t).share or 0.0

    def memory(self) -> Any:
        return self.given

    def recall(self, memory: Any) -> None:
        self.given = memory


class ConfirmJudge(Judge[Confirm]):
    """Counts the instruments that were demonstrably looked at."""

    def __init__(self, item: Item[Common], desk: Desk) -> None:
        super().__init__(item, desk)
        named = {r.id: r.tag for r in desk.prepared.drill.reading}
        self.tags = {named.get(name, name): name for name in self.spec.of}
        self.named = named
        self.times: dict[str, float] = {}
        self.off: dict[str, float] = {}

    def hear(self, t: float, do: str, target: str, value: float | None) -> None:
        spec = self.spec
        tag = self.named.get(target, target)
        if do != "read" or tag not in self.tags or tag in self.times or value is None:
            return
        start = self.desk.since(spec.after)
        if start is None or (spec.within is not None and t - start > spec.within):
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

    def heard(self, t: float, do: str, target: str) -> bool | str | None:
        tag = self.named.get(target, target)
        if do != "read" or tag not in self.tags:
            return None
        if self.desk.since(self.spec.after) is None:
            return f"Entered too early to count: {self.desk.title(self.spec.after)} comes first."
        if self.times.get(tag) == t:
            return True
        return "That is not what the instrument shows: read it again." if self.off.get(tag) == t else None

    def judge(self, end: float) -> Verdict:
        spec = self.spec
        wanted = spec.at_least or len(self.tags)
        share = min(1.0, len(self.times) / wanted)
        last = max(self.times.values(), default=None)
        looked = ", ".join(f"{in_words(tag)} at {clock(t)}" for tag, t in self.times.items()) or "nothing"
        said = f"Read and reported: {looked}."
        if self.off:
            said += " Not as the instrument showed: " + in_words(", ".join(self.off)) + "."
        if share < 1.0:
            missing = ", ".join(in_words(tag) for tag in self.tags if tag not in self.times)
            limit = f" within {clock(spec.within)}" if spec.within is not None else ""
            said += f" Expected {wanted} of {len(self.tags)}{limit} after {self.desk.title(spec.after)};"
            said += f" not read: {missing}."
            due = self.desk.due(self.desk.since(spec.after), spec.within)
            return Verdict(
                share, last, said, self.desk.of(end, *(tag for tag in self.tags if tag not in self.times)), due
            )
        return Verdict(share, last, said)

    def memory(self) -> Any:
        return [dict(self.times), dict(self.off)]

    def recall(self, memory: Any) -> None:
        self.times, self.off = dict(memory[0]), dict(memory[1])


def picked_fault(name: str, desk: Desk) -> str:
    """A fault id, or the one the seed picked for vary.<id>."""
    if not name.startswith("vary."):
        return name
    choices = next(v.one_of or [] for v in desk.prepared.drill.vary if v.id == name[5:])
    return choices[int(desk.scope.vary[name[5:]])]


class DiagnoseJudge(Judge[Diagnose]):
    """Waits for the fault to be named; ``fault`` is the one the seed picked. Wrong ones count whenever they come."""

    def __init__(self, item: Item[Common], desk: Desk) -> None:
        super().__init__(item, desk)
        self.fault = picked_fault(self.spec.fault, desk)
        # What is right elsewhere in the drill is no wrong guess here.
        asked = [c for c in desk.prepared.drill.criterion if isinstance(c, Diagnose)]
        self.others = {picked_fault(c.fault, desk) for c in asked if c.id != self.spec.id}
        self.good: float | None = None
        self.wrong: list[str] = []

    def hear(self, t: float, do: str, target: str, value: float | None) -> None:
        if do != "name":
            return
        if target == self.fault:
            self.good = t if self.good is None else self.good
        elif target not in self.wrong and target not in self.others:
            self.wrong.append(target)

    def heard(self, t: float, do: str, target: str) -> bool | str | None:
        if do != "name" or target in self.others:
            return None
        if target == self.fault:
            return True
        left = GUESSES - len(self.wrong)
        return "That is not the fault. " + (
            f"After {left} more wrong one{'s' if left > 1 else ''} the drill cannot be passed."
            if left > 0
            else "The drill can no longer be passed."
        )

    def judge(self, end: float) -> Verdict:
        spec, desk = self.spec, self.desk
        fault = desk.prepared.catalogue.faults[self.fault]
        wrong = ", ".join(desk.prepared.catalogue.faults[name].title for name in self.wrong)
        said = f" Wrong faults reported: {wrong}." if wrong else ""
        start = desk.since(spec.from_)
        due = desk.due(start, spec.full if spec.zero is None else spec.zero)
        sight = desk.of(end, *fault.shows)
        if self.good is None or start is None:
            return Verdict(0.0, self.good, f"Not named by {clock(end)}.{said} It was: {fault.title}.", sight, due)
        if self.guessed:
            many = f"{len(self.wrong)} wrong faults were reported; after {GUESSES} the drill cannot be passed."
            return Verdict(0.0, self.good, f"{many}{said} It was: {fault.title}.", sight, due)
        took = self.good - start
        share = graded(took, spec.full, spec.zero) - spec.each_wrong * len(self.wrong)
        expected = f" Expected {window(spec.full, spec.zero)} from {desk.title(spec.from_)}."
        if took < 0.0:
            early = f"Named at {clock(self.good)}, before there was anything to see."
            return Verdict(0.0, self.good, early, sight, due)
        text = f"Named at {clock(self.good)}: {fault.title}.{said}"
        if share < 1.0:
            return Verdict(max(0.0, share), self.good, text + expected, sight, due)
        return Verdict(share, self.good, text, None, due)

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
        share = 1.0 if start is None else graded(t - start, self.spec.full, self.spec.zero)
        return max(0.0, share - self.spec.each_wrong * len(self.wrong))

    def memory(self) -> Any:
        return [self.good, list(self.wrong)]

    def recall(self, memory: Any) -> None:
        self.good, self.wrong = memory[0], list(memory[1])


_JUDGES: dict[str, type[Judge[Any]]] = {
    "reach": ReachJudge,
    "order": OrderJudge,
    "limit": LimitJudge,
    "final": FinalJudge,
    "assess": AssessJudge,
    "reading": ReadingJudge,
    "say": SayJudge,
    "answer": AnswerJudge,
    "confirm": ConfirmJudge,
    "economy": EconomyJudge,
    "diagnose": DiagnoseJudge,
}


def judge_of(item: Item[Common], desk: Desk) -> Judge[Any]:
    """The judge for a criterion of the drill file."""
    return _JUDGES[getattr(item.spec, "kind", "")](item, desk)
