"""Translates the flat function of a plant into a WebAssembly module that advances two plants at a time.

WebAssembly's vector operations work on two doubles at once, each exactly as the single operation does (core
specification, section 4.3.4): each plant of a pair gets the bits that it gets alone. Where the two part, at an ``if``
or at the end of a loop, the one that goes on does so alone, in code for one plant. Of ``a if test else b`` both sides
are worked out; arithmetic that goes wrong on a side that is not taken is not noted.

The scratch memory holds both plants' values of a name side by side; the states lie apart, as those of single plants do.
"""

from __future__ import annotations

import ast
import math
from collections.abc import Sequence
from typing import ClassVar

from trainer.hydraulics import webassembly as wasm
from trainer.hydraulics.translate import (
    SCRATCH,
    STATE,
    TRUTH,
    Branch,
    Call,
    Code,
    FormError,
    Leave,
    Module,
    Repeat,
    Step,
    bad,
    pure,
    statements_of,
)

THIRD = 2
"""Of the code for two plants where the other's state lies; of that for one how often its loop has been passed."""
_PAIR: dict[bytes, bytes] = {
    wasm.ADD: wasm.ADD_PAIRS, wasm.SUB: wasm.SUB_PAIRS, wasm.MULTIPLY: wasm.MULTIPLY_PAIRS,
    wasm.DIVIDE: wasm.DIVIDE_PAIRS, wasm.SQRT: wasm.SQRT_PAIRS, wasm.NEGATE: wasm.NEGATE_PAIRS,
    wasm.EQ: wasm.EQ_PAIRS, wasm.NE: wasm.NE_PAIRS, wasm.LT: wasm.LT_PAIRS, wasm.GT: wasm.GT_PAIRS,
    wasm.LE: wasm.LE_PAIRS, wasm.GE: wasm.GE_PAIRS,
}  # fmt: skip


def translate_pairs(source: str, size: int) -> bytes:
    """The module of a flat function over ``size`` doubles, for pairs; FormError for what is not proved equal.

    Its ``run`` takes what that of ``translate`` takes, and returns 0, or the number of the first plant of the first
    pair in which numbers gave out, from 1. An odd plant at the end is advanced with itself as its other.
    """
    return _Pairs(statements_of(source), size).binary()


class _Pairs(Module):
    """Writes each piece twice, for two plants and for one, and what calls them."""

    CELL: ClassVar[int] = 16
    BRANCHES: ClassVar[bool] = True

    def binary(self) -> bytes:
        """The module as WebAssembly."""
        self.alone: list[bytes] = []
        """Code for one plant of a pair beside the pieces."""
        pieces = [_Pair(self, unit).function() for unit in self.units]
        pieces += [_One(self, unit).function() for unit in self.units]
        driver = _Pair(self, [])
        driver.drive(self.plan)
        bodies = [*pieces, *self.alone, driver.function()]
        types = [
            wasm.signature([wasm.I32] * 3, [wasm.I32]),
            wasm.signature([wasm.I32], [wasm.I32]),
            wasm.signature([wasm.I32] * 5, [wasm.I32]),
        ]
        type_of = [*([0] * len(bodies)), 1, 2]
        bodies += [self.finite(), self._run(len(bodies) - 1)]
        return wasm.module(types, type_of, bodies, {"run": len(bodies) - 1}, self.notes())

    def beside(self, code: _One) -> int:
        """Keep a function for one plant; its number."""
        self.alone.append(code.function())
        return 2 * len(self.units) + len(self.alone) - 1

    def _run(self, driver: int) -> bytes:
        state, scratch, stride, plants, scans, plant, scan, other = range(8)
        both = wasm.get(state) + wasm.get(scratch) + wasm.get(other) + wasm.call(driver)
        both += wasm.get(state) + wasm.call(driver + 1) + wasm.OR + wasm.get(other) + wasm.call(driver + 1) + wasm.OR
        stop = wasm.IF + wasm.get(plant) + wasm.whole(1) + wasm.ADD_I32 + wasm.RETURN + wasm.END
        inner = wasm.get(scan) + wasm.EQZ + wasm.branch_if(1) + both + stop
        inner += wasm.get(scan) + wasm.whole(1) + wasm.SUB_I32 + wasm.put(scan) + wasm.branch(0)
        outer = wasm.get(plant) + wasm.get(plants) + wasm.LESS_I32 + wasm.EQZ + wasm.branch_if(1)
        outer += wasm.get(state) + wasm.get(stride) + wasm.ADD_I32 + wasm.get(state)
        outer += wasm.get(plant) + wasm.whole(1) + wasm.ADD_I32 + wasm.get(plants) + wasm.LESS_I32
        outer += wasm.SELECT + wasm.put(other)
        outer += wasm.get(scans) + wasm.put(scan) + wasm.BLOCK + wasm.LOOP + inner + wasm.END + wasm.END
        outer += wasm.get(other) + wasm.get(stride) + wasm.ADD_I32 + wasm.put(state)
        outer += wasm.get(plant) + wasm.whole(2) + wasm.ADD_I32 + wasm.put(plant) + wasm.branch(0)
        code = wasm.BLOCK + wasm.LOOP + outer + wasm.END + wasm.END + wasm.whole(0)
        return wasm.body([(3, wasm.I32)], code)


class _One(Code):
    """Code for one plant of a pair. Its scratch memory begins at the place of this plant."""

    module: _Pairs
    NOTE = THIRD + 1
    LOOKED_AT = NOTE + 1 + Code.LOOPS

    def drive(self, steps: Sequence[Step], depth: int = 0) -> None:
        """Call the pieces in their order."""
        for step in steps:
            match step:
                case Call(number):
                    self.out += wasm.get(STATE) + wasm.get(SCRATCH) + wasm.whole(0)
                    self.out += wasm.call(len(self.module.units) + number)
                    self.note()
                case Branch(test, inner):
                    self.condition(test)
                    self.out += wasm.IF
                    self.drive(inner, depth)
                    self.out += wasm.END
                case _:
                    super().drive([step], depth)

    def go_on(self, loop: Repeat, place: int) -> None:
        """Go on in a loop behind its step number ``place``, in a pass whose number the function is given."""
        counter = self.NOTE + 1
        self.out += wasm.BLOCK
        # What leaves the rest of this pass leaves one block; afterwards the loop stands in it as well.
        self.out += wasm.LOOP
        self.drive(loop.steps[place + 1 :], 1)
        self.out += wasm.get(THIRD) + wasm.whole(1) + wasm.ADD_I32 + wasm.put(counter) + wasm.LOOP
        self.out += wasm.get(counter) + wasm.whole(loop.times) + wasm.LESS_I32 + wasm.EQZ + wasm.branch_if(2)
        self.out += wasm.BLOCK + wasm.LOOP
        self.drive(loop.steps, 1)
        self.out += wasm.get(counter) + wasm.whole(1) + wasm.ADD_I32 + wasm.put(counter) + wasm.branch(2)
        self.out += wasm.END + wasm.END + wasm.END + wasm.END + wasm.END


class _Pair(Code):
    """Code for two plants: a value is a pair of doubles, a condition a pair of masks."""

    module: _Pairs
    WENT_WRONG = THIRD + 1
    WHICH = WENT_WRONG + 1 + Code.LOOPS
    """1 or 2 for the plant that goes on alone, 3 for both."""
    NOTE = WHICH + 1
    LOOKED_AT = NOTE + 1
    ZERO, NOT, AND = wasm.number_pair(0.0), wasm.NOT_PAIRS, wasm.AND_PAIRS

    def __init__(self, module: _Pairs, unit: Sequence[ast.stmt]) -> None:
        self.taken = 0
        self.held: int | None = None
        """The local with the mask of where arithmetic counts that now is written; None: everywhere."""
        super().__init__(module, unit)

    def function(self) -> bytes:
        """The function's body: it returns whether bad arithmetic was done."""
        counts = [(2 + self.LOOPS, wasm.I32), (2 + len(self.local) + self.taken, wasm.V128)]
        end = wasm.get(self.WENT_WRONG) + wasm.get(self.NOTE) + wasm.ANY_TRUE + wasm.OR
        return wasm.body(counts, bytes(self.out) + end)

    def drive(self, steps: Sequence[Step], depth: int = 0) -> None:
        """Call the pieces in their order, for both plants or for the one that goes on."""
        for step in steps:
            match step:
                case Call(number):
                    self.out += wasm.get(STATE) + wasm.get(SCRATCH) + wasm.get(THIRD) + wasm.call(number)
                    self._went()
                case Branch(test, inner):
                    self._which(test)
                    self.out += wasm.get(self.WHICH) + wasm.whole(3) + wasm.EQ_I32 + wasm.IF
                    self.drive(inner, depth)
                    self.out += wasm.ELSE + wasm.get(self.WHICH) + wasm.IF
                    self._alone(self._branch(inner), wasm.whole(0))
                    self.out += wasm.END + wasm.END
                case Repeat():
                    self._repeat(step, depth)
                case Leave():
                    raise FormError("a break stands outside a loop")

    def _repeat(self, loop: Repeat, depth: int) -> None:
        if depth >= self.LOOPS:
            raise FormError(f"more than {self.LOOPS} loops lie in each other")
        counter = self.WENT_WRONG + 1 + depth
        self.out += wasm.whole(0) + wasm.put(counter) + wasm.BLOCK + wasm.LOOP
        for place, step in enumerate(loop.steps):
            if not isinstance(step, Leave):
                self.drive([step], depth + 1)
                continue
            self._which(step.test)
            self.out += wasm.get(self.WHICH) + wasm.whole(3) + wasm.EQ_I32 + wasm.branch_if(1)
            self.out += wasm.get(self.WHICH) + wasm.IF
            self.out += wasm.whole(3) + wasm.get(self.WHICH) + wasm.SUB_I32 + wasm.put(self.WHICH)
            rest = _One(self.module, [])
            rest.go_on(loop, place)
            self._alone(self.module.beside(rest), wasm.get(counter))
            self.out += wasm.branch(2) + wasm.END
        self.out += wasm.get(counter) + wasm.whole(1) + wasm.ADD_I32 + wasm.tee(counter)
        self.out += wasm.whole(loop.times) + wasm.LESS_I32 + wasm.branch_if(0) + wasm.END + wasm.END

    def _branch(self, steps: Sequence[Step]) -> int:
        """The number of the function that does these steps for one plant."""
        match steps:
            case (Call(number),):
                return len(self.module.units) + number
        code = _One(self.module, [])
        code.drive(steps)
        return self.module.beside(code)

    def _which(self, test: ast.expr) -> None:
        self.condition(test)
        self.out += wasm.BITS + wasm.put(self.WHICH)

    def _alone(self, number: int, third: bytes) -> None:
        """Call a function for the plant that ``WHICH`` names."""
        second = wasm.get(self.WHICH) + wasm.whole(1) + wasm.SUB_I32
        self.out += wasm.get(THIRD) + wasm.get(STATE) + second + wasm.SELECT
        self.out += wasm.get(SCRATCH) + second + wasm.whole(3) + wasm.SHIFT_LEFT + wasm.ADD_I32
        self.out += third + wasm.call(number)
        self._went()

    def _went(self) -> None:
        self.out += wasm.get(self.WENT_WRONG) + wasm.OR + wasm.put(self.WENT_WRONG)

    def note(self) -> None:
        """Pop a mask of where arithmetic went wrong."""
        if self.held is not None:
            self.out += wasm.get(self.held) + wasm.AND_PAIRS
        self.out += wasm.get(self.NOTE) + wasm.OR_PAIRS + wasm.put(self.NOTE)

    def statements(self, body: Sequence[ast.stmt]) -> None:
        """Statements in their order."""
        for statement in body:
            match statement:
                case ast.Assign(targets=[ast.Subscript() as target]):
                    offset, kept = 8 * self.place(target), self._take()
                    self.value(statement.value)
                    self.out += wasm.put(kept)
                    self.out += wasm.get(STATE) + wasm.get(kept) + wasm.store_lane(offset, 0)
                    self.out += wasm.get(THIRD) + wasm.get(kept) + wasm.store_lane(offset, 1)
                case ast.If():
                    raise bad(statement, "an if inside a piece is no form that is proved")
                case _:
                    super().statements([statement])

    def assign(self, name: str, value: ast.expr) -> None:
        """``name = value``."""
        if name in self.module.scratch:
            self.out += wasm.get(SCRATCH)
            self.value(value)
            self.out += wasm.store_pair(self.module.at(name))
        else:
            self.value(value)
            self.out += wasm.put(self.local[name])

    def value(self, node: ast.expr) -> None:
        """Push a pair of doubles."""
        match node:
            case ast.Constant(value=float() | bool() as constant) if math.isfinite(constant):
                self.out += wasm.number_pair(float(constant))
            case ast.Name(id=name) if name in self.module.scratch:
                self.out += wasm.get(SCRATCH) + wasm.load_pair(self.module.at(name))
            case ast.Subscript():
                offset = 8 * self.place(node)
                self.out += wasm.get(THIRD) + wasm.get(STATE) + wasm.load_first(offset) + wasm.load_lane(offset, 1)
            case ast.IfExp():
                self._choice(node)
            case ast.Compare() | ast.BoolOp() | ast.UnaryOp(op=ast.Not()):
                if self.kind(node) != TRUTH:
                    raise bad(node, "'and' and 'or' give a number only between conditions")
                self.condition(node)
                self.out += wasm.number_pair(1.0) + wasm.AND_PAIRS
            case _:
                super().value(node)

    def sign(self, single: bytes) -> None:
        """Apply an operation of arithmetic or a comparison to each of the pair."""
        self.out += _PAIR[single]

    def _choice(self, node: ast.IfExp) -> None:
        if pure(node.body) and pure(node.orelse):
            self.value(node.body)
            self.value(node.orelse)
            self.condition(node.test)
        else:
            taken = self._take()
            self.condition(node.test)
            self.out += wasm.put(taken)
            self._within(taken, True, node.body)
            self._within(taken, False, node.orelse)
            self.out += wasm.get(taken)
        self.out += wasm.CHOOSE

    def _within(self, mask: int, so: bool, node: ast.expr) -> None:
        """Push a value, or a condition's mask, whose bad arithmetic counts only where ``mask`` is ``so``."""
        if pure(node):
            self.value(node)
            return
        before = self._hold(mask, so)
        # A division takes as long as ten sums: none is done where neither plant wants it.
        self.out += wasm.get(self.held or 0) + wasm.ANY_TRUE + wasm.IF_V128
        self.value(node)
        self.out += wasm.ELSE + wasm.number_pair(0.0) + wasm.END
        self.held = before

    def _hold(self, mask: int, so: bool) -> int | None:
        """From here on bad arithmetic counts only where ``mask`` is ``so`` as well; what held before."""
        before, self.held = self.held, self._take()
        self.out += wasm.get(mask) + (b"" if so else wasm.NOT_PAIRS)
        self.out += b"" if before is None else wasm.get(before) + wasm.AND_PAIRS
        self.out += wasm.put(self.held)
        return before

    def _take(self) -> int:
        """A local of its own."""
        self.taken += 1
        return self.LOOKED_AT + len(self.local) + self.taken

    def joined(self, op: ast.boolop, term: ast.expr) -> None:
        """Join the mask on the stack with another condition."""
        both = isinstance(op, ast.And)
        if pure(term):
            self.condition(term)
        else:
            first = self._take()
            self.out += wasm.tee(first)
            before = self._hold(first, both)
            self.condition(term)
            self.held = before
        self.out += wasm.AND_PAIRS if both else wasm.OR_PAIRS
