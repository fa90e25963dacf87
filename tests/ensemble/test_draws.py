"""Plants differ as the tolerances say, each by a stream of its own, and they stay as they were drawn."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from trainer.hydraulics.storage import Gas
from trainer.planning.ensemble import order, streams, tolerances
from trainer.planning.ensemble.block import Block
from trainer.planning.ensemble.columns import Columns
from trainer.planning.errors import PlanningError
from trainer.session.commands import Command

DRILL = "surface-lamp-lies"
PLANTS = 24
LONG = 1800
"""Scans: nine times the 20 s and once and a half the 120 s in which a plant goes back to its file's figures."""


def bottles(machine: object) -> list[str]:
    return [n for n, node in machine.net.nodes.items() if isinstance(node.storage, Gas)]  # type: ignore[attr-defined]


def test_plants_keep_the_nitrogen_and_the_weather_that_were_drawn() -> None:
    wanted = order.make(DRILL, plants_seed=11)
    machine = wanted.machine()
    rest = machine.saved()
    drawn = wanted.spreads().draws(machine, wanted.plants_seed, range(PLANTS))
    columns = Columns(machine, PLANTS)
    for place, one in enumerate(drawn):
        machine.restore(rest)
        tolerances.apply(machine, one)
        columns.state[:, place] = machine.state
    machine.restore(rest)
    banks = bottles(machine)
    assert banks
    columns.scan(LONG)
    for bank in banks:
        asked = np.array([one[f"precharge:{bank}"] for one in drawn])
        kept = columns.row(f"{bank}.gas") / machine.read(f"{bank}.gas")
        assert kept == pytest.approx(asked, rel=1e-9)
    air = np.array([one["variable:ambient.surface"] for one in drawn])
    assert columns.row("ambient.surface") - machine.read("ambient.surface") == pytest.approx(air, abs=1e-6)
    assert columns.row("bank_a.t") - columns.row("ambient.surface") == pytest.approx(np.zeros(PLANTS), abs=1.0)


def test_drawn_spreads_are_those_of_the_file() -> None:
    """An even distribution of half-width w has the standard deviation w / sqrt 3 (any handbook of statistics)."""
    count = 20_000
    machine = order.make(DRILL).machine()
    drawn = order.make(DRILL).spreads().draws(machine, 3, range(count))
    for key, half in (("precharge:bank_a", 0.04), ("variable:ambient.surface", 12.0)):
        values = np.array([one[key] for one in drawn])
        # Sampling error of an even distribution's deviation: sigma sqrt((kurtosis - 1) / 4n), kurtosis 1.8.
        sigma = half / math.sqrt(3.0)
        assert abs(values.std() - sigma) < 4.0 * sigma * math.sqrt(0.8 / (4.0 * count))
        assert np.abs(values - values.mean()).max() <= 1.01 * half


def test_streams_are_apart_by_name_and_seed_and_whole_over_blocks() -> None:
    count = 20_000
    both = [streams.shares(seed, name, range(count)) for seed, name in ((1, "a"), (2, "a"), (1, "b"))]
    assert np.concatenate([streams.shares(1, "a", range(7)), streams.shares(1, "a", range(7, 30))]).tolist() == (
        both[0][:30].tolist()
    )
    for other in both[1:]:
        assert not np.isin(other, both[0]).any(), "neighboring seeds share no plant"
        assert abs(np.corrcoef(both[0], other)[0, 1]) < 4.0 / math.sqrt(count)
    assert streams.shares(1, "a", range(0)).size == 0


def test_the_drills_seed_leaves_the_plants_alone_and_the_other_way_round() -> None:
    made = order.make(DRILL, seed=4, plants_seed=9)
    made = replace(made, drill=made.drill.replace('settle = "50 s"', 'settle = "1 s"'))
    block = Block(made, 0, 2)
    other_drill = Block(replace(made, seed=5), 0, 2)
    other_plants = Block(replace(made, plants_seed=10), 0, 2)
    assert block.drawn == other_drill.drawn
    assert block.drawn != other_plants.drawn
    assert (block.seeds, other_drill.seeds, other_plants.seeds) == ([4] * 3, [5] * 3, [4] * 3)
    varied = replace(made, vary=True)
    seeds = varied.drill_seeds(range(100))
    assert len(set(seeds)) == 100
    assert not set(seeds) & set(replace(varied, seed=5).drill_seeds(range(100)))
    assert seeds[40:60] == varied.drill_seeds(range(40, 60)), "a plant's drill does not depend on its block"


def test_nitrogen_set_by_the_book_ends_what_was_drawn() -> None:
    machine = order.make(DRILL).machine()
    book = machine.read("bank_a.gas")
    tolerances.apply(machine, {"precharge:bank_a": 0.9})
    recharge = Command.model_validate({"t": 0.0, "do": "push", "target": "bank_a.charge_nitrogen", "from": "unit"})
    assert machine.apply(recharge) is not None, "only isolated and bled"
    machine.scan(300)
    assert machine.read("bank_a.gas") == pytest.approx(0.9 * book, rel=1e-9)
    for target, way in (("bank_a.isolation", "shut"), ("bank_a.bleed", "open")):
        turn = {"t": 0.0, "do": "set", "target": target, "value": way, "from": "unit"}
        assert machine.apply(Command.model_validate(turn)) is None
    for _ in range(100):
        machine.scan(100)
        if machine.apply(recharge) is None:
            break
    machine.scan(300)
    assert machine.read("bank_a.gas") == pytest.approx(book, rel=1e-9)


def test_what_the_plant_works_out_cannot_be_drawn() -> None:
    spread = tolerances.Spread.model_validate({"title": "By gauge", "variable": "bank_a.pressure", "share": "3 %"})
    own = tolerances.Tolerances(id="own", title="Own", spread=(spread,))
    with pytest.raises(PlanningError, match=r"'By gauge': the plant works out 'bank_a.pressure' itself"):
        own.draws(order.make(DRILL).machine(), 0, range(1))


def _two(**spread: object) -> tuple[np.ndarray, np.ndarray]:
    """What 20,000 plants draw for the two main banks of the surface rig, in parts of the share asked for."""
    given = tolerances.Spread.model_validate({"title": "x", "precharge": "bank_*", "share": "10 %", **spread})
    asked = tolerances.Tolerances(id="x", title="x", spread=(given,))
    drawn = asked.draws(order.make(DRILL).machine(), 5, range(20_000))
    first, second = (np.array([(one[f"precharge:bank_{name}"] - 1.0) / 0.1 for one in drawn]) for name in "ab")
    return first, second


@pytest.mark.parametrize(
    ("distribution", "deviation"),
    # Textbook deviations on -1 to 1: even 1/sqrt 3, triangle 1/sqrt 6, normal of 1/2 cut at two deviations 0.440.
    [("even", 0.5774), ("triangle", 0.4082), ("normal", 0.4398)],
)
def test_named_distributions_have_their_deviations_and_ends(distribution: str, deviation: float) -> None:
    first, second = _two(distribution=distribution)
    for values in (first, second):
        assert values.std() == pytest.approx(deviation, rel=0.02)
        assert abs(values.mean()) < 0.02
        assert values.min() >= -1.0 - 1e-9 and values.max() <= 1.0 + 1e-9
    assert abs(np.corrcoef(first, second)[0, 1]) < 0.03


def test_things_of_one_cause_are_correlated_as_asked() -> None:
    """Normal scores of two that share a cause by 0.8 each: 0.64; the distribution of each stays as it was."""
    first, second = _two(distribution="normal", together="campaign", correlation=0.8)
    assert np.corrcoef(first, second)[0, 1] == pytest.approx(0.64, abs=0.03)
    assert first.std() == pytest.approx(0.4398, rel=0.02)
    same, twin = _two(together="campaign")
    assert same == pytest.approx(twin)


def test_correlation_needs_the_name_of_its_cause() -> None:
    with pytest.raises(ValueError, match="goes with together"):
        tolerances.Spread.model_validate({"title": "x", "fault": "*.worn", "most": "10 %", "correlation": 0.5})
