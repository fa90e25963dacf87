"""How soon a plant of one's own is answered: ``trainer check`` of it, and the fit page after an edit."""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from trainer import filecheck
from trainer.bench.speed import Figure
from trainer.planning import fit_page
from trainer.planning.draft import Draft
from trainer.plant.rig import plant_ids

CHECKED, ANSWERED = 3.0, 0.3
"""The most that a check of a plant, and the page's answer to an edit, may take, s."""
TRIES = 3


def figures() -> list[Figure]:
    """The slowest of a few plants each, none seen before, in s: a check, and an edit on the fit page."""
    checked = max(_took(_check, base, n) for base in plant_ids() for n in range(TRIES))
    answered = max(_took(_edit, base, n) for base in plant_ids() for n in range(TRIES))
    most = "the most that it may take"
    return [
        Figure("check of a plant, run for a minute", checked, "s", most, CHECKED, 1.0, more=False),
        Figure("the fit page's answer to an edit", answered, "s", most, ANSWERED, 1.0, more=False),
    ]


def _took(work: Callable[[str, int], None], base: str, n: int) -> float:
    began = time.process_time()
    work(base, n)
    return time.process_time() - began


def _orders(n: int) -> list[list[str]]:
    return [["put", "bank.bank_a.bottles", str(20 + n)], ["put", "bank.bank_a.precharge", f"{1000 + 10 * n} psi"]]


def _check(base: str, n: int) -> None:
    draft = Draft.open(base)
    for _, place, value in _orders(n):
        draft.put(place, value)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"{base}.toml"
        path.write_text(draft.text(), encoding="utf-8")
        report = filecheck.check_file(path)
    if report.faults:
        raise ValueError(f"{base} as changed here has faults: {'; '.join(report.faults)}")


def _edit(base: str, n: int) -> None:
    shown = fit_page.state(fit_page.drafted(base, "", "", _orders(n)), "schematic", "light")
    if shown["faults"]:
        raise ValueError(f"{base} as edited here has faults: {shown['faults']}")
