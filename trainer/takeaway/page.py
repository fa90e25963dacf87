"""The page itself: the console's own page, laid out by Panel, saved as one file with every script local.

Nothing is drawn here. What this module adds around the page is what a page without a server needs: the start's
progress, a place for notices, the bridge script, and a rule that forbids requests to anywhere else.
"""

from __future__ import annotations

import html
import io
import json
import logging
import re
from dataclasses import dataclass
from pathlib import Path

from trainer import resources
from trainer.takeaway.errors import SiteError
from trainer.takeaway.pieces import STRANGE, in_pieces
from trainer.takeaway.prepare import LIBRARY
from trainer.takeaway.quick import ENV, REST
from trainer.takeaway.quick import FILE as MEMORY

HERE = "@HERE@"
"""Stands for the folder of this version until the contents, and so the folder's name, are known."""
RUNTIME = "@RUNTIME@"
COURSE = "cmi5.js"
"""The script that speaks with a learning system."""

TITLE = "Well control panel trainer"

STAGES = (
    ("runtime", "Loading Python"),
    ("engine", "Unpacking the engine"),
    ("drills", "Reading the rig and the drills"),
    ("page", "Drawing the boards"),
    ("ready", "Ready"),
)

WORDS = {
    "unkept": "This browser does not store the run: a reload or a crash will lose it, and files of your own too.",
    "unoffline": "The trainer is not kept on this device: it needs the network next time. Free some space and reload.",
    "insecure": "A browser keeps the trainer for use without a network only from an https address.",
    "fault": "The engine stopped:",
    "unstarted": "The trainer could not start. Reload the page; if that does not help, connect to the network first.",
    "file": "This page was opened as a file. A browser starts the trainer only from a web address. "
    "On this computer: open a terminal in the folder of this file and run  python3 -m http.server 8000  "
    "(Windows: py -m http.server 8000). Then open http://127.0.0.1:8000/ in the browser. "
    "Or put the folder on a web host.",
    "newer": "A newer version of the trainer is ready.",
    "later": "Your own files need one more part of the trainer. Connect to the network, then hand the file in again.",
    "mended": "A part of the trainer was damaged in this browser's store. It was fetched again: reload the page.",
    "damaged": "A part of the trainer is damaged in this browser's store. Connect to the network and reload.",
    "reload": "Reload now",
    "unheard": "The learning system is not connected, so nothing is reported to it:",
    "close": "Hide",
}

# Blob addresses: Panel hands a board's script to the browser as one. Inline scripts: Bokeh's own start of the page.
POLICY = (
    "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval' blob:; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data: blob:; connect-src 'self' data: blob:; worker-src 'self'; object-src 'none'; base-uri 'none'"
)

FROM_DISK = (
    "{ document.getElementById('start-stage').textContent = "
    f"{json.dumps(WORDS['file'])}; document.getElementById('start-bar').hidden = true; "
    "document.documentElement.dataset.engine = 'failed' }"
)

# Bokeh asks for its optional parts whether or not the page has a model of them.
UNUSED = ("bokeh-gl.min.js", "bokeh-mathjax.min.js")

_DRAWN_NAMES = re.compile(r"\b(?:p\d{4,}|[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12})\b")
_SET_OF_NAMES = re.compile(r'("type":"set","entries":)\[((?:"\w+",?)+)\]')

_STATIC = re.compile(
    r"(?:\./)?static/js/(?P<bokeh>[\w./@^-]+)"
    r"|(?:\./)?static/extensions/panel/(?P<panel>[\w./@^-]+)(?:\?v=\w+)?"
    r"|https://cdn\.holoviz\.org/panel/[\w.]+/dist/(?P<remote>[\w./@^-]+)(?:\?v=[\w.]+)?"
)


@dataclass(frozen=True)
class SavedPage:
    """text: the page, with HERE and RUNTIME where the folders' names go. files: what it names, by file name."""

    text: str
    files: dict[str, bytes]


def save_page(quick: bool = False, course: bool = False) -> SavedPage:
    """The console's page and the scripts and styles it needs. SiteError when it still names another place.

    ``quick``: Python's memory lies beside it. course: a learning system launches it, and is told of it.
    """
    text, files = _localised(_saved_by_panel())
    text = _furnished(in_pieces(_settled(text)), quick, course)
    elsewhere = sorted(set(re.findall(r"""(?:src|href)=["'](https?:[^"']+)""", text)))
    if elsewhere:
        raise SiteError(f"The saved page would ask other places for {', '.join(elsewhere)}.")
    return SavedPage(text, files)


def _saved_by_panel() -> str:
    from bokeh.resources import Resources
    from panel.io.resources import set_resource_mode

    from trainer.console.board import Board
    from trainer.console.pages import Page

    # Told that the boards' script is plain already, the browser does not translate it anew for each board.
    Board._bundle = resources.assets() / "script" / "board.js"
    try:
        page = Page()
        out = io.StringIO()
        # Bokeh warns of plots that stand empty: here the data comes with the first patch.
        logging.getLogger("bokeh.core.validation.check").setLevel(logging.ERROR)
        with set_resource_mode("server"):
            page.template.save(out, title=TITLE, resources=Resources(mode="server", root_url="./"))
    finally:
        Board._bundle = None
    # Panel names it after the place where it lies here.
    return re.sub(r'"bundle":"\w+"', '"bundle":"board"', out.getvalue())


def _localised(text: str) -> tuple[str, dict[str, bytes]]:
    """The page with each outside name replaced by a local one, and the files behind those names."""
    import bokeh
    import panel

    roots = {
        "bokeh": Path(bokeh.__file__).parent / "server" / "static" / "js",
        "panel": Path(panel.__file__).parent / "dist",
    }
    files: dict[str, bytes] = {}
    for name in UNUSED:
        text = re.sub(rf'<script[^>]*src="[^"]*{re.escape(name)}"></script>\n?', "", text)

    def local(match: re.Match[str]) -> str:
        kind, inside = ("bokeh", match["bokeh"]) if match["bokeh"] else ("panel", match["panel"] or match["remote"])
        path = roots[kind] / inside
        if not path.is_file():
            raise SiteError(f"{kind} does not carry {inside}; install the versions that pyproject.toml asks for.")
        content = path.read_bytes()
        name = path.name
        if files.setdefault(name, content) != content:
            name = f"{path.parent.name}-{name}"
            files[name] = content
        return f"{HERE}/{name}"

    return _STATIC.sub(local, text), files


def _settled(text: str) -> str:
    """The page with its models numbered from the top, so that the same sources give the same page.

    Bokeh numbers models as they are made in this process, and draws its other names by lot. It writes sets of names as
    Python holds them, in another order in every process.
    """
    names: dict[str, str] = {}

    def number(match: re.Match[str]) -> str:
        return names.setdefault(match[0], f"m{len(names):04d}")

    def sort(match: re.Match[str]) -> str:
        return f"{match[1]}[{','.join(sorted(match[2].split(',')))}]"

    return _SET_OF_NAMES.sub(sort, _DRAWN_NAMES.sub(number, text))


def site() -> dict[str, object]:
    """The addresses by which a page starts Python, with HERE and RUNTIME where the folders' names go."""
    return {
        "worker": f"{HERE}/worker.js",
        "runtime": f"{RUNTIME}/",
        "code": f"{HERE}/code.zip",
        "data": f"{HERE}/data.zip",
        "library": f"{RUNTIME}/{LIBRARY}",
        "rest": f"{HERE}/{REST}",
        "env": ENV,
    }


def _furnished(text: str, quick: bool, course: bool) -> str:
    told = {
        **site(),
        "memory": f"{HERE}/{MEMORY}" if quick else "",
        "cmi5": f"{HERE}/{COURSE}" if course else "",
        "stages": STAGES,
        "words": WORDS,
    }
    # The record store of a learning system may have any address.
    policy = POLICY.replace("connect-src", "connect-src https: http:") if course else POLICY
    head = (
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n'
        f'<script src="{HERE}/bridge.js" data-site="{html.escape(json.dumps(told))}"></script>\n'
        f'<script src="{HERE}/pieces.js"></script>\n'
        '<link rel="manifest" href="manifest.webmanifest">\n'
        f'<link rel="icon" href="{HERE}/icon.svg" type="image/svg+xml">\n'
        f'<link rel="stylesheet" href="{HERE}/start.css">\n'
    )
    body = (
        '<section id="start" class="start" role="status" aria-live="polite">\n'
        f"<h1>{TITLE}</h1>\n"
        f'<progress id="start-bar" max="{len(STAGES)}" value="0" aria-label="Starting"></progress>\n'
        '<p id="start-stage">Starting</p>\n'
        "<noscript><p>The trainer needs JavaScript.</p></noscript>\n"
        "</section>\n"
        # Here and not in the page's scripts: a browser may refuse to load those beside a file.
        f"<script>if (location.protocol === 'file:') {FROM_DISK}</script>\n"
        '<aside id="notice" class="notice" role="alert" hidden><p></p><button type="button" class="act"></button>'
        f'<button type="button" class="close">{WORDS["close"]}</button></aside>\n'
    )
    # First in the head: the engine starts before the browser reads the page's own scripts.
    text, heads = re.subn(r"(<meta charset=\"utf-8\">\s*)", lambda m: m[1] + head, text, count=1)
    text, bodies = re.subn(r"(<body[^>]*>)", lambda m: f"{m[1]}\n{body}", text, count=1)
    if (heads, bodies) != (1, 1):
        raise SiteError(STRANGE)
    return text


def scripts(course: bool = False) -> dict[str, bytes]:
    """The scripts, style and icon of the edition's own, by the names that they have in the version's folder.

    course: with what a learning system needs.
    """
    folder = resources.assets()
    return {
        **({COURSE: (folder / "script" / COURSE).read_bytes()} if course else {}),
        "bridge.js": (folder / "script" / "bridge.js").read_bytes(),
        "pieces.js": (folder / "script" / "pieces.js").read_bytes(),
        "snapshot.js": (folder / "script" / "snapshot.js").read_bytes(),
        "worker.js": (folder / "script" / "worker.js").read_bytes(),
        "start.css": (folder / "style" / "start.css").read_bytes(),
        "icon.svg": (folder / "style" / "icon.svg").read_bytes(),
    }
