"""The browser's engine works on the numbers where they lie, or on a copy of them, to the bits of plain Python."""

from __future__ import annotations

import json
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from trainer.plant.rig import plant_ids
from trainer.runtime import modules
from trainer.simulator import build
from trainer.takeaway import node
from trainer.takeaway.fetch import cache_folder
from trainer.takeaway.pins import RUNTIME
from trainer.takeaway.prepare import prepare

PINNED = "314.0.7"
"""Pyodide's version whose private ``_module.memory`` is used."""

PROGRAM = """
import json, sys
sys.path.insert(0, "/engine")
from types import SimpleNamespace
from trainer.hydraulics.machine import NumbersError, PlainPython, Machine
from trainer.runtime import by_browser, modules
from trainer.simulator import build

def translated(*_):
    raise SystemExit("a shipped plant was translated in the browser")

modules.make = translated
told = {}
def run(name):
    machine = build("sandpiper")
    machine.apply(SimpleNamespace(do="set", target="annular", value="close", from_="unit"))
    machine.scan(30)
    for _ in range(10):
        machine.scan()
    told[name] = machine.saved().hex()
    machine.put("tank.v", float("inf"))
    try:
        machine.scan(5)
    except NumbersError as stopped:
        told[name + " stopped"] = str(stopped)

by_browser.offer()
told["reached"] = by_browser._memory() is not None
run("within")
import pyodide_js
class Hidden:
    pass
sys.modules["pyodide_js"] = Hidden()  # no _module here
told["hidden"] = by_browser._memory() is None
run("apart")
Machine.maker = PlainPython
run("plain")
print(json.dumps(told))
"""


@pytest.fixture(scope="module")
def told(engine_tree: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(node.run(prepare(cache_folder()).runtime, PROGRAM, "", {"/engine": engine_tree}))
    return found


def test_the_memory_is_reached_in_the_pinned_version(told: dict[str, Any]) -> None:
    assert RUNTIME.version == PINNED
    assert told["reached"]
    assert told["hidden"]


def test_all_ways_give_the_same_bits_and_stop_alike(told: dict[str, Any]) -> None:
    machine = build("sandpiper")
    machine.apply(SimpleNamespace(do="set", target="annular", value="close", from_="unit"))
    machine.scan(40)
    assert told["within"] == told["apart"] == told["plain"] == machine.saved().hex()
    assert told["within stopped"] == told["apart stopped"] == told["plain stopped"]
    assert "no longer a finite number" in told["plain stopped"]


def test_the_site_ships_the_modules_of_its_plants(engine_tree: Path) -> None:
    shipped = {path.name for path in (engine_tree / "trainer" / "_data" / "modules").iterdir()}
    assert shipped == {modules.name_of(build(plant).net) for plant in plant_ids()}
