"""The planning sheet on the terminal, as a page and on paper."""

from __future__ import annotations

import csv
import io
import json
import math
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote

import pytest
from typer.testing import CliRunner

from trainer.cli import app
from trainer.planning import sheet_out, sheet_paper, sweep
from trainer.planning.errors import PlanningError
from trainer.planning.sizing import Recharge, Sheet, recharges, sizing


@pytest.fixture(scope="module")
def sheet() -> Sheet:
    return sheet_out.make("quillback", None)


def test_json_has_the_published_form() -> None:
    done = CliRunner().invoke(app, ["sizing", "--plant", "sandpiper", "--json"])
    assert done.exit_code == 0
    document = json.loads(done.stdout)
    assert set(document) == {"plant", "rule_set", "rows", "verdicts"}
    assert document["plant"] == "sandpiper"
    assert document["rule_set"] == "surface"


def test_lines_tell_figures_and_verdicts(sheet: Sheet) -> None:
    told = sheet_out.lines(sheet)
    assert any("Close Upper annular" in line and "44.0 gal" in line for line in told)
    assert any(line.startswith("met") for line in told)
    few = tuple(bank.model_copy(update={"bottles": 1}) for bank in sheet.described.bank)
    poor = sheet_out.lines(sizing(sheet.described.model_copy(update={"bank": few})))
    assert any(line.startswith("NOT MET") for line in poor)


def test_an_unknown_rule_set_is_one_sentence() -> None:
    with pytest.raises(PlanningError, match="known rule sets are subsea, surface"):
        sheet_out.make(None, "moon")


def test_paper_and_page(sheet: Sheet, tmp_path: Path) -> None:
    assert sheet.summary in sheet_paper.write(sheet, tmp_path / "sheet.pdf")
    assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF")
    sheet_paper.write(sheet, tmp_path / "sheet.html")
    seen: list[str] = []
    parser = HTMLParser()
    parser.handle_data = seen.append  # type: ignore[method-assign]
    parser.feed((tmp_path / "sheet.html").read_text("utf-8"))
    assert "Close Upper annular" in seen
    assert sheet_paper.pdf(sheet) == (tmp_path / "sheet.pdf").read_bytes()


def test_results_stand_first_the_worst_on_top(sheet: Sheet) -> None:
    order = ["NOT MET", "not shown", "met"]
    told = [order.index(v.outcome) for v in sheet.verdicts]
    assert told == sorted(told)
    assert all(v.method and v.margin and v.uncertainty for v in sheet.verdicts)
    first = sheet_out.lines(sheet)
    assert sheet.summary in first[0]
    assert first[2].startswith(sheet.verdicts[0].outcome)


def test_the_document_can_be_signed(sheet: Sheet) -> None:
    """Rig, file, version, date and two names; limits before the figures."""
    block = dict(sheet_out.title_block(sheet, "2026-01-31"))
    assert block["Plant file"].startswith("quillback.toml, SHA-256 ") and sheet.plant_hash[:16] in block["Plant file"]
    assert {"Rig", "Computed with", "Date", "Prepared by", "Checked by"} <= set(block)
    page = sheet_out.html(sheet)
    assert page.index("Prepared by") < page.index("Results") < page.index("no certification") < page.index(">Figures<")
    assert page.index("manufacturer") > 0
    named = dict(sheet_out.title_block(replace(sheet, prepared="A. Planner", checked="B. Checker"), "2026-01-31"))
    assert (named["Prepared by"], named["Checked by"]) == ("A. Planner", "B. Checker")


def test_the_terminal_tells_the_other_conditions_too(sheet: Sheet) -> None:
    told = sheet_out.lines(sheet)
    after = told[told.index("Other conditions") :]
    assert any("out of service" in line and line.startswith("NOT MET") for line in after)


def test_every_figure_says_what_kind_of_source_it_has(sheet: Sheet) -> None:
    kinds = {row.name: sheet_out.marked(row) for row in sheet.rows}
    assert kinds["Close Upper annular"] == kinds["Working pressure"] == "manufacturer's figure"
    assert kinds["Highest well pressure at the stack"] == "assumption"
    assert kinds["Battery carries the panels"] == "common practice"
    assert kinds["Upper annular closes in"] == "this model" and kinds["Recharge with all pumps"] == "published"
    assert all(kind.capitalize() in sheet_out.KINDS for kind in kinds.values())


def test_one_pump_out_stands_in_a_picture_a_table_and_the_spreadsheet(sheet: Sheet) -> None:
    charged = recharges(sheet.described)
    time = {one.pumps: one.seconds for one in charged}
    assert time["all pumps"] < time["Triplex pump 1 out"] < time["air pumps alone"]
    drawn = sweep.plot(sweep.pump_picture(charged, sheet.doubts))
    page, spread = sheet_out.html(sheet), sheet_out.table_csv(sheet)
    assert drawn in page and "Triplex pump 1 out" in drawn
    assert "pumps,Triplex pump 1 out," in spread and "condition,As filed," in spread
    alone = [Recharge("all pumps", 600.0, "none"), Recharge("air pumps alone", math.inf, "source")]
    assert [row[1::2] for row in sweep.pump_rows(alone, {})] == [("10.0 min", "met"), ("never", "NOT MET")]
    assert [bar.result for bar in sweep.pump_picture(alone, {"recharge_time": 400.0}).bars] == ["not shown", "NOT MET"]


def test_a_spreadsheet_gets_every_row_and_no_formula(sheet: Sheet) -> None:
    rows = list(csv.reader(io.StringIO(sheet_out.table_csv(sheet))))
    assert sum(row[0] == "result" for row in rows) == len(sheet.verdicts)
    assert sum(row[0] == "figure" for row in rows) == len(sheet.rows)
    assert ["document", "Prepared by"] in [row[:2] for row in rows]
    # The page that needs nothing else brings the same table along.
    link = sheet_out.html(sheet).split("data:text/csv;charset=utf-8,")[1].split('"')[0]
    assert unquote(link) == sheet_out.table_csv(sheet)
    assert not [cell for row in rows for cell in row if cell[:1] in "=+@" and cell]


def test_only_three_endings(sheet: Sheet, tmp_path: Path) -> None:
    with pytest.raises(PlanningError, match=r"ends in \.pdf, \.html or \.csv"):
        sheet_paper.write(sheet, tmp_path / "sheet.txt")
    with pytest.raises(PlanningError, match="cannot be written"):
        sheet_paper.write(sheet, tmp_path / "none" / "sheet.pdf")


def test_the_sheet_says_in_a_line_what_is_left_and_has_room_to_sign(sheet: Sheet) -> None:
    told = sheet_out.answer(sheet)
    left = [row for row in sheet.rows if row.name.startswith(sheet_out.LINED_UP)]
    assert len(left) > 1 and all(sheet_out.shown(row) in told for row in left) and "all banks" in told
    assert sheet_out.answer(replace(sheet, rows=())) == ""
    block = dict(sheet_out.title_block(replace(sheet, prepared="A", checked="B"), "2026-01-31"))
    assert block["Signature and date"] == block["Signature and date, checked"] == block["Revision"] == sheet_out.LINE
    assert b"20260131" in sheet_paper.pdf(sheet, date="2026-01-31")
