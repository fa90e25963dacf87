"""Serves a finished site from this machine, as any web host would: the right content types, compressed copies."""

from __future__ import annotations

import functools
import http.server
import json
import os
from http import HTTPStatus
from pathlib import Path
from typing import IO

# Python's own table differs between systems (Windows reads the registry), so the ones that matter are stated.
TYPES = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".mjs": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".json": "application/json",
    ".webmanifest": "application/manifest+json",
    ".svg": "image/svg+xml",
    ".wasm": "application/wasm",
    ".zip": "application/zip",
    ".gz": "application/gzip",
    ".txt": "text/plain; charset=utf-8",
}


class Handler(http.server.SimpleHTTPRequestHandler):
    """Files of one folder. A browser that takes gzip gets the compressed copy beside the file, where there is one."""

    protocol_version = "HTTP/1.1"
    extensions_map = TYPES

    def send_head(self) -> IO[bytes] | None:  # type: ignore[override]
        """Send the headers of the answer and give the open file with its body, packed where the browser takes it."""
        path = Path(self.translate_path(self.path))
        if path.is_dir() and self.path.split("?")[0].endswith("/"):
            path = path / "index.html"
        packed = path.with_name(path.name + ".gz")
        if not (path.is_file() and packed.is_file() and "gzip" in self.headers.get("Accept-Encoding", "")):
            return super().send_head()
        file = packed.open("rb")
        self.send_response(HTTPStatus.OK)
        self.send_header("Content-Type", self.guess_type(str(path)))
        self.send_header("Content-Encoding", "gzip")
        self.send_header("Content-Length", str(os.fstat(file.fileno()).st_size))
        self.send_header("Vary", "Accept-Encoding")
        self.end_headers()
        return file

    def end_headers(self) -> None:
        """Files in folders named after their contents never change; the few at the top must be asked for anew."""
        settled = self.path.count("/") > 1
        self.send_header("Cache-Control", "public, max-age=31536000, immutable" if settled else "no-cache")
        super().end_headers()

    def log_message(self, format: str, *args: object) -> None:
        """Say nothing of each request: the terminal belongs to the person who started it."""


RECORD = "site.json"
"""What a build writes down: its version, and every file that belongs to the site."""


def finished(out: Path) -> str | None:
    """The version of the trainer that wrote the site in the folder; None where there is none, or only a part of one."""
    try:
        record = json.loads((out / RECORD).read_text(encoding="utf-8"))
        whole = all((out / str(name)).is_file() for name in record["files"])
        return str(record["trainer"]) if whole else None
    except (OSError, ValueError, KeyError, TypeError):
        return None


def server(out: Path, port: int = 8000, host: str = "127.0.0.1") -> http.server.ThreadingHTTPServer:
    """A server for the site in `out`, listening but not yet answering; port 0 takes any free one."""
    handler = functools.partial(Handler, directory=str(out))
    return http.server.ThreadingHTTPServer((host, port), handler)


def serve(out: Path, port: int = 8000, host: str = "127.0.0.1") -> None:
    """Serves the site until interrupted. Raises OSError when the port is taken."""
    with server(out, port, host) as running:
        try:
            running.serve_forever()
        except KeyboardInterrupt:
            return
