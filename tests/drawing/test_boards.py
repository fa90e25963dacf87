"""Boards agree with the plant: every binding is a signal, every button a command, every command has its button."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from typing import Any

import pytest

from tests.drawing.conftest import Rig
from tests.drawing.fitted import fitted
from trainer.drawing.aside import aside_panel
from trainer.drawing.cards import card_of
from trainer.drawing.context import DrawingContext
from trainer.drawing.emergency_view import backups_panel
from trainer.drawing.fill_in import keys_of
from trainer.drawing.floor import floor_board, floor_strip
from trainer.drawing.panels import driller_panel, second_panel
from trainer.drawing.position_view import bridge_panel
from trainer.drawing.preview import BOARDS, boards_of
from trainer.drawing.rov_view import vehicle_panel
from trainer.drawing.unit import unit_station
from trainer.drawing.unit_care import unit_care
from trainer.drawing.watch import watch_panel
from trainer.drawing.workshop_view import workshop_panel
from trainer.naming import FURTHER


def commands(markup: str) -> Iterator[dict[str, Any]]:
    """Every command a board can send."""
    for node in ET.fromstring(markup).iter():
        for sent in (node.get("data-send"), node.get("data-held"), node.get("data-release")):
            if sent is not None:
                yield json.loads(sent)


@pytest.mark.parametrize("board", BOARDS)
def test_every_binding_is_a_signal_of_the_plant(each: Rig, board: str) -> None:
    bound = [key for key in keys_of(BOARDS[board](each.desk)) if not key.startswith("page.")]
    assert [key for key in bound if key not in each.machine.signals] == []


#: The boards that stand at each station.
STATIONS = {
    "driller": (driller_panel, aside_panel, backups_panel, watch_panel),
    "remote": (second_panel,),
    "unit": (unit_station, unit_care),
    "floor": (floor_board, floor_strip),
    "workshop": (workshop_panel,),
    "bridge": (bridge_panel,),
    "vehicle": (vehicle_panel,),
}


@pytest.mark.parametrize("station", STATIONS)
def test_every_button_sends_a_command_that_the_plant_takes_there(each: Rig, station: str) -> None:
    wrong = []
    for sent in (sent for draw in STATIONS[station] for sent in commands(draw(each.desk))):
        if sent["do"] in ("read", "say", "name"):
            continue
        operable = each.machine.operables.get((sent["do"], sent["target"]))
        if operable is None or station not in operable.station:
            wrong.append(sent)
            continue
        words = [value for value in operable.values or () if isinstance(value, str)]
        if words and sent["value"] not in words:
            wrong.append(sent)
    assert wrong == []


@pytest.mark.parametrize("station", STATIONS)
def test_every_command_of_a_station_has_its_button(each: Rig, station: str) -> None:
    drawn = {(sent["do"], sent["target"]) for draw in STATIONS[station] for sent in commands(draw(each.desk))}

    def another_way(do: str, target: str) -> bool:
        """Worked by other buttons: a regulator by raise and lower, a filter's isolation by its two valves."""
        part = target.partition(".")[0]
        return ((do, target) == ("set", part) and ("raise", part) in drawn) or ("set", f"{part}.upstream") in drawn

    # What is on the drill floor has its buttons on the floor's own boards.
    wanted = {
        key
        for key, operable in each.machine.operables.items()
        if station in operable.station and (station == "floor" or "floor" not in operable.station)
    }
    assert sorted(key for key in wanted - drawn if not another_way(*key)) == []


@pytest.mark.parametrize("base", ["quillback", "sandpiper"])
def test_a_further_panel_has_a_button_for_what_it_carries_and_no_other(base: str) -> None:
    made = fitted(base, panels=3)
    for station, draw in ((at, draw) for at, draw in boards_of(made.plant).items() if at in FURTHER):
        markup = draw(made.desk)
        drawn = {(sent["do"], sent["target"]) for sent in commands(markup)}
        assert drawn == {key for key, operable in made.machine.operables.items() if station in operable.station}
        shown = [key for key in keys_of(markup) if not key.startswith("page.")]
        assert [key for key in shown if station not in made.machine.signals[key].station] == []


def test_function_buttons_name_function_position_and_lamp(desk: DrawingContext) -> None:
    root = ET.fromstring(driller_panel(desk))
    button = next(n for n in root.iter("button") if n.get("data-state") == "upper_pipe_ram.lamp_close")
    assert " ".join("".join(button.itertext()).split()) == "Upper pipe ram: Close, lamp off"


def test_the_second_panel_has_no_meters(each: Rig) -> None:
    root = ET.fromstring(second_panel(each.desk))
    assert [n for n in root.iter() if n.get("data-needle") or n.get("data-fill")] == []
    panel = {
        (c["do"], c["target"])
        for draw in STATIONS["driller"]
        for c in commands(draw(each.desk))
        if c["do"] == "set"
        and not c["target"].startswith("alarms.")  # the well is watched on the drill floor
        and not c["target"].startswith(("deadman.", "autoshear.", "conduits.", "position."))  # on the board of back-ups
        and ".side_" not in c["target"]  # the sides of a pod's electronics have their switches in one place
    }
    second = {(c["do"], c["target"]) for c in commands(second_panel(each.desk)) if c["do"] == "set"}
    assert panel == second


def test_no_panel_shows_what_only_the_sea_floor_knows(each: Rig) -> None:
    for draw in (draw for boards in STATIONS.values() for draw in boards):
        shown = [key for key in keys_of(draw(each.desk)) if not key.startswith("page.")]
        hidden = [key for key in shown if not each.machine.signals[key].station]
        assert hidden == [], draw.__name__


@pytest.mark.parametrize("board", BOARDS)
def test_every_part_that_opens_a_card_has_one(each: Rig, board: str) -> None:
    opened = {n.get("data-open-card") for n in ET.fromstring(BOARDS[board](each.desk)).iter()} - {None}
    assert [part for part in sorted(opened) if card_of(each.desk.rig, str(part)) is None] == []  # type: ignore[type-var]


@pytest.mark.parametrize("board", BOARDS)
def test_ids_are_unique_and_buttons_have_names(each: Rig, board: str) -> None:
    root = ET.fromstring(BOARDS[board](each.desk))
    ids = [n.get("id") for n in root.iter() if n.get("id")]
    assert len(ids) == len(set(ids))
    unnamed = [ET.tostring(n) for n in root.iter("button") if not "".join(n.itertext()).strip()]
    assert unnamed == []
