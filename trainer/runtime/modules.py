"""Finds the WebAssembly module of a plant: shipped, kept from an earlier time, or made now.

A module's name is a hash of all that its code depends on: the plant as a network, and the sources of the laws and of
the translator. Another plant or another law asks for another module; a stale one is never used.
"""

from __future__ import annotations

import functools
import hashlib
import os
from pathlib import Path

from trainer import resources
from trainer.hydraulics.compile import flat_source
from trainer.hydraulics.network import Network
from trainer.hydraulics.translate import sizes, translate
from trainer.plant.rig import load_plant
from trainer.session.engine import hash_of

LAYERS = ("fluids", "hydraulics", "plant", "constants.py", "units.py")
"""What a module's code is made from, relative to the package."""
KEPT = 48
"""Modules that stay in the user's folder, half a megabyte each."""


@functools.cache
def _laws() -> str:
    return hash_of(Path(__file__).resolve().parents[1], LAYERS)


def name_of(net: Network, pairs: bool = False) -> str:
    """The file name of a network's module: a hash of the network and of the sources of all laws."""
    kind = ".pairs.wasm" if pairs else ".wasm"
    return hashlib.sha256(f"{_laws()} {net.fingerprint()}".encode()).hexdigest()[:32] + kind


def make(net: Network, pairs: bool = False) -> bytes:
    """The module of a network, for single plants or for ``pairs``, translated now: it takes some seconds."""
    if not pairs:
        return translate(flat_source(net), len(net.variables))
    from trainer.hydraulics.pairs import translate_pairs  # not in the browser, where plants are alone

    return translate_pairs(flat_source(net), len(net.variables))


def shipped() -> Path:
    """The folder with the modules of the shipped plants; it need not be there."""
    return resources.modules()


def find(net: Network, folder: Path | None = None, pairs: bool = False) -> bytes:
    """The module of a network. One made now is kept in ``folder``, where that can be written."""
    name = name_of(net, pairs)
    for place in (shipped(), folder):
        found = None if place is None else _read(place / name)
        if found is not None:
            return found
    made = make(net, pairs)
    if folder is not None:
        _keep(folder, name, made)
    return made


def ship(folder: Path, kept: Path | None = None) -> list[Path]:
    """Write the modules of all shipped plants to ``folder``; returns the files. ``kept`` as for ``find``."""
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for path in sorted(resources.plants().glob("*.toml")):
        net = load_plant(path.stem)[0].network()
        written.append(folder / name_of(net))
        written[-1].write_bytes(find(net, kept))
    return written


def _read(path: Path) -> bytes | None:
    """A module that is there and whole."""
    try:
        found = path.read_bytes()
        sizes(found)
    except (OSError, ValueError):
        return None
    return found


def _keep(folder: Path, name: str, module: bytes) -> None:
    """Write a module, all of it or nothing, and remove those that were made first."""
    import tempfile  # not in the browser, where nothing is kept

    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=folder, delete=False) as fresh:
            fresh.write(module)
        Path(fresh.name).replace(folder / name)
        kept = sorted(folder.glob("*.wasm"), key=os.path.getmtime)
        for old in kept[:-KEPT]:
            old.unlink(missing_ok=True)
    except OSError as error:
        # The browser keeps none, and does without the library.
        import logging

        logging.getLogger("trainer.runtime").info("The plant's module is not kept: %s", error)
