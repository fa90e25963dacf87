"""A plant file being fitted to a rig: parts added, removed, resized; held against the plant's own checks at every step.

The draft edits the text of the file it began from, so that comments and order stay. Places in it are written as in
messages: ``water_depth``, ``well.mud``, ``bank.bank_a.bottles``, ``function.upper_annular.close_volume``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Array, Table

from trainer import naming, resources, toml
from trainer.kept import put
from trainer.planning import origin
from trainer.planning.errors import PlanningError
from trainer.planning.optional import open_tables, sample
from trainer.plant import attachments
from trainer.plant.rig import Plant, PlantError, build_machine, parse_plant, plant_path
from trainer.units import parse, to_unit

KINDS = Plant.kinds()
"""Parts of which a plant has any number."""

FIRST = {
    "panel": {"supply": "unit_battery", "length": "300 ft"},
    **{name: dict(kind.first) for name, kind in attachments.KINDS.items() if kind.first},
}
"""Kinds of which a rig without one can be given a first, with what that begins with."""

STACKED = {"annular": "9 ft", "pipe_ram": "3 ft", "shear_ram": "3 ft"}
"""Room (height of the stack) that one more preventer of a kind takes."""

DROPPED = ("diverter", "test", "disconnect", "emergency", "position", "acoustic", "rov")
"""Tables that a rig may be without."""
_ID = re.compile(r"[a-z][a-z0-9_]{0,39}")
_PLANT_ID = re.compile(r"[a-z][a-z0-9_-]{0,39}")


@dataclass(frozen=True, slots=True)
class Difference:
    """One place where the draft is not as its base: what stood there and what stands there now (None: nothing)."""

    place: str
    base: str | None
    now: str | None

    def sentence(self) -> str:
        """The difference in words: what is new, what was taken out, or what a value was before."""
        if self.base is None:
            return f"{self.place}: new, {self.now}"
        if self.now is None:
            return f"{self.place}: taken out, was {self.base}"
        return f"{self.place}: {self.now}, was {self.base}"


class Draft:
    """A plant file under work. ``base`` is the plain data of the file it began from."""

    def __init__(self, text: str, name: str) -> None:
        self.name = name
        text, given = origin.parted(text)
        self.given = set(given)
        """Places whose values were given for this rig, also where they are the base's."""
        self.base: dict[str, Any] = toml.loads(text)
        self.document = tomlkit.parse(text)

    @classmethod
    def open(cls, base: str) -> Draft:
        """Begin from a plant by its id or from a file. PlantError or PlanningError when there is none."""
        path = Path(base) if base.endswith(".toml") else plant_path(base)
        try:
            return cls(path.read_text(encoding="utf-8"), path.name)
        except (OSError, UnicodeDecodeError) as error:
            raise PlanningError(f"{path}: cannot be read: {error}") from error
        except (TOMLKitError, ValueError) as error:
            raise PlanningError(f"{path}: not a TOML file: {error}") from error

    # -- changes

    def put(self, place: str, value: str) -> None:
        """Write ``value`` as a person types it; an empty one takes the key out. PlanningError for a place that is none.

        Whether the plant makes sense afterwards is for ``faults`` to say.
        """
        table, key = self._seat(place)
        if not value.strip():
            table.pop(key, None)
            self.given.discard(place)
            return
        table[key] = _typed(value.strip(), table.get(key, sample(place)))
        self.given.add(place)

    def add(self, kind: str, new: str, like: str = "") -> None:
        """Add a part called ``new``, as a copy of ``like`` or of the first of its kind, and next to it.

        The first further panel carries the annulars, rams and choke and kill valves; its length is for the rig to say.

        A preventer goes into the stack next to the one it is like, on the side away from the upper pipe ram, from which
        heights are counted; what stands beyond it, outlets too, moves out by the room it takes.
        """
        if not _ID.fullmatch(new):
            raise PlanningError(f"{new!r} is no id; write small letters, digits and underscores, such as bank_c")
        if new in self._ids():
            raise PlanningError(f"there is a part called {new!r} already; give the new one another id")
        if kind in FIRST and not self.document.get(kind):
            self._first(kind, new)
            return
        parts = self._parts(kind)
        names = [str(part["id"]) for part in parts]
        if like and like not in names:
            raise PlanningError(f"there is no {kind} {like!r} to copy; there are: {', '.join(names)}")
        place = names.index(like) if like else 0
        model = parts[place]
        fresh = tomlkit.table()
        for key, value in toml.loads(tomlkit.dumps(model)).items():
            fresh[key] = value
        fresh["id"] = new
        fresh["title"] = naming.title(new) + (" pod" if kind == "pod" else "")
        for role in ("joins", "isolates"):
            # Only one part may have such a role.
            fresh.pop(role, None)
        fresh.add(tomlkit.nl())
        if kind == "function" and (room := STACKED.get(str(model.get("kind")))):
            self._make_room(fresh, parse(room, "length"))
        if kind != "function":
            alike = [(part.get("place"), part.get("drive")) for part in parts]
            place = max(n for n, one in enumerate(alike) if one == alike[place])
        parts.insert(place + 1, fresh)

    def _first(self, kind: str, new: str) -> None:
        """A first part of its kind; a panel has the annulars, rams and choke and kill valves on it."""
        fresh = tomlkit.table()
        for key, value in {"id": new, "title": naming.title(new), **FIRST[kind]}.items():
            fresh[key] = value
        if kind == "panel":
            fresh["functions"] = [
                str(f["id"]) for f in self.document["function"] if f.get("kind") in STACKED or f.get("line")
            ]
        fresh.add(tomlkit.nl())
        self.document[kind] = tomlkit.aot()
        self.document[kind].append(fresh)

    def _make_room(self, fresh: Table, room: float) -> None:
        """Give a new preventer its height, ``room`` (m) beyond the one it is like, and move out what is beyond."""
        at = parse(fresh.get("below", "0 ft"), "length")
        out = -room if at < 0.0 else room
        for part in self.document["function"]:
            if part.get("kind") in (*STACKED, "valve", "failsafe_valve") and "below" in part:
                height = parse(part["below"], "length")
                if (height < at) if out < 0.0 else (height > at):
                    part["below"] = _feet(height + out)
        fresh["below"] = _feet(at + out)

    def remove(self, kind: str, part: str) -> None:
        """Take a part out, or of the kind "table" a table that a rig may be without."""
        if kind == "table":
            self._drop(part)
            return
        parts = self._parts(kind)
        names = [str(one["id"]) for one in parts]
        if part not in names:
            raise PlanningError(f"there is no {kind} {part!r}; there are: {', '.join(names)}")
        del parts[names.index(part)]
        if kind == "function":
            self._leave_sequences(part)
        self._forget(f"{kind}.{part}.")
        if not parts:
            del self.document[kind]

    def add_row(self, place: str) -> None:
        """Add one more to a list inside a table, such as the steps of a sequence, as a copy of its last one.

        One with an id gets that of its model and a number. PlanningError for a place that is no such list.
        """
        rows = self._rows(place)
        values = rows[-1].unwrap()
        if "id" in values:
            taken = {str(row["id"]) for row in rows}
            stem = str(values["id"])[:16]
            values["id"] = next(new for n in range(2, 100) if (new := f"{stem}_{n}") not in taken)
        fresh = tomlkit.table() if isinstance(rows, AoT) else tomlkit.inline_table()
        fresh.update(values)
        rows.append(fresh)

    def remove_row(self, place: str) -> None:
        """Take one out of a list inside a table, by its id or number from 0. PlanningError for none, or the last."""
        where, _, name = place.rpartition(".")
        rows = self._rows(where)
        if len(rows) < 2:
            raise PlanningError(f"{where}: the last one stays; take the whole table out instead")
        one = _called(rows, name)
        if one is None:
            raise PlanningError(f"{where}: there is no {name!r}")
        del rows[next(n for n, row in enumerate(rows) if row is one or row == one)]
        self._forget(f"{where}.")

    def _rows(self, place: str) -> AoT | Array:
        table, key = self._seat(place)
        rows = table.get(key)
        if "." not in place or not isinstance(rows, AoT | Array) or not rows or not isinstance(rows[0], Mapping):
            raise PlanningError(f"{place}: this is no list inside a table of the plant file")
        return rows

    def move(self, function: str, way: str) -> None:
        """Let a preventer change places with the next one above (``up``) or below it: their heights are changed.

        Each stays on its part of the stack. PlanningError for what is no preventer, or has none there to change with.
        """
        stack = [part for part in self._parts("function") if part.get("kind") in STACKED]
        mine = next((part for part in stack if part["id"] == function), None)
        if mine is None:
            raise PlanningError(f"{function!r} is no annular or ram of this plant")
        alike = sorted((p for p in stack if p.get("place") == mine.get("place")), key=_height)
        at = next(n for n, part in enumerate(alike) if part is mine)
        other = at - 1 if way == "up" else at + 1
        if not 0 <= other < len(alike):
            part = "riser package" if mine.get("place") == "riser_package" else "stack"
            raise PlanningError(f"{function}: it is the {'top' if way == 'up' else 'bottom'} one of its {part} already")
        heights = [_feet(_height(part)) for part in (mine, alike[other])]
        mine["below"], alike[other]["below"] = heights[1], heights[0]

    def _leave_sequences(self, function: str) -> None:
        """Take the steps of a function that is no more out of the sequences from which one is chosen."""
        for one in self.document.get("disconnect", {}).get("sequence", []):
            steps = one["step"]
            for at in reversed([n for n, step in enumerate(steps) if step.get("function") == function]):
                del steps[at]

    def _drop(self, table: str) -> None:
        """Take out a table that it may lack, a diverter with its functions and regulator; else PlanningError."""
        if table not in DROPPED or table not in self.document:
            there = ", ".join(name for name in DROPPED if name in self.document) or "none in this plant"
            raise PlanningError(f"{table!r} cannot be taken out; these can: {there}")
        del self.document[table]
        self._forget(f"{table}.")
        if table == "diverter":
            gone = [f for f in self.document["function"] if f.get("place") == "diverter"]
            fed = {str(f.get("supply")) for f in gone}
            for name in [str(f["id"]) for f in gone]:
                self.remove("function", name)
            # What regulates for nothing else goes with them.
            fed -= {str(f.get("supply")) for f in self.document["function"]}
            for name in [str(r["id"]) for r in self.document.get("regulator", []) if r.get("serves") in fed]:
                self.remove("regulator", name)

    def _forget(self, prefix: str) -> None:
        self.given = {place for place in self.given if not place.startswith(prefix)}

    def rename(self, plant: str, title: str = "") -> None:
        """Give the plant an id and a title of its own; what it was fitted from is kept."""
        if not _PLANT_ID.fullmatch(plant):
            raise PlanningError(f"{plant!r} is no plant id; write small letters, digits, '-' and '_', such as my_rig")
        came = str(self.base.get("base") or self.base["id"])
        self.document["id"] = plant
        self.document["title"] = title or naming.title(plant)
        if plant != came:
            self.document["base"] = came

    def _parts(self, kind: str) -> AoT:
        found = self.document.get(kind)
        if kind not in KINDS or not isinstance(found, AoT) or not len(found):
            raise PlanningError(f"a plant has no parts of the kind {kind!r}; there are: {', '.join(KINDS)}")
        return found

    def _ids(self) -> set[str]:
        return {str(part["id"]) for kind in KINDS for part in self.document.get(kind, [])}

    def _seat(self, place: str) -> tuple[Any, str]:
        """The table that holds a place, and its key there."""
        steps = place.split(".")
        table: Any = self.document
        for n, step in enumerate(steps[:-1]):
            if n == 0 and step in open_tables(table):
                table[step] = tomlkit.table()
            inner = table.get(step) if isinstance(table, Mapping) else _called(table, step)
            if inner is None:
                raise PlanningError(f"{place}: there is no {'.'.join(steps[: n + 1])!r} in this plant file")
            table = inner
        if not isinstance(table, Mapping):
            raise PlanningError(f"{place}: name a key of a part, such as {place}.title")
        return table, steps[-1]

    # -- what it is now

    def text(self) -> str:
        """The plant file as text, comments of the file it began from kept, and at its end what was given."""
        return origin.joined(tomlkit.dumps(self.document), self.given)

    def data(self) -> dict[str, Any]:
        """The plant file as plain data, as ``trainer.plant.rig.plant_of`` takes it."""
        return toml.loads(self.text())

    def plant(self) -> Plant:
        """The plant; PlantError tells everything wrong with it, each with its place."""
        return parse_plant(self.text().encode(), self.name)

    def faults(self) -> list[str]:
        """Everything wrong, in the plant's own words; empty when a machine can be built of it."""
        try:
            build_machine(self.plant())
        except (PlantError, ValueError) as error:
            return self.readable(str(error))
        return []

    def readable(self, message: str) -> list[str]:
        """The lines of a message about the plant, each beginning with its place."""
        return [self._readable(line.removeprefix(f"{self.name}: ")) for line in message.splitlines()]

    def _readable(self, line: str) -> str:
        """A message with the ids of parts instead of their numbers in the file."""
        match = re.match(r"(\w+)\.(\d+)\b", line)
        parts = self.document.get(match[1]) if match else None
        if match and isinstance(parts, AoT) and int(match[2]) < len(parts):
            return line.replace(match[0], f"{match[1]}.{parts[int(match[2])].get('id', match[2])}", 1)
        return line

    def differences(self) -> list[Difference]:
        """Where the draft is not as its base, in the order of the file."""
        was, now = dict(origin.flat(self.base)), dict(origin.flat(self.data()))
        places = [*was, *(place for place in now if place not in was)]
        return [
            Difference(place, was.get(place), now.get(place)) for place in places if was.get(place) != now.get(place)
        ]

    def save(self, path: Path | None = None) -> Path:
        """Write the plant file, by default among one's own plants under its id. PlanningError while it has faults."""
        found = self.faults()
        if found:
            raise PlanningError("\n".join(["the plant is not saved while it has faults:", *found]))
        plant = str(self.document["id"])
        if path is None:
            if (resources.plants() / f"{plant}.toml").is_file():
                raise PlanningError(f"{plant!r} is a shipped plant; give yours an id of its own")
            path = resources.own_plants() / f"{plant}.toml"
        elif path.suffix != ".toml" or path.stem != plant:
            raise PlanningError(f"{path}: a plant file is named by its id; call it {plant}.toml")
        try:
            put(path, self.text())
        except OSError as error:
            raise PlanningError(f"{path}: cannot be written: {error.strerror or error}") from error
        return path


def _height(part: Mapping[str, object]) -> float:
    """Height of a preventer, m below the upper pipe ram."""
    return parse(str(part.get("below", "0 ft")), "length")


def _feet(height: float) -> str:
    return f"{to_unit(height, 'ft'):.4g} ft"


def _called(parts: Any, name: str) -> Table | None:
    """The part of a list that has this id, or of a list without ids this number from 0."""
    if not isinstance(parts, list):
        return None
    return next((part for n, part in enumerate(parts) if str(part.get("id", n)) == name), None)


def _typed(text: str, present: Any) -> Any:
    """What a person typed, as the file writes it: numbers, yes and no, lists of names, or text with a unit."""
    if isinstance(present, str):
        return text
    if text in ("true", "yes", "on"):
        return True
    if text in ("false", "no", "off"):
        return False
    if isinstance(present, list) or (text.startswith("[") and text.endswith("]")):
        return [name.strip(" \"'") for name in text.strip("[]").split(",") if name.strip(" \"'")]
    if re.fullmatch(r"[+-]?\d+", text):
        return int(text)
    if re.fullmatch(r"[+-]?\d*\.\d+", text):
        return float(text)
    return text
