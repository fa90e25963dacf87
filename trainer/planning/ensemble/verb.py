"""The command ``trainer ensemble``: a drill over many plants, or a folder of evidence re-computed."""

from __future__ import annotations

from pathlib import Path

from trainer.planning.ensemble import answers, by_plant, evidence_folder, order, plots, study
from trainer.planning.ensemble.first_signs import PLANTS, first_signs
from trainer.planning.errors import PlanningError

MOST_RUNS = 100_000
LEAST_SHARE = 50
"""Plants for which another process pays."""


def drill(
    name: str,
    *,
    runs: int,
    actions_file: Path | None = None,
    plant: str | None = None,
    spread: str = "usual",
    seed: int = 0,
    plants_seed: int = 0,
    vary: bool = False,
    waits: bool = False,
    half_width: float = answers.HALF_WIDTH,
    signs: bool = False,
    traces: tuple[str, ...] = (),
    out: Path | None = None,
    plot: Path | None = None,
    table: Path | None = None,
    workers: int = 1,
    cluster: str | None = None,
    done: study.Done | None = None,
) -> dict[str, object]:
    """Run the ensemble, write its plots if asked, and return its summary. PlanningError for what does not go."""
    if not 1 <= runs <= MOST_RUNS:
        raise PlanningError(f"{runs} plants cannot be run; give 1 to {MOST_RUNS}")
    if plot is not None and (plot.suffix.lower() != ".html" or not plot.parent.is_dir()):
        raise PlanningError(f"{plot}: plots are written to OUT.html in a folder that is there")
    if table is not None and (table.suffix.lower() != ".csv" or not table.parent.is_dir()):
        raise PlanningError(f"{table}: the table is written to OUT.csv in a folder that is there")
    wanted = order.make(name, plant=plant, actions_file=actions_file, spread=spread, seed=seed,
                        plants_seed=plants_seed, vary=vary, waits=waits, traces=traces)  # fmt: skip
    folder = None if out is None else study.Folder(out, wanted)
    # A process has to be started and the plant translated in it: that pays for many plants only.
    workers = max(min(workers, runs // LEAST_SHARE), 1)
    share = study.share(runs, workers, study.BLOCK if folder is None else study.KEPT)
    blocks = study.run(wanted, runs, folder=folder, workers=workers, cluster=cluster, block=share, done=done)
    document = answers.summary(wanted, blocks, half_width)
    if signs:
        document["first_signs"] = first_signs(wanted, min(runs, PLANTS))
        document["answers"].append(_first(document["first_signs"]))
    if table is not None:
        by_plant.write(blocks, table)
    if plot is not None:
        plot.write_text(plots.page(wanted, blocks, document), encoding="utf-8")
    return document


def _first(signs: list[dict[str, object]]) -> str:
    if not signs:
        return "No instrument shows a fault: the drill brings none, or none shows before its end."
    told = ", ".join(f"{row['tag']} after {row['after_s']:g} s" for row in signs[:3])
    return f"What shows the fault first: {told}."


def folder(path: Path, *, workers: int, cluster: str | None, done: study.Done | None) -> list[dict[str, object]]:
    """Re-compute a folder of evidence by several processes, or on a cluster: a row for each file."""
    return evidence_folder.recompute(path, workers=workers, cluster=cluster, done=done)
