"""Readings straight to the browser: one small message a beat instead of a property change for each board.

Readings change on every board ten times a second, charts grow once a second, and their models need not remember that:
a page that opens anew is given everything. So both go over a channel of their own (``channel.py``) as long as it is
open. What else a patch holds, such as markup, goes the page library's way, when its document next has a turn. Each
message has a number, and a board shows what came with the highest, since the two ways keep no order between them.
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from typing import Any

from bokeh.document import Document
from panel.io import hold

from trainer.classroom.channel import Channel
from trainer.console.pages import Page
from trainer.console.presenter import Patch
from trainer.console.reading import Reading

HEADER = "header"
ORDER = "page.order"
CHARTS = ("trend", "events")
"""The sources of the strip charts; finite numbers and texts."""
LOST = "The connection to the trainer is lost. Your run is kept: reload the page when the server is back."
KEPT_S = 3.0
"""So long what was told the page library's way is told again with what is new."""


class Recent:
    """What a board was told in the last moments, told again with what is new.

    Two changes of one property that wait in the same queue become one, the later: without this what only the
    earlier one said would be lost.
    """

    def __init__(self) -> None:
        self._told: dict[str, dict[str, tuple[float, object]]] = {}

    def with_new(self, board: str, readings: Mapping[str, Any], now: float) -> dict[str, Any]:
        """The readings of a board, new ones and those of the last moments."""
        told = self._told.setdefault(board, {})
        out = {key: reading for key, (at, reading) in told.items() if now - at < KEPT_S} | dict(readings)
        for key in [key for key, (at, _) in told.items() if now - at >= KEPT_S]:
            del told[key]
        # A file is handed over once.
        told.update({key: (now, reading) for key, reading in readings.items() if "content" not in reading})
        return out

    def overtaken(self, board: str, readings: Mapping[str, object], now: float) -> None:
        """These went another way: what is told again is as new as they are."""
        told = self._told.get(board)
        if told:
            told.update({key: (now, reading) for key, reading in readings.items() if key in told})


class Wire:
    """How the patches of one page reach its browser."""

    def __init__(self, page: Page, document: Document, channel: Channel) -> None:
        self._page = page
        self._document = document
        self._recent = Recent()
        self._count = 0
        self.channel = channel

    def send(self, patch: Patch, greet: bool = False) -> None:
        """Bring the page up to date; ``greet`` tells it also where its channel is."""
        now = time.monotonic()
        self._count += 1
        if greet:
            header = patch.get(HEADER, {})
            door: Reading = {"text": self.channel.ticket, "title": LOST}
            patch = {**patch, HEADER: {**header, "readings": {**header.get("readings", {}), "page.channel": door}}}
        readings = {name: change["readings"] for name, change in patch.items() if "readings" in change}
        charts = {name: patch[name] for name in CHARTS if name in patch}
        if (readings or charts) and not greet and self.channel.send(self._count, readings, charts):
            for name, change in readings.items():
                self._recent.overtaken(name, change, now)
            patch = {
                name: left
                for name, change in patch.items()
                if name not in charts and (left := {key: value for key, value in change.items() if key != "readings"})
            }
        else:
            patch = self._whole(patch, now)
        if patch:
            self._document.add_next_tick_callback(lambda: self._apply(patch))

    def _apply(self, patch: Patch) -> None:
        with hold(self._document):
            self._page.apply(patch)

    def _whole(self, patch: Patch, now: float) -> Patch:
        """The patch, with the readings of the last moments again and the number of this message."""
        number: Reading = {"n": self._count}
        return {
            name: {**change, "readings": {**self._recent.with_new(name, change["readings"], now), ORDER: number}}
            if "readings" in change
            else change
            for name, change in patch.items()
        }
