"""Plain Python, wasmtime and the browser's Python give the same states, to the bit, and the same score."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.chromium import THOROUGH
from tests.takeaway.replay import replay
from trainer.drills import library
from trainer.runtime import server
from trainer.session import evidence
from trainer.session.verify import verify
from trainer.simulator import rebuilder

HERE = Path(__file__).parent
ACTIONS = HERE.parent / "drills" / "actions"
SEEDS = (0, 1, 2)
#: One of each rig, and of those the ones that take a processor least: the rest is for a thorough run.
QUICK = ("kick-while-drilling", "surface-lamp-lies")
CLOSE = """
{"t": 9, "do": "push", "target": "driller.enable", "from": "driller"}
{"t": 10, "do": "set", "target": "upper_pipe_ram", "value": "close", "from": "driller"}
{"t": 30, "do": "say", "target": "closed", "from": "driller"}
"""
Run = Callable[[list[list[Any]]], list[dict[str, Any]]]


def scripts(drill: str) -> list[str]:
    """Action files for a drill by the names the drills' own tests give them, or idleness when there is none."""
    found = sorted(ACTIONS.glob(f"{drill}*.jsonl"))
    return [path.read_text("utf-8") for path in found[:1]] or [""]


def test_a_small_run_is_the_same_to_the_bit(in_browser_python: Run) -> None:
    """Three seeds of the smallest drill: hashes, score and evidence agree, and evidence verifies across."""
    calls = [["close-one", seed, CLOSE, "/tests/drills"] for seed in SEEDS]
    there = in_browser_python(calls)
    rebuild = rebuilder([HERE / "drills" / "close-one.toml"])
    for seed, told in zip(SEEDS, there, strict=True):
        here = replay("close-one", seed, CLOSE, str(HERE / "drills"))
        assert len(here["chain"]) == 7
        assert told["chain"] == here["chain"]
        assert (told["end"], told["score"], told["passed"]) == (here["end"], 100.0, True)
        verdict = verify(evidence.parse(json.dumps(told["evidence"])), rebuild)
        assert (verdict.states, verdict.score, verdict.seal) == (True, True, True), verdict.reason


def together(drill: str) -> list[list[Any]]:
    """The runs of a thorough test of one drill: three seeds, by its first action file."""
    return [[drill, seed, text] for seed in SEEDS for text in scripts(drill)]


QUICKLY = [[drill, seed, text] for seed, drill in enumerate(QUICK) for text in scripts(drill)]
"""The short drills, each with a seed of its own, in one process."""
PLAYED = {drill: together(drill) for drill in library.all_drills()} if THOROUGH else {"two drills": QUICKLY}


@pytest.mark.parametrize("name", PLAYED)
def test_every_drill_is_the_same_to_the_bit(in_browser_python: Run, name: str) -> None:
    """Shipped drills played by their first action files: chains, scores and refusals agree."""
    played = PLAYED[name]
    for call, there in zip(played, in_browser_python(played), strict=True):
        here = replay(*call)
        with server.plain():
            plain = replay(*call)
        for told in (there, here):
            assert told["chain"] == plain["chain"], call[:2]
            for key in ("end", "score", "passed", "refusals"):
                assert told[key] == plain[key], (key, call[:2])


def test_evidence_made_here_verifies_in_the_browser(in_browser_python: Run) -> None:
    """The other way round: the browser's Python re-computes a run of this one to the same states and score."""
    made = replay("close-one", 1, CLOSE, str(HERE / "drills"))["evidence"]
    (told,) = in_browser_python([["verify", json.dumps(made), "/tests/drills/close-one.toml"]])
    assert told == {"states": True, "score": True, "seal": True}
