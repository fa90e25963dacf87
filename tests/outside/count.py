"""The checks of the physics, counted one a law and a source: ``python -m tests.outside.count`` writes the table.

It stands in ``assets/docs/checks.md`` behind what ``trainer bench`` writes there.
"""

from __future__ import annotations

import importlib
from collections.abc import Iterable
from pathlib import Path

from tests.outside.sources import FOUND, HeldAgainst
from trainer.bench.report import FOOT

PAGE = Path(__file__).resolve().parents[2] / "assets" / "docs" / "checks.md"


def found() -> list[HeldAgainst]:
    """Every check that a module of this folder marks, by kind and law."""
    for module in sorted(Path(__file__).parent.glob("test_*.py")):
        importlib.import_module(f"tests.outside.{module.stem}")
    kinds = ("independent", "verification", "balance")
    one = {(check.law, check.source): check for check in FOUND}
    return sorted(one.values(), key=lambda check: (kinds.index(check.kind), check.law, check.source))


def table(checks: Iterable[HeldAgainst]) -> str:
    """The section of the page."""
    rows = list(checks)
    own = [check for check in rows if check.kind == "independent"]
    beyond = {check.law for check in own if not check.law.startswith("gas,")}
    lines = [
        FOOT,
        "",
        f"{len(own)} independent checks, one a law and source; {sum(c.law in beyond for c in own)} of them beyond gas, "
        f"over {len(beyond)} laws. {len(rows) - len(own)} of other kinds.",
        "",
        "| Kind | Law | Source | Test |",
        "| --- | --- | --- | --- |",
        *(f"| {c.kind} | {c.law} | {c.source} | `{c.test}` |" for c in rows),
    ]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    text = PAGE.read_text(encoding="utf-8")
    PAGE.write_text(text.split(FOOT)[0].rstrip() + "\n\n" + table(found()), encoding="utf-8")
