"""Runs plants by wasmtime, which compiles their modules for this machine's processor.

The only module that knows wasmtime. Its ordinary call takes several times as long as a scan; the unchecked one of its
binding, where the pinned version has it, takes the rest of the argument lists ready made.
"""

from __future__ import annotations

import atexit
import ctypes
import functools
import logging
import weakref
from collections import OrderedDict

import platformdirs
import wasmtime

from trainer.hydraulics.compile import Numbers
from trainer.hydraulics.machine import Run
from trainer.hydraulics.network import Network
from trainer.hydraulics.translate import Sizes, sizes
from trainer.runtime import modules

APP = "bop-panel-trainer"
PAGE = 65_536
READY = 24
"""Compiled modules that stay in memory."""
log = logging.getLogger("trainer.runtime")


@functools.cache
def _engine() -> wasmtime.Engine:
    """One for the process. Compiled code is kept in wasmtime's own cache folder; without one it is compiled anew."""
    config = wasmtime.Config()
    # The numbers are seen from outside: they have to stay where they are while the memory grows.
    config.memory_may_move = False
    try:
        config.cache = True
    except wasmtime.WasmtimeError as error:
        log.info("Compiled plants are not kept: %s", error)
    engine = wasmtime.Engine(config)
    atexit.register(_close, engine)
    return engine


_ready: OrderedDict[str, tuple[wasmtime.Module, Sizes]] = OrderedDict()


def _close(engine: wasmtime.Engine) -> None:
    """Let go while Python's modules are still there; their stores have been closed before."""
    for module, _ in _ready.values():
        module.close()
    engine.close()


def _module(net: Network, pairs: bool) -> tuple[wasmtime.Module, Sizes]:
    name = modules.name_of(net, pairs)
    if name not in _ready:
        binary = modules.find(net, platformdirs.user_cache_path(APP, appauthor=False) / "modules", pairs)
        _ready[name] = compiled(binary)
        while len(_ready) > READY:
            _ready.popitem(last=False)
    _ready.move_to_end(name)
    return _ready[name]


def compiled(binary: bytes) -> tuple[wasmtime.Module, Sizes]:
    """A translated plant, compiled by wasmtime for this processor; compiled ones are kept."""
    return wasmtime.Module(_engine(), binary), sizes(binary)


class Memory:
    """WebAssembly memory that begins with ``size`` doubles; scratch memory follows when a module is bound."""

    def __init__(self, size: int) -> None:
        self.size = size
        self.store = wasmtime.Store(_engine())
        self._pages = max(-(-8 * size // PAGE), 1)
        self._memory = wasmtime.Memory(self.store, wasmtime.MemoryType(wasmtime.Limits(self._pages, None)))
        buffer = self._memory.get_buffer_ptr(self.store, 8 * size)
        # Whoever still sees the numbers keeps the memory; the store goes with the last of them, or when Python ends.
        weakref.finalize(buffer, self.store.close)
        self.numbers: memoryview[float] = memoryview(buffer).cast("B").cast("d")

    def bind(self, net: Network, plants: int = 1, beside: int = 0) -> Run:
        """What advances so many plants of a network that lie in this memory one behind the other, each with so many
        doubles ``beside`` its state."""
        return self.link(*_module(net, plants > 1), plants, beside)

    def link(self, module: wasmtime.Module, needed: Sizes, plants: int = 1, beside: int = 0) -> Run:
        """Bind a compiled module to this memory: what advances ``plants`` plants that lie there one after another."""
        scratch = self._pages * PAGE
        self._memory.grow(self.store, -(-8 * needed.scratch // PAGE) or 1)
        run = wasmtime.Instance(self.store, module, [self._memory]).exports(self.store)["run"]
        assert isinstance(run, wasmtime.Func)
        return _running(self.store, run, (0, scratch, 8 * (needed.state + beside), plants))


class Compiled:
    """One plant as a module that wasmtime runs, its numbers in a memory of its own."""

    def __init__(self, size: int) -> None:
        self._memory = Memory(size)
        self.numbers: Numbers = self._memory.numbers

    def bind(self, net: Network) -> Run:
        """The function that advances ``numbers``, the state of ``net``, by a number of scans."""
        return self._memory.bind(net)


def _running(store: wasmtime.Store, run: wasmtime.Func, where: tuple[int, int, int, int]) -> Run:
    """``run`` as a quick function of the number of scans; ``where``: state, scratch, stride and number of plants."""
    try:
        from wasmtime._ffi import wasm_trap_t, wasmtime_func_call_unchecked, wasmtime_val_raw

        context, function = store._context(), ctypes.byref(run._func)
    except (ImportError, AttributeError):
        return lambda scans: run(store, *where, scans) == 0
    values = (wasmtime_val_raw * 5)()
    for value, number in zip(values, where, strict=False):
        value.i32 = number
    # The first place is also where the result comes to; the same bytes as whole numbers are quicker to set.
    numbers = (ctypes.c_int32 * (ctypes.sizeof(values) // 4)).from_buffer(values)
    last = 4 * ctypes.sizeof(wasmtime_val_raw) // 4
    trap = ctypes.POINTER(wasm_trap_t)()
    back = ctypes.byref(trap)

    def advance(scans: int) -> bool:
        numbers[0], numbers[last] = where[0], scans
        if wasmtime_func_call_unchecked(context, function, values, 5, back) or trap:
            raise RuntimeError("the plant's module stopped inside wasmtime")
        return numbers[0] == 0

    return advance
