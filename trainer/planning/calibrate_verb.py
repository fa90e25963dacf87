"""The command ``trainer calibrate``: a plant file fitted to readings of a test on the rig, shown and saved."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import tomlkit

from trainer.planning import knobs, readings
from trainer.planning.calibrate import Calibration, Fitted, Told, calibrate
from trainer.planning.draft import Draft
from trainer.planning.errors import PlanningError
from trainer.plant.rig import Plant, build_machine
from trainer.session import actions
from trainer.session.commands import Command

MISSED = 2.0
"""A misfit beyond this says that the model does not explain the readings."""


def fit(
    table: Path,
    test: Path,
    *,
    plant: str,
    names: Sequence[str],
    function: str = "",
    fault: str = knobs.DEFAULT_LEAK,
    own: str = "",
    output: Path | None = None,
    plot: Path | None = None,
    told: Told | None = None,
) -> dict[str, Any]:
    """Fit ``plant`` to the readings in ``table``, taken while the actions in ``test`` were done.

    ``names`` of what to fit, ``function`` whose valve is fitted (that of the test's first move when empty), ``own`` an
    id for the fitted plant (its own when empty). PlanningError, ActionFileError or PlantError for what does not go.
    """
    if plot is not None and (plot.suffix.lower() != ".html" or not plot.parent.is_dir()):
        raise PlanningError(f"{plot}: the comparison is written to OUT.html in a folder that is there")
    draft = Draft.open(plant)
    if own:
        draft.rename(own, f"{draft.document['title']}, calibrated")
    declared = draft.plant()
    machine = build_machine(declared)
    measured = readings.read(table, machine.signals)
    commands = actions.read(test, machine)
    if "leak" in names and fault not in machine.faults:
        leaks = ", ".join(sorted(known for known in machine.faults if known.endswith("leak")))
        raise PlanningError(f"the plant has no leak {fault!r}; there are: {leaks}")
    turned = knobs.knobs(declared, tuple(names), function or moved(declared, commands), fault)
    found = calibrate(declared, turned, commands, measured, told)
    _write(draft, found.fitted)
    document = _document(declared, found, machine.signals)
    if output is not None or own:
        document["saved"] = str(draft.save(output))
    if plot is not None:
        from trainer.planning.compared import page

        plot.write_text(page(declared.title, document), encoding="utf-8")
    return document


def moved(plant: Plant, commands: Sequence[Command]) -> str:
    """The id of the function that the test opens or closes first, or an empty string where it moves none."""
    names = {function.id for function in plant.function}
    return next((c.target for c in commands if c.target in names and c.value in ("open", "close")), "")


def _write(draft: Draft, fitted: Sequence[Fitted]) -> None:
    """Put what the readings told into the plant file; what they do not tell stays as it was."""
    for one in fitted:
        if not one.told:
            continue
        for place in one.knob.places:
            if place[0] == "condition":
                held = draft.document.setdefault("condition", tomlkit.table())
                held[place[1]] = one.knob.text(one.value)
            else:
                draft.put(".".join(place), one.knob.text(one.value))


def _document(plant: Plant, found: Calibration, signals: dict[str, Any]) -> dict[str, Any]:
    rows = []
    for one in found.fitted:
        value, low, high = (float(one.knob.text(x).split()[0]) for x in (one.value, one.low, one.high))
        rows.append({"name": one.knob.name, "title": one.knob.title, "unit": one.knob.unit, "value": value, "low": low,
                     "high": high, "told": one.told, "before": one.knob.text(one.knob.start)})  # fmt: skip
    columns = []
    for tag, values in found.measured.items():
        unit = signals[tag].unit
        off = [m - v for m, v in zip(found.modelled[tag], values, strict=True)]
        spread = math.sqrt(math.fsum(x * x for x in off) / len(off))
        columns.append(
            {
                "tag": tag,
                "unit": unit,
                "meaning": signals[tag].meaning,
                "noise": _field(found.noise[tag], unit),
                "off": _field(spread, unit),
                "measured": [_shown(v, unit) for v in values],
                "modelled": [_shown(v, unit) for v in found.modelled[tag]],
            }
        )
    return {
        "plant": plant.id,
        "fitted": rows,
        "misfit": round(found.misfit, 3),
        "explained": found.misfit <= MISSED,
        "times": list(found.times),
        "columns": columns,
        "saved": None,
    }


def _field(difference: float, unit: str) -> float:
    from trainer.units import UNITS

    return float(f"{difference / UNITS[unit].factor:.4g}")


def _shown(value: float, unit: str) -> float:
    from trainer.units import to_unit

    return round(to_unit(value, unit), 3)


def lines(document: dict[str, Any]) -> list[str]:
    """What was found as lines for a terminal: each quantity with its value and how well it is known."""
    found = [f"{document['plant']}, fitted to {len(document['times'])} readings", ""]
    for row in document["fitted"]:
        said = f"{row['value']:.4g} {row['unit']} (95 %: {row['low']:.4g} to {row['high']:.4g}), was {row['before']}"
        found.append(f"  {row['title']}: {said if row['told'] else 'the readings do not tell it; left as it was'}")
    found.append("")
    for column in document["columns"]:
        unit = column["unit"]
        found.append(f"  {column['tag']}: model off by {column['off']:g} {unit}, noise {column['noise']:g} {unit}")
    if document["explained"]:
        found.append(f"  The model explains the readings (misfit {document['misfit']:g}, 1 is noise alone).")
    else:
        found.append(
            f"  The model does not explain the readings (misfit {document['misfit']:g}, 1 is noise alone): check the "
            "test's commands and times, or fit more."
        )
    if document["saved"]:
        found += ["", f"saved as {document['saved']}"]
    return found
