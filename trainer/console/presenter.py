"""From a running session to patches: what each board and chart has to show anew since the last look.

A patch is ``{model name: {property: value}}`` for boards and ``{source name: {"stream": {column: [...]}}}`` or
``{"data": {...}}`` for charts. The classroom server applies it to the models in Python, the edition without a
server applies the same patch in the browser. Nothing here knows of either.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import compress
from operator import ne
from typing import Any, Protocol

from trainer import units
from trainer.console.bindings import Bindings
from trainer.console.moving import Moving, taker
from trainer.console.reading import Readable, Reading, cell, reader
from trainer.console.trends import LINES, History
from trainer.hydraulics.catalogue import POWER, on_panel_power, own_power
from trainer.naming import FURTHER

Patch = dict[str, dict[str, Any]]

#: Boards whose instruments live on the panels' supply.
PANELS = ("driller", "aside", "backups", "remote", "watch", "alarms", "schematic")
#: What stands at a chart whose recorders have no power.
NOT_RECORDED = "No panel power: not recorded"
#: Texts of the page that such an instrument shows.
METERED = ("page.spent", "page.spent_of")

#: Boards of the page itself read these; anything else a board binds is a signal's tag.
PAGE = "page."


class Instruments(Readable, Protocol):
    """The part of a compiled plant that can be looked at."""

    @property
    def index(self) -> Mapping[str, int]: ...

    @property
    def state(self) -> Sequence[float]: ...


class Watched(Protocol):
    """The part of a session that can be looked at."""

    @property
    def machine(self) -> Instruments: ...

    @property
    def time(self) -> float: ...


def without_power(reading: Reading) -> Reading:
    """What an instrument shows of a reading when its supply is gone: no number, the needle at rest, no lamp lit."""
    rest = {"text": "–", "state": "dark", "fraction": 0.0, "flow": "none", "level": "dead"}
    out = {part: rest.get(part, value) for part, value in reading.items()}
    if "title" in out:
        out["title"] = f"{str(out['title']).partition(':')[0]}: no power"
    return out


def joined(first: Patch, then: Patch) -> Patch:
    """Two patches as one, in their order: what both say of a board is put together, the later reading on top."""
    out = dict(first)
    for name, change in then.items():
        before = out.get(name, {})
        out[name] = {**before, **change}
        if "readings" in before and "readings" in change:
            out[name]["readings"] = {**before["readings"], **change["readings"]}
    return out


class Presenter:
    """Looks at a session and tells what changed.

    ``boards`` gives, for each board by name, the keys it binds (``bindings(markup)``). Without it one board called
    ``"all"`` gets the whole catalogue. ``page`` gives the texts of the page itself, ``page.clock`` and the like.
    """

    def __init__(
        self,
        session: Watched,
        units: units.System = "field",
        boards: Mapping[str, Bindings] | None = None,
        page: Callable[[], Mapping[str, Reading]] | None = None,
        history: History | None = None,
    ) -> None:
        self.session = session
        signals = session.machine.signals
        self.boards = boards if boards is not None else {"all": dict.fromkeys(signals, ("text", "unit", "title"))}
        self.history = history if history is not None else History()
        self._page = page if page is not None else dict
        self._where: dict[str, list[str]] = {}
        self._dead: frozenset[str] = frozenset()
        self.units = units
        self.use(units)

    @property
    def unknown(self) -> tuple[str, ...]:
        """Keys that boards bind but this plant does not have: those readings stay as they were drawn."""
        signals = self.session.machine.signals
        keys = {key for board in self.boards.values() for key in board}
        return tuple(sorted(key for key in keys if key not in signals and not key.startswith(PAGE)))

    @property
    def dark(self) -> frozenset[str]:
        """The tags that instruments on the panels' supply do not show now: none while it is there."""
        return self._fed if POWER in self._dead else frozenset()

    def use(self, system: units.System) -> None:
        """Show everything in field or metric units from the next ``first`` or ``patch`` on."""
        self.units = system
        signals = self.session.machine.signals
        kinds: dict[str, list[str]] = {}
        self._where = {}
        for name, keys in self.boards.items():
            for key, wanted in keys.items():
                self._where.setdefault(key, []).append(name)
                kinds.setdefault(key, []).extend(wanted)
        known = [(tag, signals[tag], wanted) for tag, wanted in kinds.items() if tag in signals]
        self._readers = [
            (at, tag, reader(signal, wanted, system), cell(signal, wanted, system))
            for at, (tag, signal, wanted) in enumerate(known)
        ]
        index = self.session.machine.index
        self._take = taker(index[tag] for _, tag, *_ in self._readers)
        self._kinds = kinds
        self._moving = Moving(kinds, index)
        self._fed = frozenset(tag for tag in kinds if tag in METERED or self._on_panels(tag))
        # By board: the reading that tells of its supply, and what is dark on it without.
        self._supplies = dict.fromkeys(PANELS, (POWER, self._fed))
        for board in FURTHER:
            power = own_power(board, signals)
            self._supplies[board] = (power, frozenset(self.boards.get(board, ())) - {power})
        self._forget()
        self._shown: dict[str, Reading] = {}
        self.history.show_in(system, signals)

    def _on_panels(self, tag: str) -> bool:
        signals = self.session.machine.signals
        return tag in signals and on_panel_power(signals[tag])

    def _forget(self) -> None:
        """Nothing counts as shown any more."""
        self._raw: Sequence[float | None] = [None] * len(self._readers)
        # Between which values each reading is the same as shown: between none.
        self._same = [(0.0, 0.0)] * len(self._readers)

    def bind(self, board: str, keys: Bindings) -> None:
        """Another markup stands on a board: the next ``patch`` fills it."""
        self.boards = {**self.boards, board: keys}
        self.use(self.units)

    def first(self) -> Patch:
        """Every reading of every board, and the charts' whole history: for a page just opened."""
        self._forget()
        self._moving = Moving(self._kinds, self.session.machine.index)
        self._shown.clear()
        out = self._changes()
        out.update(self.history.whole())
        out.update(self._recorders())
        return out

    def patch(self) -> Patch:
        """Only what changed since ``first`` or the last ``patch``."""
        out = self._changes()
        self.history.look(self.session.time, self.session.machine)
        out.update(self.history.news())
        return out

    def _changes(self) -> Patch:
        machine = self.session.machine
        shown, values = self._shown, self._take(machine.state)
        # Mostly nothing has changed: what has is found without a step of Python for each reading.
        news = compress(zip(self._readers, values, strict=True), map(ne, values, self._raw))
        self._raw = values
        out: Patch = {}
        supplies = {power for power, _ in self._supplies.values() if power in machine.index}
        dead = frozenset(power for power in supplies if machine.read(power) < 0.5)
        turned, self._dead = dead ^ self._dead, dead
        same = self._same
        for (at, tag, show, around), value in news:
            least, most = same[at]
            if least < value < most:
                continue
            same[at] = around(value)
            reading = show(value)
            if shown.get(tag) != reading:
                shown[tag] = reading
                self._put(out, tag, reading)
        page = {**self._page(), **self.history.happened.texts(self.units), **self._moving.look(machine.state)}
        for key, reading in page.items():
            if shown.get(key) != reading:
                shown[key] = reading
                self._put(out, key, reading)
        if turned:
            lost = {key for power, keys in self._supplies.values() if power in turned for key in keys}
            for key in lost & shown.keys():
                self._put(out, key, shown[key])
            out.update(self._recorders())
        return out

    def _recorders(self) -> Patch:
        """A sign at each chart of recorders on the panels' supply, while that is lost."""
        signals = self.session.machine.signals
        said = NOT_RECORDED if POWER in self._dead else ""
        return {
            f"{name}.x": {"axis_label": said}
            for name, lines in LINES.items()
            if name.endswith("_wide") and all(tag in signals and on_panel_power(signals[tag]) for tag, _ in lines)
        }

    def _put(self, out: Patch, key: str, reading: Reading) -> None:
        for board in self._where.get(key, ()):
            power, keys = self._supplies.get(board, ("", frozenset()))
            said = without_power(reading) if power in self._dead and key in keys else reading
            out.setdefault(board, {"readings": {}})["readings"][key] = said
