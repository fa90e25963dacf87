"""A session: one plant, one referee, one clock, and the log of all that was done.

Time is counted in ticks of 20 ms and only ever moves by whole scans of 100 ms. Commands take effect between
scans. So a run is fixed by plant, drill, seed and the log, and a replay gives the same state to the bit.
"""

from __future__ import annotations

import base64
import math
from typing import Any, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from trainer import units
from trainer.constants import SCAN_HAIR, SCANS_PER_SECOND, TICKS_PER_SCAN, TICKS_PER_SECOND
from trainer.hydraulics.refusal import Refusal
from trainer.session import canonical, crewing, interventions, walking
from trainer.session.commands import FREE, GO, LONGEST_RUN, OPERATE, Command, Vocabulary, explain
from trainer.session.crewing import Crewing
from trainer.session.fitting import fit
from trainer.session.protocols import SPOKEN, PlantProtocol, Referee
from trainer.session.sheets import SheetData
from trainer.session.walking import Walking

CHECKPOINT_TICKS = 10 * TICKS_PER_SECOND
"""A checkpoint every ten simulated seconds."""

MOST_ENTRIES = 100_000
"""A log longer than this is no person's: 24 hours at more than one command a second."""


class Entry(BaseModel):
    """One line of the command log: a command, the tick it took effect at, and why it was refused if so.

    ``refused`` is the sentence that was shown, ``code`` the refusal's code; entries of before codes have none.
    """

    model_config = ConfigDict(extra="forbid", populate_by_name=True, allow_inf_nan=False)

    tick: int = Field(ge=0)
    do: str = Field(max_length=40)
    target: str = Field(max_length=120)
    value: float | str | None = None
    from_: str = Field(alias="from", max_length=40)
    refused: str | None = Field(default=None, max_length=2000)
    code: str | None = Field(default=None, pattern=r"^[a-z0-9_]{1,40}$")
    by: str | None = Field(default=None, pattern=r"^[a-z][a-z0-9_]{0,59}$")
    """Which member of a crew gave it; None where one person works, and then it is not written."""
    figure: float | None = None
    """What a call of a crew told or repeated, in the field unit of its reading; not written where there is none."""

    @property
    def t(self) -> float:
        """When the command took effect, in simulated seconds from the start of the run."""
        return self.tick / TICKS_PER_SECOND

    def command(self) -> Command:
        """The command as it was given; ValidationError when the entry holds none."""
        return Command.model_validate(
            {
                "t": self.t,
                "do": self.do,
                "target": self.target,
                "value": self.value,
                "from": self.from_,
                "by": self.by,
                "figure": self.figure,
            }
        )

    def record(self) -> dict[str, Any]:
        """The entry as plain data; one without a code or a crew is written as before there were any."""
        return self.model_dump(by_alias=True, exclude={*self._unsaid, *(() if self.code else ("code",))})

    def essence(self) -> dict[str, Any]:
        """What hashes of the run hold: the record with a refusal's code in the place of its sentence."""
        return self.model_dump(by_alias=True, exclude={"code", *self._unsaid}) | {"refused": self.code or self.refused}

    @property
    def _unsaid(self) -> tuple[str, ...]:
        """What is left out where one person works, or no figure was told."""
        return tuple(key for key, given in (("by", self.by), ("figure", self.figure)) if given is None)


class Checkpoint(BaseModel):
    """The state's hash at a tick, after the first ``entries`` entries of the log, which it covers too."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    tick: int = Field(ge=0)
    entries: int = Field(ge=0)
    state: str = Field(pattern=r"^[0-9a-f]{64}$")


class Identity(BaseModel):
    """What fixes a run besides its log: which plant, which drill, which seed, coached or not."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    plant: str = Field(max_length=120)
    plant_hash: str = Field(max_length=128)
    drill: str | None = Field(default=None, max_length=120)
    drill_hash: str | None = Field(default=None, max_length=128)
    seed: int = Field(default=0, ge=0, lt=2**53)
    mode: str = Field(default="check", max_length=40)


class Snapshot(BaseModel):
    """All of a session at one moment, as plain JSON data; its identity says which plant and drill it fits."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)

    format: int = 1
    identity: Identity
    tick: int = Field(ge=0, le=int(LONGEST_RUN) * TICKS_PER_SECOND)
    origin: int = Field(ge=0)
    machine: str = Field(max_length=4_000_000)
    armed: list[str] = Field(default_factory=list, max_length=1000, exclude=True)
    """Only older snapshots have it: every fault is always there now."""
    referee: dict[str, Any]
    log: list[Entry] = Field(max_length=MOST_ENTRIES)
    checkpoints: list[Checkpoint]


class SnapshotError(ValueError):
    """A snapshot that this plant or drill cannot take back, as one sentence that says why."""


class SessionCore:
    """A session over a built plant and a referee; ``trainer.simulator.Session`` builds both by name."""

    def __init__(
        self,
        machine: PlantProtocol,
        referee: Referee,
        identity: Identity,
        words: Vocabulary = FREE,
        walking: Walking | None = None,
        crewing: Crewing | None = None,
    ) -> None:
        self.machine = machine
        self.words = words
        self.referee = referee
        self.identity = identity
        self.walking = walking
        """Where the one person is who works alone; None where each station has its own."""
        self.crewing = crewing
        """The members of the crew and what they called, where several people work; None in every other run."""
        self.log: list[Entry] = []
        self.checkpoints: list[Checkpoint] = []
        self.tick = 0
        self.stopped = ""
        """Why the plant could not be computed further, as a sentence; the run then stands at the last sound scan."""
        self._owed = 0.0
        self._origin = 0
        self._link = ""
        self._spoken = False

    def begin(self) -> Self:
        """Let the referee set the drill up; simulated time starts here."""
        self.referee.begin(self.machine)
        self._origin = self.machine.tick
        self.checkpoints.append(self.checkpoint())
        return self

    def hash_sentences(self) -> Self:
        """Hash what was told and refused in its words too, as evidence of format 1 did; at the start only."""
        self._spoken = True
        self.checkpoints = [self.checkpoint()]
        return self

    @property
    def time(self) -> float:
        """Simulated seconds since the start of the run; 0 when the drill has just been set up."""
        return self.tick / TICKS_PER_SECOND

    @property
    def finished(self) -> bool:
        """Whether the run is over: drill ended, plant stopped, or a day passed. The clock then stands still."""
        return bool(self.stopped) or self.referee.finished or self.time >= LONGEST_RUN

    def checkpoint(self) -> Checkpoint:
        """The present tick with the SHA-256 of plant, referee and log as they stand."""
        memory = self.referee.state()
        if not self._spoken:
            memory = {key: value for key, value in memory.items() if key not in SPOKEN}
        state = canonical.state_hash(self.machine.state, memory, self._link)
        return Checkpoint(tick=self.tick, entries=len(self.log), state=state)

    def submit(self, command: Command | dict[str, Any]) -> Refusal | None:
        """Carry out a command now; None, or the sentence that says why it was refused.

        A dictionary is a line of an action file; its ``t`` may be left out, and one in the past is refused.
        A command that the plant does not have leaves no trace. One that the plant refuses is logged and seen
        by the referee, since trying it is something the trainee did.
        """
        if not isinstance(command, Command):
            if isinstance(command, dict) and "t" not in command:
                command = {"t": self.time, **command}
            try:
                command = Command.model_validate(command)
            except ValidationError as error:
                return Refusal("no_command", explain(error))
        if self.finished:
            return Refusal("ended", "the drill has ended; start it again to operate")
        if command.t < self.time - 1.0 / SCANS_PER_SECOND - SCAN_HAIR:
            return Refusal(
                "past", f"time goes backwards: the command is for {command.t:g} s, but it is {self.time:g} s"
            )
        if command.t > self.time + SCAN_HAIR:
            return Refusal(
                "future", f"the command is for {command.t:g} s, but it is only {self.time:g} s; advance first"
            )
        if len(self.log) >= MOST_ENTRIES:
            return Refusal("log_full", f"the log is full ({MOST_ENTRIES} commands); end the drill")
        fitted = fit(command, self.machine, self.words)
        if isinstance(fitted, str):
            return fitted
        if self.crewing is not None or crewing.asks_for(fitted):
            refused = crewing.refusal(self.crewing, fitted, self.machine, self.words, self.tick)
        else:
            refused = walking.refusal(self.walking, fitted, self.tick)
        return refused or self._carry_out(fitted)

    def _carry_out(self, command: Command) -> Refusal | None:
        command = command.model_copy(update={"t": self.time})
        refusal = self.machine.apply(command) if command.do in OPERATE else None
        self._record(
            Entry(
                tick=self.tick,
                do=command.do,
                target=command.target,
                value=command.value,
                from_=command.from_,
                refused=None if refusal is None else str(refusal),
                code=None if refusal is None else refusal.code,
                by=command.by,
                figure=command.figure if isinstance(command.figure, float) else None,
            )
        )
        self.referee.before(self.time, command, refusal)
        return refusal

    def intervene(
        self, do: str, target: str, value: float | str | None = None, by: str = "instructor"
    ) -> Refusal | None:
        """Do what somebody else than the trainee does (``trainer.session.interventions``); logged when carried out.

        None, or the sentence that says why it was not done; then nothing was changed and nothing is logged.
        """
        if self.finished:
            return Refusal("ended", "the drill has ended; nothing can be changed any more")
        if by not in interventions.BY:
            return Refusal("nobody", f"{by!r} does not intervene ({', '.join(interventions.BY)})")
        if len(self.log) >= MOST_ENTRIES:
            return Refusal("log_full", f"the log is full ({MOST_ENTRIES} commands); end the drill")
        done = interventions.carry_out(self.machine, do, target, value, by)
        if isinstance(done, str):
            return done
        if done is not None:
            value = done.value
        self._record(Entry(tick=self.tick, do=do, target=target, value=value, from_=by))
        if done is not None and by == interventions.ASSISTANT:
            self.referee.before(self.time, done.model_copy(update={"t": self.time}), None)
        return None

    def _record(self, entry: Entry) -> None:
        self.log.append(entry)
        if entry.do == GO and self.walking is not None:
            self.walking.go(entry.target, entry.tick)
        if self.crewing is not None and entry.by is not None:
            self.crewing.note(entry)
        link = {**entry.essence(), "refused": entry.refused} if self._spoken else entry.essence()
        self._link = canonical.link(self._link, link)

    def advance(self, seconds: float) -> int:
        """Let ``seconds`` of simulated time pass; returns the number of scans done.

        Only whole scans are done; what is left over is kept for the next call. The clock stops at the drill's
        end. ValueError for a time that is negative, not finite, or longer than a day.
        """
        if not 0.0 <= seconds <= LONGEST_RUN:
            raise ValueError(f"{seconds!r} s cannot pass; give 0 to {LONGEST_RUN:g} s")
        owed = self._owed + seconds * SCANS_PER_SECOND
        whole = math.floor(owed + SCAN_HAIR)
        self._owed = max(0.0, owed - whole)
        return self._scans(whole)

    def advance_to(self, t: float) -> int:
        """Advance to the first scan boundary at or after ``t`` seconds; nothing when that is past."""
        if not 0.0 <= t <= LONGEST_RUN:
            raise ValueError(f"{t!r} s is no time of a run; give 0 to {LONGEST_RUN:g} s")
        self._owed = 0.0
        boundary = math.ceil(t * SCANS_PER_SECOND - SCAN_HAIR)
        return self._scans(boundary - self.tick // TICKS_PER_SCAN)

    def _scans(self, count: int) -> int:
        scan, after, state = self.machine.scan, self.referee.after, self.machine.state
        done = 0
        while done < count and not self.finished:
            sound = bytes(state)
            try:
                scan()
            except ArithmeticError as error:
                memoryview(state).cast("B")[:] = sound
                self.stopped = str(error)
                break
            self.tick += TICKS_PER_SCAN
            after(self.tick / TICKS_PER_SECOND)
            done += 1
            if self.tick % CHECKPOINT_TICKS == 0:
                self.checkpoints.append(self.checkpoint())
        return done

    def signals(self) -> dict[str, float]:
        """Every signal's value in its field unit; the index of the state for a discrete one."""
        read = self.machine.read
        return {tag: units.to_unit(read(tag), signal.unit) for tag, signal in self.machine.signals.items()}

    def sheet(self) -> SheetData:
        """The score sheet as it stands, as plain data: what the run would be worth if it ended now."""
        return self.referee.sheet().to_json()

    def snapshot(self) -> dict[str, Any]:
        """All of the session as plain JSON data; ``resume`` of a like session goes on from it to the bit."""
        packed = base64.b64encode(bytes(self.machine.state)).decode("ascii")
        return Snapshot(
            identity=self.identity,
            tick=self.tick,
            origin=self._origin,
            machine=packed,
            referee=self.referee.state(),
            log=self.log,
            checkpoints=self.checkpoints,
        ).model_dump(by_alias=True)

    def resume(self, snapshot: Snapshot) -> Self:
        """Take a snapshot back into this freshly built session; SnapshotError when it does not fit."""
        if snapshot.identity != self.identity:
            raise SnapshotError(
                f"the snapshot was taken of {snapshot.identity.plant}/{snapshot.identity.drill} in another "
                "version of the plant or drill; start the drill again"
            )
        try:
            # In place: compiled plants and referees hold on to the state.
            memoryview(self.machine.state).cast("B")[:] = base64.b64decode(snapshot.machine, validate=True)
        except ValueError as error:
            raise SnapshotError("the snapshot's plant state is damaged; start the drill again") from error
        self.machine.tick = snapshot.origin + snapshot.tick
        self.referee.attach(self.machine)
        self.referee.load(snapshot.referee)
        self.tick = snapshot.tick
        self._origin = snapshot.origin
        self.log, self._link = [], ""
        if self.walking is not None:
            self.walking.reset()
        if self.crewing is not None:
            self.crewing.reset()
        for entry in snapshot.log:
            self._record(entry)
        self.checkpoints = list(snapshot.checkpoints)
        return self


def read_snapshot(data: object) -> Snapshot:
    """A snapshot from plain data of any origin; SnapshotError, one sentence, when it is none."""
    try:
        return Snapshot.model_validate(data)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        where = ".".join(str(part) for part in first["loc"]) or "the document"
        raise SnapshotError(f"not a snapshot: {where}: {first['msg']}") from error
