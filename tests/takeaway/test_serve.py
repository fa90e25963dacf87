"""The little web host: content types, compressed copies, caching, nothing outside its folder."""

from __future__ import annotations

import gzip
import http.client
import json
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.waiting import PATIENCE
from trainer.cli import app
from trainer.takeaway.serve import server


@pytest.fixture
def address(tmp_path: Path) -> Iterator[tuple[str, int]]:
    site = tmp_path / "site"
    (site / "part").mkdir(parents=True)
    (site / "index.html").write_text("<p>hello</p>")
    (site / "part" / "code.mjs").write_bytes(b"export {}")
    (site / "part" / "code.mjs.gz").write_bytes(gzip.compress(b"export {}"))
    (site / "part" / "engine.wasm").write_bytes(b"\0asm")
    (site / "app.webmanifest").write_text("{}")
    (tmp_path / "secret.txt").write_text("secret")
    running = server(site, 0)
    threading.Thread(target=running.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True).start()
    yield "127.0.0.1", running.server_address[1]
    running.shutdown()
    running.server_close()


def ask(address: tuple[str, int], path: str, **headers: str) -> tuple[int, dict[str, str], bytes]:
    connection = http.client.HTTPConnection(*address, timeout=PATIENCE)
    connection.request("GET", path, headers={name.replace("_", "-"): value for name, value in headers.items()})
    answer = connection.getresponse()
    body = answer.read()
    connection.close()
    return answer.status, {name.title(): value for name, value in answer.getheaders()}, body


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("/", "text/html; charset=utf-8"),
        ("/part/code.mjs", "text/javascript; charset=utf-8"),
        ("/part/engine.wasm", "application/wasm"),
        ("/app.webmanifest", "application/manifest+json"),
    ],
)
def test_content_types(address: tuple[str, int], path: str, kind: str) -> None:
    """A browser refuses modules and WebAssembly of another type."""
    status, headers, _ = ask(address, path)
    assert (status, headers["Content-Type"]) == (200, kind)


def test_a_browser_that_takes_gzip_gets_the_copy(address: tuple[str, int]) -> None:
    """Same type, compressed body; others get the plain file."""
    status, headers, body = ask(address, "/part/code.mjs", Accept_Encoding="gzip, br")
    assert (status, headers["Content-Encoding"]) == (200, "gzip")
    assert headers["Content-Type"] == "text/javascript; charset=utf-8"
    assert gzip.decompress(body) == b"export {}"
    status, headers, body = ask(address, "/part/code.mjs")
    assert (status, body) == (200, b"export {}")
    assert "Content-Encoding" not in headers


def test_caching(address: tuple[str, int]) -> None:
    """Folders named after their contents may be kept for ever; the entry is asked for anew."""
    assert ask(address, "/")[1]["Cache-Control"] == "no-cache"
    assert "immutable" in ask(address, "/part/code.mjs")[1]["Cache-Control"]


@pytest.mark.parametrize("path", ["/../secret.txt", "/%2e%2e/secret.txt", "/part/../../secret.txt", "/none.js"])
def test_nothing_outside_the_folder(address: tuple[str, int], path: str) -> None:
    """A crooked path finds nothing."""
    status, _, body = ask(address, path)
    assert status == 404
    assert b"secret" not in body.replace(b"secret.txt", b"")


def test_a_finished_site_is_served_as_it_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Neither built nor looked for Node or a network; a folder with a part of a site is built."""
    site, done = tmp_path / "site", []
    site.mkdir()
    (site / "index.html").write_text("<p>hello</p>")
    (site / "site.json").write_text(json.dumps({"trainer": "0.1", "version": "x", "files": ["index.html"]}))
    monkeypatch.setattr("trainer.takeaway.build.build", lambda out, say: done.append("built"))
    monkeypatch.setattr("trainer.takeaway.serve.serve", lambda out, port: done.append(f"served at {port}"))
    said = CliRunner().invoke(app, ["site", str(site), "--serve", "--port", "8123"])
    assert (said.exit_code, done) == (0, ["served at 8123"]), said.output
    assert "finished, of version 0.1" in said.output
    (site / "index.html").unlink()
    CliRunner().invoke(app, ["site", str(site), "--serve", "--port", "8123"])
    assert done[1:] == ["built", "served at 8123"]
