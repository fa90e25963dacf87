"""What a part of the picture is, in a sentence of its own: from ``assets/text/learn/sight.toml``, or from its card."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache

from trainer import resources
from trainer.drawing.cards import card_of
from trainer.drawing.picture.place import Piece
from trainer.drawing.rig_view import RigView
from trainer.wording import written


@cache
def sentences() -> Mapping[str, str]:
    """Every sentence of the file by the id that it is for, or, after "." or "_", by how the ids end."""
    path = resources.assets() / "text" / "learn" / "sight.toml"
    return {name: written(entry["what"]) for name, entry in tomllib.loads(path.read_text(encoding="utf-8")).items()}


def what_is(rig: RigView, piece: Piece) -> str:
    """One or two sentences on the part itself; nothing for one without a card too."""
    own = sentences()
    if piece.id in own:
        return own[piece.id]
    ends = [end for end in own if end[0] in "._" and piece.id.endswith(end)]
    if ends:
        return own[max(ends, key=len)]
    card = card_of(rig, piece.card or piece.id)
    return card.lines[0][1] if card is not None else ""
