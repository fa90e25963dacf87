"""The engine's hash covers every file that can change a result, and nothing else."""

from __future__ import annotations

from pathlib import Path

import trainer
from trainer.session import engine


def test_sources_are_the_engine_layers_in_order() -> None:
    package = Path(trainer.__file__).parent
    names = [path.relative_to(package).as_posix() for path in engine.sources(package)]
    assert names == sorted(names)
    assert {"units.py", "simulator.py", "session/verify.py", "drills/runner.py"} <= set(names)
    assert {"plant/rig.py", "hydraulics/machine.py", "fluids/gas.py"} <= set(names)
    assert not [name for name in names if name.split("/")[0] in ("console", "drawing", "classroom", "cli.py")]


def test_hash_is_stable_and_changes_with_a_source(tmp_path: Path) -> None:
    (tmp_path / "fluids").mkdir()
    law = tmp_path / "fluids" / "law.py"
    law.write_bytes(b"x = 1\n")
    first = engine.hash_of(tmp_path)
    law.write_bytes(b"x = 1\r\n")
    assert engine.hash_of(tmp_path) == first
    law.write_bytes(b"x = 2\n")
    assert engine.hash_of(tmp_path) != first
    law.rename(tmp_path / "fluids" / "other.py")
    assert engine.hash_of(tmp_path) != first
    assert len(engine.engine_hash()) == 64
