"""The pages of planning as files of the edition without a server: what stands on them is that of the classroom's."""

from __future__ import annotations

import html
import json

from trainer import resources
from trainer.drawing.markup import Markup, el
from trainer.planning import plan_pages
from trainer.takeaway.bundle import PLANNING
from trainer.takeaway.page import FROM_DISK, HERE, POLICY, RUNTIME, STAGES, TITLE, WORDS, site
from trainer.takeaway.prepare import LIBRARY

FIT, SHEET = "fit.html", "sizing.html"
PLAN, FITTING = "plan.js", "fit.js"
LATER = (FIT, SHEET, PLAN, FITTING)
"""What a browser fetches only when somebody plans."""


def pages() -> dict[str, str]:
    """Both pages by file name, with HERE and RUNTIME where the folders' names go."""
    base = plan_pages.DEFAULT
    files = el(
        "p",
        {"id": "sheet-files", "hidden": "hidden"},
        el("button", {"type": "button", "id": "sheet-print"}, "Print"),
        " ",
        el("button", {"type": "button", "id": "sheet-csv"}, "As CSV"),
        " ",
        el("a", {"id": "sheet-fit", "href": FIT}, "Fit it"),
    )
    sheet = [
        el("p", {}, "Times are estimates here: the sheet of a server takes them from the running plant."),
        plan_pages.sheet_form((base, "", "field", "", ""), SHEET),
        el("p", {"id": "sheet-told", "role": "status"}),
        files,
        el("div", {"id": "sheet"}),
    ]
    return {
        FIT: _page(plan_pages.FIT, plan_pages.fit(base, "index.html", f"{SHEET}?plant="), (PLAN, FITTING)),
        SHEET: _page(plan_pages.SHEET, sheet, (PLAN,)),
    }


def scripts() -> dict[str, bytes]:
    """The scripts of both pages, by the names that they have in the version's folder."""
    folder = resources.assets() / "script"
    return {name: (folder / name).read_bytes() for name in (PLAN, FITTING)}


def _page(title: str, content: list[Markup], names: tuple[str, ...]) -> str:
    style = "".join((resources.assets() / "style" / name).read_text("utf-8") for name in ("paper.css", "fit.css"))
    told = {
        **site(),
        "desk": PLANNING,
        "later": [
            FIT,
            SHEET,
            *(f"{HERE}/{name}" for name in (PLAN, FITTING, "code.zip.gz")),
            f"{RUNTIME}/{LIBRARY}.gz",
        ],
        "stages": dict(STAGES),
        "words": {**WORDS, "working": "Working it out. It can take a minute."},
    }
    asks = html.escape(json.dumps(told))
    loaded = f'<script src="{HERE}/{PLAN}" data-site="{asks}" defer></script>'
    loaded += "".join(f'<script src="{HERE}/{name}" defer></script>' for name in names if name != PLAN)
    head = (
        '<meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">'
        f'<title>{title}: {TITLE}</title><link rel="icon" href="{HERE}/icon.svg" type="image/svg+xml">'
        f"<style>{style}</style>{loaded}"
    )
    stage = el("p", {"id": "plan-stage", "role": "status"}, "Starting")
    body = el(
        "body",
        {},
        el("header", {}, el("a", {"href": "index.html"}, "Panel trainer")),
        el("main", {}, el("h1", {}, title), stage, content),
        el("noscript", {}, el("p", {}, "The trainer needs JavaScript.")),
    )
    from_disk = FROM_DISK.replace("start-stage", "plan-stage").partition("document.getElementById('start-bar')")[0]
    return (
        f'<!DOCTYPE html>\n<html lang="en"><head>{head}</head>{str(body).removesuffix("</body>")}'
        f"<script>if (location.protocol === 'file:') {from_disk}}}</script></body></html>\n"
    )
