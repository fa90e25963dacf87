"""One person alone at the console: the tabs of the stations are ways to walk, and on the way no station is in view."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from types import MappingProxyType
from typing import Protocol

from trainer import naming
from trainer.console.reading import Reading
from trainer.drawing.markup import Markup, el, live
from trainer.drills.schema import Drill
from trainer.session.walking import Walking, place_of

#: Views that stand nowhere: they may be looked at from every station.
NOWHERE = ("schematic", "trends")
#: The views of each place; the first is in sight on arrival unless another was chosen.
VIEWS_AT = {
    "driller": ("driller", "floor", "aside", "backups"),
    "unit": ("unit", "care", "picture"),
    "remote": ("remote",),
} | {station: (station,) for station in (*naming.FURTHER, *naming.APART)}
ON_THE_WAY = "walk"
ALONE_ON_THE_WAY = (
    "You are alone in this drill: you operate only the station where you are. On the way you see no gauge "
    "and no lamp. You can still report. In practice a higher speed shortens the wait."
)
ON_THE_CREWS_WAY = "On the way you see no gauge and no lamp. You can still call, and repeat calls back."


class Walks(Protocol):
    """The part of a run that is needed to walk in it and to know where one is."""

    @property
    def walking(self) -> Walking | None: ...

    @property
    def tick(self) -> int: ...

    def submit(self, command: dict[str, object]) -> str | None:
        """Carry out a command: None, or the sentence that says why not."""


class Walk:
    """Which view is in sight in a run where one person works alone."""

    def __init__(self, views: Collection[str] | None = None) -> None:
        self._wanted = "driller"
        self._views = views
        """The views that there are for whoever walks; None for all."""

    def to(self, run: Walks, view: str) -> str | None:
        """Go and look at a view; where it is another station's, the person sets out. The sentence why not, if so."""
        walking = run.walking
        if walking is None:
            return None
        place = next((place for place, views in VIEWS_AT.items() if view in views), None)
        if walking.left(_tick(run)) > 0:
            return str(walking.refuse_to_go(place or "driller", _tick(run)))
        if place is not None and place != place_of(walking.station):
            refused: str | None = run.submit({"do": "go", "target": place, "from": walking.station})
            if refused is not None:
                return refused
        self._wanted = view
        return None

    def look(self, view: str) -> None:
        """Look at a view without walking: in a replay nobody is anywhere."""
        self._wanted = view

    def texts(self, run: Walks, replayed: bool) -> dict[str, Reading]:
        """The texts of the page; none where stations are manned."""
        walking = getattr(run, "walking", None)
        if walking is None:
            return {}
        left = walking.left(_tick(run)) if not replayed else 0.0
        here = [one for one in VIEWS_AT[place_of(walking.station)] if self._views is None or one in self._views]
        # A run that was taken up again may stand elsewhere than this page remembers.
        if not replayed and self._wanted not in (*here, *NOWHERE):
            self._wanted = here[0]
        return {
            "page.view": {"state": ON_THE_WAY if left > 0 else self._wanted},
            "page.walk_to": {"text": f"On the way to {naming.station(walking.station)}"},
            "page.walk_left": {"text": f"{math.ceil(left)} s"},
        }


def _tick(run: Walks) -> int:
    return int(run.tick)


def alone(drill: Drill | None) -> bool:
    """Whether one person works all stations of a drill."""
    return drill is not None and drill.crew == "alone"


def on_the_way(alone: bool = True) -> Markup:
    """What is in sight on the way from one station to another; ``alone``: not in a crew, whose pace is the clock's."""
    return el(
        "div",
        {"class": "walk"},
        el("div", {"role": "status"}, el("h2", {}, live("page.walk_to", "On the way"))),
        el("p", {"class": "walk-left"}, live("page.walk_left", "–")),
        el("p", {}, ALONE_ON_THE_WAY if alone else ON_THE_CREWS_WAY),
    )


def rule(drill: Drill, further: Mapping[str, float] = MappingProxyType({})) -> str:
    """The rule of walking in a drill, for its briefing; nothing where stations are manned.

    ``further`` are the ways to the rig's further panels by their stations, s.
    """
    if drill.crew != "alone":
        return ""
    more = "".join(f", {naming.station(at)} {seconds:g} s" for at, seconds in further.items())
    return (
        "You are alone. You begin at the driller's panel, which is on the drill floor. The control unit is "
        f"{drill.ways.unit:g} s away on foot, the toolpusher's panel {drill.ways.remote:g} s{more}; choose a station "
        "above to walk there. Schematic and trends can be seen from everywhere."
    )
