"""Words with quantities in them: a text for people that still knows the value and unit of each figure it names.

A ``Wording`` is an ordinary text in field units, so it is compared, hashed and kept like any other; beside its letters
it has its ``amounts``. Whoever writes a page asks it for the system chosen there. ``worded`` fills a template,
``joined`` puts pieces one after another, and ``written`` takes up what a person wrote in a file ("at most 20 bbl"),
as ``units.parse`` does for a lone quantity. A wording that goes through an f-string or ``str.join`` is a plain text
afterwards, and its figures stay in field units.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final, SupportsIndex, TypeVar

from trainer import units


@dataclass(frozen=True, slots=True)
class Amount:
    """A figure of a text: where it stands in it, its value (SI), and its field unit.

    bare: it stands without its unit, as the first of "30 to 40 psi".
    """

    start: int
    end: int
    value: float
    unit: str
    bare: bool = False

    def moved(self, by: int) -> Amount:
        """The same figure of a longer text, in which ``by`` letters more stand before it."""
        return replace(self, start=self.start + by, end=self.end + by)

    def told(self, system: units.System) -> str:
        """The figure in the chosen units, with the unit's symbol unless it is bare."""
        return (units.number if self.bare else units.show)(self.value, self.unit, system)


class Wording(str):
    """A text and its amounts, in the order in which they stand. Slices and sums of wordings keep theirs."""

    amounts: tuple[Amount, ...] = ()

    def told(self, system: units.System) -> str:
        """The text with its amounts in the chosen units.

        >>> written("At most 20 bbl, between 500 and 1,000 psi.").told("metric")
        'At most 3.18 m³, between 34.5 and 68.9 bar.'
        """
        if system == "field" or not self.amounts:
            return str.__str__(self)
        out, at = [], 0
        for amount in self.amounts:
            out += [str.__getitem__(self, slice(at, amount.start)), amount.told(system)]
            at = amount.end
        return "".join((*out, str.__getitem__(self, slice(at, None))))

    def between(self, change: Callable[[str], str]) -> Wording:
        """The same with ``change`` made to what stands between the amounts, as escaping does."""
        if not self.amounts:
            return Wording(change(str.__str__(self)))
        pieces: list[str] = []
        at = 0
        for amount in self.amounts:
            pieces += [change(str.__getitem__(self, slice(at, amount.start))), self[amount.start : amount.end]]
            at = amount.end
        return joined("", (*pieces, change(str.__getitem__(self, slice(at, None)))))

    def moved_to(self, text: str) -> Wording:
        """Another text that names the same figures, such as a translation, with the amounts where they stand there.

        Each is looked for as it is printed here, in the order of this text; one that is not there is left out.
        """
        found: list[Amount] = []
        for amount in self.amounts:
            printed = str.__getitem__(self, slice(amount.start, amount.end))
            for hit in re.finditer(rf"(?<![\d.,]){re.escape(printed)}(?![\d/]|[.,]\d)", text):
                if not any(hit.start() < other.end and other.start < hit.end() for other in found):
                    found.append(replace(amount, start=hit.start(), end=hit.end()))
                    break
        return with_amounts(Wording, text, sorted(found, key=lambda one: one.start))

    def strip(self, chars: str | None = None, /) -> str:
        """Without the white space, or these characters, at both ends, as ``str.strip`` does."""
        start = len(self) - len(self.lstrip(chars))
        return self[start : max(start, len(self.rstrip(chars)))]

    def splitlines(self, keepends: bool = False) -> list[str]:
        """Its lines as ``str.splitlines`` gives them, each with the amounts that stand in it."""
        out: list[str] = []
        at = 0
        for line in str.__str__(self).splitlines(keepends=True):
            kept = len(line) if keepends else len(line.rstrip("\r\n"))
            out.append(self[at : at + kept])
            at += len(line)
        return out

    def replace(self, old: str, new: str, count: SupportsIndex = -1, /) -> str:
        """With ``new`` for ``old``, as ``str.replace`` does; the amounts of both are kept."""
        pieces: list[str] = []
        at, left = 0, count.__index__()
        while left and old and (hit := self.find(old, at)) >= 0:
            pieces += [self[at:hit], new]
            at, left = hit + len(old), left - 1
        return glued(Wording, [*pieces, self[at:]]) if pieces else self

    def __str__(self) -> str:
        return self

    def __getitem__(self, key: SupportsIndex | slice, /) -> str:
        got = str.__getitem__(self, key)
        if not self.amounts or not isinstance(key, slice):
            return got
        start, stop, step = key.indices(len(self))
        if step != 1:
            return got
        inside = [one.moved(-start) for one in self.amounts if start <= one.start and one.end <= stop]
        return with_amounts(Wording, got, inside)

    def __add__(self, other: str, /) -> Wording:
        return joined("", (self, other))

    def __radd__(self, other: str, /) -> Wording:
        return joined("", (other, self))


W = TypeVar("W", bound=Wording)


def with_amounts(kind: type[W], text: str, amounts: Iterable[Amount]) -> W:
    """A wording of this kind with these amounts, which are in the order in which they stand."""
    made = kind(text)
    if kept := tuple(amounts):
        made.amounts = kept
    return made


def amounts_of(text: str) -> tuple[Amount, ...]:
    """The amounts of a text in the order in which they stand; none of a plain one."""
    return text.amounts if isinstance(text, Wording) else ()


def glued(kind: type[W], parts: Iterable[str]) -> W:
    """The parts one after another as a wording of this kind, with the amounts of all."""
    pieces = parts if isinstance(parts, list) else list(parts)
    made = kind("".join(pieces))
    for piece in pieces:
        if isinstance(piece, Wording) and piece.amounts:
            break
    else:
        return made
    found: list[Amount] = []
    at = 0
    for piece in pieces:
        found += [one.moved(at) for one in amounts_of(piece)]
        at += len(piece)
    made.amounts = tuple(found)
    return made


def joined(glue: str, parts: Iterable[str]) -> Wording:
    """The parts with ``glue`` between them, as ``str.join`` does, with the amounts of all.

    >>> joined(" or ", [amount(34473.8, "psi"), "nothing"]).told("metric")
    '0.3 bar or nothing'
    """
    pieces: list[str] = []
    for part in parts:
        pieces += [glue, part] if pieces else [part]
    return glued(Wording, pieces)


_TOLD: Final = frozenset(name for name, unit in units.UNITS.items() if unit.metric) - {"in", "in2", "cP"}
"""Units that read otherwise in metric. Inches stay: sizes of holes and tools are names."""


def _figure(text: str, value: float, unit: str, bare: bool = False) -> Wording:
    return with_amounts(Wording, text, [Amount(0, len(text), value, unit, bare)] if unit in _TOLD else ())


def amount(value: float, unit: str) -> Wording:
    """A quantity (SI) whose field unit is ``unit``, as ``units.show`` prints it; one in inches stays in inches."""
    return _figure(units.show(value, unit), value, unit)


def printed(text: str, value: float, unit: str, bare: bool = False) -> Wording:
    """A quantity given in its field unit, as ``text`` prints it; bare: without the unit, as the first of a range."""
    return _figure(text, units.from_unit(value, unit) if unit in _TOLD else value, unit, bare)


def told(text: str, system: units.System) -> str:
    """A text in the chosen units; one without amounts, or in field units, as it is."""
    return text.told(system) if isinstance(text, Wording) else text


def put(text: str, mark: str, part: str) -> str:
    """The text, a plain one too, with ``part`` for ``mark``; it has the amounts of both.

    >>> told(put("at {depth}", "{depth}", amount(304.8, "ft")), "metric")
    'at 304.8 m'
    """
    return Wording(text).replace(mark, part) if not isinstance(text, Wording) else text.replace(mark, part)


_GAP: Final = re.compile(r"\{(\d)\}")


def worded(template: str, *parts: str) -> Wording:
    """The template with each gap, ``{0}``, ``{1}`` and so on, filled with the part of that number.

    >>> worded("Entered {0} at {1}.", amount(3447378.6, "psi"), "4:05").told("metric")
    'Entered 34.5 bar at 4:05.'
    """
    pieces = _GAP.split(template)
    return glued(Wording, [parts[int(piece)] if at % 2 else piece for at, piece in enumerate(pieces)])


#: What is written after a number, and the unit it means.
_UNITS: Final = {units.symbol(name): name for name in units.UNITS if name in _TOLD}
_NUMBER: Final = r"[-+−]?\d[\d,]*(?:\.\d+)?"
_SIGN: Final = "|".join(re.escape(sign) for sign in sorted(_UNITS, key=len, reverse=True))
#: One number, or a range of two that share a unit.
QUANTITY: Final = re.compile(
    rf"(?<![\w.,/-])(?:(?<=between )({_NUMBER})( and )|({_NUMBER})( to | ?– ?))?"
    rf"({_NUMBER})[ \u00a0]({_SIGN})(?![\w/²])"
)


def written(text: str) -> str:
    """What a person wrote, with its quantities read: itself where it has none beside the amounts that it has already.

    >>> [(one.unit, round(one.value)) for one in amounts_of(written("30 to 40 psi"))]
    [('psi', 206843), ('psi', 275790)]
    """
    if isinstance(text, Wording) and text.amounts:
        return text.between(written)
    found: list[Amount] = []
    for hit in QUANTITY.finditer(text):
        unit = _UNITS[hit[6]]
        for group in (1, 3, 5):
            if hit[group] is not None:
                value = units.from_unit(float(hit[group].replace(",", "").replace("−", "-")), unit)
                end = hit.end() if group == 5 else hit.end(group)
                found.append(Amount(hit.start(group), end, value, unit, group != 5))
    return with_amounts(Wording, text, found) if found else text


def taken_up(data: Mapping[str, object]) -> dict[str, Any]:
    """Plain data of a file, such as a kept score sheet, with the quantities of its texts read."""
    return {key: _taken_up(value) for key, value in data.items()}


def _taken_up(value: object) -> object:
    match value:
        case str():
            return written(value)
        case Mapping():
            return taken_up(value)
        case list() | tuple():
            return [_taken_up(each) for each in value]
        case _:
            return value
