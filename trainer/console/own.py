"""The chooser's part for files of one's own: hand one in, read what is wrong with it, start from it, take it away."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from trainer.console import shell
from trainer.drawing.markup import Markup, el
from trainer.drills.schema import Drill

NOTE = (
    "A drill or a plant file (TOML) is checked as the command trainer check does, and kept in this browser only. "
    "Handed in again under the same name, a file replaces the one before. An evidence file (JSON) is computed again, "
    "verified, and not kept."
)


@dataclass(frozen=True)
class OwnFile:
    """One kept file. kind: drill or plant. base: of a plant, the id of the plant that it was fitted from.

    faults: why it does not fit this version of the trainer; nothing starts from it then.
    unfit: drills that cannot start on it, each with what it lacks.
    """

    file: str
    kind: str
    title: str
    base: str = ""
    faults: tuple[str, ...] = ()
    unfit: Mapping[str, str] = field(default_factory=dict)

    @property
    def id(self) -> str:
        """What drills and plants are called by."""
        return self.file.removesuffix(".toml")


def section(own: Sequence[OwnFile], drills: Iterable[Drill]) -> Markup:
    """The whole part; a drill's card stands among the others, so here it only has its line."""
    offered = list(drills)
    return el(
        "section",
        {"class": "own", "aria-label": "Your own files"},
        el("h2", {}, "Your own files"),
        el("p", {"class": "soft"}, NOTE),
        el(
            "label",
            {"class": "own-file"},
            "Drill, plant or evidence file ",
            el(
                "input",
                {"type": "file", "accept": ".toml,.json", "multiple": "multiple", "data-load": {"page": "load"}},
            ),
        ),
        el("div", {"class": "own-check", "role": "status", "data-html": "page.check"}, ""),
        el("ul", {"class": "own-list"}, [_line(file, offered) for file in own]) if own else None,
        _plans("fit.html", "sizing.html"),
    )


def _line(file: OwnFile, drills: list[Drill]) -> Markup:
    return el(
        "li",
        {"data-own": file.file},
        el("strong", {}, file.title),
        el("span", {"class": "soft"}, f"{file.kind}, {file.file}"),
        [el("p", {}, fault) for fault in file.faults],
        _practise(file, drills) if file.kind == "plant" and not file.faults else None,
        shell.button("Remove", {"page": "drop", "file": file.file}, **{"aria-label": f"Remove the file {file.file}"}),
    )


def _practise(plant: OwnFile, drills: list[Drill]) -> list[Markup | None]:
    fitting = [drill for drill in drills if {plant.id, plant.base} & set(drill.plants)]
    options = [("", "Free practice"), *((drill.id, drill.title) for drill in fitting if drill.id not in plant.unfit)]
    left = [f"{drill.title} (no {plant.unfit[drill.id]})" for drill in fitting if drill.id in plant.unfit]
    form = el(
        "form",
        {
            "class": "drill-start",
            "data-page": {"page": "start", "plant": plant.id},
            "aria-label": f"Practise on {plant.title}",
        },
        el(
            "select",
            {"name": "drill", "aria-label": "Drill"},
            [el("option", {"value": value}, word) for value, word in options],
        ),
        el(
            "select",
            {"name": "mode", "aria-label": "Mode"},
            el("option", {"value": "practice"}, "Practice, with the coach"),
            el("option", {"value": "check"}, "Check, without help"),
        ),
        el("button", {"class": "tool tool-strong", "type": "submit"}, "Start"),
    )
    return [form, el("p", {"class": "soft"}, f"Not on this rig: {'; '.join(left)}.") if left else None]


def fitted_section(plants: Sequence[OwnFile], drills: Iterable[Drill], plans: bool) -> Markup | None:
    """One's own rigs with a form each to practise on it, and with ``plans`` the way to the page that fits them."""
    if not plants and not plans:
        return None
    offered = list(drills)
    lines = [
        el(
            "li",
            {"data-own": plant.file},
            el("strong", {}, plant.title),
            el("span", {"class": "soft"}, f"fitted from {plant.base}" if plant.base else plant.file),
            [el("p", {}, fault) for fault in plant.faults],
            None if plant.faults else _practise(plant, offered),
        )
        for plant in plants
    ]
    return el(
        "section",
        {"class": "own", "aria-label": "Your own rigs"},
        el("h2", {}, "Your own rigs"),
        _plans("/fit", "/sizing") if plans else None,
        el("ul", {"class": "own-list"}, lines) if lines else None,
    )


def _plans(fit: str, sheet: str) -> Markup:
    """The ways to the pages of planning, by their addresses."""
    links = [
        el("a", {"class": "tool", "href": to}, word) for to, word in ((fit, "Fit a rig"), (sheet, "Planning sheet"))
    ]
    return el("p", {"class": "own-plans"}, links)


def checking(file: str) -> Markup:
    """While a file is being checked."""
    return el("p", {}, f"Checking {file}…")


def gone(file: str) -> Markup:
    """What the page says after a file of one's own was removed from the list."""
    return el("p", {}, f"{file} was removed.")


def told(file: str, faults: Sequence[str], hints: Sequence[str] = ()) -> Markup:
    """What the check of a file found, every fault with its place; of a file in order, what could be better."""
    if not faults:
        return el(
            "div",
            {},
            el("p", {"class": "own-good"}, f"{file} is in order and in the list now."),
            el("ul", {}, [el("li", {}, f"Could be better: {hint}") for hint in hints]) if hints else None,
        )
    return el(
        "div",
        {"class": "own-bad"},
        el("p", {}, el("strong", {}, f"{file} was not accepted:")),
        el("ul", {}, [el("li", {}, fault) for fault in faults]),
    )
