"""Compiles a plant's flat function with the machine's own C compiler, where it has one, and keeps the library.

The library lies in the user's cache folder under a hash of the C text, the compiler and its options, so that another
plant, compiler or processor asks for another. Compiling takes some seconds, once; numpy does the same work without it.
"""

from __future__ import annotations

import ctypes
import hashlib
import logging
import os
import platform
import shlex
import shutil
import subprocess
import tempfile
from array import array
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import platformdirs

from trainer.hydraulics.compile import Advance
from trainer.hydraulics.machine import Machine
from trainer.planning.ensemble.c_text import c_text

log = logging.getLogger("trainer.planning")
APP = "bop-panel-trainer"
# No contraction: a fused multiply-add rounds once where the scalar engine rounds twice. -O2 costs more than it saves.
OPTIONS = ("-std=c99", "-O1", "-ffp-contract=off", "-fno-math-errno", "-fPIC", "-shared")
PATIENCE = 300.0
"""Seconds that the compiler may take."""
KEPT = 24
"""Libraries that stay in the folder, half a megabyte each."""
SELDOM = 6
"""How often a flat function of a single plant is wanted before compiling it pays."""
_wanted: Counter[str] = Counter()
States = np.ndarray[Any, np.dtype[np.float64]]


class NativeCodeError(Exception):
    """Why there is no native code, as the end of a sentence."""


def bind(source: str, state: States) -> Callable[[int], None]:
    """What advances the plants in the columns of ``state`` by a number of scans; a column is to lie in one piece.

    ``source`` is the scalar function's. Raises NativeCodeError.
    """
    if not state.flags.f_contiguous:
        raise ValueError("a plant's variables have to lie side by side")
    columns = _library(source).columns
    columns.argtypes = [ctypes.c_void_p, ctypes.c_longlong, ctypes.c_longlong, ctypes.c_longlong]
    columns.restype = None
    size, count = state.shape

    def advance(scans: int) -> None:
        columns(state.ctypes.data, size, count, scans)

    return advance


def single(source: str) -> Advance | None:
    """What advances one plant's list by a scan, for a flat function that is wanted often; None for one that is not.

    Compiling pays once a function has run a few drills, and then for all that follow; a kept library is used at once.
    """
    _wanted[source] += 1
    try:
        if _wanted[source] <= SELDOM and not _path(source)[0].is_file():
            return None
        columns = _library(source).columns
    except NativeCodeError:
        return None

    def advance(state: list[float]) -> None:
        values = array("d", state)
        columns(ctypes.c_void_p(values.buffer_info()[0]), ctypes.c_longlong(len(values)), ctypes.c_longlong(1),
                ctypes.c_longlong(1))  # fmt: skip
        state[:] = values.tolist()

    return advance


@contextmanager
def offered() -> Iterator[None]:
    """While this lasts, single plants of this process run on native code where it pays."""
    Machine.maker = single
    try:
        yield
    finally:
        Machine.maker = None


def is_ready(source: str) -> bool:
    """Whether native code can be had, compiled now if it has to be; tells in one line of the log why not."""
    try:
        _library(source)
    except NativeCodeError as reason:
        _tell(str(reason))
        return False
    return True


@cache
def _tell(reason: str) -> None:
    """Once a process and reason."""
    log.warning("Many plants are computed by numpy, which takes several times as long: %s.", reason)


@cache
def _path(source: str) -> tuple[Path, list[str], str]:
    """Where the library of a flat function lies, made or not; the compiler's command and the C text."""
    compiler, version = _compiler()
    text = c_text(source)
    stamp = "\n".join([version, *OPTIONS, platform.machine(), text])
    folder = platformdirs.user_cache_path(APP, appauthor=False) / "native"
    return folder / f"{hashlib.sha256(stamp.encode()).hexdigest()[:32]}.so", compiler, text


@cache
def _library(source: str) -> ctypes.CDLL:
    path, compiler, text = _path(source)
    try:
        if not path.is_file():
            path.parent.mkdir(parents=True, exist_ok=True)
            _compile(compiler, text, path)
            _forget(path.parent)
        os.utime(path)
        return ctypes.CDLL(str(path))
    except OSError as error:
        raise NativeCodeError(f"{path}: {error.strerror or error}") from error


def _compiler() -> tuple[list[str], str]:
    """The command that compiles C, and what it says about itself."""
    command = shlex.split(os.environ.get("CC", "")) or ["cc"]
    if shutil.which(command[0]) is None:
        raise NativeCodeError(f"there is no C compiler ({command[0]}) on this machine")
    try:
        told = subprocess.run([*command, "--version"], capture_output=True, text=True, timeout=PATIENCE, check=True)
    except (OSError, subprocess.SubprocessError) as error:
        raise NativeCodeError(f"the C compiler ({command[0]}) does not answer: {error}") from error
    return command, shlex.join(command) + "\n" + told.stdout


def _compile(compiler: list[str], text: str, path: Path) -> None:
    """Write the library to ``path``: all of it or nothing, whoever else does the same."""
    with tempfile.TemporaryDirectory(dir=path.parent) as scratch:
        code, made = Path(scratch) / "plant.c", Path(scratch) / "plant.so"
        code.write_text(text, encoding="utf-8")
        command = [*compiler, *OPTIONS, "-o", str(made), str(code), "-lm"]
        try:
            told = subprocess.run(command, capture_output=True, text=True, timeout=PATIENCE)
        except subprocess.SubprocessError as error:
            raise NativeCodeError(f"the C compiler ({compiler[0]}) did not end: {error}") from error
        if told.returncode != 0:
            first = next((line for line in told.stderr.splitlines() if "error" in line), told.stderr.strip()[:200])
            raise NativeCodeError(f"the C compiler ({compiler[0]}) refused: {first}")
        made.replace(path)


def _forget(folder: Path) -> None:
    """Remove the libraries that were not used for longest."""
    for old in sorted(folder.glob("*.so"), key=lambda path: path.stat().st_mtime)[:-KEPT]:
        old.unlink(missing_ok=True)
