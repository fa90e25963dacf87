"""For each well-control drill: crews that do it right pass, the same with one dangerous change do not.

``python -m tests.drills.pairs`` is the long form: many operators and near misses, held against the oracle.
"""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import asdict, replace
from pathlib import Path

import pytest

from tests.chromium import THOROUGH
from tests.drills import adversaries, oracle, pairs
from tests.drills.crews_other import OTHER
from tests.drills.roster import BAD

SEED = 3


LEAST = {True: (3, 4, 2), False: (1, 1, 0)}
"""For drills of well control and for the others: right crews, dangerous or bad ones, near misses among these."""


def test_every_drill_has_right_crews_bad_ones_and_near_misses() -> None:
    """Listed by drill; a crew that was recorded and a right one with one thing changed are two kinds of bad crews."""
    bad = Counter(name.split(".")[0] for name in BAD)
    short = []
    for drill, spec in adversaries.drills().items():
        near = len(pairs.DANGEROUS.get(drill, {}))
        has = len(pairs.ways(drill)), bad[drill] + near, near
        print(f"{drill:30s} {has[0]} right, {bad[drill]} bad, {near} near misses")
        if any(n < least for n, least in zip(has, LEAST[spec.well_control], strict=True)) or not bad[drill]:
            short.append(f"{drill}: {has} of {LEAST[spec.well_control]}")
    assert not short, short
    assert set(OTHER) == set(pairs.DANGEROUS) == set(pairs.WELL)


def test_runs_that_were_broken_off_go_on_where_they_stood(tmp_path: Path) -> None:
    """Written down is what was run; what was run with other rules, or torn, is run anew."""
    drill, other = pairs.WELL[:2]
    numbers = pairs.wanted(6, 14, 2)
    assert [len([n for n in numbers if n % 4 == 0]), len(numbers)] == [6, 20]
    assert len(set(numbers)) == 20
    rows = [pairs.Row(drill, number, pairs.stamp(drill), "busy", False, True, False, "") for number in numbers]
    stale = [replace(rows[3], stamp="another"), replace(rows[5], drill="gone")]
    file = tmp_path / "runs.jsonl"
    lines = [json.dumps(asdict(row)) for row in [*rows[:3], *stale]]
    file.write_text("\n".join([*lines, "null", lines[0][:-9]]))
    done = pairs.kept(file)
    assert done == rows[:3]
    left = pairs.chunks([drill, other], numbers, done)
    assert sorted(number for name, part in left if name == drill for number in part) == numbers[3:]
    assert sorted(number for name, part in left if name == other for number in part) == numbers
    assert [name for name, _ in left[:2]] == [drill, other]
    broken = [replace(rows[0], passed=True, safe=False), replace(rows[1], complete=True)]
    assert [row.broken for row in broken] == ["UNSAFE BUT PASSED", "sound but failed"]
    assert "1 unsafe, 1 of them passed; 1 safe and complete, 1 of them failed" in pairs.counted(broken).splitlines()[-1]


SUBSEA = {drill for drill in pairs.WELL if adversaries.drills()[drill].plants[0] != "sandpiper"}
GAS = {"shallow-gas-diverter", "surface-shallow-gas"}
LEAVING = {"emergency-disconnect", "hang-off-and-shear"}
CIRCULATED = {"choke-practice", "kill-drillers-method", "kill-wait-and-weight"}
GIVEN_UP, STRIPPED = {"emergency-disconnect"}, {"strip-in"}
SHUT = set(pairs.WELL) - GAS - LEAVING
CAUGHT_BY: dict[str, tuple[set[str], set[str]]] = {
    # What the oracle calls unsafe: the rules that catch it, any of them, and the drills in which it looks for it.
    "wellhead connector unlatched": ({"connector_unlatched", "wellhead_unlatched"}, SUBSEA),
    "riser connector unlatched": ({"connector_unlatched"}, SUBSEA - GIVEN_UP),
    "on pipe without an order": ({"shear_on_pipe", "shear_before_order", "early"}, set(pairs.WELL)),
    "closed on a tool joint or collar": ({"ram_on_joint", "pipe_ram_on_joint"}, set(pairs.WELL)),
    "closed on moving pipe": ({"moving_pipe"}, set(pairs.WELL)),
    "pipe run through the closed preventer": ({"moved_in_closed"}, set(pairs.WELL) - STRIPPED),
    "the same at the speed of a trip": ({"tripped_in_closed"}, set(pairs.WELL) - STRIPPED),
    "pipe turned in the closed preventer": ({"turned_in_closed"}, set(pairs.WELL)),
    "string moved while it was sent to close": ({"moved_while_closing"}, {"lamp-lies", "surface-lamp-lies"}),
    "pumped into a shut-in well": ({"pumped_shut"}, set(pairs.WELL) - GAS - GIVEN_UP),
    "more than 1 bbl lost at the shoe": ({"shoe_broken"}, set(pairs.WELL) - GAS),
    "influx above the kick tolerance": ({"beyond_tolerance"}, SHUT),
    "casing pressure above what the shoe holds": ({"above_maasp"}, SHUT),
    "a closed barrier was opened": ({"barrier_opened"}, SHUT),
    "a second influx of more than 0.5 bbl": ({"second_influx", "let_in"}, SHUT),
    "let flow through the open choke": ({"let_flow"}, SHUT - CIRCULATED),
    "let in again while it was circulated": ({"let_in"}, CIRCULATED),
    "reported shut in, and it flowed on": (
        {"false_report"},
        {drill for drill in SHUT if "shut_in" in {said.id for said in adversaries.drills()[drill].statement}},
    ),
    "stored pressure below precharge + 200 psi": ({"stored_pressure_spent"}, {"shut-in-on-stored-fluid"}),
    "gas came up with no closed diverter": ({"at_the_rotary"}, {"riser-gas", "mux-riser-gas"}),
    "gas led upwind": ({"gas_upwind"}, GAS | {"riser-gas", "mux-riser-gas"}),
    "closed where the shoe cannot hold": ({"gas_shut_in"}, GAS),
    "diverter packer closed with no way out": ({"diverter_blocked"}, GAS),
    "pumps stopped with mud left": ({"gas_pumps_stopped"}, GAS),
    "the string was opened": ({"string_opened"}, STRIPPED),
    "string cut with less than its weight on the ram": ({"dropped"}, {"hang-off-and-shear"}),
    "disconnected before red alert": ({"early"}, GIVEN_UP),
    "sheared on turning pipe": ({"turning"}, GIVEN_UP),
    "unlatched before the well was sealed": ({"parted"}, GIVEN_UP),
    "still fast 45 s after red alert": ({"late"}, GIVEN_UP),
}


def test_each_danger_that_the_oracle_looks_for_has_its_rule_in_every_drill() -> None:
    """Its limits are those of the oracle or stricter. Locks and a line that does not see the well are criteria."""
    lacking = []
    for danger, (rules, drills) in CAUGHT_BY.items():
        for drill in sorted(drills):
            spec = adversaries.drills()[drill]
            if not rules & {*spec.rules, *(critical.id for critical in spec.critical)}:
                lacking.append(f"{drill}: {danger}")
    assert not lacking, lacking
    assert len(SUBSEA) == 18 and len(SHUT) == 19


@pytest.mark.parametrize("drill", pairs.WELL)
def test_what_is_right_but_for_one_thing_does_not_pass(drill: str) -> None:
    changes = list(pairs.DANGEROUS[drill].items())
    for name, change in changes if THOROUGH else changes[pairs.WELL.index(drill) % len(changes) :][:1]:
        session = pairs.played(drill, SEED, change(list(pairs.right(drill, 0, SEED)), 0))
        passed, judgement = pairs.marked(drill, SEED, session)
        assert not judgement.safe or not judgement.complete, (name, str(judgement))
        assert not passed, (name, str(judgement))


@pytest.mark.parametrize("name", ["carried", "reopened"])
def test_who_stands_beside_a_run_judges_as_who_sees_it_played_again(name: str) -> None:
    drill = "kick-while-drilling"
    seen: list[oracle.Witness] = []
    change = pairs.DANGEROUS[drill][name]
    session = pairs.played(
        drill, SEED, change(list(pairs.right(drill, 0, SEED)), 0), lambda run: seen.append(oracle.Witness(drill, run))
    )
    judgement = seen[0].judgement()
    assert not judgement.safe
    assert judgement == oracle.judge(drill, SEED, session.log, session.time)


@pytest.mark.parametrize(
    ("drill", "name", "title"),
    [
        ("hang-off-and-shear", "turned in it", "Pipe turned in a closed preventer"),
        ("surface-kick-while-drilling", "turned in it", "Pipe turned in a closed preventer"),
        ("kick-while-drilling", "run through it", "Pipe run through a closed preventer"),
        ("kill-drillers-method", "run through it at the end", "Pipe run through a closed preventer"),
        ("lamp-lies", "moved off its place", "String moved while a preventer was to close"),
        ("strip-in", "choke open while a stand is put on", "Well left to flow through the open choke"),
        ("choke-practice", "a little wide", "Influx let in again while circulating"),
        ("hang-off-and-shear", "lifted off again", "Cut before it was hung off"),
        ("hang-off-and-shear", "pumped", "Pumped into a shut-in well"),
        ("shallow-gas-diverter", "on turning pipe", "Preventer closed on moving pipe"),
    ],
)
def test_what_once_passed_fails_by_its_own_rule(drill: str, name: str, title: str) -> None:
    """Runs that passed, most of them with 95 points and more, while nobody looked at what they did wrong."""
    session = pairs.played(drill, SEED, pairs.DANGEROUS[drill][name](list(pairs.right(drill, 0, SEED)), 0))
    passed, judgement = pairs.marked(drill, SEED, session)
    assert not passed and title in session.sheet()["verdict"]
    assert not judgement.safe
