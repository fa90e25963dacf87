"""Rigs fitted from the shipped ones, to be drawn: banks, pumps, pods and functions more or fewer."""

from __future__ import annotations

from tests.drawing.conftest import Rig
from trainer.drawing.context import DrawingContext
from trainer.drawing.rig_view import RigView
from trainer.planning.draft import Draft
from trainer.planning.fit_page import Drawn
from trainer.plant.rig import fit_out

LIKE = {
    "quillback": ("lower_annular", "upper_pipe_ram", "upper_inner_choke", "upper_inner_kill"),
    "sandpiper": ("annular", "upper_pipe_ram", "choke_valve", "kill_valve"),
}
"""An annular, a pipe ram, a choke valve and a kill valve of each rig."""


def fitted(
    base: str, banks: int = 2, pumps: int = 0, pods: int = 2, functions: int = 0, stack: int = 1, panels: int = 0
) -> Rig:
    """A rig with so many surface banks, pumps, pods, functions and banks on the stack (0: as the base has).

    Of further ``panels`` the first carries all that it can, the second has air and the third one function.
    """
    draft = Draft.open(base)
    draft.rename("fitted", "Fitted")
    for number in range(3, banks + 1):
        draft.add("bank", f"bank_{'abcdefgh'[number - 1]}", "bank_b")
        draft.put(f"bank.bank_{'abcdefgh'[number - 1]}.title", f"Accumulator bank {'ABCDEFGH'[number - 1]}")
    _pumps(draft, pumps)
    if base == "quillback":
        _pods(draft, pods)
        for number in range(2, stack + 1):
            draft.add("bank", f"stack_bottles_{number}", "stack_bottles")
            draft.add("function", f"stack_isolation_{number}", "stack_isolation")
            draft.put(f"function.stack_isolation_{number}.isolates", f"stack_bottles_{number}")
    _functions(draft, base, functions)
    _panels(draft, panels)
    plant = draft.plant()
    machine = fit_out(Drawn(plant.network()), plant)
    return Rig(plant, machine, DrawingContext(RigView(plant), machine.signals))


def _pumps(draft: Draft, wanted: int) -> None:
    had = [str(p["id"]) for p in draft.data()["pump"]]
    for pump in had[wanted:] if wanted else []:
        draft.remove("pump", pump)
    for number in range(len(had) + 1, wanted + 1):
        draft.add("pump", f"air_pump_{number}", had[-1])


def _pods(draft: Draft, wanted: int) -> None:
    if wanted == 1:
        draft.remove("pod", "blue")
        draft.remove("function", "blue_pod_connector")
    if wanted == 3:
        draft.add("pod", "white")


def _panels(draft: Draft, wanted: int) -> None:
    all_of = {kind: ", ".join(str(part["id"]) for part in draft.data()[kind]) for kind in ("function", "regulator")}
    gauges = "accumulator.pressure, air.pressure, power.ac, tank.level, well.pit_gain, well.flow_out"
    for number in range(1, wanted + 1):
        panel = f"panel_{number}"
        draft.add("panel", panel, "panel_1" if number > 1 else "")
        second = "own_battery" if "telemetry" in draft.data() else "rig_air"
        draft.put(f"panel.{panel}.supply", ("unit_battery", second, "own_battery")[number - 1])
        draft.put(f"panel.{panel}.functions", all_of["function"] if number < 3 else all_of["function"].split(", ")[-1])
        if number == 1:
            draft.put(f"panel.{panel}.regulators", all_of["regulator"])
            draft.put(f"panel.{panel}.gauges", gauges)
        else:
            draft.put(f"panel.{panel}.regulators", "")


def _functions(draft: Draft, base: str, wanted: int) -> None:
    """So many functions on the stack, beside the diverter's: a preventer and a ram, then more of what stacks have."""
    if not wanted:
        return
    draft.document.pop("disconnect", None)
    kept = LIKE[base]
    for function in draft.data()["function"]:
        if function.get("place") != "diverter" and function["id"] not in kept:
            draft.remove("function", str(function["id"]))
    if base == "quillback":
        draft.remove("bank", "stack_bottles")
    annular, ram, choke, kill = kept
    for number in range(len(kept), wanted):
        draft.add("function", f"more_{number}", (choke, kill, ram, choke, kill, annular, ram)[number % 7])
