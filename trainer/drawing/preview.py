"""Static pages of every board with sample readings: ``python -m trainer.drawing.preview OUT_DIR [PLANT]``.

No script runs in them: what is seen is markup, style and bindings filled in by Python.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path
from typing import Any, Final

from trainer import resources
from trainer.drawing.acoustic_view import boat_panel
from trainer.drawing.aside import aside_panel
from trainer.drawing.context import DrawingContext
from trainer.drawing.emergency_view import backups_panel
from trainer.drawing.fill_in import fill_in
from trainer.drawing.floor import floor_board, floor_strip
from trainer.drawing.markup import Markup
from trainer.drawing.panels import driller_panel, further_panel, second_panel
from trainer.drawing.position_view import bridge_panel
from trainer.drawing.rig_view import RigView
from trainer.drawing.rov_view import vehicle_panel
from trainer.drawing.sample import sample_readings
from trainer.drawing.schematic import schematic, schematic_svg
from trainer.drawing.unit import unit_station
from trainer.drawing.unit_care import unit_care
from trainer.drawing.watch import watch_panel
from trainer.drawing.workshop_view import workshop_panel
from trainer.hydraulics.machine import Machine
from trainer.plant.rig import Plant, build_machine, load_plant
from trainer.units import System

BOARDS: Final[Mapping[str, Callable[[DrawingContext], Markup]]] = {
    "watch": watch_panel,
    "schematic": schematic,
    "driller": driller_panel,
    "aside": aside_panel,
    "backups": backups_panel,
    "workshop": workshop_panel,
    "bridge": bridge_panel,
    "vehicle": vehicle_panel,
    "boat": boat_panel,
    "remote": second_panel,
    "unit": unit_station,
    "unit_care": unit_care,
    "floor": floor_board,
    "floor_strip": floor_strip,
}

# A state of alarm and one in a drill, to look at besides the rest state.
CASES: Final[Mapping[str, Mapping[str, float | str]]] = {
    "rest": {},
    "alarm": {
        "accumulator.pressure": 2140,
        "alarm.low_accumulator": "unacknowledged",
        "alarm.low_pilot": "acknowledged",
        "alarm.low_air": "returned",
        "alarm.power_loss": "unacknowledged",
        "driller.enabled": "on",
        "triplex_1.running": "yes",
        "triplex_1.flow": 14,
        "well.flow_out": 402,
        "well.pit_gain": 7.4,
        "well.influx_volume": 240,
        "pod_selector.position": "blue",
        "upper_pipe_ram.lamp_block": "on",
        "upper_pipe_ram.lamp_open": "off",
        "air.pressure": 71,
        "totaliser.flow": 41.3,
        "upper_annular.position": 46,
    },
}


def boards_of(plant: Plant) -> dict[str, Callable[[DrawingContext], Markup]]:
    """Every board of a plant by name: those of any rig, and its further panels by their stations."""
    return {**BOARDS, **{station: partial(further_panel, station=station) for station in plant.further}}


def page(
    plant: Plant, machine: Machine, board: str, theme: str = "light", system: System = "field", case: str = "rest"
) -> str:
    """One static page: a board of ``rig`` with sample readings of a ``case``."""
    desk = DrawingContext(RigView(plant), machine.signals, system)
    style = (resources.assets() / "style" / "board.css").read_text(encoding="utf-8")
    filled = fill_in(boards_of(plant)[board](desk), sample_readings(machine, system, CASES[case]))
    return (
        f'<!doctype html><html lang="en" data-theme="{theme}"><head><meta charset="utf-8"><title>{board}</title>'
        f"<style>html,body{{margin:0;height:100%}}{style}</style></head>"
        f'<body><main class="board">{filled}</main></body></html>'
    )


def standalone_svg(desk: DrawingContext, readings: Mapping[str, Mapping[str, Any]], truth: bool = True) -> str:
    """The schematic with its present readings as one SVG file, light, for paper: style inside, no script."""
    drawn = fill_in(schematic_svg(desk, truth), readings)
    style = (resources.assets() / "style" / "board.css").read_text(encoding="utf-8")
    paper = (
        style.replace(".board, .deck {", ".board, .deck, svg.schematic {", 1).replace("&", "and").replace("<", "under")
    )
    ground = "svg.schematic{color-scheme:light;background:#fff;--bg:#fff;max-height:none}"
    head, rest = drawn.split(">", 1)
    return f"{head}><style>{paper}{ground}</style>{rest}"


def main() -> None:
    """Write every board, theme and case of a plant as a page into a folder."""
    import argparse  # the browser's library is without it

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("plant", nargs="?", default="quillback")
    given = parser.parse_args()
    plant, _ = load_plant(given.plant)
    machine = build_machine(plant)
    machine.scan(200)  # let the instruments settle on their readings
    given.out.mkdir(parents=True, exist_ok=True)
    for board in boards_of(plant):
        for theme in ("light", "dark"):
            for case in CASES:
                target = given.out / f"{board}-{theme}-{case}.html"
                target.write_text(page(plant, machine, board, theme, "field", case), encoding="utf-8")
    sheet = standalone_svg(DrawingContext(RigView(plant), machine.signals), sample_readings(machine))
    (given.out / "schematic.svg").write_text(sheet, encoding="utf-8")


if __name__ == "__main__":
    main()
