"""Files that staff bring in: Panel's own field for them, bounded on the server."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import panel as pn

from trainer.classroom.instructor import RefusedError

LONGEST_NAME = 1000
CHUNK = 100_000
"""Bytes of a piece; the page's socket takes no message of twice that."""


class Files(pn.widgets.FileDropper):
    """Takes files in pieces, and no more of them than ``most`` with ``largest`` bytes together, whatever a browser
    sends, and only while ``may`` says that whose page it is may still bring some. They are bytes and never more."""

    largest: int = 40_000_000
    most: int = 200

    def __init__(self, may: Callable[[], bool] = lambda: True, **more: object) -> None:
        self._may = may
        self._sizes: dict[str, int] = {}
        self.too_much = False
        # An empty list of previews is not sent, so that the browser takes all; that of PDF fails when the field goes.
        super().__init__(chunk_size=CHUNK, previews=["image"], **more)

    def _process_event(self, event: Any) -> None:
        # The library's place for what a widget makes of its browser's events.
        if not self._may() or not _well_formed(event.event_name, event.data):
            return
        if event.event_name == "upload_event" and not self._fits(event.data):
            self.too_much = True
            return
        super()._process_event(event)

    def _fits(self, said: Mapping[str, Any]) -> bool:
        name, piece = said["name"], len(said["data"])
        size = piece if said["chunk"] == 1 else self._sizes.get(name, 0) + piece
        others = sum(held for other, held in self._sizes.items() if other != name)
        if size + others > self.largest or (name not in self._sizes and len(self._sizes) >= self.most):
            return False
        self._sizes[name] = size
        return True

    def taken(self) -> dict[str, bytes]:
        """The files by name."""
        return {
            str(name): content.encode() if isinstance(content, str) else bytes(content)
            for name, content in self.value.items()
        }


class OneFile(pn.Column):
    """A field for one file, which is empty again once its file was taken.

    kind: the field's name, which says what it takes. largest: bytes. may: as in ``Files``.
    """

    def __init__(self, kind: str, largest: int, may: Callable[[], bool]) -> None:
        self._kind, self._largest, self._may = kind, largest, may
        super().__init__(self._field(), sizing_mode="stretch_width")

    def _field(self) -> Files:
        field = Files(self._may, label=self._kind, sizing_mode="stretch_width")
        field.largest, field.most = self._largest, 1
        return field

    def take(self) -> bytes:
        """The bytes of the file that was sent; RefusedError where there is none, or it is too large."""
        field = self[0]
        self[0] = self._field()
        assert isinstance(field, Files)
        sent = list(field.taken().values())
        if field.too_much:
            raise RefusedError(f"larger than {self._largest} bytes; such a file is a few pages at most")
        if not sent or not sent[-1]:
            raise RefusedError("no file was sent; choose a file first")
        return sent[-1]


def _well_formed(kind: str, said: object) -> bool:
    """Whether an event is what the library's own field sends: a browser may send anything."""
    if not isinstance(said, Mapping) or not isinstance(name := said.get("name"), str) or len(name) > LONGEST_NAME:
        return False
    if kind != "upload_event":
        return True
    counts = (said.get("chunk"), said.get("total_chunks"))
    texts = isinstance(said.get("type"), str) and len(said["type"]) <= LONGEST_NAME
    return (
        texts
        and isinstance(said.get("data"), bytes | bytearray)
        and all(type(one) is int and one > 0 for one in counts)
    )
