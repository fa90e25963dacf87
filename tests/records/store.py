"""A general-purpose learning record store from the Python registry, in an environment of its own, for the tests."""

from __future__ import annotations

import json
import os
import shutil
import socket
import subprocess
import sys
import time
from pathlib import Path

from tests.waiting import PATIENCE, alone
from trainer.takeaway.fetch import cache_folder

PACKAGES = ("ralph-malph[lrs,backend-fs]==5.1.0", "requests==2.32.5")
USER, SECRET = "class", "four plain words"
_HASH = "import bcrypt, sys; print(bcrypt.hashpw(sys.argv[1].encode(), bcrypt.gensalt(4)).decode())"


def environment() -> Path:
    """The Python of an environment with the store in it; made once and kept in the cache folder."""
    shelf = cache_folder() / "tested-lrs"
    python = shelf / "5.1.0" / "bin" / "python"
    with alone(shelf):
        if not python.exists():
            part = shelf / "part"
            shutil.rmtree(part, ignore_errors=True)
            subprocess.run([sys.executable, "-m", "venv", str(part)], check=True)
            install = [str(part / "bin" / "python"), "-m", "pip", "install", "--quiet", *PACKAGES]
            subprocess.run(install, check=True)
            part.rename(shelf / "5.1.0")
    return python


class RecordStore:
    """One store with its statements in a folder, answering on a free port of the loopback address."""

    def __init__(self, folder: Path) -> None:
        python = environment()
        hashed = subprocess.run([str(python), "-c", _HASH, SECRET], check=True, capture_output=True, text=True).stdout
        agent = {"objectType": "Agent", "account": {"homePage": "https://trainer.invalid", "name": USER}}
        user = {"agent": agent, "scopes": ["all"], "hash": hashed.strip(), "username": USER}
        (folder / "auth.json").write_text(json.dumps([user]))
        (folder / "kept").mkdir()
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = int(probe.getsockname()[1])
        self._log = (folder / "log").open("w")
        self._process = subprocess.Popen(
            [str(python), "-m", "uvicorn", "ralph.api:app", "--host", "127.0.0.1", "--port", str(self.port)],
            cwd=folder,
            stdout=self._log,
            stderr=subprocess.STDOUT,
            env={
                **os.environ,
                "RALPH_APP_DIR": str(folder),
                "RALPH_RUNSERVER_BACKEND": "fs",
                "RALPH_BACKENDS__LRS__FS__DEFAULT_DIRECTORY_PATH": str(folder / "kept"),
            },
        )
        end = time.monotonic() + PATIENCE
        while not self._answers():
            assert time.monotonic() < end, (folder / "log").read_text()
            time.sleep(0.1)

    def _answers(self) -> bool:
        with socket.socket() as probe:
            return probe.connect_ex(("127.0.0.1", self.port)) == 0

    @property
    def url(self) -> str:
        """Its URL, as the server is told it."""
        return f"http://{USER}:{SECRET.replace(' ', '%20')}@127.0.0.1:{self.port}/xAPI"

    def remove(self) -> None:
        """Stop it."""
        self._process.terminate()
        self._process.wait(20)
        self._log.close()
