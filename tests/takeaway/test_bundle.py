"""Which modules go into the browser, and that the archive fits the engine's hash."""

from __future__ import annotations

from pathlib import Path

import pytest

from trainer.session.engine import engine_hash, sources
from trainer.takeaway import bundle
from trainer.takeaway.errors import SiteError


def test_the_engine_goes_whole_and_the_server_stays() -> None:
    """Everything that the engine's hash covers, and nothing that draws on Panel or a server."""
    taken = set(bundle.modules().values())
    assert set(sources(bundle.package_root())) <= taken
    names = set(bundle.modules())
    assert {
        "trainer.simulator",
        "trainer.console.presenter",
        "trainer.takeaway.browser_session",
        "trainer.resources",
    } <= names
    assert not names & {"trainer.cli", "trainer.console.pages", "trainer.takeaway.build", "trainer.classroom.server"}


def test_the_bundled_engine_has_the_same_hash(engine_tree: Path) -> None:
    """Evidence names its engine by the hash of the sources: the bundle carries the same ones."""
    here = bundle.package_root()
    for path in sources(here):
        inside = path.relative_to(here)
        assert (engine_tree / "trainer" / inside).read_bytes() == path.read_bytes()
    assert len(sources(engine_tree / "trainer")) == len(sources(here))
    assert len(engine_hash()) == 64


def test_every_bundled_module_is_compiled(engine_tree: Path) -> None:
    """The browser never compiles a module while a person waits."""
    package = engine_tree / "trainer"
    names = [path.relative_to(bundle.package_root()) for path in bundle.modules().values()]
    assert len(names) > 40
    engine = {path.relative_to(package) for path in sources(package)}
    for name in names:
        beside, kept = package / name.with_suffix(".pyc"), package / name.parent / "__pycache__"
        if name in engine:
            assert (kept / f"{name.stem}.cpython-314.pyc").is_file(), name
        else:
            assert beside.is_file(), name
            assert not (package / name).exists(), name


def test_a_module_that_needs_the_server_is_told(tmp_path: Path) -> None:
    """A foreign import at the top of a bundled module fails the build by name."""
    (tmp_path / "__init__.py").write_text("")
    (tmp_path / "entry.py").write_text("from trainer import part\n")
    (tmp_path / "part.py").write_text("def late():\n    import numpy\n    return numpy\n")
    assert list(bundle.modules(["trainer.entry"], tmp_path)) == ["trainer", "trainer.entry", "trainer.part"]
    (tmp_path / "part.py").write_text("import panel\n")
    with pytest.raises(SiteError, match=r"trainer\.part imports panel, which the browser does not have"):
        bundle.modules(["trainer.entry"], tmp_path)
