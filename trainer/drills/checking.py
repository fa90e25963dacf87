"""The tables of a drill file checked against a plant, all faults gathered, each with its key path."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Generic, TypeVar

from trainer import units
from trainer.constants import HAIR
from trainer.drills import crew_rules, dimensions
from trainer.drills.criteria_schema import (
    Answer,
    Assess,
    Common,
    Confirm,
    Critical,
    Diagnose,
    Economy,
    Limit,
    MakeCall,
    Reach,
    Reading,
    RepeatBack,
    Say,
    Stood,
    TellFigure,
)
from trainer.drills.dimensions import Dimension
from trainer.drills.expressions import Catalogue, Expression, Known, condition, nearest, quantity, walk
from trainer.drills.language import Call, ExpressionError, Name
from trainer.drills.ranges import Facts, Interval, interval, never
from trainer.drills.schema import MOST_TOLD, Action, Caution, CoachStep, CrewPart, Drill, Event, Problem, Vary
from trainer.hydraulics.catalogue import Operable

T = TypeVar("T")

MOST_CLERICAL = 3.0
"""Points that all clerical entries of a drill have together, at most."""


@dataclass(frozen=True, slots=True)
class Item(Generic[T]):
    """One table of the drill file with its conditions and quantities ready to bind, by key."""

    spec: T
    ready: Mapping[str, Expression]


class TooManyFaultsError(Exception):
    """Enough is wrong to be mended first; each fault looks for the nearest right names, which takes its time."""


@dataclass(slots=True)
class Table:
    """Gathers the expressions of one table of the file and what is wrong with it."""

    work: Work
    path: str
    ready: dict[str, Expression] = field(default_factory=dict)

    def problem(self, key: str, text: str) -> None:
        path = f"{self.path}.{key}" if key and self.path else self.path or key
        self.work.problems.append(Problem(path, text))
        if len(self.work.problems) >= MOST_TOLD:
            raise TooManyFaultsError

    def _try(self, key: str, make: Callable[[], Expression]) -> Expression | None:
        try:
            self.ready[key] = made = make()
        except ExpressionError as error:
            self.problem(key, str(error))
            return None
        return made

    def condition(self, key: str, source: str | None) -> None:
        if source is None:
            return
        made = self._try(key, lambda: condition(source, self.work.known))
        if made is not None and never(made.tree, self.work.known.catalogue.signals):
            self.problem(
                key,
                f"{source!r} can never be true within the ranges of its readings; check the units, "
                "and whether its terms contradict each other.",
            )

    def quantity(self, key: str, source: str | None, dimension: Dimension | None = None) -> Expression | None:
        if source is None:
            return None
        return self._try(key, lambda: quantity(source, self.work.known, dimension))

    def fixed(self, key: str, source: str | None, dimension: Dimension | None = None) -> Expression | None:
        """A quantity that is known before the plant runs; a step must be above zero."""
        made = self.quantity(key, source, dimension)
        if made is None:
            return None
        if any(isinstance(node, Name | Call) for node in walk(made.tree)):
            self.problem(key, f"{source!r} changes while the drill runs; write a number with its unit.")
            return None
        value = interval(made.tree, Facts({}))[0]
        if not math.isfinite(value) or (key == "step" and value <= 0.0):
            self.problem(key, f"{source!r} is {'not above zero' if math.isfinite(value) else 'no number'}.")
            return None
        return made

    def depths(self, start: str | None, depth: str | None, bit: str | None) -> None:
        """Depths of hole and bit with which the drill begins: within what the plant's well stands for."""
        length = dimensions.of_unit("ft")
        shallow, deep = getattr(self.work.known.catalogue, "depths", (0.0, 0.0))
        for key, source, least in (("depth", depth, shallow), ("bit", bit, 0.0)):
            made = self.quantity(key, source, length)
            if made is None:
                continue
            low, high = interval(made.tree, Facts({}, vary=self.work.drawn))
            if not least - 0.01 <= low <= high <= deep + 0.01:
                feet = f"{units.to_unit(least, 'ft'):,.0f} ft and {units.to_unit(deep, 'ft'):,.0f} ft"
                self.problem(key, f"{source!r} is not always between {feet}, where this plant's well can begin.")
        if bit is not None and start in (None, "drilling"):
            self.problem("bit", "drilling begins with the bit on bottom; give depth alone, or another start.")

    def one_of(self, key: str, name: str | None, known: Iterable[str], what: str) -> None:
        names = list(known)
        if name is not None and name not in names:
            self.problem(key, f"there is no {what} {name!r}; {nearest(name, names)}")

    def value(self, variable: str, source: str) -> None:
        """A start value: a state's name, or a quantity of the variable's own dimension."""
        key = f"values.{variable}"
        catalogue = self.work.known.catalogue
        signal = catalogue.signals.get(variable)
        inner: Mapping[str, int] | None = getattr(catalogue, "index", None)
        if signal is None and (inner is None or variable not in inner):
            self.problem(key, f"the plant has no such variable; {nearest(variable, catalogue.signals)}")
        elif signal is not None and signal.unit == "state":
            if source in signal.states:
                source = str(signal.states.index(source))
                self.quantity(key, source, dimensions.NONE)
            else:
                self.problem(key, f"given {source!r}; expected one of {', '.join(signal.states)}.")
        else:
            self.quantity(key, source, None if signal is None else dimensions.of_unit(signal.unit))

    def actions(self, actions: Sequence[Action], room: str = "commands") -> None:
        operables = self.work.known.catalogue.operables
        for n, action in enumerate(actions, 1):
            operable = operables.get((action.do, action.target))
            key = f"{room}[{n}]"
            if operable is None:
                targets = [target for do, target in operables if do == action.do]
                self.problem(key, f"the plant cannot {action.do} {action.target!r}; {nearest(action.target, targets)}")
            elif wrong := _not_taken(action, operable):
                self.problem(f"{key}.value", wrong)

    def alike(self, name: str, kinds: Sequence[str]) -> None:
        """Find fault with ``alike`` kinds that the part of the named fault, or of each the seed may pick, does not
        have."""
        for each in self.work.choices.get(name.removeprefix("vary."), [name]):
            for kind in kinds:
                self.fault("alike", f"{each.split('.')[0]}.{kind}")

    def fault(self, key: str, name: str | None) -> None:
        if name is None:
            return
        known = self.work.known.catalogue.faults
        names = [name]
        if name.startswith("vary."):
            names = self.work.choices.get(name[5:], [])
            if not names:
                self.problem(
                    key,
                    f"no [[vary]] with id {name[5:]!r} and one_of; {nearest(name[5:], self.work.choices)}",
                )
        for each in names:
            self.one_of(key, each, known, "fault")


class Work:
    def __init__(self, drill: Drill, catalogue: Catalogue) -> None:
        self.drill = drill
        self.problems: list[Problem] = []
        self.drawn: dict[str, Interval] = {}
        self.choices = {v.id: v.one_of for v in drill.vary if v.one_of}
        self.known = Known(
            catalogue,
            frozenset(m.id for m in drill.milestone),
            frozenset(s.id for s in drill.statement),
            frozenset(r.id for r in drill.reading),
            answers=frozenset(c.id for c in drill.criterion if isinstance(c, Answer)),
            calls=frozenset(c.id for c in drill.call),
            posts=frozenset(p.id for p in drill.post),
        )

    def table(self, path: str) -> Table:
        return Table(self, path)

    def vary(self) -> list[Item[Vary]]:
        items = []
        found: dict[str, Dimension] = {}
        choices: dict[str, tuple[str, ...]] = {}
        for n, spec in enumerate(self.drill.vary, 1):
            table = self.table(f"vary[{n}]")
            low, high = table.fixed("low", spec.low), table.fixed("high", spec.high)
            if (low is None or high is None) == (spec.one_of is None):
                table.problem("", "give both low and high, or one_of.")
            elif spec.one_of is not None:
                choices[spec.id] = tuple(spec.one_of)
            elif low is not None and high is not None:
                if low.dimension != high.dimension:
                    table.problem("high", f"{spec.low} and {spec.high} are not of the same dimension.")
                found[spec.id] = low.dimension
                table.fixed("step", spec.step, low.dimension)
            items.append(Item(spec, table.ready))
            if low is not None and high is not None:
                self.drawn[spec.id] = interval(low.tree, Facts({}))[0], interval(high.tree, Facts({}))[1]
        self.known = replace(self.known, vary=found, choices=choices)
        return items

    def taught(self) -> None:
        """Find fault with criteria that teach a learning point which the drill does not have; they count from 1."""
        count = len(self.drill.learning)
        for n, spec in enumerate(self.drill.criterion, 1):
            for at in spec.teaches:
                if at > count:
                    told = f"there is no learning point {at}; the drill has {count}, counted from 1."
                    self.table(f"criterion[{n}]").problem("teaches", told)

    def unique(self) -> None:
        drill = self.drill
        rooms: dict[str, list[str]] = {
            "vary": [v.id for v in drill.vary],
            "milestone": [m.id for m in drill.milestone],
            "statement": [s.id for s in drill.statement],
            "reading": [r.id for r in drill.reading],
            "criterion": [c.id for c in drill.criterion],
            "critical": [c.id for c in drill.critical],
            "coach": [c.id for c in drill.coach],
            "post": [p.id for p in drill.post],
            "call": [c.id for c in drill.call],
        }
        for room, ids in rooms.items():
            for n, name in enumerate(ids):
                if name in ids[:n]:
                    self.table(f"{room}[{n + 1}]").problem("id", f"{name!r} is used twice; give each its own.")
        if not any(c.required and not isinstance(c, Assess) for c in drill.criterion):
            self.table("criterion").problem("", "No must-pass criterion. Add required = true to at least one.")
        self.clerical()
        for n, spec in enumerate(drill.reading, 1):
            table = self.table(f"reading[{n}]")
            if spec.tag:
                table.one_of("tag", spec.tag, self.known.catalogue.signals, "reading of the plant")
            if bool(spec.tag) == bool(spec.unit):
                table.problem("", "give the tag it is read from, or the unit of what no instrument shows.")
            elif spec.unit is not None and spec.unit not in units.UNITS:
                table.problem("unit", f"{spec.unit!r} is not known; {nearest(spec.unit, units.UNITS)}")

    def clerical(self) -> None:
        """Entries for the log and the kill sheet: at most 3 points together, and no pass depends on one."""
        entries = [(n, c) for n, c in enumerate(self.drill.criterion, 1) if c.clerical]
        for n, spec in entries:
            if spec.required:
                self.table(f"criterion[{n}]").problem("required", "A clerical entry is never required. Remove it.")
        points = 0.0
        for _, spec in entries:
            points += spec.points
        if points > MOST_CLERICAL + HAIR:
            text = f"Clerical entries have {points:g} points together. Give them at most {MOST_CLERICAL:g}."
            self.table("criterion").problem("", text)

    def event(self, n: int, spec: Event) -> Item[Event]:
        table = self.table(f"event[{n}]")
        if (spec.at is None) == (spec.when is None):
            table.problem("", "give either at or when, not both.")
        if not (spec.fault or spec.clear or spec.values or spec.commands or spec.tell):
            table.problem("", "nothing happens; add fault, clear, values, commands or tell.")
        table.quantity("at", spec.at, dimensions.TIME)
        table.condition("when", spec.when)
        table.quantity("severity", spec.severity, dimensions.NONE)
        table.fault("fault", spec.fault)
        table.fault("clear", spec.clear)
        for variable, source in spec.values.items():
            table.value(variable, source)
        table.actions(spec.commands)
        return Item(spec, table.ready)

    def criterion(self, n: int, spec: Common) -> Item[Common]:
        written = len(self.drill.criterion) - len(self.drill.graded)
        table = self.table(f"criterion[{n}]" if n <= written else f"graded.{spec.id}")
        ids = self.known.milestones
        table.one_of("post", spec.post, self.known.posts, "post")
        for name in (*spec.needs, *getattr(spec, "steps", ())):
            table.one_of("steps" if name not in spec.needs else "needs", name, ids, "milestone")
        for key in ("from_", "until", "after"):
            table.one_of(key.rstrip("_"), getattr(spec, key, None), ids, "milestone")
        for key in ("when", "holds"):
            table.condition(key, getattr(spec, key, None))
        match spec:
            case Reach() | Diagnose():
                _times(table, spec.full, spec.zero)
                table.fault("fault", getattr(spec, "fault", None))
                table.alike(getattr(spec, "fault", ""), getattr(spec, "alike", []))
            case Limit():
                _times(table, spec.grace, spec.zero)
            case Say():
                for name in (spec.statement, *spec.instead_of):
                    table.one_of("statement", name, self.known.statements, "statement")
            case MakeCall() | RepeatBack():
                self.calls(table, spec)
            case TellFigure():
                self.figure(table, spec)
            case _:
                self.instruments(table, spec)
        return Item(spec, table.ready)

    def calls(self, table: Table, spec: MakeCall | RepeatBack) -> None:
        """Find fault with a criterion of calls, or members, that the drill does not have."""
        named = (spec.call, *spec.instead_of) if isinstance(spec, MakeCall) else spec.calls
        for name in named:
            table.one_of("call", name, self.known.calls, "[[call]]")
        if isinstance(spec, MakeCall):
            table.one_of("to", spec.to, self.known.posts, "post")
            if spec.call in spec.instead_of:
                table.problem("instead_of", f"{spec.call!r} is the right call too; take it out of the wrong ones.")
            if self._figures().get(spec.call):
                table.problem("kind", f"the call {spec.call!r} carries a figure; use kind = 'figure'.")

    def _figures(self) -> dict[str, str | None]:
        """The reading that each call of the drill carries, by the call's id; None for words alone."""
        return {call.id: call.figure for call in self.drill.call}

    def figure(self, table: Table, spec: TellFigure) -> None:
        """Find fault with a criterion on a figure that is told: the call, the members, what it is compared with."""
        table.one_of("call", spec.call, self.known.calls, "[[call]]")
        table.one_of("to", spec.to, self.known.posts, "post")
        named = {one.id: one for one in self.drill.reading}
        given = named.get(self._figures().get(spec.call) or "")
        if given is None:
            table.problem("call", f"{spec.call!r} carries no figure; give the [[call]] figure = a [[reading]].")
            return
        signal = self.known.catalogue.signals.get(given.tag)
        unit = given.unit or "" if signal is None else signal.unit
        if unit not in units.UNITS or (signal is None and spec.against is None):
            table.problem("against", "missing; no instrument shows the figure, so say what it is compared with.")
            return
        dimension = dimensions.of_unit(unit)
        table.quantity("tolerance", spec.tolerance, dimension)
        table.quantity("against", spec.against or given.tag, dimension)

    def instruments(self, table: Table, spec: Common) -> None:
        """Find fault with what a criterion says of readings, questions and quantities, each kind by its own rules."""
        match spec:
            case Reading():
                self.reading(table, spec)
            case Stood():
                self.stood(table, spec)
            case Answer():
                self.answer(table, spec)
            case Confirm():
                self.confirm(table, spec)
            case Economy():
                self.economy(table, spec)

    def reading(self, table: Table, spec: Reading) -> None:
        named = {r.id: r for r in self.drill.reading}
        table.one_of("reading", spec.reading, named, "[[reading]]")
        if spec.reading not in named:
            return
        given = named[spec.reading]
        signal = self.known.catalogue.signals.get(given.tag)
        if signal is None:
            if given.unit in units.UNITS and spec.against is None:
                table.problem("against", "missing; no instrument shows it, so say what it is compared with.")
            elif given.unit in units.UNITS:
                dimension = dimensions.of_unit(given.unit)
                table.quantity("tolerance", spec.tolerance, dimension)
                table.quantity("against", spec.against, dimension)
            return
        if signal.unit == "state":
            table.problem("reading", f"{signal.tag} is a state; ask for it with kind 'confirm' or 'say'.")
            return
        dimension = dimensions.of_unit(signal.unit)
        table.quantity("tolerance", spec.tolerance, dimension)
        table.quantity("against", spec.against or signal.tag, dimension)

    def stood(self, table: Table, spec: Stood) -> None:
        shown = {r.id: self.known.catalogue.signals.get(r.tag) for r in self.drill.reading if r.tag}
        table.one_of("reading", spec.reading, shown, "[[reading]] of an instrument")
        signal = shown.get(spec.reading)
        if signal is not None:
            table.quantity("change", spec.change, dimensions.of_unit(signal.unit))

    def answer(self, table: Table, spec: Answer) -> None:
        choices = self.known.choices.get(spec.question.removeprefix("vary."))
        if choices is None or not spec.question.startswith("vary."):
            asked = [f"vary.{name}" for name in self.known.choices]
            table.problem("question", f"no [[vary]] with one_of is called so; {nearest(spec.question, asked)}")
        elif len(choices) != len(spec.answers):
            table.problem("answers", f"{len(spec.answers)} answers to {len(choices)} questions; give one for each.")
        for name in (*spec.answers, *spec.instead_of):
            table.one_of("answers", name, self.known.statements, "statement")

    def economy(self, table: Table, spec: Economy) -> None:
        measure = table.quantity("measure", spec.measure)
        dimension = None if measure is None else measure.dimension
        table.quantity("full", spec.full, dimension)
        table.quantity("zero", spec.zero, dimension)

    def confirm(self, table: Table, spec: Confirm) -> None:
        for name in spec.of:
            shown = {r.id for r in self.drill.reading if r.tag}
            table.one_of("of", name, shown | set(self.known.catalogue.signals), "reading of an instrument")
        if spec.at_least is not None and spec.at_least > len(spec.of):
            table.problem("at_least", f"{spec.at_least} are asked of {len(spec.of)}; ask for fewer.")
        for name, source in spec.where.items():
            table.one_of("where", name, spec.of, "reading under of")
            table.condition(f"where.{name}", source)

    def watched(self, room: str, n: int, conditions: Mapping[str, str | None]) -> Mapping[str, Expression]:
        table = self.table(f"{room}[{n}]" if n else room)
        for key, source in conditions.items():
            table.condition(key, source)
        return table.ready

    def coach(self, n: int, spec: CoachStep) -> Item[CoachStep]:
        faults = [c.id for c in self.drill.criterion if isinstance(c, Diagnose)]
        for name in spec.names:
            self.table(f"coach[{n}]").one_of("names", name, faults, "criterion of the kind diagnose")
        return Item(spec, self.watched("coach", n, {"need": spec.need, "done": spec.done}))

    def critical(self, room: str, n: int, spec: Critical) -> Mapping[str, Expression]:
        """What a critical error looks at: its condition, and the flow that it adds up."""
        table = self.table(f"{room}[{n}]" if n else room)
        table.condition("when", spec.when)
        if (spec.adds is None) != (spec.most is None):
            table.problem("adds", "give adds and most together.")
        most = table.fixed("most", spec.most)
        table.quantity("adds", spec.adds, None if most is None else dimensions.over(most.dimension, dimensions.TIME))
        return table.ready

    def crew(self) -> None:
        """Posts, calls and who stands where, in a drill for several people."""
        for path, text in crew_rules.of_crew(self.drill, self.known.catalogue):
            self.table(path).problem("", text)

    def part(self, n: int, spec: CrewPart) -> Item[CrewPart]:
        """What a member of the good crew does: by what the member sees, where the member stands."""
        table = self.table(f"part[{n}]")
        table.condition("when", spec.when)
        when = table.ready.get("when")
        for key, text in crew_rules.of_part(spec, self.drill, self.known.catalogue, when):
            table.problem(key, text)
        operable = self.known.catalogue.operables.get((spec.do, spec.target))
        if operable is not None and (wrong := _not_taken(spec, operable)):
            table.problem("value", wrong)
        return Item(spec, table.ready)

    def caution(self, n: int, spec: Caution) -> Item[Caution]:
        table = self.table(f"caution[{n}]")
        if (spec.do, spec.target) not in self.known.catalogue.operables:
            targets = [target for _, target in self.known.catalogue.operables]
            table.problem("target", f"the plant cannot {spec.do} {spec.target!r}; {nearest(spec.target, targets)}")
        table.condition("when", spec.when)
        return Item(spec, table.ready)


def _times(table: Table, full: float | None, zero: float | None) -> None:
    if zero is not None and (full is None or zero < full):
        table.problem("zero", "comes before the time for full points; make it the later of the two.")


def _not_taken(action: Action | CrewPart, operable: Operable) -> str:
    """What is wrong with the value of a command, a word or a number; an empty string when nothing is."""
    if operable.values and isinstance(operable.values[0], str) and action.value not in operable.values:
        names = ", ".join(str(v) for v in operable.values)
        return f"given {action.value!r}; expected one of {names}."
    return _amiss(action, operable)


def _amiss(action: Action | CrewPart, operable: Operable) -> str:
    """What is wrong with the value of a command that takes a number or nothing; an empty string when nothing is."""
    if operable.values is None or isinstance(operable.values[0], str):
        return "" if operable.values or action.value is None else f"given {action.value!r}; this takes no value."
    if action.value is None:
        return "" if action.do in ("raise", "lower") else "missing; give a number."
    low, high = (float(bound) for bound in operable.values)
    try:
        value = units.to_unit(units.edge_value(action.value, operable.unit), operable.unit)
    except ValueError as error:
        return f"{error}."
    return "" if low <= value <= high else f"given {action.value!r}; expected {low:g} to {high:g} {operable.unit}."
