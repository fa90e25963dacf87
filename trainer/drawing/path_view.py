"""The fluid path through a part: which lines light up while it is pointed at, has the focus, or its card is open.

A line is known by the pressure it carries, so the path is a list of pressure readings; a few style rules written into
the sheet do the rest, without any script.
"""

from __future__ import annotations

from trainer.drawing.context import DrawingContext
from trainer.drawing.markup import Markup, el
from trainer.drawing.sheet import of, readback

_PILOT = ("pilot", "pilot_check", "pilot_valves")
# Lines that are known by their class: the suction, and the header's branches that not every part is fed through.
_NAMED = {"suction": ".pipe-suction", "pilot": ".pipe.to-pilot", "diverter": ".pipe.to-diverter"}
_BRANCHES = ":not(.to-pilot,.to-diverter)"
_WELL = ("well", "pit", "air", "power", "battery", "panel_power", "vent", "eds")


def runs_of(desk: DrawingContext, component: str) -> tuple[str, ...]:
    """The pressures of the lines that feed a part, from the tank on; nothing for a part outside the fluid path."""
    rig = desk.rig
    base = component.partition(".")[0]
    supply, header = of(desk, "supply.pressure"), of(desk, "accumulator.pressure")
    pilot = of(desk, "pilot.pressure")
    runs: list[str | None] = ["suction", supply]
    pumps = [p.id for p in rig.pumps]
    if base in _WELL or base in {panel.id for panel in rig.plant.further.values()}:
        return ()
    if base in (rig.tank, "water_supply", "mixing") or any(base.startswith(p) for p in pumps):
        return tuple(r for r in runs if r)
    runs.append(header)
    bottles = [b.id for b in rig.pilot_banks]
    if base in (*_PILOT, *bottles, *(f.id for f in rig.pilot_filters), *(r.id for r in rig.pilot_regulators)):
        runs += ["pilot", *(of(desk, f"{b}.pressure") for b in bottles), pilot]
    for bank in rig.surface_banks:
        if base == bank.id:
            runs.append(of(desk, f"{bank.id}.pressure"))
    for regulator in rig.power_regulators:
        if base == regulator.id:
            runs.append(readback(desk, regulator.serves))
    if base == "flex_joint":
        runs.append(readback(desk, "flexjoint"))
    diverting = [f.id for f in (*rig.diverter(), *rig.diverter_regulators)]
    if base in diverting:
        runs += ["diverter", *(readback(desk, r.serves) for r in rig.diverter_regulators)]
    for function in rig.functions:
        if base == function.id:
            runs += [readback(desk, function.supply)]
            runs += [of(desk, f"{function.id}.{side}_pressure") for side in ("close", "open")]
    return tuple(dict.fromkeys(r for r in runs if r))


def path_style(desk: DrawingContext, runs: set[str]) -> Markup:
    """Style rules that light the lines of every pressure in ``runs`` while a part fed by it is pointed at.

    The lines of the pod that is not selected stay dark: no fluid goes that way.
    """
    idle = ",".join(f'.supply-of-{pod.id}:not([data-value="{pod.id}"]) *' for pod in desk.rig.pods)
    but = f":not({idle})" if idle else ""
    rules = [
        f'.schematic:has(.part[data-runs~="{run}"]:is(:hover,:focus-visible,.chosen)) '
        + _NAMED.get(run, f'.pipe[data-pressure="{run}"]{_BRANCHES}{but}')
        + "{stroke:var(--path)!important}"
        for run in sorted(runs)
    ]
    return el("style", {}, Markup("".join(rules)))
