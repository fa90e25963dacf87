"""The Python side of the planning pages of the browser edition: questions as texts, answers as texts.

It stands in the browser's worker in place of ``browser_session`` and leaves a run that the store keeps alone. Of the
store it reads and writes only the files of the person's own.
"""

from __future__ import annotations

import json
import sys
from functools import lru_cache
from pathlib import Path

from trainer.planning import plan_pages, sheet_out
from trainer.planning.draft import Draft
from trainer.planning.errors import PlanningError
from trainer.planning.sizing import Sheet
from trainer.plant.rig import PlantError, plant_path
from trainer.takeaway.own import OwnFiles
from trainer.takeaway.shelf import facts
from trainer.units import System

WORDS = ("base", "id", "title", "board", "theme", "drill", *plan_pages.CHOSEN)
LONGEST = 200


class PlanSession:
    """Answers what the pages ask; the number of a question stands in its answer too. own: files of the person's own."""

    def __init__(self, own: OwnFiles) -> None:
        self._own = own
        self._put: dict[str, str | None] = {}

    def open(self, kept: str) -> None:
        """Lay out the files of the person's own that are among the store's texts (a JSON object)."""
        self._own.restore(json.loads(kept))

    def tick(self, _: float) -> str:
        """Return the empty text, which says that nothing changed: no run goes on beside the pages of planning."""
        return ""

    def handle(self, message: str) -> str:
        """The answer to a message of the page (a JSON object): a line for the store, a line feed, and the answer."""
        said = json.loads(message)
        if said.get("page") != "plan":
            return ""
        self._put = {}
        words = {name: str(said.get("words", {}).get(name, ""))[:LONGEST] for name in WORDS}
        found = self._answer(str(said.get("what")), words, list(said.get("orders", [])))
        kept = json.dumps({"clear": "", "put": self._put}) if self._put else ""
        return f"{kept}\n{json.dumps({'plan': said.get('number'), **found})}"

    def _answer(self, what: str, words: dict[str, str], orders: list[object]) -> dict[str, object]:
        if what == "own":
            return {"own": plan_pages.own()}
        if what in ("sheet", "csv"):
            return _sheet(what, words)
        return plan_pages.answer(what, words, orders, self._save)

    def _save(self, draft: Draft) -> str:
        """Keep a rig as ``Your own files`` does; PlanningError with everything that is wrong with it."""
        file = f"{draft.document['id']}.toml"
        faults, self._put = self._own.take(file, draft.text())
        if faults:
            raise PlanningError("\n".join(["the plant is not saved while it has faults:", *faults]))
        return file


def _sheet(what: str, words: dict[str, str]) -> dict[str, object]:
    """The planning sheet as markup or as a table; times are estimates, since nothing runs here."""
    try:
        sheet = _made(plant_path(words["plant"]).read_text("utf-8"), words["plant"], words["rules"])
    except (PlanningError, PlantError) as error:
        return {"wrong": str(error)}
    sheet = sheet_out.signed(sheet, words["prepared"], words["checked"])
    if what == "csv":
        return {"csv": sheet_out.table_csv(sheet)}
    system: System = "metric" if words["units"] == "metric" else "field"
    return {"title": sheet.described.title, "content": "".join(sheet_out.content(sheet, system))}


@lru_cache(maxsize=2)
def _made(_text: str, plant: str, rules: str) -> Sheet:
    """The sheet of a plant whose file has this text: other units, names or a table need no new one."""
    return sheet_out.make(plant, rules or None, engine=False)


def open_desk(folder: Path | None = None) -> PlanSession:
    """The session of the shipped trainer; own files go into ``folder``."""
    if sys.platform == "emscripten":
        from trainer.runtime import by_browser

        by_browser.offer()
    return PlanSession(OwnFiles(folder or Path.home() / "bop-panel-trainer", facts()))
