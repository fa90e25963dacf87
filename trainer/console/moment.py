"""What a run says at this moment, in words: the coach's advice, the last thing told, the alarms that wait."""

from __future__ import annotations

import math
from collections.abc import Mapping
from weakref import WeakKeyDictionary

from trainer import naming
from trainer.console import shell
from trainer.constants import HAIR
from trainer.drills.coach import ON_DEMAND
from trainer.drills.pointing import UNIT
from trainer.drills.schema import Drill
from trainer.hydraulics.catalogue import POWER, Signal
from trainer.plant.alarms import by_priority, priority
from trainer.plant.names import instrument
from trainer.plant.rig import Plant
from trainer.session.walking import place_of
from trainer.simulator import Session
from trainer.units import System, show
from trainer.wording import joined, worded

STAB_WAIT = "floor.stab_wait"
DUE = "Your turn: try the next step. If you wait, the coach shows it; Hint shows it at once and costs no points."
TO_UNIT = "Walk to the control unit now: press Unit above. The next step is done there."
DONE = "All steps are done. The drill is about to end by itself."
#: Instruments that one line names.
MOST_WATCHED = 3
#: Titles of what is still open that one line names.
MOST_OPEN = 2
#: Kinds of criteria that only lose points: nothing that can still be done earns them.
LOST_ONLY = ("economy", "limit")
#: With what on the page a criterion of this kind is earned.
WAYS = {
    "reading": " (Enter)",
    "stood": " (Enter)",
    "confirm": " (Enter)",
    "say": " (Report)",
    "answer": " (Report)",
    "diagnose": " (Diagnosis)",
}


def meanwhile(run: Session) -> str:
    """What a trainee can do while the coach has no advice: find the step that is due, or watch for what comes next."""
    if run.coach is None or run.coach.passes >= ON_DEMAND:
        return ""
    if run.referee.left is None and (way := _way(run)):
        return way
    awaited = run.coach.meanwhile()
    if awaited is None:
        return DUE
    if run.referee.left is not None:
        return still_open(run) or DONE
    # Nobody hurries past what the well may do.
    hurry = "" if any(target.startswith("tag:well.") for target in awaited) else " A higher pace shortens the wait."
    named = "; ".join(dict.fromkeys(instrument(target.removeprefix("tag:")) for target in awaited[:MOST_WATCHED]))
    if not named:
        return "Nothing to do yet. Watch the instruments and messages."
    coming = "; ".join(run.coach.awaited())
    said = (
        f"Nothing to do yet. Watch: {named}. Wait for: {coming}." if coming else f"Nothing to do yet. Watch: {named}."
    )
    return said + hurry


def _way(run: Session) -> str:
    """To somebody alone: how far the way still is, or that the next step is done at the unit; else empty."""
    walking = run.walking
    if walking is None or run.coach is None:
        return ""
    if (left := walking.left(run.tick)) > 0.0:
        return f"You are on the way to {naming.station(walking.station)}: {math.ceil(left)} s to go."
    return TO_UNIT if _elsewhere(run) else ""


def _elsewhere(run: Session) -> bool:
    """Whether somebody alone stands elsewhere while the next step is done at the unit."""
    walking, coach = run.walking, run.coach
    return bool(walking and coach and coach.sends_to_unit and place_of(walking.station) != "unit")


def points(run: Session) -> tuple[str, ...]:
    """What the coach's present words are about, also where it sends somebody alone to the unit."""
    said: tuple[str, ...] = run.coach.points if run.coach is not None else ()
    return said or ((UNIT,) if _elsewhere(run) else ())


def told(run: Session) -> str:
    """The last thing that was told to the trainee after the situation, which has a place of its own.

    Once all that was asked for is done, nothing: an order that is carried out stands in the list of messages only.
    """
    messages = run.referee.messages
    return messages[-1][1] if len(messages) > 1 and run.referee.left is None else ""


def situation(run: Session) -> str:
    """The situation as it was told at the start, with what the seed picked."""
    messages = run.referee.messages
    return messages[0][1] if messages else ""


def on_own_rig(text: str, plant: Plant, base: Plant, drill: Drill, system: System) -> str:
    """The situation on a rig that was fitted from ``base``: its own well's name, and whose the depth of the hole is."""
    if base.well_name:
        text = text.replace(base.well_name, plant.well_name or "your well")
    if drill.initial.depth is not None:
        filed = show(plant.well.depth, "ft", system)
        text += f"\nThe drill sets the depth of the hole, for the variation; the file of {plant.title} has {filed}."
    return text


def ending(run: Session) -> str:
    """That the drill is about to end by itself; in practice also that points are still open. Empty before that."""
    referee = run.referee
    left = referee.left
    if left is None:
        return ""
    if run.crewing is None:
        said = f"Ends by itself in {left:.0f} s. Pause holds it, Finish ends it."
    else:  # One member neither holds nor ends what the others work at.
        said = f"Ends by itself in {left:.0f} s."
    return joined(" ", filter(None, (said, still_open(run) if run.coach is not None else "")))


def still_open(run: Session) -> str:
    """What can still earn points now that the drill is about to end, by name; empty when nothing can."""
    every = run.referee.open_titles if run.referee.left is not None else []
    titles = [(title, kind) for title, kind in every if kind not in LOST_ONLY]
    named = joined("; ", (title + WAYS.get(kind, "") for title, kind in titles[:MOST_OPEN]))
    return worded("Still open: {0}{1}.", named, " and more" if len(titles) > MOST_OPEN else "") if titles else ""


def stabbing(run: Session) -> str:
    """How long the safety valve still takes to be stabbed; empty when none is."""
    machine = run.machine
    at = machine.index.get(STAB_WAIT)
    left = machine.state[at] if at is not None else 0.0
    return f", {math.ceil(left - HAIR)} s left" if left > 0.0 else ""


def renewed(run: Session) -> dict[str, float]:
    """The filters whose element was changed in this run, each with the time of the last change, s."""
    known = _RENEWED.get(run.machine)
    if known is None or known[0] != len(run.log):
        deeds = [entry for entry in run.log if entry.do == "push" and entry.target.endswith(CHANGE)]
        found = {entry.target.removesuffix(CHANGE): entry.t for entry in deeds if entry.refused is None}
        known = _RENEWED[run.machine] = len(run.log), found
    return known[1]


CHANGE = ".change_element"
_RENEWED: WeakKeyDictionary[object, tuple[int, dict[str, float]]] = WeakKeyDictionary()
"""What was changed, by the machine of the run, with the length of the log that it was found in: pages ask often."""


def unacknowledged(run: Session) -> list[str]:
    """The alarms that nobody has acknowledged yet, each with its priority, the most pressing first."""
    return [] if _dead(run) else [f"{shell.alarm_name(tag)}, {priority(tag)} priority" for tag in _waiting(run)]


def alarms(run: Session) -> str:
    """The alarms that nobody has acknowledged as one line, `Alarm: ...; ...`; empty for none."""
    waiting = unacknowledged(run)
    return f"Alarm: {'; '.join(waiting)}" if waiting else ""


def horn(run: Session) -> str:
    """How the horn sounds: ``off``, ``on``, or ``urgent`` while an alarm of high priority waits."""
    if run.machine.read("alarms.horn") < 0.5 or _dead(run):
        return "off"
    return "urgent" if any(priority(tag) == "high" for tag in _waiting(run)) else "on"


def noise(run: Session) -> str:
    """What is heard at the unit, in words that the page's script has voices for: ``triplex``, ``air``, ``relief``."""
    machine = run.machine
    sources = _SOURCES.get(machine)
    if sources is None:
        sources = _SOURCES[machine] = _sources(machine.signals)
    return " ".join(sorted({voice for tag, voice in sources if machine.read(tag) > 0.5}))


def _sources(signals: Mapping[str, Signal]) -> list[tuple[str, str]]:
    """The readings that tell of something heard, each with its voice."""
    found = [(tag, "relief") for tag in signals if tag.endswith(("relief.passing", ".relief_passing"))]
    for kind, voice in (("amps", "triplex"), ("air_pressure", "air")):
        pumps = [tag.removesuffix(f".{kind}") for tag in signals if tag.endswith(f".{kind}")]
        found += [(f"{pump}.running", voice) for pump in pumps if f"{pump}.running" in signals]
    return found


_SOURCES: WeakKeyDictionary[object, list[tuple[str, str]]] = WeakKeyDictionary()


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
