"""A classroom's server in a process of its own, and people who come to it by HTTP."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Callable, Iterator
from http.cookiejar import CookieJar
from pathlib import Path
from typing import Any

import pytest

from tests.classroom.wire import Page, run
from tests.waiting import PATIENCE

ROOT = Path(__file__).resolve().parents[2]
SECRET = "four plain words here"


class Server:
    """``trainer serve`` with a data folder of its own; it can be killed and started again on the same port."""

    def __init__(self, folder: Path, *arguments: str) -> None:
        self.folder = folder
        self.arguments = arguments
        self.url = ""
        self.secret = ""
        self.port = "0"
        self.process: subprocess.Popen[str] | None = None

    def start(self) -> Server:
        """Start and wait for the address (and, the first time, the one-time secret)."""
        command = [sys.executable, "-m", "trainer.cli", "serve", "--port", self.port, *self.arguments]
        log = (self.folder.parent / f"{self.folder.name}.log").open("a")
        self.process = subprocess.Popen(
            command,
            cwd=ROOT,
            stdout=subprocess.PIPE,
            stderr=log,
            text=True,
            env={**os.environ, "TRAINER_DATA": str(self.folder), "PYTHONUNBUFFERED": "1"},
        )
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        found = re.search(r"http://\S+", line)
        assert found, f"no address in {line!r}"
        self.url = found[0]
        self.port = self.url.rstrip("/").rsplit(":", 1)[1]
        if not self.secret:
            told = re.search(r"one-time password (\S+)", self.process.stdout.readline())
            assert told, "no password was printed"
            self.secret = told[1]
        return self

    def kill(self) -> None:
        """The process is gone at once."""
        assert self.process is not None
        os.kill(self.process.pid, signal.SIGKILL)
        self.process.wait(10)

    def stop(self) -> None:
        """Ask it to end."""
        if self.process is not None and self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
            try:
                self.process.wait(15)
            except subprocess.TimeoutExpired:
                self.process.kill()

    def memory(self) -> float:
        """Resident memory of the process, MB."""
        assert self.process is not None
        status = Path(f"/proc/{self.process.pid}/status").read_text()
        found = re.search(r"VmRSS:\s+(\d+)", status)
        assert found
        return int(found[1]) / 1024.0

    def processor(self) -> float:
        """Processor time that the process has used, s."""
        assert self.process is not None
        fields = Path(f"/proc/{self.process.pid}/stat").read_text().rsplit(")", 1)[1].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


class Visitor:
    """Somebody with a browser's cookies who fills in forms."""

    def __init__(self, url: str) -> None:
        self.url = url
        self.jar = CookieJar()
        self._open = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(self.jar))
        self.status = 0

    def request(self, path: str, data: bytes | None = None, headers: dict[str, str] | None = None) -> str:
        """The text of a page; ``status`` is its status."""
        asked = urllib.request.Request(self.url + path, data=data, headers=headers or {})
        try:
            with self._open.open(asked, timeout=PATIENCE) as answer:
                self.status = answer.status
                self.where = answer.url
                return str(answer.read().decode())
        except urllib.error.HTTPError as error:
            self.status = error.code
            return error.read().decode()

    get = request

    def token(self, path: str) -> str:
        """The form token of a page."""
        found = re.search(r'name="_xsrf" value="([^"]+)"', self.request(path))
        assert found, f"no form on {path} (status {self.status})"
        return found[1]

    def post(self, path: str, fields: dict[str, Any], token_from: str | None = None) -> str:
        """Fill in and send a form."""
        sent = {"_xsrf": self.token(token_from or path), **fields}
        return self.request(path, urllib.parse.urlencode(sent).encode())

    def cookie(self, name: str = "trainer-login") -> str | None:
        """A cookie's value."""
        return next((cookie.value for cookie in self.jar if cookie.name == name), None)

    def log_in(self, name: str, secret: str) -> Visitor:
        """Log in with a secret; a one-time one is changed for the tests' usual one."""
        self.post("login", {"name": name, "secret": secret})
        if "Choose a password" in self.get("secret") and secret != SECRET:
            self.post("secret", {"secret": SECRET, "again": SECRET})
        return self

    def join(self, name: str, code: str, number: str = "") -> str:
        """Join a class; gives the personal number if one was given out."""
        text = self.post("join", {"name": name, "code": code, "number": number}, token_from="login")
        found = re.search(r'data-number="here">(\d{6})<', text)
        return found[1] if found else ""


def serve(folder: Path, *arguments: str) -> Iterator[Server]:
    """A running server, stopped at the end."""
    server = Server(folder, *arguments).start()
    yield server
    server.stop()


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A classroom on this machine where trainees join by code."""
    yield from serve(tmp_path_factory.mktemp("classroom"), "--join")


@pytest.fixture(scope="session")
def instructor(server: Server) -> Visitor:
    """The first instructor, with a secret chosen."""
    return Visitor(server.url).log_in("instructor", server.secret)


def class_code(server: Server, instructor: Visitor) -> str:
    """A code by which trainees join, made at the instructor's desk."""

    async def ask() -> str:
        staff = await Page(server.url, instructor.cookie()).open(hello=False, path="instructor")
        code = await staff.class_code()
        staff.close()
        return code

    return run(ask())


@pytest.fixture(scope="session")
def code(server: Server, instructor: Visitor) -> str:
    """The code by which trainees join that classroom."""
    return class_code(server, instructor)


@pytest.fixture(scope="session")
def joined(server: Server, code: str) -> Callable[[str], Visitor]:
    """Makes a trainee of this name who has joined."""

    def join(name: str) -> Visitor:
        visitor = Visitor(server.url)
        assert visitor.join(name, code), f"{name} did not join"
        return visitor

    return join
