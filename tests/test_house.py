"""The house stays easy to see: no import circles, one home for one idea, and counts that may only fall.

Everything here is read from the sources, by ``ast``: nothing is imported and no plant is built.
"""

from __future__ import annotations

import ast
import gc
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "trainer"

#: Lines with ``Any``, and public docstrings under 60 characters: lower them as they fall, never raise them.
ANY_LINES = 351
SHORT_DOCSTRINGS = 170
#: Fixed waits of the tests by file: polls, the pace of a hand, and what a long form measures. No others.
WAITS = {
    "tests/browser/hands.py": 6,
    "tests/browser/test_takeaway.py": 2,
    "tests/browser/visits.py": 1,
    "tests/chromium.py": 1,
    "tests/classroom/test_crash.py": 1,
    "tests/classroom/test_disk.py": 1,
    "tests/classroom/test_load.py": 2,
    "tests/records/store.py": 1,
    "tests/screenshots.py": 2,
    "tests/waiting.py": 1,
}


@cache
def sources() -> dict[str, tuple[str, ast.Module]]:
    """The package's modules by dotted name: text and tree."""
    # Half a million nodes that stay: the collector need not go over them again and again.
    gc.disable()
    found = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        name = ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
        text = path.read_text(encoding="utf-8")
        found[name] = (text, ast.parse(text))
    gc.freeze()
    gc.enable()
    return found


OF_INTEREST = (
    ast.Import,
    ast.ImportFrom,
    ast.Assign,
    ast.AnnAssign,
    ast.ClassDef,
    ast.FunctionDef,
    ast.AsyncFunctionDef,
)


def of_interest(node: ast.AST) -> bool:
    """Whether some test looks at a node."""
    if isinstance(node, ast.Attribute):
        return isinstance(node.ctx, ast.Store) or node.attr.startswith("_")
    if isinstance(node, ast.Name):
        return isinstance(node.ctx, ast.Store)
    return isinstance(node, OF_INTEREST) or (isinstance(node, ast.Constant) and isinstance(node.value, float))


@cache
def nodes() -> dict[str, list[ast.AST]]:
    """What the tests look at in each module, wherever it stands: walked once for all of them."""
    return {name: [node for node in ast.walk(tree) if of_interest(node)] for name, (_, tree) in sources().items()}


def imported(module: str) -> Iterator[str]:
    """The package's modules that a module names, also inside functions and for types only."""
    known = sources()
    for node in nodes()[module]:
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name in known)
        elif isinstance(node, ast.ImportFrom) and node.module:
            for alias in node.names:
                inner = f"{node.module}.{alias.name}"
                if inner in known or node.module in known:
                    yield inner if inner in known else node.module


def circles(graph: dict[str, set[str]]) -> list[set[str]]:
    """The strongly connected parts of a graph with more than one member, by Kosaraju's two walks.

    >>> circles({"a": {"b"}, "b": {"a"}, "c": {"a"}}) == [{"a", "b"}]
    True
    """
    seen: set[str] = set()
    order: list[str] = []

    def walk(start: str, ways: dict[str, set[str]], into: list[str]) -> None:
        stack = [(start, iter(sorted(ways[start])))]
        seen.add(start)
        while stack:
            name, left = stack[-1]
            following = next((one for one in left if one not in seen), None)
            if following is None:
                into.append(name)
                stack.pop()
            else:
                seen.add(following)
                stack.append((following, iter(sorted(ways[following]))))

    for name in graph:
        if name not in seen:
            walk(name, graph, order)
    back: dict[str, set[str]] = {name: set() for name in graph}
    for name, ways in graph.items():
        for way in ways:
            back[way].add(name)
    seen.clear()
    found = []
    for name in reversed(order):
        if name not in seen:
            part: list[str] = []
            walk(name, back, part)
            if len(part) > 1:
                found.append(set(part))
    return found


def test_no_module_imports_itself_by_way_of_others() -> None:
    """Not even for types alone, nor inside a function: what needs each other is one module, or needs a third."""
    graph = {name: set(imported(name)) - {name} for name in sources()}
    assert len(graph) > 300
    assert circles({"a": {"b"}, "b": {"c"}, "c": {"a"}, "d": {"a"}}) == [{"a", "b", "c"}]
    assert circles(graph) == []


def constants() -> set[str]:
    """The names that ``trainer.constants`` defines."""
    tree = sources()["trainer.constants"][1]
    return {n.target.id for n in tree.body if isinstance(n, ast.AnnAssign) and isinstance(n.target, ast.Name)}


def test_a_constant_has_one_home() -> None:
    names, values = constants(), {9.80665, 101325.0, 273.15}
    assert {"SCAN", "GRAVITY", "ATMOSPHERE"} <= names
    for module, found in nodes().items():
        if module == "trainer.constants":
            continue
        for node in found:
            if isinstance(node, ast.Assign | ast.AnnAssign):
                targets = node.targets if isinstance(node, ast.Assign) else [node.target]
                again = {t.id for t in targets if isinstance(t, ast.Name)} & names
                assert not again, f"{module} defines {again} again: import it from trainer.constants"
            if isinstance(node, ast.Constant) and isinstance(node.value, float):
                assert node.value not in values, f"{module}:{node.lineno} writes {node.value}: use trainer.constants"


def test_ids_become_words_in_one_place() -> None:
    again = re.compile(r"""replace\(["']_["'], ?["'] ["']\)""")
    found = [name for name, (text, _) in sources().items() if name != "trainer.naming" and again.search(text)]
    assert found == [], "use trainer.naming"


def test_every_number_of_the_plant_says_what_it_is() -> None:
    """A docstring after it, a comment above it or beside it: unit, and where it comes from."""
    silent = []
    for name, (text, tree) in sources().items():
        if not name.startswith(("trainer.plant.", "trainer.hydraulics.")) and name != "trainer.constants":
            continue
        lines = text.splitlines()
        for node, following in zip(tree.body, [*tree.body[1:], None], strict=True):
            if not isinstance(node, ast.Assign | ast.AnnAssign) or not _number(node.value):
                continue
            told = isinstance(following, ast.Expr) and isinstance(following.value, ast.Constant)
            above, line = lines[node.lineno - 2], lines[(node.end_lineno or node.lineno) - 1]
            if not told and not above.lstrip().startswith("#") and "#" not in line:
                silent.append(f"{name}:{node.lineno}: {line}")
    assert silent == []


def _number(value: ast.expr | None) -> bool:
    if isinstance(value, ast.BinOp):
        return not isinstance(value.op, ast.BitOr) and (_number(value.left) or _number(value.right))
    if isinstance(value, ast.UnaryOp):
        return _number(value.operand)
    return isinstance(value, ast.Constant) and isinstance(value.value, float)


def public(body: list[ast.stmt], within: str) -> Iterator[tuple[str, str]]:
    """Public functions, classes and methods with their docstrings."""
    for node in body:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            text = ast.get_docstring(node)
            if text is not None:
                yield f"{within}.{node.name}", text
            if isinstance(node, ast.ClassDef):
                yield from public(node.body, f"{within}.{node.name}")


def test_short_docstrings_only_become_fewer() -> None:
    """A public docstring says what comes back, in what unit, what None means and what goes wrong."""
    short = [name for module, (_, tree) in sources().items() for name, text in public(tree.body, module)
             if len(text) < 60]  # fmt: skip
    assert len(short) <= SHORT_DOCSTRINGS, f"{len(short)} are short, {SHORT_DOCSTRINGS} were; write the new ones out"


def test_any_only_becomes_rarer() -> None:
    lines = [line for text, _ in sources().values() for line in text.splitlines() if re.search(r"\bAny\b", line)]
    assert len(lines) <= ANY_LINES, f"{len(lines)} lines with Any, {ANY_LINES} were: name the type"


def test_tests_wait_for_conditions() -> None:
    fixed = re.compile(r"wait_for_timeout\(|(?<!def )\bsleep\((?!0\))")
    found = {}
    for path in sorted((ROOT / "tests").rglob("*.py")):
        count = len(fixed.findall(path.read_text(encoding="utf-8")))
        if count and path != Path(__file__):
            found[str(path.relative_to(ROOT))] = count
    for name, count in found.items():
        assert count <= WAITS.get(name, 0), f"{name} waits for a time {count} times: wait for a condition"


@pytest.mark.parametrize("name", ["Desk", "Machine", "Part", "Run"])
def test_no_class_has_the_name_of_everything(name: str) -> None:
    """Names that once stood for four things each; what a class is called is what it is."""
    homes = [
        module
        for module, found in nodes().items()
        if any(isinstance(node, ast.ClassDef) and node.name == name for node in found)
    ]
    assert len(homes) <= 1, homes


PRIVATE = {
    "_func": {"trainer.runtime.by_wasmtime"},
    "_exit": {"trainer.classroom.worker"},  # documented in the standard library, in spite of its name
    "wasmtime._ffi": {"trainer.runtime.by_wasmtime"},
}
"""Private parts of other packages that are used, and where; ``test_repo.py`` holds them to their one place."""


def test_no_other_private_part_of_another_package_is_used() -> None:
    """A private name that nothing in the package defines is somebody else's."""
    own: set[str] = set()
    used: dict[str, set[str]] = {}
    for module, found in nodes().items():
        for node in found:
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
                own.add(node.name)
            elif isinstance(node, ast.Name):
                own.add(node.id)
            elif isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Store):
                own.add(node.attr)
            elif isinstance(node, ast.Attribute) and re.match("_[^_]", node.attr):
                used.setdefault(node.attr, set()).add(module)
            elif isinstance(node, ast.ImportFrom) and re.search(r"(^|\.)_[^_]", node.module or ""):
                used.setdefault(node.module or "", set()).add(module)
    assert {name: places for name, places in used.items() if name not in own} == PRIVATE
