"""The browser's scripts: sound, short, and without a rule of their own."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from trainer import resources

SCRIPT = resources.assets() / "script"
OWN = ("bridge.js", "pieces.js", "worker.js", "snapshot.js", "service-worker.js")


def code(name: str) -> list[str]:
    """Lines that are neither blank nor comment."""
    lines = [line.strip() for line in (SCRIPT / name).read_text("utf-8").splitlines()]
    return [line for line in lines if line and not line.startswith("//")]


@pytest.mark.parametrize("name", [*OWN, "node-python.mjs", "node-snapshot.mjs"])
def test_scripts_parse(name: str, tmp_path: Path) -> None:
    """Node reads each as a module, which is also strict about undeclared names at parse time."""
    copy = tmp_path / f"{Path(name).stem}.mjs"
    text = re.sub(r"(?<== )@[A-Z]+@$", "{}", (SCRIPT / name).read_text("utf-8"), flags=re.M)
    copy.write_text(text, encoding="utf-8")
    node = shutil.which("node")
    assert node
    done = subprocess.run([node, "--check", str(copy)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_bridge_and_worker_stay_short() -> None:
    """Whatever is longer than this is a rule that belongs into Python."""
    assert len(code("bridge.js")) + len(code("worker.js")) < 300


@pytest.mark.parametrize("name", OWN)
def test_scripts_know_nothing_of_the_plant(name: str) -> None:
    """No tag, command, unit or label of the trainer's subject stands in a script."""
    text = " ".join(code(name))
    for word in ("annular", "ram", "psi", "gpm", "drill-", "kick", "regulator", "score"):
        assert not re.search(rf"\b{word}\b", text), word


@pytest.mark.parametrize("name", OWN)
def test_scripts_ask_no_other_place(name: str) -> None:
    """Every address is the page's own."""
    assert not re.search(r"https?://", (SCRIPT / name).read_text("utf-8"))
