"""Packs the engine for the browser: the trainer's own modules, plants and drills, and beside it pydantic.

Which modules go along is not listed anywhere: it is everything that the browser's entry module imports, found in
the sources, and whole rooms of the engine, since the engine's hash covers all of its files.
"""

from __future__ import annotations

import ast
import hashlib
import io
import shutil
import tempfile
import zipfile
from collections.abc import Iterator, Sequence
from pathlib import Path

import trainer
from trainer import resources
from trainer.drills.rules import rules
from trainer.runtime.modules import ship
from trainer.session.engine import sources
from trainer.takeaway.errors import SiteError
from trainer.takeaway.prepare import Prepared, compile_engine
from trainer.takeaway.shelf import FILE as SHELF
from trainer.takeaway.shelf import listing

ENTRIES = ("trainer.takeaway.browser_session", "trainer.takeaway.standin")
PLANNING = "trainer.takeaway.plan_session"
"""What the pages of planning start with; it is in no memory and comes with the code."""
ENGINES_KEPT = 3
ENGINE_ROOMS = ("fluids", "hydraulics", "plant", "session", "drills")
# Only what Python reads while the page runs; scripts and styles, but for the report's, are the page's own business.
DATA_ENDINGS = frozenset({".toml", ".json", ".csv"})
DATA_BESIDE = frozenset({"style/report.css", "style/board.css"})
FOREIGN = frozenset({"panel", "bokeh", "numpy", "param", "typer", "tornado", "platformdirs", "cryptography"})


def package_root() -> Path:
    """Folder of the trainer package that is running, in a working tree or as installed."""
    return Path(trainer.__file__).resolve().parent


def modules(entries: Sequence[str] = ENTRIES, root: Path | None = None) -> dict[str, Path]:
    """Every module of the trainer that the browser needs, by dotted name.

    Raises SiteError when one of them imports, at its top, a package that the browser does not have.
    """
    base = root or package_root()
    found: dict[str, Path] = {}
    queue = [*entries, "trainer.simulator"]
    for room in ENGINE_ROOMS:
        queue += [_dotted(path, base) for path in sorted((base / room).rglob("*.py"))]
    while queue:
        name = queue.pop()
        path = _path(name, base)
        if name in found or path is None:
            continue
        found[name] = path
        queue += [".".join(name.split(".")[:depth]) for depth in range(1, name.count(".") + 1)]
        for imported in _imports(path, name):
            if imported.split(".")[0] in FOREIGN:
                raise SiteError(f"{name} imports {imported}, which the browser does not have; move it out of {path}.")
            if imported.split(".")[0] == "trainer":
                queue.append(imported)
    return dict(sorted(found.items()))


def _dotted(path: Path, base: Path) -> str:
    parts = ("trainer", *path.relative_to(base).with_suffix("").parts)
    return ".".join(parts).removesuffix(".__init__")


def _path(name: str, base: Path) -> Path | None:
    rest = name.split(".")[1:]
    for path in (base.joinpath(*rest).with_suffix(".py") if rest else None, base.joinpath(*rest, "__init__.py")):
        if path is not None and path.is_file():
            return path
    return None


def _imports(path: Path, name: str) -> Iterator[str]:
    """Names imported anywhere for the trainer's own, and at the top of the module for others.

    An import inside a function is how a module says that it can do without.
    """
    tree = ast.parse(path.read_text(encoding="utf-8"), str(path))
    package = name if path.name == "__init__.py" else name.rpartition(".")[0]
    top = set(map(id, tree.body))
    for statement in ast.walk(tree):
        if isinstance(statement, ast.Import):
            names = [alias.name for alias in statement.names]
        elif isinstance(statement, ast.ImportFrom):
            base = statement.module or ""
            if statement.level:
                above = package.split(".")[: package.count(".") + 2 - statement.level]
                base = ".".join([*above, base]).rstrip(".")
            names = [base, *(f"{base}.{alias.name}" for alias in statement.names)]
        else:
            continue
        for imported in names:
            if imported.split(".")[0] == "trainer" or id(statement) in top:
                yield imported


def stage_code(tree: Path) -> None:
    """Writes the trainer's modules into the folder `tree`, laid out as an installed wheel is."""
    base = package_root()
    for path in modules((*ENTRIES, PLANNING)).values():
        target = tree / "trainer" / path.relative_to(base)
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, target)


def stage_data(tree: Path, cache: Path, drills: Path | None = None) -> None:
    """Writes the trainer's data beside its modules; `drills`: drill files that go along instead of the shipped ones."""
    data = tree / "trainer" / "_data"
    for name, folder in (("assets", resources.assets()), ("scenarios", drills or resources.scenarios())):
        for path in sorted(folder.rglob("*")):
            inside = path.relative_to(folder)
            wanted = path.suffix in DATA_ENDINGS and inside.parts[0] != "schema"
            if wanted or inside.as_posix() in DATA_BESIDE:
                target = data / name / inside
                target.parent.mkdir(parents=True, exist_ok=True)
                shutil.copyfile(path, target)
    (data / SHELF).write_text(listing(drills), encoding="utf-8")
    ship(data / "modules", cache / "modules")


def data_archive(cache: Path, drills: Path | None = None) -> bytes:
    """The archive with plants, drills, texts and the plants' modules, all held against their rules.

    The browser unpacks it into its site-packages. ValueError for a file that breaks a rule.
    """
    with tempfile.TemporaryDirectory() as scratch:
        stage_data(Path(scratch), cache, drills)
        rules()
        return _packed([Path(scratch)])


def code_archive(prepared: Prepared, cache: Path) -> bytes:
    """The archive with the trainer's modules and pydantic, which goes beside the other."""
    with tempfile.TemporaryDirectory() as scratch:
        _compiled(prepared, cache, Path(scratch))
        return _packed([prepared.packages, Path(scratch)])


def _compiled(prepared: Prepared, cache: Path, tree: Path) -> None:
    """The trainer's modules, compiled, in the folder `tree`; from the cache folder when no module changed."""
    stage_code(tree)
    stamp = hashlib.sha256(f"{prepared.packages}\n{Path(__file__).read_text(encoding='utf-8')}".encode())
    for path in _files(tree):
        stamp.update(f"{path.relative_to(tree)}\n".encode() + hashlib.sha256(path.read_bytes()).digest())
    kept = cache / f"engine-{stamp.hexdigest()[:16]}.zip"
    if kept.is_file() and zipfile.is_zipfile(kept):
        shutil.rmtree(tree)
        with zipfile.ZipFile(kept) as archive:
            archive.extractall(tree)
        return
    compile_engine(prepared.runtime, tree)
    _drop_sources(tree / "trainer")
    with tempfile.NamedTemporaryFile(dir=cache, delete=False) as fresh:
        fresh.write(_packed([tree]))
    Path(fresh.name).replace(kept)
    for old in sorted(cache.glob("engine-*.zip"), key=lambda path: path.stat().st_mtime)[:-ENGINES_KEPT]:
        old.unlink(missing_ok=True)


def _drop_sources(package: Path) -> None:
    """Leaves only the compiled form of what is not engine: nobody hashes or reads those sources."""
    engine = set(sources(package))
    for path in sorted(package.rglob("*.py")):
        if path not in engine:
            (path.parent / "__pycache__" / f"{path.stem}.cpython-314.pyc").rename(path.with_suffix(".pyc"))
            path.unlink()


def _files(tree: Path) -> list[Path]:
    return sorted(path for path in tree.rglob("*") if path.is_file())


def _packed(trees: list[Path]) -> bytes:
    """One archive of several trees, not compressed inside (it is, as a whole, on its way to the browser).

    The same files give the same bytes, whatever the clock says.
    """
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as archive:
        for tree in trees:
            for path in _files(tree):
                entry = zipfile.ZipInfo(path.relative_to(tree).as_posix(), (1980, 1, 1, 0, 0, 0))
                archive.writestr(entry, path.read_bytes())
    return out.getvalue()
