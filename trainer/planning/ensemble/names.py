"""Where the temporaries of a flat function live: which block owns each name, and what may share a room.

The flat function is a tree of blocks (``if`` of a part that may sleep, the loops of ticks and of Newton's rule). A name
that is written before it is read in each of the blocks where it stands belongs to each of them alone and is renamed
apart; otherwise it belongs to the innermost block around all its places. A write inside a block may only touch the
plants for which the block runs when the name belongs to a block further out.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator

Block = list[ast.stmt]


def children(statement: ast.stmt) -> Block | None:
    """The inner statements of an ``if`` or a loop."""
    return statement.body if isinstance(statement, ast.If | ast.For) else None


def own_names(statement: ast.stmt) -> Iterator[tuple[str, bool]]:
    """Names in evaluation order with whether they are written; of a block, only those of its test."""
    if isinstance(statement, ast.Assign):
        for node in ast.walk(statement.value):
            if isinstance(node, ast.Name):
                yield node.id, False
        for target in statement.targets:
            assert isinstance(target, ast.Name)
            yield target.id, True
    elif isinstance(statement, ast.AugAssign):
        assert isinstance(statement.target, ast.Name)
        for node in ast.walk(statement.value):
            if isinstance(node, ast.Name):
                yield node.id, False
        yield statement.target.id, False
        yield statement.target.id, True
    elif isinstance(statement, ast.If):
        for node in ast.walk(statement.test):
            if isinstance(node, ast.Name):
                yield node.id, False


class Owners:
    """Renames apart and finds the owner of every name that is not one of ``rows`` (the state)."""

    def __init__(self, body: Block, rows: set[str]) -> None:
        self.rows = rows
        self.serial = 0
        self.owner: dict[str, int] = {}
        """Name to the id of the block that owns it."""
        self._split(body, set())
        self._place(body)

    def _held(self, body: Block) -> set[str]:
        """All temporaries that stand anywhere in ``body``."""
        found: set[str] = set()
        for statement in body:
            for node in ast.walk(statement):
                if isinstance(node, ast.Name) and node.id not in self.rows:
                    found.add(node.id)
        return found

    def _split(self, body: Block, pinned: set[str]) -> None:
        """Rename the temporaries of inner blocks apart, except the ``pinned`` that a block further out has too."""
        inner: list[Block] = [block for s in body if (block := children(s)) is not None]
        crossing = pinned | self._crossing(body)
        for block in inner:
            self.serial += 1
            _rename(block, {name: f"{name}_{self.serial}r" for name in self._held(block) - crossing})
            self._split(block, crossing)

    def _crossing(self, body: Block) -> set[str]:
        """Names whose values pass from one part of ``body`` to another through an inner block."""
        crossing: set[str] = set()
        last: dict[str, str] = {}
        for statement in body:
            for name, written in own_names(statement):
                if written:
                    last[name] = "own"
                elif last.get(name) == "inner":
                    crossing.add(name)
            block = children(statement)
            if block is None:
                continue
            fresh = _written_first(block)
            for name in self._held(block):
                if name not in fresh:
                    crossing.add(name)
                last[name] = "inner"
        return crossing

    def _place(self, body: Block) -> None:
        """The innermost block around all places of each name."""
        paths: dict[str, tuple[int, ...]] = {}

        def visit(block: Block, path: tuple[int, ...]) -> None:
            for statement in block:
                for name, _ in own_names(statement):
                    if name in self.rows:
                        continue
                    known = paths.get(name)
                    paths[name] = path if known is None else _common(known, path)
                inner = children(statement)
                if inner is not None:
                    visit(inner, (*path, id(inner)))

        visit(body, (id(body),))
        self.owner = {name: path[-1] for name, path in paths.items()}


def written_in(body: Block) -> set[str]:
    """All names written anywhere in ``body``."""
    found: set[str] = set()
    for statement in body:
        found.update(name for name, written in own_names(statement) if written)
        inner = children(statement)
        if inner is not None:
            found |= written_in(inner)
    return found


def _written_first(block: Block) -> set[str]:
    """Names that ``block`` itself writes before it or an inner block reads them."""
    fresh: set[str] = set()
    seen: set[str] = set()
    for statement in block:
        for name, written in own_names(statement):
            if name not in seen:
                seen.add(name)
                if written:
                    fresh.add(name)
        inner = children(statement)
        if inner is not None:
            for node in ast.walk(ast.Module(inner, [])):
                if isinstance(node, ast.Name):
                    seen.add(node.id)
    return fresh


def _common(a: tuple[int, ...], b: tuple[int, ...]) -> tuple[int, ...]:
    n = 0
    while n < min(len(a), len(b)) and a[n] == b[n]:
        n += 1
    return a[:n]


def _rename(block: Block, names: dict[str, str]) -> None:
    for statement in block:
        for node in ast.walk(statement):
            if isinstance(node, ast.Name):
                node.id = names.get(node.id, node.id)
