"""The library of drills: the search, and a row each with where it starts, how it stands, and its form."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence

from trainer import languages, naming
from trainer.console import found_by, shell
from trainer.drawing.markup import Markup, el, hidden
from trainer.drills.schema import Drill
from trainer.learn.courses import Course
from trainer.learn.standing import STATES, DrillStanding, Path

LEVELS = ("beginner", "competent", "advanced")
SUBJECTS = ("Operate and maintain", "Find faults", "Well control")
#: The group in which a drill stands that is a step of a course with this title.
_OF_COURSE = {
    "Operate": SUBJECTS[0],
    "Maintenance": SUBJECTS[0],
    "Back-ups": SUBJECTS[0],
    **{name: name for name in SUBJECTS[1:]},
}
#: Lengths to choose from: what the list says, and at most and from how many minutes.
LENGTHS = (("up to 10 min", 0.0, 10.0), ("10 to 20 min", 10.0, 20.0), ("over 20 min", 20.0, 1e9))
#: Each station as a small picture, drawn once a page and used by name: what a hand meets there.
_PICTURES = {
    "driller": '<rect x="3" y="3" width="50" height="34" rx="4" class="p-box"/>'
    '<circle cx="14" cy="13" r="6" class="p-dial"/><circle cx="30" cy="13" r="6" class="p-dial"/>'
    '<path d="M14 13L18 9M30 13L27 8" class="p-line"/>'
    '<path d="M8 24H21V33H8ZM24 24H37V33H24ZM40 24H49V33H40ZM40 8H49V19H40Z" class="p-key"/>',
    "remote": '<rect x="3" y="3" width="50" height="34" rx="4" class="p-box"/><path d="M8 8H48V14H8Z" class="p-key"/>'
    '<path d="M8 18H21V33H8ZM24 18H37V33H24ZM40 18H49V33H40Z" class="p-key"/>',
    "unit": '<path d="M5 8Q5 3 9.500 3T14 8V37H5ZM17 8Q17 3 21.500 3T26 8V37H17Z" class="p-box"/>'
    '<rect x="30" y="10" width="23" height="27" rx="2" class="p-box"/>'
    '<path d="M36 30L33 16M42 30V16M47 30L51 16" class="p-line"/>',
    "floor": '<path d="M28 2L14 38M28 2L42 38M20 22H36M17 30H39M8 38H48" class="p-line"/>'
    '<path d="M25 9H31V17H25Z" class="p-key"/>',
}


def subject(drill: Drill, courses: Iterable[Course]) -> str:
    """The group of the library in which a drill stands: that of its course, else by what it asks for."""
    for course in courses:
        if drill.id in course.drills and course.title in _OF_COURSE:
            return _OF_COURSE[course.title]
    if drill.well_control:
        return "Well control"
    return "Find faults" if drill.finds_faults else "Operate and maintain"


def library(
    drills: Sequence[Drill],
    path: Path,
    courses: Sequence[Course],
    mine: Collection[str],
    newcomer: bool,
    language: str = languages.ENGLISH,
) -> Markup:
    """The search and every drill by subject, easiest first, folded until it is sought.

    mine: ids of one's own. newcomer: the first run comes before the drill that is advised. language: that of the page;
    drills that have no texts in it are marked.
    """
    member = {name: [course.id for course in courses if name in course.drills] for name in {d.id for d in drills}}
    advised = path.advice.drill if path.advice is not None and not newcomer else ""
    ordered = sorted(drills, key=lambda drill: (drill.id not in mine, LEVELS.index(drill.level), drill.title))

    def row(drill: Drill) -> Markup:
        stands, foreign = path.drills[drill.id], drill.id in unspoken
        return _row(drill, stands, member[drill.id], drill.id in mine, drill.id == advised, foreign, language)

    spoken = languages.spoken_drills(language)
    unspoken = {drill.id for drill in ordered if language != languages.ENGLISH and drill.id not in spoken}
    of = {drill.id: subject(drill, courses) for drill in ordered}
    groups = [(name, found) for name in SUBJECTS if (found := [drill for drill in ordered if of[drill.id] == name])]
    return el(
        "section",
        {"class": "library", "aria-label": "Library of drills", "id": "library"},
        _pictures(),
        shell.narrow("Turn the device before you start a drill."),
        _search(ordered, courses),
        [
            el(
                "details",
                {"class": "choose-section", "data-group": name},
                el(
                    "summary",
                    {"class": "choose-group"},
                    el("h2", {}, name),
                    el("span", {"class": "soft", "data-all": ""}, _counted([path.drills[drill.id] for drill in found])),
                    el("span", {"class": "soft", "data-fits": "", "hidden": "hidden"}, "Found: ", el("span", {}, "")),
                ),
                el("ul", {"class": "drill-rows"}, map(row, found)),
            )
            for name, found in groups
        ],
        el("p", {"class": "library-none", "hidden": "hidden"}, "No drill matches. Clear the search to see all drills."),
    )


def _counted(stands: Sequence[DrillStanding]) -> str:
    """How many drills a group has, and how many of them stand otherwise than never tried."""
    counts = [(state, sum(one.state == state for one in stands)) for state in STATES]
    said = [f"{count} {'due for review' if state == 'due' else state}" for state, count in counts[1:] if count]
    return ", ".join([f"{len(stands)} drill{'s' * (len(stands) != 1)}", *said])


def _pictures() -> Markup:
    symbols = [
        Markup(f'<symbol id="at-{name}" viewBox="0 0 56 40">{drawn}</symbol>') for name, drawn in _PICTURES.items()
    ]
    return el("svg", {"width": 0, "height": 0, "aria-hidden": "true", "class": "at-symbols"}, symbols)


def _pick(title: str, name: str, values: Iterable[tuple[str, str]], rigs: Mapping[str, str] | None = None) -> Markup:
    of = rigs or {}
    options = [el("option", {"value": value, "data-on": of.get(value)}, words) for value, words in values]
    return el("label", {}, f"{title} ", el("select", {"data-find": name}, el("option", {"value": ""}, "any"), options))


def _search(drills: Sequence[Drill], courses: Sequence[Course]) -> Markup:
    """Words to look for and what narrows the list; the browser hides what does not fit."""
    rigs = sorted({rig for drill in drills for rig in drill.plants})
    titles = [(course.id, f"{naming.title(course.rig)}: {course.title}") for course in courses]
    return el(
        "div",
        {"class": "choose-find", "role": "search", "aria-label": "Drills"},
        el("h2", {}, "Drills"),
        el(
            "label",
            {"class": "find-words"},
            "Search drills ",
            el(
                "input",
                {
                    "type": "search",
                    "data-find": "words",
                    "autocomplete": "off",
                    "placeholder": "word, part, fault, learning point",
                },
            ),
        ),
        _pick("Rig", "rig", [(rig, naming.title(rig)) for rig in rigs]),
        _pick("Level", "level", [(level, level.capitalize()) for level in LEVELS]),
        _pick("Length", "length", [(words, words) for words, _, _ in LENGTHS]),
        _pick("State", "stands", [(state, state.capitalize()) for state in STATES]),
        _pick("Course", "course", titles, {course.id: course.rig for course in courses}) if titles else None,
        el(
            "label",
            {"title": "Used where the field of a drill is empty. A check always takes a new variation"},
            "Default variation ",
            el(
                "select",
                {"data-vary": ""},
                el("option", {"value": "surprise"}, "surprise me"),
                el("option", {"value": "same"}, "same as last time"),
            ),
        ),
        el("button", {"class": "tool", "type": "button", "data-find-clear": "", "hidden": "hidden"}, "Clear"),
        el("span", {"class": "soft", "role": "status"}, "Found: ", el("span", {"data-found": ""}, len(drills))),
    )


def _length(minutes: float) -> str:
    return next(words for words, least, most in LENGTHS if least < minutes <= most)


def _row(
    drill: Drill, stands: DrillStanding, courses: Sequence[str], mine: bool, advised: bool, foreign: bool, language: str
) -> Markup:
    at = found_by.station(drill)
    rigs = ", ".join(map(naming.title, drill.plants))
    look = f"drill-state-{stands.state.replace(' ', '-')}"
    return el(
        "li",
        {
            "class": f"drill drill-row{' drill-next' if advised else ''}",
            "data-drill": drill.id,
            "data-words": _sought(drill, language),
            "data-rig": " ".join(drill.plants),
            "data-level": drill.level,
            "data-length": _length(drill.minutes),
            "data-stands": stands.state,
            "data-course": " ".join(courses),
        },
        el(
            "svg",
            {"class": "at", "role": "img", "aria-label": f"Starts at: {naming.STATIONS[at]}", "viewBox": "0 0 56 40"},
            el("use", {"href": f"#at-{at}"}),
        ),
        el(
            "div",
            {"class": "drill-what"},
            el("h3", {}, drill.title),
            el(
                "details",
                {"class": "drill-learning"},
                el("summary", {}, "Learning points"),
                el("ul", {"class": "learning"}, [el("li", {}, line) for line in drill.learning]),
            ),
            el("p", {}, drill.purpose),
        ),
        el(
            "p",
            {"class": "drill-facts"},
            el("strong", {}, "Your own · ") if mine else None,
            el("strong", {}, "in English · ") if foreign else None,
            hidden("Your next step. ") if advised else None,
            f"{drill.level.capitalize()} · {drill.minutes:g} min",
            el("span", {"class": "drill-rig"}, rigs),
            el("span", {"class": f"drill-state {look}"}, _stands(stands)),
        ),
        _start(drill),
    )


def _sought(drill: Drill, language: str) -> str:
    """The words of a drill, and those for them that the language has."""
    known, words = found_by.words(drill), languages.words(language)
    if words is None:
        return known
    said = (words.whole(word) or words.whole(word.capitalize()) for word in known.split())
    return " ".join(dict.fromkeys((known, *(naming.sought(one) for one in said if one))))


def _stands(stands: DrillStanding) -> str:
    said: Mapping[str, str] = {
        "never tried": "Never tried",
        "tried": f"Tried, best {stands.best:.0f}",
        "passed": f"Passed, best {stands.best:.0f}",
        "due": f"Due for review, best {stands.best:.0f}",
    }
    return said[stands.state]


def _rig(drill: Drill) -> Markup:
    """The choice among the rigs of a drill; the page chooses the rig that is sought, or that of the sought course."""
    options = [el("option", {"value": rig}, naming.title(rig)) for rig in drill.plants]
    return el("label", {}, "Rig ", el("select", {"name": "plant"}, options))


def _start(drill: Drill) -> Markup:
    field = f"seed-{drill.id}"
    return el(
        "form",
        {"class": "drill-start", "data-page": {"page": "start", "drill": drill.id}, "aria-label": drill.title},
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
        _rig(drill) if len(drill.plants) > 1 else None,
        el(
            "label",
            {"for": field},
            "Variation ",
            el(
                "input",
                {
                    "id": field,
                    "name": "seed",
                    "placeholder": "surprise me",
                    "inputmode": "numeric",
                    "maxlength": 10,
                    "title": "A whole number: same number, same variation",
                },
            ),
        ),
        el("button", {"class": "tool tool-strong", "type": "submit"}, "Start"),
    )
