"""Which values of a plant file were given for its rig, and which still stand as in the rig that it was fitted from.

A plant file that was fitted ends in comments, one a place: ``# given: pump.air_pump_1.rate``. Whatever differs from the
base is given too, so that an older file or one written by hand is understood as far as can be known.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from trainer import naming, toml
from trainer.planning.optional import open_keys
from trainer.plant.rig import PlantError, plant_path

GIVEN = "# given: "
HEAD = "# Values given for this rig, beside those that differ from its base; all others stand as in the base."
SIZED = (
    "water_depth", "surface_temperature", "sea_temperature", "fluid", "reservoir", "pump", "supply", "bank",
    "regulator", "umbilical", "hoses", "function", "well", "electrical", "air", "panel",
)  # fmt: skip
"""Tables of a plant file that planning reads."""
SKIPPED = (
    "id", "title", "kind", "base", "drive", "starts", "pilot_lag", "readback_lag", "critical", "functions", "place",
    "serves", "line", "header", "below", "bears", "regulators", "gauges", "low_alarm",
)  # fmt: skip
"""Keys that name or arrange a part, or that planning does not read."""
WELL = ("depth", "formation", "air_gap")
"""What planning reads of the well."""

USUAL: dict[str, tuple[str, ...]] = {
    "shear_pressure": ("shear_ram",),
    "friction": ("pipe_ram", "shear_ram"),
    "closing_ratio": ("pipe_ram", "shear_ram"),
    "peukert": (),
    "rated_hours": (),
    "relaxation": (),
}
"""Keys that planning reads and a file may leave out, with the kinds of part that they matter for (none: all)."""


@dataclass(frozen=True, slots=True)
class Origin:
    """Where the values of a plant file come from; ``base`` is the title of the rig it was fitted from, or empty."""

    base: str = ""
    values: Mapping[str, str] = field(default_factory=dict)
    given: frozenset[str] = frozenset()

    def kind(self, places: Iterable[str]) -> str:
        """What kind of source a figure has that rests on these places; empty where that cannot be said."""
        asked = list(places)
        there = [place for place in asked if place in self.values]
        if self.values and asked and not there:
            return "assumption"
        if not self.base or not there:
            return ""
        own = [place for place in there if place in self.given]
        if len(own) == len(there):
            return "manufacturer's figure"
        return f"partly from {self.base}, not given" if own else f"from {self.base}, not given"

    def counted(self) -> tuple[int, int]:
        """How many of the values that planning reads were given, and how many there are."""
        there = [place for place in self.values if _sized(place)]
        return sum(place in self.given for place in there), len(there)

    def inputs(self) -> list[tuple[str, str, str, str]]:
        """What planning reads, a row a part: its name, values given, those from the base, and those in no file."""
        rows: dict[str, tuple[list[str], list[str]]] = {}
        for place, value in self.values.items():
            if _sized(place):
                owner, key = _owner(place)
                own = not self.base or place in self.given
                told = f"{naming.title(key).lower()} {value}"
                rows.setdefault(owner, ([], []))[0 if own else 1].append(told)
        return [
            (self._called(owner), "; ".join(own), "; ".join(rest), "; ".join(self._usual(owner)))
            for owner, (own, rest) in rows.items()
        ]

    def _usual(self, owner: str) -> list[str]:
        there = [place.rpartition(".")[2] for place in self.values if place.rpartition(".")[0] == owner]
        kind = self.values.get(f"{owner}.kind", "")
        return [
            f"{naming.title(key).lower()} {holds}"
            for key, holds in open_keys(owner, there)
            if holds and (kind in USUAL.get(key, ()) or USUAL.get(key) == ())
        ]

    def _called(self, owner: str) -> str:
        return self.values.get(f"{owner}.title") or naming.title(owner.rpartition(".")[2]) or "The rig"


def _sized(place: str) -> bool:
    table, key = place.split(".")[0], place.rpartition(".")[2]
    return table in SIZED and key not in SKIPPED and (table != "well" or key in WELL)


def _owner(place: str) -> tuple[str, str]:
    owner, _, key = place.rpartition(".")
    return owner, key


def parted(text: str) -> tuple[str, frozenset[str]]:
    """A plant file's text without the comments on what was given, and the places that they name."""
    lines = text.splitlines(keepends=True)
    given = frozenset(line.removeprefix(GIVEN).strip() for line in lines if line.startswith(GIVEN))
    return "".join(line for line in lines if not line.startswith((GIVEN, HEAD))), given


def joined(text: str, given: Iterable[str]) -> str:
    """A plant file's text with comments on what was given; nothing is added for none."""
    lines = [f"{GIVEN}{place}\n" for place in sorted(given)]
    return f"{text.rstrip()}\n\n{HEAD}\n{''.join(lines)}" if lines else text


def flat(data: Mapping[str, object], prefix: str = "") -> Iterator[tuple[str, str]]:
    """Every value of a plant file with its place; parts by their ids."""
    for key, value in data.items():
        place = f"{prefix}{key}"
        if isinstance(value, Mapping):
            yield from flat(value, f"{place}.")
        elif isinstance(value, list) and value and isinstance(value[0], Mapping):
            for n, part in enumerate(value):
                yield from flat(part, f"{place}.{part.get('id', n)}.")
        else:
            yield place, ", ".join(map(str, value)) if isinstance(value, list) else str(value)


def differing(values: Mapping[str, str], base: Mapping[str, str]) -> Iterator[str]:
    """Places whose values are not the base's; of a part that the base has not, those that no part of its kind has."""
    parts = {place.rpartition(".")[0] for place in base}
    alike: dict[tuple[str, str], set[str]] = {}
    for place, value in base.items():
        alike.setdefault((place.split(".")[0], place.rpartition(".")[2]), set()).add(value)
    for place, value in values.items():
        owner, key = _owner(place)
        known = {base.get(place)} if owner in parts else alike.get((place.split(".")[0], key), set())
        if value not in known:
            yield place


def origin(text: str) -> Origin:
    """Where the values of a plant file with this ``text`` come from."""
    _, marked = parted(text)
    values = dict(flat(toml.loads(text)))
    name = values.get("base", "")
    try:
        standing = dict(flat(toml.loads(plant_path(name).read_text("utf-8")))) if name else {}
    except (PlantError, OSError, ValueError):
        standing = {}
    if not standing:
        return Origin(values=values)
    given = (marked | set(differing(values, standing))) & set(values)
    return Origin(standing.get("title", name), values, frozenset(given))
