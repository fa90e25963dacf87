"""What the worker's script does with the store's line of an answer, done here."""

from __future__ import annotations

import json


def keep(kept: dict[str, str], line: str) -> None:
    """Carries out the store's line of an answer of the desk."""
    if not line:
        return
    told = json.loads(line)
    if told["clear"]:
        for key in [key for key in kept if key < told["clear"]]:
            del kept[key]
    for key, text in told["put"].items():
        kept.pop(key, None)
        if text is not None:
            kept[key] = text
