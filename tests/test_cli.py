"""The command line: forms of its JSON, exit codes, and one clear message for every kind of wrong input."""

from __future__ import annotations

import io
import json
import shutil
import subprocess
import sys
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from trainer import cli

ROOT = Path(__file__).resolve().parents[1]
DRILL = "kick-while-drilling"
LAMP_TEST = '{"t": %d, "do": "push", "target": "driller.lamp_test"}'


@dataclass(frozen=True)
class Done:
    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


def trainer_alone(*arguments: object) -> Done:
    """The command in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-m", "trainer.cli", *map(str, arguments)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert "Traceback" not in done.stdout + done.stderr, done.stderr
    return Done(done.returncode, done.stdout, done.stderr)


def trainer(*arguments: object) -> Done:
    """The command in this process, which has the plants compiled already."""
    out, err = io.StringIO(), io.StringIO()
    with pytest.MonkeyPatch.context() as patch, redirect_stdout(out), redirect_stderr(err):
        patch.setattr(sys, "argv", ["trainer", *map(str, arguments)])
        patch.chdir(ROOT)
        try:
            cli.main()
            code = 0
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else int(end.code is not None)
    assert "Traceback" not in out.getvalue() + err.getvalue(), err.getvalue()
    return Done(code, out.getvalue(), err.getvalue())


@pytest.fixture(scope="module")
def actions(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A short script: some of what a good crew does, and one thing that the plant refuses."""
    path = tmp_path_factory.mktemp("actions") / "some.jsonl"
    records: list[dict[str, object]] = [
        {"t": 5, "do": "set", "target": "floor.rotary", "value": 0, "from": "floor"},
        {"t": 8, "do": "push", "target": "driller.lamp_test", "from": "driller"},
        {"t": 12, "do": "set", "target": "upper_annular", "value": "close", "from": "driller"},
        {"t": 30, "do": "read", "target": "accumulator.pressure", "value": "2900 psi", "from": "driller"},
    ]
    path.write_text("\n".join(json.dumps(record) for record in records) + "\n")
    return path


@pytest.fixture(scope="module")
def run(actions: Path) -> tuple[Done, Path]:
    evidence = actions.with_name("evidence.json")
    done = trainer_alone(
        *("run", DRILL, "--actions", actions, "--seed", 4, "--evidence", evidence),
        *("--name", "A. Trainee", "--role", "driller", "--json"),
    )
    assert done.code == 0, done.err
    return done, evidence


def test_run_json_has_the_stable_form(run: tuple[Done, Path]) -> None:
    sheet = run[0].json
    assert (sheet["drill"], sheet["plant"], sheet["seed"]) == (DRILL, "quillback", 4)
    assert sheet["passed"] is False
    assert 0 <= sheet["score"] <= 100
    assert sheet["simulated_s"] > 30
    assert sheet["wall_s"] > 0
    for row in sheet["criteria"]:
        assert {"id", "title", "points", "earned", "t", "reason", "source"} <= row.keys()
    for row in sheet["critical"]:
        assert {"id", "t", "reason"} <= row.keys()
    assert 0 < sheet["signals"]["accumulator.pressure"] < 4000


def test_evidence_verifies_in_a_second_process(run: tuple[Done, Path]) -> None:
    done = trainer_alone("verify", run[1], "--json")
    assert done.code == 0
    (row,) = done.json
    assert row["ok"] is True
    assert (row["states"], row["score"], row["seal"]) == (True, True, True)
    assert row["file"] == str(run[1])
    document = json.loads(run[1].read_text())
    assert document["person"] == {"name": "A. Trainee", "role": "driller"}
    assert len(document["log"]) == 4


def test_tampered_evidence_fails_and_is_named(run: tuple[Done, Path], tmp_path: Path) -> None:
    document = json.loads(run[1].read_text())
    document["sheet"]["score"] = 99.0
    score = tmp_path / "score.json"
    score.write_text(json.dumps(document))
    document = json.loads(run[1].read_text())
    log = document["log"]
    log[0], log[2] = log[2], log[0]
    order = tmp_path / "order.json"
    order.write_text(json.dumps(document))
    done = trainer("verify", score, order, run[1], "--json")
    assert done.code == 1
    edited, reordered, untouched = done.json
    assert (edited["states"], edited["score"], edited["seal"]) == (True, False, False)
    assert "score is 99.0, re-computed" in edited["reason"]
    assert (reordered["states"], reordered["seal"]) == (False, False)
    assert "log entry 1" in reordered["reason"]
    assert untouched["ok"] is True
    plain = trainer("verify", score)
    assert plain.code == 1
    assert "NOT VERIFIED" in plain.out


def test_same_run_twice_is_the_same(run: tuple[Done, Path], actions: Path, tmp_path: Path) -> None:
    again = tmp_path / "again.json"
    trainer("run", DRILL, "--actions", actions, "--seed", 4, "--evidence", again)
    first, second = (json.loads(path.read_text()) for path in (run[1], again))
    assert first["checkpoints"] == second["checkpoints"]
    assert first["sheet"] == second["sheet"]


def test_run_prints_the_sheet(actions: Path) -> None:
    done = trainer("run", DRILL, "--actions", actions)
    assert done.code == 0
    assert "NOT PASSED with" in done.out
    assert "quillback, seed 0" in done.out


def test_drills_are_listed() -> None:
    rows = trainer("drills", "--json").json
    assert DRILL in {row["id"] for row in rows}
    for row in rows:
        assert {"id", "title", "level", "minutes", "plant", "learning"} <= row.keys()
    assert DRILL in trainer("drills").out


def test_signals_are_listed() -> None:
    document = trainer("signals", "--plant", "quillback", "--json").json
    for row in document["signals"]:
        assert {"tag", "unit", "low", "high", "meaning", "station"} <= row.keys()
    for row in document["commands"]:
        assert {"do", "target", "values", "station"} <= row.keys()
    assert "accumulator.pressure" in {row["tag"] for row in document["signals"]}
    assert "accumulator.pressure" in trainer("signals").out


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        (['{"t": 1, "do": "set", "target": "upper_anular", "value": "close"}'], "did you mean 'upper_annular'"),
        (['{"t": 1, "do": "set", "target": "floor.choke", "value": 400, "from": "floor"}'], "out of range"),
        (['{"t": 1, "do": "open", "target": "upper_annular"}'], "the verb 'open' is not known"),
        ([LAMP_TEST % 9, LAMP_TEST % 2], "time goes backwards"),
        (["close the annular"], "not a JSON object"),
    ],
)
def test_bad_action_file_gives_one_clear_error(lines: list[str], said: str, tmp_path: Path) -> None:
    path = tmp_path / "bad.jsonl"
    path.write_text("\n".join(lines))
    done = trainer("run", DRILL, "--actions", path)
    assert done.code == 1
    assert done.out == ""
    assert said in done.err
    assert f"bad.jsonl:{len(lines)}: " in done.err


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("run", "kick-while-driling"), "kick-while-drilling"),
        (("run", DRILL, "--plant", "nowhere"), "quillback"),
        (("run", DRILL, "--actions", "/nowhere/a.jsonl"), "cannot be read"),
        (("run", DRILL, "--evidence", "/nowhere/e.json"), "cannot be written"),
        (("signals", "--plant", "nowhere"), "quillback"),
        (("serve", "--port", "0", "--records", "nonsense://x"), "kept in SQLite or PostgreSQL, not in 'nonsense'"),
        (("report", "/nowhere/x.json", "-o", "/nowhere/x.pdf"), "/nowhere/x.json"),
    ],
)
def test_wrong_input_is_exit_1_with_one_message(arguments: tuple[str, ...], said: str) -> None:
    done = trainer(*arguments)
    assert done.code == 1
    assert said in done.err


@pytest.mark.parametrize(
    "arguments", [("fly",), ("run",), ("run", DRILL, "--seed", "x"), ("run", DRILL, "--seed", "-1"), ("verify",)]
)
def test_wrong_usage_is_exit_2(arguments: tuple[str, ...]) -> None:
    assert trainer(*arguments).code == 2


def test_check_accepts_what_is_shipped() -> None:
    done = trainer("check", "scenarios", "assets/plants", "assets/courses", "--json")
    assert done.code == 0, done.out
    assert {row["kind"] for row in done.json} == {"drill", "plant", "rules", "course", "lesson"}


def test_check_tells_every_fault_with_its_place(run: tuple[Done, Path], tmp_path: Path) -> None:
    source = (ROOT / "scenarios" / f"{DRILL}.toml").read_text()
    (tmp_path / "broken.toml").write_text(source.replace('level = "', 'level = "heroic-', 1))
    plant = (ROOT / "assets" / "plants" / "quillback.toml").read_text()
    (tmp_path / "plant.toml").write_text(plant.replace('water_depth = "1650 ft"', 'water_depth = "1650 psi"'))
    (tmp_path / "half.toml").write_text("[pump\n")
    (tmp_path / "other.toml").write_text("colour = 'blue'\n")
    (tmp_path / "empty.json").write_text("{}")
    (tmp_path / "actions.jsonl").write_text('{"t": 1}\n')
    shutil.copy(run[1], tmp_path / "good.json")
    done = trainer("check", tmp_path, "--json")
    assert done.code == 1
    found = {Path(row["file"]).name: row for row in done.json}
    assert found["good.json"]["ok"] is True
    said = {
        "broken.toml": "level",
        "plant.toml": "water_depth",
        "half.toml": "is not TOML",
        "other.toml": "neither a drill",
        "empty.json": "not an evidence file",
        "actions.jsonl": "do is missing",
    }
    for name, words in said.items():
        assert found[name]["ok"] is False
        assert words in " ".join(found[name]["faults"])
    missing = trainer("check", tmp_path / "none.toml")
    assert missing.code == 1
    assert "cannot be read" in missing.err


def test_evidence_of_another_kind_is_told(tmp_path: Path) -> None:
    path = tmp_path / "no.json"
    path.write_text('{"format": "trainer-evidence"}')
    done = trainer("verify", path, "--json")
    assert done.code == 1
    assert "not an evidence file" in done.json[0]["reason"]


def test_version_and_help() -> None:
    assert trainer_alone("--version").out.startswith("trainer ")
    assert "verify" in trainer("--help").out
