"""Where fluid moves: which functions are on their way, for the lines of the schematic.

No instrument tells that, so only drawings that may show the truth ask for it. They ask by the key: ``page.flow:ram``
goes forward while the ram closes and back while it opens; ``page.moves:ram,annular`` goes forward while any does; and
``page.runs:pump.flow,filter.dp`` goes forward while any of those readings tells a flow. ``page.pod_valve:ram.blue`` is
open, block or close as the valve of that function in that pod stands, ``page.cut:ram`` yes once that ram has cut pipe.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from operator import itemgetter
from typing import Any, Final

from trainer.drawing.sheet import CUT, FLOW, MOVES, POD_VALVE, RUNS

#: A stroke that goes on by less than this share between two looks counts as still.
STILL: Final = 5e-4
#: Below these a flow (m3/s) and the drop across a filter (Pa) count as none: about a litre a minute.
TRICKLE: Final = 1.6e-5
NO_DROP: Final = 5.0


def taker(places: Iterable[int]) -> Callable[[Sequence[float]], tuple[float, ...]]:
    """What takes the numbers at these places out of a plant's state, at once."""
    chosen = [*places]
    if len(chosen) > 1:  # of a single place a getter gives the number itself
        get: Any = itemgetter(*chosen)
        return get  # type: ignore[no-any-return]
    return lambda state: tuple(state[place] for place in chosen)


class Moving:
    """Compares positions from one look to the next. ``index`` says where in the state each quantity stands."""

    def __init__(self, keys: Collection[str], index: Mapping[str, int]) -> None:
        tags = index.keys()
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
        self._tags = sorted({tag for tags in self._keys.values() for tag in tags})
        self._still = {key: {"flow": "none"} for key in self._keys}
        self._cuts = [(key, f"{key.removeprefix(CUT)}.cut") for key in keys if key.startswith(CUT)]
        self._valves = [(key, *_ways(key)) for key in keys if key.startswith(POD_VALVE)]
        others = {tag for tags in self._runs.values() for tag in tags}
        others |= {cut for _, cut in self._cuts} | {way for _, *ways in self._valves for way in ways}
        self._others = sorted(others)
        self._take = taker(index[tag] for tag in (*self._tags, *self._others))
        self._at: tuple[float, ...] = ()
        self._rest = False

    def look(self, state: Sequence[float]) -> dict[str, dict[str, str]]:
        """The reading of every key; nothing when it is what was told last."""
        now = self._take(state)
        if now == self._at:
            if self._rest:
                return {}
            self._rest = True
        else:
            self._rest = False
        count = len(self._tags)
        found = self._moves(now[:count], self._at[:count] or now[:count])
        self._at = now
        value = dict(zip(self._others, now[count:], strict=True))
        for key, tags in self._runs.items():
            runs = any(value[tag] > (NO_DROP if tag.endswith(".dp") else TRICKLE) for tag in tags)
            found[key] = {"flow": "forward" if runs else "none"}
        for key, cut in self._cuts:
            found[key] = {"state": "yes" if value[cut] > 0.5 else "no"}
        for key, opens, closes in self._valves:
            found[key] = {"state": "open" if value[opens] > 0.5 else "close" if value[closes] > 0.5 else "block"}
        return found

    def _moves(self, now: tuple[float, ...], before: tuple[float, ...]) -> dict[str, dict[str, str]]:
        """The readings of what strokes: mostly nothing does, and nothing is worked out."""
        if now == before:
            return dict(self._still)
        went = {tag: new - old for tag, new, old in zip(self._tags, now, before, strict=True)}
        return {key: {"flow": _way(key, [went[tag] for tag in tags])} for key, tags in self._keys.items()}


def _ways(key: str) -> tuple[str, str]:
    """The positions of the two valves of a function in a pod."""
    function, _, pod = key.removeprefix(POD_VALVE).partition(".")
    return f"{function}.open.{pod}.x", f"{function}.close.{pod}.x"


def _way(key: str, went: list[float]) -> str:
    moved = [step for step in went if abs(step) > STILL]
    if not moved:
        return "none"
    return "back" if key.startswith(FLOW) and moved[0] < 0.0 else "forward"
