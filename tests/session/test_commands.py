"""Commands and action files: what is accepted, and what each refusal says."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from pydantic import ValidationError

from tests.session.fakes import FakeMachine
from trainer.session import actions
from trainer.session.commands import Command, Vocabulary, explain
from trainer.session.fitting import fit


def command(**parts: object) -> Command:
    return Command.model_validate({"t": 0, "from": "driller", **parts})


@pytest.mark.parametrize(
    ("parts", "said"),
    [
        ({"do": "set", "target": "valvee", "value": "open"}, "did you mean 'valve'?"),
        ({"do": "set", "target": "valve", "value": "ajar"}, "takes shut, open, not 'ajar'"),
        (
            {"do": "set", "target": "choke", "value": 140, "from": "floor"},
            "140 % is out of range; give 0 to 100 %",
        ),
        ({"do": "set", "target": "choke", "value": "5 psi", "from": "floor"}, "is a pressure"),
        ({"do": "set", "target": "choke", "from": "floor"}, "needs a value from 0 to 100 %"),
        ({"do": "set", "target": "choke", "value": 40}, "is done from floor, not from driller"),
        ({"do": "push", "target": "hatch", "value": 1}, "takes no value"),
        ({"do": "raise", "target": "valve"}, "does not take 'raise'; it takes set"),
        ({"do": "name", "target": "valve.slw"}, "did you mean 'valve.slow'?"),
        ({"do": "read", "target": "tank.volume"}, "needs the value that was read"),
        ({"do": "read", "target": "tank.volume", "value": "12 psi"}, "is a pressure"),
    ],
)
def test_misfit_is_told_in_a_sentence(parts: dict[str, object], said: str) -> None:
    found = fit(command(**parts), FakeMachine())
    assert isinstance(found, str)
    assert said in found


def test_text_with_a_unit_becomes_a_number_in_the_field_unit() -> None:
    found = fit(command(do="read", target="tank.volume", value="378.5411784 L"), FakeMachine())
    assert isinstance(found, Command)
    assert found.value == pytest.approx(100.0)


def test_state_is_read_by_its_name_and_seconds_default_to_one() -> None:
    read = fit(command(do="read", target="valve.position", value="open"), FakeMachine())
    held = fit(command(do="raise", target="setting"), FakeMachine())
    assert isinstance(read, Command)
    assert isinstance(held, Command)
    assert (read.value, held.value) == (1.0, 1.0)


@pytest.mark.parametrize(
    ("record", "said"),
    [
        ({"do": "set", "target": "valve"}, "t is missing"),
        ({"t": 1, "do": "sett", "target": "valve"}, "did you mean 'set'?"),
        ({"t": -1, "do": "set", "target": "valve"}, "t is -1"),
        ({"t": True, "do": "set", "target": "valve"}, "not true or false"),
        ({"t": 1, "do": "set", "target": "valve", "from": "moon"}, "from is 'moon'"),
        ({"t": 1, "do": "set", "target": "valve", "vlaue": 1}, "vlaue is not known"),
        ({"t": 1, "do": "set", "target": "x" * 500}, "target is"),
        ({"t": 1, "do": "set", "target": "valve", "value": float("inf")}, "value is inf"),
        ([1], "expected an object"),
    ],
)
def test_record_that_is_no_command_is_explained(record: object, said: str) -> None:
    with pytest.raises(ValidationError) as caught:
        Command.model_validate(record)
    assert said in explain(caught.value)


def test_action_file_tells_every_wrong_line_at_once() -> None:
    lines = [
        '{"t": 5, "do": "set", "target": "valve", "value": "open"}',
        "# a remark",
        "",
        '{"t": 4, "do": "set", "target": "valve", "value": "shut"}',
        '{"t": NaN, "do": "set", "target": "valve"}',
        '{"t": 6, "t": 7, "do": "say", "target": "x"}',
        "open the valve",
        '{"t": 8, "do": "set", "target": "vavle", "value": "open"}',
        '{"t": 9, "do": "read", "target": "x", "value": 11e308}',
    ]
    with pytest.raises(actions.ActionFileError) as caught:
        actions.parse("\n".join(lines), "bad.jsonl", FakeMachine())
    faults = caught.value.faults
    assert [fault.split(": ")[0] for fault in faults] == [f"bad.jsonl:{line}" for line in (4, 5, 6, 7, 8, 9)]
    assert "time goes backwards: 4 s comes after 5 s" in faults[0]
    assert "NaN is not a finite number" in faults[1]
    assert "'t' is given twice" in faults[2]
    assert "not a JSON object" in faults[3]
    assert "did you mean 'valve'" in faults[4]
    assert "11e308 is too large for a number" in faults[5]


def test_action_file_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    line = json.dumps({"t": 0, "do": "say", "target": "x"})
    monkeypatch.setattr(actions, "MOST_COMMANDS", 10)
    with pytest.raises(actions.ActionFileError, match="at most 10"):
        actions.parse("\n".join([line] * 11))
    monkeypatch.setattr(actions, "MOST_BYTES", 20)
    with pytest.raises(actions.ActionFileError, match="larger than 20 bytes"):
        actions.parse(line)


def test_unreadable_action_files_are_told(tmp_path: Path) -> None:
    with pytest.raises(actions.ActionFileError, match="cannot be read"):
        actions.read(tmp_path / "none.jsonl")
    binary = tmp_path / "binary.jsonl"
    binary.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(actions.ActionFileError, match="not UTF-8"):
        actions.read(binary)
    deep = tmp_path / "deep.jsonl"
    deep.write_text("[" * 100_000)
    with pytest.raises(actions.ActionFileError, match="nested too deeply"):
        actions.read(deep)


def test_drill_knows_what_can_be_said_and_read() -> None:
    words = Vocabulary(("flow_stopped", "shut_in"), {"gain": "tank.volume"})
    read = fit(command(do="read", target="gain", value="10 gal"), FakeMachine(), words)
    assert isinstance(read, Command)
    assert read.value == pytest.approx(10.0)
    unknown = fit(command(do="read", target="gian", value=3), FakeMachine(), words)
    assert unknown == "there is no reading called 'gian'; did you mean 'gain'?"
    said = fit(command(do="say", target="hello"), FakeMachine(), words)
    assert said == "there is no report called 'hello'; the drill knows flow_stopped, shut_in"
    assert isinstance(fit(command(do="say", target="hello"), FakeMachine()), Command)
