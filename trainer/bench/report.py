"""Runs the benchmark and prints it."""

from __future__ import annotations

import platform
from pathlib import Path
from typing import Any

from trainer.bench import fitting, growth, physics, speed, start


def measure(long: bool = False) -> dict[str, Any]:
    """The document of ``trainer bench --json``; ``long`` as in ``physics.checks``, and more of speed."""
    figures = [*speed.figures(), *fitting.figures(), *(growth.figures() if long else ())]
    unmeasured = []
    try:
        figures += start.figures()
    except start.UnmeasuredError as reason:
        unmeasured.append(str(reason))
    machine = f"{platform.python_implementation()} {platform.python_version()} on {platform.machine()}"
    return {
        "machine": machine,
        "checks": [check.to_json() for check in physics.checks(long)],
        "speed": [figure.to_json() for figure in figures],
        "unmeasured": unmeasured,
    }


def lines(document: dict[str, Any]) -> list[str]:
    """The document as lines for a terminal: the machine, then each figure with its unit and target."""
    told = [document["machine"], "", "Speed"]
    for row in document["speed"]:
        most = "" if row["more"] else "at most "
        target = "" if row["target"] is None else f", target {most}{row['target']:g}"
        told.append(
            f"{'ok  ' if row['ok'] else 'MISS'} {row['name']}: {row['value']:.4g} {row['unit']}, "
            f"{row['ratio']:.4g} × {row['baseline']} ({row['baseline_value']:.4g}){target}"
        )
    told += [*document["unmeasured"], "", "Physics"]
    for row in document["checks"]:
        told.append(
            f"{'ok  ' if row['ok'] else 'MISS'} {row['name']}: {row['computed']:.6g} {row['unit']}, "
            f"expected {row['expected']:.6g} within {100 * row['tolerance']:g} % ({row['source']})"
        )
    return told


FOOT = "## Checks in the tests, digit by digit"
"""Where the page goes on with what the tests hold; ``tests/outside/count.py`` writes that."""

HEAD = """# What the physics is held against

Written by `trainer bench --long --page assets/docs/checks.md`. Each row is one comparison with a source outside this
program:
what the source says, what the program computed, the difference, and how much of it is allowed (relative to what is
expected, or absolute where that is zero). A row that is marked MISS is outside. `--long` adds ten simulated minutes
beside a stiff integrator and an hour at rest (half an hour of a small machine); speed depends on the machine and is
not kept here. Kinds: *independent*, a published number of others or that a general library computes by a
route of its own; *verification*, the same law solved another way, or a requirement that the plants are to meet;
*balance*, what goes in must come out.

| | Kind | Check | Source | Expected | Computed | Difference | Allowed |
| --- | --- | --- | --- | --- | --- | --- | --- |
"""


def foot_of(page: Path) -> str:
    """What a page that is there already goes on with from ``FOOT`` on, or nothing: it is kept."""
    was = page.read_text(encoding="utf-8") if page.is_file() else ""
    return was[was.index(FOOT) :] if FOOT in was else ""


def page(document: dict[str, Any], foot: str = "") -> str:
    """The physics of a document as a page of the docs, which goes on with ``foot``."""
    rows = []
    for row in document["checks"]:
        allowed = f"{100 * row['tolerance']:g} %" if row["expected"] else f"{row['tolerance']:g}"
        rows.append(
            f"| {'ok' if row['ok'] else 'MISS'} | {row['kind']} | {row['name']} | {row['source']} "
            f"| {row['expected']:.6g} {row['unit']} | {row['computed']:.6g} {row['unit']} "
            f"| {row['difference']:.2g} | {allowed} |"
        )
    return HEAD + "\n".join(rows) + "\n" + (f"\n{foot}" if foot else "")
