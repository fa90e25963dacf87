"""One spelling of JSON, so that equal documents hash equally wherever they were written.

A browser writes 5.0 as 5, Python writes it as 5.0; both mean one number. Here a whole float is written as an
integer, keys are sorted, and nothing but ASCII is used.
"""

from __future__ import annotations

import hashlib
import json
import math

from trainer.hydraulics.compile import Numbers

# Beyond this a float no longer holds every integer, so its own spelling is kept.
_WHOLE = 2.0**53


def _plain(value: object) -> object:
    if isinstance(value, bool) or value is None or isinstance(value, int | str):
        return value
    if isinstance(value, float):
        if not math.isfinite(value):
            raise ValueError(f"{value!r} cannot stand in a record: only finite numbers can")
        return int(value) if value.is_integer() and abs(value) < _WHOLE else value
    if isinstance(value, dict):
        return {str(key): _plain(entry) for key, entry in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(entry) for entry in value]
    raise TypeError(f"a {type(value).__name__} cannot stand in a record: {value!r}")


def text(value: object) -> str:
    """The canonical JSON text of plain data (dict, list, str, finite number, bool, None).

    >>> text({"b": 5.0, "a": [1.5, None]})
    '{"a":[1.5,null],"b":5}'
    """
    return json.dumps(_plain(value), sort_keys=True, separators=(",", ":"), allow_nan=False)


def _refuse_constant(name: str) -> object:
    raise ValueError(f"{name} is not a finite number")


def _finite(number: str) -> float:
    value = float(number)
    if not math.isfinite(value):
        raise ValueError(f"{number[:40]} is too large for a number")
    return value


def _unique(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found = dict(pairs)
    if len(found) < len(pairs):
        seen: set[str] = set()
        for key, _ in pairs:
            if key in seen:
                raise ValueError(f"the key {key[:60]!r} is given twice")
            seen.add(key)
    return found


def loads(source: str) -> object:
    """Read JSON strictly: no NaN, nothing infinite, no key twice, no endless nesting. ValueError in one sentence."""
    try:
        return json.loads(source, parse_constant=_refuse_constant, parse_float=_finite, object_pairs_hook=_unique)
    except RecursionError as error:
        raise ValueError("nested too deeply") from error


def digest(value: object) -> str:
    """SHA-256, in hexadecimal, of the canonical text of ``value``."""
    return hashlib.sha256(text(value).encode("ascii")).hexdigest()


def link(previous: str, value: object) -> str:
    """The next link of a SHA-256 chain: the hash of the link before it and of ``value``."""
    return hashlib.sha256(f"{previous}\n{text(value)}".encode("ascii")).hexdigest()


def state_hash(state: Numbers, referee: dict[str, object], log: str) -> str:
    """SHA-256 of the plant's state to the last bit, the referee's state, and the log's last link."""
    return hashlib.sha256(bytes(state) + f"{text(referee)}\n{log}".encode("ascii")).hexdigest()
