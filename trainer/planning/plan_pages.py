"""What stands on the two pages of planning, with a server and without: the page that fits a rig, the planning sheet.

Both ask the same questions (``answer``): of the server, or of Python in the browser.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence

from trainer import resources, toml
from trainer.drawing import forms
from trainer.drawing.markup import Markup, el
from trainer.planning import fit_page
from trainer.planning.draft import Draft
from trainer.planning.errors import PlanningError
from trainer.plant.rig import PlantError, plant_path

RULES = "rules"
CHOSEN = ("plant", "rules", "units", "prepared", "checked")
"""What a planning sheet is asked by."""
NAME = 60
"""Letters that a name may have."""
DEFAULT = "quillback"
FIT, SHEET = "Fit it to your rig", "Planning sheet"
Save = Callable[[Draft], str]
"""Keeps a draft and gives its file's name; PlanningError while the plant has faults."""


def own() -> dict[str, str]:
    """Return the titles of the plants of one's own by their ids; the ids are the files' names."""
    shipped = {path.stem for path in resources.plants().glob("*.toml")}
    return {name: _called(name) for name in sorted(resources.plant_files()) if name not in shipped}


def _called(plant: str) -> str:
    """The title in a plant's file; its id where there is none to read."""
    try:
        return str(toml.loads(plant_path(plant).read_text("utf-8"))["title"])
    except (OSError, ValueError, KeyError, PlantError):
        return plant


def fit(base: str, home: str, sheet: str) -> list[Markup]:
    """The content of the page that fits a rig from the plant ``base``; all else comes by its script.

    home: the address of the first page. sheet: that of the planning sheet, up to the id of a plant.
    """
    plants, mine = sorted(resources.plant_files()), own()
    board = [el("option", {"value": name}, word) for name, word in fit_page.BOARDS.items()]
    head = el(
        "form",
        {
            "id": "fit-head",
            "aria-label": "Your rig",
            "data-own": json.dumps(mine),
            "data-home": home,
            "data-sheet": sheet,
        },
        forms.choice("base", "Begin from", [(name, mine.get(name, name.capitalize())) for name in plants], base),
        forms.field("id", "Id of your rig", value=base if base in mine else "my_rig", maxlength=40, autocomplete="off"),
        forms.field("title", "Its name", value=mine.get(base, "My rig"), maxlength=60, autocomplete="off"),
        el("button", {"type": "submit"}, "Save the plant file"),
        el("button", {"type": "button", "id": "fit-undo"}, "Undo"),
    )
    seen = el(
        "section",
        {"class": "fit-seen", "aria-label": "Preview"},
        el("div", {"id": "fit-told", "role": "status"}),
        el("div", {"id": "fit-faults", "role": "status", "aria-label": "What is wrong"}),
        el("p", {"id": "fit-stale", "class": "soft"}, "Checking…"),
        el("label", {}, el("span", {}, "Preview"), el("select", {"id": "fit-board"}, board)),
        el("div", {"class": "fit-frame"}, el("iframe", {"id": "fit-drawing", "title": "The rig", "sandbox": ""})),
        el("p", {}, "Nothing runs here: gauges stand amid their normal bands, the rest where a run would begin."),
        el("h2", {}, "Differences from the base"),
        el("ul", {"id": "fit-differences"}),
        el("h2", {}, "Drills"),
        el("button", {"type": "button", "id": "fit-ask-drills"}, "Which drills suit it?"),
        el("button", {"type": "button", "id": "fit-try-all", "hidden": "hidden"}, "Try all"),
        el(
            "p",
            {},
            "A drill suits when its reference run passes on your rig: it waits for your rig's events and "
            "reads your rig's gauges.",
        ),
        el("ul", {"id": "fit-drills"}),
    )
    return [
        el(
            "p",
            {},
            "Every change is checked as you type, and drawn at once. Nothing is kept until you save it. "
            "Planning figures: ",
            el("a", {"href": sheet.partition("?")[0]}, "planning sheet"),
            ".",
        ),
        el(
            "p",
            {},
            "A value in italics was not given for your rig: it stands as in the invented rig you began from, and "
            "the planning sheet says so. Where it is your rig's own value too, press Enter in its field.",
        ),
        head,
        el("div", {"class": "fit"}, el("section", {"id": "fit-form", "aria-label": "Values"}), seen),
    ]


def sheet_form(chosen: Sequence[str], action: str) -> Markup:
    """The form that asks for a planning sheet, sent to the address ``action``; chosen: values for ``CHOSEN``."""
    plant, rules, units, prepared, checked = chosen
    mine = own()
    plants = [(name, mine.get(name, name.capitalize())) for name in sorted(resources.plant_files())]
    sets = sorted(path.stem for path in (resources.assets() / RULES).glob("*.toml"))
    return el(
        "form",
        {"id": "sheet-form", "method": "get", "action": action, "aria-label": "Which sheet"},
        forms.choice("plant", "Plant", plants, plant),
        forms.choice("rules", "Rules", [("", "Those of its stack"), *((s, s.capitalize()) for s in sets)], rules),
        forms.choice("units", "Units", [("field", "Field"), ("metric", "Metric")], units),
        forms.field("prepared", "Prepared by", value=prepared, maxlength=NAME, autocomplete="off"),
        forms.field("checked", "Checked by", value=checked, maxlength=NAME, autocomplete="off"),
        el("button", {"type": "submit"}, "Work it out"),
    )


def answer(what: str, words: Mapping[str, str], orders: Sequence[object], save: Save) -> dict[str, object]:
    """Plain data that answers the question ``what``: form, check, drills, try or save; ``wrong`` in it says why not."""
    try:
        draft = fit_page.drafted(words["base"], words["id"], words["title"], orders)
        if what == "form":
            return {"form": str(fit_page.form(draft)), **fit_page.state(draft, words["board"], words["theme"])}
        if what in ("drills", "try"):
            return {"drills": fit_page.drills(draft, words["drill"] if what == "try" else "")}
        if what == "save":
            if not words["id"]:
                return {"wrong": "Give your rig an id, such as my_rig."}
            return {"saved": f"Saved as {save(draft)}. Choose it under your own rigs and run a drill on it."}
        return fit_page.state(draft, words["board"], words["theme"])
    except (PlanningError, PlantError) as error:
        return {"wrong": str(error)}
