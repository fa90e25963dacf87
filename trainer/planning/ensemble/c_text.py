"""Rewrites the flat scalar function of a plant as C: the same operations in the same order, on doubles.

The flat function knows only assignments, ``if`` without ``else``, counted loops, ``break``, arithmetic, comparisons and
the square root, so that each node has one form in C. Numbers are written in hexadecimal, which loses no bit. Variables
get a prefix, so that no name of a plant meets a word of C.
"""

from __future__ import annotations

import ast
from collections.abc import Callable, Iterator
from typing import Any

_SIGNS: dict[type[ast.AST], str] = {
    ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/", ast.USub: "-", ast.UAdd: "+", ast.Not: "!",
    ast.Gt: ">", ast.GtE: ">=", ast.Lt: "<", ast.LtE: "<=", ast.Eq: "==", ast.NotEq: "!=", ast.And: "&&", ast.Or: "||",
}  # fmt: skip

# Registers that hold more than a double would give other last bits than the scalar engine.
_HEAD = """#include <float.h>
#include <math.h>
#if FLT_EVAL_METHOD != 0
#error "this machine rounds doubles late"
#endif

static void advance(double *restrict s) {
"""
_TAIL = """}

void columns(double *states, long long size, long long count, long long scans) {
    for (long long plant = 0; plant < count; plant++)
        for (long long scan = 0; scan < scans; scan++) advance(states + plant * size);
}
"""


def c_text(source: str) -> str:
    """A C module with ``columns(states, size, count, scans)``: advances ``count`` plants of ``size`` variables each.

    ``source`` is the scalar function's; TypeError when it holds something that has no form here.
    """
    function = ast.parse(source).body[0]
    assert isinstance(function, ast.FunctionDef)
    written = {node.id for node in ast.walk(function) if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store)}
    # What nobody has written yet is never read; nought keeps the compiler from asking.
    declared = [f"    double v_{name} = 0.0;" for name in sorted(written)]
    return _HEAD + "\n".join([*declared, *_statements(function.body, 1)]) + "\n" + _TAIL


def _statements(body: list[ast.stmt], depth: int) -> Iterator[str]:
    pad = "    " * depth
    for node in body:
        match node:
            case ast.Assign(targets=[target]):
                yield f"{pad}{_expression(target)} = {_expression(node.value)};"
            case ast.AugAssign():
                yield f"{pad}{_expression(node.target)} {_SIGNS[type(node.op)]}= {_expression(node.value)};"
            case ast.If(orelse=[]):
                yield f"{pad}if ({_expression(node.test)}) {{"
                yield from _statements(node.body, depth + 1)
                yield f"{pad}}}"
            case ast.For(iter=ast.Call(func=ast.Name(id="range"), args=[ast.Constant(value=int(times))])):
                yield f"{pad}for (int n{depth} = 0; n{depth} < {times}; n{depth}++) {{"
                yield from _statements(node.body, depth + 1)
                yield f"{pad}}}"
            case ast.Break():
                yield f"{pad}break;"
            case ast.Pass():
                pass
            case _:
                raise TypeError(f"the flat code holds {ast.unparse(node)!r}, which has no form in C here")


def _expression(node: ast.expr) -> str:
    """An expression, in brackets unless it is a name, a number or a call."""
    writer = _WRITERS.get(type(node))
    if writer is None or (isinstance(node, ast.BinOp) and type(node.op) not in _SIGNS):
        raise TypeError(f"the flat code holds {ast.unparse(node)!r}, which has no form in C here")
    return writer(node)


def _compare(node: Any) -> str:
    sides = [_expression(side) for side in (node.left, *node.comparators)]
    parts = [f"({a} {_SIGNS[type(op)]} {b})" for a, op, b in zip(sides, node.ops, sides[1:], strict=False)]
    return f"({' && '.join(parts)})"


def _call(node: Any) -> str:
    if not isinstance(node.func, ast.Name) or node.func.id != "sqrt" or len(node.args) != 1:
        raise TypeError(f"the flat code calls {ast.unparse(node)!r}, which has no form in C here")
    return f"sqrt({_expression(node.args[0])})"


_WRITERS: dict[type[ast.expr], Callable[[Any], str]] = {
    ast.Name: lambda n: f"v_{n.id}",
    ast.Constant: lambda n: float(n.value).hex(),
    ast.Subscript: lambda n: f"s[{n.slice.value}]",
    ast.BinOp: lambda n: f"({_expression(n.left)} {_SIGNS[type(n.op)]} {_expression(n.right)})",
    ast.UnaryOp: lambda n: f"({_SIGNS[type(n.op)]}{_expression(n.operand)})",
    ast.IfExp: lambda n: f"({_expression(n.test)} ? {_expression(n.body)} : {_expression(n.orelse)})",
    ast.BoolOp: lambda n: f"({f' {_SIGNS[type(n.op)]} '.join([_expression(v) for v in n.values])})",
    ast.Compare: _compare,
    ast.Call: _call,
}
