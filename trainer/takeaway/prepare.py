"""Turns the fetched packages into what the browser starts fast from: a slim, precompiled Python.

The runtime's standard library comes as source text, which the browser would compile anew at each start: more than
half of the waiting time. Here the library and pydantic are compiled once, by that same runtime under Node, and the
modules that no engine code can reach stay out.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import shutil
import tarfile
import tempfile
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from trainer.takeaway import node
from trainer.takeaway.fetch import fetch
from trainer.takeaway.pins import EVERYTHING, RUNTIME, WHEELS

LOCK = "pyodide-lock.json"
LIBRARY = "python_stdlib.zip"
RUNTIME_FILES = ("pyodide.mjs", "pyodide.asm.mjs", "pyodide.asm.wasm", LOCK, LIBRARY)

# Tools for developers, clients and servers of network protocols, and window systems: a page has no use for them.
LEFT_OUT = """
_aix_support _android_support _apple_support _compat_pickle _ios_support _markupbase _pydatetime _pyio
_pyrepl argparse asyncio/__main__ asyncio/proactor_events asyncio/tools asyncio/windows_events
asyncio/windows_utils bdb cProfile cmd colorsys compileall concurrent/futures/interpreter
concurrent/futures/process concurrent/interpreters configparser ctypes curses dbm doctest
email/_encoded_words email/_header_value_parser email/_parseaddr email/_policybase email/base64mime
email/charset email/contentmanager email/encoders email/errors email/feedparser email/generator email/header
email/headerregistry email/iterators email/message email/mime email/parser email/policy email/quoprimime
email/utils ensurepip filecmp fileinput ftplib getopt getpass gettext graphlib html/parser http idlelib
imaplib importlib/resources json/tool logging/config logging/handlers mailbox mimetypes modulefinder
multiprocessing netrc nturl2path optparse pdb pickle pickletools pkgutil plistlib poplib profile profiling
pstats pty py_compile pyclbr pydoc pydoc_data pyodide/_nodesock_transport pyodide/console quopri rlcompleter
runpy sched shelve shlex smtplib socketserver sqlite3 statistics stringprep symtable sysconfig/__main__
tabnanny tarfile this timeit tkinter trace tracemalloc tty turtle unittest urllib/request urllib/response
urllib/robotparser venv wave webbrowser wsgiref xml/dom xml/etree/ElementInclude xml/etree/cElementTree xml/sax
xmlrpc zipapp
"""

# Everything the trainer reads is UTF-8; zip archives name their files in cp437.
ENCODINGS = """
__init__ aliases ascii cp437 latin_1 punycode raw_unicode_escape unicode_escape utf_8 utf_8_sig utf_16
utf_16_le utf_16_be utf_32
"""

UNWANTED_ENDS = (".pyi", "py.typed", "/RECORD", "/WHEEL", "/METADATA", ".json")
UNWANTED_STARTS = (
    "pydantic/v1/",
    "pydantic/mypy",
    "pydantic/color",
    "pydantic/experimental/pipeline",
    "pydantic/experimental/arguments_schema",
    "annotated_types/test_cases",
    "fsrs/optimizer",
)

COMPILE = """
import ast, importlib._bootstrap_external as external, json, os, zipfile

todo = json.loads(argument)

def placeless(code):
    # Which line and columns each instruction came from is a third of the bytes. Here every instruction comes from the
    # first line of its function: entries without columns and with no step of line, each for up to eight instructions.
    units = len(code.co_code) // 2
    table = bytes([0xEF, 0]) * (units // 8) + (bytes([0xE8 | units % 8 - 1, 0]) if units % 8 else b"")
    inner = tuple(placeless(one) if hasattr(one, "co_code") else one for one in code.co_consts)
    return code.replace(co_linetable=table, co_consts=inner)

def bare(tree):
    # No one reads what functions say of themselves here.
    for node in ast.walk(tree):
        if isinstance(node, (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)) and node.body:
            first = node.body[0]
            if isinstance(first, ast.Expr) and isinstance(getattr(first.value, "value", None), str):
                node.body[:1] = [] if len(node.body) > 1 else [ast.copy_location(ast.Pass(), first)]
    return tree

def compiled(data, name, optimize):
    code = placeless(compile(bare(ast.parse(data, name)), name, "exec", dont_inherit=True, optimize=optimize))
    # Stamped "never check": the bytes are final, and looking for the source would cost a call for each import.
    return bytes(external._code_to_hash_pyc(code, bytes(8), False))

if "left_out" in todo:
    # Not compressed inside: compressed as a whole it is a quarter smaller, and each import is spared the unpacking.
    out = zipfile.ZipFile("/out/python_stdlib.zip", "w", zipfile.ZIP_STORED)
    with zipfile.ZipFile("/in/python_stdlib.zip") as library:
        for name in sorted(library.namelist()):
            parts = name.removesuffix(".py").split("/")
            if any("/".join(parts[:depth]) in todo["left_out"] for depth in range(1, 4)) or name.endswith("/"):
                continue
            if parts[0] == "encodings" and parts[1] not in todo["encodings"]:
                continue
            data = library.read(name)
            if name.endswith(".py"):
                data, name = compiled(data, "/lib/python314.zip/" + name, 2), name + "c"
            out.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), data)
    out.close()

for folder, _, files in sorted(os.walk("/tree")):
    for file in sorted(files):
        if file.endswith(".py"):
            path = os.path.join(folder, file)
            inside = todo["inside"] + path.removeprefix("/tree")
            with open(path, "rb") as source:
                data = compiled(source.read(), inside, todo["optimize"])
            target = path + "c"
            if todo["keep_source"]:
                os.makedirs(os.path.join(folder, "__pycache__"), exist_ok=True)
                target = os.path.join(folder, "__pycache__", file[:-3] + ".cpython-314.pyc")
            with open(target, "wb") as out_file:
                out_file.write(data)
            if not todo["keep_source"]:
                os.remove(path)
"""

INSIDE = "/lib/python3.14/site-packages"


@dataclass(frozen=True)
class Prepared:
    """runtime: folder with the files of RUNTIME_FILES. packages: tree of compiled third-party packages."""

    runtime: Path
    packages: Path


def prepare(cache: Path, say: Callable[[str], None] = lambda _: None) -> Prepared:
    """The prepared runtime and packages, from the cache folder when an earlier build left them there.

    Raises SiteError when something has to be fetched and cannot be.
    """
    recipe = "|".join(pin.digest for pin in EVERYTHING) + COMPILE + Path(__file__).read_text(encoding="utf-8")
    folder = cache / f"prepared-{hashlib.sha256(recipe.encode()).hexdigest()[:16]}"
    if not folder.is_dir():
        files = fetch(cache, say=say)
        say("compiling Python's library for the browser")
        with tempfile.TemporaryDirectory(dir=cache) as scratch:
            _prepare(files, Path(scratch))
            # Renamed in one step, so that a build which was broken off leaves nothing that looks complete.
            with contextlib.suppress(OSError):  # another build was faster: its folder is as good
                Path(scratch, "done").rename(folder)
    return Prepared(folder / "runtime", folder / "packages")


def _prepare(files: dict[str, Path], scratch: Path) -> None:
    original, done = scratch / "original", scratch / "done"
    runtime, packages = done / "runtime", done / "packages"
    for path in (original, runtime, packages):
        path.mkdir(parents=True)
    with tarfile.open(files[RUNTIME.name]) as archive:
        for name in RUNTIME_FILES:
            member = archive.extractfile(f"package/{name}")
            assert member is not None, name
            (original / name).write_bytes(member.read())
            shutil.copy(original / name, runtime / name)
    for pin in WHEELS:
        with zipfile.ZipFile(files[pin.name]) as wheel:
            wheel.extractall(packages, [name for name in wheel.namelist() if _wanted(name)])
    _compile(
        original,
        packages,
        {"left_out": LEFT_OUT.split(), "encodings": ENCODINGS.split(), "optimize": 2, "keep_source": False},
        {"/in": original, "/out": runtime},
    )
    # The site loads no package by name, so the list of a hundred of them stays out.
    listed = json.loads((original / LOCK).read_text(encoding="utf-8"))
    (runtime / LOCK).write_text(json.dumps(listed | {"packages": {}}), encoding="utf-8")


def _wanted(name: str) -> bool:
    """Package code only: no stubs, no metadata beyond the licences, none of pydantic's side rooms."""
    return not name.endswith(UNWANTED_ENDS) and not name.startswith(UNWANTED_STARTS)


def compile_engine(runtime: Path, tree: Path) -> None:
    """Compiles each module of the trainer for the browser's Python, into __pycache__ folders beside the sources.

    The sources stay: the engine's hash is taken over them and the plant compiler reads the laws' text. Assertions
    stay too, so that the engine is the same as everywhere else.
    """
    _compile(runtime, tree, {"optimize": 0, "keep_source": True}, {})


def _compile(runtime: Path, tree: Path, todo: Mapping[str, object], mounts: Mapping[str, Path]) -> None:
    node.run(runtime, COMPILE, json.dumps({"inside": INSIDE, **todo}), {"/tree": tree, **mounts})
