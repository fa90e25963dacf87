"""Fetching: pinned by hash, kept in a cache folder, one clear message without a network."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from trainer.takeaway.errors import SiteError
from trainer.takeaway.fetch import cache_folder, fetch, matches
from trainer.takeaway.pins import EVERYTHING, RUNTIME, WHEELS, Pin
from trainer.takeaway.prepare import prepare

SMALL = next(pin for pin in WHEELS if pin.name == "annotated-types")


@pytest.fixture
def no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    """Both clients look for a registry where none is."""
    nowhere = "http://127.0.0.1:9/"
    for name in ("PIP_INDEX_URL", "npm_config_registry"):
        monkeypatch.setenv(name, nowhere)
    for name in ("PIP_EXTRA_INDEX_URL", "PIP_FIND_LINKS"):
        monkeypatch.setenv(name, "")
    monkeypatch.setenv("PIP_CONFIG_FILE", "/dev/null")
    monkeypatch.setenv("PIP_RETRIES", "0")
    # The one retry that is asked for comes at once, not after npm's ten seconds.
    monkeypatch.setenv("npm_config_fetch_retry_mintimeout", "10")
    monkeypatch.setenv("npm_config_fetch_retry_maxtimeout", "10")


def test_a_damaged_file_in_the_cache_is_fetched_again(tmp_path: Path) -> None:
    """Every use checks the hash."""
    path = tmp_path / SMALL.file
    path.write_bytes(b"damaged")
    said: list[str] = []
    assert fetch(tmp_path, [SMALL], said.append) == {SMALL.name: path}
    assert matches(path, SMALL)
    assert said == [f"fetching {SMALL.title}"]
    assert fetch(tmp_path, [SMALL], said.append) == {SMALL.name: path}
    assert len(said) == 1
    assert [entry.name for entry in tmp_path.iterdir()] == [SMALL.file]


@pytest.mark.parametrize("pin", [SMALL, RUNTIME], ids=["pip", "npm"])
@pytest.mark.usefixtures("no_network")
def test_a_lost_network_gives_one_message(pin: Pin, tmp_path: Path) -> None:
    """It names the package, quotes the client, and tells both ways out."""
    with pytest.raises(SiteError) as caught:
        fetch(tmp_path, [pin])
    message = str(caught.value)
    assert "\n" not in message
    assert message.startswith(f"{pin.title} is not in the cache and could not be fetched: ")
    assert "Connect to the network and run this again" in message
    assert f"put the file {pin.file} into {tmp_path}" in message
    assert list(tmp_path.iterdir()) == []


def test_other_contents_than_the_pinned_ones_are_refused(tmp_path: Path) -> None:
    """A mirror that hands out something else is not believed."""
    other = Pin(SMALL.kind, SMALL.name, SMALL.version, SMALL.file, "sha256:" + hashlib.sha256(b"").hexdigest())
    with pytest.raises(SiteError, match="arrived with other contents than the pinned ones"):
        fetch(tmp_path, [other])
    assert list(tmp_path.iterdir()) == []


def test_a_missing_client_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Who has no npm is told where it comes from."""
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(SiteError, match=r"the npm command is not installed \(it comes with Node.js\)"):
        fetch(tmp_path, [RUNTIME])


@pytest.mark.usefixtures("no_network")
def test_a_filled_cache_needs_no_network(site: object) -> None:
    """After one build the next one prepares everything from the cache."""
    assert site
    said: list[str] = []
    prepared = prepare(cache_folder(), said.append)
    assert said == []
    assert (prepared.runtime / "pyodide.asm.wasm").is_file()


def test_pins_are_whole() -> None:
    """Each pin names a version, a file and a strong hash; wheels are of pydantic, the scheduler and the plant files."""
    for pin in EVERYTHING:
        name, _, digest = pin.digest.partition(":")
        assert (name, len(digest)) in {("sha256", 64), ("sha512", 128)}
        assert pin.version in pin.file
    assert {pin.name for pin in WHEELS} == {
        "annotated-types",
        "fsrs",
        "pydantic",
        "pydantic-core",
        "tomlkit",
        "typing-extensions",
        "typing-inspection",
    }
