"""Runs plants in the browser's Python by the WebAssembly engine that this Python itself runs on.

A plant's numbers are an ordinary array of Python's, and its module works on them where they lie: it imports the memory
of this Python. Where that memory cannot be reached, the module has one of its own, and the numbers go in and out at
each call.
"""

from __future__ import annotations

from array import array
from collections.abc import Callable

from trainer.hydraulics.compile import Numbers
from trainer.hydraulics.machine import Machine, Run
from trainer.hydraulics.network import Network
from trainer.hydraulics.translate import Sizes, sizes
from trainer.runtime import modules

PAGE = 65_536
_ready: dict[str, tuple[object, Sizes]] = {}


def offer() -> None:
    """Let every plant built from here on run in the browser's engine."""
    Machine.maker = Compiled


class Compiled:
    """One plant as a WebAssembly instance of the browser, its numbers in an array of its own."""

    def __init__(self, size: int) -> None:
        self.numbers: Numbers = array("d", bytes(8 * size))

    def bind(self, net: Network) -> Run:
        """The function that advances ``numbers``, the state of ``net``, by a number of scans."""
        module, needed = _module(net)
        memory = _memory()
        assert isinstance(self.numbers, array)
        return _apart(module, needed, self.numbers) if memory is None else _within(module, needed, self.numbers, memory)


def _module(net: Network) -> tuple[object, Sizes]:
    """The compiled module of a network; the last few are remembered."""
    import js
    from pyodide.ffi import to_js

    name = modules.name_of(net)
    if name not in _ready:
        if len(_ready) >= 4:
            del _ready[next(iter(_ready))]
        binary = modules.find(net)
        _ready[name] = js.WebAssembly.Module.new(to_js(binary)), sizes(binary)
    return _ready[name]


def _memory() -> object:
    """The memory of this Python; None where it cannot be reached: ``_module`` is Pyodide's own, and may go."""
    import pyodide_js

    return getattr(getattr(pyodide_js, "_module", None), "memory", None)


def _run(module: object, memory: object) -> Callable[..., int]:
    """The module's ``run`` over a memory."""
    import js
    from pyodide.ffi import to_js

    given = to_js({"plant": {"memory": memory}}, dict_converter=js.Object.fromEntries)
    run: Callable[..., int] = js.WebAssembly.Instance.new(module, given).exports.run
    return run


def _within(module: object, needed: Sizes, numbers: array[float], memory: object) -> Run:
    """Works where the numbers lie."""
    run = _run(module, memory)
    scratch = array("d", bytes(8 * needed.scratch))
    state, beside = numbers.buffer_info()[0], scratch.buffer_info()[0]

    # The arrays are named here so that they stay as long as what works on them.
    def advance(scans: int, _kept: tuple[object, ...] = (numbers, scratch)) -> bool:
        return run(state, beside, 0, 1, scans) == 0

    return advance


def _apart(module: object, needed: Sizes, numbers: array[float]) -> Run:
    """Copies the numbers into a memory of the module's own, and out again."""
    import js

    size = 8 * len(numbers)
    memory = js.WebAssembly.Memory.new(js.JSON.parse(f'{{"initial": {(size + 8 * needed.scratch) // PAGE + 1}}}'))
    run, window = _run(module, memory), js.Float64Array.new(memory.buffer, 0, len(numbers))

    def advance(scans: int) -> bool:
        window.assign(numbers)
        lasted = run(0, size, 0, 1, scans) == 0
        window.assign_to(numbers)
        return lasted

    return advance
