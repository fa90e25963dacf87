"""Rewrites the flat scalar function of a plant as numpy code over many plants: one row a variable, one column a plant.

Every operation stays the operation it was, in the same order, so that a column equals the scalar engine. What differs
between plants is handled by masks: a part that may sleep is computed when it is awake in any plant and merged only
where it is; Newton's rule goes on while any plant moves and leaves alone those that have settled. What a mask hides may
be nonsense (a division by nothing): it never reaches a plant.

Rows are written in place, temporaries live in rooms that are used again: numpy's cost here is the call, not the sum.
"""

from __future__ import annotations

import ast
import re

from trainer.planning.ensemble.expressions import Expressions
from trainer.planning.ensemble.names import Block, Owners, children, own_names, written_in

_LOAD = re.compile(r"s\[(\d+)\]$")
PAD = "    "


def translate(source: str) -> str:
    """The text of a generator function ``columns(S, rooms, flags, N, constants)`` that advances ``S`` by a scan a step.

    ``source`` is the scalar function's; TypeError when it holds a statement that has no numpy form.
    """
    function = ast.parse(source).body[0]
    assert isinstance(function, ast.FunctionDef)
    places: dict[str, int] = {}
    body = _strip(function.body, places)
    return _Translation(body, places).text()


def _strip(body: Block, places: dict[str, int]) -> Block:
    """The body without loads and stores of the state list; their places are kept."""
    kept: Block = []
    for statement in body:
        if isinstance(statement, ast.Assign):
            target, value = ast.unparse(statement.targets[0]), ast.unparse(statement.value)
            loaded = _LOAD.match(value)
            if loaded:
                places[target] = int(loaded.group(1))
                continue
            if _LOAD.match(target):
                continue
        inner = children(statement)
        if inner is not None:
            inner[:] = _strip(inner, places)
            if not inner:
                continue
        if not isinstance(statement, ast.Pass):
            kept.append(statement)
    return kept


class _Translation:
    """Writes the generator's statements."""

    def __init__(self, body: Block, places: dict[str, int]) -> None:
        self.body = body
        self.places = places
        self.owners = Owners(body, set(places))
        self.code = Expressions(self.places)
        self.lines: list[str] = []
        self.depth = 2
        self.masks: dict[str, tuple[str, str]] = {}
        """Tests whose mask and count stand already in a variable."""
        self.settled = ""
        """Where a plant has left Newton's rule."""
        self.within: dict[tuple[str, str], str] = {}
        """Masks of tests narrowed by the mask of the block around."""

    def text(self) -> str:
        self._block(self.body, "")
        head = ["def columns(S, W, B, N, K):"]
        head += [f"{PAD}{name} = S[{place}]" for name, place in self.places.items()]
        head += [f"{PAD}{room} = W[{n}]" for n, room in enumerate(self.code.rooms)]
        head += [f"{PAD}{flag} = B[{n}]" for n, flag in enumerate(self.code.flags)]
        head += [f"{PAD}{name} = K[{n}]" for n, name in enumerate(self.code.constants.values())]
        head += [f"{PAD}while True:", f"{PAD * 2}yield"]
        tail = [f"ROOMS = {len(self.code.rooms)}", f"FLAGS = {len(self.code.flags)}"]
        tail.append(f"CONSTANTS = {list(self.code.constants)!r}")
        return "\n".join([*head, *self.lines, *tail]) + "\n"

    def _write(self, line: str) -> None:
        self.lines.append(PAD * self.depth + line)

    def _flush(self) -> None:
        for line in self.code.take():
            self._write(line)

    # -- statements

    def _block(self, body: Block, mask: str) -> None:
        """Write the statements of a block that runs for the plants of ``mask`` (all when empty)."""
        self.code.enter(_last_places(body, self.owners.owner))
        for n, statement in enumerate(body):
            if _leaves(statement):
                assert isinstance(statement, ast.If)
                self.code.store_flag(statement.test, self.settled)
                self._flush()
            elif isinstance(statement, ast.If):
                self._if(statement, mask)
            elif isinstance(statement, ast.For):
                self._loop(statement, mask)
            elif isinstance(statement, ast.Assign | ast.AugAssign):
                self._store(statement, mask, id(body))
            else:
                raise TypeError(f"the flat code holds {ast.unparse(statement)!r}, which has no numpy form here")
            self.code.after(n)
        self.code.leave()

    def _store(self, statement: ast.Assign | ast.AugAssign, mask: str, block: int) -> None:
        target = statement.targets[0] if isinstance(statement, ast.Assign) else statement.target
        assert isinstance(target, ast.Name)
        value = statement.value
        if isinstance(statement, ast.AugAssign):
            value = ast.BinOp(ast.Name(target.id, ast.Load()), statement.op, value)
        own = self.owners.owner.get(target.id) == block
        if own or not mask:
            self.code.store(target.id, value)
        else:
            self.code.store_where(target.id, value, mask)
        self._flush()
        self._forget({target.id})

    def _forget(self, written: set[str]) -> None:
        """Masks of tests on these names hold no longer."""
        for test in [t for t in self.masks if t.removeprefix("not ") in written]:
            del self.masks[test]
        for key in [k for k in self.within if k[0].removeprefix("not ") in written or k[1] in written]:
            del self.within[key]

    def _mask(self, test: str) -> tuple[str, str]:
        """Variable names of a test's mask and of the number of plants that pass it."""
        if test not in self.masks:
            flag, count = self.code.flag(), f"n_{len(self.lines)}"
            name = test.removeprefix("not ")
            compare = "equal" if test.startswith("not ") else "not_equal"
            self._write(f"{compare}({self.code.operand(name)}, {self.code.constant(0.0)}, {flag})")
            self._write(f"{count} = count({flag})")
            self.masks[test] = (flag, count)
        return self.masks[test]

    def _if(self, statement: ast.If, mask: str) -> None:
        test = ast.unparse(statement.test)
        if not re.fullmatch(r"(not )?\w+", test) or statement.orelse:
            raise TypeError(f"the flat code tests {test!r}, which has no numpy form here")
        flag, count = self._mask(test)
        self._write(f"if {count}:")
        self.depth += 1
        kept, held = dict(self.masks), dict(self.within)
        inner = flag
        if mask:
            inner = self.within.get((test, mask), "")
            if not inner:
                inner = self.code.flag()
                self._write(f"logical_and({flag}, {mask}, {inner})")
        self._block(statement.body, inner)
        self.depth -= 1
        self.masks, self.within = kept, held
        self._forget(written_in(statement.body))

    def _loop(self, statement: ast.For, mask: str) -> None:
        body = list(statement.body)
        written = written_in(body)
        self._forget(written)
        self._hoist(body, written)
        times = ast.unparse(statement.iter)
        if _leaves(body[-1]):
            self._newton(statement, times, mask)
            return
        self._write(f"for _ in {times}:")
        self.depth += 1
        kept = dict(self.masks)
        self._block(statement.body, mask)
        self.depth -= 1
        self.masks = kept
        self._forget(written)

    def _hoist(self, body: Block, written: set[str]) -> None:
        """Work out once, before a loop, the masks of tests that the loop does not change."""
        for statement in body:
            if isinstance(statement, ast.If):
                test = ast.unparse(statement.test)
                if re.fullmatch(r"(not )?\w+", test) and test.removeprefix("not ") not in written:
                    self._mask(test)
            elif isinstance(statement, ast.For):
                self._hoist(statement.body, written)

    def _newton(self, statement: ast.For, times: str, mask: str) -> None:
        """A loop that each plant leaves on its own: the first round is for all, the rest for those not yet settled."""
        limit = re.fullmatch(r"range\((\d+)\)", times)
        if mask or limit is None:
            raise TypeError("Newton's rule inside a part that may sleep has no numpy form here")
        kept = dict(self.masks)
        self.settled, live = self.code.flag(), self.code.flag()
        self._block(statement.body, "")
        self._write(f"logical_not({self.settled}, {live})")
        self._write(f"left = count({live})")
        self._write(f"for _ in range({int(limit.group(1)) - 1}):")
        self.depth += 1
        self._write("if not left: break")
        self.masks, self.within = dict(kept), {}
        self._block(statement.body, live)
        self._write(f"greater({live}, {self.settled}, {live})")
        self._write(f"left = count({live})")
        self.depth -= 1
        self.masks, self.within = kept, {}


def _leaves(statement: ast.stmt) -> bool:
    """Whether a statement is the way out of a loop."""
    return isinstance(statement, ast.If) and isinstance(statement.body[0], ast.Break)


def _last_places(body: Block, owner: dict[str, int]) -> dict[int, list[str]]:
    """For each statement of ``body``, the temporaries of this block alone that are used there for the last time."""
    last: dict[str, int] = {}
    deeper: set[str] = set()
    for n, statement in enumerate(body):
        for name, _ in own_names(statement):
            if owner.get(name) == id(body):
                last[name] = n
        inner = children(statement)
        if inner is not None:
            deeper |= {node.id for part in inner for node in ast.walk(part) if isinstance(node, ast.Name)}
    found: dict[int, list[str]] = {}
    for name, n in last.items():
        if name not in deeper:
            found.setdefault(n, []).append(name)
    return found
