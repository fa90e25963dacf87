"""A drill from what was just done: a drill file to begin with, sound as it stands, for its author to finish.

What the instructor did becomes events at their times; what the trainee did becomes milestones and criteria in the
order in which it was done. Every text that an author must write is marked TODO.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import Any

from trainer import naming
from trainer.constants import TICKS_PER_SECOND
from trainer.hydraulics.machine import Machine
from trainer.session.interventions import ASSISTANT, DEBRIEF, INSTRUCTOR
from trainer.session.session import Entry
from trainer.simulator import Session

MOST_STEPS = 30
TODO = "TODO"


def drill_id(name: str) -> str:
    """A name as an id: ``drill_id("My own Drill!") == "my-own-drill"``."""
    found = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:50]
    return found if found[:1].isalpha() else f"drill-{found}".rstrip("-")


def build(run: Session, name: str) -> str:
    """The text of a drill file (TOML) that passes ``trainer check``, made of a run's log."""
    machine = run.machine
    end = max(60.0, 10.0 * (int(run.time / 10.0) + 6))
    out = [
        _line("id", drill_id(name)),
        _line("title", name),
        _line("purpose", f"{TODO}: what a trainee can do after this drill."),
        _line("level", "competent"),
        f"minutes = {max(1, round(end / 60.0))}",
        f"plants = {json.dumps([run.identity.plant])}",
        "pass_mark = 70",
        f"learning = {json.dumps([f'{TODO}: what is learnt.'])}",
        f"safety = {json.dumps(['Training only. On the real unit follow the rig and manufacturer procedures.'])}",
        f"references = {json.dumps([f'{TODO}: where the method is written.'])}",
        "",
        "[initial]",
        _line("text", f"{TODO}: the situation as the trainee reads it."),
    ]
    out += _events(machine, [entry for entry in run.log if entry.from_ == INSTRUCTOR])
    did = [entry for entry in run.log if entry.from_ not in (INSTRUCTOR, DEBRIEF) and entry.refused is None]
    steps = _steps(machine, did)
    out += _milestones(steps)
    out += _criteria(steps)
    out += ["", "[end]", f'at = "{end:g} s"', ""]
    return "\n".join(out)


def _line(key: str, text: str) -> str:
    return f"{key} = {json.dumps(text, ensure_ascii=False)}"


def _quantity(machine: Machine, target: str, value: object) -> str:
    """A value as a drill file writes it: with the unit of its signal, or a state's name."""
    signal = machine.signals.get(target)
    if signal is not None and signal.unit == "state" and isinstance(value, int | float):
        return str(signal.states[int(value)]) if 0 <= int(value) < len(signal.states) else f"{value:g}"
    if isinstance(value, int | float):
        return f"{value:.10g}" if signal is None else f"{value:.10g} {signal.unit}"
    return str(value)


def _events(machine: Machine, entries: list[Entry]) -> list[str]:
    out: list[str] = []
    for first, last in grouped(entries)[:MOST_STEPS]:
        out += ["", "[[event]]", _line("title", f"{TODO}: {last.do} {last.target}"), f'at = "{first.t:g} s"']
        if last.do == "fault":
            value = float(last.value or 0.0)
            if value <= 0.0:
                out.append(_line("clear", last.target))
            else:
                out += [_line("fault", last.target), f'severity = "{100.0 * value:g} %"']
                if last.tick > first.tick:
                    out.append(f'over = "{last.t - first.t:g} s"')
        elif last.do == "put":
            out += [
                "[event.values]",
                f"{json.dumps(last.target)} = {json.dumps(_quantity(machine, last.target, last.value))}",
            ]
        else:
            out += ["[[event.commands]]", _line("do", last.do), _line("target", last.target)]
            if last.value is not None:
                out.append(f"value = {json.dumps(last.value)}")
    return out


def grouped(entries: list[Entry]) -> list[tuple[Entry, Entry]]:
    """Interventions as (first, last): the steps of one ramp are one event."""
    out: list[tuple[Entry, Entry]] = []
    for entry in entries:
        before = out[-1][1] if out else None
        if (
            before is not None
            and entry.do == before.do == "fault"
            and entry.target == before.target
            and entry.tick - before.tick <= 2 * TICKS_PER_SECOND
        ):
            out[-1] = (out[-1][0], entry)
        else:
            out.append((entry, entry))
    return out


def _steps(machine: Machine, entries: list[Entry]) -> list[dict[str, object]]:
    """What was done for good, in its order: the last setting of each control that a reading tells of."""
    steps: dict[str, dict[str, object]] = {}
    for entry in entries:
        condition = _condition(machine, entry)
        if condition is None:
            continue
        # Done again, it counts where it was done last.
        steps.pop(entry.target, None)
        steps[entry.target] = {
            "id": re.sub(r"[^a-z0-9]+", "_", f"did {entry.target}".lower()).strip("_"),
            "title": f"{naming.title(entry.target)}: {entry.value}",
            "when": condition,
            "t": entry.t,
            "helped": entry.from_ == ASSISTANT,
        }
    return list(steps.values())[:MOST_STEPS]


def _condition(machine: Machine, entry: Entry) -> str | None:
    if entry.do != "set":
        return None
    signals: Mapping[str, Any] = machine.signals
    for tag in (f"{entry.target}.valve", f"{entry.target}.position", entry.target):
        signal = signals.get(tag)
        if signal is None:
            continue
        if signal.unit == "state":
            return f"{tag} == '{entry.value}'" if entry.value in signal.states else None
        if isinstance(entry.value, int | float) and tag == entry.target:
            spread = max(0.05 * abs(entry.value), 0.02 * (signal.high - signal.low))
            return f"abs({tag} - {entry.value:g} {signal.unit}) < {spread:g} {signal.unit}"
    return None


def _milestones(steps: list[dict[str, Any]]) -> list[str]:
    out: list[str] = []
    for step in steps:
        out += [
            "",
            "[[milestone]]",
            _line("id", step["id"]),
            _line("title", step["title"]),
            _line("when", step["when"]),
        ]
    return out


def _criteria(steps: list[dict[str, Any]]) -> list[str]:
    out: list[str] = []
    for step in steps:
        out += [
            "",
            "[[criterion]]",
            _line("id", f"reach_{step['id']}"),
            _line("title", step["title"]),
            'kind = "final"',
            "points = 10",
            "required = true",
            'category = "outcome"',
            _line("holds", step["when"]),
            _line("why", f"{TODO}: why it matters."),
            _line("source", f"{TODO}: done at {step['t']:g} s in the run that this drill was made of."),
        ]
    if not steps:
        out += [
            "",
            "[[criterion]]",
            'id = "judged"',
            'title = "Judged by the assessor"',
            'kind = "assess"',
            "points = 10",
            "required = true",
            'category = "communication"',
            _line("look_for", f"{TODO}: what a good performance looks like."),
            _line("why", f"{TODO}: why it matters."),
            _line("source", f"{TODO}"),
        ]
    return out
