"""A drill joined to a plant: every tag, unit, id and command checked, every condition ready to bind."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from trainer.drills import dimensions
from trainer.drills.checking import Item, TooManyFaultsError, Work
from trainer.drills.criteria_schema import Common, Critical
from trainer.drills.expressions import Catalogue, Expression, Picked
from trainer.drills.filled import filled
from trainer.drills.schema import (
    Caution,
    CoachStep,
    CrewPart,
    Drill,
    DrillError,
    End,
    Event,
    Milestone,
    Vary,
    Wait,
)
from trainer.hydraulics.catalogue import Signal


@dataclass(frozen=True, slots=True)
class Prepared:
    """A drill that fits a plant: its file, what the plant offers, and every condition read and checked."""

    drill: Drill
    catalogue: Catalogue
    vary: Sequence[Item[Vary]]
    initial: Mapping[str, Expression]
    depth: Expression | None
    bit: Expression | None
    initial_faults: Sequence[tuple[str, Expression]]
    milestones: Sequence[Item[Milestone]]
    events: Sequence[Item[Event]]
    criteria: Sequence[Item[Common]]
    criticals: Sequence[Item[Critical]]
    coach: Sequence[Item[CoachStep]]
    cautions: Sequence[Item[Caution]]
    waits: Sequence[Item[Wait]]
    parts: Sequence[Item[CrewPart]]
    end: Item[End]

    def expressions(self) -> Iterator[Expression]:
        """Every condition and quantity that is looked at while the drill runs."""
        groups = (self.milestones, self.events, self.criteria, self.criticals, self.coach, self.cautions, self.waits)
        for group in (*groups, (self.end,)):
            for item in group:
                yield from item.ready.values()

    def picked(self, drawn: Mapping[str, float]) -> Picked:
        """The words that a seed picked, from the numbers it has ``drawn`` by id."""
        return {f"vary.{spec.id}": spec.one_of[int(drawn[spec.id])] for spec in self.drill.vary if spec.one_of}

    def milestone_title(self, name: str | None) -> str:
        """The title of a milestone, for sentences; the start of the drill for None."""
        for item in self.milestones:
            if item.spec.id == name:
                return item.spec.title
        return "the start"


def figure_units(drill: Drill, signals: Mapping[str, Signal]) -> dict[str, str]:
    """The field unit of the figure that each call of a crew carries, by the call's id; words alone have none."""
    shown = {one.id: signals[one.tag].unit if one.tag in signals else one.unit or "" for one in drill.reading}
    return {call.id: shown[call.figure] for call in drill.call if call.figure in shown}


def prepare(drill: Drill, catalogue: Catalogue, name: str = "") -> Prepared:
    """Join a drill to a plant's catalogue; raises ``DrillError`` with every fault, each with its key path."""
    written = len(drill.critical)
    drill = filled(drill, catalogue)
    work = Work(drill, catalogue)
    try:
        done = _joined(drill, catalogue, work, written)
    except TooManyFaultsError:
        raise DrillError(name or drill.id, work.problems) from None
    if work.problems:
        raise DrillError(name or drill.id, work.problems)
    return done


def _critical(work: Work, n: int, spec: Critical, written: int) -> Item[Critical]:
    """A critical error of the drill's own, or beyond those the file has, one of a rule."""
    place = ("critical", n) if n <= written else (f"rules.{spec.id}", 0)
    return Item(spec, work.critical(*place, spec))


def _joined(drill: Drill, catalogue: Catalogue, work: Work, written: int) -> Prepared:
    vary = work.vary()
    work.unique()
    work.taught()
    work.crew()
    start = work.table("initial")
    start.one_of("start", drill.initial.start, getattr(catalogue, "starts", {}), "named start")
    start.depths(drill.initial.start, drill.initial.depth, drill.initial.bit)
    for variable, source in drill.initial.values.items():
        start.value(variable, source)
    start.actions(drill.initial.commands)
    start.actions(drill.initial.then, "then")
    faults = []
    for n, setting in enumerate(drill.initial.faults, 1):
        start.fault(f"faults[{n}].fault", setting.fault)
        severity = start.quantity(f"faults[{n}].severity", setting.severity, dimensions.NONE)
        if severity is not None:
            faults.append((setting.fault, severity))
    return Prepared(
        drill=drill,
        catalogue=catalogue,
        vary=vary,
        initial={v: start.ready[k] for v in drill.initial.values if (k := f"values.{v}") in start.ready},
        depth=start.ready.get("depth"),
        bit=start.ready.get("bit"),
        initial_faults=faults,
        milestones=[Item(m, work.watched("milestone", n, {"when": m.when})) for n, m in enumerate(drill.milestone, 1)],
        events=[work.event(n, e) for n, e in enumerate(drill.event, 1)],
        criteria=[work.criterion(n, c) for n, c in enumerate(drill.criterion, 1)],
        criticals=[_critical(work, n, c, written) for n, c in enumerate(drill.critical, 1)],
        coach=[work.coach(n, c) for n, c in enumerate(drill.coach, 1)],
        cautions=[work.caution(n, c) for n, c in enumerate(drill.caution, 1)],
        parts=[work.part(n, p) for n, p in enumerate(drill.part, 1)],
        waits=[Item(w, work.watched("wait", n, {"when": w.when})) for n, w in enumerate(drill.wait, 1)],
        end=Item(drill.end, work.watched("end", 0, {"when": drill.end.when})),
    )
