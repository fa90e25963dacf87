"""All that the edition without a server imports comes in as it does there: a break of it is seen in seconds.

One process of plain Python: no package but those that go along, no compiled library that Python's memory does not
bring back, none that Pyodide lacks, no law's source looked up (what is compiled there has no lines). In it runs the
very program whose memory the quick start is, and then a drill is opened. The whole edition is built and visited in
``test_by_browser.py``.
"""

from __future__ import annotations

import importlib.util
import json
import subprocess
import sys
from pathlib import Path

import pytest

from trainer.takeaway import quick
from trainer.takeaway.bundle import modules
from trainer.takeaway.prepare import LEFT_OUT

BROUGHT = ("fsrs",)
ROOT = Path(__file__).parents[2]
GONE = (
    # Compiled: parsers, archives and databases do not come back with the memory.
    *("pyexpat", "xml", "_ssl", "ssl", "_sqlite3", "sqlite3", "_lzma", "_bz2", "_ctypes", "ctypes"),
    # Not in Pyodide, by its page "Pyodide Python compatibility".
    *("curses", "dbm", "ensurepip", "fcntl", "grp", "idlelib", "lib2to3", "msvcrt", "pty", "pwd", "resource", "syslog"),
    *("termios", "tkinter", "tty", "turtle", "venv", "winreg"),
    # There, and without use: no process begins another.
    *("multiprocessing", "concurrent"),
    # Left out of the library that goes along.
    *(name for name in LEFT_OUT.split() if "/" not in name),
)
AS_THERE = """
import inspect, json, sys
gone, argument, program, roots = json.loads(sys.argv[1])

class Gone:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in gone:
            raise ModuleNotFoundError(f"{name} is not there in the edition without a server", name=name)

def no_source(*_):
    raise OSError("what is compiled there has no source lines")

sys.meta_path.insert(0, Gone())
inspect.findsource = inspect.getsource = inspect.getsourcelines = no_source
sys.path[:0] = roots
kept = {"argument": argument}
exec(program, kept)
"""
DRILL = """
# There the plant comes as a compiled module; here nothing moves.
from trainer.hydraulics.machine import PlainPython
PlainPython.bind = lambda self, net: lambda scans: True
print(kept["desk"].handle(json.dumps({"page": "start", "drill": "first-run", "mode": "practice", "seed": "1"})))
"""


BREAKS = """
import json
for broken in ("xml.etree.ElementTree", "sqlite3", "numpy", "pydantic", "concurrent.futures", "tkinter"):
    try:
        __import__(broken)
        print(broken)
    except ImportError:
        pass
import inspect
try:
    inspect.getsource(json)
    print("getsource")
except OSError:
    pass
"""


@pytest.fixture(scope="module")
def beside(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the packages that go along, and no other."""
    folder = tmp_path_factory.mktemp("beside")
    for name in BROUGHT:
        found = importlib.util.find_spec(name)
        assert found is not None and found.submodule_search_locations is not None
        (folder / name).symlink_to(found.submodule_search_locations[0])
    return folder


def there(beside: Path, program: str, then: str = "") -> str:
    """What the program prints, run as in the browser's memory."""
    argument = json.dumps({"modules": sorted(modules()), "data": "0" * 64})
    given = json.dumps([GONE, argument, program, [str(ROOT), str(beside)]])
    start = [sys.executable, "-I", "-S", "-c", AS_THERE + then, given]
    done = subprocess.run(start, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-3000:]
    return done.stdout


def test_everything_is_imported_and_a_drill_is_opened(beside: Path) -> None:
    assert "deck-driller" in there(beside, quick.PROGRAM, DRILL)


def test_what_is_not_there_is_refused(beside: Path) -> None:
    assert there(beside, BREAKS).split() == []
