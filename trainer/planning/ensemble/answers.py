"""What an ensemble tells an instructor: is it fair, is it solvable, how far do plants spread."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from trainer.planning.ensemble.order import Order

FAIR = 0.95
"""Share of plants on which a limit is met that makes it fair; invented."""


def percentile(values: Sequence[float], share: float) -> float:
    """The value below which ``share`` of the values lie, between neighbours in a straight line; values not empty."""
    ordered = sorted(values)
    place = share * (len(ordered) - 1)
    low = int(place)
    high = min(low + 1, len(ordered) - 1)
    return ordered[low] + (place - low) * (ordered[high] - ordered[low])


def summary(order: Order, blocks: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """The document of ``trainer ensemble --json``."""
    plants = [plant for block in blocks for plant in block["plants"]]
    machine = order.machine()
    drill = order.prepared(machine).drill
    titles = {item.id: item.title for item in drill.criterion}
    points = {item.id: item.points for item in drill.criterion}
    criteria = []
    for key in plants[0]["criteria"]:
        rows = [plant["criteria"][key] for plant in plants]
        judged = [earned for earned, _ in rows if earned is not None]
        times = [t for _, t in rows if t is not None]
        full = len([e for e in judged if e >= points[key] - 1e-9])
        criteria.append(
            {
                "id": key,
                "title": titles[key],
                "points": points[key],
                "full_share": full / len(judged) if judged else None,
                "judged": len(judged),
                "t": spread(times),
            }
        )
    milestones = [
        {
            "id": item.id,
            "title": item.title,
            "t": spread([t for p in plants if (t := p["milestones"][item.id]) is not None]),
        }
        for item in drill.milestone
    ]
    critical: dict[str, int] = {}
    for plant in plants:
        for name in sorted({row["id"] for row in plant["critical"]}):
            critical[name] = critical.get(name, 0) + 1
    passed = len([plant for plant in plants if plant["passed"]])
    document: dict[str, Any] = {
        "drill": drill.id,
        "plant": order.plant,
        "tolerances": order.spreads().id,
        "runs": len(plants),
        "seed": order.seed,
        "engine": " and ".join(sorted({block.get("engine", "numpy") for block in blocks})),
        "passed": passed,
        "pass_share": passed / len(plants),
        "score": spread([plant["score"] for plant in plants]),
        "criteria": criteria,
        "milestones": milestones,
        "critical": critical,
        "worst": [{"plant": p["number"], "score": p["score"]} for p in sorted(plants, key=lambda p: p["score"])[:5]],
        "simulated_s": sum(block["simulated_s"] for block in blocks),
        "cpu_s": sum(block["setup_cpu_s"] + block["run_cpu_s"] for block in blocks),
    }
    document["answers"] = answers(document)
    return document


def spread(values: Sequence[float]) -> dict[str, float] | None:
    """Least, 5th, 50th, 95th percentile and greatest; None without values."""
    if not values:
        return None
    marks = {"least": 0.0, "p5": 0.05, "median": 0.5, "p95": 0.95, "greatest": 1.0}
    return {name: round(percentile(values, share), 3) for name, share in marks.items()} | {"count": len(values)}


def answers(document: dict[str, Any]) -> list[str]:
    """The instructor's questions answered in sentences."""
    runs, share = document["runs"], document["pass_share"]
    told = []
    if share == 1.0:
        told.append(f"Solvable: these actions pass on all {runs} plants.")
    elif share > 0.0:
        told.append(f"Solvable on {document['passed']} of {runs} plants with these actions; not on the others.")
    else:
        told.append(f"Not solved: these actions pass on none of {runs} plants. Check the actions before the drill.")
    timed = [row for row in document["criteria"] if row["t"] is not None and row["judged"] and row["points"] > 0]
    unfair = [row for row in timed if 0.0 < row["full_share"] < FAIR]
    missed = [row for row in timed if row["full_share"] == 0.0]
    if unfair:
        for row in unfair:
            told.append(
                f"Luck of the plant decides '{row['title']}': the same hands earn it in full on "
                f"{100 * row['full_share']:.0f} % of plants (reached after {row['t']['least']:g} to "
                f"{row['t']['greatest']:g} s); give it more time."
            )
    elif timed:
        told.append("Time limits are fair: no criterion depends on which plant a trainee happens to get.")
    told += [f"'{row['title']}' is earned in full on no plant: the actions are late or wrong." for row in missed]
    for name, count in document["critical"].items():
        told.append(f"Critical failure '{name}' on {count} of {runs} plants.")
    return told


def lines(document: dict[str, Any]) -> list[str]:
    """The summary for a terminal."""
    score = document["score"]
    found = [
        f"{document['drill']} on {document['runs']} plants like {document['plant']}, tolerances "
        f"{document['tolerances']}, seed {document['seed']}",
        f"passed {document['passed']} ({100 * document['pass_share']:.1f} %), score {score['least']:g} to "
        f"{score['greatest']:g}, median {score['median']:g}",
        "",
        f"{'criterion':<58} {'full':>6}  {'least':>8} {'median':>8} {'95 %':>8} {'greatest':>8}",
    ]
    for row in document["criteria"]:
        t = row["t"]
        times = "".join(f" {t[k]:>8.1f}" for k in ("least", "median", "p95", "greatest")) if t else ""
        full = "   ---" if row["full_share"] is None else f"{100 * row['full_share']:5.1f}%"
        found.append(f"{row['title'][:58]:<58} {full:>6} {times}")
    found += ["", *document["answers"], ""]
    rate = document["simulated_s"] / max(document["cpu_s"], 1e-9)
    found.append(
        f"{document['simulated_s']:.0f} s simulated, {document['cpu_s']:.1f} s of processor: {rate:.0f} times, "
        f"by {document['engine']}"
    )
    return found
