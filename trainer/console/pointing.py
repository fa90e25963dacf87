"""Where on the boards the coach points: which of its targets stand where, and the views they are on."""

from __future__ import annotations

import functools
import html
import json
import re
from collections.abc import Mapping, Sequence
from typing import Final

from trainer.console.presenter import PANELS
from trainer.console.reading import Reading
from trainer.console.shell import OF_SOME, VIEWS
from trainer.drills.pointing import AHEAD, UNIT
from trainer.naming import FURTHER, STATIONS

_SEND: Final = re.compile(r'data-send="([^"]+)"')
_TAG: Final = re.compile(r'data-(?:tag|text|state)="([^"]+)"')
#: Boards that are in sight beside some of the views, or always.
BESIDE: Final[Mapping[str, tuple[str, ...]]] = {
    "floor_strip": ("driller",),
    "watch": ("driller", "aside", "backups", "floor", "schematic", "trends"),
    "alarms": ("trends",),
    "entries": ("",),
    "header": ("",),
}
MOST_BESIDE: Final = 3
#: What stands at the control unit; its own tab first.
UNIT_VIEWS: Final = ("unit", "care", "picture")
#: A sentence that names one of these panels means the controls on it.
NAMED: Final = {STATIONS[name]: name for name in ("driller", "remote")}
_ORDER: Final = [*(name for name, _ in (*VIEWS, *OF_SOME)), *FURTHER]


@functools.lru_cache(maxsize=64)
def _on(markup: str) -> frozenset[str]:
    """The targets that a board's markup shows."""
    found = {f"tag:{tag}" for tag in _TAG.findall(markup)}
    for sent in _SEND.findall(markup):
        command: dict[str, object] = json.loads(html.unescape(sent))
        do, target, value = command.get("do"), command.get("target"), command.get("value")
        if do in ("say", "read"):
            found.add(f"{do}:{target}" if target else f"{do}:")
        else:
            found |= {f"control:{target}", f"control:{target}={value}"}
    return frozenset(found)


def shown(target: str, markup: str) -> bool:
    """Whether a board shows a target; an entry counts where the form for all of its kind stands."""
    on = _on(markup)
    kind = target.partition(":")[0]
    if target in ("say:", "read:"):
        return any(known.startswith(target) for known in on)
    return target in on or (kind in ("say", "read") and f"{kind}:" in on)


def views(target: str, drawn: Mapping[str, str], dark: frozenset[str] = frozenset()) -> list[str]:
    """The views on which a target stands, in the order of their tabs; ``""`` for what is always in sight.

    A tag in ``dark`` is shown by no instrument on the panels' supply.
    """
    if target == "name" or target.startswith(AHEAD):
        return [""]
    if target.removeprefix("tag:") in dark:
        drawn = {board: markup for board, markup in drawn.items() if board not in PANELS}
    names = {name for board, markup in drawn.items() if shown(target, markup) for name in BESIDE.get(board, (board,))}
    # A further panel is one way more: the coach sends nobody there for what stands elsewhere.
    names = names.difference(FURTHER) or names
    return sorted(names & {"", *_ORDER}, key=lambda name: -1 if name == "" else _ORDER.index(name))


def reached(
    targets: Sequence[str], drawn: Mapping[str, str], dark: frozenset[str] = frozenset()
) -> dict[str, list[str]]:
    """The targets that stand somewhere, with their views; else what belongs to the same parts."""
    where = {target: found for target in targets if (found := views(target, drawn, dark))}
    if where:
        # The lamp of a control is the control's own: whoever is shown the control needs no other view for it.
        controls = {target.partition(":")[2].partition("=")[0] for target in where if target.startswith("control:")}
        return {target: at for target, at in where.items() if _lamp_of(target) not in controls}
    parts = {target.partition(":")[2].partition("=")[0].rpartition(".")[0] for target in targets} - {""}
    known = sorted({target for markup in drawn.values() for target in _on(markup) if "=" not in target})
    beside = [target for target in known if target.partition(":")[2].rpartition(".")[0] in parts]
    return {target: found for target in beside[:MOST_BESIDE] if (found := views(target, drawn))}


def _lamp_of(target: str) -> str:
    """The control whose position a target shows; empty where it shows none."""
    return target.removeprefix("tag:").removesuffix(".valve") if target.endswith(".valve") else ""


def point(
    targets: Sequence[str], drawn: Mapping[str, str], dark: frozenset[str] = frozenset(), said: str = ""
) -> Reading:
    """The reading by which the page lights what the coach speaks of, and the tabs where it is.

    Controls are lit on the panel alone that the coach's words ``said`` name, where they name one. Instruments of the
    tags in ``dark`` show nothing where they live on the panels' supply: they are passed over.
    """
    # A page asks ten times a second, and the boards are drawn anew once in a while.
    named = [panel for words, panel in NAMED.items() if words in said.casefold()]
    panel = named[0] if len(named) == 1 else ""
    return {"state": _where(tuple(targets), tuple(drawn.items()), dark, panel) if targets else ""}


@functools.lru_cache(maxsize=256)
def _where(targets: tuple[str, ...], drawn: tuple[tuple[str, str], ...], dark: frozenset[str], panel: str) -> str:
    where = reached([target for target in targets if target != UNIT], dict(drawn), dark)
    for target, found in where.items():
        if panel in found and target.startswith("control:"):
            where[target] = [panel]
    if UNIT in targets:
        # What the coach sends to the unit for is not meant where it stands on a panel.
        near = {target: [view for view in found if view in UNIT_VIEWS] for target, found in where.items()}
        where = {target: near[target] or found for target, found in where.items()} | {UNIT: [UNIT_VIEWS[0]]}
    return json.dumps(where) if where else ""
