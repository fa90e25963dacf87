"""One run at a glance: what a card on the wall of a class says, as data that goes from one process to another."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, field
from weakref import WeakKeyDictionary

from pydantic import TypeAdapter, ValidationError

from trainer.classroom.desk_readings import present_faults, row_texts
from trainer.classroom.roster import AnyPlace, FarPlace, Place
from trainer.console import debrief, moment
from trainer.console.message import Message
from trainer.console.told import Deed, Teller
from trainer.drawing.rig_view import RigView
from trainer.drills.lesson_plan import in_words
from trainer.drills.runner import Runner
from trainer.plant.rig import PlantError, load_plant
from trainer.session.interventions import BY
from trainer.simulator import Session

FRESH_S = 0.9
"""So long a glance holds for whoever asks again, s."""
SCORE_S = 10.0
"""So long a score holds: to judge a run costs as much as all the rest of a class of twelve, s."""
SCORES_AT_ONCE = 5
"""So many runs are judged within a second at most: forty within the ten seconds that a score holds."""
IDLE_S = 120.0
"""Without an action for so long somebody may need a word, simulated seconds; invented."""
LAST = 8
LOOKED_THROUGH = 40
"""So many entries of the log are looked through for the last actions."""
OPENED = 0.98
"""Closed less far than this, a valve of the choke and kill lines stands open; invented."""

#: What a card shows of the plant, where it has it; in this order.
FIGURES: tuple[tuple[str, str], ...] = (
    ("accumulator.pressure", "Accumulator"),
    ("manifold_regulator.readback", "Manifold"),
    ("annular_regulator.readback", "Annular"),
    ("well.drillpipe_pressure", "Drill pipe"),
    ("well.casing_pressure", "Casing"),
    ("well.flow_in", "Flow in"),
    ("well.flow_out", "Flow out"),
    ("well.pit_gain", "Pit gain"),
)
#: What no instrument shows, where the plant has it.
TRUTHS: tuple[tuple[str, str], ...] = (
    ("well.influx_rate", "Influx rate"),
    ("well.influx_volume", "Influx in the well"),
    ("well.lost", "Mud lost to the formation"),
    ("well.bottom_pressure", "Bottom-hole pressure"),
    ("well.formation_pressure", "Formation pressure"),
)
#: Who needs somebody first: what a card is sorted by.
STUCK, CRITICAL, ASKS, ALARM, AWAY, IDLE, WAITS, RUNS, OVER, CHOOSES = range(10)


@dataclass(frozen=True)
class Asked:
    """A request of a trainee that waits for an answer: to operate a control, or in free words."""

    number: int
    t: float
    """When it was made, s of the run."""
    text: str
    control: bool
    """Whether it names a control, which one press operates; else it is a question or a wish in free words."""


@dataclass(frozen=True)
class PreventerState:
    """Where a preventer really stands, and what its lamps show; None for a lamp that it does not have."""

    name: str
    share: float
    """How far along its stroke, 0 open to 1: an annular shut round pipe stops on the way."""
    closed: bool
    """Whether it is shut as far as it can be here: round the pipe, or on itself."""
    opened: bool
    close_lamp: bool | None = None
    open_lamp: bool | None = None


@dataclass(frozen=True)
class Glance:
    """How a run stands. Figures are in SI, with the unit that they are shown in."""

    rank: int = CHOOSES
    """How soon it needs somebody; small for soon."""
    need: str = ""
    """Why, in words."""
    drill: str = ""
    clock: str = ""
    state: str = ""
    figures: Sequence[tuple[str, float, str]] = ()
    """(name, value, unit) of each."""
    truths: Sequence[tuple[str, float, str]] = ()
    """The same of what no instrument shows."""
    stack: Sequence[PreventerState] = ()
    """The preventers, top down."""
    lines: Sequence[str] = ()
    """The choke and kill valves that stand open."""
    actions: Sequence[str] = ()
    """The last actions, the latest first."""
    last: str = ""
    """The trainee's own last action."""
    alarms: Sequence[str] = ()
    reached: int = 0
    goals: int = 0
    goal: str = ""
    """The milestone that was reached last."""
    score: float | None = None
    faults: dict[str, float] = field(default_factory=dict)
    """The severity of each fault that is there, by its id."""
    coming: Sequence[tuple[str, float, str]] = ()
    """(fault, severity, when in words) of each that waits for its time or its condition."""
    running: bool = False
    """Whether a run would be cut short by another."""
    wish: str = ""
    """The check that its trainee asks to be allowed, by its title."""
    asked: Sequence[Asked] = ()
    """What its trainee asks for, the oldest first."""
    unread: bool = False
    """Whether its trainee has not pressed Begin yet."""
    checked: bool = False
    before: str = ""
    """The run that staff can take this place back to, with its time; empty for none."""

    def record(self) -> Message:
        """The same as JSON data, for another process; ``read()`` takes it back."""
        return asdict(self)

    @staticmethod
    def read(record: Message) -> Glance:
        """What ``record()`` gave; of another version's, what is known here, and nothing of what does not fit."""
        try:
            return _READER.validate_python(record)
        except ValidationError:
            return Glance(need="The other server runs another version")


_READER = TypeAdapter(Glance)


class Glances:
    """The glances of this process's places, each at most once a second, its score more seldom."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._kept: WeakKeyDictionary[object, tuple[float, Glance]] = WeakKeyDictionary()
        self._judging = (-FRESH_S, 0)
        """When this second's judging began, and how many runs it has judged."""
        self._scores: WeakKeyDictionary[Session, tuple[float, float]] = WeakKeyDictionary()

    def of(self, place: AnyPlace) -> Glance:
        """How the run at this place stands: here what was seen less than a second ago is given again, and of a place at
        another server what that one told last."""
        if isinstance(place, FarPlace):
            return Glance.read(place.card)
        now = self._clock()
        kept = self._kept.get(place.seat)
        if kept is None or now - kept[0] >= FRESH_S:
            kept = self._kept[place.seat] = now, self._look(place, now)
        return kept[1]

    def forget(self, place: Place) -> None:
        """Forget what was seen there, as something was done: whoever asks next gets how it stands then."""
        self._kept.pop(place.seat, None)

    def _look(self, place: Place, now: float) -> Glance:
        seat, run = place.seat, place.run
        shown = row_texts(place)
        if not isinstance(run, Session) or seat.page not in ("console", "sheet", "replay"):
            asks = seat.wish is not None
            need = f"Requests a check: {seat.wish.title}" if seat.wish else "Waits for a drill"
            wish = seat.wish.title if seat.wish else ""
            return Glance(rank=ASKS if asks else CHOOSES, need=need, state=shown["state"], wish=wish)
        goes = seat.page == "console"
        machine = run.machine
        stack, valves = _parts(run)
        deeds = Teller(machine, seat.drill, "field").deeds(run.log[-LOOKED_THROUGH:])[::-1]
        alarms = moment.unacknowledged(run)
        judged = run.referee if isinstance(run.referee, Runner) else None
        marks = [(judged.scope.reached.get(one.id), one.title) for one in judged.drill.milestone] if judged else []
        reached = sorted((t, title) for t, title in marks if t is not None)
        rank, need = _need(place, run, alarms)
        return Glance(
            rank=rank,
            need=need,
            drill=shown["drill"],
            clock=shown["clock"],
            state=shown["state"],
            figures=_figures(run, FIGURES),
            truths=_figures(run, TRUTHS),
            stack=[_preventer(run, part, name) for part, name in stack],
            lines=[name for part, name in valves if machine.read(f"{part}.position") < OPENED],
            actions=[_told(deed) for deed in deeds[:LAST]],
            last=next((_told(deed) for deed in deeds if deed.mine), ""),
            alarms=[] if seat.unbegun else alarms,
            reached=len(reached),
            goals=len(marks),
            goal=reached[-1][1] if reached else "",
            score=self._score(run, now) if goes and seat.drill is not None else seat.score,
            faults={fault: machine.read(f"fault.{fault}") for fault in present_faults(run)},
            coming=[
                (
                    one.fault,
                    one.last,
                    f"when {in_words(one.waits.when, machine, seat.drill)}" if one.waits else debrief.clock(one.begin),
                )
                for one in seat.ramps
                if one.begin > run.time
            ],
            wish=seat.wish.title if seat.wish else "",
            asked=[
                Asked(one.number, one.t, one.text, one.what is not None)
                for one in seat.talk.requests
                if goes and not one.answered
            ],
            running=goes,
            unread=seat.unbegun,
            checked=seat.checked,
            before="" if seat.before is None else f"{seat.before.title} at {debrief.clock(seat.before.t)}",
        )

    def _score(self, run: Session, now: float) -> float | None:
        """The score so far, some seconds old: a class is judged a few runs at a time, so that nobody waits for it."""
        kept = self._scores.get(run)
        if kept is None or now - kept[0] >= SCORE_S:
            if now - self._judging[0] >= FRESH_S:
                self._judging = now, 0
            if self._judging[1] < SCORES_AT_ONCE:
                self._judging = self._judging[0], self._judging[1] + 1
                kept = self._scores[run] = now, float(run.sheet().get("score", 0.0))
        return kept[1] if kept is not None else None


def _need(place: Place, run: Session, alarms: Sequence[str]) -> tuple[int, str]:
    """(rank, words): why somebody should go there."""
    seat = place.seat
    waiting = [one.text for one in seat.talk.requests if not one.answered]
    if seat.stuck or seat.unsaved:
        return STUCK, f"Not saved: {seat.stuck or seat.unsaved}"
    if seat.wish is not None:
        return ASKS, f"Requests a check: {seat.wish.title}"
    if seat.page != "console":
        return OVER, "Finished"
    if critical := _critical(run):
        return CRITICAL, f"Critical error: {critical}"
    if waiting:
        return ASKS, f"Asks: {waiting[0]}" + (f" and {len(waiting) - 1} more" if len(waiting) > 1 else "")
    if alarms and not seat.unbegun:
        return ALARM, f"Alarm not acknowledged: {alarms[0].partition(',')[0]}"
    if place.away and not seat.frozen:
        return AWAY, "The page is closed"
    if seat.frozen:
        return WAITS, "Frozen"
    if seat.unbegun:
        return WAITS, "Reads the situation: Begin not pressed"
    if seat.paused:
        return WAITS, "Paused"
    idle = run.time - next((entry.t for entry in reversed(run.log[-LOOKED_THROUGH:]) if entry.from_ not in BY), 0.0)
    if idle >= IDLE_S:
        return IDLE, f"No action for {int(idle // 60)} min"
    return RUNS, "At work"


def _critical(run: Session) -> str:
    made = run.referee.committed if isinstance(run.referee, Runner) else []
    return made[0].spec.title if made else ""


def _figures(run: Session, named: Sequence[tuple[str, str]]) -> list[tuple[str, float, str]]:
    signals = run.machine.signals
    return [(name, run.machine.read(tag), signals[tag].unit) for tag, name in named if tag in signals]


def _preventer(run: Session, part: str, name: str) -> PreventerState:
    read = run.machine.read
    return PreventerState(
        name,
        read(f"{part}.position"),
        read(f"{part}.closed") > 0.5,
        read(f"{part}.opened") > 0.5,
        _lit(run, part, "close"),
        _lit(run, part, "open"),
    )


def _lit(run: Session, part: str, lamp: str) -> bool | None:
    tag = f"{part}.lamp_{lamp}"
    return run.machine.read(tag) > 0.5 if tag in run.machine.signals else None


def _told(deed: Deed) -> str:
    """An action in plain words, with its time and who did it."""
    return f"{debrief.clock(deed.t)} {deed.by}: {deed.text}" + (f" (refused: {deed.refused})" if deed.refused else "")


_PARTS: WeakKeyDictionary[object, tuple[list[tuple[str, str]], list[tuple[str, str]]]] = WeakKeyDictionary()


def _parts(run: Session) -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
    """(id, name) of the preventers, top down, and of the choke and kill valves; none for a plant that is not there."""
    known = _PARTS.get(run.machine)
    if known is None:
        try:
            rig = RigView(load_plant(run.identity.plant)[0])
        except (PlantError, OSError):
            return [], []
        there = {tag.removesuffix(".position") for tag in run.machine.signals if tag.endswith(".position")}
        column = [(one.id, one.name) for one in rig.column() if one.id in there and one.kind != "connector"]
        lines = (*rig.line_valves("choke"), *rig.line_valves("kill"))
        valves = [(one.id, one.name) for one in lines if one.id in there]
        known = _PARTS[run.machine] = column, valves
    return known
