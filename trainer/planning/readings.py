"""Readings of a test on a real rig, from a CSV file: time and instruments, each column with its unit in the head.

    time [s], accumulator.pressure [psi], totaliser.count [gal]
    0.0, 2985, 0.0
    0.5, 2985, 0.0

Every kind of mistake has its own message, with the line; up to ten are told at once.
"""

from __future__ import annotations

import csv
import io
import itertools
import math
import re
from dataclasses import dataclass
from pathlib import Path
from statistics import median

from trainer import units
from trainer.hydraulics.catalogue import Signal
from trainer.planning.errors import PlanningError
from trainer.session.commands import nearest

LEAST_ROWS = 12
MOST_BYTES = 20_000_000
MOST_TOLD = 10
GAP = 8.0
TIME = "time"
_HEAD = re.compile(r"\s*([^\[\]()]+?)\s*[\[(]\s*([^\[\]()]+?)\s*[\])]\s*")


@dataclass(frozen=True)
class Readings:
    """``times`` in s from the test's start, rising; ``columns`` by tag, SI, as many values as times."""

    times: tuple[float, ...]
    columns: dict[str, tuple[float, ...]]


def read(path: Path, signals: dict[str, Signal]) -> Readings:
    """The readings of a CSV file; PlanningError tells everything wrong with it."""
    try:
        if path.stat().st_size > MOST_BYTES:
            raise PlanningError(f"{path}: larger than {MOST_BYTES} bytes; keep the time of the test only")
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise PlanningError(f"{path}: not UTF-8 text (byte {error.start}); save it as CSV UTF-8") from error
    except OSError as error:
        raise PlanningError(f"{path}: cannot be read: {error.strerror or error}") from error
    return parse(text, path.name, signals)


def parse(text: str, name: str, signals: dict[str, Signal]) -> Readings:
    """The readings of a CSV file's text, SI; see ``read``. PlanningError names every line that is wrong."""
    rows = [(n, row) for n, row in enumerate(csv.reader(io.StringIO(text)), 1) if any(cell.strip() for cell in row)]
    if not rows:
        raise PlanningError(f"{name}: is empty; the first line names the columns: time [s], accumulator.pressure [psi]")
    heads = _heads(rows[0][1], name, signals)
    faults: list[str] = []
    table: list[list[float]] = []
    for n, row in rows[1:]:
        values = _values(n, row, heads, faults)
        if values is not None:
            table.append(values)
            if values[0] < 0.0:
                faults.append(f"line {n}: time {values[0]:g} s is before the test; count it from the test's start")
            if len(table) > 1 and values[0] <= table[-2][0]:
                way = "stands still" if values[0] == table[-2][0] else "goes backwards"
                faults.append(
                    f"line {n}: time {way}: {values[0]:g} s after {table[-2][0]:g} s; sort the rows, and keep one test"
                )
    if not faults:
        faults += _gaps(table, rows)
    if not faults and len(table) < LEAST_ROWS:
        faults.append(f"has {len(table)} readings; at least {LEAST_ROWS} are needed to fit anything")
    if faults:
        told = faults[:MOST_TOLD] + ([f"and {len(faults) - MOST_TOLD} more"] if len(faults) > MOST_TOLD else [])
        raise PlanningError("\n".join(f"{name}: {fault}" for fault in told))
    columns = {tag: tuple(row[k] for row in table) for k, (tag, _) in enumerate(heads) if tag != TIME}
    return Readings(tuple(row[0] for row in table), columns)


def _heads(cells: list[str], name: str, signals: dict[str, Signal]) -> list[tuple[str, str]]:
    """Tag and unit of each column."""
    heads: list[tuple[str, str]] = []
    faults: list[str] = []
    for n, cell in enumerate(cells, 1):
        match = _HEAD.fullmatch(cell)
        if match is None:
            faults.append(f"column {n}, {cell.strip()!r}, has no unit; write it like 'accumulator.pressure [psi]'")
            continue
        tag, unit = match[1], match[2]
        if tag in [known for known, _ in heads]:
            faults.append(f"column {n}: {tag!r} stands twice; keep one of them")
        elif tag != TIME and tag not in signals:
            faults.append(f"column {n}: the plant has no signal {tag!r}{nearest(tag, signals)}")
        elif unit not in units.UNITS:
            faults.append(f"column {n}, {tag!r}: the unit {unit!r} is not known")
        else:
            wanted = "s" if tag == TIME else signals[tag].unit
            if units.dimension_of(unit) != units.dimension_of(wanted):
                given, right = units.dimension_of(unit), units.dimension_of(wanted)
                fitting = ", ".join(units.units_of(right))
                faults.append(
                    f"column {n}, {tag!r}: {unit} is a {given}, but a {right} is read there (units: {fitting})"
                )
        heads.append((tag, unit))
    if not faults and heads[0][0] != TIME:
        faults.append(f"the first column is {heads[0][0]!r}; it must be the time, such as 'time [s]'")
    if not faults and len(heads) < 2:
        faults.append("has no reading beside the time")
    if faults:
        raise PlanningError("\n".join(f"{name}: {fault}" for fault in faults))
    return heads


def _values(line: int, row: list[str], heads: list[tuple[str, str]], faults: list[str]) -> list[float] | None:
    if len(row) != len(heads):
        faults.append(f"line {line}: has {len(row)} values for {len(heads)} columns")
        return None
    values = []
    for cell, (tag, unit) in zip(row, heads, strict=True):
        if not cell.strip():
            faults.append(f"line {line}: {tag} is missing; leave the row out or fill it in")
            return None
        try:
            number = float(cell)
        except ValueError:
            faults.append(
                f"line {line}: {cell.strip()!r} is no number for {tag}; write it plain, unit in the head only"
            )
            return None
        if not math.isfinite(number):
            faults.append(f"line {line}: {cell.strip()!r} is no reading for {tag}; leave the row out")
            return None
        values.append(units.from_unit(number, unit))
    return values


def _gaps(table: list[list[float]], rows: list[tuple[int, list[str]]]) -> list[str]:
    """Holes in time, far longer than the usual step."""
    steps = [b[0] - a[0] for a, b in itertools.pairwise(table)]
    if not steps:
        return []
    usual = median(steps)
    return [
        f"line {rows[n + 2][0]}: a gap of {step:g} s in readings every {usual:g} s; fill it in or keep one side of it"
        for n, step in enumerate(steps)
        if step > GAP * usual
    ]
