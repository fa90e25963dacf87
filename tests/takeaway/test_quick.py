"""The quick start: Python's memory with the desk open in it, and what stands in for pydantic there."""

from __future__ import annotations

import gzip
import io
import json
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Any

import pytest

from trainer import resources
from trainer.session.evidence import parse
from trainer.session.verify import verify
from trainer.simulator import rebuilder
from trainer.takeaway import quick
from trainer.takeaway.build import SiteReport
from trainer.takeaway.fetch import cache_folder
from trainer.takeaway.pins import RUNTIME
from trainer.takeaway.prepare import LIBRARY, prepare

PINNED = "314.0.7"
"""Pyodide's version whose ``_makeSnapshot``, ``makeMemorySnapshot`` and ``_loadSnapshot`` are used."""

READ = """
import json, sys
if sys.argv[1] == "standin":
    from trainer.takeaway import standin
    sys.modules["pydantic"] = standin
from pydantic import ValidationError
from trainer.drills import library
from trainer.drills.rules import rules
from trainer.plant.rig import load_plant, plant_ids
from trainer.session.commands import Command, explain
from trainer.session.session import Entry, read_snapshot, SnapshotError

told = {path.stem: [library.load_file(path).model_dump(), library.file_hash(path)] for path in library.files()}
told |= {name: load_plant(name)[0].model_dump(by_alias=True) for name in plant_ids()}
told["rules"] = [rule.model_dump() for rule in rules().values()]
good = {"t": 1, "do": "set", "target": "x", "value": "close", "from": "unit"}
said = []
for change in (
    {}, {"value": 3}, {"value": None}, {"t": -1.0}, {"t": True}, {"t": float("nan")}, {"t": 1e9}, {"do": "fly"},
    {"target": ""}, {"target": "x" * 200}, {"target": 5}, {"value": True}, {"value": [1]}, {"value": "x" * 600},
    {"from": "moon"}, {"more": 1},
):
    try:
        said.append(Command.model_validate(good | change).model_dump())
    except ValidationError:
        said.append("refused")
for lost in good:
    try:
        said.append(Command.model_validate({key: value for key, value in good.items() if key != lost}).model_dump())
    except ValidationError:
        said.append("refused")
for broken in ({}, [], None, {"format": 1}, {"identity": {"plant": 1}}):
    try:
        read_snapshot(broken)
    except SnapshotError:
        said.append("refused")
told["said"] = said
told["by"] = Command.model_validate(good).model_copy(update={"t": 2.0}) == Command.model_validate(good | {"t": 2})
print(json.dumps(told, sort_keys=True))
"""

PLAYED = """
import json
from trainer.takeaway.standin import BaseModel
from trainer.session.session import Command
said = [desk.open("{}"), desk.handle(json.dumps({"page": "hello", "theme": "light"}))]
begin = {"page": "start", "drill": "kick-while-drilling", "mode": "practice", "seed": "3"}
for message in (begin, {"page": "begin"}):
    said.append(desk.handle(json.dumps(message)))
for _ in range(120):
    desk.tick(0.1)
desk.handle(json.dumps({"do": "set", "target": "upper_annular", "value": "close", "from": "driller"}))
for _ in range(120):
    desk.tick(0.1)
run = desk.seat.run
import ipaddress, urllib.parse
told = {"standin": issubclass(Command, BaseModel), "chooser": "kick-while-drilling" in said[1], "log": len(run.log)}
json.dumps(told | {"evidence": run.evidence()})
"""


def read(kind: str) -> str:
    """What a Python with pydantic, or with what stands in for it, makes of all shipped files and of some messages."""
    done = subprocess.run([sys.executable, "-c", READ, kind], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_what_stands_in_for_pydantic_makes_the_same_of_every_file() -> None:
    told = read("standin")
    assert told == read("pydantic")
    said = json.loads(told)["said"]
    assert len(said) == 26
    assert said.count("refused") == 21


@pytest.fixture(scope="module")
def told(site: SiteReport, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """What a Python says that was started from the site's memory, under Node."""
    folder = tmp_path_factory.mktemp("remembering")
    files = {}
    for name in (quick.FILE, "data.zip", quick.REST):
        (packed,) = site.out.glob(f"trainer-*/{name}.gz")
        files[name] = folder / name
        files[name].write_bytes(gzip.decompress(packed.read_bytes()))
    program = folder / "program.py"
    program.write_text(PLAYED, encoding="utf-8")
    script = Path(__file__).with_name("remembering.mjs")
    arguments = [resources.assets() / "script" / "snapshot.js", prepare(cache_folder()).runtime, quick.SITE]
    arguments += [json.dumps(quick.ENV), *files.values(), program]
    done = subprocess.run(
        ["node", str(script), *map(str, arguments)], capture_output=True, text=True, check=False, encoding="utf-8"
    )
    assert done.returncode == 0, done.stderr[-3000:]
    found: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return found


def test_a_memory_plays_a_drill_to_the_same_bits(told: dict[str, Any]) -> None:
    assert RUNTIME.version == PINNED
    assert told["remembers"]
    said = told["said"]
    assert said["standin"]
    assert said["chooser"]
    assert said["log"] == 1
    verdict = verify(parse(json.dumps(said["evidence"])), rebuilder())
    assert (verdict.states, verdict.score, verdict.seal) == (True, True, True), verdict.reason


def test_a_memory_that_grew_comes_back(told: dict[str, Any]) -> None:
    assert told["large"] > 31 * 1024 * 1024
    assert told["much"] == 20_000_000


def test_a_memory_is_used_only_with_its_own_data(told: dict[str, Any]) -> None:
    assert not told["other"]


def test_without_the_experimental_names_python_starts_as_ever(told: dict[str, Any]) -> None:
    assert told["hidden"] is False
    assert told["little"] is False
    assert told["untaken"] is None
    assert told["lacking"] is None


def test_a_memory_is_kept_and_one_that_grew_too_large_is_left_out(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    def written(command: list[str], **_: Any) -> subprocess.CompletedProcess[str]:
        Path(command[6]).write_bytes(b"x" * size)
        return subprocess.CompletedProcess(command, 0, '["json", "json.decoder", "sys"]', "")

    monkeypatch.setattr(quick.subprocess, "run", written)
    monkeypatch.setattr(quick, "modules", dict)
    runtime = tmp_path / "runtime"
    runtime.mkdir()
    names = ["abc.pyc", "json/__init__.pyc", "json/decoder.pyc", "json/tool.pyc"]
    with zipfile.ZipFile(runtime / LIBRARY, "w") as library:
        for name in names:
            library.writestr(name, name)
    size = quick.MOST
    kept = quick.memory(runtime, b"", b"", tmp_path)
    assert kept is not None
    assert kept.content == b"x" * size
    with zipfile.ZipFile(io.BytesIO(kept.rest)) as rest:
        assert rest.namelist() == ["abc.pyc", "json/tool.pyc"], "what was read already stays out"
    size = quick.MOST + 1
    assert quick.memory(runtime, b"", b"", tmp_path) == kept, "the one that was kept"
    assert quick.memory(runtime, b"another", b"", tmp_path) is None
    size = 0
    assert quick.memory(runtime, b"another", b"", tmp_path) is None
