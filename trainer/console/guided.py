"""Guided runs: the first run of somebody new, with the coach and without a score: its start and its end."""

from __future__ import annotations

import functools
from collections.abc import Sequence

from trainer import naming, units
from trainer.console import shell
from trainer.console.happened import Happened, Operation
from trainer.console.kept import KEPT_LEARNT
from trainer.drawing.markup import Markup, el
from trainer.drills import library
from trainer.drills.schema import Drill
from trainer.wording import written

FIRST_RUN = "first-run"
"""The guided run for which the first page has its one button."""
RIG = "sandpiper"
"""Its rig, the simpler one."""
FIRST_DRILL = "surface-first-function-test"
"""The drill with a score that comes after it, on the same panel."""
WHY = (
    "The accumulators store fluid under pressure. It moved the preventer, so the accumulator pressure fell.",
    written("The pressure fell below 2,760 psi. A switch started the pump, and the pump refills the accumulators."),
    "The annular regulator lowers the pressure for the annular. Its read-back dips only while fluid flows.",
    "A lamp shows that the control valve moved, not that the preventer did. "
    "The fall of pressure shows that fluid moved it.",
)


@functools.cache
def find(name: str) -> Drill | None:
    """The guided run of this id; None where it is none."""
    path = library.guided().get(name)
    return library.load_file(path) if path is not None else None


def is_guided(drill: Drill | None) -> bool:
    """Whether a run of this drill is guided: no score is shown and no attempt is kept."""
    return drill is not None and find(drill.id) is not None


def way_in(again: bool = False) -> Markup | None:
    """The part of the first page that starts the first run; None where none is shipped. again: it has been done."""
    drill = find(FIRST_RUN)
    if drill is None:
        return None
    return el(
        "section",
        {"class": "way-in", "aria-label": "New here"},
        el("p", {"class": "way-in-eye"}, "Done once" if again else "New here? Start here"),
        el("h2", {}, "Close and open a preventer"),
        el("p", {}, f"{drill.purpose} It takes {drill.minutes:g} minutes. No score, and nothing can break."),
        shell.button(
            "Do the first run again" if again else "Start the first run",
            {"page": "start", "drill": FIRST_RUN},
            "tool" if again else "tool tool-strong way-in-key",
        ),
    )


def over(done: bool, happened: Happened, system: units.System, onward: Markup | None = None) -> Markup:
    """The page at the end of a guided run: what was done, why the pressures moved, what to do next.

    done: the run came to its end. onward: the next step as buttons; learning the parts without.
    """
    title = "You closed and opened a preventer" if done else "The first run is not finished"
    return el(
        "header",
        {"class": "verdict verdict-none guided-over"},
        el("h1", {}, title),
        _done(happened.operations, happened, system),
        [el("h2", {}, "Why the pressures moved"), el("ul", {}, [el("li", {}, written(line)) for line in WHY])]
        if done
        else None,
        el("h2", {}, "What to do next"),
        onward if done and onward is not None else _next(done),
    )


def _done(operations: Sequence[Operation], happened: Happened, system: units.System) -> Markup | None:
    if not operations:
        return el("p", {}, "You operated no preventer.")
    lines = [
        f"{naming.target(each.function)}, {each.position}: accumulator pressure fell by "
        f"{happened.amount(each.took, system)} in {each.lasted:.0f} s."
        for each in operations
    ]
    return el("ul", {"class": "guided-did"}, [el("li", {}, line) for line in lines])


def _next(done: bool) -> Markup:
    drill = el(
        "form",
        {
            "class": "way-in-form",
            "data-page": {"page": "start", "drill": FIRST_DRILL, "plant": RIG, "mode": "practice"},
            "aria-label": "First drill",
        },
        el("button", {"class": "tool tool-strong", "type": "submit"}, "Start your first drill"),
    )
    learn = shell.button(
        f"Learn the parts of {RIG.capitalize()}",
        {"page": "learn", "plant": RIG},
        "tool",
        data_recall=f"{KEPT_LEARNT}{RIG}",
    )
    again = shell.button("Do the first run again", {"page": "again"}, "tool" if done else "tool tool-strong")
    return el(
        "div",
        {},
        el("p", {}, "Test three preventers at the same panel. The coach helps you, and you get a score.")
        if done
        else None,
        el(
            "div",
            {"class": "verdict-keys"},
            [drill, learn, again] if done else again,
            shell.button("To the first page", {"page": "leave"}),
        ),
    )
