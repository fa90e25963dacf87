"""Runs and verifies drills without a page: what the command line's ``run`` and ``verify`` do."""

from __future__ import annotations

import datetime
import json
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from trainer.drills.assessed import assessed
from trainer.session import actions, evidence, signing
from trainer.session.script import play
from trainer.session.verify import Verdict, verify
from trainer.simulator import PlantError, Session, rebuilder


class OutputError(Exception):
    """A file that cannot be written: one sentence with its path, for standard error."""


@dataclass(frozen=True)
class Result:
    """A finished run: the session, the real seconds it took, and what was refused."""

    session: Session
    wall: float
    refusals: list[str]

    def to_json(self) -> dict[str, Any]:
        """The run as ``trainer run --json`` prints it; keys and units by the contract of the command line."""
        session = self.session
        return {
            "drill": session.identity.drill,
            "plant": session.identity.plant,
            "seed": session.identity.seed,
            "simulated_s": session.time,
            "wall_s": self.wall,
            **session.sheet(),
            "refusals": self.refusals,
            "signals": session.signals(),
        }


def run(drill: str, *, actions_file: Path | None = None, plant: str | None = None, seed: int = 0) -> Result:
    """Run a drill to its end at full speed; without an action file nobody acts.

    ``drill`` is an id or the path of a drill file. Wrong input raises the error of the module that reads it; a plant
    that cannot be computed raises PlantError.
    """
    session = Session.start(drill, plant, seed)
    commands = [] if actions_file is None else actions.read(actions_file, session.machine, session.words)
    began = time.perf_counter()
    refusals = play(session, commands)
    if session.stopped:
        raise PlantError(f"{session.identity.plant}: after {session.time:g} s: {session.stopped}")
    return Result(session, time.perf_counter() - began, refusals)


def can_write(path: Path) -> None:
    """OutputError when a file cannot be made at ``path``; asked before a long run rather than after it."""
    if path.is_dir() or not path.parent.is_dir():
        raise OutputError(f"{path}: cannot be written: give a file in a folder that is there")


def write_evidence(session: Session, path: Path, *, name: str = "", role: str = "") -> None:
    """Write the session's evidence, signed where a key is configured. OutputError, SigningError."""
    today = datetime.datetime.now(datetime.UTC).date().isoformat()
    document = evidence.make(session, name=name, role=role, date=today, key=signing.configured_key())
    try:
        path.write_text(json.dumps(document.record(), indent=1) + "\n", encoding="utf-8")
    except OSError as error:
        raise OutputError(f"{path}: cannot be written: {error.strerror or error}") from error


def verify_file(
    path: Path,
    drill_files: Sequence[Path] = (),
    key: str | None = None,
    withdrawn: Mapping[str, str] = MappingProxyType({}),
) -> dict[str, Any]:
    """A row of ``trainer verify --json`` for one file, also for one that is no evidence.

    ``signed`` says what is behind the name and the date: with a public ``key``, whether it signed; ``ok`` is then true
    only for evidence that it did. ``withdrawn`` says when a sign-off was withdrawn, by the seal that has it.
    """
    try:
        document = evidence.read(path)
    except evidence.EvidenceError as error:
        return Verdict(False, False, False, str(error)).to_json(str(path))
    row = verify(document, rebuilder(drill_files)).to_json(str(path))
    row["signed"] = _signed(document, row["seal"], key)
    row["about"] = about(document)
    if key is not None:
        row["ok"] = row["ok"] and row["signed"] == "by this key"
    if (when := withdrawn.get(document.seal.whole)) is not None:
        row["ok"], row["withdrawn"] = False, when
    return row


def about(document: evidence.Evidence) -> dict[str, Any]:
    """What an evidence document says it is about: who, which drill, how it was run and what came of it.

    ``machine`` is the result without marks; ``run`` is the same for two files of one run, whatever their names.
    """
    assessors = list(dict.fromkeys(mark.assessor for mark in document.marks))
    marks = {mark.criterion: mark.points for mark in document.marks if mark.assessor == assessors[0]}
    sheet = document.scored
    marked = assessed(sheet, marks) if marks and sheet.get("criteria") else sheet
    custody, run = document.custody, document.run
    return {
        "person": document.person.name,
        "date": document.date,
        "drill": run.drill or "free practice",
        "variation": run.seed,
        "mode": run.mode,
        "started_by": custody.started_by if custody is not None else "",
        "finished": bool(sheet.get("finished")),
        "passed": bool(marked.get("passed")),
        "score": float(marked.get("score", 0.0)),
        "machine": {"passed": bool(sheet.get("passed")), "score": float(sheet.get("score", 0.0))},
        "assessors": assessors,
        "sign_off": document.sign_off.model_dump() if document.sign_off is not None else None,
        "run": evidence.run_hash(document),
    }


def _told(said: Mapping[str, Any], signed: str, whole: bool) -> str:
    """What a document is about, as a sentence; what is altered or not signed is only what the file says."""
    started = f" started by {said['started_by']}" if said["started_by"] else ""
    word = "passed" if said["passed"] else "NOT passed"
    result = f"{word}, {said['score']:.3g}" + ("" if said["finished"] else ", not finished")
    if said["assessors"]:
        machine = said["machine"]
        by = ", ".join(said["assessors"])
        alone = "passed" if machine["passed"] else "not passed"
        result += f", marked by {by} (machine: {alone}, {machine['score']:.3g})"
    if done := said["sign_off"]:
        result += f", signed off by {done['assessor']}, {done['at'][:16]} UTC"
        result += "".join(f"; corrected: was {one['was']} ({one['reason']})" for one in done["corrections"])
    claimed = "; unsigned, so name, date, start and marks are unproven" if signed.startswith("no:") else ""
    claimed = claimed if whole else "; altered, so none of this is proven"
    return (
        f"{said['person'] or 'no name'}, {said['drill']}, variation {said['variation']}, {said['mode']}{started}, "
        f"{said['date'] or 'no date'}: {result}{claimed}"
    )


def same_runs(rows: Sequence[dict[str, Any]]) -> None:
    """Note in each row which earlier file holds the very same run."""
    seen: dict[str, str] = {}
    for row in rows:
        if "about" in row:
            first = seen.setdefault(row["about"]["run"], row["file"])
            if first != row["file"]:
                row["same_run_as"] = first


def verified_line(row: Mapping[str, Any]) -> str:
    """A row of ``verify_file`` as text for a terminal: what matches, what differs, and what the file is about."""
    marks = ", ".join(f"{part} {'match' if row[part] else 'DIFFER'}" for part in ("states", "score", "seal"))
    signed = f"; signed: {row['signed']}" if "signed" in row else ""
    told = f"\n  {_told(row['about'], row['signed'], row['seal'])}" if "about" in row else ""
    if "withdrawn" in row:
        told += f"\n  NOT THE NEWEST: its sign-off was withdrawn on {row['withdrawn'][:10]}; ask for the newer file"
    told += f"\n  the same run as {row['same_run_as']}" if "same_run_as" in row else ""
    return f"{row['file']}: {'verified' if row['ok'] else 'NOT VERIFIED'} ({marks}): {row['reason']}{signed}{told}"


def _signed(document: evidence.Evidence, whole: bool, key: str | None) -> str:
    if document.signature is None:
        return "no: it proves what was done, not by whom or when"
    if not whole:
        return "no: the signature does not cover what stands here"
    if key is None:
        return f"by the key {document.signature.public_key[:16]}…: give it with --key to know whose"
    return "by this key" if document.signature.public_key == key else "by another key"


def sheet_lines(result: Result) -> list[str]:
    """The score sheet as lines for a terminal: verdict, critical errors, then one line a criterion."""
    session = result.session
    sheet = session.sheet()
    verdict = "PASSED" if sheet["passed"] else "NOT PASSED"
    lines = [
        f"{session.identity.drill} on {session.identity.plant}, seed {session.identity.seed}: "
        f"{verdict} with {sheet['score']:g} of 100",
        f"{session.time:.1f} s simulated in {result.wall:.2f} s",
    ]
    lines += [f"CRITICAL at {row['t']:.1f} s: {row['reason']}" for row in sheet["critical"]]
    for row in sheet["criteria"]:
        at = "" if row.get("t") is None else f" at {row['t']:.1f} s"
        earned = "  ---" if row["earned"] is None else f"{row['earned']:5.1f}"
        lines.append(f"{earned} of {row['points']:4.1f}  {row['title']}{at}")
        lines.append(f"              {row['reason']}")
        if row["earned"] is not None and row["earned"] < row["points"] and row["seen"]:
            shown = "; ".join(f"{tag} = {text}" for tag, text in row["seen"].items())
            lines.append(f"              At {row['seen_t']:.1f} s: {shown}")
    return lines
