"""The planning sheet as lines for a terminal, as one HTML file and on paper."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path

from trainer import resources
from trainer.drawing.markup import Markup, el
from trainer.planning import sensitivity
from trainer.planning.errors import PlanningError
from trainer.planning.sizing import Sheet, sizing
from trainer.planning.work import Row
from trainer.plant.rig import load_plant
from trainer.units import System, from_unit, show

SAFETY = (
    "A training aid on a simplified model: representative figures, no certification, and no substitute for the "
    "equipment maker's manual, the rig's own procedures, local regulations or licensed practice."
)
DEFAULT_PLANT = "quillback"
NAMES = 58


def make(plant: str | None, rule_set: str | None) -> Sheet:
    """The sheet of a shipped plant; PlanningError when there is no such rule set, PlantError no such plant."""
    declared, _ = load_plant(plant or DEFAULT_PLANT)
    try:
        return sizing(declared, rule_set, engine=True)
    except ValueError as error:
        raise PlanningError(str(error)) from error


def shown(row: Row, system: System = "field") -> str:
    """A row's value as text with its unit; a time without end says so."""
    if not math.isfinite(row.value):
        return "never"
    if row.unit == "1" and row.value == round(row.value):
        return f"{row.value:.0f}"
    return show(from_unit(row.value, row.unit), row.unit, system)


def lines(sheet: Sheet) -> list[str]:
    """The sheet for a terminal: figures, then verdicts."""
    found = [f"Planning sheet of {sheet.plant}, rule set {sheet.rule_set}", ""]
    for row in sheet.rows:
        name = row.name if len(row.name) <= NAMES else row.name[: NAMES - 1] + "…"
        found.append(f"{name:<{NAMES}} {shown(row):>14}  {row.method} ({row.source})")
    found += ["", "What matters for the usable fluid (real gas, drawn fast)"]
    found += [f"  {line}" for line in sensitivity.lines(sheet.described)]
    found += ["", "Rules"]
    for verdict in sheet.verdicts:
        mark = "met    " if verdict.ok else "NOT MET"
        found.append(f"{mark}  {verdict.title}: {verdict.computed}, required {verdict.required} ({verdict.source})")
    return [*found, "", SAFETY]


def content(sheet: Sheet, system: System = "field") -> list[Markup]:
    """What the sheet says, for a page of any kind."""
    figures = [(r.name, shown(r, system), r.method, r.source) for r in sheet.rows]
    verdicts = [(("met" if v.ok else "NOT MET"), v.title, v.required, v.computed, v.source) for v in sheet.verdicts]
    return [
        el("p", {}, f"Rule set: {sheet.rule_set}"),
        el("h2", {}, "Rules"),
        table(("Verdict", "Rule", "Required", "Computed", "Source"), verdicts),
        el("h2", {}, "What matters for the usable fluid"),
        el("p", {}, "Usable fluid, real gas drawn fast, when one thing is less (upper bar) or more (lower bar)."),
        sensitivity.plot(sheet.described, system),
        el("h2", {}, "Figures"),
        table(("What", "Value", "Method", "Source"), figures),
        el("p", {"class": "soft"}, SAFETY),
    ]


def html(sheet: Sheet, system: System = "field") -> str:
    """The sheet as one HTML file that needs nothing else."""
    body = el("body", {}, el("h1", {}, f"Planning sheet: {sheet.plant}"), content(sheet, system))
    css = (resources.assets() / "style" / "report.css").read_text("utf-8")
    title = el("title", {}, f"Planning sheet: {sheet.plant}")
    opened = f'<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">{title}<style>{css}</style></head>'
    return f"{opened}{body}</html>\n"


def table(head: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> Markup:
    """A table with a head; everything in it is escaped."""
    return el(
        "table",
        {},
        el("thead", {}, el("tr", {}, [el("th", {"scope": "col"}, word) for word in head])),
        el("tbody", {}, [el("tr", {}, [el("td", {}, cell) for cell in row]) for row in rows]),
    )


def pdf(sheet: Sheet, system: System = "field") -> bytes:
    """The sheet as a PDF document; the same sheet gives the same bytes."""
    from trainer.reports.paper import Paper

    paper = Paper(f"Planning sheet: {sheet.plant}, rule set {sheet.rule_set}")
    paper.set_creation_date(datetime(2000, 1, 1, tzinfo=UTC))
    paper.set_title(paper.plain(f"Planning sheet: {sheet.plant}"))
    paper.add_page()
    paper.line_of(f"Planning sheet: {sheet.plant}", 18, bold=True)
    paper.title_of("Rules")
    paper.rows(
        ("Verdict", "Rule", "Required", "Computed", "Source"),
        [(("met" if v.ok else "NOT MET"), v.title, v.required, v.computed, v.source) for v in sheet.verdicts],
        (8, 32, 16, 12, 32),
    )
    paper.title_of("What matters for the usable fluid (real gas, drawn fast)")
    for line in sensitivity.lines(sheet.described):
        paper.line_of(line, 9)
    paper.title_of("Figures")
    paper.rows(
        ("What", "Value", "Method", "Source"),
        [(r.name, shown(r, system), r.method, r.source) for r in sheet.rows],
        (34, 14, 26, 26),
    )
    paper.ln(3)
    paper.line_of(SAFETY, 7.5)
    return bytes(paper.output())


def write(sheet: Sheet, output: Path) -> str:
    """Write the sheet, PDF or HTML by the name's ending; PlanningError when that cannot be done."""
    kinds: dict[str, Callable[[Sheet], bytes]] = {".pdf": pdf, ".html": lambda s: html(s).encode("utf-8")}
    kind = kinds.get(output.suffix.lower())
    if kind is None:
        raise PlanningError(f"{output}: a planning sheet ends in .pdf or .html")
    try:
        output.write_bytes(kind(sheet))
    except OSError as error:
        raise PlanningError(f"{output}: cannot be written: {error.strerror or error}") from error
    failed = [verdict for verdict in sheet.verdicts if not verdict.ok]
    return f"{output}: {sheet.plant}, {len(sheet.verdicts) - len(failed)} of {len(sheet.verdicts)} rules met"
