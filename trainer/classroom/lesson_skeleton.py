"""A lesson from what was just done: the drill or practice that ran, and what the instructor did in it, at its times."""

from __future__ import annotations

import json

from trainer.classroom.place import ClassSeat
from trainer.classroom.skeleton import drill_id, grouped
from trainer.classroom.starts import AS_BUILT
from trainer.console import debrief
from trainer.session.interventions import INSTRUCTOR
from trainer.simulator import Session


def build(seat: ClassSeat, run: Session, name: str) -> str:
    """The text of a lesson file (TOML) made of a run: what was brought, what was said to the trainee, and the notes.
    ValueError for a run in which the instructor did nothing that a lesson can do again."""
    steps: list[tuple[float, list[str]]] = []
    for first, last in grouped([entry for entry in run.log if entry.from_ == INSTRUCTOR and entry.do == "fault"]):
        share, known = float(last.value or 0.0), run.machine.faults.get(last.target)
        title = known.title if known is not None else last.target
        if share <= 0.0:
            steps.append((first.t, [_line("title", f"Cleared: {title}"), _line("clear", last.target)]))
            continue
        lines = [_line("title", title), _line("fault", last.target), f'severity = "{100.0 * share:g} %"']
        if last.tick > first.tick:
            lines.append(f'over = "{last.t - first.t:g} s"')
        steps.append((first.t, lines))
    for one in seat.talk.told:
        steps.append((one.t, [_line("title", one.text[:60]), _line("tell", one.text)]))
    if not steps:
        raise ValueError("nothing was brought or said in this run that a lesson could repeat")
    notes = "\n".join(f"{debrief.clock(t)} {text}" for t, text, _ in seat.talk.notes)
    identity = run.identity
    out = [
        _line("id", drill_id(name)),
        _line("title", name),
        _line("purpose", f"Made of a run of {seat.ran}."),
        f"minutes = {max(1, round(run.time / 60.0))}",
    ]
    if identity.drill is not None:
        out += [_line("drill", identity.drill), _line("plant", identity.plant), f"variation = {identity.seed}"]
    else:
        out += [_line("start", AS_BUILT), _line("plant", identity.plant)]
    out += [_line("notes", notes)] if notes else []
    for t, lines in sorted(steps, key=lambda step: step[0]):
        out += ["", "[[step]]", *lines, f'at = "{t:g} s"']
    return "\n".join([*out, ""])


def _line(key: str, text: str) -> str:
    return f"{key} = {json.dumps(text, ensure_ascii=False)}"
