"""Reads TOML text that anybody may have written: one kind of error, one sentence, and in bounded time."""

from __future__ import annotations

import re
import tomllib
from typing import Any

MOST_DOTS = 200
"""A key of thousands of parts takes the parser minutes; no file of ours has more than three."""
_BESIDE_KEYS = re.compile(r"[=,{]")
_AFTER_QUOTED = re.compile(r"[\"'] *\.")


def loads(text: str) -> dict[str, Any]:
    """The tables of a TOML text; ValueError with one sentence when it is none."""
    for number, line in enumerate(text.splitlines(), start=1):
        # A key also stands within a table on one line: `x = {a.b.c = 1}`.
        dots = max(key.count(".") for key in _BESIDE_KEYS.split(line))
        if max(dots, len(_AFTER_QUOTED.findall(line))) > MOST_DOTS:
            raise ValueError(f"line {number}: a key with more than {MOST_DOTS} dots")
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise ValueError("nested too deeply") from None
    except tomllib.TOMLDecodeError:
        raise
    except ValueError:
        raise ValueError("a number of thousands of digits") from None
