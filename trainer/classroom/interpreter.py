"""A page of staff in the language of its browser: what stands there is told as it comes to stand there.

The widgets stay in English, for what is chosen and kept goes by their words. The browser asks for each text once, and
writes what it is told in its place. Numbers stay in English notation, as the fields of these pages take them.
"""

from __future__ import annotations

from typing import ClassVar

import param
from panel.custom import JSComponent

from trainer import languages, resources

MOST, LONGEST = 2000, 4000
"""So many texts at once, each of so many letters, are told."""


class Interpreter(JSComponent):
    """Stands on a page that it tells in ``language``; ``said`` takes the texts asked for last, by their English."""

    language = param.String(doc="the page's language")
    direction = param.String(default="ltr")
    said = param.Dict(default={}, doc="the last texts by their English")

    _esm: ClassVar[str] = (resources.assets() / "script" / "interpreter.js").read_text("utf-8")

    def __init__(self, language: str) -> None:
        given = languages.languages()[language]
        super().__init__(language=language, direction=given.direction, width=0, height=0, margin=0)
        self.on_msg(lambda event: self._tell(event.data))

    def _tell(self, asked: object) -> None:
        words = languages.words(self.language)
        if words is None or not isinstance(asked, list):
            return
        texts = [text for text in asked[:MOST] if isinstance(text, str) and len(text) <= LONGEST]
        self.said = {text: words.tell(text) for text in texts}


def interpreters(language: str) -> list[Interpreter]:
    """What a page of this language needs beside its content: an interpreter, or nothing in English."""
    return [] if language == languages.ENGLISH else [Interpreter(language)]
