"""The score report as one HTML file that needs nothing else."""

from __future__ import annotations

from trainer import resources
from trainer.drawing.markup import Markup, el
from trainer.reports.content import Report


def html(report: Report) -> str:
    """The report as a page. Everything in it is escaped."""
    body = el(
        "body",
        {},
        el("h1", {}, report.title),
        el(
            "div",
            {"class": f"verdict {'passed' if report.passed else 'failed'}"},
            el("strong", {}, f"{'Passed' if report.passed else 'Not passed'}, {report.score}"),
            el("p", {}, report.verdict),
        ),
        el(
            "table",
            {"class": "facts"},
            [el("tr", {}, el("th", {"scope": "row"}, name), el("td", {}, value)) for name, value in report.facts],
        ),
        _list("Critical failures", report.critical),
        _criteria(report),
        _section("Remarks", el("p", {}, report.remarks)) if report.remarks else None,
        _table("What happened when", ("Time", "What"), report.milestones),
        _table("What was done", ("Time", "From", "What", "Refused because"), report.log),
        _list("Sources", report.sources),
        _section("Evidence", el("p", {"class": "soft"}, report.checked)),
        el("p", {"class": "soft"}, report.safety),
    )
    title = el("title", {}, f"{report.title}: score report")
    css = (resources.assets() / "style" / "report.css").read_text("utf-8")
    head = f'<head><meta charset="utf-8">{title}<style>{css}</style></head>'
    return f'<!DOCTYPE html>\n<html lang="en">{head}{body}</html>\n'


def _section(title: str, *content: Markup) -> Markup:
    return el("section", {}, el("h2", {}, title), content)


def _list(title: str, lines: tuple[str, ...]) -> Markup | None:
    return _section(title, el("ul", {}, [el("li", {}, line) for line in lines])) if lines else None


def _table(title: str, head: tuple[str, ...], rows: tuple[tuple[str, ...], ...]) -> Markup | None:
    if not rows:
        return None
    return _section(
        title,
        el(
            "table",
            {},
            el("thead", {}, el("tr", {}, [el("th", {"scope": "col"}, word) for word in head])),
            el("tbody", {}, [el("tr", {}, [el("td", {}, cell) for cell in row]) for row in rows]),
        ),
    )


def _criteria(report: Report) -> Markup:
    head = ("What", "When", "Points", "What happened, and why it matters")
    rows = [
        el(
            "tr",
            {"class": line.kind},
            el("th", {"scope": "row"}, line.title),
            el("td", {}, line.when),
            el("td", {}, line.points),
            el(
                "td",
                {},
                line.what,
                el("p", {}, line.marked) if line.marked else None,
                el("p", {"class": "soft"}, line.why) if line.why else None,
            ),
        )
        for line in report.lines
    ]
    return _section(
        "Criteria",
        el(
            "table",
            {},
            el("thead", {}, el("tr", {}, [el("th", {"scope": "col"}, word) for word in head])),
            el("tbody", {}, rows),
        ),
    )
