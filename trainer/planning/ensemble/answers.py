"""What an ensemble tells an instructor: is it fair, is it solvable, how far do plants spread."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from trainer.drills.sheet import level
from trainer.planning.ensemble import reasons, shares
from trainer.planning.ensemble.order import Order

SIGNS = 8
"""First signs that are listed."""
ODD = 0.1
"""What shows on a smaller share of the plants is no sign."""
HALF_WIDTH = 0.05
"""How closely a share is to be known when nothing else is asked."""
FAIR = 0.95
"""Share of plants on which a limit is met that makes it fair; invented."""


def percentile(values: Sequence[float], share: float) -> float:
    """The value below which ``share`` of the values lie, between neighbours in a straight line; values not empty."""
    ordered = sorted(values)
    place = share * (len(ordered) - 1)
    low = int(place)
    high = min(low + 1, len(ordered) - 1)
    return ordered[low] + (place - low) * (ordered[high] - ordered[low])


def summary(order: Order, blocks: Sequence[dict[str, Any]], half_width: float = HALF_WIDTH) -> dict[str, Any]:
    """The document of ``trainer ensemble --json``; it tells how many plants make a share sure within ``half_width``."""
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
        full = len([e for e in judged if level(e, points[key]) == "full"])
        criteria.append(
            {
                "id": key,
                "title": titles[key],
                "points": points[key],
                "full_share": full / len(judged) if judged else None,
                "full_interval": shares.interval(full / len(judged), len(judged)) if judged else None,
                "judged": len(judged),
                "t": spread(times),
                "window": _window(reasons.times_taken(drill, key, plants)),
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
        "plants_seed": order.plants_seed,
        "passed": passed,
        "pass_share": passed / len(plants),
        "pass_interval": shares.interval(passed / len(plants), len(plants)),
        "runs_needed": {
            "half_width": half_width,
            "at_this_share": shares.runs_for(half_width, passed / len(plants)),
            "at_any_share": shares.runs_for(half_width),
        },
        "score": spread([plant["score"] for plant in plants]),
        "criteria": criteria,
        "milestones": milestones,
        "critical": critical,
        "critical_intervals": {name: shares.interval(n / len(plants), len(plants)) for name, n in critical.items()},
        "separating": reasons.separating(plants),
        "worst": [{"plant": p["number"], "score": p["score"]} for p in sorted(plants, key=lambda p: p["score"])[:5]],
        "simulated_s": sum(block["simulated_s"] for block in blocks),
        "cpu_s": sum(block["setup_cpu_s"] + block["run_cpu_s"] for block in blocks),
    }
    document["answers"] = answers(document)
    return document


EXPLAINED = "Beside each share: Wilson's interval; 95 times in 100 it holds the share of all such plants."


def sign(row: dict[str, Any]) -> str:
    """A reading that tells a fault, as a phrase: its tag, and what it is."""
    return f"{row['tag']}: {row['meaning'].rstrip('.')}"


def listed(signs: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """The first signs worth a line: those of more than a few odd plants."""
    return [row for row in signs if row["share"] >= ODD][:SIGNS]


def spread(values: Sequence[float]) -> dict[str, float] | None:
    """Least, 5th, 50th, 95th percentile and greatest; None without values."""
    if not values:
        return None
    marks = {"least": 0.0, "p5": 0.05, "median": 0.5, "p95": 0.95, "greatest": 1.0}
    return {name: round(percentile(values, share), 3) for name, share in marks.items()} | {"count": len(values)}


def _window(found: dict[str, Any] | None) -> dict[str, Any] | None:
    return None if found is None else {**found, "took": spread(found["took"])}


def answers(document: dict[str, Any]) -> list[str]:
    """The instructor's questions answered in sentences: is it solvable, are its limits fair, who decides."""
    judged = [row for row in document["criteria"] if row["judged"] and row["points"] > 0]
    told = [*_solvable(document), *_limits(judged), *_luck(judged)]
    missed = [f"'{row['title']}'" for row in judged if row["full_share"] == 0.0]
    if missed:
        told.append(f"Earned in full on no plant: {', '.join(missed)}. The actions are late or wrong there.")
    for name, count in document["critical"].items():
        told.append(f"Critical error '{name}' on {_of(count, document['runs'])} plants.")
    return told


def _of(count: int, runs: int) -> str:
    """A share of the plants with its interval."""
    return f"{count} of {runs} ({shares.in_words(shares.interval(count / runs, runs))})"


def needed(document: dict[str, Any]) -> str:
    """How many plants it takes to know the share that passes more closely."""
    found = document["runs_needed"]
    return (
        f"To know a share within {100 * found['half_width']:g} % more or less: {found['at_this_share']} plants if it "
        f"stays at {100 * document['pass_share']:.1f} %, {found['at_any_share']} whatever it is."
    )


def share_rows(document: dict[str, Any]) -> list[tuple[str, str, str]]:
    """Every share of the summary: what of, the share seen, its interval."""
    rows = [("Passed", document["pass_share"], document["pass_interval"])]
    rows += [
        (f"In full: {row['title']}", row["full_share"], row["full_interval"])
        for row in document["criteria"]
        if row["full_share"] is not None
    ]
    rows += [
        (f"Critical error: {name}", count / document["runs"], document["critical_intervals"][name])
        for name, count in document["critical"].items()
    ]
    return [(title, f"{100 * share:.1f} %", shares.in_words(found)) for title, share, found in rows]


def _solvable(document: dict[str, Any]) -> list[str]:
    runs, share = document["runs"], document["pass_share"]
    if share == 1.0:
        least = 100 * shares.interval(1.0, runs)[0]
        return [f"Solvable: these actions pass on all {runs} plants, so surely on {least:.1f} % or more of all."]
    if share == 0.0:
        return [f"Not solved: these actions pass on none of {runs} plants. Check the actions before the drill."]
    told = [f"Solvable on {_of(document['passed'], runs)} plants with these actions; not on the others."]
    parts = [reasons.in_words(row) for row in document["separating"]]
    if parts:
        told.append(f"What the others have in common: {'; '.join(parts)}.")
    return told


def _limits(judged: list[dict[str, Any]]) -> list[str]:
    """Whether time windows are fair, each by how long the same hands take."""
    timed = [(row, row["window"]) for row in judged if row["window"] is not None and row["window"]["took"] is not None]
    # Late on every plant that gets there: that is the actions' doing.
    timed = [(row, window) for row, window in timed if window["late"] + window["never"] < row["judged"]]
    unfair = [(row, window) for row, window in timed if window["late"] > (1.0 - FAIR) * row["judged"]]
    if timed and not unfair:
        row, window = max(timed, key=lambda pair: pair[1]["took"]["greatest"] / max(pair[1]["full_s"], 1e-9))
        return [
            f"Time limits are fair: none depends on which plant a trainee happens to get. The tightest is "
            f"'{row['title']}': {window['took']['greatest']:g} s at most, {window['full_s']:g} s are allowed.",
            *_too_few(timed),
        ]
    return [
        f"The time limit of '{row['title']}' is luck: the same hands take {window['took']['least']:g} to "
        f"{window['took']['greatest']:g} s, {window['full_s']:g} s are allowed, and on "
        f"{_of(window['late'], row['judged'])} plants that is "
        "too late. Give it more time."
        for row, window in unfair
    ]


def _too_few(timed: Sequence[tuple[dict[str, Any], dict[str, Any]]]) -> list[str]:
    """What is still open about limits that looked fair: how many plants may be late all the same."""
    row, window = max(timed, key=lambda pair: pair[1]["late"] / pair[0]["judged"])
    share, most = window["late"] / row["judged"], 1.0 - FAIR
    open_ = shares.interval(share, row["judged"])[1]
    if open_ <= most:
        return []
    more = shares.runs_below(most, share)
    wanted = "" if more is None else f" Run {more} plants or more to be sure of less than {100 * most:.0f} %."
    return [f"Too few plants to be sure of that: up to {100 * open_:.1f} % of all such plants may be late.{wanted}"]


def _luck(judged: list[dict[str, Any]]) -> list[str]:
    """What the same hands earn on some plants and not on others, for another reason than time."""
    rows = [row for row in judged if 0.0 < row["full_share"] < FAIR and not (row["window"] and row["window"]["late"])]
    if not rows:
        return []
    named = [
        f"'{row['title']}' ({100 * row['full_share']:.0f} % of plants, {shares.in_words(row['full_interval'])})"
        for row in rows
    ]
    return [f"The plant decides, not time: the same hands earn in full {', '.join(named)}."]


def lines(document: dict[str, Any]) -> list[str]:
    """The summary of an ensemble for a terminal, line by line; ``document`` is what is printed as JSON."""
    score, sure = document["score"], shares.in_words(document["pass_interval"])
    found = [
        f"{document['drill']} on {document['runs']} plants like {document['plant']}, tolerances "
        f"{document['tolerances']}, seed {document['seed']}, plants' seed {document['plants_seed']}",
        f"passed {document['passed']} ({100 * document['pass_share']:.1f} %, {sure}), score {score['least']:g} to "
        f"{score['greatest']:g}, median {score['median']:g}",
        "",
        f"{'criterion':<58} {'full':>6} {'95 % interval':>16} {'least':>8} {'median':>8} {'95 %':>8} {'greatest':>8}",
    ]
    for row in document["criteria"]:
        t = row["t"]
        times = "".join(f" {t[k]:>8.1f}" for k in ("least", "median", "p95", "greatest")) if t else ""
        full = "   ---" if row["full_share"] is None else f"{100 * row['full_share']:5.1f}%"
        sure = "" if row["full_interval"] is None else shares.in_words(row["full_interval"])
        found.append(f"{row['title'][:58]:<58} {full:>6} {sure:>16}{times}")
    found += ["", *document["answers"], needed(document), EXPLAINED, ""]
    if document.get("first_signs"):
        found += [f"{'first signs of the fault':<58} {'after':>7} {'shows on':>9} {'95 % interval':>16}  where"]
        for row in listed(document["first_signs"]):
            found.append(
                f"{sign(row)[:58]:<58} {row['after_s']:5.1f} s {100 * row['share']:7.0f} % "
                f"{shares.in_words(row['interval']):>16}  {', '.join(row['station'])}"
            )
        found.append("")
    rate = document["simulated_s"] / max(document["cpu_s"], 1e-9)
    found.append(f"{document['simulated_s']:.0f} s simulated, {document['cpu_s']:.1f} s of processor: {rate:.0f} times")
    return found
