"""A drill as it is on one plant: placeholders filled with the plant's figures, and the rules that it includes.

``{plant.well.casing_shoe:ft}`` in a text or a condition becomes ``6,500 ft`` there, ``6500 ft`` here: the figure at
that place of the plant file, in that unit. So a text cannot contradict the plant. A condition may say
``any(pipe_ram: it.sealing)`` for whatever functions of a kind the plant has.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

from pydantic import BaseModel

from trainer import units
from trainer.drills.criteria_schema import Critical
from trainer.drills.expressions import Catalogue, nearest
from trainer.drills.rules import Rule, rules, written_out
from trainer.drills.schema import Drill, DrillError, Problem
from trainer.wording import Wording, amount, glued, written

PLACE = re.compile(r"\{plant\.([a-z0-9_.]+):([^}]+)\}")
_TAG = re.compile(r"\b[a-z][a-z0-9_]*\.[a-z][a-z0-9_]*\b")
CONDITIONS = frozenset(
    {"when", "holds", "need", "done", "measure", "full", "zero", "tolerance", "against", "change", "low", "high"}
    | {"adds", "most"}
)
"""Keys whose text is a condition or a quantity, where figures are written without commas."""

NOWHERE = "t < 0 s"
"""What ``any`` comes to where the plant has no such function: never."""

Figures = Callable[[str], float]


def filled(drill: Drill, catalogue: Catalogue) -> Drill:
    """The drill with the plant's figures in its texts and conditions, and with its rules among the critical errors.

    DrillError names each placeholder that the plant does not have, and each rule that there is not.
    """
    problems: list[Problem] = []
    joined = _with_rules(drill, catalogue, problems)
    figures: Figures = getattr(catalogue, "figures", None) or _no_figures
    made: Drill = _Filler(figures, _kinds(catalogue), problems).fill(joined)
    if problems:
        raise DrillError(drill.id, problems)
    return made


def _with_rules(drill: Drill, catalogue: Catalogue, problems: list[Problem]) -> Drill:
    known = rules()
    kinds = _kinds(catalogue)
    added = []
    for field, names in (("rules", drill.rules), ("leaves", drill.leaves)):
        for name in names:
            if name not in known:
                problems.append(Problem(field, f"there is no rule {name!r}; {nearest(name, known)}"))
    own = {failure.id for failure in drill.critical}
    for name in included(drill):
        asked = name in drill.rules
        if name not in known or (name in own and not asked):
            continue
        written = _critical(known[name], kinds, drill.roles)
        if written is not None and (asked or _has(catalogue, written.when)):
            added.append(written)
    return drill.model_copy(update={"critical": [*drill.critical, *added], "rules": []})


def included(drill: Drill) -> list[str]:
    """Ids of the rules whose critical errors count in a drill: those that it names, and those of all drills."""
    left = (rule.id for rule in rules().values() if rule.at_end or rule.everywhere)
    return [*drill.rules, *(name for name in left if name not in (*drill.rules, *drill.leaves))]


def _has(catalogue: Catalogue, condition: str) -> bool:
    """Whether the plant has every instrument of a condition."""
    return all(tag in catalogue.signals for tag in _TAG.findall(condition))


def _critical(rule: Rule, kinds: Mapping[str, tuple[str, ...]], roles: Mapping[str, str]) -> Critical | None:
    when = rule.condition(kinds, roles)
    return rule.model_copy(update={"when": when}) if when is not None else None


def _kinds(catalogue: Catalogue) -> Mapping[str, tuple[str, ...]]:
    kinds: Mapping[str, tuple[str, ...]] = getattr(catalogue, "kinds", {})
    return kinds


def _no_figures(place: str) -> float:
    raise LookupError("this plant gives no figures")


class _Filler:
    def __init__(self, figures: Figures, kinds: Mapping[str, tuple[str, ...]], problems: list[Problem]) -> None:
        self.figures, self.kinds, self.problems = figures, kinds, problems

    def fill(self, data: Any, path: str = "") -> Any:
        """The same data with every placeholder replaced; itself where there is none."""
        if isinstance(data, BaseModel):
            fields = {name: getattr(data, name) for name in type(data).model_fields}
            new = {key: self.fill(value, f"{path}.{key}" if path else key) for key, value in fields.items()}
            changed = {key: value for key, value in new.items() if value is not fields[key]}
            return data.model_copy(update=changed) if changed else data
        if isinstance(data, dict):
            new = {key: self.fill(value, f"{path}.{key}") for key, value in data.items()}
            return new if any(new[key] is not data[key] for key in data) else data
        if isinstance(data, list):
            rows = [self.fill(value, f"{path}[{n}]") for n, value in enumerate(data, 1)]
            return rows if any(row is not old for row, old in zip(rows, data, strict=True)) else data
        return self.text(data, path) if isinstance(data, str) else data

    def text(self, text: str, path: str) -> str:
        """One text, whose quantities are then amounts, or one condition, which stays plain."""
        plain = path.rsplit(".", 1)[-1] in CONDITIONS or ".values." in path or ".where." in path
        pieces: list[str] = []
        at = 0
        for found in PLACE.finditer(text) if "{plant." in text else ():
            place, unit = found[1], found[2]
            try:
                if unit not in units.UNITS:
                    raise LookupError(f"{unit!r} is not known; {nearest(unit, units.UNITS)}")
                value = self.figures(place)
            except LookupError as error:
                self.problems.append(Problem(path, f"{found[0]}: {error.args[0]}."))
                continue
            shown = f"{units.to_unit(value, unit):.10g} {unit}" if plain else amount(value, unit)
            pieces += [text[at : found.start()], shown]
            at = found.end()
        if pieces:
            text = glued(Wording, [*pieces, text[at:]])
        if not plain:
            return written(text)
        if "any(" in text:
            try:
                return written_out(text, self.kinds) or NOWHERE
            except ValueError as error:
                self.problems.append(Problem(path, f"{error}."))
        return text
