"""Writes the report of an evidence file: the command line's ``trainer report``."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from trainer.headless import OutputError
from trainer.reports.content import report
from trainer.reports.page import html
from trainer.reports.paper import pdf
from trainer.session.evidence import EvidenceError, read
from trainer.session.verify import verify
from trainer.simulator import rebuilder


class ReportError(ValueError):
    """A report that cannot be written, as one sentence with its path."""


class Written(NamedTuple):
    """What is said of a report that was written, and whether its evidence re-computed."""

    line: str
    verified: bool


def write(evidence: Path, output: Path, drills: Sequence[Path] = (), key: str = "") -> Written:
    """Re-compute the evidence and write its report, PDF or HTML by the name's ending; a line about it.

    ``key`` is the public key of the classroom whose signature is looked for.

    ReportError for evidence that is none and for another ending, OutputError when it cannot be written.
    """
    kind = output.suffix.lower()
    if kind not in (".pdf", ".html"):
        raise ReportError(f"{output}: a report ends in .pdf or .html")
    try:
        document = read(evidence)
    except EvidenceError as error:
        raise ReportError(f"{evidence}: {error}") from error
    found = verify(document, rebuilder(drills))
    content = report(document, found, own_key=key)
    try:
        if kind == ".pdf":
            output.write_bytes(pdf(content))
        else:
            output.write_text(html(content), encoding="utf-8")
    except OSError as error:
        raise OutputError(f"{output}: cannot be written: {error.strerror or error}") from error
    run = "run verified" if found.ok else "NOT VERIFIED"
    return Written(f"{output}: {content.title}. {content.headline}; {run}", found.ok)
