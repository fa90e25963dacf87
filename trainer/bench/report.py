"""Runs the benchmark and prints it."""

from __future__ import annotations

import platform
from typing import Any

from trainer.bench import physics, speed


def measure() -> dict[str, Any]:
    """The document of ``trainer bench --json``."""
    machine = f"{platform.python_implementation()} {platform.python_version()} on {platform.machine()}"
    return {
        "machine": machine,
        "checks": [check.to_json() for check in physics.checks()],
        "speed": [figure.to_json() for figure in speed.figures()],
    }


def lines(document: dict[str, Any]) -> list[str]:
    """The document as lines for a terminal."""
    told = [document["machine"], "", "Speed"]
    for row in document["speed"]:
        target = "" if row["target"] is None else f", target {row['target']:g}"
        told.append(
            f"{'ok  ' if row['ok'] else 'MISS'} {row['name']}: {row['value']:.4g} {row['unit']}, "
            f"{row['ratio']:.4g} × {row['baseline']} ({row['baseline_value']:.4g}){target}"
        )
    told += ["", "Physics"]
    for row in document["checks"]:
        told.append(
            f"{'ok  ' if row['ok'] else 'MISS'} {row['name']}: {row['computed']:.6g} {row['unit']}, "
            f"expected {row['expected']:.6g} within {100 * row['tolerance']:g} % ({row['source']})"
        )
    return told
