"""A rig of one's own that is saved anew, here or by another process, is seen as it is now."""

from __future__ import annotations

from pathlib import Path

import pytest

from trainer.classroom.roster import FarPlace, catalogue
from trainer.console.boards import Boards
from trainer.planning.draft import Draft
from trainer.simulator import build


def save(*bottles: str) -> None:
    draft = Draft.open("sandpiper")
    draft.rename("my_rig")
    for name in bottles:
        draft.add("bank", name)
    draft.save()


def test_a_place_elsewhere_and_the_boards_follow_a_rig_saved_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TRAINER_PLANTS", str(tmp_path))
    far = FarPlace("two", "1", "Guest", "my_rig", False, {})
    boards = Boards()
    assert far.machine is None, "not saved yet"
    save()
    first = far.machine
    assert first is not None and far.machine is first, "kept while the file is as it was"
    before = boards.draw(build("my_rig"), "my_rig", None, "field")
    save("bank_z")
    assert "bank_z.p" not in first.index
    assert "bank_z.p" in far.machine.index
    after = boards.draw(build("my_rig"), "my_rig", None, "field")
    assert "Bank z" not in before["schematic"] and "Bank z" in after["schematic"]
    (tmp_path / "my_rig.toml").unlink()
    assert far.machine is None
    assert catalogue("sandpiper") is catalogue("sandpiper")
