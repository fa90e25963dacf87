"""The web server of the documentation, started by the tests before two processes of a class."""

from __future__ import annotations

import os
import re
import shutil
import socket
import subprocess
import tempfile
from pathlib import Path

from tests.classroom.conftest import ROOT
from tests.waiting import wait_until

CONFIGURATION = ROOT / "assets" / "docs" / "nginx" / "classroom.conf"


def program() -> str | None:
    """Where nginx is; None when it is not on this machine."""
    return shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin:/usr/local/sbin")


def free_port() -> int:
    """A port that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Nginx:
    """nginx with the documented configuration: only its ports are changed, and where ``most`` is given, how many
    connections an address may have."""

    def __init__(self, port: int, one: int, two: int, most: int | None = None) -> None:
        found = program()
        assert found is not None
        self.url = f"http://127.0.0.1:{port}/"
        self.folder = Path(tempfile.mkdtemp(prefix="trainer-nginx-"))
        text = CONFIGURATION.read_text("utf-8")
        for old, new in (("8080", port), ("5101", one), ("5102", two)):
            text, count = re.subn(rf"127\.0\.0\.1:{old}\b", f"127.0.0.1:{new}", text)
            assert count, f"the documented configuration names no port {old}"
        if most is not None:
            text, count = re.subn(r"limit_conn trainer \d+;", f"limit_conn trainer {most};", text)
            assert count == 1, "the documented configuration limits connections once"
        # As root it would hand its work to an account that may not write here.
        (self.folder / "classroom.conf").write_text(f"user root;\n{text}" if os.geteuid() == 0 else text)
        self.process = subprocess.Popen(
            [found, "-p", str(self.folder), "-c", "classroom.conf", "-e", "error.log", "-g", "daemon off;"]
        )
        wait_until(lambda: _listens(port))

    def remove(self) -> None:
        """Stop it, and leave nothing behind."""
        self.process.terminate()
        self.process.wait(10)
        shutil.rmtree(self.folder, ignore_errors=True)


def _listens(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0
