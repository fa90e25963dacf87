"""Writes the take-away edition: static files that any web host, or none, can hand out.

Layout: the few files with fixed names lie at the top; everything else lies in two folders named after their
contents, one for Python and one for this version of the trainer. A browser therefore never mixes two versions:
an old page asks for old names. A build over an older one removes what that one wrote, and nothing else.
"""

from __future__ import annotations

import base64
import gzip
import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from trainer import resources
from trainer.console import guide_page
from trainer.console.about import GUIDE
from trainer.takeaway import plan_site, quick
from trainer.takeaway.bundle import code_archive, data_archive
from trainer.takeaway.errors import SiteError
from trainer.takeaway.fetch import cache_folder
from trainer.takeaway.page import HERE, RUNTIME, TITLE, save_page, scripts
from trainer.takeaway.prepare import LIBRARY, prepare
from trainer.takeaway.serve import RECORD
from trainer.version import __version__

CODE, DATA = "code.zip", "data.zip"
# What only a start without a memory asks for.
LATER = (f"/{CODE}.gz", f"/{LIBRARY}.gz")
# Shipped only compressed, and unpacked by the page: nine tenths of all bytes, and many hosts do not compress.
PACKED = (".wasm", ".zip", ".memory")
# Kept unpacked in the browser's store: no start waits for the unpacking.
UNPACKED = (".wasm.gz", ".memory.gz")
# Below this a compressed copy saves less than its own file costs.
WORTH_BYTES = 1400


@dataclass(frozen=True)
class SiteReport:
    """out: the folder. version: its content hash. Sizes in bytes: of the files, of their compressed copies, and of
    what one visitor's browser fetches when it takes the compressed copies."""

    out: Path
    version: str
    files: int
    plain_bytes: int
    copies_bytes: int
    fetched_bytes: int

    @property
    def folder_bytes(self) -> int:
        """Bytes of everything in the folder: files and their compressed copies."""
        return self.plain_bytes + self.copies_bytes

    def __str__(self) -> str:
        mb = 1e-6
        return (
            f"{self.out}: version {self.version}, {self.files} files, {self.folder_bytes * mb:.1f} MB in all "
            f"({self.copies_bytes * mb:.1f} MB of it compressed copies); a first visit fetches "
            f"{self.fetched_bytes * mb:.1f} MB"
        )


def build(
    out: Path,
    cache: Path | None = None,
    say: Callable[[str], None] = lambda _: None,
    drills: Path | None = None,
    course: bool = False,
) -> SiteReport:
    """Writes the site into the folder `out`, made when it is not there.

    drills: folder of drill files to hand out instead of the shipped ones. course: a learning system launches it.
    say: is told each step. cache: where fetched packages are kept (by default the user's cache folder); with it
    filled, no network is needed. Raises SiteError, one message, when something cannot be fetched, compiled or
    written; a folder that holds anything but an earlier site is refused.
    """
    cache = cache or cache_folder()
    old = _earlier(out)
    try:
        cache.mkdir(parents=True, exist_ok=True)
        prepared = prepare(cache, say)
        say("packing the engine, the rig and the drills")
        ours = {CODE: code_archive(prepared, cache), DATA: data_archive(cache, drills)}
        say("starting Python once, for its memory")
        memory = quick.memory(prepared.runtime, ours[CODE], ours[DATA], cache)
        if memory is None:
            say("this Python gives no memory away: the site starts without")
        else:
            ours |= {quick.FILE: memory.content, quick.REST: memory.rest}
        say("laying out the page")
        files = _compose(prepared.runtime, ours, course)
        say("writing the files")
        return _write(out, files, old)
    except OSError as error:
        raise SiteError(f"The site could not be written: {error}. Free some space or choose another folder.") from error


def _earlier(out: Path) -> list[str]:
    """The files an earlier build wrote here; SiteError when the folder holds something else."""
    if not out.exists():
        return []
    if not out.is_dir():
        raise SiteError(f"{out} is a file; name a folder for the site.")
    record = out / RECORD
    if record.is_file():
        try:
            named = json.loads(record.read_text(encoding="utf-8"))["files"]
            return [str(name) for name in named]
        except (ValueError, KeyError, TypeError) as error:
            raise SiteError(f"{record} is damaged; delete the folder {out} and build again.") from error
    if any(out.iterdir()):
        raise SiteError(f"{out} holds other files; name an empty folder, or one with an earlier site.")
    return []


def _compose(runtime: Path, packed: Mapping[str, bytes], course: bool) -> dict[str, bytes]:
    """Every file of the site by its path, without the compressed copies."""
    page = save_page(quick.FILE in packed, course)
    script = resources.assets() / "script"
    keeper = (script / "service-worker.js").read_text(encoding="utf-8")
    plans = plan_site.pages()
    archives = dict(_packed(name, content) for name, content in packed.items())
    ours = {**page.files, **scripts(course), **plan_site.scripts(), **archives}
    python: dict[str, bytes] = {}
    for path in sorted(runtime.iterdir()):
        name, content = _packed(path.name, path.read_bytes())
        python[name] = content
    python_folder = f"python-{_hash(python)}"
    texts = {"page": page.text, "keeper": keeper, "python": python_folder, **plans}
    everything = {**ours, **{name: text.encode() for name, text in texts.items()}}
    version = _hash(everything)
    here = f"trainer-{version}"

    def placed(text: str) -> bytes:
        return text.replace(HERE, here).replace(RUNTIME, python_folder).encode()

    files = {f"{python_folder}/{name}": content for name, content in python.items()}
    files |= {f"{here}/{name}": content for name, content in ours.items()}
    files["index.html"] = placed(page.text)
    files |= {name: placed(text) for name, text in plans.items()}
    files[GUIDE] = guide_page.html().encode()
    files["manifest.webmanifest"] = placed(json.dumps(_manifest(), indent=1))
    hashes = {path: _digest(files[path]) for path in sorted(files)}
    unpacked = {path: _digest(gzip.decompress(files[path])) for path in hashes if path.endswith(UNPACKED)}
    later = json.dumps([path for path in sorted(files) if _later(path, quick.FILE in packed)])
    keeper = keeper.replace("@VERSION@", version).replace("@FILES@", json.dumps(hashes)).replace("@LATER@", later)
    keeper = keeper.replace("@UNPACKED@", json.dumps(unpacked))
    files["service-worker.js"] = keeper.encode()
    return files


def _later(path: str, quickly: bool) -> bool:
    """Whether a browser fetches a file only when somebody asks for it. quickly: Python starts from its memory."""
    return path.rpartition("/")[2] in (GUIDE, *plan_site.LATER) or (quickly and path.endswith(LATER))


def _packed(name: str, content: bytes) -> tuple[str, bytes]:
    return (f"{name}.gz", gzip.compress(content, 9, mtime=0)) if name.endswith(PACKED) else (name, content)


def _manifest() -> dict[str, object]:
    icon = {"src": f"{HERE}/icon.svg", "type": "image/svg+xml", "sizes": "any"}
    return {
        "name": TITLE,
        "short_name": "Panel trainer",
        "description": "Practise on a computed blowout preventer control system, with or without a network.",
        "start_url": "./index.html",
        "scope": "./",
        "display": "standalone",
        "orientation": "landscape",
        "background_color": "#dfe3e7",
        "theme_color": "#20303f",
        "icons": [icon, {**icon, "purpose": "maskable"}],
    }


def _digest(content: bytes) -> str:
    return base64.b64encode(hashlib.sha256(content).digest()).decode()


def _hash(files: Mapping[str, bytes]) -> str:
    total = hashlib.sha256()
    for name in sorted(files):
        total.update(f"{len(name)} {name} {len(files[name])} ".encode() + files[name])
    return total.hexdigest()[:12]


def _write(out: Path, files: dict[str, bytes], old: list[str]) -> SiteReport:
    copies = {f"{path}.gz": copy for path, content in files.items() if (copy := _smaller(path, content)) is not None}
    quickly = any(path.endswith(f"/{quick.FILE}.gz") for path in files)
    asked = [path for path in files if not _later(path, quickly)]
    fetched = sum(len(copies.get(f"{path}.gz", files[path])) for path in asked)
    version = next(path for path in files if path.startswith("trainer-")).split("/")[0].removeprefix("trainer-")
    written = {**files, **copies}
    record = {"trainer": __version__, "version": version, "files": sorted([*written, RECORD])}
    # The top files last: whoever fetches in the middle of a build gets a whole version, old or new.
    for path in sorted(written, key=lambda path: (path.count("/") == 0, path)):
        target = out / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(written[path])
    (out / RECORD).write_text(json.dumps(record, indent=1), encoding="utf-8")
    _clear(out, [path for path in old if path not in written and path != RECORD])
    plain, extra = sum(map(len, files.values())), sum(map(len, copies.values()))
    return SiteReport(out, version, len(written) + 1, plain, extra, fetched)


def _smaller(path: str, content: bytes) -> bytes | None:
    if path.endswith(".gz") or len(content) < WORTH_BYTES:
        return None
    copy = gzip.compress(content, 9, mtime=0)
    return copy if len(copy) < 0.9 * len(content) else None


def _clear(out: Path, paths: list[str]) -> None:
    for path in paths:
        target = out / path
        # A record that was tampered with must not reach outside of the folder.
        if target.resolve().is_relative_to(out.resolve()):
            target.unlink(missing_ok=True)
            if target.parent != out and target.parent.is_dir() and not any(target.parent.iterdir()):
                target.parent.rmdir()
