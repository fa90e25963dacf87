"""Writes expressions of the flat code as numpy calls with a place for each result."""

from __future__ import annotations

import ast

_BINARY: dict[type[ast.operator], str] = {
    ast.Add: "add",
    ast.Sub: "subtract",
    ast.Mult: "multiply",
    ast.Div: "divide",
}
_COMPARE: dict[type[ast.cmpop], str] = {
    ast.Gt: "greater",
    ast.GtE: "greater_equal",
    ast.Lt: "less",
    ast.LtE: "less_equal",
    ast.Eq: "equal",
    ast.NotEq: "not_equal",
}
USED = (*_BINARY.values(), *_COMPARE.values(), "sqrt", "negative", "absolute", "minimum", "maximum", "logical_and",
        "logical_or", "logical_not", "copyto", "putmask")  # fmt: skip
"""Names of numpy's functions that the written code calls."""


class Expressions:
    """Turns expression trees into lines; hands out rooms for numbers and flags for truths, and takes them back."""

    def __init__(self, places: dict[str, int]) -> None:
        self.places = places
        self.rooms: list[str] = []
        self.flags: list[str] = []
        self.constants: dict[float, str] = {}
        self.truths: set[str] = set()
        """Temporaries that hold truths."""
        self.at: dict[str, str] = {}
        """Where each temporary lives."""
        self._free: list[str] = []
        self._free_flags: list[str] = []
        self._lines: list[str] = []
        self._leaving: list[dict[int, list[str]]] = []

    # -- rooms

    def take(self) -> list[str]:
        """The lines written since the last call."""
        lines, self._lines = self._lines, []
        return lines

    def enter(self, last: dict[int, list[str]]) -> None:
        """Begin a block; ``last`` tells after which statement a temporary is not needed any more."""
        self._leaving.append(last)

    def after(self, n: int) -> None:
        """Take back the rooms of temporaries that statement ``n`` used for the last time."""
        for name in self._leaving[-1].get(n, ()):
            place = self.at.pop(name, None)
            if place is not None:
                (self._free_flags if place.startswith("b") else self._free).append(place)

    def leave(self) -> None:
        """End a block."""
        self._leaving.pop()

    def room(self) -> str:
        """A free row for numbers."""
        if self._free:
            return self._free.pop()
        self.rooms.append(f"w{len(self.rooms)}")
        return self.rooms[-1]

    def flag(self) -> str:
        """A free row for truths, never taken back unless by ``after``."""
        if self._free_flags:
            return self._free_flags.pop()
        self.flags.append(f"b{len(self.flags)}")
        return self.flags[-1]

    def constant(self, value: float) -> str:
        """A number as an array without dimensions, which numpy takes faster than a Python number."""
        return self.constants.setdefault(value, f"k{len(self.constants)}")

    def operand(self, name: str) -> str:
        """Where a name's values stand."""
        return name if name in self.places else self.at[name]

    def _place(self, name: str, truth: bool) -> str:
        if name in self.places:
            return name
        if name not in self.at:
            self.at[name] = self.flag() if truth else self.room()
            if truth:
                self.truths.add(name)
        return self.at[name]

    # -- statements

    def store(self, name: str, value: ast.expr) -> None:
        """``name = value`` for all plants."""
        if self.is_truth(value):
            self.store_flag(value, self._place(name, True))
            return
        target = name if name in self.places else self.at.get(name, "")
        if not target:
            # A new room only once the value's own rooms are known, so that none of them is written too early.
            taken: list[str] = []
            result = self._number(value, None, taken)
            if result in taken:
                taken.remove(result)
                self.at[name] = result
            else:
                self.at[name] = self.room()
                self._lines.append(f"copyto({self.at[name]}, {result})")
            self._free += taken
            return
        taken = []
        result = self._number(value, target, taken)
        if result != target:
            self._lines.append(f"copyto({target}, {result})")
        self._free += taken

    def store_where(self, name: str, value: ast.expr, mask: str) -> None:
        """``name = value`` for the plants of ``mask``."""
        if self.is_truth(value):
            place, flag = self._place(name, True), self.flag()
            self.store_flag(value, flag)
            self._lines.append(f"putmask({place}, {mask}, {flag})")
            self._free_flags.append(flag)
            return
        taken: list[str] = []
        result = self._number(value, None, taken)
        self._lines.append(f"putmask({self._place(name, False)}, {mask}, {result})")
        self._free += taken

    def store_flag(self, value: ast.expr, flag: str) -> None:
        """Write a truth into ``flag``."""
        result = self.truth(value, flag)
        if result != flag:
            self._lines.append(f"copyto({flag}, {result})")

    # -- numbers

    def is_truth(self, node: ast.expr) -> bool:
        """Whether an expression is a truth rather than a number."""
        if isinstance(node, ast.Compare | ast.BoolOp):
            return True
        if isinstance(node, ast.UnaryOp):
            return isinstance(node.op, ast.Not)
        if isinstance(node, ast.Name):
            return node.id in self.truths
        if isinstance(node, ast.IfExp):
            return self.is_truth(node.body) and self.is_truth(node.orelse)
        return isinstance(node, ast.Constant) and isinstance(node.value, bool)

    def _number(self, node: ast.expr, out: str | None, taken: list[str]) -> str:
        """Write ``node``; the operand that holds it. Rooms taken on the way are added to ``taken``."""
        if isinstance(node, ast.Constant):
            return self.constant(float(node.value))  # type: ignore[arg-type]
        if isinstance(node, ast.Name) and node.id not in self.truths:
            return self.operand(node.id)
        if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.UAdd):
            return self._number(node.operand, out, taken)
        if isinstance(node, ast.IfExp):
            return self._choice(node, out, taken)
        inner: list[str] = []
        if isinstance(node, ast.UnaryOp) and isinstance(node.operand, ast.Constant) and isinstance(node.op, ast.USub):
            return self.constant(-float(node.operand.value))  # type: ignore[arg-type]
        if isinstance(node, ast.BinOp):
            call = _BINARY[type(node.op)]
            parts = [self._number(node.left, None, inner), self._number(node.right, None, inner)]
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
            call, parts = "negative", [self._number(node.operand, None, inner)]
        elif isinstance(node, ast.Call):
            call, parts = "sqrt", [self._number(node.args[0], None, inner)]
        elif self.is_truth(node):
            flag = self.flag()
            call, parts = "copyto", [self.truth(node, flag)]
            result = out or self._taken(taken)
            self._lines.append(f"copyto({result}, {parts[0]})")
            self._free_flags.append(flag)
            return result
        else:
            raise TypeError(f"{ast.unparse(node)!r} has no numpy form here")
        self._free += inner
        result = out or self._taken(taken)
        self._lines.append(f"{call}({', '.join(parts)}, {result})")
        return result

    def _taken(self, taken: list[str]) -> str:
        taken.append(self.room())
        return taken[-1]

    def _choice(self, node: ast.IfExp, out: str | None, taken: list[str]) -> str:
        """``a if c else b``: least, greatest and size have calls of their own; otherwise b, then a where c holds."""
        inner: list[str] = []
        short = self._extreme(node, inner)
        if short:
            self._free += inner
            result = out or self._taken(taken)
            self._lines.append(short.replace("OUT", result))
            return result
        flag = self.flag()
        test = self.truth(node.test, flag)
        if _is(node.body, 1.0) and _is(node.orelse, 0.0):
            result = out or self._taken(taken)
            self._lines.append(f"copyto({result}, {test})")
        else:
            body, orelse = self._number(node.body, None, inner), self._number(node.orelse, None, inner)
            if out is not None and out == body:
                result = out
                self._lines += [f"logical_not({test}, {flag})", f"putmask({out}, {flag}, {orelse})"]
            else:
                result = out or (orelse if orelse in inner else self._taken(taken))
                if orelse in inner and result == orelse:
                    inner.remove(orelse)
                    taken.append(orelse)
                if result != orelse:
                    self._lines.append(f"copyto({result}, {orelse})")
                self._lines.append(f"putmask({result}, {test}, {body})")
        self._free += inner
        self._free_flags.append(flag)
        return result

    def _extreme(self, node: ast.IfExp, inner: list[str]) -> str:
        """A call for ``a if a < b else b`` and its like; nothing when it is none of them."""
        test = node.test
        if not (isinstance(test, ast.Compare) and len(test.ops) == 1):
            return ""
        left, right = ast.unparse(test.left), ast.unparse(test.comparators[0])
        body, orelse = ast.unparse(node.body), ast.unparse(node.orelse)
        if (left, right) == (body, orelse) and isinstance(test.ops[0], ast.Lt | ast.Gt):
            call = "minimum" if isinstance(test.ops[0], ast.Lt) else "maximum"
            a, b = self._number(node.body, None, inner), self._number(node.orelse, None, inner)
            return f"{call}({a}, {b}, out=OUT)"
        if left == body and right == "0.0" and orelse == f"-{body}" and isinstance(test.ops[0], ast.GtE):
            return f"absolute({self._number(node.body, None, inner)}, OUT)"
        return ""

    # -- truths

    def truth(self, node: ast.expr, flag: str) -> str:
        """Write a condition into ``flag`` or find where it stands already."""
        if isinstance(node, ast.Name) and node.id in self.truths:
            return self.operand(node.id)
        taken: list[str] = []
        if isinstance(node, ast.Constant):
            self._lines.append(f"copyto({flag}, {bool(node.value)})")
        elif isinstance(node, ast.Compare):
            self._compare(node, flag, taken)
        elif isinstance(node, ast.BoolOp):
            call = "logical_and" if isinstance(node.op, ast.And) else "logical_or"
            result = self.truth(node.values[0], flag)
            for value in node.values[1:]:
                other = self.flag()
                self._lines.append(f"{call}({result}, {self._late(value, other)}, {flag})")
                result = flag
                self._free_flags.append(other)
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
            self._lines.append(f"logical_not({self._late(node.operand, flag)}, {flag})")
        elif isinstance(node, ast.IfExp) and self.is_truth(node):
            test, other = self.flag(), self.flag()
            condition = self.truth(node.test, test)
            chosen = self.truth(node.body, other)
            self.store_flag(node.orelse, flag)
            self._lines.append(f"putmask({flag}, {condition}, {chosen})")
            self._free_flags += [test, other]
        else:
            self._lines.append(f"not_equal({self._number(node, None, taken)}, {self.constant(0.0)}, {flag})")
        self._free += taken
        return flag

    def _late(self, node: ast.expr, flag: str) -> str:
        return self.truth(node, flag)

    def _compare(self, node: ast.Compare, flag: str, taken: list[str]) -> None:
        left = self._number(node.left, None, taken)
        for n, (op, right_node) in enumerate(zip(node.ops, node.comparators, strict=True)):
            right = self._number(right_node, None, taken)
            place = flag if n == 0 else self.flag()
            self._lines.append(f"{_COMPARE[type(op)]}({left}, {right}, {place})")
            if n:
                self._lines.append(f"logical_and({flag}, {place}, {flag})")
                self._free_flags.append(place)
            left = right


def _is(node: ast.expr, value: float) -> bool:
    return isinstance(node, ast.Constant) and node.value == value
