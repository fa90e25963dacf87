"""One board of the console as a Panel component: markup, readings, and the commands a hand gives it."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

import param
from panel.custom import JSComponent

from trainer import resources
from trainer.console.message import Message

#: The host element fills its place, whatever the layout around it thinks of its size.
_FILL = ":host, :host > div { display: block; width: 100% }"


def style(*names: str) -> str:
    """The style sheets that a board carries inside its shadow root."""
    folder = resources.assets() / "style"
    return "\n".join([_FILL, *((folder / name).read_text("utf-8") for name in names)])


class Board(JSComponent):
    """Markup with readings bound by data attributes (the language is told at the head of ``board.js``).

    ``readings`` takes only what changed, ``{key: {"text": ..., "state": ..., "fraction": ...}}``; the browser
    keeps the rest. ``station`` is where the board stands: it becomes ``from`` of every command sent from it.
    Messages reach Python by ``listen``.
    """

    markup = param.String(default="", doc="HTML and SVG drawn by Python; trusted, never from a user")
    readings = param.Dict(default={}, doc="what changed since the last readings")
    station = param.String(default="", doc="unit, driller, remote or floor; empty on boards of the page itself")

    _esm = (resources.assets() / "script" / "board.js").read_text("utf-8")
    _stylesheets: ClassVar[list[str]] = []

    def listen(self, hear: Callable[[Message], None]) -> None:
        """Call ``hear`` with every message this board sends."""
        self.on_msg(lambda event: hear(event.data))
