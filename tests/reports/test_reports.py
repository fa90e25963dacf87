"""Score reports: complete, escaped, repeatable, and plain about what was not verified."""

from __future__ import annotations

import itertools
import json
import re
import sys
import zlib
from pathlib import Path
from typing import Any

import pytest

from trainer import cli
from trainer.reports import paper
from trainer.reports.content import report
from trainer.reports.page import html
from trainer.session import evidence as documents
from trainer.session import signing
from trainer.session.verify import verify
from trainer.simulator import Session, rebuilder


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


def test_a_pass_is_shown_as_one_only_where_the_classrooms_key_signed_it(
    record: dict[str, Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv(signing.KEY_VARIABLE, raising=False)
    document = documents.parse(json.dumps(record))
    document.sheet |= {"criteria": [], "passed": True, "score": 100.0, "finished": True}
    key = signing.folder_key(tmp_path)
    unsigned = report(document)
    assert unsigned.headline == "Passed, 100 of 100, unsigned: no one confirms person, date or marks"
    first = html(unsigned).split('class="details"')[0]
    assert unsigned.headline in first and 'class="verdict unproven"' in first
    document = documents.marked(document, [], "", key)
    own = signing.public_hex(key)
    found = [report(document, own_key=given) for given in (own, "", "0" * 64)]
    assert [one.tone for one in found] == ["passed", "unproven", "unproven"]
    assert found[0].headline == "Passed, 100 of 100"
    document.sheet["finished"] = False
    short = report(document)
    assert short.headline.startswith("Not finished, 100 of 100") and short.tone == "failed"
    assert (
        "Not finished: ended before the drill's end. It is no pass." in short.verdict and "Passed" not in short.verdict
    )
    document.sheet["critical"] = [{"id": "shear_on_pipe", "t": 60.0}]
    assert report(document).headline.startswith("Not passed, 100 of 100")
    assert "--key" in found[1].headline and "another key" in found[2].headline


def test_dates_notes_and_directions_read_plainly(record: dict[str, Any], monkeypatch: pytest.MonkeyPatch) -> None:
    document = documents.parse(json.dumps(record | {"date": "2031-05-06T08:38:55+00:00"}))
    # UAX #9: U+202E lets what follows be shown from right to left.
    document.remarks = "not \u202edessap\u202c"
    content = report(document, notes=[(12.0, "Did not look at authority", "Ines Marlow")])
    assert dict(content.facts)["Date"] == "2031-05-06 08:38 UTC"
    text = html(content)
    assert "0:12 Did not look at authority (Ines Marlow)" in text
    assert "not dessap" in text and "\u202e" not in text
    monkeypatch.setattr(paper, "_FONTS", ())
    made = _text_of(paper.pdf(content))
    assert b"Did not look at authority" in made and b"not dessap" in made


def test_no_head_of_the_paper_is_printed_over_another(record: dict[str, Any]) -> None:
    sheet = paper.Paper("")
    sheet.add_page()
    starts: list[tuple[float, str, float]] = []
    cell = sheet.cell

    def seen(w: float, *args: Any, **more: Any) -> Any:
        starts.append((sheet.get_x(), args[1], sheet.get_string_width(args[1])))
        return cell(w, *args, **more)

    sheet.cell = seen  # type: ignore[method-assign,assignment]
    sheet.times(("You", "Reference run", "What"), [("12:19", "102:19", "A long step that was taken " * 4)], 100.0)
    for (x, text, wide), (after, _, _) in itertools.pairwise(starts):
        assert x > after or x + wide < after, text
    assert all(x + wide <= sheet.w - sheet.r_margin for x, _, wide in starts)


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


def _texts_of(made: bytes) -> list[bytes]:
    """What each stream of a PDF holds, in order; pages are among them."""
    out = []
    for part in re.findall(rb"stream\n(.*?)endstream", made, flags=re.DOTALL):
        try:
            out.append(zlib.decompress(part))
        except zlib.error:
            continue
    return out


def _text_of(made: bytes) -> bytes:
    return b"".join(_texts_of(made))


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
    assert b"Zo\xeb <?ukasz> & ?" in text


def test_the_first_page_has_the_verdict_and_the_details_come_behind(record: dict[str, Any]) -> None:
    content = report(_marked(record))
    assert sum(part.share for part in content.parts) > 0.0
    assert len(content.lost) == 6 and content.more_lost > 0
    lost = [float(row.points) for row in content.lost]
    assert lost == sorted(lost, reverse=True)
    assert ("–", "2:19", "Well shut in") not in content.milestones and content.milestones
    made = paper.pdf(content)
    pages = [_text_of(part) for part in made.split(b"/Type /Page\n")]
    assert len(pages) >= 3
    text = html(content)
    first, details = text.split('class="details"')
    assert "Points lost" in first and "Where the points are" in first and "signature" not in first
    assert "Actions" in details and "Where the points are" not in details


def test_each_lost_point_tells_what_was_seen_and_what_it_rests_on(record: dict[str, Any]) -> None:
    content = report(documents.parse(json.dumps(record)))
    line = next(line for line in content.lines if line.title == "SIDPP correct")
    assert line.seen.startswith("At the end, 0:12: Drill pipe pressure: ") and line.seen.endswith(" psi")
    text = html(content).replace("&#x27;", "'")
    for line in content.lines:
        assert line.source and f"Source: {line.source}" in text, line.title
        assert line.seen in text
    assert all(row.source for row in content.lost) and sum(bool(row.seen) for row in content.lost) >= 5
    assert "Source: Common practice" in text.split('class="details"')[0]


def test_the_first_page_stays_one_page_however_much_went_wrong(
    record: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(paper, "_FONTS", ())
    document = documents.parse(json.dumps(record))
    failure = {"id": "gone", "title": "Lost", "t": 3.0, "reason": "It was lost. " * 20, "source": "Invented. " * 20}
    document.sheet["critical"] = [failure | {"seen": {"well.flow_out": "9 gpm"}, "seen_t": 3.0}] * 4
    document.sheet["milestones"] = [{"id": f"m{n}", "title": "A step that was taken", "t": 1.0 * n} for n in range(20)]
    document.remarks = "Calm. " * 90
    content = report(document)
    assert content.critical[0].seen == "At 0:03: Flow out: 9 gpm"
    pages = [text for text in _texts_of(paper.pdf(content)) if b" Tf" in text]
    assert b"signature" in pages[0] and b"more, see the details" in pages[0]
    assert b"(Details)" in pages[1]


def test_a_report_of_a_run_taken_over_says_so(record: dict[str, Any]) -> None:
    taken = Session.start("kick-while-drilling", seed=5, mode="practice")
    taken.advance(2.0)
    taken.intervene("take-over", "run", None, "debrief")
    document = documents.parse(json.dumps(taken.evidence()))
    facts = dict(report(document).facts)
    assert facts["Began from"] == "the replay of an earlier run, at 0:02: no check"
    assert "Began from" not in dict(report(documents.parse(json.dumps(record))).facts)


def _run(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], *arguments: str | Path
) -> tuple[int, str]:
    """Exit code and everything said by ``trainer report``."""
    monkeypatch.setattr(sys, "argv", ["trainer", "report", *map(str, arguments)])
    with pytest.raises(SystemExit) as stop:
        cli.main()
    said = capsys.readouterr()
    return int(stop.value.code or 0), said.out + said.err


def test_the_command_line_writes_both(
    record: dict[str, Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    source = tmp_path / "run.json"
    source.write_text(json.dumps(record), encoding="utf-8")
    for name in ("out.pdf", "out.html"):
        code, said = _run(monkeypatch, capsys, source, "-o", tmp_path / name)
        assert code == 0, said
        assert "unsigned: no one confirms" in said and "run verified" in said
        assert (tmp_path / name).stat().st_size > 2000
    for wrong in ((source, "-o", tmp_path / "out.doc"), (tmp_path / "none.json", "-o", tmp_path / "o.pdf")):
        code, said = _run(monkeypatch, capsys, *wrong)
        assert code == 1
        assert said.startswith("trainer: ")


def test_a_report_is_written_in_the_language_of_its_reader(record: dict[str, Any]) -> None:
    said = report(_marked(record), language="pt-BR")
    page, text = html(said), _text_of(paper.pdf(said))
    assert '<html lang="pt-BR" dir="ltr">' in page and '<html lang="en">' in html(report(_marked(record)))
    for word in ("Onde estão os pontos", "Pontos perdidos", "Exercício", "Operação de referência"):
        assert word in page, word
    assert "Points lost" not in page and b"Where the points are" not in text
    assert said.remarks == report(_marked(record)).remarks
