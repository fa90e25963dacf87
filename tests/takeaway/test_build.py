"""The folder that is handed out: small, whole, local, and the same each time."""

from __future__ import annotations

import base64
import gzip
import hashlib
import json
import re
import shutil
from pathlib import Path

import pytest

from trainer.takeaway.build import SiteReport, build
from trainer.takeaway.errors import SiteError

MB = 1_000_000


def listed(site: SiteReport) -> dict[str, str]:
    """The files the service worker keeps, with their hashes."""
    script = (site.out / "service-worker.js").read_text("utf-8")
    found = re.search(r"const FILES = (\{.*\})\n", script)
    assert found
    return dict(json.loads(found[1]))


def test_the_folder_is_small(site: SiteReport) -> None:
    """At most 20 MB with its compressed copies, and at most 12 MB for a visitor to fetch: 11 are the aim."""
    there = sum(path.stat().st_size for path in site.out.rglob("*") if path.is_file())
    print(site)
    assert there == pytest.approx(site.folder_bytes, abs=20_000)  # beside its own record
    assert there <= 20 * MB
    assert site.fetched_bytes <= 11 * MB


def test_the_service_worker_keeps_every_file_by_its_hash(site: SiteReport) -> None:
    """All that a page can ask for is in its list, as it lies in the folder."""
    files = listed(site)
    for path, digest in files.items():
        assert base64.b64encode(hashlib.sha256((site.out / path).read_bytes()).digest()).decode() == digest, path
    plain = {path.relative_to(site.out).as_posix() for path in site.out.rglob("*") if path.is_file()}
    copies = {path for path in plain if path.endswith(".gz") and path[:-3] in plain}
    assert plain - copies - {"service-worker.js", "site.json"} == set(files)


def test_compressed_copies_hold_the_same(site: SiteReport) -> None:
    """Each copy unpacks to the file beside it."""
    copies = [path for path in site.out.rglob("*.gz") if path.with_suffix("").is_file()]
    assert len(copies) >= 8
    for copy in copies:
        assert gzip.decompress(copy.read_bytes()) == copy.with_suffix("").read_bytes()


def test_the_page_names_only_its_own_files(site: SiteReport) -> None:
    """Scripts, styles and icons are local and there; the page forbids requests to anywhere else."""
    page = (site.out / "index.html").read_text("utf-8")
    named = re.findall(r"""(?:src|href)=["']([^"'#]+)["']""", page)
    assert len(named) >= 8
    for name in named:
        assert (site.out / name).is_file(), name
    assert "cdn." not in page
    assert "connect-src 'self' data: blob:" in page


def test_a_new_build_clears_the_old_one_away(site: SiteReport, tmp_path: Path) -> None:
    """Only what an earlier build wrote goes, a stranger's file stays; the same sources give the same bytes."""
    # An earlier version: its folder bears another name, and so do its files in its record.
    out, ours, theirs = tmp_path / "site", f"trainer-{site.version}", "trainer-earlier"
    shutil.copytree(site.out, out)
    (out / ours).rename(out / theirs)
    record = out / "site.json"
    record.write_text(record.read_text("utf-8").replace(ours, theirs), "utf-8")
    (out / "index.html").write_text("an earlier page")
    (out / "note.txt").write_text("mine")
    assert build(out).version == site.version
    folders = sorted(path.name for path in out.iterdir() if path.is_dir())
    assert folders == sorted(path.name for path in site.out.iterdir() if path.is_dir())
    assert (out / "note.txt").read_text() == "mine"
    for path in listed(site):
        assert (out / path).read_bytes() == (site.out / path).read_bytes(), path


def test_a_folder_with_other_files_is_refused(tmp_path: Path) -> None:
    """Nobody's files are mixed with a site."""
    (tmp_path / "thesis.txt").write_text("mine")
    with pytest.raises(SiteError, match="holds other files"):
        build(tmp_path)
    with pytest.raises(SiteError, match="is a file; name a folder"):
        build(tmp_path / "thesis.txt")
    assert [path.name for path in tmp_path.iterdir()] == ["thesis.txt"]


def test_a_damaged_record_is_told(tmp_path: Path) -> None:
    """A record that cannot be read is not guessed at, and cannot reach outside of the folder."""
    (tmp_path / "site.json").write_text("{")
    with pytest.raises(SiteError, match="is damaged; delete the folder"):
        build(tmp_path)


def test_the_manifest_makes_it_installable(site: SiteReport) -> None:
    """Name, icon, start and scope: what a browser asks for before it offers to install."""
    manifest = json.loads((site.out / "manifest.webmanifest").read_text("utf-8"))
    assert manifest["start_url"] == "./index.html"
    assert manifest["display"] == "standalone"
    assert (site.out / manifest["icons"][0]["src"]).is_file()
