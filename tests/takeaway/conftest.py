"""One built site for all tests of the take-away edition, and the browser's Python under Node beside it."""

from __future__ import annotations

import gzip
import io
import json
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.takeaway.building import built_site
from trainer.takeaway import node
from trainer.takeaway.build import SiteReport
from trainer.takeaway.fetch import cache_folder
from trainer.takeaway.prepare import prepare

HERE = Path(__file__).parent


@pytest.fixture(scope="session")
def site() -> SiteReport:
    """The take-away edition as a user builds it."""
    return built_site()


@pytest.fixture(scope="session")
def engine_tree(site: SiteReport, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What the browser unpacks into its site-packages."""
    tree = tmp_path_factory.mktemp("engine")
    for packed in (*site.out.glob("trainer-*/code.zip.gz"), *site.out.glob("trainer-*/data.zip.gz")):
        with zipfile.ZipFile(io.BytesIO(gzip.decompress(packed.read_bytes()))) as archive:
            archive.extractall(tree)
    return tree


@pytest.fixture(scope="session")
def in_browser_python(engine_tree: Path) -> Callable[[list[list[Any]]], list[dict[str, Any]]]:
    """Runs `replay` in the browser's Python, once for each list of its arguments."""

    def run(calls: list[list[Any]]) -> list[dict[str, Any]]:
        program = (
            "import sys\nsys.path[:0] = ['/engine', '/tests']\nfrom trainer.runtime import by_browser\n"
            "by_browser.offer()\nimport replay\nprint(replay.replay_all(argument))\n"
        )
        mounts = {"/engine": engine_tree, "/tests": HERE}
        runtime = prepare(cache_folder()).runtime
        told: list[dict[str, Any]] = json.loads(node.run(runtime, program, json.dumps(calls), mounts))
        return told

    return run
