"""Where fluid moves: which functions are on their way, for the lines of the schematic.

No instrument tells that, so only drawings that may show the truth ask for it. They ask by the key: ``page.flow:ram``
goes forward while the ram closes and back while it opens; ``page.moves:ram,annular`` goes forward while any does; and
``page.runs:pump.flow,filter.dp`` goes forward while any of those readings tells a flow. ``page.pod_valve:ram.blue`` is
open, block or close as the valve of that function in that pod stands, ``page.cut:ram`` yes once that ram has cut pipe.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from typing import Final

from trainer.drawing.sheet import CUT, FLOW, MOVES, POD_VALVE, RUNS

#: A stroke that goes on by less than this share between two looks counts as still.
STILL: Final = 5e-4
#: Below these a flow (m3/s) and the drop across a filter (Pa) count as none: about a litre a minute.
TRICKLE: Final = 1.6e-5
NO_DROP: Final = 5.0


class Moving:
    """Compares positions from one look to the next."""

    def __init__(self, keys: Collection[str], known: Iterable[str]) -> None:
        tags = set(known)
        self._keys = {
            key: [f"{name}.position" for name in key.partition(":")[2].split(",") if f"{name}.position" in tags]
            for key in keys
            if key.startswith((FLOW, MOVES))
        }
        self._runs = {
            key: [tag for tag in key.removeprefix(RUNS).split(",") if tag in tags]
            for key in keys
            if key.startswith(RUNS)
        }
        self._tags = {tag for tags in self._keys.values() for tag in tags}
        self._at: dict[str, float] = {}
        self._valves = [key for key in keys if key.startswith(POD_VALVE)]
        self._cuts = [key for key in keys if key.startswith(CUT)]

    def look(self, read: Callable[[str], float]) -> dict[str, dict[str, str]]:
        """The reading of every key."""
        went: dict[str, float] = {}
        for tag in self._tags:
            now = read(tag)
            went[tag] = now - self._at.get(tag, now)
            self._at[tag] = now
        ways = {key: _way(key, [went[tag] for tag in tags]) for key, tags in self._keys.items()}
        for key, tags in self._runs.items():
            runs = any(read(tag) > (NO_DROP if tag.endswith(".dp") else TRICKLE) for tag in tags)
            ways[key] = "forward" if runs else "none"
        found = {key: {"flow": way} for key, way in ways.items()}
        for key in self._cuts:
            found[key] = {"state": "yes" if read(f"{key.removeprefix(CUT)}.cut") > 0.5 else "no"}
        for key in self._valves:
            function, _, pod = key.removeprefix(POD_VALVE).partition(".")
            opens, closes = (read(f"{function}.{way}.{pod}.x") for way in ("open", "close"))
            found[key] = {"state": "open" if opens > 0.5 else "close" if closes > 0.5 else "block"}
        return found


def _way(key: str, went: list[float]) -> str:
    moved = [step for step in went if abs(step) > STILL]
    if not moved:
        return "none"
    return "back" if key.startswith(FLOW) and moved[0] < 0.0 else "forward"
