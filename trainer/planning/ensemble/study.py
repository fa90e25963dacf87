"""An ensemble on disk: blocks of plants computed by processes or a cluster, kept as they finish, taken up again."""

from __future__ import annotations

import gc
import json
import math
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from trainer.kept import put
from trainer.planning.ensemble.block import run_block
from trainer.planning.ensemble.columns import Columns
from trainer.planning.ensemble.order import Order
from trainer.planning.errors import PlanningError

BLOCK = 31
"""Plants computed together, with one beside them that no tolerance touches: the conditions of a drill are looked at for
all of them by one call. More of them leave the processor's cache between two scans (29 kB each)."""
Done = Callable[[int, int], None]
Span = tuple[int, int]
KEPT = 100
"""The same where they are kept: no more than so many for each process are lost by a stop."""
ORDER = "order.json"
FILES = f"plants-{'[0-9]' * 6}-{'[0-9]' * 6}.json"
BEAT = 0.5
"""Seconds between two looks at what other processes do."""
ANSWER = 10.0
"""Seconds that a cluster may take to answer."""


def share(runs: int, workers: int, most: int) -> int:
    """How many plants of ``runs`` go together, ``most`` at most, so that all processes have as many blocks to do."""
    turns = -(-runs // (most * workers))
    return -(-runs // (turns * workers))


def _between(start: int, stop: int, block: int) -> list[Span]:
    """Plants ``start`` to ``stop`` in blocks."""
    return [(first, min(first + block, stop)) for first in range(start, stop, block)]


class Folder:
    """Where an ensemble's blocks are kept. Another order in the same folder is refused."""

    def __init__(self, path: Path, order: Order) -> None:
        self.path = path
        identity = {"identity": order.identity(), "drill": order.drill_name, "plant": order.plant, "seed": order.seed,
                    "plants_seed": order.plants_seed}  # fmt: skip
        try:
            path.mkdir(parents=True, exist_ok=True)
            known = path / ORDER
            if not known.is_file():
                known.write_text(json.dumps(identity), encoding="utf-8")
            found = json.loads(known.read_text(encoding="utf-8"))
        except OSError as error:
            raise PlanningError(f"{path}: cannot be used: {error.strerror or error}") from error
        except ValueError as error:
            raise PlanningError(f"{path / ORDER}: damaged; remove the folder or give another with --out") from error
        if found.get("identity") != identity["identity"]:
            raise PlanningError(f"{path}: holds another ensemble; remove it or give another folder with --out")

    def _file(self, span: Span) -> Path:
        return self.path / f"plants-{span[0]:06d}-{span[1]:06d}.json"

    def load(self, span: Span) -> dict[str, Any] | None:
        """A finished block; None when it is not there or was cut off in writing."""
        try:
            found: dict[str, Any] = json.loads(self._file(span).read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return None
        return found

    def kept(self, runs: int) -> dict[Span, dict[str, Any]]:
        """Finished blocks of the first ``runs`` plants that do not overlap, however many processes wrote them."""
        found: dict[Span, dict[str, Any]] = {}
        end = 0
        for span in sorted(_span_of(path) for path in self.path.glob(FILES)):
            if end <= span[0] and span[1] <= runs and (block := self.load(span)) is not None:
                found[span], end = block, span[1]
        return found

    def keep(self, span: Span, block: dict[str, Any]) -> None:
        """Write a finished block; a crash leaves either all of it or nothing."""
        put(self._file(span), json.dumps(block))


def _span_of(path: Path) -> Span:
    start, stop = path.stem.split("-")[1:]
    return int(start), int(stop)


def _gaps(kept: Iterable[Span], runs: int, block: int) -> list[Span]:
    """Blocks for the plants that no block of ``kept`` (in order) holds."""
    left, end = [], 0
    for start, stop in [*kept, (runs, runs)]:
        left += _between(end, start, block)
        end = stop
    return left


def run(
    order: Order,
    runs: int,
    *,
    folder: Folder | None = None,
    workers: int = 1,
    cluster: str | None = None,
    block: int = BLOCK,
    done: Done | None = None,
) -> list[dict[str, Any]]:
    """All blocks of an ensemble in order; those that ``folder`` holds already are not computed again.

    ``done`` is told how many plants of how many are finished.
    """
    found = {} if folder is None else folder.kept(runs)
    left = _gaps(found, runs, block)
    ready = sum(stop - start for start, stop in found)
    if done is not None:
        done(ready, runs)
    inside = None
    if done is not None:
        inside = _Inside(done, runs, ready)
    for span, result in _computed(order, left, workers, cluster, inside):
        found[span] = result
        if folder is not None:
            folder.keep(span, result)
        ready += span[1] - span[0]
        if done is not None and inside is not None:
            inside.ready = ready
            done(ready, runs)
    return [found[span] for span in sorted(found)]


class _Inside:
    """Tells how far blocks have come that are not finished."""

    def __init__(self, done: Done, runs: int, ready: int) -> None:
        self.done, self.runs, self.ready = done, runs, ready

    def within(self, span: Span) -> Callable[[float], None]:
        """What a block calls with the share of it that is done."""
        return lambda share: self.done(self.ready + int(share * (span[1] - span[0])), self.runs)

    def beside(self, going: list[tuple[Span, float]]) -> None:
        """Tell of the blocks that other processes work on, each with its share."""
        begun = math.fsum(share * (stop - start) for (start, stop), share in going)
        self.done(self.ready + int(begun), self.runs)


def _computed(
    order: Order, left: list[Span], workers: int, cluster: str | None, inside: _Inside | None
) -> Iterable[tuple[Span, dict[str, Any]]]:
    if cluster is not None:
        return spread_out(run_block, [(order, *span) for span in left], cluster, left)
    if workers <= 1 or len(left) <= 1:
        return ((span, run_block(order, *span, inside.within(span) if inside else None)) for span in left)
    # Translated here, once, before processes that want the same are started.
    Columns(order.machine(), 2).scan()
    return _pooled(order, left, workers, inside)


_shares: Any = None
"""In a process of the pool: how far each block has come, seen by all."""


def _join(shares: Any) -> None:
    global _shares
    _shares = shares
    # What was imported stays: the collector need not go over it with every block.
    gc.freeze()


def _in_pool(number: int, order: Order, start: int, stop: int) -> dict[str, Any]:
    def come(share: float) -> None:
        _shares[number] = share

    return run_block(order, start, stop, come)


def _pooled(
    order: Order, left: list[Span], workers: int, inside: _Inside | None
) -> Iterator[tuple[Span, dict[str, Any]]]:
    context = get_context("spawn")
    shares = context.Array("d", len(left))
    with ended_well(), ProcessPoolExecutor(min(workers, len(left)), context, _join, (shares,)) as pool:
        futures = {pool.submit(_in_pool, n, order, *span): (n, span) for n, span in enumerate(left)}
        going = set(futures)
        while going:
            ended, going = wait(going, BEAT, FIRST_COMPLETED)
            if inside is not None:
                inside.beside([(left[n], shares[n]) for n, _ in (futures[future] for future in going)])
            for future in ended:
                yield futures[future][1], future.result()


@contextmanager
def ended_well() -> Iterator[None]:
    """PlanningError when a process of a pool inside was ended from outside."""
    try:
        yield
    except BrokenProcessPool:
        raise PlanningError(
            "a process was ended from outside, perhaps for want of memory; begin again with fewer --workers "
            "(what a folder given with --out holds already is not computed again)"
        ) from None


def spread_out(
    work: Callable[..., Any], arguments: list[tuple[Any, ...]], address: str, keys: list[Any]
) -> Iterator[tuple[Any, Any]]:
    """``work(*arguments)`` for each, on the Dask cluster at ``address``; results as they come, each with its key.

    PlanningError when Dask is not installed or nobody answers at the address.
    """
    try:
        from distributed import Client
        from distributed import as_completed as arriving
    except ImportError:
        raise PlanningError("--cluster needs Dask: pip install 'bop-panel-trainer[cluster]'") from None
    try:
        client = Client(address, timeout=ANSWER)
    except (OSError, ValueError, TimeoutError) as error:
        raise PlanningError(f"no cluster answers at {address}: {error}") from None
    with client:
        # The cluster may know the same call of an earlier order; purity is not promised to it.
        futures = [client.submit(work, *one, pure=False) for one in arguments]
        key_of = {future.key: key for future, key in zip(futures, keys, strict=True)}
        for future in arriving(futures):
            yield key_of[future.key], future.result()
