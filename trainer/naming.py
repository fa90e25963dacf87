"""Ids in words: what people read where a file, a tag or a command has an identifier. The one home of that.

What a person reads of a part is its title; these serve where there is none, and for tags, stations and file names.
"""

from __future__ import annotations

import re
import unicodedata
from typing import Final

STATIONS: Final = {
    "driller": "driller's panel",
    "floor": "drill floor",
    "remote": "toolpusher's panel",
    "unit": "control unit",
    "third": "third panel",
    "fourth": "fourth panel",
    "fifth": "fifth panel",
    "workshop": "subsea workshop",
    "bridge": "bridge",
    "vehicle": "vehicle's control room",
    "boat": "boat deck",
}
"""The stations by their ids."""
FURTHER: Final = ("third", "fourth", "fifth")
"""Those that a rig has only where its file declares further panels, in their order."""
APART: Final = ("workshop", "bridge", "vehicle", "boat")
"""Those that a rig has only with what is worked there: pods by telemetry, watch circles, a vehicle, sound."""
_WRITTEN: Final = {"readback": "read-back"}
_BREAK: Final = re.compile(r"[_.\-\s]+")


def plain(ident: str) -> str:
    """An identifier as words, in small letters as it stands.

    >>> plain("annular_regulator.readback"), plain("shallow-gas")
    ('annular regulator read-back', 'shallow gas')
    """
    return " ".join(_WRITTEN.get(word, word) for word in _BREAK.split(ident) if word)


def title(ident: str) -> str:
    """An identifier as words with a capital letter in front.

    >>> title("upper_pipe_ram"), title("alarm.low_air")
    ('Upper pipe ram', 'Alarm low air')
    """
    words = plain(ident)
    return words[:1].upper() + words[1:]


def target(tag: str) -> str:
    """What a command or reading is about, as a title: a control of the drill floor without the floor's name.

    >>> target("floor.mud_pumps"), target("bank_a.isolation")
    ('Mud pumps', 'Bank a isolation')
    """
    return title(tag.removeprefix("floor."))


def station(ident: str) -> str:
    """A station in a sentence: ``the control unit``; an unknown one as it is written."""
    return f"the {STATIONS[ident]}" if ident in STATIONS else ident


def sought(text: str) -> str:
    """A text in small letters without accents, as it is compared with what is typed.

    >>> sought("Válvula de alívio")
    'valvula de alivio'
    """
    return "".join(one for one in unicodedata.normalize("NFKD", text.casefold()) if not unicodedata.combining(one))
