"""Builds the site once for all tests that look at it, in whichever process they run."""

from __future__ import annotations

import functools
import hashlib
import os
import pickle
import shutil
from importlib.metadata import distributions
from pathlib import Path

import trainer
from tests.waiting import alone
from trainer import resources
from trainer.takeaway.build import SiteReport, build
from trainer.takeaway.fetch import cache_folder

KEPT = 2


@functools.cache
def built_site() -> SiteReport:
    """The take-away edition as a user builds it; tests must leave it as it is.

    It lies in the cache folder under a name made of all its sources and of the libraries here, so the first process of
    a test run builds it and the others wait for that.
    """
    shelf = cache_folder() / "tested"
    folder = shelf / _stamp()
    folder.mkdir(parents=True, exist_ok=True)
    with alone(shelf):
        note = folder / "report.pickle"
        if not note.is_file():
            shutil.rmtree(folder / "site", ignore_errors=True)
            note.write_bytes(pickle.dumps(build(folder / "site")))
        os.utime(folder)
        others = sorted((path for path in shelf.iterdir() if path.is_dir()), key=lambda path: path.stat().st_mtime)
        for old in others[:-KEPT]:
            shutil.rmtree(old, ignore_errors=True)
        report: SiteReport = pickle.loads(note.read_bytes())
    return report


def _stamp() -> str:
    stamp = hashlib.sha256()
    for name, version in sorted({(found.metadata["Name"], found.version) for found in distributions()}):
        stamp.update(f"{name} {version}\n".encode())
    for folder in (Path(trainer.__file__).parent, resources.assets(), resources.scenarios()):
        for path in sorted(folder.rglob("*")):
            if path.is_file() and path.suffix != ".pyc":
                stamp.update(f"{path.relative_to(folder)}\n".encode() + hashlib.sha256(path.read_bytes()).digest())
    return stamp.hexdigest()[:16]
