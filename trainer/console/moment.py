"""What a run says at this moment, in words: the coach's advice, the last thing told, the alarms that wait."""

from __future__ import annotations

from trainer.console import debrief, shell
from trainer.console.run import Run


def advice(run: Run) -> str:
    """The coach's present advice as markup; nothing without a coach."""
    return debrief.coach(run.coach.advice()) if run.coach is not None else ""


def told(run: Run) -> str:
    """The last thing that was told to the trainee: the situation at first, a telephone call later."""
    messages = getattr(run.referee, "messages", None)
    return messages[-1][1] if messages else ""


def alarms(run: Run) -> str:
    """The alarms that nobody has acknowledged yet."""
    read = run.machine.read
    waiting = [shell.alarm_name(t) for t in run.machine.signals if t.startswith("alarm.") and read(t) == 1.0]
    return f"Alarm: {', '.join(waiting)}" if waiting else ""
