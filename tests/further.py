"""A plant with three further panels, one for each kind of supply, for tests of every room."""

from __future__ import annotations

from trainer import resources
from trainer.plant.rig import Plant, parse_plant

ESCAPE = """
[[panel]]
id = "escape_panel"
title = "Escape-exit panel"
functions = ["{annular}", "blind_shear_ram", "{line}"]
regulators = ["annular_regulator"]
gauges = ["accumulator.pressure", "well.pit_gain"]
length = "300 ft"
walk = "40 s"
"""
AIR = """
[[panel]]
id = "air_panel"
title = "Air panel"
supply = "rig_air"
functions = ["{annular}", "lower_pipe_ram"]
length = "900 ft"
warnings = false
"""
OWN = """
[[panel]]
id = "lifeboat_panel"
supply = "own_battery"
functions = ["{annular}", "blind_shear_ram"]
length = "400 ft"
battery_capacity = "6 Ah"
"""


def text(base: str = "quillback", panels: str = ESCAPE + AIR + OWN, name: str = "") -> str:
    """The file of a shipped plant with further panels, under another id."""
    names = {"annular": "upper_annular", "line": "upper_inner_choke"}
    if base == "sandpiper":
        names = {"annular": "annular", "line": "choke_valve"}
    plain = (resources.plants() / f"{base}.toml").read_text(encoding="utf-8")
    renamed = plain.replace(f'id = "{base}"', f'id = "{name or base}"\nbase = "{base}"', 1)
    return renamed + panels.format_map(names)


def plant(base: str = "quillback", panels: str = ESCAPE + AIR + OWN) -> Plant:
    """The same, read; PlantError where it does not fit."""
    return parse_plant(text(base, panels).encode(), "rig.toml")
