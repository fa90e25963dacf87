"""Inlines small pure functions into flat code by their syntax trees.

Physics laws and logic blocks are ordinary Python functions in a restricted subset (assignments and one final return;
arithmetic, comparisons, conditional expressions, ``sqrt``, ``min``, ``max``, ``abs`` and calls of other such
functions). They are read, tested and type-checked as they stand; the compiler copies their bodies into one flat
function, because a call costs more than the law itself and the flat function is what WebAssembly is made from.

A parameter may be a list, whose length the plant decides. A law makes lists of it by comprehensions (with ``zip``
along several) and values by ``any`` and ``trainer.hydraulics.lists``; nothing is left of it in the flat function.
"""

from __future__ import annotations

import ast
import inspect
import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from trainer.hydraulics.lists import added, chosen, first_where, largest

Law = Callable[..., object]

_COMPARE: dict[type[ast.cmpop], Callable[[float, float], bool]] = {
    ast.Gt: lambda a, b: a > b,
    ast.GtE: lambda a, b: a >= b,
    ast.Lt: lambda a, b: a < b,
    ast.LtE: lambda a, b: a <= b,
    ast.Eq: lambda a, b: a == b,
    ast.NotEq: lambda a, b: a != b,
}
_ARITHMETIC: dict[type[ast.operator], Callable[[float, float], float]] = {
    ast.Add: lambda a, b: a + b,
    ast.Sub: lambda a, b: a - b,
    ast.Mult: lambda a, b: a * b,
    ast.Div: lambda a, b: a / b,
}


class SubsetError(TypeError):
    """A law uses Python outside the restricted subset; the message names the law, the line and what to write."""


@dataclass(frozen=True)
class _Parsed:
    """A law's tree: parameter names, the assignments of its body, the returned expressions, its namespace."""

    name: str
    params: tuple[str, ...]
    body: tuple[ast.Assign, ...]
    results: tuple[ast.expr, ...]
    scope: dict[str, object]


_parsed: dict[Law, _Parsed] = {}


def parse(law: Law) -> _Parsed:
    """Read a law's source once; raises SubsetError when it holds anything but assignments and a final return."""
    if law in _parsed:
        return _parsed[law]
    tree = ast.parse(textwrap.dedent(inspect.getsource(law))).body[0]
    if not isinstance(tree, ast.FunctionDef):
        raise SubsetError(f"{law!r} is not a plain function; write it with def at module level")
    statements = list(tree.body)
    first = statements[0]
    if isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant):
        statements = statements[1:]
    body: list[ast.Assign] = []
    for statement in statements[:-1]:
        if not (isinstance(statement, ast.Assign) and len(statement.targets) == 1):
            raise SubsetError(f"{law.__name__}, line {statement.lineno}: only assignments may stand before the return")
        body.append(statement)
    last = statements[-1]
    if not isinstance(last, ast.Return) or last.value is None:
        raise SubsetError(f"{law.__name__}: the last statement must return its results")
    results = tuple(last.value.elts) if isinstance(last.value, ast.Tuple) else (last.value,)
    params = tuple(a.arg for a in tree.args.args)
    found = _Parsed(law.__name__, params, tuple(body), results, dict(inspect.getmodule(law).__dict__))
    _parsed[law] = found
    return found


def constant(value: float) -> ast.expr:
    """A number as the expression of a float literal, for the tree of a law that is written out."""
    return ast.Constant(float(value))


def name(identifier: str) -> ast.expr:
    """A local variable as the expression that reads it, for the tree of a law that is written out."""
    return ast.Name(identifier, ast.Load())


class Inliner:
    """Collects flat statements; every inlined law gets its own temporary names."""

    def __init__(self) -> None:
        self.serial = 0

    def fresh(self, stem: str) -> str:
        """A local name that no other statement uses: the stem with a number that only ever counts up."""
        self.serial += 1
        return f"_{stem}{self.serial}"

    def call(self, law: Law, args: Sequence[ast.expr], out: list[ast.stmt]) -> list[ast.expr]:
        """Inline ``law(*args)``: appends statements to ``out`` and returns the results, lists written out."""
        parsed = parse(law)
        if len(args) != len(parsed.params):
            raise SubsetError(f"{parsed.name} takes {len(parsed.params)} values, was given {len(args)}")
        assigned = {t.id for s in parsed.body for t in _targets(s)}
        local: dict[str, ast.expr] = {}
        for param, arg in zip(parsed.params, args, strict=True):
            simple = isinstance(arg, ast.Constant | ast.Name | ast.List) and param not in assigned
            local[param] = arg if simple else self._keep(arg, param, out)
        for statement in parsed.body:
            targets = _targets(statement)
            values = self._values(statement.value, len(targets), parsed, local, out)
            for target, value in zip(targets, values, strict=True):
                local[target.id] = value if isinstance(value, ast.Constant) else self._keep(value, target.id, out)
        results = [self._expr(r, parsed, local, out) for r in parsed.results]
        return [e for r in results for e in (r.elts if isinstance(r, ast.List) else [r])]

    def assign(self, targets: Sequence[str], values: Sequence[ast.expr], out: list[ast.stmt]) -> None:
        """``targets = values`` all at once, as plain statements where the order does not matter."""
        pending = list(values)
        for i in range(len(pending) - 1):
            later = {n.id for v in pending[i + 1 :] for n in ast.walk(v) if isinstance(n, ast.Name)}
            if targets[i] in later:
                kept = [self._keep(v, "r", out) for v in pending]
                pending = list(kept)
                break
        for target, value in zip(targets, pending, strict=True):
            out.append(store(target, value))

    def _keep(self, value: ast.expr, stem: str, out: list[ast.stmt]) -> ast.expr:
        if isinstance(value, ast.List):
            return listed([e if isinstance(e, ast.Constant) else self._keep(e, stem, out) for e in value.elts])
        kept = self.fresh(stem)
        out.append(store(kept, value))
        return name(kept)

    def _values(
        self, node: ast.expr, count: int, parsed: _Parsed, local: dict[str, ast.expr], out: list[ast.stmt]
    ) -> list[ast.expr]:
        if count == 1:
            return [self._expr(node, parsed, local, out)]
        if isinstance(node, ast.Tuple):
            return [self._expr(e, parsed, local, out) for e in node.elts]
        if isinstance(node, ast.Call):
            return self.call(_function(node, parsed), [self._expr(a, parsed, local, out) for a in node.args], out)
        raise SubsetError(f"{parsed.name}, line {node.lineno}: several names need a tuple or a call on the right")

    def _expr(self, node: ast.expr, parsed: _Parsed, local: dict[str, ast.expr], out: list[ast.stmt]) -> ast.expr:
        def go(inner: ast.expr) -> ast.expr:
            return self._expr(inner, parsed, local, out)

        if isinstance(node, ast.Constant):
            return ast.Constant(node.value if isinstance(node.value, bool) else float(node.value))  # type: ignore[arg-type]
        if isinstance(node, ast.Name):
            return local[node.id] if node.id in local else _global(node, parsed)
        if isinstance(node, ast.BinOp):
            return fold(ast.BinOp(go(node.left), node.op, go(node.right)))
        if isinstance(node, ast.UnaryOp):
            return fold(ast.UnaryOp(node.op, go(node.operand)))
        if isinstance(node, ast.Compare):
            return fold(ast.Compare(go(node.left), node.ops, [go(c) for c in node.comparators]))
        if isinstance(node, ast.BoolOp):
            return fold(ast.BoolOp(node.op, [go(v) for v in node.values]))
        if isinstance(node, ast.IfExp):
            return fold(ast.IfExp(go(node.test), go(node.body), go(node.orelse)))
        if isinstance(node, ast.Call):
            return self._call(node, parsed, [go(a) for a in node.args], out)
        if isinstance(node, ast.List):
            return self._display(node, parsed, local, out)
        if isinstance(node, ast.ListComp | ast.GeneratorExp):
            return self._comprehension(node, parsed, local, out)
        raise SubsetError(f"{parsed.name}, line {node.lineno}: {type(node).__name__} is outside the subset")

    def _display(self, node: ast.List, parsed: _Parsed, local: dict[str, ast.expr], out: list[ast.stmt]) -> ast.expr:
        """``[value, *list]``, written out."""
        values: list[ast.expr] = []
        for part in node.elts:
            made = self._expr(part.value if isinstance(part, ast.Starred) else part, parsed, local, out)
            values += made.elts if isinstance(made, ast.List) else [made]
        return listed(values)

    def _comprehension(
        self, node: ast.ListComp | ast.GeneratorExp, parsed: _Parsed, local: dict[str, ast.expr], out: list[ast.stmt]
    ) -> ast.expr:
        """``[value for name in list]`` or ``[value for a, b in zip(list, list, strict=True)]``, written out."""
        loop = node.generators[0]
        zipped = isinstance(loop.iter, ast.Call) and isinstance(loop.iter.func, ast.Name) and loop.iter.func.id == "zip"
        sources = loop.iter.args if zipped and isinstance(loop.iter, ast.Call) else [loop.iter]
        targets = loop.target.elts if isinstance(loop.target, ast.Tuple) else [loop.target]
        lists = [self._expr(source, parsed, local, out) for source in sources]
        names = [t.id for t in targets if isinstance(t, ast.Name)]
        rows = [made.elts for made in lists if isinstance(made, ast.List)]
        if len(node.generators) > 1 or loop.ifs or not len(rows) == len(names) == len(sources):
            raise SubsetError(
                f"{parsed.name}, line {node.lineno}: a list is made by one loop over lists, with a name for each"
            )
        if len({len(row) for row in rows}) > 1:
            raise SubsetError(f"{parsed.name}, line {node.lineno}: the lists taken together differ in length")
        return listed(
            [
                self._expr(node.elt, parsed, local | self._named(names, values, out), out)
                for values in zip(*rows, strict=True)
            ]
        )

    def _named(self, names: list[str], values: Sequence[ast.expr], out: list[ast.stmt]) -> dict[str, ast.expr]:
        """Names for values that an expression may use more than once."""
        return {
            name: value if isinstance(value, ast.Constant | ast.Name) else self._keep(value, name, out)
            for name, value in zip(names, values, strict=True)
        }

    def _call(self, node: ast.Call, parsed: _Parsed, args: list[ast.expr], out: list[ast.stmt]) -> ast.expr:
        called = node.func.id if isinstance(node.func, ast.Name) else ""
        if args and isinstance(args[0], ast.List):
            made = self._of_list(called, parsed, args[0].elts, args[1:], out)
            if made is not None:
                return made
        if called == "sqrt":
            return ast.Call(name("sqrt"), args, [])
        if called in ("min", "max") and len(args) == 2:
            return self._pick(called, args[0], args[1], out)
        if called == "abs":
            a = args[0] if isinstance(args[0], ast.Constant | ast.Name) else self._keep(args[0], "m", out)
            # 0 - a and not -a: the size of a zero has no minus.
            turned = fold(ast.BinOp(constant(0.0), ast.Sub(), a))
            return fold(ast.IfExp(fold(ast.Compare(a, [ast.Gt()], [constant(0.0)])), a, turned))
        results = self.call(_function(node, parsed), args, out)
        if len(results) != 1:
            raise SubsetError(f"{parsed.name}, line {node.lineno}: {called} gives {len(results)} values, one is needed")
        return results[0]

    def _pick(self, called: str, first: ast.expr, second: ast.expr, out: list[ast.stmt]) -> ast.expr:
        """The lesser (``min``) or greater (``max``) of two."""
        a, b = (x if isinstance(x, ast.Constant | ast.Name) else self._keep(x, "m", out) for x in (first, second))
        # As Python picks: the first, unless the second is less or greater. It matters for zeros of both signs.
        op: ast.cmpop = ast.Lt() if called == "min" else ast.Gt()
        return fold(ast.IfExp(fold(ast.Compare(b, [op], [a])), b, a))

    def _of_list(
        self, called: str, parsed: _Parsed, values: list[ast.expr], others: list[ast.expr], out: list[ast.stmt]
    ) -> ast.expr | None:
        """What a function of a list gives, or None: it is a law that takes one."""
        if called == "any":
            return fold(ast.BoolOp(ast.Or(), values))
        law = parsed.scope.get(called)
        if law not in (added, largest, chosen, first_where):
            return None
        if law is first_where:
            flags, otherwise = others
            found = otherwise
            rows = list(zip(values, flags.elts if isinstance(flags, ast.List) else [], strict=True))
            for value, flag in reversed(rows):
                found = fold(ast.IfExp(fold(ast.Compare(flag, [ast.Gt()], [constant(0.5)])), value, found))
            return found
        found = values[0] if values else constant(0.0)
        for at, value in enumerate(values[1:]):
            if law is added:
                found = fold(ast.BinOp(found, ast.Add(), value))
            elif law is largest:
                found = self._pick("max", found, value, out)
            else:
                beyond = fold(ast.Compare(others[0], [ast.Gt()], [constant(at + 1.5)]))
                found = fold(ast.IfExp(beyond, value, found))
        return found


def listed(values: list[ast.expr]) -> ast.expr:
    """A list of expressions as one expression, as a parameter of type ``list[...]`` takes it."""
    return ast.List(values, ast.Load())


def store(target: str, value: ast.expr) -> ast.stmt:
    """``target = value`` as a statement: how every result of a law is kept once it is written out."""
    return ast.Assign([ast.Name(target, ast.Store())], value)


def fold(node: ast.expr) -> ast.expr:
    """Work out what is constant already, so that a fault nobody has set costs nothing.

    Only what leaves the bits alone: constants among themselves, and a product with a constant zero, which is zero for
    finite values. ``x + 0`` stays as it is, since dropping it could change the sign of a zero.
    """
    if isinstance(node, ast.BinOp):
        return _fold_arithmetic(node)
    if isinstance(node, ast.UnaryOp):
        return _fold_unary(node)
    if isinstance(node, ast.Compare) and len(node.ops) == 1:
        left, right = _number(node.left), _number(node.comparators[0])
        if left is not None and right is not None:
            return ast.Constant(_COMPARE[type(node.ops[0])](left, right))
    elif isinstance(node, ast.BoolOp):
        return _fold_bool(node)
    elif isinstance(node, ast.IfExp):
        truth = _truth(node.test)
        if truth is not None:
            return node.body if truth else node.orelse
    return node


def _fold_arithmetic(node: ast.BinOp) -> ast.expr:
    left, right = _number(node.left), _number(node.right)
    if isinstance(node.op, ast.Mult) and (left == 0.0 or right == 0.0):
        return constant(0.0)
    by_zero = isinstance(node.op, ast.Div) and right == 0.0
    if left is None or right is None or by_zero or type(node.op) not in _ARITHMETIC:
        return node
    return constant(_ARITHMETIC[type(node.op)](left, right))


def _fold_unary(node: ast.UnaryOp) -> ast.expr:
    value, truth = _number(node.operand), _truth(node.operand)
    if isinstance(node.op, ast.USub) and value is not None:
        return constant(-value)
    if isinstance(node.op, ast.Not) and truth is not None:
        return ast.Constant(not truth)
    return node


def _fold_bool(node: ast.BoolOp) -> ast.expr:
    """Drop the parts of and / or that are known; values are used as conditions only."""
    ends = isinstance(node.op, ast.Or)
    kept: list[ast.expr] = []
    for value in node.values:
        truth = _truth(value)
        if truth is None:
            kept.append(value)
        elif truth == ends:
            return ast.Constant(ends)
    if not kept:
        return ast.Constant(not ends)
    return kept[0] if len(kept) == 1 else ast.BoolOp(node.op, kept)


def _number(node: ast.expr) -> float | None:
    if isinstance(node, ast.Constant) and isinstance(node.value, float):
        return node.value
    return None


def _truth(node: ast.expr) -> bool | None:
    return bool(node.value) if isinstance(node, ast.Constant) else None


def _targets(statement: ast.Assign) -> list[ast.Name]:
    target = statement.targets[0]
    names = target.elts if isinstance(target, ast.Tuple) else [target]
    found = [n for n in names if isinstance(n, ast.Name)]
    if len(found) != len(names):
        raise SubsetError(f"line {statement.lineno}: only plain names may be assigned")
    return found


def _global(node: ast.Name, parsed: _Parsed) -> ast.expr:
    value = parsed.scope.get(node.id)
    if isinstance(value, int | float):
        return constant(value)
    raise SubsetError(f"{parsed.name}, line {node.lineno}: {node.id} is neither a parameter nor a number")


def _function(node: ast.Call, parsed: _Parsed) -> Law:
    called = parsed.scope.get(node.func.id) if isinstance(node.func, ast.Name) else None
    if not inspect.isfunction(called) or node.keywords:
        raise SubsetError(f"{parsed.name}, line {node.lineno}: only plain calls of laws are in the subset")
    return called
