"""The texts of the cards: one table a kind of part, in ``assets/text/*.toml``."""

from __future__ import annotations

import tomllib
from functools import cache
from typing import Final

from trainer import resources
from trainer.plant.attachments import KINDS
from trainer.wording import written

#: Keys of an entry in the order they are shown, and their headings.
HEADINGS: Final = (
    ("what", "What it is"),
    ("does", "What it does"),
    ("normal", "Normal reading"),
    ("fails", "How it fails"),
    ("notice", "How you notice"),
    ("check", "What to check"),
    ("safety", "Safety"),
)


@cache
def texts(surface: bool = False) -> dict[str, dict[str, str]]:
    """Every entry by kind. ``ValueError`` when two files describe the same kind or an entry lacks a line.

    surface: as the entries read on a rig whose stack stands at the surface, without pods.
    """
    folder = resources.assets() / "text"
    found = {name: dict(kind.text) for name, kind in KINDS.items()}
    for path in sorted(folder.glob("*.toml")):
        for kind, entry in tomllib.loads(path.read_text(encoding="utf-8")).items():
            missing = [key for key, _ in (("title", ""), *HEADINGS) if key not in entry]
            if missing:
                raise ValueError(f"{path.name}: '{kind}' lacks {', '.join(missing)}; write one sentence for each")
            if kind in found:
                raise ValueError(f"{path.name}: '{kind}' is described twice; keep one entry a kind")
            found[kind] = entry
    others = tomllib.loads((folder / "surface" / "surface.toml").read_text(encoding="utf-8")) if surface else {}
    return {
        kind: {key: written(text) for key, text in {**entry, **others.get(kind, {})}.items()}
        for kind, entry in found.items()
    }


@cache
def by_telemetry() -> dict[str, dict[str, str]]:
    """The lines of entries that read otherwise where orders to the pods are messages, by kind."""
    path = resources.assets() / "text" / "telemetry" / "telemetry.toml"
    lines = tomllib.loads(path.read_text(encoding="utf-8"))
    return {kind: {key: written(text) for key, text in entry.items()} for kind, entry in lines.items()}
