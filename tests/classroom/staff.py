"""A page of staff by its socket: its widgets by what is written on them, found, filled, pressed, and read."""

from __future__ import annotations

import base64
import gzip
import re
from collections.abc import Callable, Iterator
from html import unescape
from typing import Any

from tests.classroom.conftest import Visitor
from tests.classroom.wire import Page, plain, run, wire


class StaffPage(Page):
    """One open page of staff. Its widgets are those that stand on it now, in their order."""

    def __init__(self, url: str, cookie: str | None = None) -> None:
        super().__init__(url, cookie)
        self.models: dict[str, dict[str, Any]] = {}
        self.roots: list[Any] = []

    def _find(self, content: Any) -> None:
        self.roots = content["doc"]["roots"]
        self._keep(content)

    def _keep(self, content: Any) -> None:
        """Remember every model that is spelled out."""
        if isinstance(content, dict):
            if "id" in content and "name" in content and content.get("type") == "object":
                known = self.models.setdefault(content["id"], {"kind": content["name"]})
                known.update(content.get("attributes", {}))
            for value in content.values():
                self._keep(value)
        elif isinstance(content, list):
            for value in content:
                self._keep(value)

    def _hear(self, kind: str, content: Any) -> None:
        for event in content.get("events", []) if kind == "PATCH-DOC" else []:
            self._keep(event)
            model = self.models.get(event.get("model", {}).get("id"))
            if model is not None and event["kind"] in ("ModelChanged", "ColumnDataChanged"):
                model[event["attr"]] = event.get("new", event.get("data"))
        super()._hear(kind, content)

    # What stands there

    def standing(self) -> Iterator[tuple[str, dict[str, Any]]]:
        """(id, properties) of every model on the page."""
        seen: set[str] = set()

        def within(value: Any) -> Iterator[tuple[str, dict[str, Any]]]:
            if isinstance(value, list):
                for one in value:
                    yield from within(one)
            elif isinstance(value, dict):
                number = value.get("id")
                if number in self.models and number not in seen:
                    seen.add(number)
                    yield number, self.models[number]
                    yield from within(list(self.models[number].values()))
                elif number is None:
                    yield from within(list(value.values()))

        yield from within(self.roots)

    def words(self) -> str:
        """All markup of panes, which the library sends as text."""
        return "\n".join(
            unescape(str(model.get("text", ""))) for _, model in self.standing() if model["kind"].endswith("HTML")
        )

    def tables(self) -> list[list[dict[str, str]]]:
        """The rows of every table, each by the names of its columns."""
        found = []
        for _, model in self.standing():
            if model["kind"].endswith("DataTabulator"):
                data = self.models[model["source"]["id"]]["data"]
                columns = {name: _column(values) for name, values in plain(data).items() if name != "index"}
                count = max(map(len, columns.values()), default=0)
                found.append([{name: str(values[at]) for name, values in columns.items()} for at in range(count)])
        return found

    def row(self, **cells: str) -> dict[str, str] | None:
        """The first row of any table with these texts in its cells; None when there is none."""
        for rows in self.tables():
            for row in rows:
                if all(row.get(name) == text for name, text in cells.items()):
                    return row
        return None

    def choices(self, label: str) -> list[str]:
        """The words of what can be chosen in a widget."""
        return [words for words, _ in self._options(label)]

    def _options(self, label: str) -> list[tuple[str, Any]]:
        """(words, what the library says for them) of what can be chosen in a widget."""
        model = self.models[self._widget(label)]
        if "labels" in model:
            return [(str(words), at) for at, words in enumerate(plain(model["labels"]))]
        pairs = [one if isinstance(one, list | tuple) else (one, one) for one in plain(model.get("options") or [])]
        return [(str(words), value) for value, words in pairs]

    def labelled(self, beginning: str) -> str:
        """The first label on the page that begins so; empty when there is none."""
        labels = (str(label) for _, model in self.standing() for label in _labels(model))
        return next((label for label in labels if label.startswith(beginning)), "")

    def value(self, label: str) -> Any:
        """What stands in a widget."""
        return plain(self.models[self._widget(label)].get("value"))

    def _widget(self, label: str) -> str:
        for number, model in self.standing():
            if label in _labels(model):
                return number
        raise AssertionError(f"nothing on the page is called {label!r}")

    # What somebody does

    def put(self, label: str, value: Any) -> None:
        """Type, or choose by the words; in a group of boxes to check, several."""
        number = self._widget(label)
        attr = "active" if "labels" in self.models[number] else "value"
        if known := dict(self._options(label)):
            value = [known[one] for one in value] if isinstance(value, list) else known.get(value, value)
        change = {"kind": "ModelChanged", "model": {"id": number}, "attr": attr, "new": value}
        self._write("PATCH-DOC", {"events": [change]})

    def press(self, label: str) -> None:
        """Press a button."""
        self._event("button_click", {"type": "map", "entries": [["model", {"id": self._widget(label)}]]})

    def bring(self, label: str, files: dict[str, bytes], size: int = 100_000) -> None:
        """Drop files into a field for them, in pieces as its makers send them."""
        number = self._widget(label)
        for name, content in files.items():
            pieces = [content[at : at + size] for at in range(0, len(content), size)] or [b""]
            for at, piece in enumerate(pieces, 1):
                data = {"name": name, "chunk": at, "total_chunks": len(pieces), "type": "application/json"}
                said = wire(data)
                packed = base64.b64encode(gzip.compress(piece)).decode()
                said["entries"].append(["data", {"type": "bytes", "data": packed}])
                self._event("upload_event", {"type": "map", "entries": [["model", {"id": number}], ["data", said]]})

    async def say(self, label: str, answer: str, **typed: Any) -> str:
        """Fill in widgets by their labels (``_`` for a space), press a button; what is answered, with ``answer``.

        The button may come a moment after the words that call for it.
        """
        await self.until(lambda: any(label in _labels(model) for _, model in self.standing()))
        for name, value in typed.items():
            self.put(" ".join(name.split("_")), value)
        before = self._answer()
        self.press(label)
        await self.until(lambda: self._answer() != before)
        assert answer in self._answer(), self._answer()
        return self._answer()

    def _answer(self) -> str:
        """What the page said last."""
        found = re.search(r"<div class=\"told.*?</div>", self.words(), re.S)
        return found[0] if found else ""


async def opened(visitor: Visitor, path: str) -> StaffPage:
    """A page of staff, open."""
    page = StaffPage(visitor.url, visitor.cookie())
    await page.connect(await page.token(path), path.split("?")[0])
    return page


def seen(visitor: Visitor, path: str, true: Callable[[StaffPage], Any]) -> Any:
    """Open a page of staff, wait until something shows there, and give it."""

    async def story() -> Any:
        page = await opened(visitor, path)
        try:
            await page.until(lambda: true(page))
            return true(page)
        finally:
            page.close()

    return run(story())


def _labels(model: dict[str, Any]) -> tuple[Any, ...]:
    # Groups of boxes bear no label of their own: they are known by their kind.
    if model["kind"] == "TableColumn":
        return ()
    return model.get("title"), model.get("label"), model.get("name"), model["kind"]


def upload(visitor: Visitor, files: dict[str, bytes], person: str = "") -> str:
    """Take evidence files in on the page for them; what it answers, with what became of each."""

    async def story() -> str:
        page = await opened(visitor, "import")
        page.put("Person, if not as named in the file", person)
        page.bring("Evidence files", files)
        answer = await page.say("Take in", "")
        rows = [f"{row['file']}: {row['became']}" for row in page.tables()[0]]
        page.close()
        return "\n".join([answer, *rows])

    return run(story())


def _column(values: Any) -> list[Any]:
    """A column, however the library spells it."""
    if isinstance(values, dict):
        array = values.get("array", values)
        return list(array.get("data", array) if isinstance(array, dict) else array)
    return list(values)
