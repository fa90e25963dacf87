"""What people read is plain trade English: banned words may only become fewer.

Counted are the texts of drills, cards and rules, the literals of the pages, and the documents; not docstrings, not
ids, not sources. After texts were improved: ``python -m tests.test_words`` writes the new, lower counts.
"""

from __future__ import annotations

import ast
import json
import re
import sys
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[1]
LIST = ROOT / "tests" / "words.toml"
TODAY = ROOT / "tests" / "words-today.json"
SILENT = {"source", "references", "id", "when", "condition", "within", "until", "tag", "target", "mark"}
"""Keys of TOML files whose text is no prose of ours."""
MOST_WORDS = 8
"""In a title."""
MARK = "words: ok"


@cache
def banned() -> list[tuple[re.Pattern[str], str]]:
    rows = tomllib.loads(LIST.read_text(encoding="utf-8"))["banned"]
    return [(re.compile(rf"\b(?:{row['word']})\b", re.IGNORECASE), row["use"]) for row in rows]


def toml_texts(data: Any, key: str = "") -> Iterator[str]:
    if isinstance(data, dict):
        for name, value in data.items():
            if name not in SILENT:
                yield from toml_texts(value, name)
    elif isinstance(data, list):
        for value in data:
            yield from toml_texts(value, key)
    elif isinstance(data, str) and " " in data:
        yield data


def python_texts(text: str) -> Iterator[str]:
    """Literals with a blank in them; docstrings and lines marked as fine left out."""
    tree = ast.parse(text)
    lines = text.splitlines()
    silent = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    silent |= {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        prose = isinstance(node, ast.Constant) and isinstance(node.value, str) and " " in node.value
        if prose and id(node) not in silent and MARK not in lines[node.lineno - 1]:
            yield node.value


def files() -> list[Path]:
    found = [ROOT / "README.md", *(ROOT / "assets" / "docs").glob("*.md")]
    found += (ROOT / "scenarios").rglob("*.toml")
    found += (ROOT / "assets").rglob("*.toml")
    found += (ROOT / "trainer").rglob("*.py")
    return sorted(path for path in found if "bench" not in path.parts)


def texts(path: Path) -> list[str]:
    text = path.read_text(encoding="utf-8")
    if path.suffix == ".toml":
        return list(toml_texts(tomllib.loads(text)))
    if path.suffix == ".py":
        return list(python_texts(text))
    return [line for line in text.splitlines() if MARK not in line]


def found_in(path: Path) -> list[str]:
    """Each banned word with what to write instead and where it stands."""
    return [
        f"'{hit[0]}' in {text[:90]!r}: write {use}"
        for text in texts(path)
        for pattern, use in banned()
        for hit in [pattern.search(text)]
        if hit
    ]


def counts() -> dict[str, int]:
    return {str(path.relative_to(ROOT)): n for path in files() if (n := len(found_in(path)))}


def test_banned_words_only_become_fewer() -> None:
    allowed = json.loads(TODAY.read_text(encoding="utf-8"))
    for name, n in counts().items():
        assert n <= allowed.get(name, 0), "\n".join([f"{name}: {n} odd words, {allowed.get(name, 0)} allowed",
                                                      *found_in(ROOT / name)])  # fmt: skip


@pytest.mark.parametrize("path", sorted((ROOT / "scenarios").glob("*.toml")), ids=lambda path: path.stem)
def test_a_reason_is_a_sentence_and_titles_are_short(path: Path) -> None:
    drill = tomllib.loads(path.read_text(encoding="utf-8"))
    for row in drill.get("criterion", []):
        assert len(row.get("title", "").split()) <= MOST_WORDS + 1, row["title"]
        assert len(row.get("why", "A reason in four words.").split()) >= 3, row


if __name__ == "__main__":
    TODAY.write_text(json.dumps(counts(), indent=1, sort_keys=True) + "\n", encoding="utf-8")
    sys.stdout.write(f"{sum(counts().values())} odd words left\n")
