"""Makes the shipped plants' WebAssembly modules while the wheel is packed, so that no first start has to wait."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class ModulesHook(BuildHookInterface):  # type: ignore[type-arg]
    """Puts ``trainer/_data/modules`` into the wheel; a working tree keeps its modules in the user's cache folder."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Called by hatchling before it packs."""
        if version == "editable":
            return
        sys.path.insert(0, self.root)
        from trainer.runtime.modules import ship

        self.folder = tempfile.TemporaryDirectory()
        for path in ship(Path(self.folder.name)):
            build_data["force_include"][str(path)] = f"trainer/_data/modules/{path.name}"

    def finalize(self, version: str, build_data: dict[str, Any], artifact_path: str) -> None:
        """Called by hatchling once it has packed."""
        if version != "editable":
            self.folder.cleanup()
