"""Rule sets: published limits as data, each with its source, and the verdict on a computed figure."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, model_validator

from trainer import resources, units

# What a rule may judge, and the field unit in which its figure is shown.
QUANTITIES: Mapping[str, str] = {
    "ram_closing_time": "s",
    "annular_closing_time": "s",
    "unlatch_time": "s",
    "reservoir_to_usable": "1",
    "usable_to_closing": "1",
    "pressure_over_precharge": "psi",
    "pressure_to_spare_at_once": "psi",
    "pressure_left_to_needed": "1",
    "shear_as_set": "1",
    "shear_at_most": "1",
    "shear_in_sequence": "1",
    "recharge_time": "min",
    "recharge_time_one_lost": "min",
    "primary_start": "%",
    "primary_stop": "%",
    "secondary_start": "%",
    "secondary_stop": "%",
    "air_stall_to_working": "%",
    "relief_to_working": "%",
    "battery_time": "h",
    "deadman_left_to_needed": "1",
    "deadman_usable_to_asked": "1",
    "deadman_time": "s",
    "disconnect_time": "s",
}


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Rule(_Strict):
    """One limit: a computed ``quantity`` must be at least and/or at most so much.

    ``mark`` tells how well the source is known: "seen" (the text or a public restatement was read) or
    "memory".
    """

    id: str
    title: str
    quantity: str
    at_least: str | None = None
    at_most: str | None = None
    source: str
    mark: Literal["seen", "memory"]

    @model_validator(mode="after")
    def _readable(self) -> Rule:
        if self.quantity not in QUANTITIES:
            raise ValueError(f"quantity {self.quantity!r} is not known; use one of {', '.join(QUANTITIES)}")
        if self.at_least is None and self.at_most is None:
            raise ValueError(f"rule {self.id!r} sets no limit; give at_least or at_most")
        self.limits()
        return self

    def limits(self) -> tuple[float | None, float | None]:
        """Lowest and highest allowed value in SI, None where there is no bound."""
        dimension = units.dimension_of(QUANTITIES[self.quantity])
        low = None if self.at_least is None else units.parse(self.at_least, dimension)
        high = None if self.at_most is None else units.parse(self.at_most, dimension)
        return low, high

    @property
    def required(self) -> str:
        """The limit as a plain phrase with its unit, such as "at most 15 min"; empty where there is none."""
        parts = [f"at least {self.at_least}"] if self.at_least else []
        parts += [f"at most {self.at_most}"] if self.at_most else []
        return " and ".join(parts)


class Design(_Strict):
    """Design factors for bottles, after API Spec 16D: see ``accumulators.volumetric_efficiency``."""

    pressure_factor: float
    volume_factor: float
    source: str
    mark: Literal["seen", "memory"]


Outcome = Literal["met", "not shown", "NOT MET"]


def outcome_of(room: float, doubt: float) -> Outcome:
    """What a margin proves where the figure may be off by ``doubt`` (same unit).

    >>> outcome_of(-1.0, 5.0), outcome_of(4.0, 5.0), outcome_of(6.0, 5.0)
    ('NOT MET', 'not shown', 'met')
    """
    return "NOT MET" if room < 0.0 else "not shown" if room < doubt else "met"


class RuleResult(_Strict):
    """One rule held against one figure. ``required``, ``computed`` and what follows are text for people.

    ``outcome`` is "met" only where the margin is larger than the figure's uncertainty: a rule met by less than what
    the figure may be off is not shown. ``ok`` is true for "met" alone.
    """

    rule: str
    title: str
    source: str
    required: str
    computed: str
    method: str
    margin: str
    uncertainty: str
    outcome: Outcome
    ok: bool


class RuleSet(_Strict):
    """A named list of rules with their sources, as in ``assets/rules/<id>.toml``."""

    id: str
    title: str
    note: str
    design: Design
    rule: tuple[Rule, ...]

    @model_validator(mode="after")
    def _unique(self) -> RuleSet:
        ids = [rule.id for rule in self.rule]
        double = sorted({one for one in ids if ids.count(one) > 1})
        if double:
            raise ValueError(f"rule ids must differ; these come twice: {', '.join(double)}")
        return self

    def judge(
        self,
        figures: Mapping[str, float],
        methods: Mapping[str, str] | None = None,
        doubts: Mapping[str, float] | None = None,
        system: units.System = "field",
    ) -> tuple[RuleResult, ...]:
        """Results on the figures (SI, by quantity name) that were computed, the worst first.

        ``methods`` say how each figure was found, ``doubts`` by how much it may be off (SI). A rule whose figure is
        missing gives no result: better silence than a pass nobody earned.
        """
        found = [self._result(rule, figures[rule.quantity], (methods or {}).get(rule.quantity, ""),
                              (doubts or {}).get(rule.quantity, 0.0), system)
                 for rule in self.rule if rule.quantity in figures]  # fmt: skip
        order: tuple[Outcome, ...] = ("NOT MET", "not shown", "met")
        return tuple(sorted(found, key=lambda result: order.index(result.outcome)))

    @staticmethod
    def _result(rule: Rule, value: float, method: str, doubt: float, system: units.System) -> RuleResult:
        unit = QUANTITIES[rule.quantity]
        low, high = rule.limits()
        # A figure that meets its limit but for the last bits meets it.
        rooms = [] if low is None else [value - low * (1.0 - 1e-9)]
        rooms += [] if high is None else [high * (1.0 + 1e-9) - value]
        room = min(rooms)
        outcome = outcome_of(room, doubt)
        return RuleResult(
            rule=rule.id,
            title=rule.title,
            source=f"{rule.source} [{rule.mark}]",
            required=rule.required,
            computed=units.show(value, unit, system),
            method=method,
            margin=units.show(room, unit, system),
            uncertainty=units.show(doubt, unit, system) if doubt > 0.0 else "none assumed",
            outcome=outcome,
            ok=outcome == "met",
        )


def load(rule_set: str | Path) -> RuleSet:
    """A shipped rule set by its id, or one from a file. ValueError (with the known ids) when there is none."""
    folder = resources.assets() / "rules"
    path = rule_set if isinstance(rule_set, Path) else folder / f"{rule_set}.toml"
    if not path.is_file():
        known = ", ".join(sorted(p.stem for p in folder.glob("*.toml")))
        raise ValueError(f"there is no rule set {str(rule_set)!r}; known rule sets are {known}")
    return RuleSet.model_validate(tomllib.loads(path.read_text(encoding="utf-8")))
