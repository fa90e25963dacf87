"""Keeps evidence of this version in ``tests/session/old``: ``python -m tests.session.keep``.

Run it as the last thing before the commit named "Version X.Y.Z" that raises ``trainer/version.py``, and put the file
into that commit: what it holds re-computes there, to the bit, and the long form of the tests tries it there.
"""

from __future__ import annotations

import json
from pathlib import Path

from trainer.session import evidence
from trainer.session.actions import read
from trainer.session.engine import engine_version
from trainer.session.script import play
from trainer.session.verify import verify
from trainer.simulator import Session, rebuilder

OLD = Path(__file__).parent / "old"
ACTIONS = Path(__file__).parents[1] / "drills" / "actions" / "kick-while-drilling.good.jsonl"
SEED = 0


def run() -> Session:
    """A whole kick drill, well done but for one button pressed without its guard: that command is refused."""
    session = Session.start("kick-while-drilling", seed=SEED)
    session.advance(1.0)
    assert session.submit({"do": "set", "target": "blind_shear_ram", "value": "close", "from": "driller"})
    play(session, read(ACTIONS))
    return session


def main() -> None:
    """Write the file; SystemExit when what was written does not verify here."""
    document = evidence.make(run(), name="Kept by the project", role="tests")
    verdict = verify(document, rebuilder())
    if not verdict.ok:
        raise SystemExit(verdict.reason)
    path = OLD / f"{engine_version()}.json"
    path.write_text(json.dumps(document.record(), indent=1) + "\n", encoding="utf-8")
    print(f"{path}: {verdict.reason}")


if __name__ == "__main__":
    main()
