"""The planning sheet as lines for a terminal, as one HTML file and as CSV; on paper see ``sheet_paper``."""

from __future__ import annotations

import csv
import io
import math
from dataclasses import replace
from datetime import UTC, datetime

from trainer import resources
from trainer.drawing.markup import Markup, el, plain_table
from trainer.planning import doubt, sensitivity, sweep
from trainer.planning.errors import PlanningError
from trainer.planning.origin import Origin, origin
from trainer.planning.sizing import Sheet, recharges, sizing
from trainer.planning.work import Row
from trainer.plant.rig import load_plant, plant_path
from trainer.units import System, from_unit, show
from trainer.version import __version__

SAFETY = (
    "A training aid on a simplified model: representative figures, no certification, and no substitute for the "
    "manufacturer's manual, the rig's own procedures, local regulations or licensed practice."
)
NOT_SHOWN = (
    'A rule is "met" only where the margin is larger than the uncertainty. "Not shown": the margin is smaller than '
    "what the figure may be off, so the sheet does not prove the rule. Where a source leaves the method open, "
    "the least favorable method is used."
)
KINDS = (
    "Kinds of source. Published: a text that is named. Common practice: what the trade does, not one text. "
    "Manufacturer's figure: from the papers of the equipment or the rig, as the plant file has it, or a sum of such; "
    "it is as good as what was typed. From a base rig, not given: no one gave it for this rig; it stands as in the "
    "invented rig that the file was fitted from. Assumption: chosen here, to be replaced by what is known of the rig. "
    "This model: computed by the running plant."
)
DEFAULT_PLANT = "quillback"
NAMES = 58
PLAIN = Origin()
LINED_UP = "All closed, one valve open"
LINE = "______________________________"


def make(plant: str | None, rule_set: str | None, engine: bool = True) -> Sheet:
    """The sheet of a plant by id, times by the engine or, without, by an estimate.

    PlanningError for no such rule set, PlantError for no plant.
    """
    name = plant or DEFAULT_PLANT
    declared, plant_hash = load_plant(name)
    where = origin(plant_path(name).read_text("utf-8"))
    try:
        return replace(sizing(declared, rule_set, engine=engine, plant_hash=plant_hash), origin=where)
    except ValueError as error:
        raise PlanningError(str(error)) from error


def signed(sheet: Sheet, prepared: str, checked: str) -> Sheet:
    """The sheet with the names of who prepared and who checked it; what was worked out for it goes along."""
    named = replace(sheet, prepared=prepared, checked=checked)
    named.__dict__["others"] = others(sheet)
    return named


def title_block(sheet: Sheet, date: str) -> list[tuple[str, str]]:
    """What says which rig, file and version the document is about; names, or lines for them, and lines to sign on."""
    plant = sheet.described
    return [
        ("Rig", f"{plant.title}. {plant.rig}"),
        *based(sheet),
        *([("Note", plant.note)] if plant.note else []),
        ("Plant file", f"{plant.id}.toml, SHA-256 {sheet.plant_hash[:16] or 'none: the plant is in no file'}"),
        ("Rule set", sheet.rule_set),
        ("Computed with", f"trainer {__version__}"),
        ("Date", date),
        ("Revision", LINE),
        ("Prepared by", sheet.prepared or LINE),
        ("Signature and date", LINE),
        ("Checked by", sheet.checked or LINE),
        ("Signature and date, checked", LINE),
    ]


def based(sheet: Sheet) -> list[tuple[str, str]]:
    """Of a fitted rig the base it was fitted from, and how much of it was given; nothing for others."""
    if not sheet.origin.base:
        return []
    own, whole = sheet.origin.counted()
    return [
        (
            "Fitted from",
            f"{sheet.origin.base}, an invented rig. {own} of {whole} values that planning reads were given for this "
            f'rig; the others stand as in {sheet.origin.base} (see "Input values").',
        )
    ]


def inputs_head(sheet: Sheet) -> tuple[str, ...]:
    """The head over the input values: a column more where the rig was fitted from another one."""
    base = sheet.origin.base
    left = ("Given for this rig", f"From {base}, not given") if base else ("In the plant file",)
    return ("Part", *left, "In no file: assumed here")


def inputs(sheet: Sheet) -> list[tuple[str, ...]]:
    """The values that planning reads, a row a part, under ``inputs_head``."""
    return [row if sheet.origin.base else (row[0], row[1], row[3]) for row in sheet.origin.inputs()]


def answer(sheet: Sheet) -> str:
    """In a line, what is left when everything has closed and one choke or kill valve has opened; empty without one."""
    left = [row for row in sheet.rows if row.name.startswith(LINED_UP)]
    if not left:
        return ""
    told = [f"{row.name.removeprefix(LINED_UP).removeprefix(', ') or 'all banks'} {shown(row)}" for row in left]
    return (
        "Everything closed and one choke or kill valve opened, pumps off, drawn at once, leaves over the precharge: "
        f"{'; '.join(told)}. The rule on the reserve asks 200 psi over the precharge."
    )


def marked(row: Row, where: Origin = PLAIN) -> str:
    """What kind of source a row rests on, one of those that ``KINDS`` tells; ``where`` its plant file's values are
    from."""
    text = f"{row.source} {row.method}".lower()
    if "assumption" in text or "estimate" in text:
        return "assumption"
    if "memory" in text or "common practice" in text:
        return "common practice"
    if "engine" in text or "running plant" in text:
        return "this model"
    if "plant file" in text:
        return where.kind(row.places) or "manufacturer's figure"
    return "published"


def shown(row: Row, system: System = "field") -> str:
    """A row's value as text with its unit; a time without end says so."""
    if not math.isfinite(row.value):
        return "never"
    if row.unit == "1" and row.value == round(row.value):
        return f"{row.value:.0f}"
    return show(from_unit(row.value, row.unit), row.unit, system)


def lines(sheet: Sheet) -> list[str]:
    """The sheet as lines for a terminal: results first, the worst on top, then what they rest on."""
    found = [f"Planning sheet of {sheet.plant}, rule set {sheet.rule_set}: {sheet.summary}", ""]
    found += [f"{name}: {told}" for name, told in based(sheet)]
    for result in sheet.verdicts:
        found.append(f"{result.outcome:<9}  {result.title}: {result.computed}, required {result.required}; "
                     f"margin {result.margin}, uncertainty {result.uncertainty}; {result.method} "
                     f"({result.source})")  # fmt: skip
    found += ["", NOT_SHOWN, SAFETY, "", "Other conditions", sweep.TOLD]
    found += [
        f"{result:<9}  {name}: {over} over precharge, usable over closing {share}"
        for name, over, share, result in sweep.rows(others(sheet), sheet.doubts)
    ]
    found += ["", "Pumps out of service", sweep.PUMPS_TOLD]
    found += [
        f"{result:<9}  {name}: charged in {time}, allowed {allowed}"
        for name, time, allowed, result in sweep.pump_rows(recharges(sheet.described), sheet.doubts)
    ]
    found += ["", "Figures"]
    for row in sheet.rows:
        name = row.name if len(row.name) <= NAMES else row.name[: NAMES - 1] + "…"
        found.append(f"{name:<{NAMES}} {shown(row):>14}  {row.method} ({row.source})")
    found += ["", "What matters for the usable fluid (real gas, drawn fast)"]
    found += [f"  {line}" for line in sensitivity.lines(sheet.described)]
    return [*found, "", KINDS, f"Uncertainty: {doubt.BASIS}."]


HEAD = ("Result", "Rule", "Required", "Computed", "Margin", "Uncertainty", "Method", "Source")


def results(sheet: Sheet) -> list[tuple[str, ...]]:
    """The rules as rows under ``HEAD``, the worst first: texts, with their units in them."""
    return [
        (v.outcome, v.title, v.required, v.computed, v.margin, v.uncertainty, v.method, v.source)
        for v in sheet.verdicts
    ]


def figures(sheet: Sheet, system: System) -> list[tuple[str, ...]]:
    """Every figure with its value, method, source and kind of source."""
    return [(r.name, shown(r, system), r.method, r.source, marked(r, sheet.origin)) for r in sheet.rows]


def content(sheet: Sheet, system: System = "field", date: str = "") -> list[Markup]:
    """What the sheet says, for a page of any kind: title block, results, limits, then what they rest on."""
    return [
        plain_table(("Document", ""), title_block(sheet, date or today())),
        el("h2", {}, f"Results: {sheet.summary}"),
        *([el("p", {}, el("strong", {}, told))] if (told := answer(sheet)) else []),
        plain_table(HEAD, results(sheet)),
        el("p", {}, NOT_SHOWN),
        el("p", {"class": "soft"}, SAFETY),
        el("h2", {}, "What matters for the usable fluid"),
        el("p", {}, "Usable fluid, real gas drawn fast, when one thing is less (upper bar) or more (lower bar)."),
        sensitivity.plot(sheet.described, system),
        *sweep_content(sheet, system),
        el("h2", {}, "Figures"),
        el("p", {}, KINDS),
        plain_table(("What", "Value", "Method", "Source", "Kind of source"), figures(sheet, system)),
        el("h2", {}, "Input values"),
        plain_table(inputs_head(sheet), inputs(sheet)),
        el("h2", {}, "Basis of the uncertainties"),
        el("p", {}, doubt.BASIS),
    ]


def others(sheet: Sheet) -> list[tuple[str, sweep.Left]]:
    """The sheet's rig under other conditions; worked out once for a sheet."""
    kept: list[tuple[str, sweep.Left]] | None = sheet.__dict__.get("others")
    if kept is None:
        kept = sheet.__dict__["others"] = sweep.swept(sheet.described)
    return kept


def sweep_content(sheet: Sheet, system: System) -> list[Markup]:
    """The sweeps as pictures and tables: what is left when depth, weather, age, bottles or pumps differ."""
    found, charged = others(sheet), recharges(sheet.described)
    return [
        el("h2", {}, "Other conditions"),
        el("p", {}, sweep.TOLD),
        sweep.plot(sweep.pressure_picture(found, sheet.doubts, system)),
        plain_table(sweep.HEAD, sweep.rows(found, sheet.doubts, system)),
        el("h2", {}, "Pumps out of service"),
        el("p", {}, sweep.PUMPS_TOLD),
        sweep.plot(sweep.pump_picture(charged, sheet.doubts)),
        plain_table(sweep.PUMPS_HEAD, sweep.pump_rows(charged, sheet.doubts)),
    ]


def today() -> str:
    """Today's date by UTC in ISO 8601, year first, which no country reads the other way round."""
    return datetime.now(UTC).date().isoformat()


def html(sheet: Sheet, system: System = "field") -> str:
    """The sheet as one HTML file that needs nothing else: style and the CSV to download are in it."""
    from urllib.parse import quote

    as_csv = {
        "download": f"planning-{sheet.plant}.csv",
        "href": f"data:text/csv;charset=utf-8,{quote(table_csv(sheet))}",
    }
    head = [el("h1", {}, f"Planning sheet: {sheet.plant}"), el("p", {}, el("a", as_csv, "As CSV"))]
    body = el("body", {}, head, content(sheet, system))
    css = (resources.assets() / "style" / "report.css").read_text("utf-8")
    title = el("title", {}, f"Planning sheet: {sheet.plant}")
    opened = f'<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">{title}<style>{css}</style></head>'
    return f"{opened}{body}</html>\n"


def table_csv(sheet: Sheet) -> str:
    """Title block, results, other conditions and figures as CSV, each with a head; a cell never begins a formula."""
    out = io.StringIO()
    write_row = csv.writer(out, lineterminator="\n").writerow
    for name, value in title_block(sheet, today()):
        write_row(("document", name, _cell(value)))
    write_row(("part", *HEAD))
    for row in results(sheet):
        write_row(("result", *map(_cell, row)))
    for kind, head, rows in (
        ("condition", sweep.HEAD, sweep.rows(others(sheet), sheet.doubts)),
        ("pumps", sweep.PUMPS_HEAD, sweep.pump_rows(recharges(sheet.described), sheet.doubts)),
    ):
        write_row(("part", *head))
        for row in rows:
            write_row((kind, *map(_cell, row)))
    write_row(("part", "What", "Value", "Unit", "Method", "Source", "Kind of source"))
    for r in sheet.rows:
        value = f"{r.value:.6g}" if math.isfinite(r.value) else "never"
        write_row(("figure", _cell(r.name), value, r.unit, _cell(r.method), _cell(r.source), marked(r, sheet.origin)))
    write_row(("part", *inputs_head(sheet)))
    for row in inputs(sheet):
        write_row(("input", *map(_cell, row)))
    return out.getvalue()


def _cell(text: str) -> str:
    """Text that a spreadsheet program does not take for a formula; a plain negative figure stays."""
    return f"'{text}" if text[:1] in "=+@" or (text[:1] == "-" and not text[1:2].isdigit()) else text
