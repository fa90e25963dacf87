"""Damaged files of every kind: a sentence for each, no traceback, no hang, no flood of memory.

CI looks at a few hundred, ``TRAINER_FUZZ=100000 pytest tests/test_bad_input.py`` at as many as asked.
"""

from __future__ import annotations

import json
import os
import re
import resource
import signal
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from types import FrameType

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from trainer import filecheck, resources
from trainer.drills import library
from trainer.drills.schema import DrillError
from trainer.session import actions, evidence
from trainer.session.script import play
from trainer.simulator import PlantError, Session

CASES = int(os.environ.get("TRAINER_FUZZ", "400"))
"""Over the four kinds; half of them action files, which cost least."""
PATIENCE = 2.0
"""Processor seconds for one file. Compiling a whole plant is counted too."""
MOST_MEMORY = 500_000_000

NUMBERS = ["0", "-1", "1e308", "-1e308", "1e-308", "nan", "inf", "1" * 5000, "999999999999", "0.1", "'x'", "true", "[]"]
STRINGS = ["", "'", "0 s", "-5 psi", "1e400 s", "1/0", "t", "vary.x", "a.b.c", "\\u0000", "é", "(" * 300, "not " * 200,
           "9" * 400 + " psi", "1 psi < 2 psi", "done(x)", "abs(t", "../../etc/passwd", "x" * 3000]  # fmt: skip
NASTY = ["\x00", "[[[[", "[" * 3000, "{" * 3000, "\n[[vary]]\n", "a.b.c.d = 1\n", '"""', "\\", "\ufeff", "\r", "💧"]
_TOKEN = re.compile(r'"[^"\n]*"|\b\d+(?:\.\d+)?\b')

cuts = st.tuples(
    st.sampled_from(["cut", "double", "put", "number", "text", "line", "swap", "end", "flood"]),
    st.floats(0.0, 1.0),
    st.floats(0.0, 1.0),
    st.integers(0, 1000),
)
damages = st.lists(cuts, min_size=1, max_size=4)


def fuzzed(share: float) -> settings:
    """This share of the cases; the same ones each time. Nothing is traced to explain a case: that costs more time."""
    phases = set(Phase) - {Phase.explain}
    return settings(
        max_examples=int(CASES * share), suppress_health_check=list(HealthCheck), database=None, phases=phases
    )


def damaged(text: str, steps: list[tuple[str, float, float, int]]) -> str:
    """A text after some accidents, each at a place (share of the text) and of a size."""
    for what, place, size, pick in steps:
        at = int(place * len(text))
        to = min(len(text), at + 1 + int(size * size * 400))
        tokens = list(_TOKEN.finditer(text))
        lines = text.split("\n")
        row = int(place * (len(lines) - 1))
        if what == "cut":
            text = text[:at] + text[to:]
        elif what == "double":
            text = text[:to] + text[at:to] + text[to:]
        elif what == "put":
            text = text[:at] + NASTY[pick % len(NASTY)] + text[at:]
        elif what in ("number", "text") and tokens:
            token = tokens[int(place * (len(tokens) - 1))]
            new = NUMBERS[pick % len(NUMBERS)] if what == "number" else f'"{STRINGS[pick % len(STRINGS)]}"'
            text = text[: token.start()] + new + text[token.end() :]
        elif what == "line":
            text = "\n".join(lines[:row] + lines[row + 1 :])
        elif what == "swap":
            other = int(size * (len(lines) - 1))
            lines[row], lines[other] = lines[other], lines[row]
            text = "\n".join(lines)
        elif what == "end":
            text = text[:at]
        elif what == "flood":
            text = text[:to] + text[at:to] * (pick % 60) + text[to:]
    return text


class TooSlowError(AssertionError):
    """A file that takes too long; raised in the middle of the work, so that the traceback shows where."""


@contextmanager
def watched() -> Iterator[None]:
    """Bounds of time and memory for one file."""

    def stop(number: int, frame: FrameType | None) -> None:
        raise TooSlowError(f"longer than {PATIENCE:g} s of the processor")

    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    previous = signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, PATIENCE)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
        signal.signal(signal.SIGPROF, previous)
    grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
    assert grown * 1024 < MOST_MEMORY


def looked_at(path: Path, text: str) -> filecheck.Report:
    """The report on a file with this text: readable sentences, whatever the text."""
    path.write_text(text, encoding="utf-8", newline="")
    with watched():
        report = filecheck.check_file(path)
    for fault in report.faults:
        assert fault.strip() and "Traceback" not in fault and len(fault) < 6000
    return report


@cache
def shipped(kind: str) -> list[str]:
    """Files that are right, to be damaged."""
    if kind == "drill":
        return [path.read_text(encoding="utf-8") for path in library.files()]
    if kind == "plant":
        return [path.read_text(encoding="utf-8") for path in sorted((resources.assets() / "plants").glob("*.toml"))]
    good = Path(__file__).parent / "drills" / "actions" / "name-the-parts.good.jsonl"
    if kind == "actions":
        return [good.read_text(encoding="utf-8")]
    session = Session.start("name-the-parts", seed=0)
    play(session, actions.read(good), until=40.0)
    return [json.dumps(session.evidence(), indent=1)]


@fuzzed(0.5)
@given(damages)
def test_action_files(tmp_path_factory: pytest.TempPathFactory, steps: list[tuple[str, float, float, int]]) -> None:
    path = tmp_path_factory.getbasetemp() / "a.jsonl"
    text = damaged(shipped("actions")[0], steps)
    looked_at(path, text)
    with watched():
        try:
            commands = actions.read(path, SESSION.machine, SESSION.words)
        except actions.ActionFileError as error:
            assert str(error)
            return
        assert all(command.t >= 0.0 for command in commands)


SESSION = Session.start("name-the-parts", seed=0)


@fuzzed(0.2)
@given(damages)
def test_evidence(tmp_path_factory: pytest.TempPathFactory, steps: list[tuple[str, float, float, int]]) -> None:
    path = tmp_path_factory.getbasetemp() / "e.json"
    original = shipped("evidence")[0]
    text = damaged(original, steps)
    report = looked_at(path, text)
    if not report.faults:
        # What still bears its seal says the same as before.
        assert evidence.parse(text).record() == evidence.parse(original).record()


def _drill_runs(path: Path) -> None:
    """A drill that is found sound can be begun."""
    try:
        if library.load_file(path).initial.settle > 60.0:
            return
        with watched():
            Session.start(path, seed=1).advance(1.0)
    except (DrillError, PlantError) as error:
        raise AssertionError(f"found sound, but: {error}") from error


@fuzzed(0.2)
@given(st.integers(0, 1000), damages)
def test_drills(
    tmp_path_factory: pytest.TempPathFactory, pick: int, steps: list[tuple[str, float, float, int]]
) -> None:
    drills = shipped("drill")
    name = library.files()[pick % len(drills)].stem
    path = tmp_path_factory.getbasetemp() / f"{name}.toml"
    report = looked_at(path, damaged(drills[pick % len(drills)], steps))
    if not report.faults and report.kind == "drill":
        _drill_runs(path)


@fuzzed(0.1)
@given(st.integers(0, 1), damages)
def test_plants(
    tmp_path_factory: pytest.TempPathFactory, pick: int, steps: list[tuple[str, float, float, int]]
) -> None:
    plants = shipped("plant")
    looked_at(tmp_path_factory.getbasetemp() / "p.toml", damaged(plants[pick % len(plants)], steps))


FLOODS: dict[str, Callable[[], str]] = {
    "deep.json": lambda: "[" * 100_000,
    "digits.json": lambda: '{"format": ' + "9" * 100_000 + "}",
    "twice.json": lambda: "{" + ",".join(f'"k{n}":1' for n in range(60_000)) + ',"k59999":2}',
    "deep.toml": lambda: "criterion = " + "[" * 100_000,
    "digits.toml": lambda: "pass_mark = " + "9" * 100_000,
    "keys.toml": lambda: "[initial]\n" + "\n".join(f"k{n} = 1" for n in range(30_000)),
    "dotted.toml": lambda: "initial" + ".a" * 50_000 + " = 1",
    "milestones.toml": lambda: (
        shipped("drill")[0]
        + "".join(f'\n[[milestone]]\nid = "m{n}"\ntitle = "M"\nwhen = "done(m{n + 1})"\n' for n in range(5000))
    ),
    "wrong.toml": lambda: shipped("drill")[0].replace(".", ".x"),
    "empty.toml": lambda: "",
    "empty.json": lambda: "",
    "large.toml": lambda: "#" * 5_000_000,
    "large.jsonl": lambda: "#" * 9_000_000,
    "lines.jsonl": lambda: "{}\n" * 300_000,
}


@pytest.mark.parametrize("name", FLOODS)
def test_files_made_to_flood(tmp_path: Path, name: str) -> None:
    began = time.process_time()
    report = looked_at(tmp_path / name, FLOODS[name]())
    assert time.process_time() - began < 2.0 * PATIENCE
    assert report.faults or name == "large.jsonl"
