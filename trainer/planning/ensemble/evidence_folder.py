"""Re-computes a folder of evidence files, by several processes or on a cluster."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor, as_completed
from multiprocessing import get_context
from pathlib import Path

from trainer.planning.ensemble.study import ended_well, spread_out
from trainer.planning.errors import PlanningError
from trainer.runtime import server
from trainer.session import evidence
from trainer.session.verify import Verdict, verify
from trainer.simulator import rebuilder


def files(folder: Path) -> list[Path]:
    """The evidence files of a folder and its folders; PlanningError when there are none."""
    found = sorted(folder.rglob("*.json"))
    if not found:
        raise PlanningError(f"{folder}: holds no evidence (*.json)")
    return found


def recompute(
    folder: Path, *, workers: int = 1, cluster: str | None = None, done: Callable[[int, int], None] | None = None
) -> list[dict[str, object]]:
    """Rows of ``trainer verify --json`` for every file of the folder, in the order of their names."""
    paths = files(folder)
    rows: dict[Path, dict[str, object]] = {}
    for path, row in _rows(paths, workers, cluster):
        rows[path] = row
        if done is not None:
            done(len(rows), len(paths))
    return [rows[path] for path in paths]


def verify_text(text: str, name: str) -> dict[str, object]:
    """A row for an evidence file's text, for a worker that does not see the file."""
    return _row(lambda: evidence.parse(text), name)


def verify_file(path: Path) -> dict[str, object]:
    """A row for an evidence file: whether it verifies, and if not why, in one sentence."""
    return _row(lambda: evidence.read(path), str(path))


def _row(read: Callable[[], evidence.Evidence], name: str) -> dict[str, object]:
    """A row; what compiled code does not confirm is computed again by plain Python, so that its word is the last."""
    try:
        document = read()
    except evidence.EvidenceError as error:
        return Verdict(False, False, False, str(error)).to_json(name)
    server.offer()
    verdict = verify(document, rebuilder())
    if not (verdict.states and verdict.score):
        with server.plain():
            verdict = verify(document, rebuilder())
    return verdict.to_json(name)


def _rows(paths: list[Path], workers: int, cluster: str | None) -> Iterable[tuple[Path, dict[str, object]]]:
    if cluster is not None:
        sent = [(path.read_text(encoding="utf-8", errors="replace"), str(path)) for path in paths]
        yield from spread_out(verify_text, sent, cluster, paths)
    elif workers <= 1 or len(paths) <= 1:
        for path in paths:
            yield path, verify_file(path)
    else:
        with ended_well(), ProcessPoolExecutor(min(workers, len(paths)), mp_context=get_context("spawn")) as pool:
            futures = {pool.submit(verify_file, path): path for path in paths}
            for future in as_completed(futures):
                yield futures[future], future.result()
