"""The first page: the one step to do next, the courses, and the library of drills."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from trainer import languages, naming, resources, units
from trainer.console import about, finder, path_view, shell
from trainer.console import own as own_files
from trainer.console.kept import KEPT, KEPT_LEARNT
from trainer.drawing.markup import Markup, el
from trainer.drills.schema import Drill
from trainer.learn.standing import Path

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
    drills: Sequence[Drill],
    path: Path,
    newcomer: bool = True,
    own: Sequence[own_files.OwnFile] | None = None,
    fitted: Callable[[], Sequence[own_files.OwnFile]] | None = None,
    plans: bool = True,
    system: units.System = "field",
    language: str = languages.ENGLISH,
    crews: Markup | None = None,
    what_is: Callable[[str], str] = lambda rig: "",
) -> Markup:
    """The next step beside the courses, then every drill, each with its own form to start it.

    path: where the person stands. newcomer: whether nothing was done here before. own: files of the person's own among
    the drills, where the edition takes some in. fitted: the plants fitted to one's own rigs, where the edition has the
    page for it; plans: the way to that page is shown. system: the units now chosen. language: that of the page.
    crews: the drills for several people, where a class has them. what_is: says of a rig, by its id, what kind it is.
    """
    fits = fitted() if fitted is not None else ()
    rigs = own_files.fitted_section(fits, drills, plans) if fitted is not None else None
    # Who has fitted a rig comes for it; others find the way to fit one below the drills.
    mine_first = rigs if fits else None
    mine = {file.id for file in own or () if file.kind == "drill"}
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
                _languages(language),
                about.key("chooser"),
            ),
            _draft(language),
        ),
        el("p", {"class": "choose-status", "role": "alert", "data-text": "page.status"}, ""),
        el("div", {"class": "choose-crews", "aria-live": "polite", "data-html": "page.crews"}, "") if crews else None,
        el(
            "div",
            {"class": "choose-top"},
            el(
                "div",
                {"class": "choose-now"},
                path_view.next_step(path, {drill.id: drill for drill in drills}, newcomer),
                el("ul", {"class": "choose-list"}, _learn(path), _free()),
            ),
            path_view.courses(path, what_is),
        ),
        mine_first,
        finder.library(drills, path, [each.course for each in path.courses], mine, newcomer, language),
        crews,
        own_files.section(own, drills) if own is not None else None,
        None if mine_first else rigs,
        el("p", {"class": "safety"}, shell.SAFETY),
    )


def _draft(language: str) -> Markup | None:
    """That a language is a draft yet, and English one press away."""
    said = languages.languages()[language].draft
    english = {"page": "language", "value": languages.ENGLISH}
    key = shell.button("English", english, "tool")
    return el("p", {"class": "choose-draft", "role": "note"}, said, " ", key) if said else None


def _languages(chosen: str) -> Markup | None:
    """The languages to choose from, each by its own name."""
    known = languages.languages()
    if len(known) < 2:
        return None
    options = [
        el("option", {"value": one.id, "lang": one.id, "selected": "selected" if one.id == chosen else None}, one.name)
        for one in known.values()
    ]
    return el(
        "select", {"class": "choose-language", "data-choose": {"page": "language"}, "aria-label": "Language"}, options
    )


def _free() -> Markup:
    return el(
        "li",
        {"class": "tile"},
        el("h3", {}, "Free practice"),
        el("p", {"class": "fill"}, "Operate every station of Quillback while it drills. No score, no time limit."),
        el(
            "form",
            {"class": "drill-start", "data-page": {"page": "start"}, "aria-label": "Free practice"},
            el("button", {"class": "tool", "type": "submit"}, "Start"),
        ),
    )


def _learn(path: Path) -> Markup:
    rig_names = [(plant, naming.title(plant)) for plant in resources.plant_files()]
    rigs = [
        shell.button(
            words,
            {"page": "learn", "plant": plant},
            "tool",
            data_recall=f"{KEPT_LEARNT}{plant}",
            aria_label=f"Learn the parts of {words}",
        )
        for plant, words in rig_names
    ]
    due = [f"{count} of {naming.title(rig)}" for rig, count in path.parts_due.items() if count]
    said = f"Questions due for review: {', '.join(due)}." if due else ""
    return el(
        "li",
        {"class": "tile"},
        el("h3", {}, "Learn the parts"),
        el("p", {"class": "fill"}, "Follow the fluid, look parts up, and answer questions. What you miss comes back."),
        el("p", {}, el("strong", {}, said)) if said else None,
        el("div", {"class": "drill-start"}, rigs),
    )
