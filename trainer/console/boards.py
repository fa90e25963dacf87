"""Which boards the console has, and how each is drawn for a plant in the chosen units."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial

from trainer import naming, units
from trainer.console import about, events, guided, named, sequences, shell, walk
from trainer.console.after import TABS, TABS_FREE
from trainer.console.diagnosis import board as diagnosis_board
from trainer.console.faults import FaultList
from trainer.drawing.acoustic_view import boat_of, boat_panel
from trainer.drawing.aside import aside_of, aside_panel
from trainer.drawing.cards import card_markup
from trainer.drawing.context import DrawingContext
from trainer.drawing.emergency_view import backups_of, backups_panel
from trainer.drawing.floor import floor_board, floor_strip
from trainer.drawing.markup import Markup, el
from trainer.drawing.panels import driller_panel, further_panel, second_panel
from trainer.drawing.picture.view import picture
from trainer.drawing.position_view import bridge_of, bridge_panel
from trainer.drawing.rig_view import RigView
from trainer.drawing.rov_view import vehicle_of, vehicle_panel
from trainer.drawing.schematic import schematic
from trainer.drawing.unit import unit_station
from trainer.drawing.unit_care import unit_care
from trainer.drawing.watch import watch_panel
from trainer.drawing.workshop_view import workshop_of, workshop_panel
from trainer.drills.filled import filled
from trainer.drills.schema import Drill
from trainer.hydraulics.machine import Machine
from trainer.plant.rig import PlantError, load_plant

#: Where a hand on each board stands.
STATIONS = {
    "driller": "driller",
    "aside": "driller",
    "backups": "driller",
    "remote": "remote",
    "unit": "unit",
    "floor": "floor",
    "floor_strip": "floor",
    "schematic": "driller",
    "care": "unit",
    "picture": "unit",
    "watch": "driller",
    "alarms": "driller",
    "entries": "driller",
} | {station: station for station in (*naming.FURTHER, *naming.APART)}

#: The longest title that a tab has room for: beside all others, at 125 % zoom.
TAB_LETTERS = 15

Draw = Callable[[DrawingContext], Markup]


class Boards:
    """Draws all boards of the console. Drawings are kept: a plant drawn once in some units is drawn already.

    They are kept by the hash of the plant file, which another process may have written anew.
    """

    def __init__(self, stations: Mapping[str, Draw] | None = None) -> None:
        self._stations = dict(stations) if stations is not None else dict(_STATION_DRAWINGS)
        self._drawn: dict[tuple[str, str, str, units.System], str] = {}
        self._faults: dict[tuple[str, str], FaultList] = {}

    def draw(
        self, machine: Machine, plant: str, drill: Drill | None, system: units.System, truth: bool = True
    ) -> dict[str, str]:
        """Markup by board name, for a compiled plant and the drill being run.

        Without ``truth`` the schematic does not tell where the rams really are: in a check nobody helps.
        """
        rig = _rig(plant)
        desk = DrawingContext(rig, machine.signals, system)
        drill = drill and filled(drill, machine)
        calls, read = _statements(drill), named.offered(drill, machine.signals, system)
        drawn: dict[str, str] = {
            "header": shell.header(
                walk.alone(drill),
                {at: _word(at, panel.name) for at, panel in rig.plant.further.items()},
                _without(desk),
            ),
            "walk": walk.on_the_way(),
            "messages": shell.messages(),
            "alarms": shell.alarms(machine.signals, events.board() if events.kept_by(machine.signals) else None),
            "entries": shell.entries(calls, read, not guided.is_guided(drill)),
            "card": shell.card(None),
            "brief": shell.brief(drill, walk.rule(drill, machine.walks) if drill else "", not rig.pods),
            "sheet": shell.sheet(() if guided.is_guided(drill) else TABS if drill is not None else TABS_FREE),
            "diagnosis": diagnosis_board(),
            "sequences": sequences.board(),
        }
        further: dict[str, Draw] = {at: partial(further_panel, station=at) for at in rig.plant.further}
        for name, station in {**self._stations, **further}.items():
            key = (rig.id, machine.plant_hash, name, system)
            if key not in self._drawn:
                self._drawn[key] = station(desk)
            drawn[name] = self._drawn[key]
        key = (rig.id, machine.plant_hash, f"schematic {truth}", system)
        if key not in self._drawn:
            self._drawn[key] = schematic(desk, truth)
        drawn["schematic"] = self._drawn[key]
        return drawn

    def faults(self, machine: Machine, plant: str) -> FaultList:
        """The faults of a plant that can be named, by part."""
        key = (plant, machine.plant_hash)
        if key not in self._faults:
            self._faults[key] = FaultList(_rig(plant), machine.faults)
        return self._faults[key]

    def what_is(self, plant: str) -> str:
        """What kind of rig a plant is, as its file says; empty where none can be read."""
        try:
            return _rig(plant).plant.rig
        except PlantError:
            return ""

    def rig(self, plant: str) -> RigView:
        """The parts of a plant."""
        return _rig(plant)

    def lacking(self, machine: Machine, plant: str, system: units.System) -> tuple[str, ...]:
        """Views for which the rig has nothing, by their names: they get no tab."""
        return _without(self.desk(machine, plant, system))

    def forget(self, plant: str) -> None:
        """A plant file was written anew: what was drawn of it holds no longer."""
        for key in [key for key in self._drawn if key[0] == plant]:
            del self._drawn[key]
        for one in [one for one in self._faults if one[0] == plant]:
            del self._faults[one]

    def card(self, machine: Machine, plant: str, component: str, system: units.System, helped: bool = True) -> str:
        """The card board with the card of a component on it, or with what the board is that ``component`` names.

        helped: whether it is also said how that board is used.
        """
        name = component.removeprefix(about.BOARD)
        titles = {
            **dict((*shell.VIEWS, *shell.OF_SOME)),
            **{at: panel.name for at, panel in _rig(plant).plant.further.items()},
        }
        if name != component and name in titles:
            return shell.card(about.about(name, titles[name], not _rig(plant).pods, helped))
        why = el("div", {"data-html": "page.why"})
        return shell.card(card_markup(self.desk(machine, plant, system), component, why))

    def desk(self, machine: Machine, plant: str, system: units.System) -> DrawingContext:
        """What drawings of a plant need to know."""
        return DrawingContext(_rig(plant), machine.signals, system)


_STATION_DRAWINGS: dict[str, Draw] = {
    "watch": watch_panel,
    "driller": driller_panel,
    "aside": aside_panel,
    "backups": backups_panel,
    "workshop": workshop_panel,
    "bridge": bridge_panel,
    "vehicle": vehicle_panel,
    "boat": boat_panel,
    "remote": second_panel,
    "floor": floor_board,
    "floor_strip": floor_strip,
    "unit": unit_station,
    "care": unit_care,
    "picture": picture,
}


def _without(desk: DrawingContext) -> tuple[str, ...]:
    """Views that the rig has nothing for."""
    there = {
        "aside": aside_of(desk),
        "backups": backups_of(desk),
        "workshop": workshop_of(desk),
        "bridge": bridge_of(desk),
        "vehicle": vehicle_of(desk),
        "boat": boat_of(desk),
    }
    return tuple(name for name, has in there.items() if not has)


def _rig(plant: str) -> RigView:
    return RigView(load_plant(plant)[0])


def _word(station: str, title: str) -> str:
    """What a further panel's tab says: its title where there is room for it."""
    return title if len(title) <= TAB_LETTERS else naming.title(naming.STATIONS[station])


def _statements(drill: Drill | None) -> list[tuple[str, str]]:
    return [(item.id, item.text) for item in drill.statement] if drill else []
