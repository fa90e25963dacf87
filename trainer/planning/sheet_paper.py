"""The planning sheet on paper, and in whatever file it is asked for."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from trainer.planning import doubt, sensitivity, sheet_out, sweep
from trainer.planning.errors import PlanningError
from trainer.planning.sizing import Sheet, recharges
from trainer.reports.content import short
from trainer.reports.paper import Paper
from trainer.units import System


def pdf(sheet: Sheet, system: System = "field", date: str = "") -> bytes:
    """The sheet as a PDF document; the same sheet and date give the same bytes."""
    paper = Paper(f"Planning sheet: {sheet.plant}, rule set {sheet.rule_set}")
    paper.set_creation_date(datetime.fromisoformat(date or sheet_out.today()).replace(tzinfo=UTC))
    paper.set_title(paper.plain(f"Planning sheet: {sheet.plant}"))
    paper.add_page()
    paper.line_of(f"Planning sheet: {sheet.described.title}", 18, bold=True)
    paper.ln(2)
    paper.rows(("Document", ""), sheet_out.title_block(sheet, date or sheet_out.today()), (20, 80))
    paper.ln(1)
    paper.line_of(sheet_out.SAFETY, 8)
    paper.line_of(sheet_out.NOT_SHOWN, 8)
    paper.title_of(f"Results: {sheet.summary}")
    if told := sheet_out.answer(sheet):
        paper.line_of(told, 9, bold=True)
        paper.ln(1)
    paper.rows(sheet_out.HEAD, sheet_out.results(sheet), (9, 24, 12, 11, 9, 12, 20, 22), 6.5)
    paper.title_of("Other conditions")
    paper.line_of(sweep.TOLD, 8)
    found, charged = sheet_out.others(sheet), recharges(sheet.described)
    _bars(paper, sweep.pressure_picture(found, sheet.doubts, system))
    paper.rows(sweep.HEAD, sweep.rows(found, sheet.doubts, system), (40, 20, 20, 20))
    # Its heading, words and picture stand together.
    paper.keep_together(40.0 + 4.6 * len(charged))
    paper.title_of("Pumps out of service")
    paper.line_of(sweep.PUMPS_TOLD, 8)
    _bars(paper, sweep.pump_picture(charged, sheet.doubts))
    paper.rows(sweep.PUMPS_HEAD, sweep.pump_rows(charged, sheet.doubts), (40, 20, 20, 20))
    paper.title_of("What matters for the usable fluid (real gas, drawn fast)")
    for line in sensitivity.lines(sheet.described):
        paper.line_of(line, 9)
    paper.title_of("Figures")
    paper.line_of(sheet_out.KINDS, 8)
    paper.rows(
        ("What", "Value", "Method", "Source", "Kind"),
        sheet_out.figures(sheet, system),
        (31, 12, 23, 20, 14),
        7,
    )
    paper.title_of("Input values")
    wide = (16, 34, 30, 20) if sheet.origin.base else (20, 56, 24)
    paper.rows(sheet_out.inputs_head(sheet), sheet_out.inputs(sheet), wide, 7)
    paper.title_of("Basis of the uncertainties")
    paper.line_of(doubt.BASIS, 8)
    return bytes(paper.output())


def _bars(paper: Paper, picture: sweep.Picture) -> None:
    """A picture of bars: name, bar and figure a line, the limits as lines with their words below."""
    low, high = picture.span
    room = max(high - low, 1e-9)
    left, wide = paper.l_margin + 82.0, 76.0

    def x(value: float) -> float:
        return left + wide * (value - low) / room

    paper.keep_together(4.6 * len(picture.bars) + 8.0)
    paper.ln(1)
    top = paper.get_y()
    for bar in picture.bars:
        y = paper.get_y()
        paper.use(7)
        paper.cell(82, 4.6, paper.plain(short(bar.name, 62)))
        start, end = sorted((x(0.0), x(bar.value)))
        paper.set_fill_color(*bytes.fromhex(sweep.COLORS[bar.result][1:]))
        paper.rect(start, y + 0.6, max(end - start, 0.3), 3.4, style="F")
        paper.set_x(left + wide + 3.0)
        paper.cell(0, 4.6, paper.plain(bar.told))
        paper.set_y(y + 4.6)
    foot = paper.get_y()
    for at, told in picture.limits:
        paper.line(x(at), top, x(at), foot)
        paper.set_xy(x(at) - 20.0, foot)
        paper.cell(40, 4.0, paper.plain(told), align="C")
    paper.set_y(foot + 6.0)


def write(sheet: Sheet, output: Path) -> str:
    """Write the sheet, PDF or HTML by the name's ending; PlanningError when that cannot be done."""
    kinds: dict[str, Callable[[Sheet], bytes]] = {
        ".pdf": pdf,
        ".html": lambda s: sheet_out.html(s).encode("utf-8"),
        ".csv": lambda s: sheet_out.table_csv(s).encode("utf-8"),
    }
    kind = kinds.get(output.suffix.lower())
    if kind is None:
        raise PlanningError(f"{output}: a planning sheet ends in .pdf, .html or .csv")
    try:
        output.write_bytes(kind(sheet))
    except OSError as error:
        raise PlanningError(f"{output}: cannot be written: {error.strerror or error}") from error
    return f"{output}: {sheet.plant}, rules: {sheet.summary}"
