"""A PostgreSQL server of the tests' own, in a folder of its own, that can be stopped and started again."""

from __future__ import annotations

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from pathlib import Path


def binaries() -> Path | None:
    """Where initdb and pg_ctl lie; None when PostgreSQL is not on this machine."""
    places = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    if places:
        return places[-1].parent
    found = shutil.which("initdb")
    return Path(found).resolve().parent if found else None


class PostgreSQL:
    """One server on a free port of the loopback address."""

    def __init__(self) -> None:
        found = binaries()
        assert found is not None, "PostgreSQL is not on this machine"
        self._bin = found
        # The server refuses to run as root: then it runs as the system's own account for it.
        self._user = "postgres" if os.geteuid() == 0 else None
        self.folder = Path(tempfile.mkdtemp(prefix="trainer-pg-"))
        if self._user:
            account = pwd.getpwnam(self._user)
            os.chown(self.folder, account.pw_uid, account.pw_gid)
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        self._run("initdb", "-D", "data", "-U", "trainer", "-A", "trust", "--no-sync", "-E", "UTF8")
        self.start()

    def _run(self, name: str, *arguments: str) -> None:
        subprocess.run(
            [str(self._bin / name), *arguments],
            cwd=self.folder,
            user=self._user,
            env={"PATH": os.environ["PATH"], "LC_ALL": "C.UTF-8"},
            stdout=subprocess.DEVNULL,
            check=True,
            timeout=60,
        )

    def start(self) -> None:
        """Start, or start again."""
        settings = f"-p {self.port} -h 127.0.0.1 -k {self.folder} -F"
        self._run("pg_ctl", "-D", "data", "-l", "log", "-o", settings, "-w", "start")

    def stop(self) -> None:
        """Stop at once; open connections break."""
        self._run("pg_ctl", "-D", "data", "-m", "immediate", "-w", "stop")

    def database(self, name: str) -> str:
        """The URL of a new, empty database."""
        self._run("createdb", "-h", "127.0.0.1", "-p", str(self.port), "-U", "trainer", name)
        return f"postgresql://trainer@127.0.0.1:{self.port}/{name}"

    def remove(self) -> None:
        """Stop, unless it is stopped, and leave nothing behind."""
        if (self.folder / "data" / "postmaster.pid").exists():
            self.stop()
        shutil.rmtree(self.folder, ignore_errors=True)
