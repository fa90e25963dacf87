"""The steps of the coach: those that the drill's author wrote, and one for each criterion that they leave out.

Each scored criterion is covered: by written steps that lead to it, by a step made of its own words, or, where it is
about what must not happen, by a warning while it happens.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from trainer.drills import pointing, remaining
from trainer.drills.binding import Truth
from trainer.drills.checking import Item
from trainer.drills.criteria import EconomyJudge, Judge, LimitJudge
from trainer.drills.criteria_schema import (
    Answer,
    Assess,
    Common,
    Confirm,
    Diagnose,
    Final,
    Order,
    Reach,
    Reading,
    Say,
    Stood,
)
from trainer.drills.expressions import Expression, Picked, walk
from trainer.drills.language import Call, Logic, Name, Text
from trainer.drills.prepare import Prepared
from trainer.drills.readings import ConfirmJudge
from trainer.drills.remaining import Piece
from trainer.drills.schema import CoachStep, for_log
from trainer.drills.spoken import DiagnoseJudge
from trainer.plant.names import mid_sentence
from trainer.wording import joined, worded, written

if TYPE_CHECKING:
    from trainer.drills.runner import Runner

WATCHING = ("Watch", "Wait")
"""A written step that begins so asks for nothing else."""
LASTING = (*WATCHING, "Hold")
"""A written step that begins so goes on for a while: there is nothing to find out before it is said."""
LATE = 20.0
"""A step that nobody wrote waits as long as a written one that says nothing of it, s."""


@dataclass(slots=True)
class Step:
    """One step: what it says and why, when it is called for and when it is done, and what it points to.

    Tags in ``reads`` are of the instruments that it asks to read.
    """

    id: str
    say: str
    why: str
    late: float
    need: Truth | None
    done: Truth
    points: tuple[str, ...]
    covers: set[str] = field(default_factory=set)
    """Ids of the criteria that it leads to."""
    lasting: bool = True
    """Whether what is done stays done."""
    made: bool = False
    """Whether it was made of a criterion, and not written by the drill's author."""
    awaits: tuple[str, ...] = ()
    """The instruments that show when it is called for."""
    after: tuple[str, ...] = ()
    """The milestones that it waits for."""
    reads: tuple[str, ...] = ()
    watched: bool = False
    """Whether nothing but watching leads to it: there is nothing to find out before it is said."""
    parts: tuple[Piece, ...] = ()
    """What it asks for, where that is several things."""
    vain: Truth = field(default=lambda: False)
    """Whether the entries that it asks for earn nothing any more, and nothing waits for them."""

    def now(self) -> Step:
        """The step as it is said and pointed to now: once some of it is done, only what is left."""
        due = remaining.left(self.parts)
        if not due:
            return self
        return replace(
            self,
            say=remaining.said(due),
            points=tuple(dict.fromkeys(target for part in due for target in part.points)),
            reads=tuple(tag for part in due for tag in part.reads),
        )


@dataclass(frozen=True, slots=True)
class Watch:
    """A warning that is said while something goes on that costs the points of a criterion."""

    criterion: str
    say: str
    why: str
    amiss: Truth
    points: tuple[str, ...]
    shows: bool = True
    """Whether the instruments that it points to show what is to be done."""


class Guide:
    """All steps of a drill in their order, the written ones first, and what is watched meanwhile."""

    def __init__(self, runner: Runner) -> None:
        self._runner = runner
        self._prepared = prepared = runner.prepared
        self.finished: set[str] = set()
        self._tags = {reading.id: reading.tag for reading in prepared.drill.reading}
        picked = prepared.picked(runner.drawn)
        self.steps = [self._written(item, picked) for item in prepared.coach]
        self.watches: list[Watch] = []
        atoms = [_atoms(item.ready["done"], prepared) for item in prepared.coach]
        written = list(self.steps)
        for judge in runner.judges:
            if isinstance(judge.spec, Assess):
                continue
            if isinstance(judge, LimitJudge | EconomyJudge):
                self.watches.append(self._watch(judge))
                continue
            if any(judge.spec.id in step.covers for step in written):
                # Its author says which step leads to it.
                continue
            leading = [step for step, known in zip(written, atoms, strict=True) if _leads(known, judge, prepared)]
            if _enough(judge, atoms, leading, prepared):
                for step in leading:
                    step.covers.add(judge.spec.id)
            else:
                self._insert(judge, written, atoms)
        for step, item in zip(written, prepared.coach, strict=True):
            if step.covers and _only_entries(item.ready["done"]) and not self._waited_for(item.ready["done"]):
                step.vain = self._earned_out(step.covers)

    def _waited_for(self, done: Expression) -> bool:
        """Whether another step waits for one of the entries."""
        needs = [item.ready["need"] for item in self._prepared.coach if "need" in item.ready]
        return not {name for need in needs for name in _entered(need)}.isdisjoint(_entered(done))

    def _earned_out(self, covers: Collection[str]) -> Truth:
        judges = [judge for judge in self._runner.judges if judge.spec.id in covers]

        def so() -> bool:
            t = self._runner.scope.t
            return all((judge.judge(t).share or 0.0) >= judge.best(t) for judge in judges)

        return so

    def _written(self, item: Item[CoachStep], picked: Picked) -> Step:
        """The step that the drill's author wrote."""
        runner, prepared, spec, done = self._runner, self._prepared, item.spec, item.ready["done"]
        so, said = runner.binder.condition(done), runner.words(spec.say)
        points, parts = self._pointed(done, said, picked), remaining.parts(done, runner.desk, picked)
        need = item.ready.get("need")
        awaits = pointing.instruments(need, prepared, picked) if need is not None else ()
        if all(target.startswith("say:") for target in points):
            # What is to be reported is seen before: on the instruments that the sentence names.
            points = (*pointing.mentioned(awaits, said), *points)
        if spec.names:
            reported = [self._settled(judge) for judge in runner.judges if judge.spec.id in spec.names]

            def named() -> bool:
                return all(each() for each in reported)

            def both() -> bool:
                return holds() and named()

            holds, so = so, both
            points = (*points, pointing.NAME)
            parts = (*parts, remaining.named(named, len(reported) > 1))
        return Step(
            spec.id,
            self._said(said, done),
            runner.words(spec.why),
            spec.late,
            runner.binder.condition(need) if need is not None else None,
            so,
            points,
            covers=set(spec.names),
            awaits=awaits,
            after=_reached(need) if need is not None else (),
            reads=self._noted(done),
            watched=spec.say.startswith(LASTING),
            parts=parts if len(parts) > 1 else (),
        )

    def covered(self) -> set[str]:
        """The ids of the criteria that some step or warning covers; no other is spoken of by the coach."""
        return {name for step in self.steps for name in step.covers} | {watch.criterion for watch in self.watches}

    def _pointed(self, done: Expression, say: str, picked: Picked) -> tuple[str, ...]:
        """What a written step points to; one that only waits, to what is watched meanwhile."""
        found = pointing.targets(done, self._prepared, say, picked)
        if not say.startswith(WATCHING):
            return found
        return pointing.unworked(found, self._prepared) or pointing.instruments(done, self._prepared, picked) or found

    def _noted(self, done: Expression) -> tuple[str, ...]:
        """The tags of the readings that a condition waits for."""
        return tuple(filter(None, (self._tags.get(name, name) for name in _entered(done))))

    def _said(self, say: str, done: Expression) -> str:
        """What a step says; where it asks for entries in the log alone, that too: the same may be read before."""
        titles = {reading.id: reading.title for reading in self._prepared.drill.reading}
        named = _entered(done)
        only = bool(named) and all(for_log(titles.get(name, "")) for name in named)
        return worded("For the log: {0}", mid_sentence(say)) if only and "log" not in say else say

    def _read(self, spec: Common) -> tuple[str, ...]:
        """The tags of the readings that a criterion asks for."""
        match spec:
            case Confirm():
                return tuple(filter(None, (self._tags.get(name, name) for name in spec.of)))
            case Reading() | Stood():
                return tuple(filter(None, (self._tags[spec.reading],)))
            case _:
                return ()

    # Steps made of a criterion

    def _insert(self, judge: Judge[Common], written: Sequence[Step], atoms: Sequence[Collection[str]]) -> None:
        spec = judge.spec
        anchors = [name for name in (getattr(spec, "after", None), getattr(spec, "from_", None), *spec.needs) if name]
        at = max(len(written) - 1, 0)
        for place, known in enumerate(atoms):
            if anchors and f"done({anchors[0]})" in known:
                at = place + 1
                # A fault is named after all that is tried on it.
                if not isinstance(spec, Diagnose):
                    break
        before = [step.id for step in written[:at]]
        reached, finished = self._runner.scope.reached, self.finished

        def need() -> bool:
            return all(name in finished for name in before) and all(name in reached for name in anchors)

        say, points = self._words(judge)
        step = Step(
            f"criterion.{spec.id}", say, spec.why, LATE, need, self._settled(judge), points, {spec.id},
            lasting=not isinstance(spec, Final), made=True, reads=self._read(spec), parts=self._parts(judge),
        )  # fmt: skip
        place = self.steps.index(written[at]) if at < len(written) else len(self.steps)
        self.steps.insert(place, step)

    def _parts(self, judge: Judge[Common]) -> tuple[Piece, ...]:
        """The readings that a criterion asks for, where it asks for each of several."""
        if not isinstance(judge, ConfirmJudge) or judge.spec.at_least is not None:
            return ()

        def entered(tag: str) -> Callable[[], bool]:
            return lambda: tag in judge.times

        return tuple(
            Piece("enter", judge.titles[tag], entered(tag), pointing.entered(name, self._prepared), (tag,))
            for tag, name in judge.tags.items()
        )

    def _settled(self, judge: Judge[Common]) -> Callable[[], bool]:
        """Whether nothing more can be earned by a criterion, or nothing is left to earn."""

        def so() -> bool:
            t = self._runner.scope.t
            verdict = judge.judge(t)
            late = verdict.due is not None and t > verdict.due
            if isinstance(judge, DiagnoseJudge) and judge.good is not None:
                # The fault is reported; what wrong ones cost cannot be won back.
                return True
            return (verdict.share or 0.0) >= 1.0 or late or judge.best(t) <= 0.0

        return so

    def _words(self, judge: Judge[Common]) -> tuple[str, tuple[str, ...]]:
        """What a step made of a criterion says, and what it points to."""
        spec, prepared, desk = judge.spec, self._prepared, judge.desk
        called = desk.titles.of
        match spec:
            case Say():
                said = worded("When this is true, report: “{0}”", called("said", spec.statement))
                return said, pointing.spoken(spec.statement)
            case Answer():
                return (
                    worded("Report what you found ({0}): choose the report that fits.", mid_sentence(spec.title)),
                    pointing.spoken(spec.answers[0]),
                )
            case Reading():
                said = worded("Enter the reading: {0}.", called("noted", spec.reading))
                return said, pointing.entered(spec.reading, prepared)
            case Stood():
                said = worded(
                    "Read {0} again when it has moved less than {1}.",
                    called("noted", spec.reading),
                    written(spec.change),
                )
                return said, pointing.entered(spec.reading, prepared)
            case Confirm():
                names = joined(", ", (called("noted", name) for name in spec.of))
                return worded("Read and enter: {0}.", names), tuple(
                    target for name in spec.of for target in pointing.entered(name, prepared)
                )
            case Diagnose():
                return "Find the fault, and report it under Diagnosis: the part, then what is wrong.", (pointing.NAME,)
            case Order():
                order = joined(", then ", (desk.title(name) for name in spec.steps))
                whens = [m.ready["when"] for m in prepared.milestones if m.spec.id in spec.steps]
                return worded("Keep the order: {0}.", order), tuple(
                    dict.fromkeys(target for when in whens for target in pointing.targets(when, prepared))
                )
            case _:
                source: Expression = judge.ready["when" if isinstance(spec, Reach) else "holds"]
                wanted = desk.expected(spec, source.tree)
                return worded("{0}: {1}.", spec.title, wanted), pointing.targets(source, prepared)

    def _watch(self, judge: LimitJudge | EconomyJudge) -> Watch:
        spec = judge.spec
        if isinstance(judge, LimitJudge):
            source = judge.ready["holds"]
            say = worded(
                "{0}: points are being lost. Required: {1}.", spec.title, judge.desk.expected(spec, source.tree)
            )
        else:
            source = judge.ready["measure"]
            say = worded("{0}: points are being lost. Full points up to {1}.", spec.title, written(judge.spec.full))
        shows = isinstance(judge, LimitJudge)
        return Watch(spec.id, say, spec.why, judge.amiss, pointing.targets(source, self._prepared), shows)


def _only_entries(done: Expression) -> bool:
    """Whether a condition waits for readings to be entered and for nothing else."""
    parts = [node for node in walk(done.tree) if not isinstance(node, Logic | Name | Text)]
    return bool(parts) and all(isinstance(node, Call) and node.name == "noted" for node in parts)


def _reached(need: Expression) -> tuple[str, ...]:
    """The ids of the milestones that a condition waits for."""
    calls = (node for node in walk(need.tree) if isinstance(node, Call) and node.name == "done")
    return tuple(call.arguments[0].value for call in calls if isinstance(call.arguments[0], Name | Text))


def _entered(done: Expression) -> list[str]:
    """The ids of the readings that a condition waits for."""
    calls = (node for node in walk(done.tree) if isinstance(node, Call) and node.name == "noted")
    return [call.arguments[0].value for call in calls if isinstance(call.arguments[0], Name | Text)]


def _atoms(expression: Expression, prepared: Prepared) -> set[str]:
    """What a condition looks at: readings, calls, and whatever its milestones look at."""
    out: set[str] = set()
    waiting = [expression]
    while waiting:
        for node in walk(waiting.pop().tree):
            if isinstance(node, Name):
                out.add(node.value)
            elif isinstance(node, Call) and node.arguments and isinstance(node.arguments[0], Name | Text):
                key = f"{node.name}({node.arguments[0].value})"
                if node.name == "done" and key not in out:
                    waiting += [m.ready["when"] for m in prepared.milestones if m.spec.id == node.arguments[0].value]
                out.add(key)
    out |= _parts(out, prepared) | {expression.source.strip()}
    # A step that waits for what a milestone waits for leads to the milestone.
    for milestone in prepared.milestones:
        if milestone.ready["when"].source.strip() in out:
            out.add(f"done({milestone.spec.id})")
    return out


def _parts(atoms: Collection[str], prepared: Prepared) -> set[str]:
    """The controls and parts that readings in a condition belong to, each as ``work(part)``."""
    worked = {target for _, target in prepared.catalogue.operables}
    whole = {name for atom in atoms if "(" not in atom for name in (atom, atom.rpartition(".")[0])}
    return {f"work({name})" for name in whole & worked}


def _worked(expression: Expression, prepared: Prepared) -> set[str]:
    atoms = _atoms(expression, prepared)
    return {atom for atom in atoms if atom.startswith(("work(", "pushed(", "said(", "noted("))}


def _inputs(judge: Judge[Common], prepared: Prepared) -> list[set[str]]:
    """What a criterion waits for: each of these has to come, by any of the ways in it."""
    spec = judge.spec
    tags = {one.id: one.tag for one in prepared.drill.reading}
    match spec:
        case Say():
            return [{f"said({spec.statement})"}]
        case Answer():
            return [{f"answered({spec.id})", *(f"said({name})" for name in spec.answers)}]
        case Reading() | Stood():
            return [{f"noted({spec.reading})", f"noted({tags[spec.reading]})"}]
        case Confirm():
            return [{f"noted({name})", f"noted({tags.get(name, name)})"} for name in spec.of]
        case Order():
            whens = {one.spec.id: one.ready["when"] for one in prepared.milestones}
            # What comes by itself needs no step.
            work = {name: _worked(whens[name], prepared) for name in spec.steps}
            return [{f"done({name})", *ways} for name, ways in work.items() if ways]
        case Reach():
            # The last of what it waits for: who works the same parts, or waits for the same, is on the way to it.
            return [{judge.ready["when"].source.strip(), *_worked(judge.ready["when"], prepared)}]
        case _:
            return [set()]


def _leads(known: Collection[str], judge: Judge[Common], prepared: Prepared) -> bool:
    return any(any(way in known for way in ways) for ways in _inputs(judge, prepared))


def _enough(
    judge: Judge[Common], atoms: Sequence[Collection[str]], leading: Sequence[Step], prepared: Prepared
) -> bool:
    """Whether the written steps together bring all that a criterion waits for."""
    every = {atom for known in atoms for atom in known}
    return bool(leading) and all(any(way in every for way in ways) for ways in _inputs(judge, prepared))
