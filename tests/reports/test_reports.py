"""Score reports: complete, escaped, repeatable, and plain about what was not verified."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import zlib
from pathlib import Path
from typing import Any

import pytest

from trainer.reports import paper
from trainer.reports.content import report
from trainer.reports.page import html
from trainer.session import evidence as documents
from trainer.session.verify import verify
from trainer.simulator import Session, rebuilder

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def record() -> dict[str, Any]:
    session = Session.start("kick-while-drilling", seed=5)
    session.advance(3.0)
    session.submit({"do": "set", "target": "floor.rotary", "value": 0, "from": "floor"})
    session.submit({"do": "set", "target": "blind_shear_ram", "value": "close", "from": "driller"})
    session.intervene("fault", "well.losses", 0.2)
    session.advance(9.0)
    return session.evidence(name="Zoë <Łukasz> & 李", role="Driller", date="2031-05-06")


def _marked(record: dict[str, Any]) -> documents.Evidence:
    document = documents.parse(json.dumps(record))
    row = next(row for row in document.sheet["criteria"] if row["earned"] is not None and row["points"] > 1)
    marks = [
        documents.Mark(criterion=row["id"], points=row["points"], remark="Seen on the floor", assessor="Ines Marlow"),
        documents.Mark(criterion=row["id"], points=0.0, remark="Not seen", assessor="Teo Vance"),
    ]
    return documents.marked(document, marks, "Calm <hand>.")


def test_the_page_tells_everything_and_escapes_it(record: dict[str, Any]) -> None:
    document = _marked(record)
    text = html(report(document, verify(document, rebuilder())))
    assert "Zoë &lt;Łukasz&gt; &amp; 李" in text
    assert "<Łukasz>" not in text
    assert "Calm &lt;hand&gt;." in text
    for row in document.sheet["criteria"]:
        assert row["title"].replace("'", "&#x27;").split("'")[0] in text.replace("'", "&#x27;")
    assert "Ines Marlow: " in text
    assert "Teo Vance: 0 (Not seen); the machine:" in text
    assert "1 changes to the plant" in text
    assert document.seal.whole in text
    assert "Verified: re-computed" in text
    assert "not a certification" in text


def test_the_signers_marks_decide(record: dict[str, Any]) -> None:
    document = _marked(record)
    first, second = report(document, signer="Ines Marlow"), report(document, signer="Teo Vance")
    assert float(first.score.split()[0]) > float(second.score.split()[0])
    assert report(document).score == first.score


def test_an_altered_document_is_called_so(record: dict[str, Any]) -> None:
    broken = json.loads(json.dumps(record))
    broken["sheet"]["score"] = 99.0
    document = documents.parse(json.dumps(broken))
    assert "NOT VERIFIED" in html(report(document, verify(document, rebuilder())))
    assert "Not re-computed" in html(report(document))


def _text_of(made: bytes) -> bytes:
    parts = re.findall(rb"stream\n(.*?)endstream", made, flags=re.DOTALL)
    out = b""
    for part in parts:
        try:
            out += zlib.decompress(part)
        except zlib.error:
            continue
    return out


def test_the_paper_is_a_pdf_and_repeats(record: dict[str, Any]) -> None:
    content = report(_marked(record))
    made = paper.pdf(content)
    assert made.startswith(b"%PDF-")
    assert made == paper.pdf(content)
    assert b"%%EOF" in made[-1024:]


def test_the_paper_does_without_fonts_of_the_machine(record: dict[str, Any], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(paper, "_FONTS", ())
    text = _text_of(paper.pdf(report(_marked(record))))
    assert b"Kick while drilling" in text
    assert b"Zoe <?ukasz> & ?" in text


def _run(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "trainer.cli", "report", *map(str, arguments)]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=120, check=False)


def test_the_command_line_writes_both(record: dict[str, Any], tmp_path: Path) -> None:
    source = tmp_path / "run.json"
    source.write_text(json.dumps(record), encoding="utf-8")
    for name in ("out.pdf", "out.html"):
        done = _run(source, "-o", tmp_path / name)
        assert done.returncode == 0, done.stderr
        assert "verified" in done.stdout
        assert (tmp_path / name).stat().st_size > 2000
    for wrong in ((source, "-o", tmp_path / "out.doc"), (tmp_path / "none.json", "-o", tmp_path / "o.pdf")):
        done = _run(*wrong)
        assert done.returncode == 1
        assert done.stderr.startswith("trainer: ")
        assert "Traceback" not in done.stderr
