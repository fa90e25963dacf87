"""Named rules that drills include, written once, each with its source: critical errors, and criteria that are scored.

They lie in ``scenarios/rules/*.toml``. A drill lists critical errors by id (``rules = ["ram_on_joint"]``) and gives
points and levels to criteria (``[graded.prompt]``); a rule that speaks of a milestone, a report or a reading writes it
as ``{shut_in}``, and the drill says under ``[roles]`` which of its own that is, where it is not called so. A rule about
parts that the plant does not have is left out. How the unit is left (``at_end``) is judged in every drill that does not
except it (``leaves = ["unit_without_pumps"]``).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Literal

from pydantic import Field, ValidationError

from trainer import resources, toml
from trainer.drills.criteria_schema import Category, Condition, Critical, Id, Line, Quantity, Strict

FOLDER = "rules"
_ROLE = re.compile(r"\{([a-z][a-z0-9_]*)\}")


_ANY = re.compile(r"\bany\(")
_IT = re.compile(r"\bit\.")


def written_out(condition: str, kinds: Mapping[str, tuple[str, ...]]) -> str | None:
    """The condition with each ``any(kind ...: condition on it.)`` written for every function of these kinds.

    ``any(annular pipe_ram: it.sealing)`` becomes ``((upper_annular.sealing) or (upper_pipe_ram.sealing))``. Kinds may
    also be ids of functions. None where the plant has no such function. ValueError for brackets that do not match.
    """
    while found := _ANY.search(condition):
        depth, at = 1, found.end()
        while depth and at < len(condition):
            depth += {"(": 1, ")": -1}.get(condition[at], 0)
            at += 1
        wanted, colon, inner = condition[found.end() : at - 1].partition(":")
        if depth or not colon:
            raise ValueError(f"{condition[found.start() : at]!r} is not any(kind ...: condition)")
        named = {part for parts in kinds.values() for part in parts}
        ids = [part for name in wanted.split() for part in kinds.get(name, (name,) if name in named else ())]
        if not ids:
            return None
        each = " or ".join(f"({_IT.sub(f'{part}.', inner.strip())})" for part in ids)
        condition = f"{condition[: found.start()]}({each}){condition[at:]}"
    return condition


class Rule(Critical):
    """One critical error, whatever the drill: in ``when`` {name} stands for a milestone or report of the drill."""

    everywhere: bool = False
    """Watched in every drill that does not name it under ``leaves``, or judged at its end where it is ``at_end``."""

    def condition(self, kinds: Mapping[str, tuple[str, ...]], roles: Mapping[str, str]) -> str | None:
        """The condition on a plant with functions of these ``kinds``; None where it has none of them."""
        return written_out(_ROLE.sub(lambda found: roles.get(found[1], found[1]), self.when), kinds)


class Graded(Strict):
    """A criterion that many drills score: what it asks. {name} stands for a milestone or reading of the drill."""

    id: Id
    title: Line
    kind: Literal["reach", "economy", "limit"]
    when: Condition | None = None
    measure: Quantity | None = None
    holds: Condition | None = None
    from_: str | None = Field(default=None, alias="from")
    until: str | None = None
    category: Category
    expected: Line | None = None
    why: Line
    source: Line

    def criterion(self, levels: Mapping[str, object], roles: Mapping[str, str]) -> dict[str, object]:
        """The criterion as a drill file would write it out, with the drill's points and ``levels``."""

        def told(text: str) -> str:
            return _ROLE.sub(lambda found: str(roles.get(found[1], found[1])), text)

        asked = self.model_dump(by_alias=True)
        return {key: told(text) for key, text in asked.items() if text is not None} | dict(levels)


class RuleFile(Strict):
    """A file of rules: critical errors, and criteria that many drills score, each at most 100."""

    rule: list[Rule] = Field(min_length=1, max_length=100)
    graded: list[Graded] = Field(default=[], max_length=100)


def files() -> list[Path]:
    """The shipped files of rules in the order of their names; staff bring in none of their own."""
    return sorted((resources.scenarios() / FOLDER).glob("*.toml"))


def read_rules(path: Path) -> RuleFile:
    """What a file of rules says; ValueError says what is wrong with it and where."""
    try:
        return RuleFile.model_validate(toml.loads(path.read_text(encoding="utf-8")))
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        raise ValueError(f"{path.name}: {'.'.join(map(str, first['loc']))}: {first['msg']}") from None
    except ValueError as error:
        raise ValueError(f"{path.name}: not a TOML file: {error}") from None


@cache
def _every() -> dict[str, Rule | Graded]:
    found: dict[str, Rule | Graded] = {}
    for path in files():
        read = read_rules(path)
        both: list[Rule | Graded] = [*read.rule, *read.graded]
        for rule in both:
            if rule.id in found:
                raise ValueError(f"{path.name}: the rule {rule.id!r} is there twice; give each its own id")
            found[rule.id] = rule
    return found


def rules() -> dict[str, Rule]:
    """Every critical error by its id; ValueError for a file of rules that is wrong."""
    return {name: rule for name, rule in _every().items() if isinstance(rule, Rule)}


def graded() -> dict[str, Graded]:
    """Every scored criterion by its id; ValueError for a file of rules that is wrong."""
    return {name: rule for name, rule in _every().items() if isinstance(rule, Graded)}
