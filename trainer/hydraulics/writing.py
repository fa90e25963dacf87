"""Writes the inliner's statements out as text: the few kinds of nodes that it makes, each operation in brackets.

``ast.unparse`` does the same for any tree; it wants positions on every node and looks up precedences, and took half
of the time in which a plant is compiled.
"""

from __future__ import annotations

import ast
from collections.abc import Callable
from typing import Any

_SIGNS: dict[type[ast.AST], str] = {
    ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/", ast.USub: "-", ast.UAdd: "+", ast.Not: "not ",
    ast.Gt: ">", ast.GtE: ">=", ast.Lt: "<", ast.LtE: "<=", ast.Eq: "==", ast.NotEq: "!=",
    ast.And: " and ", ast.Or: " or ",
}  # fmt: skip


def statement(node: ast.stmt) -> str:
    """One assignment as a line of source; TypeError for any other statement or a target that is no plain name."""
    if not isinstance(node, ast.Assign):
        raise TypeError(f"{type(node).__name__} is no assignment")
    target = node.targets[0]
    if not isinstance(target, ast.Name):
        raise TypeError("only plain names are assigned")
    text = expression(node.value)
    return f"{target.id} = {text[1:-1] if type(node.value) in _BRACKETED else text}"


def expression(node: ast.expr) -> str:
    """An expression, in brackets unless it is a name, a number or a call."""
    return _WRITERS[type(node)](node)


def _call(node: Any) -> str:
    return f"{expression(node.func)}({', '.join([expression(a) for a in node.args])})"


def _compare(node: Any) -> str:
    rest = [f" {_SIGNS[type(op)]} {expression(c)}" for op, c in zip(node.ops, node.comparators, strict=True)]
    return f"({expression(node.left)}{''.join(rest)})"


_WRITERS: dict[type[ast.expr], Callable[[Any], str]] = {
    ast.Name: lambda n: str(n.id),
    ast.Constant: lambda n: repr(n.value),
    ast.BinOp: lambda n: f"({expression(n.left)} {_SIGNS[type(n.op)]} {expression(n.right)})",
    ast.UnaryOp: lambda n: f"({_SIGNS[type(n.op)]}{expression(n.operand)})",
    ast.IfExp: lambda n: f"({expression(n.body)} if {expression(n.test)} else {expression(n.orelse)})",
    ast.BoolOp: lambda n: f"({_SIGNS[type(n.op)].join([expression(v) for v in n.values])})",
    ast.Compare: _compare,
    ast.Call: _call,
}
_BRACKETED = (ast.BinOp, ast.UnaryOp, ast.IfExp, ast.BoolOp, ast.Compare)
