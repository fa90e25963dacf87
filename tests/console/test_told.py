"""Log entries in words: names, units, held buttons, and what others than the trainee did."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from trainer.console.told import Teller
from trainer.drills import library
from trainer.session.session import Entry

DRILL = library.all_drills()["kick-while-drilling"]
MACHINE = SimpleNamespace(
    operables={
        ("set", "floor.choke"): SimpleNamespace(unit="%"),
        ("set", "water.regulator"): SimpleNamespace(unit="psi"),
    },
    signals={"well.drillpipe_pressure": SimpleNamespace(unit="psi")},
)


def _entry(
    tick: int, do: str, target: str, value: Any = None, by: str = "driller", refused: str | None = None
) -> Entry:
    return Entry(tick=tick, do=do, target=target, value=value, from_=by, refused=refused)


def test_actions_are_told_in_the_drills_words_and_the_units_shown() -> None:
    log = [
        _entry(50, "set", "floor.choke", 25.0, "floor"),
        _entry(60, "set", "water.regulator", 100.0, "unit"),
        _entry(70, "read", "sidpp", "340 psi"),
        _entry(80, "read", "sidpp", 340.0),
        _entry(90, "say", "shut_in"),
        _entry(100, "name", "upper_annular.leak_close"),
        _entry(110, "push", "totaliser.reset"),
        _entry(120, "set", "upper_annular", "close", refused="No air."),
    ]
    field = [deed.text for deed in Teller(MACHINE, DRILL, "field").deeds(log)]
    assert field[0] == "Choke: 25.0 %"
    assert field[1].endswith("100 psi") and field[2] == field[3].replace("340.0", "340")
    assert field[2] == "Entered Shut-in drill-pipe pressure (SIDPP): 340 psi"
    assert field[4].startswith("“The well is shut in")
    assert field[5:] == [
        "Reported the fault: Upper annular leak close",
        "Totaliser reset: pressed",
        "Upper annular: close",
    ]
    assert Teller(MACHINE, DRILL, "metric").deeds(log)[1].text.endswith("bar")
    assert Teller(MACHINE, DRILL, "field").deeds(log)[-1].refused == "No air."


def test_a_held_button_is_one_action() -> None:
    log = [_entry(10 * n, "raise", "annular_regulator", 0.25) for n in range(5)]
    log += [_entry(200, "raise", "annular_regulator", 0.25), _entry(210, "lower", "annular_regulator", 0.25)]
    deeds = Teller(MACHINE, None, "field").deeds(log)
    assert [(deed.place, deed.text) for deed in deeds] == [
        (0, "Annular regulator: raise, 5 steps"),
        (5, "Annular regulator: raise 0.25"),
        (6, "Annular regulator: lower 0.25"),
    ]


def test_what_others_did_is_not_the_trainees() -> None:
    log = [_entry(0, "fault", "well.losses", 0.5, "instructor"), _entry(5, "take-over", "run", "ab", "debrief")]
    deeds = Teller(MACHINE, None, "field").deeds(log)
    assert [(deed.by, deed.mine) for deed in deeds] == [("Instructor", False), ("Debrief", False)]
    assert deeds[0].text == "Fault: Well losses, 50 %" and "Taken over here" in deeds[1].text
