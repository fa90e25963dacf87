"""What a run says at this moment, in words: the coach's advice, the last thing told, the alarms that wait."""

from __future__ import annotations

import math
from weakref import WeakKeyDictionary

from trainer.console import shell
from trainer.constants import HAIR
from trainer.drawing.names import instrument
from trainer.drills.coach import ON_DEMAND
from trainer.hydraulics.catalogue import POWER
from trainer.plant.alarms import by_priority, priority
from trainer.simulator import Session

STAB_WAIT = "floor.stab_wait"
DUE = "A step is due. Hint shows it."
DONE = "All steps are done. The drill is about to end by itself."
#: Instruments that one line names.
MOST_WATCHED = 3
#: Titles of what is still open that one line names.
MOST_OPEN = 2


def meanwhile(run: Session) -> str:
    """What a trainee can do while the coach has no advice: find the step that is due, or watch for what comes next."""
    if run.coach is None or run.coach.passes >= ON_DEMAND:
        return ""
    awaited = run.coach.meanwhile()
    if awaited is None:
        return DUE
    if run.referee.left is not None:
        return still_open(run) or DONE
    named = ", ".join(dict.fromkeys(instrument(target.removeprefix("tag:")) for target in awaited[:MOST_WATCHED]))
    return f"Nothing to do yet. Watch: {named}." if named else "Nothing to do yet. Watch the instruments and messages."


def told(run: Session) -> str:
    """The last thing that was told to the trainee after the situation, which has a place of its own."""
    messages = run.referee.messages
    return messages[-1][1] if len(messages) > 1 else ""


def situation(run: Session) -> str:
    """The situation as it was told at the start, with what the seed picked."""
    messages = run.referee.messages
    return messages[0][1] if messages else ""


def ending(run: Session) -> str:
    """That the drill is about to end by itself; in practice also that points are still open. Empty before that."""
    referee = run.referee
    left = referee.left
    if left is None:
        return ""
    said = f"The drill ends by itself in {left:.0f} s; Finish ends it now."
    return " ".join(filter(None, (said, still_open(run) if run.coach is not None else "")))


def still_open(run: Session) -> str:
    """What can still earn points now that the drill is about to end, by name; empty when nothing can."""
    titles = run.referee.open_titles if run.referee.left is not None else []
    named = "; ".join(titles[:MOST_OPEN])
    return f"Points can still be earned: {named}{' and more' if len(titles) > MOST_OPEN else ''}." if titles else ""


def stabbing(run: Session) -> str:
    """How long the safety valve still takes to be stabbed; empty when none is."""
    machine = run.machine
    at = machine.index.get(STAB_WAIT)
    left = machine.state[at] if at is not None else 0.0
    return f", {math.ceil(left - HAIR)} s left" if left > 0.0 else ""


def alarms(run: Session) -> str:
    """The alarms that nobody has acknowledged yet, the most pressing first."""
    if _dead(run):
        return ""
    waiting = [f"{shell.alarm_name(tag)}, {priority(tag)} priority" for tag in _waiting(run)]
    return f"Alarm: {'; '.join(waiting)}" if waiting else ""


def horn(run: Session) -> str:
    """How the horn sounds: ``off``, ``on``, or ``urgent`` while an alarm of high priority waits."""
    if run.machine.read("alarms.horn") < 0.5 or _dead(run):
        return "off"
    return "urgent" if any(priority(tag) == "high" for tag in _waiting(run)) else "on"


def _dead(run: Session) -> bool:
    """Whether the panels have no power: their lamps and horn live on it."""
    return POWER in run.machine.signals and run.machine.read(POWER) < 0.5


def _waiting(run: Session) -> list[str]:
    machine = run.machine
    alarms = _ALARMS.get(machine)
    if alarms is None:
        alarms = _ALARMS[machine] = by_priority(machine.signals)
    return [tag for tag in alarms if machine.read(tag) == 1.0]


_ALARMS: WeakKeyDictionary[object, list[str]] = WeakKeyDictionary()
"""Alarms of each plant by priority: pages ask ten times a second."""
