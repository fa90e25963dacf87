"""The score report as one HTML file that needs nothing else."""

from __future__ import annotations

from collections.abc import Sequence

from trainer import resources
from trainer.console.in_language import whole_page
from trainer.drawing.markup import Markup, el, plain_table
from trainer.reports.content import NOTES, Lost, Report


def html(report: Report) -> str:
    """The score report as one HTML page that needs nothing else; everything in it is escaped."""
    first = el(
        "main",
        {"class": "first"},
        el("h1", {}, report.title),
        el(
            "div",
            {"class": f"verdict {report.tone}"},
            el("strong", {}, report.headline),
            el("p", {}, report.verdict),
        ),
        el("dl", {"class": "facts"}, [(el("dt", {}, name), el("dd", {}, value)) for name, value in report.facts]),
        _critical(report),
        el(
            "div", {"class": "two"}, _parts(report), _table("When", ("You", "Reference run", "What"), report.milestones)
        ),
        _table("Points lost", ("What", "Lost", "What happened, what was seen, and the source"), _lost(report)),
        _section("Remarks", el("p", {}, report.remarks)) if report.remarks else None,
        el("p", {"class": "soft"}, report.safety),
    )
    details = el(
        "section",
        {"class": "details", "aria-label": "Details"},
        el("h1", {}, "Details"),
        _criteria(report),
        _table("Actions", ("Time", "From", "What", "Refused because"), report.log),
        _list(NOTES, report.notes),
        _list("Sources", report.sources),
        _section(
            "Evidence",
            el("div", {}, el("p", {}, report.signed), el("p", {"class": "soft"}, report.checked)),
        ),
    )
    body = el("body", {}, first, details)
    title = el("title", {}, f"{report.title}: score report")
    css = (resources.assets() / "style" / "report.css").read_text("utf-8")
    head = f'<head><meta charset="utf-8">{title}<style>{css}</style></head>'
    return whole_page(f'<!DOCTYPE html>\n<html lang="en">{head}{body}</html>\n', report.language, numbers=False)


def _parts(report: Report) -> Markup | None:
    if not report.parts:
        return None
    rows = [
        el(
            "tr",
            {},
            el("th", {"scope": "row"}, part.title),
            el("td", {}, part.points),
            el(
                "td",
                {"class": "bar-cell"},
                el("span", {"class": "bar", "aria-hidden": "true", "style": f"width:{100 * part.share:.0f}%"}, ""),
            ),
        )
        for part in report.parts
    ]
    return _section("Where the points are", plain_table((), rows, css="parts"))


def _lost(report: Report) -> tuple[tuple[str | Markup, ...], ...]:
    more = ((f"and {report.more_lost} more, see the details", "", ""),) if report.more_lost else ()
    return (*((lost.title, lost.points, _told(lost)) for lost in report.lost), *more)


def _told(lost: Lost) -> Markup:
    """What happened, what the instruments showed, and the source, one under the other."""
    return el(
        "div",
        {},
        lost.what,
        el("p", {"class": "seen"}, lost.seen) if lost.seen else None,
        el("p", {"class": "soft"}, f"Source: {lost.source}") if lost.source else None,
    )


def _critical(report: Report) -> Markup | None:
    if not report.critical:
        return None
    lines = [el("li", {}, el("strong", {}, lost.title), _told(lost)) for lost in report.critical]
    return _section("Critical errors", el("ul", {}, lines))


def _section(title: str, *content: Markup) -> Markup:
    return el("section", {}, el("h2", {}, title), content)


def _list(title: str, lines: tuple[str, ...]) -> Markup | None:
    return _section(title, el("ul", {}, [el("li", {}, line) for line in lines])) if lines else None


def _table(title: str, head: tuple[str, ...], rows: Sequence[Sequence[str | Markup]]) -> Markup | None:
    if not rows:
        return None
    return _section(title, plain_table(head, rows))


def _criteria(report: Report) -> Markup:
    head = ("What", "When", "Points", "What happened, what was seen, why it matters, and the source")
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
                el("p", {"class": "seen"}, line.seen) if line.seen else None,
                el("p", {"class": "soft"}, line.why) if line.why else None,
                el("p", {"class": "soft"}, f"Source: {line.source}") if line.source else None,
            ),
        )
        for line in report.lines
    ]
    return _section("Criteria", plain_table(head, rows))
