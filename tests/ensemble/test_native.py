"""Native code for many plants: the scalar engine's bits, kept on disk, and numpy in its place without a compiler."""

from __future__ import annotations

import json
import logging
import shutil
from collections import Counter
from collections.abc import Iterator
from math import sqrt
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from trainer import headless
from trainer.hydraulics.compile import compile_network
from trainer.hydraulics.machine import Machine
from trainer.planning.ensemble import evidence_folder, native
from trainer.planning.ensemble.c_text import c_text
from trainer.planning.ensemble.columns import Columns
from trainer.simulator import Session, build

needs_compiler = pytest.mark.skipif(shutil.which("cc") is None, reason="no C compiler on this machine")
FLAT = """def advance(s, sqrt=sqrt):
    short = s[0]
    rest = s[1]
    for _ in range(3):
        for _ in range(5):
            root = sqrt(short * 0.1)
            open_ = (short > 0.5) and (not (rest >= 1e300)) or -short == 0.25
            rest += -root / 3.0 if (0.1 < root <= 0.9) else (0.1 if open_ else 2)
            if root < 0.3:
                break
        short -= 0.07
    if open_:
        s[1] = rest
    s[0] = short
"""


@pytest.fixture
def empty(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A cache folder with nothing in it."""
    monkeypatch.setattr(native.platformdirs, "user_cache_path", lambda *_, **__: tmp_path)
    forget()
    yield tmp_path / "native"
    forget()


def forget() -> None:
    for remembered in (native._library, native._path, native._tell):
        remembered.cache_clear()


@needs_compiler
def test_every_form_of_the_flat_code_gives_the_same_bits(empty: Path) -> None:
    scope: dict[str, object] = {"sqrt": sqrt}
    exec(FLAT, scope)
    start = [[0.013 * n + 0.5, 0.3 * n] for n in range(60)]
    many = np.asfortranarray(np.array(start).T)
    native.bind(FLAT, many)(2)
    for state in start:
        for _ in range(2):
            scope["advance"](state)  # type: ignore[operator]
    assert many.T.tolist() == start
    assert len(list(empty.iterdir())) == 1, "scratch files are cleared away"


@needs_compiler
def test_a_library_is_compiled_once(empty: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert native.is_ready(FLAT)
    forget()
    monkeypatch.setattr(native, "_compile", lambda *_: pytest.fail("compiled again"))
    assert native.is_ready(FLAT)


@needs_compiler
def test_libraries_long_unused_are_removed(empty: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(native, "KEPT", 2)
    for n in range(3):
        assert native.is_ready(FLAT.replace("0.07", f"0.0{n + 1}"))
    assert len(list(empty.glob("*.so"))) == 2


def test_another_layout_is_refused() -> None:
    with pytest.raises(ValueError, match="side by side"):
        native.bind(FLAT, np.zeros((2, 3)))


@pytest.mark.parametrize("line", ["s[0] = short ** 2.0", "s[0] = max(short, 1.0)", "while short: pass"])
def test_what_has_no_form_in_c_is_told(line: str) -> None:
    with pytest.raises(TypeError, match="no form in C"):
        c_text(f"def advance(s, sqrt=sqrt):\n    short = s[0]\n    {line}\n")


@pytest.mark.parametrize(
    ("compiler", "told"),
    [("no-such-compiler", "no C compiler (no-such-compiler)"), ("false", "does not answer")],
)
def test_without_a_compiler_numpy_computes_the_same(
    compiler: str, told: str, empty: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setenv("CC", compiler)
    single = build("sandpiper")
    with caplog.at_level(logging.WARNING):
        for _ in range(2):
            columns = Columns(build("sandpiper"), 2)
            columns.scan(2)
            assert columns.engine == "numpy"
    assert len(caplog.messages) == 1, "told once"
    assert "computed by numpy" in caplog.text
    assert told in caplog.text
    for _ in range(2):
        single.scan()
    assert columns.state.T.tolist() == [single.state] * 2


@needs_compiler
def test_a_refusing_compiler_is_quoted(empty: Path, caplog: pytest.LogCaptureFixture) -> None:
    source = compile_network(build("sandpiper").net).source.replace("def advance(s, sqrt=sqrt):", "def advance(s):", 1)
    assert not native.is_ready(source + "    s[0] = 1.0\n    for _ in range(2):\n        nobody = unwritten\n")
    assert "refused: " in caplog.text
    assert "v_unwritten" in caplog.text


@needs_compiler
def test_a_single_plant_is_compiled_once_it_is_wanted_often(empty: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(native, "_wanted", Counter())
    monkeypatch.setattr(native, "SELDOM", 1)
    assert native.single(FLAT) is None, "the first is not worth it"
    advance = native.single(FLAT)
    assert advance is not None
    scope: dict[str, Any] = {"sqrt": sqrt}
    exec(FLAT, scope)
    state, plain = [0.7, 0.2], [0.7, 0.2]
    advance(state)
    scope["advance"](plain)
    assert state == plain
    native._wanted.clear()
    assert native.single(FLAT) is not None, "a library that is there is used at once"


@needs_compiler
def test_evidence_is_recomputed_by_native_code_and_what_fails_by_the_engine(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(native, "SELDOM", 0)
    made: list[bool] = []
    single = native.single

    def watched(source: str) -> Any:
        quick = single(source)
        made.append(quick is not None)
        return quick

    monkeypatch.setattr(native, "single", watched)
    session = Session.start(None, "sandpiper")
    session.submit({"do": "set", "target": "annular", "value": "close", "from": "driller"})
    session.advance(12.0)
    document = session.evidence()
    (tmp_path / "good.json").write_text(json.dumps(document))
    document["checkpoints"][1]["state"] = "0" * 64
    (tmp_path / "forged.json").write_text(json.dumps(document))
    forged, good = evidence_folder.recompute(tmp_path)
    assert good["ok"], good["reason"]
    assert made and all(made)
    assert forged["reason"] == headless.verify_file(tmp_path / "forged.json")["reason"]
    assert not forged["states"]
    assert Machine.maker is None


def test_a_single_plant_without_a_compiler_stays_as_it_is(empty: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(native, "SELDOM", 0)
    monkeypatch.setenv("CC", "no-such-compiler")
    assert native.single(FLAT) is None


@needs_compiler
@pytest.mark.parametrize("damaged", [False, True])
def test_a_cache_folder_that_cannot_be_used_is_told(
    damaged: bool, empty: Path, caplog: pytest.LogCaptureFixture
) -> None:
    if damaged:
        path = native._path(FLAT)[0]
        path.parent.mkdir()
        path.write_bytes(b"no library")
    else:
        empty.write_text("a file where the folder should be")
    assert not native.is_ready(FLAT)
    assert str(empty) in caplog.text
    assert "computed by numpy" in caplog.text
