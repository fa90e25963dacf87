"""The doors of planning: ``/fit``, where a plant file is fitted to a rig, and ``/sizing``, its planning sheet.

On one's own machine they are open; in a classroom they are the staff's. What they compute is computed in a process of
their own, so that neither a drill nor evidence that is taken in waits for it.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from functools import lru_cache
from typing import TypeVar
from urllib.parse import urlencode

from tornado.web import HTTPError, stream_request_body

from trainer import resources
from trainer.classroom import paper
from trainer.classroom.doors import Door, Upload
from trainer.drawing.markup import Markup, el
from trainer.planning import plan_pages, sheet_out, sheet_paper
from trainer.planning.errors import PlanningError
from trainer.planning.sizing import Sheet
from trainer.plant.rig import PlantError, plant_path
from trainer.units import System

T = TypeVar("T")
STAFF = ("instructor", "assessor")
LARGEST = 400_000


class PlanDoor(Door):
    """A page of planning. ``desk`` is the classroom, which knows whether practice is open to everybody."""

    def prepare(self) -> None:
        """Admit staff, and at one's own machine anybody; HTTPError 403 for everybody else."""
        super().prepare()
        if self.desk.open_practice:
            return
        if self.who is None or self.who.role not in STAFF or self.who.setting:
            if self.request.method == "GET" and self.who is None:
                self.redirect("/login")
                return
            raise HTTPError(403, reason="This page is not for you")

    def style(self) -> str:
        """The style of these pages as an element for the head, read from the assets."""
        return f"<style>{(resources.assets() / 'style' / 'fit.css').read_text('utf-8')}</style>"


class Fit(PlanDoor):
    """``/fit``: the page on which a plant file is fitted to a rig, on the base that the address names."""

    def get(self) -> None:
        """Write the page on the base that was asked for, else on Quillback; all else comes by its script."""
        base = self.text("base")
        base = base if base in resources.plant_files() else plan_pages.DEFAULT
        self.show(
            plan_pages.FIT,
            *plan_pages.fit(base, "/", "/sizing?plant="),
            Markup(self.xsrf_form_html()),
            head=f'{self.style()}<script src="/fit/fit.js" defer></script>',
        )


class FitScript(Door):
    """``/fit/fit.js``: the script of the fit page, the same file in both editions."""

    def get(self) -> None:
        """Write the script as it lies in the assets, with its type, so that no browser guesses one."""
        self.set_header("Content-Type", "text/javascript; charset=utf-8")
        self.write((resources.assets() / "script" / "fit.js").read_text("utf-8"))


@stream_request_body
class FitWork(Upload, PlanDoor):
    """``/fit/(form|check|drills|try|save)``: the page's questions, each with all orders so far."""

    largest = LARGEST

    async def post(self, what: str) -> None:
        """Do what the page's script asks and answer in JSON; what does not go is told in its ``wrong``."""
        self.take_form()
        body = self.request.body
        try:
            asked = json.loads(body)
            words = {key: str(asked.get(key, ""))[:200] for key in ("base", "id", "title", "board", "theme", "drill")}
            orders = list(asked.get("orders", []))
        except (ValueError, AttributeError, TypeError):
            raise HTTPError(400) from None
        # Trying a drill takes seconds, in which the page goes on answering.
        beside = self.desk.worker if what == "try" else self.desk.planner
        answer = await beside.do(_answer, what, words, orders)
        if "saved" in answer:
            self.desk.rooms.forget_drawings(words["id"])
        self.set_header("Content-Type", "application/json; charset=utf-8")
        self.write(json.dumps(answer))


def _answer(what: str, words: dict[str, str], orders: list[object]) -> dict[str, object]:
    return plan_pages.answer(what, words, orders, lambda draft: draft.save().name)


class SizingDoor(PlanDoor):
    """What is asked of a planning sheet, worked out once for the same file, rules and values."""

    async def worked_out(self, work: Callable[..., T], plant: str, *others: str) -> T:
        """What ``work`` gives; the same sheet asked for again, of the same file, is worked out once."""
        filed = hashlib.sha256(plant_path(plant).read_bytes()).hexdigest()
        key = (work.__name__, filed, others, sheet_out.today())
        found: T = await self.desk.sheets.do(key, work, filed, plant, *others)
        return found

    def _chosen(self) -> tuple[str, str, str, str, str]:
        """What was chosen, in the order of ``plan_pages.CHOSEN``."""
        plant, rules, units, prepared, checked = (self.text(name)[: plan_pages.NAME] for name in plan_pages.CHOSEN)
        return (plant if plant in resources.plant_files() else plan_pages.DEFAULT), rules, units, prepared, checked


class Sizing(SizingDoor):
    """``/sizing``: the planning sheet of a plant by a rule set, with its files to take along."""

    async def get(self) -> None:
        """Write the sheet with what may be chosen above it; a plant or rule that is wrong is told in its place."""
        plant, *_ = chosen = self._chosen()
        choose = plan_pages.sheet_form(chosen, "/sizing")
        title, content = await self.worked_out(_sheet, *chosen)
        if not title:
            self.show(plan_pages.SHEET, choose, paper.told(content, "alert"), head=self.style())
            return
        asked = urlencode(dict(zip(plan_pages.CHOSEN, chosen, strict=True)))
        self.show(
            f"Planning sheet of {title}",
            choose,
            el(
                "p",
                {},
                el("a", {"href": f"/sizing.pdf?{asked}"}, "As PDF"),
                " · ",
                el("a", {"href": f"/sizing.csv?{asked}"}, "As CSV"),
                " · ",
                el("a", {"href": f"/fit?base={plant}"}, "Fit it"),
            ),
            Markup(content),
            head=self.style(),
        )


class SizingFile(SizingDoor):
    """``/sizing.pdf`` and ``/sizing.csv``: the same on paper, its results and figures as a table."""

    async def get(self, kind: str) -> None:
        """Hand over the sheet as the kind of file that the address names, worked out in a worker process."""
        plant, *_ = chosen = self._chosen()
        work, mime, disposition = FILES[kind]
        made: bytes | str = await self.worked_out(work, *chosen)
        if not made:
            raise HTTPError(404)
        self.set_header("Content-Type", mime)
        self.set_header("Content-Disposition", f'{disposition}; filename="planning-{plant}.{kind}"')
        self.write(made)


@lru_cache(maxsize=8)
def _made(filed: str, plant: str, rules: str) -> Sheet:
    """The sheet of a plant whose file has the hash ``filed``: other units, names or paper need no new one."""
    return sheet_out.make(plant, rules or None)


def _titled(filed: str, plant: str, rules: str, prepared: str, checked: str) -> Sheet:
    return sheet_out.signed(_made(filed, plant, rules), prepared, checked)


def _system(units: str) -> System:
    return "metric" if units == "metric" else "field"


def _sheet(filed: str, plant: str, rules: str, units: str, prepared: str, checked: str) -> tuple[str, str]:
    """(title of the plant, the sheet as markup), or no title and what is wrong."""
    try:
        sheet = _titled(filed, plant, rules, prepared, checked)
    except (PlanningError, PlantError) as error:
        return "", str(error)
    return sheet.described.title, "".join(sheet_out.content(sheet, _system(units)))


def _sheet_pdf(filed: str, plant: str, rules: str, units: str, prepared: str, checked: str) -> bytes:
    """The sheet on paper; nothing for one that is wrong."""
    try:
        return sheet_paper.pdf(_titled(filed, plant, rules, prepared, checked), _system(units))
    except (PlanningError, PlantError):
        return b""


def _sheet_csv(filed: str, plant: str, rules: str, units: str, prepared: str, checked: str) -> str:
    """The sheet as a table; nothing for one that is wrong."""
    try:
        return sheet_out.table_csv(_titled(filed, plant, rules, prepared, checked))
    except (PlanningError, PlantError):
        return ""


FILES: dict[str, tuple[Callable[..., bytes | str], str, str]] = {
    "pdf": (_sheet_pdf, "application/pdf", "inline"),
    "csv": (_sheet_csv, "text/csv; charset=utf-8", "attachment"),
}
"""What makes a file of a planning sheet, its type, and whether it is shown or kept."""

DOORS: dict[str, type[Door]] = {
    "/fit": Fit,
    "/fit/fit.js": FitScript,
    "/fit/(form|check|drills|try|save)": FitWork,
    "/sizing": Sizing,
    r"/sizing\.(pdf|csv)": SizingFile,
}
