"""Re-computes evidence: plays the log again and says precisely what differs."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, cast

from pydantic import ValidationError

from trainer.constants import TICKS_PER_SCAN, TICKS_PER_SECOND
from trainer.session import canonical, interventions, signing
from trainer.session.commands import explain
from trainer.session.engine import engine_hash, engine_version
from trainer.session.evidence import Evidence, SealedEntry, chain, head_hash, seal_of
from trainer.session.session import Checkpoint, Identity, SessionCore

Rebuild = Callable[[Identity], SessionCore]
"""Builds a session of that plant, drill, seed and mode; LookupError when one of them is not had here."""


@dataclass(frozen=True)
class Verdict:
    """Whether states, score and seal each hold, and in ``reason`` what does not, or how it was confirmed."""

    states: bool
    score: bool
    seal: bool
    reason: str
    signature: str = "none"
    finished: bool = False

    @property
    def ok(self) -> bool:
        """Whether all three hold: the states at every checkpoint, the score sheet and the seal."""
        return self.states and self.score and self.seal

    def to_json(self, file: str) -> dict[str, Any]:
        """The result as a row of ``trainer verify --json``, with the file's name as given."""
        return {
            "file": file,
            "ok": self.ok,
            "states": self.states,
            "score": self.score,
            "seal": self.seal,
            "signature": self.signature,
            "finished": self.finished,
            "reason": self.reason,
        }


SENTENCES = ("title", "verdict", "reason", "why", "source")
"""Keys of a sheet and its rows that hold what people read: shown as they were stored, never compared."""


def difference(recorded: Any, computed: Any, path: str = "") -> str | None:
    """The first place where two plain documents differ but for their sentences, in words; None when there is none."""
    if isinstance(recorded, dict) and isinstance(computed, dict):
        for key in sorted({*recorded, *computed}.difference(SENTENCES)):
            if (key in recorded) != (key in computed):
                return f"{path}.{key}".lstrip(".") + (" is missing" if key in computed else " was added")
            if (found := difference(recorded[key], computed[key], f"{path}.{key}")) is not None:
                return found
        return None
    if isinstance(recorded, list) and isinstance(computed, list):
        for index, (left, right) in enumerate(zip(recorded, computed, strict=False)):
            # A row that has an id is named by it: "criteria.closed.earned" tells more than a number.
            name = right.get("id", index) if isinstance(right, dict) else index
            if (found := difference(left, right, f"{path}.{name}")) is not None:
                return found
        if len(recorded) != len(computed):
            return f"{path.lstrip('.')} has {len(recorded)} rows, re-computed {len(computed)}"
        return None
    if canonical.text(recorded) == canonical.text(computed):
        return None
    return f"{path.lstrip('.') or 'the document'} is {recorded!r}, re-computed {computed!r}"


_LATER = ("seen_t", "due")
"""What rows of a sheet tell since readings stand beside each lost point; rows without these are of before."""


def as_before(recorded: dict[str, Any], computed: Mapping[str, Any]) -> tuple[dict[str, Any], int]:
    """A computed sheet as an earlier version would have put it, and how many rows that made shorter.

    Beside a row of before, readings that it lacks are left out, and so are its own that are no longer told; those that
    both have must agree.
    """
    sheet, count = dict(computed), 0
    for part in ("criteria", "critical"):
        rows = []
        given = recorded.get(part)
        old = {str(row.get("id")): row for row in given if isinstance(row, dict)} if isinstance(given, list) else {}
        for row in computed.get(part, []):
            then = old.get(row["id"])
            seen = then.get("seen") if then is not None and not any(key in then for key in _LATER) else None
            if isinstance(seen, dict) and "seen_t" in row:
                count += 1
                told = {tag: row["seen"].get(tag, text) for tag, text in seen.items()}
                row = {key: value for key, value in row.items() if key not in _LATER} | {"seen": told}
            rows.append(row)
        sheet[part] = rows
    return sheet, count


_ALTERED = {
    "log": "the log was cut or extended",
    "checkpoints": "a checkpoint was altered",
    "sheet": "the score sheet was altered",
    "marks": "the assessor's marks, remarks or sign-off were altered",
    "custody": "what stands beside the log (who started it, pauses, ending, interventions) was altered",
    "whole": "the seal was altered",
}


def _name(number: int, entry: SealedEntry) -> str:
    return f"log entry {number} ({entry.t:.1f} s, {entry.do} {entry.target})"


def broken_seal(evidence: Evidence) -> str | None:
    """Which part does not fit its hash, in words; None when the seal is whole."""
    document = evidence.record()
    if head_hash(document) != evidence.seal.head:
        return "the head (engine, date, plant, drill, seed, person or end) was altered"
    links = chain(evidence.seal.head, [*evidence.log])
    for number, (entry, link) in enumerate(zip(evidence.log, links, strict=True), start=1):
        if entry.link != link:
            return f"{_name(number, entry)} breaks the chain: it, or the order before it, was altered"
    fresh = seal_of(document, links)
    for part, said in _ALTERED.items():
        if getattr(fresh, part) != getattr(evidence.seal, part):
            return said
    return None


def _done(refused: str | None, code: str | None) -> str:
    if refused is None:
        return "carried out"
    return f"refused ({refused})" if code is None else f"refused, {code} ({refused})"


def _replay(evidence: Evidence, session: SessionCore) -> str | None:
    """Play the log into ``session``; a sentence when it cannot be played as recorded."""
    for number, entry in enumerate(evidence.log, start=1):
        name = _name(number, entry)
        if entry.tick < session.tick:
            return f"{name}: time goes backwards; the order was altered"
        if entry.tick > evidence.end or entry.tick % TICKS_PER_SCAN:
            return f"{name}: tick {entry.tick} is none at which a command can take effect"
        session.advance_to(entry.t)
        if session.tick != entry.tick:
            return f"{name}: the drill had ended at {session.time:.1f} s"
        if entry.from_ in interventions.BY:
            refused = session.intervene(entry.do, entry.target, entry.value, entry.from_)
        else:
            try:
                command = entry.command()
            except ValidationError as error:
                return f"{name}: no command: {explain(error)}"
            refused = session.submit(command)
        if len(session.log) != number:
            return f"{name}: the plant takes no such command: {refused}"
        code = refused.code if refused is not None else None
        # Before there were codes only a sentence told why, and it may have been reworded: refused or not is compared.
        same = (refused is None) == (entry.refused is None) and (evidence.version == 1 or code == entry.code)
        if not same:
            then, now = _done(entry.refused, entry.code), _done(refused, code)
            return f"{name}: recorded as {then}, re-computed as {now}"
    session.advance_to(evidence.seconds)
    if session.tick != evidence.end:
        recorded = evidence.seconds
        return f"recorded to end at {recorded:.1f} s, re-computed to end at {session.time:.1f} s"
    return None


def _compare(recorded: list[Checkpoint], computed: list[Checkpoint]) -> str | None:
    """The first checkpoint that differs, with the time up to which all was the same."""
    same = "even the start differs"
    for left, right in zip(recorded, computed, strict=False):
        at = right.tick / TICKS_PER_SECOND
        for field in ("tick", "entries", "state"):
            if getattr(left, field) != getattr(right, field):
                return f"checkpoint at {at:.1f} s (tick {right.tick}): {field} differs; {same}"
        same = f"up to {at:.1f} s all was the same"
    if len(recorded) != len(computed):
        return f"{len(recorded)} checkpoints recorded, {len(computed)} re-computed"
    return None


def _origin(evidence: Evidence, identity: Identity) -> str:
    """What of engine, plant and drill is not what made the evidence; empty when all is the same."""
    made, run = evidence.engine, evidence.run
    here = f"{engine_version()} "
    parts = [
        (f"engine {made.version}", made.hash, engine_hash(), here),
        (f"plant {run.plant}", run.plant_hash, identity.plant_hash, ""),
        (f"drill {run.drill}", run.drill_hash or "none", identity.drill_hash or "none", ""),
    ]
    other = [
        f"{name} ({then[:12]}; here it is {version}{now[:12]})" for name, then, now, version in parts if then != now
    ]
    return "made with " + " and with ".join(other) if other else ""


def _with_version(evidence: Evidence) -> str:
    """What to do with evidence of another version: which, and how to get it."""
    version = evidence.engine.version
    said = f"verify it with that version: {version}"
    # The version stands in a stranger's file, and the line is meant to be copied into a shell.
    if re.fullmatch(r"\d{1,4}(\.\d{1,4}){1,3}", version):
        said += f" (in a clone of the trainer: git checkout ':/^Version {version}', then install it again)"
    return said


def _signature(evidence: Evidence) -> str:
    if evidence.signature is None:
        return "none"
    return "valid" if signing.holds(evidence.seal.whole, evidence.signature) else "invalid"


_REWORDED = "; some of its sentences read otherwise here"


def _interventions(evidence: Evidence) -> str:
    """What others than the trainee did, in words."""
    count = len([entry for entry in evidence.log if entry.from_ == interventions.INSTRUCTOR])
    said = f"; an instructor intervened {count} times" if count else ""
    for entry in evidence.log:
        if entry.from_ == interventions.DEBRIEF:
            said += f"; taken over at {entry.t:.1f} s from the replay of an earlier run"
    return said


def _crew(evidence: Evidence, session: SessionCore) -> str:
    """Which member's deeds stand in the log of somebody who was not there, or of nobody; empty when all fits."""
    if evidence.crew is None:
        return "the run has a crew, and the document names none" if session.crewing is not None else ""
    if session.crewing is None:
        return "the document names a crew, and the drill has none"
    manned = {one.post for one in evidence.crew.people}
    for post in sorted(manned - session.crewing.posts.keys()):
        return f"the document names a member at {post!r}, a post that the drill does not have"
    for number, entry in enumerate(evidence.log, start=1):
        if entry.by is not None and entry.by not in manned:
            return f"{_name(number, entry)} is by {entry.by!r}, where the document names no one"
    return ""


def verify(evidence: Evidence, rebuild: Rebuild) -> Verdict:
    """Check the seal, play the log again and compare every checkpoint and the score sheet but for its sentences."""
    broken = broken_seal(evidence)
    signature = _signature(evidence)
    if broken is None and signature == "invalid":
        broken = "the signature does not belong to this document"
    try:
        session = rebuild(evidence.run)
    except (LookupError, ValueError) as error:
        said = str(error.args[0]) if error.args else str(error)
        made = f"it was made with trainer {evidence.engine.version}, engine {evidence.engine.hash[:12]}"
        reason = f"cannot be re-computed here: {said}; {made}, so {_with_version(evidence)}"
        return Verdict(False, False, broken is None, reason, signature)
    if evidence.version == 1:
        session.hash_sentences()
    differs = _replay(evidence, session)
    computed = [*session.checkpoints, session.checkpoint()]
    states = _compare(evidence.checkpoints, computed)
    if differs is None:
        differs = states or _crew(evidence, session) or None
    sheet, before = cast(dict[str, object], session.sheet()), 0
    if evidence.engine.hash != engine_hash():
        sheet, before = as_before(evidence.sheet, sheet)
    score = difference(evidence.sheet, sheet)
    told = []
    if broken:
        told.append(f"seal: {broken}")
    if differs:
        told.append(f"states: {differs}")
    if score:
        told.append(f"score: {score}")
    origin = _origin(evidence, session.identity)
    if told:
        reason = "; ".join(told) + (f"; it was {origin}, so {_with_version(evidence)}" if origin else "")
    else:
        reason = f"re-computed {session.time:.1f} s with {len(evidence.log)} commands: the same to the bit"
        reason += "; it has fewer readings beside its points than this version records" if before else ""
        reason += f"; {origin}, which gives the same" if origin else ""
        reason += "" if canonical.text(evidence.sheet) == canonical.text(sheet) else _REWORDED
        reason += _interventions(evidence)
    return Verdict(differs is None, score is None, broken is None, reason, signature, session.finished)
