"""Translates the flat function of a plant into a WebAssembly module that gives the same bits.

WebAssembly's arithmetic is IEEE 754 binary64 by specification, as CPython's is; only the payload of a NaN is free, and
no state is NaN (below). Each form is proved against CPython in ``tests/hydraulics/test_translate.py``; any other form
is refused here. What CPython does beyond arithmetic is done here too:

- A division by zero, or the square root of a negative number, stops CPython. Here it is noted, and reported at the
  end of the scan. A scan that leaves a state which is not finite is reported in the same way.
- ``and`` and ``or`` end at the first operand that decides; where what follows can neither divide nor take a root,
  that makes no difference, and both are worked out.
- True and False are numbers as well. They are kept as 1.0 and 0.0; arithmetic that CPython would do on whole numbers
  (``-True``, ``True + True``) is refused, since a whole zero has no sign.

The code is cut into functions of a few hundred statements: as one function, compilers for WebAssembly take minutes.
A name that one function alone uses, and sets before it reads it, is a local there; the others lie in memory.

The module's functions work on addresses: ``state`` of a plant's doubles and ``scratch`` for ``Sizes.scratch`` more.
"""

from __future__ import annotations

import ast
import json
import math
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import Any, ClassVar, TypeAlias

from trainer.hydraulics import webassembly as wasm

PIECE = 900
"""Uses of names in one function: some 300 statements."""

STATE, SCRATCH = 0, 1
FLOAT, TRUTH = frozenset({"float"}), frozenset({"truth"})
Kind = frozenset[str]

ARITHMETIC: dict[type[ast.operator], bytes] = {
    ast.Add: wasm.ADD, ast.Sub: wasm.SUB, ast.Mult: wasm.MULTIPLY, ast.Div: wasm.DIVIDE,
}  # fmt: skip
COMPARE: dict[type[ast.cmpop], bytes] = {
    ast.Eq: wasm.EQ, ast.NotEq: wasm.NE, ast.Lt: wasm.LT, ast.Gt: wasm.GT, ast.LtE: wasm.LE, ast.GtE: wasm.GE,
}  # fmt: skip


class FormError(TypeError):
    """The flat function holds a form that is not proved equal; the message names the form and the line."""


@dataclass(frozen=True)
class Sizes:
    """Doubles of a plant's state, and of the scratch memory beside it."""

    state: int
    scratch: int


@dataclass(frozen=True)
class Call:
    """A step of the driver: the statements of the piece that has this number."""

    number: int


@dataclass(frozen=True)
class Leave:
    """A step of the driver: ``if test: break``, which ends the innermost loop that it stands in."""

    test: ast.expr


@dataclass(frozen=True)
class Repeat:
    """A step of the driver: a counted loop over steps, passed ``times`` times at most."""

    times: int
    steps: tuple[Step, ...]


@dataclass(frozen=True)
class Branch:
    """A step of the driver, where plants go in pairs: ``if test:``."""

    test: ast.expr
    steps: tuple[Step, ...]


Step: TypeAlias = "Call | Leave | Repeat | Branch"


def translate(source: str, size: int, finite: bool = True) -> bytes:
    """The module of a flat function over ``size`` doubles; FormError for what is not proved equal.

    Without ``finite`` it does not look whether all doubles are finite after a scan.

    It exports ``run(state, scratch, stride, plants, scans)``, addresses and ``stride`` in bytes: advances each of
    ``plants`` states that lie ``stride`` apart by ``scans`` scans and returns 0, or the number of the first plant,
    from 1, whose numbers gave out; it stops there.
    """
    return Module(statements_of(source), size, finite).binary()


def statements_of(source: str) -> list[ast.stmt]:
    """The statements of a flat function; FormError where the text holds something else."""
    function = ast.parse(source).body[0]
    if not isinstance(function, ast.FunctionDef) or ast.unparse(function.args) != "s, sqrt=sqrt":
        raise FormError("the flat function has to begin with 'def advance(s, sqrt=sqrt):'")
    return function.body


def sizes(module: bytes) -> Sizes:
    """What a module says of itself; ValueError for one that no translator of this trainer made."""
    mark = wasm.name("plant") + b"{"
    at = module.rfind(mark)
    if not module.startswith(b"\0asm") or at < 0:
        raise ValueError("not a translated plant")
    return Sizes(**json.loads(module[at + len(mark) - 1 :]))


def bad(node: ast.AST, why: str) -> FormError:
    return FormError(f"line {getattr(node, 'lineno', '?')}: {why}")


# What can hold names, by kind of node: ``ast.walk`` looks at everything, and was half of the time.
_INSIDE: dict[type[ast.AST], tuple[str, ...]] = {
    ast.BinOp: ("left", "right"), ast.UnaryOp: ("operand",), ast.IfExp: ("test", "body", "orelse"),
    ast.Compare: ("left", "comparators"), ast.BoolOp: ("values",), ast.Call: ("args",), ast.Constant: (),
    ast.Assign: ("targets", "value"), ast.AugAssign: ("target", "value"), ast.If: ("test", "body", "orelse"),
}  # fmt: skip


def _names(node: ast.AST) -> list[str]:
    """Every use of a name, in no order."""
    found: list[str] = []
    waiting: list[Any] = [node]
    while waiting:
        one = waiting.pop()
        kind = type(one)
        if kind is ast.Name:
            if one.id not in ("s", "sqrt"):
                found.append(one.id)
        elif kind is list:
            waiting += one
        else:
            fields = _INSIDE.get(kind)
            waiting += ast.iter_child_nodes(one) if fields is None else [getattr(one, field) for field in fields]
    return found


class Module:
    """Cuts the function into pieces, settles where each name lives, and writes it all."""

    CELL: ClassVar[int] = 8
    """Bytes from one name in the scratch memory to the next."""
    BRANCHES: ClassVar[bool] = False
    """Whether what stands under an ``if`` is a piece of its own."""

    def __init__(self, body: Sequence[ast.stmt], size: int, finite: bool = True) -> None:
        self.size = size
        self.looked = finite
        self.units: list[list[ast.stmt]] = []
        self.names: dict[ast.stmt, list[str]] = {}
        self.plan = self._plan(body, inside=False)
        self.kinds = _kinds(body)
        self.scratch = self._settle(self.plan)

    def binary(self) -> bytes:
        """The module as WebAssembly; FormError for a form that is not proved equal."""
        bodies = [Code(self, unit).function() for unit in self.units]
        driver = Code(self, [])
        driver.drive(self.plan)
        bodies += [driver.function(), self.finite(), self._run(len(self.units))]
        piece, finite, run = range(3)
        types = [
            wasm.signature([wasm.I32] * 2, [wasm.I32]),
            wasm.signature([wasm.I32], [wasm.I32]),
            wasm.signature([wasm.I32] * 5, [wasm.I32]),
        ]
        type_of = [*([piece] * (len(self.units) + 1)), finite, run]
        return wasm.module(types, type_of, bodies, {"run": len(bodies) - 1}, self.notes())

    def notes(self) -> bytes:
        """What ``sizes`` finds in the module: its numbers of doubles as JSON in ASCII."""
        return json.dumps(asdict(Sizes(self.size, len(self.scratch) * self.CELL // 8))).encode()

    def at(self, name: str) -> int:
        """How many bytes behind its beginning a name lies in the scratch memory."""
        return self.CELL * self.scratch[name]

    def _plan(self, body: Sequence[ast.stmt], inside: bool) -> list[Step]:
        steps: list[Step] = []
        unit: list[ast.stmt] = []
        weight = 0

        def close() -> None:
            nonlocal unit, weight
            if unit:
                self.units.append(unit)
                steps.append(Call(len(self.units) - 1))
            unit, weight = [], 0

        for statement in body:
            if isinstance(statement, ast.For):
                close()
                steps.append(Repeat(_times(statement), tuple(self._plan(statement.body, inside=True))))
            elif inside and isinstance(statement, ast.If) and isinstance(statement.body[0], ast.Break):
                if len(statement.body) > 1 or statement.orelse:
                    raise bad(statement, "nothing may stand beside a break")
                close()
                steps.append(Leave(statement.test))
            elif self.BRANCHES and isinstance(statement, ast.If) and not statement.orelse:
                close()
                steps.append(Branch(statement.test, tuple(self._plan(statement.body, inside=False))))
            else:
                unit.append(statement)
                self.names[statement] = _names(statement)
                weight += len(self.names[statement])
                if weight > PIECE:
                    close()
        close()
        return steps

    def _settle(self, plan: Sequence[Step]) -> dict[str, int]:
        """Names that lie in memory, each with its place: those of several functions, or read before they are set."""
        users: dict[str, set[int]] = {}
        unset: set[str] = set()
        for number, unit in enumerate(self.units):
            for statement in unit:
                for name in self.names[statement]:
                    users.setdefault(name, set()).add(number)
            _unset(unit, set(), unset)
        for test in _tests(plan):
            unset.update(_names(test))
        written = set(self.kinds)
        if lost := sorted({*users, *unset} - written):
            raise FormError(f"nothing sets {lost[0]}")
        shared = [name for name in users if len(users[name]) > 1 or name in unset]
        return {name: place for place, name in enumerate(sorted(shared))}

    def finite(self) -> bytes:
        """``finite(state)``: 1 when a double of the state is not finite, else 0.

        x - x is zero for a finite x and NaN for any other; NaN stays in a total.
        """
        state, at, first = 0, 1, 2
        lanes = 4
        blocks, rest = divmod(self.size, 2 * lanes)
        code = b""
        if blocks:
            code += wasm.get(state) + wasm.put(at) + wasm.LOOP
            for n in range(lanes):
                pair = wasm.get(at) + wasm.load_pair(16 * n)
                code += wasm.get(first + n) + pair + pair + wasm.SUB_PAIRS + wasm.ADD_PAIRS + wasm.put(first + n)
            code += wasm.get(at) + wasm.whole(16 * lanes) + wasm.ADD_I32 + wasm.tee(at)
            code += wasm.get(state) + wasm.whole(16 * lanes * blocks) + wasm.ADD_I32 + wasm.LESS_I32
            code += wasm.branch_if(0) + wasm.END
        code += wasm.number(0.0)
        for n in range(lanes):
            code += wasm.get(first + n) + wasm.lane(0) + wasm.ADD + wasm.get(first + n) + wasm.lane(1) + wasm.ADD
        for n in range(self.size - rest, self.size):
            one = wasm.get(state) + wasm.load(8 * n)
            code += one + one + wasm.SUB + wasm.ADD
        code += wasm.number(0.0) + wasm.NE
        return wasm.body([(1, wasm.I32), (lanes, wasm.V128)], code)

    def _run(self, driver: int) -> bytes:
        state, scratch, stride, plants, scans, plant, scan = range(7)
        scan_one = wasm.get(state) + wasm.get(scratch) + wasm.call(driver)
        if self.looked:
            scan_one += wasm.get(state) + wasm.call(driver + 1) + wasm.OR
        stop = wasm.IF + wasm.get(plant) + wasm.whole(1) + wasm.ADD_I32 + wasm.RETURN + wasm.END
        inner = wasm.get(scan) + wasm.EQZ + wasm.branch_if(1) + scan_one + stop
        inner += wasm.get(scan) + wasm.whole(1) + wasm.SUB_I32 + wasm.put(scan) + wasm.branch(0)
        outer = wasm.get(plant) + wasm.get(plants) + wasm.LESS_I32 + wasm.EQZ + wasm.branch_if(1)
        outer += wasm.get(scans) + wasm.put(scan) + wasm.BLOCK + wasm.LOOP + inner + wasm.END + wasm.END
        outer += wasm.get(state) + wasm.get(stride) + wasm.ADD_I32 + wasm.put(state)
        outer += wasm.get(plant) + wasm.whole(1) + wasm.ADD_I32 + wasm.put(plant) + wasm.branch(0)
        code = wasm.BLOCK + wasm.LOOP + outer + wasm.END + wasm.END + wasm.whole(0)
        return wasm.body([(2, wasm.I32)], code)


class Code:
    """The code of one function. Locals: the parameters, a note of bad arithmetic, loop counters, then doubles."""

    NOTE = 2
    LOOPS = 4
    """More loops do not lie in each other."""
    LOOKED_AT = NOTE + 1 + LOOPS
    ZERO, NOT, AND = wasm.number(0.0), wasm.EQZ, wasm.AND
    """A zero as values are pushed, and how conditions are turned round and joined."""

    def __init__(self, module: Module, unit: Sequence[ast.stmt]) -> None:
        self.module = module
        self.kinds = module.kinds
        self.out = bytearray()
        self.local: dict[str, int] = {}
        for statement in unit:
            for name in module.names[statement]:
                if name not in module.scratch:
                    self.local.setdefault(name, self.LOOKED_AT + 1 + len(self.local))
        self.statements(unit)

    def function(self) -> bytes:
        """The function's body: it returns whether bad arithmetic was done."""
        counts = [(1 + self.LOOPS, wasm.I32), (1 + len(self.local), wasm.F64)]
        return wasm.body(counts, bytes(self.out) + wasm.get(self.NOTE))

    def drive(self, steps: Sequence[Step], depth: int = 0) -> None:
        """Call the pieces in the order of the steps, inside ``depth`` loops; FormError for too many loops."""
        for step in steps:
            if isinstance(step, Call):
                self.out += wasm.get(STATE) + wasm.get(SCRATCH) + wasm.call(step.number)
                self.note()
            elif isinstance(step, Leave):
                self.condition(step.test)
                self.out += wasm.branch_if(1)
            elif isinstance(step, Repeat):
                if depth >= self.LOOPS:
                    raise FormError(f"more than {self.LOOPS} loops lie in each other")
                counter = self.NOTE + 1 + depth
                self.out += wasm.whole(0) + wasm.put(counter) + wasm.BLOCK + wasm.LOOP
                self.drive(step.steps, depth + 1)
                self.out += wasm.get(counter) + wasm.whole(1) + wasm.ADD_I32 + wasm.tee(counter)
                self.out += wasm.whole(step.times) + wasm.LESS_I32 + wasm.branch_if(0) + wasm.END + wasm.END

    def note(self) -> None:
        """Pop an integer that is not zero where arithmetic went wrong."""
        self.out += wasm.get(self.NOTE) + wasm.OR + wasm.put(self.NOTE)

    def statements(self, body: Sequence[ast.stmt]) -> None:
        """Write statements in their order; FormError for a statement that is not proved equal."""
        for statement in body:
            match statement:
                case ast.Assign(targets=[ast.Name(id=name)]):
                    self.assign(name, statement.value)
                case ast.Assign(targets=[ast.Subscript() as target]):
                    place = self.place(target)
                    self.out += wasm.get(STATE)
                    self.value(statement.value)
                    self.out += wasm.store(8 * place)
                case ast.AugAssign(target=ast.Name(id=name)):
                    there = ast.copy_location(ast.Name(name, ast.Load()), statement)
                    self.assign(name, ast.copy_location(ast.BinOp(there, statement.op, statement.value), statement))
                case ast.If(orelse=[]):
                    self.condition(statement.test)
                    self.out += wasm.IF
                    self.statements(statement.body)
                    self.out += wasm.END
                case ast.Pass():
                    pass
                case _:
                    raise bad(statement, f"{type(statement).__name__} is no form that is proved")

    def assign(self, name: str, value: ast.expr) -> None:
        """``name = value``: into the scratch memory, or into a local of the function."""
        if name in self.module.scratch:
            self.out += wasm.get(SCRATCH)
            self.value(value)
            self.out += wasm.store(self.module.at(name))
        else:
            self.value(value)
            self.out += wasm.put(self.local[name])

    def place(self, node: ast.Subscript) -> int:
        """Which double of the state is meant, from 0; FormError for anything but ``s[NUMBER]`` within it."""
        match node:
            case ast.Subscript(value=ast.Name(id="s"), slice=ast.Constant(value=int(place))) if (
                0 <= place < self.module.size and not isinstance(place, bool)
            ):
                return place
        raise bad(node, "only s[NUMBER] of the state may be taken")

    def value(self, node: ast.expr) -> None:
        """Push a value, a double; FormError for an expression that is not proved equal."""
        match node:
            case ast.Constant(value=float() | bool() as constant) if math.isfinite(constant):
                self.out += wasm.number(float(constant))
            case ast.Name(id=name) if name in self.module.scratch:
                self.out += wasm.get(SCRATCH) + wasm.load(self.module.at(name))
            case ast.Name(id=name) if name in self.local:
                self.out += wasm.get(self.local[name])
            case ast.Subscript():
                self.out += wasm.get(STATE) + wasm.load(8 * self.place(node))
            case ast.BinOp():
                self.arithmetic(node)
            case ast.UnaryOp(op=ast.USub() | ast.UAdd()):
                self.signed(node)
            case ast.IfExp():
                self.condition(node.test)
                self.out += wasm.IF_F64
                self.value(node.body)
                self.out += wasm.ELSE
                self.value(node.orelse)
                self.out += wasm.END
            case ast.Call(func=ast.Name(id="sqrt"), args=[inner], keywords=[]):
                self.watched(inner, wasm.SQRT, wasm.LT)
            case ast.Compare() | ast.BoolOp() | ast.UnaryOp(op=ast.Not()):
                if self.kind(node) != TRUTH:
                    raise bad(node, "'and' and 'or' give a number only between conditions")
                self.condition(node)
                self.out += wasm.TO_F64
            case _:
                raise bad(node, f"{ast.unparse(node)[:60]!r} is no form that is proved")

    def signed(self, node: ast.UnaryOp) -> None:
        """Push a value, with its sign turned where a minus stands before it."""
        if self.kind(node.operand) != FLOAT:
            raise bad(node, "a sign before True or False is not proved")
        self.value(node.operand)
        if isinstance(node.op, ast.USub):
            self.sign(wasm.NEGATE)

    def arithmetic(self, node: ast.BinOp) -> None:
        """Push a sum, difference, product or quotient; FormError for another operation."""
        sign = ARITHMETIC.get(type(node.op))
        if sign is None:
            raise bad(node, f"{type(node.op).__name__} is no form that is proved")
        if sign != wasm.DIVIDE and FLOAT not in (self.kind(node.left), self.kind(node.right)):
            raise bad(node, "arithmetic between True and False is not proved")
        self.value(node.left)
        if sign != wasm.DIVIDE or (isinstance(node.right, ast.Constant) and node.right.value):
            self.value(node.right)
            self.sign(sign)
        else:
            self.watched(node.right, sign, wasm.EQ)

    def sign(self, single: bytes) -> None:
        """Apply an operation of arithmetic or a comparison, given as its instruction, to what was pushed."""
        self.out += single

    def watched(self, node: ast.expr, sign: bytes, compare: bytes) -> None:
        """Push ``node``, apply ``sign``, and note bad arithmetic where ``node`` compares so to zero."""
        self.value(node)
        self.out += wasm.tee(self.LOOKED_AT)
        self.sign(sign)
        self.out += wasm.get(self.LOOKED_AT) + self.ZERO
        self.sign(compare)
        self.note()

    def condition(self, node: ast.expr) -> None:
        """Push whether a condition holds: 1 or 0 as a whole number, not a double."""
        match node:
            case ast.Compare():
                self.comparison(node)
            case ast.BoolOp():
                self.condition(node.values[0])
                for term in node.values[1:]:
                    self.joined(node.op, term)
            case ast.UnaryOp(op=ast.Not()):
                self.condition(node.operand)
                self.out += self.NOT
            case _:
                self.value(node)
                self.out += self.ZERO
                self.sign(wasm.NE)

    def joined(self, op: ast.boolop, term: ast.expr) -> None:
        """Join the condition on the stack with another; one that can go wrong is worked out where it decides."""
        both = isinstance(op, ast.And)
        if pure(term):
            self.condition(term)
            self.out += wasm.AND if both else wasm.OR
            return
        self.out += wasm.IF_I32
        if both:
            self.condition(term)
            self.out += wasm.ELSE + wasm.whole(0)
        else:
            self.out += wasm.whole(1) + wasm.ELSE
            self.condition(term)
        self.out += wasm.END

    def comparison(self, node: ast.Compare) -> None:
        """Push whether each comparison of a chain holds, as ``condition`` does; FormError for other signs than six."""
        sides = [node.left, *node.comparators]
        if len(node.ops) > 1 and not all(pure(side) for side in sides[1:]):
            raise bad(node, "a chain of comparisons may neither divide nor take a root")
        for number, (left, op, right) in enumerate(zip(sides, node.ops, sides[1:], strict=False)):
            sign = COMPARE.get(type(op))
            if sign is None:
                raise bad(node, f"{type(op).__name__} is no form that is proved")
            self.value(left)
            self.value(right)
            self.sign(sign)
            if number:
                self.out += self.AND

    def kind(self, node: ast.expr) -> Kind:
        """Whether a value is a double, a truth value, or either, by what may be assigned to its names."""
        return _kind(node, self.kinds)


def _times(node: ast.For) -> int:
    match node:
        case ast.For(
            target=ast.Name(id="_"),
            iter=ast.Call(func=ast.Name(id="range"), args=[ast.Constant(value=int(times))], keywords=[]),
            orelse=[],
        ) if times > 0 and not isinstance(times, bool):
            return times
    raise bad(node, "a loop has to be 'for _ in range(NUMBER):'")


def _tests(steps: Sequence[Step]) -> Iterator[ast.expr]:
    for step in steps:
        if isinstance(step, Leave):
            yield step.test
        elif isinstance(step, Repeat | Branch):
            yield from _tests(step.steps)
            if isinstance(step, Branch):
                yield step.test


def pure(node: ast.AST) -> bool:
    """Whether working it out can go wrong nowhere: it neither divides nor takes a root."""
    return not any(isinstance(inner, ast.Call | ast.Div) for inner in ast.walk(node))


def _unset(body: Sequence[ast.stmt], known: set[str], unset: set[str]) -> set[str]:
    """The names set for certain after ``body``; adds to ``unset`` those that may be read before they are set."""
    for statement in body:
        if isinstance(statement, ast.If):
            unset.update(set(_names(statement.test)) - known)
            _unset(statement.body, set(known), unset)
        elif isinstance(statement, ast.Assign | ast.AugAssign):
            unset.update(name for name in _names(statement.value) if name not in known)
            for name in _names(statement.targets[0] if isinstance(statement, ast.Assign) else statement.target):
                if isinstance(statement, ast.AugAssign) and name not in known:
                    unset.add(name)
                known.add(name)
    return known


def _writes(body: Sequence[ast.stmt]) -> Iterator[tuple[str, ast.expr | None]]:
    """Each name that is set with what it is set to; None where it is changed by arithmetic."""
    for statement in body:
        match statement:
            case ast.Assign(targets=[ast.Name(id=name)], value=value):
                yield name, value
            case ast.AugAssign(target=ast.Name(id=name)):
                yield name, None
            case ast.If() | ast.For():
                yield from _writes(statement.body)


def _kinds(body: Sequence[ast.stmt]) -> dict[str, Kind]:
    """What each name that is set may hold."""
    writes = list(_writes(body))
    if taken := {"s", "sqrt", "range", "_"} & {name for name, _ in writes}:
        raise FormError(f"{sorted(taken)[0]} may not be set")
    kinds: dict[str, Kind] = {name: frozenset() for name, _ in writes}
    while True:
        before = dict(kinds)
        for name, value in writes:
            kinds[name] |= FLOAT if value is None else _kind(value, kinds)
        if kinds == before:
            return kinds


def _kind(node: ast.expr, kinds: dict[str, Kind]) -> Kind:
    match node:
        case ast.Constant(value=bool()) | ast.Compare() | ast.UnaryOp(op=ast.Not()):
            return TRUTH
        case ast.Name(id=name):
            return kinds.get(name, FLOAT)
        case ast.IfExp():
            return _kind(node.body, kinds) | _kind(node.orelse, kinds)
        case ast.BoolOp():
            return frozenset().union(*(_kind(term, kinds) for term in node.values))
    return FLOAT
