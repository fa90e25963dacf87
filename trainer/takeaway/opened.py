"""Evidence that somebody hands in to the browser edition: computed again here and verified, for its debrief to be seen.

Nothing of it is kept. A signature is checked by the browser, which has the means (``worker.js``); the rest is what
``trainer verify`` does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from trainer.console import shell
from trainer.drawing.markup import Markup, el
from trainer.headless import about
from trainer.session import evidence
from trainer.session.session import Identity, SessionCore
from trainer.session.verify import verify
from trainer.simulator import rebuilder

SIGNED = {
    "valid": "signed; this shows that it was not changed since, and not whose key it was",
    "invalid": "its signature does not belong to it",
    "unknown": "signed, but this browser cannot check it: use the command trainer verify",
}
UNSIGNED = "not signed, so name, date, start and marks are unproven"


@dataclass(frozen=True)
class Opened:
    """What the page says of the file. run: computed again, where that could be done; who: whose it says it is."""

    said: Markup
    run: SessionCore | None = None
    who: str = ""


def opened(file: str, text: str, signature: str, own: Sequence[Path]) -> Opened:
    """Compute a file again. signature: valid, invalid or unknown, as the browser found; own: drills of the person's."""
    try:
        document = evidence.parse(text)
    except evidence.EvidenceError as error:
        return Opened(el("div", {"class": "own-bad"}, el("p", {}, el("strong", {}, f"{file}: "), str(error))))
    runs: list[SessionCore] = []
    again = rebuilder(own)

    def rebuild(identity: Identity) -> SessionCore:
        runs.append(again(identity))
        return runs[0]

    signed = document.signature is not None
    found = verify(document.model_copy(update={"signature": None}), rebuild)
    holds = found.ok and not (signed and signature == "invalid")
    about_it = "invalid" if signed and not found.seal else signature
    said = about(document)
    who = said["person"] or "no name"
    result = "passed" if said["passed"] else "not passed"
    started = f", started by {said['started_by']}" if said["started_by"] else ""
    marks = ", ".join(
        f"{part} {'match' if ok else 'DIFFER'}" for part, ok in _parts(found.states, found.score, found.seal)
    )
    words = el(
        "div",
        {"class": "own-good" if holds else "own-bad"},
        el("p", {}, el("strong", {}, f"{file}: {'verified' if holds else 'NOT VERIFIED'}"), f" ({marks})"),
        el(
            "p",
            {},
            f"{who}: {said['drill']}, variation {said['variation']}, {said['mode']}{started}, "
            f"{said['date'] or 'no date'}: {result}, {said['score']:.3g} of 100"
            f"{'' if said['finished'] else ', not finished'}.",
        ),
        el("p", {}, f"{found.reason}; {SIGNED.get(about_it, SIGNED['unknown']) if signed else UNSIGNED}."),
        shell.button("Open its debrief", {"page": "open-evidence"}) if found.states and runs else None,
    )
    return Opened(words, runs[0] if found.states and runs else None, who)


def _parts(states: bool, score: bool, seal: bool) -> tuple[tuple[str, bool], ...]:
    return ("states", states), ("score", score), ("seal", seal)
