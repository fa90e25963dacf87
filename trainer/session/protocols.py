"""What a session needs of the plant and of whoever judges the run, and no more."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Protocol

from trainer.hydraulics.catalogue import Fault, Operable, Signal, Variables
from trainer.hydraulics.compile import Numbers
from trainer.hydraulics.refusal import Refusal
from trainer.session.commands import Command
from trainer.session.sheets import SheetData


class PlantProtocol(Variables, Protocol):
    """A compiled plant. All of what it remembers is in ``state`` and ``tick``."""

    state: Numbers
    tick: int

    @property
    def signals(self) -> Mapping[str, Signal]: ...

    @property
    def operables(self) -> Mapping[tuple[str, str], Operable]: ...

    @property
    def faults(self) -> Mapping[str, Fault]: ...

    @property
    def plant_hash(self) -> str: ...

    def set_fault(self, fault_id: str, severity: float) -> None:
        """Set how badly something has failed, 0 (healthy) to 1 (worst); KeyError for no fault of this plant."""

    def scan(self, scans: int = 1) -> None:
        """Advance by so many times 100 ms, five ticks; ArithmeticError when the numbers gave out."""

    def apply(self, command: Command) -> Refusal | None:
        """Carry a command out. None, or why it is refused: a sentence with its code."""


SPOKEN = ("messages", "refusals")
"""Keys of a referee's state that hold sentences told. They are kept in snapshots and stand in no hash: what was told
and refused follows from the log and the rest of the state, and a sentence may be reworded."""


class ScoreSheet(Protocol):
    """The verdict on a run, as far as a session needs it: something that turns into plain data."""

    def to_json(self) -> SheetData:
        """Plain data with at least ``passed``, ``score``, ``critical`` and ``criteria``."""


class Pause(Protocol):
    """Time in which a crew only waits, and which may be skipped on the drill's own terms."""

    @property
    def title(self) -> str: ...

    @property
    def most(self) -> float:
        """Simulated seconds that one skip covers at most, even when nothing happens."""


class Referee(Protocol):
    """Sets a drill up, watches it and scores it. All of what it remembers is in ``state()``."""

    @property
    def finished(self) -> bool: ...

    @property
    def messages(self) -> Sequence[tuple[float, str]]:
        """What the trainee has been told, with times, s: the situation first. Empty in free practice."""

    @property
    def left(self) -> float | None:
        """Seconds until the run ends by itself, now that all that ends it is done; None before that."""

    @property
    def open_titles(self) -> Sequence[tuple[str, str]]:
        """What could still earn points: titles on the score sheet, with the kind of criterion."""

    def waiting(self) -> Pause | None:
        """The wait that may be skipped now; None while there is something to do."""

    def begin(self, machine: Any) -> None:
        """Bring the plant to the initial condition of the drill; t = 0 is when this returns."""

    def attach(self, machine: Any) -> None:
        """Watch a plant that is already in the right state; ``load`` comes next."""

    def before(self, t: float, command: Command, refusal: Refusal | None) -> None:
        """See a command just given at ``t`` seconds, and why the plant refused it if it did."""

    def after(self, t: float) -> None:
        """See the plant after each scan of 100 ms, at ``t`` seconds from the start."""

    def state(self) -> dict[str, Any]:
        """All that the referee remembers, as plain JSON data; equal memories give equal data."""

    def load(self, state: dict[str, Any]) -> None:
        """Take back what ``state()`` gave; a plant has been attached before."""

    def sheet(self) -> ScoreSheet: ...


class _EmptySheet:
    def to_json(self) -> SheetData:
        return {"passed": False, "score": 0.0, "critical": [], "criteria": []}


class FreePracticeReferee:
    """The referee of free practice: sets nothing up, judges nothing, never ends the run."""

    finished = False
    messages: Sequence[tuple[float, str]] = ()
    left: float | None = None
    open_titles: Sequence[tuple[str, str]] = ()

    def waiting(self) -> Pause | None:
        """None: free practice names no wait, so that nothing in it is skipped."""
        return None

    def begin(self, machine: Any) -> None:
        """Leave the plant as it was built: free practice sets no depth, no reading and no fault."""

    def attach(self, machine: Any) -> None:
        """Watch nothing of the plant: no condition is bound, whatever it has."""

    def before(self, t: float, command: Command, refusal: Refusal | None) -> None:
        """Take no notice of a command at ``t`` seconds, carried out or refused."""

    def after(self, t: float) -> None:
        """Take no notice of the plant after the scan at ``t`` seconds from the start."""

    def state(self) -> dict[str, Any]:
        """An empty memory: free practice remembers nothing that a checkpoint could hash."""
        return {}

    def load(self, state: dict[str, Any]) -> None:
        """Take back an empty memory: there was nothing to remember, so there is nothing to do."""

    def sheet(self) -> ScoreSheet:
        """A sheet without criteria, with no points and not passed: free practice is not scored."""
        return _EmptySheet()
