"""The coach of practice mode: the next step and why, when asked or late, fading as the trainee succeeds."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from trainer.drills import pointing
from trainer.drills.guide import Guide, Step
from trainer.drills.readings import StoodJudge
from trainer.drills.steady import Steady
from trainer.hydraulics.refusal import INJURY, Refusal
from trainer.plant.names import instrument, mid_sentence
from trainer.session.commands import SPEAK, Command
from trainer.wording import joined, worded

if TYPE_CHECKING:
    from trainer.drills.runner import Runner

WATCHED = 3.0
"""A step that is only watched waits so long before it is said, s: nobody can find it out; invented."""
WARNING_SHOWN = 15.0
"""A caution about an action stays this long, s."""
MORE_PATIENCE = 0.5
"""Each step done without help in a row lengthens the wait before the next hint by this share."""
MOST_PATIENCE = 4.0
LONGEST_WAIT = 120.0
"""For so long the coach has a trainee wait for an instrument that still moves, s; invented."""
LOOKS = 1.0
"""So often it is looked whether a pass is still possible, s: each look judges everything."""
GO_ON = "Press Try again to start again, or Hint to practice further."
ON_DEMAND = 3
"""Whoever has passed the drill this often in a row is helped only when asking; invented."""


def in_a_row(passed: Sequence[bool]) -> int:
    """Of attempts, oldest first, how many were passed in a row up to the last one."""
    count = 0
    for good in reversed(passed):
        if not good:
            break
        count += 1
    return count


class Coach:
    """Looks at the run and never touches it: what the coach says is no part of the state that is verified."""

    def __init__(self, runner: Runner) -> None:
        self._runner = runner
        self._guide = Guide(runner)
        binder = runner.binder
        self._cautions = [
            (item.spec, binder.condition(item.ready["when"]) if "when" in item.ready else None)
            for item in runner.prepared.cautions
        ]
        strict = {j.tag: (j.most, j.spec.over) for j in runner.judges if isinstance(j, StoodJudge) and j.tag}
        self._steady = Steady(runner.prepared, runner.machine.read, strict)
        self._warned: set[str] = set()
        self._beside: Step | None = None
        self.points: tuple[str, ...] = ()
        """What the present advice points to (``trainer.drills.pointing``)."""
        self._finished = self._guide.finished
        self._current: str | None = None
        self._since = 0.0
        self._helped = False
        self._warning: tuple[float, str, str, tuple[str, ...]] | None = None
        self._correction: tuple[float, str, str, tuple[str, ...]] | None = None
        """The last warning that was about a wrong word."""
        self._wrongly: set[int] = set()
        """Places of the judges for whom that word was wrong."""
        self._hurt = self._goes_on = False
        self._lost: tuple[str, str] | None = None
        self._looked = -LOOKS
        self._led_to: str | None = None
        """The step that the present warning names."""
        self.streak = 0
        """Steps done in a row without help."""
        self.passes = 0
        """How many of the latest attempts at this drill were passed (``in_a_row``); set by whoever knows them."""

    @property
    def patience(self) -> float:
        """Factor on each step's ``late`` time, 1 to ``MOST_PATIENCE``: it grows as the trainee needs less help."""
        return min(MOST_PATIENCE, 1.0 + MORE_PATIENCE * (self.streak + 2 * self.passes))

    def _next(self) -> Step | None:
        """The next step: the author's own first, and with it what its criteria leave out."""
        now = self._runner.scope.t
        self._beside = None
        found: Step | None = None
        for step in self._guide.steps:
            if step.id in self._finished:
                continue
            if step.done():
                if step.lasting:
                    self._finish(step)
                continue
            if step.need is not None and not step.need() and not (step.made and self._runner.left is not None):
                continue
            if step.vain():
                continue
            if step.made and self._beside is None:
                self._beside = step
            if not step.made:
                found = step
                break
        if found is None:
            found, self._beside = self._beside, None
        found, self._beside = found and found.now(), self._beside and self._beside.now()
        if found is not None and found.id != self._current:
            self._current, self._since, self._helped = found.id, now, False
        return found

    def _words(self, step: Step) -> tuple[str, str]:
        """What a step says and why, with what is due beside it."""
        moving = self._moving(step)
        if moving:
            return worded("Wait: {0} still move{1}.", joined(" and ", moving.values()), "s" * (len(moving) == 1)), (
                worded(
                    "When {0}: {1}",
                    "it has stopped" if len(moving) == 1 else "they have stopped",
                    mid_sentence(step.say),
                )
            )
        if self._beside is None or self._moving(self._beside):
            return step.say, step.why
        # Each with its own reason: the second stands after the reason of the first.
        return step.say, worded("{0} Also: {1}", step.why, mid_sentence(self._beside.say))

    def _moving(self, step: Step) -> dict[str, str]:
        """The instruments that a step asks to read and that still move: their readings' titles by tag."""
        now = self._runner.scope.t
        if step.id == self._current and now - self._since > LONGEST_WAIT:
            return {}
        return {tag: self._called(tag) for tag in self._steady.moving(step.reads, now)}

    def _called(self, tag: str) -> str:
        """What is read on an instrument; the instrument itself, where several things are."""
        titles = [reading.title for reading in self._runner.drill.reading if reading.tag == tag]
        return titles[0] if len(titles) == 1 else instrument(tag)

    def _finish(self, step: Step) -> None:
        self._finished.add(step.id)
        if step.id == self._current and not step.watched:
            self.streak = 0 if self._helped else self.streak + 1

    def ask(self) -> tuple[str, str] | None:
        """The next step and why, on demand; None when there is nothing left to do now."""
        self._goes_on = self._lost is not None
        step = self._next()
        if step is None:
            return None
        self._helped = True
        return self._words(step)

    @property
    def lost(self) -> bool:
        """Whether this try can no longer pass, as far as was seen by the last ``advice``."""
        return self._lost is not None

    def _look_at_pass(self, now: float) -> None:
        """See, once in a while, whether a pass is still possible; what is lost stays lost."""
        if self._lost is not None or now - self._looked < LOOKS:
            return
        self._looked = now
        spoiled = self._runner.spoiled
        if spoiled is not None:
            what, why = spoiled
            # Whoever was hurt has just been told so, and why.
            self._lost = (
                f"This try can no longer pass: {what}.",
                " ".join(filter(None, ("" if self._hurt else why, GO_ON))),
            )

    def advice(self) -> tuple[str, str] | None:
        """What the coach says unasked: a caution just earned, or the next step once it is late."""
        now = self._runner.scope.t
        self._steady.look(now)
        step = self._next()
        self._look(step)
        self._look_at_pass(now)
        self.points = ()
        if self._lost is not None and not self._goes_on:
            return self._lost
        if self._warning is not None:
            t, say, why, self.points = self._warning
            # A warning that names a step lasts until that is done.
            if now - t <= WARNING_SHOWN and self._led_to not in self._finished:
                return say, why
            self._warning, self.points = None, ()
        if step is None:
            return None
        if (moving := self._moving(step)) and self.passes < ON_DEMAND and now - self._since >= WATCHED:
            self.points = (*(f"tag:{tag}" for tag in moving), *pointing.ahead(step.points))
            return self._words(step)
        wait = WATCHED if step.watched else step.late * self.patience
        late = self.passes < ON_DEMAND and (now - self._since >= wait or self._runner.left is not None)
        if self._helped or late:
            self._helped, self.points = True, (*step.points, *(self._beside.points if self._beside else ()))
            return self._words(step)
        return None

    def meanwhile(self) -> tuple[str, ...] | None:
        """Where ``advice`` has nothing to say: the instruments to watch until the next step; None while one is due."""
        if self._next() is not None:
            return None
        ahead = self._ahead()
        return ahead.awaits if ahead is not None else ()

    def awaited(self) -> tuple[str, ...]:
        """The titles of the milestones that the next step waits for; before the first step is done, what will come
        is not told.
        """
        ahead, reached = self._ahead(), self._runner.scope.reached
        if ahead is None or not self._finished:
            return ()
        return tuple(self._runner.prepared.milestone_title(name) for name in ahead.after if name not in reached)

    @property
    def sends_to_unit(self) -> bool:
        """Whether the step that is due, or else the one to come, works a control at the control unit."""
        ahead = self._next() or self._ahead()
        at = ahead.points if ahead is not None else ()
        return pointing.UNIT in at and any(target.startswith("control:") for target in at)

    def _ahead(self) -> Step | None:
        """The first step of the author's that is still to come."""
        return next((step for step in self._guide.steps if step.id not in self._finished and not step.made), None)

    def _look(self, step: Step | None) -> None:
        """Warn once of what has begun to cost points, with the step that is due; again when it begins anew."""
        for watch in self._guide.watches:
            if not watch.amiss():
                self._warned.discard(watch.criterion)
            elif watch.criterion not in self._warned:
                self._warned.add(watch.criterion)
                why, points = watch.why, watch.points
                if step is not None:
                    self._helped, why = True, worded("Next: {0}", step.say)
                    points = (*step.points, *(points if watch.shows else ()))
                self._warning = (self._runner.scope.t, watch.say, why, points)
                self._led_to = step.id if step is not None else None

    def notice(self, t: float, command: Command, refusal: Refusal | None) -> None:
        """See an action: explain a refusal, a wrong call, an early reading, or warn of what is ill-judged now."""
        if refusal is None and command.do in SPEAK:
            self._hear(t, command)
            return
        say = ""
        for spec, when in self._cautions:
            if (
                spec.do == command.do
                and spec.target == command.target
                and spec.value in (None, command.value)
                and (when is None or when())
            ):
                say = spec.say
                break
        at = pointing.commanded(command.target, command.value)
        if refusal is None:
            if say:
                # It was done: nothing is to be pressed again.
                self._warning, self._led_to = (t, say, "", ()), None
            return
        if refusal.code == INJURY:
            # It was done, and the panel tells what it did.
            self._hurt, self._warning = True, None
            return
        step = self._next()
        instead = worded("Next: {0}", step.say) if step is not None else ""
        points = at if say or step is None else step.points
        self._warning, self._led_to = (t, worded("That was refused: {0}", refusal), say or instead, points), None

    def _hear(self, t: float, command: Command) -> None:
        """Say what was wrong with a report, a reading or a fault named, unless it was right for something."""
        said = [judge.heard(t, command.do, command.target) for judge in self._runner.judges]
        wrong = [each for each in said if isinstance(each, str)]
        right = {at for at, each in enumerate(said) if each is True}
        if right & self._wrongly and self._warning is self._correction:
            # What was wrong with the word before has been put right.
            self._warning = None
        if not wrong or True in said:
            return
        points = {
            "say": pointing.spoken(command.target),
            "read": pointing.entered(command.target, self._runner.prepared),
        }.get(command.do, (pointing.NAME,))
        self._warning = self._correction = (t, wrong[0], "", points)
        self._wrongly = {at for at, each in enumerate(said) if isinstance(each, str)}
        self._led_to = None
