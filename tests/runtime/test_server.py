"""Compiled plants beside plain Python: the same bits, also without what only wasmtime's binding has, and without it."""

from __future__ import annotations

import builtins
import gc
import sys
from pathlib import Path
from typing import Any

import pytest
import wasmtime

from trainer.hydraulics.machine import Machine, NumbersError, PlainPython
from trainer.plant.rig import load_plant
from trainer.runtime import by_wasmtime, modules, server
from trainer.runtime.blocks import CompiledBlock, PlainBlock, block
from trainer.session.commands import Command
from trainer.simulator import Session, build

PINNED = "50."
SHUT = Command.model_validate({"t": 0, "do": "set", "target": "annular", "value": "close", "from": "driller"})


def after(machine: Machine, scans: int = 60) -> bytes:
    """The plant's state once an annular has been told to close."""
    machine.apply(SHUT)
    machine.scan(scans - 10)
    for _ in range(10):
        machine.scan()
    return machine.saved()


@pytest.fixture(scope="module")
def reference() -> bytes:
    with server.plain():
        return after(build("sandpiper"))


def computer(machine: Machine) -> str:
    return type(machine._computer).__name__


def test_what_is_offered_gives_the_bits_of_plain_python(reference: bytes) -> None:
    machine = build("sandpiper")
    assert computer(machine) == "Compiled"
    assert after(machine) == reference


def test_without_the_unchecked_call_the_ordinary_one_gives_the_same(
    reference: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    """``wasmtime._ffi.wasmtime_func_call_unchecked`` is private: it may go with any version."""
    assert wasmtime.__version__.startswith(PINNED) if hasattr(wasmtime, "__version__") else True
    monkeypatch.delattr("wasmtime._ffi.wasmtime_func_call_unchecked")
    assert after(build("sandpiper")) == reference


def test_without_wasmtime_plain_python_takes_over(
    reference: bytes, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr(Machine, "maker", Machine.maker)
    server.offer()
    real = builtins.__import__

    def hidden(name: str, *rest: Any) -> Any:
        if name.startswith("trainer.runtime.by_wasmtime"):
            raise ImportError("no wasmtime for this machine")
        return real(name, *rest)

    monkeypatch.setattr(builtins, "__import__", hidden)
    machine = build("sandpiper")
    assert computer(machine) == "PlainPython"
    assert after(machine) == reference
    assert "no wasmtime for this machine" in caplog.text
    assert isinstance(block(machine.net, 2), PlainBlock)


def test_both_stop_with_the_same_sentence() -> None:
    said = []
    for maker in (PlainPython, by_wasmtime.Compiled):
        Machine_maker, Machine.maker = Machine.maker, maker
        try:
            machine = build("sandpiper")
        finally:
            Machine.maker = Machine_maker
        machine.put("tank.v", float("inf"))
        with pytest.raises(NumbersError) as stopped:
            machine.scan(50)
        said.append(str(stopped.value))
    assert said[0] == said[1]
    assert "no longer a finite number" in said[0]


def test_the_numbers_outlive_the_machine() -> None:
    machine = build("sandpiper")
    machine.scan()
    state, seen = machine.state, machine.saved()
    del machine
    gc.collect()
    assert bytes(state) == seen


def test_a_fault_takes_effect_in_the_next_scan_without_compiling(monkeypatch: pytest.MonkeyPatch) -> None:
    run = Session.start(None, "sandpiper")
    run.advance(1.0)
    monkeypatch.setattr(modules, "make", lambda *_: pytest.fail("translated again"))
    fault = "accumulator.pressure.stuck" if "accumulator.pressure.stuck" in run.machine.faults else "tank.leak"
    before = run.machine.read("tank.v")
    assert run.intervene("fault", "tank.leak", 1.0) is None, fault
    run.advance(0.1)
    assert run.machine.read("tank.v") < before


def test_a_module_is_made_once_and_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    net = load_plant("sandpiper")[0].network()
    calls: list[str] = []
    monkeypatch.setattr(modules, "shipped", lambda: tmp_path / "none")
    monkeypatch.setattr(modules, "make", lambda *_: calls.append("made") or _small())
    assert modules.find(net, tmp_path / "kept") == modules.find(net, tmp_path / "kept")
    assert calls == ["made"]
    (path,) = (tmp_path / "kept").iterdir()
    assert path.name == modules.name_of(net)
    path.write_bytes(b"cut off")
    assert modules.find(net, tmp_path / "kept") == _small()
    assert len(calls) == 2, "a damaged one is made anew"
    modules.find(net, tmp_path / "kept", pairs=True)
    assert len(calls) == 3, "for plants in pairs another is made"
    (tmp_path / "a file").write_text("no folder")
    assert modules.find(net, tmp_path / "a file") == _small(), "where none can be kept it is made all the same"


def test_old_modules_are_removed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(modules, "KEPT", 2)
    for n in range(4):
        modules._keep(tmp_path, f"{n}.wasm", b"x")
    assert len(list(tmp_path.iterdir())) == 2


def test_another_plant_and_another_law_have_another_module(monkeypatch: pytest.MonkeyPatch) -> None:
    one, other = (load_plant(plant)[0].network() for plant in ("sandpiper", "quillback"))
    assert modules.name_of(one) != modules.name_of(other)
    was = modules.name_of(one)
    monkeypatch.setattr(modules, "_laws", lambda: "other laws")
    assert modules.name_of(one) != was


def test_many_in_one_memory_stop_when_one_gives_out() -> None:
    machine = build("sandpiper")
    for many in (CompiledBlock(machine.net, 2), PlainBlock(machine.net, 2)):
        many.state[:, 0] = many.state[:, 1] = machine.state
        many.scan()
        many.state[7, 1] = float("nan")
        with pytest.raises(NumbersError):
            many.scan()


def _small() -> bytes:
    from trainer.hydraulics.translate import translate

    return translate("def advance(s, sqrt=sqrt):\n    s[0] = 1.0\n", 1)


assert sys.byteorder == "little", "hashes are taken of the bytes of the state"
