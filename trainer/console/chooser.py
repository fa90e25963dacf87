"""The first page: which drill, practice or check, and what it teaches."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence

from trainer import naming, resources, units
from trainer.console import guided, shell
from trainer.console import own as own_files
from trainer.console.kept import KEPT, KEPT_LEARNT
from trainer.drawing.markup import Markup, el
from trainer.drills.schema import Drill

LEVELS = ("beginner", "competent", "advanced")
SUBJECTS = ("Operate and look after", "Find faults", "Well control")
FIRST = "follow-the-fluid"
"""The drill that stands under "Start here"."""
SEED_LIMIT = 2**31


def seed_of(text: str) -> int:
    """The number of a variation as typed; ValueError says what it is."""
    try:
        seed = int(text.strip())
    except ValueError:
        raise ValueError(
            "The variation is a whole number, such as 7: the same number gives the same variation."
        ) from None
    if not 0 <= seed < SEED_LIMIT:
        raise ValueError(f"The variation is a whole number from 0 to {SEED_LIMIT - 1}.")
    return seed


def page(
    drills: Iterable[Drill],
    own: Sequence[own_files.OwnFile] | None = None,
    fitted: Callable[[], Sequence[own_files.OwnFile]] | None = None,
    plans: bool = True,
    system: units.System = "field",
) -> Markup:
    """Where to start, then every drill by subject, easiest first, each with its own form to start it.

    own: files of the person's own among them, where the edition takes some in. fitted: the plants fitted to one's own
    rigs, where the edition has the page for it; plans: the way to that page is shown. system: the units now chosen.
    """
    mine = {file.id for file in own or () if file.kind == "drill"}
    ordered = sorted(drills, key=lambda drill: (drill.id not in mine, LEVELS.index(drill.level), drill.title))
    return el(
        "div",
        {"class": "choose"},
        el(
            "header",
            {"class": "choose-head"},
            el("h1", {}, "Well control panel trainer"),
            el(
                "p",
                {},
                "Operate the hydraulic control system of the blowout preventers, watch it respond, and get a score "
                "that anyone can verify.",
            ),
            el(
                "div",
                {"class": "choose-tools"},
                shell.button("Progress", {"page": "progress"}, "tool", data_recall=KEPT),
                shell.button("Metric" if system == "field" else "Field", {"page": "units"}, title="Change units"),
                el("button", {"class": "tool", "type": "button", "data-theme-switch": ""}, "Theme"),
            ),
        ),
        el("p", {"class": "choose-status", "role": "alert", "data-text": "page.status"}, ""),
        guided.way_in(),
        el("ul", {"class": "choose-list"}, _learn(), [_card(d, False) for d in ordered if d.id == FIRST], _free()),
        _finder(ordered),
        [_group(name, [d for d in ordered if subject(d) == name], mine) for name in SUBJECTS],
        own_files.section(own, ordered) if own is not None else None,
        own_files.fitted_section(fitted(), ordered, plans) if fitted is not None else None,
        el("p", {"class": "safety"}, shell.SAFETY),
    )


def subject(drill: Drill) -> str:
    """The group of the list in which a drill stands."""
    if drill.well_control:
        return "Well control"
    return "Find faults" if drill.finds_faults else "Operate and look after"


def _finder(drills: Sequence[Drill]) -> Markup:
    """Words to look for, and the rig and the level; the browser hides what does not fit."""
    rigs = sorted({rig for drill in drills for rig in drill.plants})

    def pick(title: str, name: str, values: Iterable[str]) -> Markup:
        options = [el("option", {"value": value}, naming.title(value)) for value in values]
        return el(
            "label", {}, f"{title} ", el("select", {"data-find": name}, el("option", {"value": ""}, "All"), options)
        )

    return el(
        "div",
        {"class": "choose-find", "role": "search", "aria-label": "Drills"},
        el("label", {}, "Search drills ", el("input", {"type": "search", "data-find": "words", "autocomplete": "off"})),
        pick("Rig", "rig", rigs),
        pick("Level", "level", LEVELS),
        el("span", {"class": "soft", "role": "status", "data-found": ""}, f"{len(drills)} drills"),
    )


def _group(name: str, drills: Sequence[Drill], mine: Collection[str]) -> Markup | None:
    if not drills:
        return None
    return el(
        "section",
        {"class": "choose-section", "aria-label": name},
        el("h2", {"class": "choose-group"}, name),
        el("ul", {"class": "choose-list"}, [_card(drill, drill.id in mine) for drill in drills if drill.id != FIRST]),
    )


def _card(drill: Drill, mine: bool) -> Markup:
    field = f"seed-{drill.id}"
    words = " ".join((drill.id, drill.title, drill.purpose, *drill.learning, drill.level, *drill.plants)).lower()
    return el(
        "li",
        {
            "class": "drill",
            "data-words": words.replace("-", " "),
            "data-rig": " ".join(drill.plants),
            "data-level": drill.level,
        },
        el("h3", {}, drill.title),
        el(
            "p",
            {"class": "drill-facts"},
            el("strong", {}, "Your own · ") if mine else None,
            f"{drill.level.capitalize()} · {drill.minutes:g} min · rig {', '.join(map(naming.title, drill.plants))}",
        ),
        el("p", {"class": "fill"}, drill.purpose),
        el(
            "details",
            {"class": "drill-learning"},
            el("summary", {}, "You will learn to"),
            el("ul", {"class": "learning"}, [el("li", {}, line) for line in drill.learning]),
        ),
        el(
            "form",
            {
                "class": "drill-start",
                "data-page": {"page": "start", "drill": drill.id},
                "aria-label": drill.title,
            },
            el(
                "label",
                {},
                "Mode ",
                el(
                    "select",
                    {"name": "mode"},
                    el("option", {"value": "practice"}, "Practice, with the coach"),
                    el("option", {"value": "check"}, "Check, without help"),
                ),
            ),
            el(
                "label",
                {"for": field},
                "Variation ",
                el(
                    "input",
                    {
                        "id": field,
                        "name": "seed",
                        "placeholder": "auto",
                        "inputmode": "numeric",
                        "maxlength": 10,
                        "title": "Same number, same variation. Left empty: 0 in practice, a new one in a check",
                    },
                ),
            ),
            el("button", {"class": "tool tool-strong", "type": "submit"}, "Start"),
        ),
    )


def _free() -> Markup:
    return el(
        "li",
        {"class": "drill"},
        el("h3", {}, "Free practice"),
        el("p", {"class": "drill-facts"}, "No score, no time limit"),
        el(
            "p",
            {"class": "fill"},
            "Operate every station of Quillback while it drills, and see what it does.",
        ),
        el(
            "form",
            {"class": "drill-start", "data-page": {"page": "start"}, "aria-label": "Free practice"},
            el("button", {"class": "tool tool-strong", "type": "submit"}, "Start"),
        ),
    )


def _learn() -> Markup:
    rig_names = [(plant, naming.title(plant)) for plant in resources.plant_files()]
    rigs = [
        shell.button(
            words,
            {"page": "learn", "plant": plant},
            "tool tool-strong",
            data_recall=f"{KEPT_LEARNT}{plant}",
            aria_label=f"Learn the parts of {words}",
        )
        for plant, words in rig_names
    ]
    return el(
        "li",
        {"class": "drill"},
        el("h3", {}, "Learn the parts"),
        el("p", {"class": "drill-facts"}, "At your own pace, on the drawing of a rig"),
        el(
            "p",
            {"class": "fill"},
            "Follow the fluid from the water inlet to the preventers, look parts up, and answer questions: "
            "point to it, name it, trace what feeds it. What you miss comes back.",
        ),
        el("div", {"class": "drill-start"}, rigs),
    )
