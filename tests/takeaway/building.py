"""Builds the site once for all tests that look at it."""

from __future__ import annotations

import atexit
import functools
import shutil
import tempfile
from pathlib import Path

from trainer.takeaway.build import SiteReport, build


@functools.cache
def built_site() -> SiteReport:
    """The take-away edition as a user builds it; tests must leave it as it is."""
    folder = tempfile.mkdtemp(prefix="takeaway-")
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return build(Path(folder) / "site")
