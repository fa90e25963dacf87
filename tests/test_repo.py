"""The repository itself: its tools are content, its promises about commands and packaging hold."""

from __future__ import annotations

import ast
import json
import os
import re
import subprocess
import sys
import tomllib
import zipfile
from collections.abc import Iterator
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

from trainer.plant.rig import plant_ids
from trainer.runtime import modules as modules_of_plants
from trainer.simulator import build

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "trainer"
ENGINE = (
    *("constants.py", "naming.py", "units.py", "wording.py"),
    *("fluids", "hydraulics", "plant", "session", "drills", "simulator.py"),
)
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))


def modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def engine_modules() -> list[Path]:
    return [path for path in modules() if path.relative_to(PACKAGE).parts[0] in ENGINE]


def imports(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            yield node.module


def tool(*command: str) -> subprocess.CompletedProcess[str]:
    # The scripts of the environment that runs the tests, whether or not it is activated.
    script = Path(sys.executable).with_name(command[0])
    return subprocess.run([script, *command[1:]], cwd=ROOT, capture_output=True, text=True, timeout=600, check=False)


@pytest.mark.parametrize(
    "command",
    [
        ("ruff", "check", "."),
        ("ruff", "format", "--check", "."),
        ("mypy",),
        ("lint-imports",),
    ],
    ids=lambda command: "-".join(word for word in command if word.isalpha() or word == "lint-imports"),
)
def test_tool_is_content(command: tuple[str, ...]) -> None:
    done = tool(*command)
    assert done.returncode == 0, done.stdout + done.stderr


def test_readme_names_two_single_line_commands_and_ci_runs_the_second() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    blocks = re.findall(r"```sh\n(.*?)```", readme, flags=re.DOTALL)
    run, test = blocks[0].strip(), blocks[1].strip()
    assert "\n" not in run
    assert "\n" not in test
    assert run.endswith("trainer serve")
    assert test in (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()


def test_every_link_of_the_documents_leads_somewhere() -> None:
    documents = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *(ROOT / "assets" / "docs").glob("*.md")]
    for document in documents:
        for target in re.findall(r"\]\(([^)#\s]+)[^)]*\)", document.read_text(encoding="utf-8")):
            if "://" not in target:
                assert (document.parent / target).exists(), f"{document.name} links to {target}, which is not there"


def test_the_wheel_takes_every_folder_of_assets_but_the_documents() -> None:
    build = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["hatch"]["build"]
    taken = {Path(name).name for name in build["targets"]["wheel"]["force-include"] if name.startswith("assets/")}
    assert taken == {path.name for path in (ROOT / "assets").iterdir() if path.is_dir()} - {"docs"}


def test_every_module_says_what_it_is_for() -> None:
    silent = [str(path) for path in modules() if not ast.get_docstring(ast.parse(path.read_text("utf-8")))]
    assert silent == []


def test_packages_do_nothing_when_imported() -> None:
    for path in PACKAGE.rglob("__init__.py"):
        body = ast.parse(path.read_text(encoding="utf-8")).body
        assert len(body) == 1, f"{path} holds more than its docstring"


def packages(lines: list[str]) -> set[str]:
    return {re.split(r"[^A-Za-z0-9_-]", line)[0].lower().replace("_", "-") for line in lines}


def imports_on_loading(path: Path) -> set[str]:
    """What a module imports at its top, so that it cannot do without."""
    body = ast.parse(path.read_text(encoding="utf-8")).body
    top = [node for node in body if isinstance(node, ast.Import | ast.ImportFrom)]
    names = {alias.name for node in top if isinstance(node, ast.Import) for alias in node.names}
    return names | {node.module for node in top if isinstance(node, ast.ImportFrom) and node.module}


IN_THE_BROWSER = ("js", "pyodide", "pyodide_js")
"""Packages of the browser's Python."""


def test_what_is_imported_is_declared() -> None:
    """At the top of a module only dependencies; inside a function a package of an extra will do."""
    declared = packages(PROJECT["project"]["dependencies"])
    extras = packages([line for lines in PROJECT["project"]["optional-dependencies"].values() for line in lines])
    known = packages_distributions()
    missing = set()
    for path in modules():
        top_level = imports_on_loading(path)
        for name in imports(path):
            top = name.split(".")[0]
            if top in sys.stdlib_module_names or top in ("trainer", "__future__", *IN_THE_BROWSER):
                continue
            owners = {owner.lower().replace("_", "-") for owner in known.get(top, [top])}
            if not owners & (declared if name in top_level else declared | extras):
                missing.add((str(path.relative_to(ROOT)), top))
    assert missing == set()


PRIVATE = {"wasmtime._ffi": "runtime/by_wasmtime.py", "._func": "runtime/by_wasmtime.py",
           '"_module"': "runtime/by_browser.py"}  # fmt: skip
"""Private parts of other packages that are used, each in one file, with its version pinned and a way without it."""


def test_private_parts_of_others_are_used_in_one_place_each() -> None:
    found = {part: {str(p.relative_to(PACKAGE)) for p in modules() if part in p.read_text("utf-8")} for part in PRIVATE}
    assert found == {part: {place} for part, place in PRIVATE.items()}


def test_engine_knows_no_clock_and_no_chance() -> None:
    unwanted = {"time", "datetime", "random", "secrets", "uuid", "threading", "asyncio", "locale"}
    found = [
        (str(path.relative_to(ROOT)), name)
        for path in engine_modules()
        for name in imports(path)
        if name.split(".")[0] in unwanted
    ]
    assert found == []


def test_wheel_works_outside_the_tree(tmp_path: Path) -> None:
    built = subprocess.run(
        [
            sys.executable,
            "-m",
            "pip",
            "wheel",
            "-q",
            "--no-deps",
            "--no-build-isolation",
            "-w",
            tmp_path,
            ROOT,
        ],
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert built.returncode == 0, built.stderr
    (wheel,) = tmp_path.glob("*.whl")
    place = tmp_path / "unpacked"
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(place)
    # The unpacked wheel comes first on the path, so that the tree's own package is not the one tested.
    environment = {**os.environ, "PYTHONPATH": str(place)}
    script = "import trainer; print(trainer.__file__); from trainer.cli import main; main()"
    done = subprocess.run(
        [sys.executable, "-c", script, "drills", "--json"],
        cwd=tmp_path,
        env=environment,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    where, _, listing = done.stdout.partition("\n")
    assert Path(where).is_relative_to(place)
    shipped = {path.stem for path in (ROOT / "scenarios").glob("*.toml")}
    assert {row["id"] for row in json.loads(listing)} == shipped
    wanted = {modules_of_plants.name_of(build(plant).net) for plant in plant_ids()}
    assert {path.name for path in (place / "trainer" / "_data" / "modules").iterdir()} == wanted
    assert shipped
