"""Every shipped drill, run twice: same commands, same seed, same bits; and from a snapshot; and from evidence."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from trainer.drills import library
from trainer.session import canonical, evidence
from trainer.session.commands import Command
from trainer.session.script import play
from trainer.session.verify import verify
from trainer.simulator import Session, rebuilder

TWIN_SECONDS = 30.0
SEED_SECONDS = 60.0


def deeds(session: Session) -> list[Command]:
    """A busy half minute on any plant: every seventh thing that can be commanded, one a second."""
    commands = []
    for second, key in enumerate(sorted(session.machine.operables)[::7], start=1):
        operable = session.machine.operables[key]
        values = operable.values
        record = {
            "t": second + 0.04,
            "do": operable.do,
            "target": operable.target,
            "value": None if values is None else values[-1] if isinstance(values[0], str) else values[0],
            "from": (operable.station or ("unit",))[0],
        }
        commands.append(Command.model_validate(record))
    return commands


@pytest.mark.parametrize("path", library.files(), ids=lambda path: path.stem)
def test_twin_runs_are_the_same_to_the_bit(path: Path) -> None:
    first = Session.start(path.stem, seed=11)
    script = deeds(first)
    play(first, script, until=TWIN_SECONDS)

    second = Session.start(path.stem, seed=11)
    play(second, [command for command in script if command.t < 5.0], until=5.0)
    # The second one is put away and taken up again on the way, as a page that was reloaded does.
    second = Session.restore(json.loads(json.dumps(second.snapshot())))
    play(second, [command for command in script if command.t >= 5.0], until=TWIN_SECONDS)

    assert first.log, "the script did nothing"
    assert second.log == first.log
    assert second.checkpoints == first.checkpoints
    assert second.checkpoint() == first.checkpoint()
    assert canonical.text(second.sheet()) == canonical.text(first.sheet())

    document = evidence.parse(json.dumps(first.evidence(name="A. Trainee")))
    verdict = verify(document, rebuilder())
    assert verdict.ok, verdict.reason


@pytest.mark.parametrize("path", library.files(), ids=lambda path: path.stem)
def test_seed_varies_the_drill_and_mode_does_not(path: Path) -> None:
    one, other = (Session.start(path.stem, seed=seed) for seed in (1, 2))
    coached = Session.start(path.stem, seed=1, mode="practice")
    for session in (one, other, coached):
        session.advance(SEED_SECONDS)
    assert coached.checkpoints == one.checkpoints
    assert coached.coach is not None
    assert one.coach is None
    if library.load_file(path).vary:
        assert one.checkpoint() != other.checkpoint()
