"""What every answer of the server is held to: the name it was asked under, and headers that browsers keep to.

A transform of the web server's own kind, so that it stands before plain pages, live pages, files and errors alike.
Live pages run the scripts that came with them, by a nonce that is new for each answer, and no other.
"""

from __future__ import annotations

import secrets
from collections.abc import Collection

from tornado.httputil import HTTPHeaders, HTTPServerRequest
from tornado.web import OutputTransform

WRONG_NAME = b"This server is not called so. To reach it under this name, start it with --origin NAME:PORT."
_ALWAYS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "SAMEORIGIN",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
}


def policy(nonce: str, host: str) -> str:
    """The content security policy of a live page. Boards are modules that the page library makes of texts (``blob:``);
    what it draws has its style beside it."""
    return (
        f"default-src 'self'; script-src 'self' 'nonce-{nonce}' blob:; style-src 'self' 'unsafe-inline'; "
        f"img-src 'self' data: blob:; font-src 'self' data:; connect-src 'self' blob: ws://{host} wss://{host}; "
        "frame-ancestors 'self'; form-action 'self'; base-uri 'none'; object-src 'none'"
    )


class Headers(OutputTransform):
    """The transform. ``hosts`` are the names (host:port) under which the server may be asked."""

    hosts: Collection[str] = ()

    def __init__(self, request: HTTPServerRequest) -> None:
        super().__init__(request)
        self._host = request.host.lower()
        self._right = self._host in self.hosts

    def transform_first_chunk(
        self, status_code: int, headers: HTTPHeaders, chunk: bytes, finishing: bool
    ) -> tuple[int, HTTPHeaders, bytes]:
        """The head of an answer, with its first part."""
        if not self._right:
            told = HTTPHeaders({"Content-Type": "text/plain", "Content-Length": str(len(WRONG_NAME)), **_ALWAYS})
            return 421, told, WRONG_NAME
        for name, value in _ALWAYS.items():
            headers.setdefault(name, value)
        if headers.get("Content-Type", "").startswith("text/html") and "Content-Security-Policy" not in headers:
            nonce = secrets.token_urlsafe(18)
            headers["Content-Security-Policy"] = policy(nonce, self._host)
            if finishing:
                chunk = chunk.replace(b"<script", b'<script nonce="' + nonce.encode() + b'"')
                if "Content-Length" in headers:
                    headers["Content-Length"] = str(len(chunk))
        return status_code, headers, chunk

    def transform_chunk(self, chunk: bytes, finishing: bool) -> bytes:
        """A later part."""
        return chunk if self._right else b""


def headers_for(hosts: Collection[str]) -> type[Headers]:
    """The transform of a server that is called by these names."""
    return type("ServerHeaders", (Headers,), {"hosts": hosts})
