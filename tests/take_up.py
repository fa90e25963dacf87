"""Takes up the texts of the pages into the catalogues of all languages: ``python -m tests.take_up``.

Babel's extraction, with a reader of our own: a text is a string, or an f-string whose values become numbered gaps
(``{0} of {1} mastered``), where it goes to people: a child of markup, a spoken name, a constant table of words, an
argument or a result that reads as a sentence. Names of the shipped rigs' parts come from their files.
"""

from __future__ import annotations

import ast
import json
import re
import sys
import tomllib
from collections.abc import Container, Iterator
from pathlib import Path
from typing import Any

from babel.messages.catalog import Catalog, Message
from babel.messages.pofile import read_po, write_po

ROOT = Path(__file__).resolve().parents[1]
LANGUAGES = ROOT / "assets" / "languages"
ROOMS = ("console", "drawing", "learn", "reports")
"""Rooms whose every text is looked at; of the engine only what a score sheet, the coach and a refusal say."""
UNSEEN = ("headers", "server", "opening", "skeleton", "lesson_skeleton", "gate", "members", "files")
"""Of the classroom what no page shows: what is written into files, logs and the command line."""
ENGINE = ("assessed", "called", "coach", "criteria", "guide", "limits", "phrases", "pointing", "readings",
          "remaining", "scoring", "sheet", "spoken", "steady")  # fmt: skip
SILENT_FILES = {
    "courses.py",
    "silhouettes.py",
    "symbols.py",
    "ink.py",
    "guide_page.py",
    "charts.py",
    "own.py",
}
SHOWN = ROOT / "tests" / "shown.txt"
"""A line each: ids and states that stand on the pages as they are, and words that drawings put together of parts."""
SPOKEN = {"aria-label", "title", "placeholder", "label", "aria-description", "aria_label"}
"""Attributes that people read or hear."""
WORDED = {"worded", "written"}
"""Calls that give a text with its amounts: the first argument is the text, the others fill its gaps."""
LED = ("title", "purpose", "notes", "tell", "private", "ask", "discuss")
"""What the file of a lesson says to those who lead it and who take it."""
MARKUP = {"el", "join", "hidden", "live", "Markup"}
LESSONS = ("title", "what", "do", "text", "word")
"""What boards, stops of the tour and words of the trade say."""
TELLING = {"Refusal", "Fault", "component_fault"}
"""What the physics make of sentences for people."""
SILENT_CALLS = {"get", "removeprefix", "removesuffix", "startswith", "endswith", "split", "replace", "strip", "compile",
                "TypeError", "KeyError", "AssertionError", "partition", "getattr", "Literal", "set_header",
                "clear_header", "normalize", "FontFace", "set_secure_cookie", "set_cookie"}  # fmt: skip
NO_TEXTS = {
    "LEFT",
    "bot",
    "sticky",
    "trainer verify EVIDENCE --key KEY",
    "brass",
    "button",
    "dialog",
    "img",
    "mach",
    "option",
    "push",
    "shear",
    "steel",
}
"""Names of elements, styles and materials that stand where words do."""
NO_WORDS = re.compile(
    r"^[^A-Za-z]*$|^[MHVLZ ]+$|^M-?\d|^[.#]|^--|[<>{}=;/_]|^[A-Z][a-z]+[A-Z]|pipe-thin|drawn by Python|"
    r"^[a-z_]+(\.[a-z_{}0-9]*)+$|^[a-z]+(-[a-z]+)+( |$)|\dpx\)?$|^var\("
)
"""Numbers, drawings, styles, names of classes, ids."""


def gapped(node: ast.expr) -> str | None:
    """A string, or an f-string with its values as numbered gaps, also as a text with amounts; else None."""
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in WORDED and node.args:
        return gapped(node.args[0])
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if not isinstance(node, ast.JoinedStr):
        return None
    parts, gaps = [], 0
    for piece in node.values:
        if isinstance(piece, ast.Constant):
            parts.append(str(piece.value))
        else:
            parts.append(f"{{{gaps}}}")
            gaps += 1
    return "".join(parts)


def reads(text: str, surely: bool) -> bool:
    """Whether a text reads as words for people. surely: it stands where only such texts stand."""
    bare = re.sub(r"\{\d+\}", "", text).strip()
    if (
        bare in NO_TEXTS
        or not re.search(r"[A-Za-z]{2}", bare)
        or NO_WORDS.search(bare.replace("; ", ", ").replace(" / ", " "))
    ):
        return False
    return surely or bare[0].isupper() or (" " in bare and bare[-1] in ".:?!")


class Reader(ast.NodeVisitor):
    """Collects (line, text) of one module."""

    def __init__(self) -> None:
        self.found: list[tuple[int, str]] = []

    def take(self, node: ast.expr, surely: bool) -> None:
        text = gapped(node)
        if text is not None and reads(text, surely):
            self.found.append((node.lineno, text.strip()))

    def children(self, node: ast.expr) -> None:
        """Texts of an expression that becomes a child of markup, through lists and choices."""
        if gapped(node) is not None:
            self.take(node, surely=True)
            self.inside(node)
        elif isinstance(node, ast.IfExp):
            self.visit(node.test)
            self.children(node.body)
            self.children(node.orelse)
        elif isinstance(node, ast.BoolOp):
            for value in node.values:
                self.children(value)
        elif isinstance(node, ast.List | ast.Tuple):
            for value in node.elts:
                self.children(value)
        elif isinstance(node, ast.ListComp | ast.GeneratorExp):
            self.children(node.elt)
            for part in node.generators:
                self.visit(part.iter)
        elif isinstance(node, ast.Starred):
            self.children(node.value)
        else:
            self.visit(node)

    def inside(self, node: ast.expr) -> None:
        """What stands in the gaps of an f-string: words too, where one of two is chosen."""
        if isinstance(node, ast.JoinedStr):
            for piece in node.values:
                if isinstance(piece, ast.FormattedValue):
                    self.filling(piece.value)
        elif isinstance(node, ast.Call):
            for value in node.args[1:]:
                self.filling(value)

    def filling(self, value: ast.expr) -> None:
        self.children(value) if isinstance(value, ast.IfExp) else self.visit(value)

    def visit_Call(self, node: ast.Call) -> None:
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        if name in SILENT_CALLS:
            if isinstance(node.func, ast.Attribute):
                self.visit(node.func.value)
            return
        if name in WORDED:
            self.take(node, surely=False)
            self.inside(node)
            return
        self.visit(node.func)
        skipped = 1 if name == "el" else 0
        for value in node.args[skipped:]:
            self.children(value) if name in MARKUP and not isinstance(value, ast.Dict) else self.visit(value)
        for word in node.keywords:
            self.children(word.value) if word.arg in SPOKEN else self.visit(word.value)

    def visit_Dict(self, node: ast.Dict) -> None:
        keys = [key.value if isinstance(key, ast.Constant) else None for key in node.keys]
        attributes = any(isinstance(key, str) and (key in SPOKEN or key.startswith(("data-", "class"))) for key in keys)
        for key, value in zip(keys, node.values, strict=True):
            if key in SPOKEN or key == "text":
                self.children(value)
            elif attributes and gapped(value) is not None:
                continue
            else:
                self.visit(value)

    def visit_Constant(self, node: ast.Constant) -> None:
        self.take(node, surely=False)

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        self.take(node, surely=False)
        self.inside(node)

    def visit_Compare(self, node: ast.Compare) -> None:
        self.visit(node.left) if not isinstance(node.left, ast.Constant) else None

    def visit_Subscript(self, node: ast.Subscript) -> None:
        self.visit(node.value)

    def visit_Expr(self, node: ast.Expr) -> None:
        if not isinstance(node.value, ast.Constant):  # a docstring
            self.visit(node.value)

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        self.table(node.value)

    def visit_Assign(self, node: ast.Assign) -> None:
        self.table(node.value)

    def table(self, value: ast.expr | None) -> None:
        """A constant table: its values are words, its keys and what is read by position of code are not."""
        if isinstance(value, ast.Dict) and all(gapped(one) is not None for one in value.values):
            for one in value.values:
                self.take(
                    one, surely=" " in (gapped(one) or "") or (gapped(one) or "")[:1].isupper() or len(value.values) < 8
                )
        elif value is not None:
            self.visit(value)


def of_code(path: Path) -> list[tuple[int, str]]:
    """Line and text of everything that a module says to people."""
    reader = Reader()
    reader.visit(ast.parse(path.read_text(encoding="utf-8")))
    return reader.found


def of_plant(path: Path) -> Iterator[str]:
    """The faults of a component and why it refuses a command: all that the physics say to people in sentences.

    A fault is written as a name beside what the crew does about it, a sentence.
    """
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        told = (
            isinstance(node, ast.Call) and (getattr(node.func, "attr", "") or getattr(node.func, "id", "")) in TELLING
        )
        parts = node.args if isinstance(node, ast.Call) else node.elts if isinstance(node, ast.Tuple) else []
        found = [text for text in map(gapped, parts) if text and " " in text and reads(text, surely=True)]
        if told or (len(found) > 1 and found[-1].endswith(".")):
            yield from (text.strip() for text in found)


PARTS = ("name", "title", "short", "purpose")


def of_rig(data: Any, key: str = "", of: Container[str] = PARTS) -> Iterator[str]:
    """The texts of a rig's, a course's or a lesson's file: names of parts, titles. of: the keys that have them."""
    if isinstance(data, dict):
        for name, value in data.items():
            yield from of_rig(value, name, of)
    elif isinstance(data, list):
        for value in data:
            yield from of_rig(value, key, of)
    elif isinstance(data, str) and key in of:
        yield data


def engine_sources() -> list[Path]:
    """The modules of the physics."""
    return sorted([*(ROOT / "trainer" / "plant").rglob("*.py"), ROOT / "trainer" / "session" / "fitting.py"])


def sources() -> list[Path]:
    """The modules that are read."""
    found = [path for room in ROOMS for path in (ROOT / "trainer" / room).rglob("*.py")]
    found += [ROOT / "trainer" / "drills" / f"{name}.py" for name in ENGINE]
    found += [path for path in (ROOT / "trainer" / "classroom").glob("*.py") if path.stem not in UNSEEN]
    found += [ROOT / "trainer" / "naming.py", ROOT / "trainer" / "plant" / "names.py"]
    return sorted(path for path in found if path.is_file() and path.name not in SILENT_FILES)


def texts() -> Iterator[tuple[Path, str]]:
    """Every text of the pages with the file in which it stands."""
    for path in sources():
        yield from ((path, text) for _, text in of_code(path))
    for path in engine_sources():
        yield from ((path, text) for text in of_plant(path))
    yield from ((SHOWN, text) for text in SHOWN.read_text(encoding="utf-8").splitlines())
    assets = ROOT / "assets"
    for folder, of in (("courses", PARTS), ("plants", (*PARTS, "rig"))):
        for path in sorted((assets / folder).glob("*.toml")):
            yield from ((path, text) for text in of_rig(tomllib.loads(path.read_text(encoding="utf-8")), of=of))
    for path in sorted((ROOT / "scenarios" / "lessons").glob("*.toml")):
        said = tomllib.loads(path.read_text(encoding="utf-8"))
        yield from ((path, text) for text in of_rig(said, of=LED))
    for path in sorted((ROOT / "scenarios" / "rules").glob("*.toml")):
        said = tomllib.loads(path.read_text(encoding="utf-8"))
        yield from ((path, text) for text in of_rig(said, of=("title", "reason", "why", "source", "expected")))
    for path in (
        assets / "text" / "learn" / name for name in ("boards.toml", "glossary.toml", "sight.toml", "tour.toml")
    ):
        said = tomllib.loads(path.read_text(encoding="utf-8"))
        yield from ((path, text) for entry in said.values() for text in of_rig(entry, of=LESSONS))


def template() -> Catalog:
    """Every text of the pages. Of its places only the file is kept, so that a moved line changes no catalogue."""
    catalog = Catalog(project="trainer", charset="utf-8")
    for path, text in texts():
        catalog.add(text, locations=[(path.relative_to(ROOT).as_posix(), None)])
    return catalog


def ordered(catalog: Catalog) -> list[str]:
    """All texts, as they are listed."""
    return sorted(str(message.id) for message in catalog if message.id)


def read(path: Path) -> Catalog:
    """A catalogue file."""
    with path.open("rb") as file:
        return read_po(file)


def as_json(catalog: Catalog) -> str:
    """What the pages read: each text with its translation, where it has one."""
    texts = {str(message.id): message.string for message in catalog if message.id and message.string}
    return json.dumps(texts, ensure_ascii=False, indent=0, sort_keys=True) + "\n"


def main() -> None:
    """Brings every catalogue up to date, the JSON beside it, and reports what is not translated."""
    fresh = template()
    for folder in sorted(path.parent for path in LANGUAGES.glob("*/language.toml")):
        path = folder / "interface.po"
        kept = read(path) if path.is_file() else Catalog(locale=folder.name.replace("-", "_"), charset="utf-8")
        old = [*kept, *kept.obsolete.values()]
        done = {str(message.id): message.string for message in old if message.id and message.string}
        given = tomllib.loads((folder / "language.toml").read_text(encoding="utf-8"))
        note = f"# {folder.name}: texts of the pages. python -m tests.take_up keeps it up to date."
        note += f"\n# {given['draft']}" if given.get("draft") else ""
        out = Catalog(locale=folder.name.replace("-", "_"), project="trainer", header_comment=note, fuzzy=False)
        out.creation_date = out.revision_date = kept.creation_date
        for text in ordered(fresh):
            message = fresh.get(text)
            out.add(text, done.get(text, ""), locations=message.locations if message else ())
        for text in sorted(set(done) - set(ordered(out))):
            out.obsolete[text] = Message(text, done[text])  # it may come back
        with path.open("wb") as file:
            write_po(file, out, width=0, omit_header=False, include_lineno=False)
        path.with_suffix(".json").write_text(as_json(out), encoding="utf-8")
        missing = [text for text in ordered(fresh) if text not in done]
        sys.stdout.write(f"{folder.name}: {len(done)} kept, {len(missing)} not translated\n")


if __name__ == "__main__":
    main()
