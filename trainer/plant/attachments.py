"""Which kinds of component are whole in one module: every module in the folder ``attached`` is found by itself."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path
from types import GenericAlias
from typing import Final

from trainer.plant.attachment import Attachment
from trainer.plant.base import Part


def _found() -> dict[str, type[Attachment]]:
    for path in sorted(Path(__file__).with_name("attached").glob("[a-z]*.py")):
        import_module(f"trainer.plant.attached.{path.stem}")
    return {kind.__name__.lower(): kind for kind in Attachment.__subclasses__()}


KINDS: Final = _found()
"""Every kind by the name of its table in a plant file."""


class Attachments(Part):
    """The tables of a plant file for these kinds: any number of each."""

    __annotations__ = {name: GenericAlias(tuple, (kind, ...)) for name, kind in KINDS.items()}
    locals().update(dict.fromkeys(KINDS, ()))

    @property
    def attached(self) -> tuple[Attachment, ...]:
        """All attached parts that the plant's file declares, kind by kind, in the order of its tables."""
        return tuple(part for name in KINDS for part in getattr(self, name))
