"""People, attempts and marks, kept alike in SQLite and PostgreSQL."""

from __future__ import annotations

import csv
import io
import json
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from sqlalchemy import func, select, text
from sqlalchemy.exc import InternalError
from sqlalchemy.orm import Session

from tests.records.conftest import START, arrival
from trainer import headless
from trainer.classroom import files
from trainer.drills.sheet import level
from trainer.records import attempts, audit, chain, csv_out, currency, logins, marks, people, review, verb
from trainer.records.agreement import agreements, kappa
from trainer.records.database import Records, RecordsError
from trainer.records.privacy import sealed
from trainer.records.tables import Attempt, Base, Criterion, Mark, Person
from trainer.reports.content import report
from trainer.session import evidence as documents
from trainer.session import signing, withdrawn
from trainer.session.custody import Custody
from trainer.session.verify import Verdict, broken_seal, verify
from trainer.simulator import rebuilder


def test_migrations_make_the_tables_that_the_models_say(records: Records) -> None:
    with records.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Base.metadata) == []


def test_opening_twice_changes_nothing(records: Records, url: str) -> None:
    with records.work() as session:
        people.add(session, "Bram Cole")
    again = Records(url).prepare()
    with again.work() as session:
        assert [person.name for person in people.everybody(session)] == ["Bram Cole"]
    again.close()


def test_sqlite_writes_ahead(records: Records) -> None:
    if records.backend == "sqlite":
        with records.engine.connect() as connection:
            assert connection.execute(text("PRAGMA journal_mode")).scalar() == "wal"
            assert connection.execute(text("PRAGMA foreign_keys")).scalar() == 1


def test_who_only_looks_cannot_write_and_waits_for_no_writer(records: Records) -> None:
    if records.backend == "sqlite":
        with records.work() as writing:
            people.add(writing, "Bram Cole")
            writing.flush()
            with records.look() as reading:
                assert people.everybody(reading) == []
    with pytest.raises((RecordsError, InternalError)), records.look() as reading:
        people.add(reading, "Ada Voss")
        reading.flush()
    with records.look() as reading:
        assert "Ada Voss" not in {person.name for person in people.everybody(reading)}


def test_many_writers_at_once_each_wait_their_turn(records: Records) -> None:
    """Each reads first and writes upon it, as the pages do; none is refused, and nothing is lost."""

    def add(number: int) -> None:
        for more in range(5):
            with records.work() as session:
                count = len(people.everybody(session))
                people.add(session, f"Nobody {number} {more} {count}")

    with ThreadPoolExecutor(6) as several:
        list(several.map(add, range(6)))
    with records.look() as session:
        assert len(people.everybody(session)) == 30


@pytest.mark.parametrize("url", ["nonsense", "mysql://x/y", "oracle://x"])
def test_a_url_that_is_none_is_told(url: str) -> None:
    with pytest.raises(RecordsError, match=r"sqlite|SQLite"):
        Records(url)


def test_an_attempt_is_kept_whole_and_once(records: Records, run: dict[str, Any]) -> None:
    one = arrival(run, notes=[(3.5, "Good look at the returns", "Ines Marlow")])
    with records.work() as session:
        first = attempts.keep(session, one)
        assert attempts.keep(session, one).id == first.id
    with records.work() as session:
        kept = attempts.get(session, first.id)
        assert kept is not None
        assert json.loads(kept.evidence) == run
        assert (kept.person.name, kept.drill, kept.seed, kept.at) == ("Ona Tiller", "kick-while-drilling", 5, START)
        assert kept.seal == run["seal"]["whole"]
        assert [row.criterion for row in kept.criteria] == [row["id"] for row in run["sheet"]["criteria"]]
        assert [(note.t, note.author) for note in kept.notes] == [(3.5, "Ines Marlow")]
        assert session.scalar(select(func.count()).select_from(Attempt)) == 1


def test_kept_evidence_still_computes(records: Records, run: dict[str, Any]) -> None:
    with records.work() as session:
        kept = attempts.keep(session, arrival(run))
        verdict = verify(documents.parse(kept.evidence), rebuilder())
        attempts.found(session, kept, verdict.ok, verdict.reason)
        assert kept.verified is True
        assert "the same to the bit" in kept.verified_reason


def test_names_are_compared_as_people_do(records: Records) -> None:
    with records.work() as session:
        ona = people.add(session, "  Ona\x00  Tiller ")
        assert ona.name == "Ona Tiller"
        assert people.find_or_add(session, "ona TILLER").id == ona.id
        with pytest.raises(people.PeopleError, match="already"):
            people.add(session, "ONA TILLER")
        with pytest.raises(people.PeopleError, match="role"):
            people.add(session, "Somebody", role="owner")
        with pytest.raises(ValueError, match="missing"):
            people.add(session, " \n\t ")
        with pytest.raises(ValueError, match="at most 80"):
            people.add(session, "x" * 300)


def _assessors(session: Any) -> tuple[Person, Person]:
    return people.add(session, "Ines Marlow", "assessor"), people.add(session, "Teo Vance", "assessor")


def test_an_override_needs_a_reason_and_both_marks_stay(records: Records, run: dict[str, Any]) -> None:
    with records.work() as session:
        one, two = _assessors(session)
        attempt = attempts.keep(session, arrival(run))
        row = next(row for row in attempt.criteria if row.earned is not None and row.points > 1)
        found = row.earned
        with pytest.raises(marks.MarkError, match="needs its reason"):
            marks.give(session, attempt, row.criterion, row.points, "  ", one)
        with pytest.raises(marks.MarkError, match="give 0 to"):
            marks.give(session, attempt, row.criterion, row.points + 1, "more", one)
        with pytest.raises(marks.MarkError, match="no criterion"):
            marks.give(session, attempt, "nothing", 1, "x", one)
        with pytest.raises(marks.MarkError, match="only an assessor"):
            marks.give(session, attempt, row.criterion, 1, "x", people.add(session, "Bram Cole", "instructor"))
        mark = marks.give(session, attempt, row.criterion, row.points, "Seen on the floor", one)
        assert mark.override
        assert row.earned == found
        marks.give(session, attempt, row.criterion, 0.0, "Not seen", two)
        assert len(attempt.marks) == 2
        assert attempts.sheet_of(attempt, [mark])["score"] > attempt.machine_score
        assert [entry.who for entry in audit.latest(session, did="override")] == ["Teo Vance", "Ines Marlow"]


def test_signing_seals_the_marks_into_evidence_that_still_verifies(records: Records, run: dict[str, Any]) -> None:
    with records.work() as session:
        one, _ = _assessors(session)
        attempt = attempts.keep(session, arrival(run))
        open_rows = [row for row in attempt.criteria if row.earned is None]
        if open_rows:
            with pytest.raises(marks.MarkError, match="not judged yet"):
                marks.sign(session, attempt, "", one)
        for row in open_rows:
            marks.give(session, attempt, row.criterion, row.points, "", one)
        judged = next(row for row in attempt.criteria if row.earned is not None)
        marks.give(session, attempt, judged.criterion, judged.points, "Seen", one)
        sheet = marks.sign(session, attempt, "Calm hand.", one)
        document = documents.parse(attempt.evidence)
        assert document.remarks == "Calm hand."
        assert {mark.criterion for mark in document.marks} == {judged.criterion, *(row.criterion for row in open_rows)}
        assert document.sheet["score"] == attempt.machine_score
        assert attempt.score == sheet["score"]
        assert verify(document, rebuilder()).ok
        with pytest.raises(marks.MarkError, match="signed"):
            marks.give(session, attempt, judged.criterion, 0, "changed my mind", one)
        with pytest.raises(marks.MarkError, match="signed already"):
            marks.sign(session, attempt, "", one)


def test_evidence_says_who_signed_it_off_and_what_was_corrected(records: Records, run: dict[str, Any]) -> None:
    with records.work() as session:
        one, two = _assessors(session)
        attempt = attempts.keep(session, arrival(_signed(run)))
        for row in attempt.criteria:
            marks.give(session, attempt, row.criterion, row.points, "Seen", one)
            marks.give(session, attempt, row.criterion, 0.0, "Not seen", two)
        marks.sign(session, attempt, "", one, KEY)
        first = documents.parse(attempt.evidence)
        assert first.sign_off is not None and first.sign_off.assessor == one.name and not first.sign_off.corrections
        review.reopen(session, attempt, "One step was not done.", two, KEY)
        between = documents.parse(attempt.evidence)
        assert between.sign_off is None and between.signature is not None and between.seal.whole != first.seal.whole
        marks.sign(session, attempt, "", two, KEY)
        last = documents.parse(attempt.evidence)
        assert last.sign_off is not None and last.sign_off.assessor == two.name
        (corrected,) = last.sign_off.corrections
        assert corrected.was.endswith(", 100") and corrected.assessor == one.name
        assert (corrected.by, corrected.reason) == (two.name, "One step was not done.")
        told = dict(report(last).facts)
        assert told["Corrected"] == f"was {corrected.was}, signed by {one.name}: One step was not done."
        assert told["Without marks"].endswith("of 100") and two.name in report(last).signed
        last.sign_off.corrections.clear()
        assert broken_seal(last) == "the assessor's marks, remarks or sign-off were altered"
        assert verify(documents.parse(attempt.evidence), rebuilder()).ok
        name, handed_out = two.name, documents.parse(attempt.evidence).seal.whole
        people.anonymise(session, two, "Mara Quill", KEY)
        assert name not in attempt.evidence and documents.parse(attempt.evidence).signature is not None
        # The same for who gave no mark, and only opened it again.
        three = people.add(session, "Siv Grane", "assessor")
        review.reopen(session, attempt, "Look once more.", three, KEY)
        marks.sign(session, attempt, "", one, KEY)
        assert "Siv Grane" in attempt.evidence
        people.anonymise(session, three, "Mara Quill", KEY)
        assert "Siv Grane" not in attempt.evidence and verify(documents.parse(attempt.evidence), rebuilder()).ok
        # What was handed out before the name was taken out of it is withdrawn too.
        assert handed_out in [one.seal for one in review.withdrawn(session, attempt.id)]


def test_an_earlier_sign_off_is_known_as_withdrawn_and_each_changed_mark_is_named(
    records: Records, run: dict[str, Any], tmp_path: Path
) -> None:
    own = signing.public_hex(KEY)
    with records.work() as session:
        one, two = _assessors(session)
        attempt = attempts.keep(session, arrival(_signed(run)))
        for row in attempt.criteria:
            marks.give(session, attempt, row.criterion, row.points, "Seen", one)
        marks.sign(session, attempt, "", one, KEY)
        first, evidence = attempt.evidence, tmp_path / "evidence.json"
        changed = attempt.criteria[0]
        review.reopen(session, attempt, "One step was not done.", two, KEY)
        marks.give(session, attempt, changed.criterion, 0.0, "Not done", one)
        marks.sign(session, attempt, "", one, KEY)
        said = review.changed(first, attempt.evidence)
        assert said == [f"{changed.title}: {changed.points:.3g}, now 0 of {changed.points:g}"]
        for text, words in ((first, "NOT THE NEWEST"), (attempt.evidence, "the same as in the records")):
            known = files.known(session, files.read("a.json", text.encode(), attempt.person.name))
            assert known is not None and words in known.said
        listed = withdrawn.listed(review.withdrawn(session), START.isoformat(), KEY)
        file, ends = tmp_path / "withdrawn.json", []
        file.write_text(listed.model_dump_json(), "utf-8")
        for text in (first, attempt.evidence):
            evidence.write_text(text, "utf-8")
            row = headless.verify_file(evidence, key=own, withdrawn=withdrawn.read(file, own))
            ends.append((row["ok"], "NOT THE NEWEST" in headless.verified_line(row)))
        assert ends == [(False, True), (True, False)]
        file.write_text(listed.model_copy(update={"rows": []}).model_dump_json(), "utf-8")
        with pytest.raises(withdrawn.WithdrawnError, match="not signed with the key"):
            withdrawn.read(file, own)


def test_who_signed_answers_no_appeal_while_there_is_another(records: Records, run: dict[str, Any]) -> None:
    with records.work() as session:
        one, two = _assessors(session)
        attempt = attempts.keep(session, arrival(run))
        for row in attempt.criteria:
            marks.give(session, attempt, row.criterion, row.points, "Seen", one)
        marks.sign(session, attempt, "", one)
        made = review.appeal(session, attempt, "It was not so.", attempt.person)
        with pytest.raises(marks.MarkError, match="another assessor answers"):
            review.answer(session, made, "It was so.", one)
        # Not even after it was opened again.
        review.reopen(session, attempt, "Look again.", two)
        with pytest.raises(marks.MarkError, match="another assessor answers"):
            review.answer(session, made, "It was so.", one)
        two.active = False
        review.answer(session, made, "It was so: nobody else is here.", one)
        assert made.answered_by == one.name


def test_nobody_assesses_an_own_attempt(records: Records, run: dict[str, Any]) -> None:
    with records.work() as session:
        one, _ = _assessors(session)
        attempt = attempts.keep(session, arrival(run, person=one.name))
        with pytest.raises(marks.MarkError, match="your own attempt"):
            marks.give(session, attempt, attempt.criteria[0].criterion, 0, "x", one)
        made = review.appeal(session, attempt, "It was not so.", one)
        with pytest.raises(marks.MarkError, match="your own attempt"):
            review.answer(session, made, "It was so.", one)


def test_who_has_left_assesses_nothing(records: Records, run: dict[str, Any]) -> None:
    with records.work() as session:
        one, _ = _assessors(session)
        attempt = attempts.keep(session, arrival(run))
        made = review.appeal(session, attempt, "It was not so.", attempt.person)
        one.active = False
        for deed in (
            lambda: marks.give(session, attempt, attempt.criteria[0].criterion, 0, "x", one),
            lambda: marks.sign(session, attempt, "", one),
            lambda: review.reopen(session, attempt, "x", one),
            lambda: review.answer(session, made, "x", one),
        ):
            with pytest.raises(marks.MarkError, match="only an assessor"):
                deed()


def test_kappa_of_the_textbook_table() -> None:
    # J. Cohen (1960): 2 by 2 table 20, 5, 10, 15 of 50 judgements; observed 0.70, chance 0.50, kappa 0.40.
    pairs = [("a", "a")] * 20 + [("a", "b")] * 5 + [("b", "a")] * 10 + [("b", "b")] * 15
    assert kappa(pairs) == pytest.approx(0.4)
    assert kappa([("a", "a"), ("b", "b")]) == 1.0
    assert kappa([("a", "b"), ("b", "a")]) == -1.0
    assert kappa([]) is None
    assert kappa([("a", "a")] * 3) is None
    assert [level(0, 5), level(2, 5), level(5, 5)] == ["none", "part", "full"]


def test_agreement_counts_what_both_marked(records: Records, run: dict[str, Any]) -> None:
    with records.work() as session:
        one, two = _assessors(session)
        attempt = attempts.keep(session, arrival(run))
        rows = [row for row in attempt.criteria if row.points > 0][:4]
        for row, (left, right) in zip(rows, [(1.0, 1.0), (0.0, 0.0), (1.0, 0.0), (0.0, 0.0)], strict=True):
            marks.give(session, attempt, row.criterion, left * row.points, "seen", one)
            marks.give(session, attempt, row.criterion, right * row.points, "seen", two)
        (pair,) = agreements(session)
        assert (pair.first, pair.second, pair.count, pair.observed) == ("Ines Marlow", "Teo Vance", 4, 0.75)
        assert pair.kappa == pytest.approx(0.5)


def _check(run: dict[str, Any], passed: bool) -> dict[str, Any]:
    sheet = {**run["sheet"], "passed": passed, "finished": True}
    return {**run, "sheet": sheet}


KEY = Ed25519PrivateKey.generate()


def _signed(run: dict[str, Any], started_by: str = "Mara Quill", by: Ed25519PrivateKey = KEY) -> dict[str, Any]:
    """The evidence as a classroom hands it in: with custody, sealed and signed."""
    given = {**run, "custody": Custody(started_by=started_by).model_dump()}
    return dict(json.loads(sealed(given, by)[0]))


def _off(session: Session, attempt: Attempt) -> Attempt:
    """The attempt, signed off."""
    attempt.signed_at = attempt.at
    session.flush()
    return attempt


def test_currency_counts_only_what_is_proved(records: Records, run: dict[str, Any]) -> None:
    drills = {"kick-while-drilling": "Kick while drilling"}
    own = signing.public_hex(KEY)
    with records.work() as session:

        def state(person: Person) -> str:
            cells = currency.matrix(session, drills, START + timedelta(days=1), own).cells
            return cells[(person.id, "kick-while-drilling")].state

        passed = _check(run, True)
        for number, (given, off, expected) in enumerate(
            (
                (passed, True, "never"),  # unsigned: anybody can seal such a file
                (_signed(passed, started_by=""), True, "never"),
                (_signed(passed, by=Ed25519PrivateKey.generate()), True, "never"),
                (_signed(passed), False, "unsigned"),
                (_signed(passed), True, "current"),
            )
        ):
            kept = attempts.keep(session, arrival(given, person=f"Trainee {number}"))
            assert state(_off(session, kept).person if off else kept.person) == expected, number
        forged = _signed(passed)
        forged["person"]["name"] = "Another Name"
        kept = attempts.keep(session, arrival(json.loads(sealed(forged)[0]), person="Another Name"))
        assert kept.signed_key == "" and state(_off(session, kept).person) == "never"


def test_marks_and_forgetting_give_no_file_from_elsewhere_the_classrooms_signature(
    records: Records, run: dict[str, Any]
) -> None:
    own = signing.public_hex(KEY)
    unsigned = _check(run, True)
    unsigned["custody"] = Custody(started_by="Ines Marlow", began="2031-05-06T08:00:00+00:00").model_dump()
    faked = json.loads(json.dumps(unsigned))
    faked["date"] = "2031-05-08"
    faked = json.loads(sealed(faked)[0])
    faked["signature"] = signing.Signature(public_key=own, signature="0" * 128).model_dump()
    with records.work() as session:
        one, _ = _assessors(session)
        for number, given in enumerate((json.loads(sealed(unsigned)[0]), faked)):
            text = json.dumps(given)
            file = files.Read(f"{number}.json", text, f"Trainee {number}", "2031-05-06", f"{number}" * 64)
            taken = files.keep(session, file, Verdict(True, True, True, "as found"), own)
            kept = session.scalars(select(Attempt).order_by(Attempt.id.desc())).first()
            assert taken.kept and kept is not None and kept.started_by == "" and kept.signed_key == ""
            assert not review.waiting(session), "it waits for no mark as a check of this class"
            for row in kept.criteria:
                if row.earned is None:
                    marks.give(session, kept, row.criterion, row.points, "", one)
            marks.sign(session, kept, "", one, KEY)
            assert kept.signed_key == "" and documents.parse(kept.evidence).signature is None
            people.anonymise(session, kept.person, "Mara Quill", KEY)
            assert kept.signed_key == "" and documents.parse(kept.evidence).signature is None
            matrix = currency.matrix(session, {"kick-while-drilling": "Kick"}, START + timedelta(days=1), own)
            assert {cell.state for cell in matrix.cells.values()} == {"never"}


def test_the_same_run_does_not_come_in_under_another_name(records: Records, run: dict[str, Any]) -> None:
    verdict = Verdict(True, True, True, "as found")
    forged = json.loads(json.dumps(run))
    forged["person"]["name"], forged["date"] = "Another Name", "2031-05-07"
    with records.work() as session:
        (first, again, other) = (
            files.keep(session, files.read("a.json", text.encode()), verdict)
            for text in (json.dumps(run), json.dumps(run), sealed(forged)[0])
        )
        assert first.kept and "unsigned" in first.said
        assert not again.kept and "known already" in again.said
        assert not other.kept and "of another person" in other.said


def test_what_the_classroom_signed_for_one_person_is_never_filed_under_another(
    records: Records, run: dict[str, Any]
) -> None:
    """Not even after the person and all their attempts were deleted, when nothing in the records knows the run."""
    own, verdict = signing.public_hex(KEY), Verdict(True, True, True, "as found")
    nameless = {**run, "person": {**run["person"], "name": ""}}
    signed, nobodys = (json.dumps(_signed(_check(one, True))).encode() for one in (run, nameless))
    with records.work() as session:
        other = files.keep(session, files.read("a.json", signed, "Una Brandt"), verdict, own)
        assert not other.kept and "for another person" in other.said
        assert files.keep(session, files.read("a.json", nobodys, "Una Brandt"), verdict, own).kept
        (theirs,) = attempts.search(session)
        assert theirs.started_by == "", "it was started for nobody who is named: it counts for no validity"
        session.delete(theirs)
        session.flush()
        assert files.keep(session, files.read("a.json", signed, "ona  TILLER"), verdict, own).kept
        assert attempts.search(session)[0].started_by == "Mara Quill"


def test_a_deleted_persons_run_comes_back_under_no_name(records: Records, run: dict[str, Any]) -> None:
    own, verdict = signing.public_hex(KEY), Verdict(True, True, True, "as found")
    signed = _signed(_check(run, True))
    unsigned = json.loads(json.dumps(signed))
    unsigned["person"]["name"] = "Una Brandt"
    with records.work() as session:
        people.erase(session, attempts.keep(session, arrival(signed)).person, "Bram Cole", KEY)
    with records.work() as session:
        for text in (json.dumps(signed), sealed(unsigned)[0]):
            taken = files.keep(session, files.read("a.json", text.encode()), verdict, own)
            assert not taken.kept and "deleted here" in taken.said
        assert not attempts.search(session)


def test_the_trail_is_chained_and_shows_what_was_done_to_it(records: Records, tmp_path: Path) -> None:
    with records.work() as session:
        people.add(session, "Ona Tiller")
        for number in range(6):
            audit.note(session, "Ona Tiller" if number == 2 else "Mara Quill", "instructor", f"did {number}")
    with records.work() as session:
        document = json.loads(json.dumps(chain.export(session, KEY)))
        assert chain.extend(session) == 0
    own = signing.public_hex(KEY)
    assert chain.verify(document, own).ok and document["head"] != chain.START
    for harm, said in (
        (lambda rows: rows[3].update(who="somebody else"), "altered"),
        (lambda rows: rows.pop(3), "missing"),
        (lambda rows: rows.pop(), "end"),
        (lambda rows: rows[3].update(digest=rows[2]["digest"]), "altered"),
    ):
        harmed = json.loads(json.dumps(document))
        harm(harmed["rows"])
        found = chain.verify(harmed, own)
        assert not found.ok and said in found.said
    assert not chain.verify(document, signing.public_hex(Ed25519PrivateKey.generate())).ok
    assert not chain.verify({"rows": 7}).ok
    # As somebody does who was given the file and the key.
    file, pem = tmp_path / "trail.json", tmp_path / "key.pem"
    file.write_text(json.dumps(document), "utf-8")
    pem.write_bytes(signing.public_pem(KEY))
    said, whole = verb.work("verify", file, None, pem)
    assert whole and "signed with that key" in said
    harmed["rows"][3]["who"] = "somebody else"
    file.write_text(json.dumps(harmed), "utf-8")
    said, whole = verb.work("verify", file, None, pem)
    assert not whole and "NOT WHOLE" in said
    with pytest.raises(RecordsError, match="no exported log"):
        verb.work("verify", pem, None)
    # In the database itself, too; a name taken out on purpose is told and breaks nothing.
    with records.work() as session:
        person = people.find(session, "Ona Tiller")
        assert person is not None
        people.anonymise(session, person, "Mara Quill")
        chain.extend(session)
        found = chain.look_through(chain.rows(session), document["head"])
        assert found.ok and found.scrubbed == 1
        session.execute(text("UPDATE audit SET who = 'x' WHERE did = 'did 4'"))
    with records.work() as session:
        assert not chain.look_through(chain.rows(session)).ok


def test_a_long_trail_is_chained_in_batches(records: Records, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(chain, "BATCH", 7)
    with records.work() as session:
        before = len(audit.latest(session, 1000))
        for number in range(30):
            audit.note(session, "Mara Quill", "instructor", f"did {number}")
    assert chain.extend_all(records) == before + 30
    assert chain.extend_all(records) == 0
    with records.work() as session:
        found = chain.look_through(chain.rows(session))
        assert found.ok and found.rows == before + 30


def test_currency_runs_out_and_a_failed_recheck_ends_it(records: Records, run: dict[str, Any]) -> None:
    drills = {"kick-while-drilling": "Kick while drilling", "lamp-lies": "The lamp lies"}
    with records.work() as session:
        own = signing.public_hex(KEY)
        currency.set_terms(session, "kick-while-drilling", "Kick while drilling", 100, 10)
        kept = _off(session, attempts.keep(session, arrival(_signed(_check(run, True)))))
        place = (kept.person_id, "kick-while-drilling")

        def state(days: float) -> currency.Cell:
            return currency.matrix(session, drills, START + timedelta(days=days), own).cells[place]

        assert [state(day).state for day in (1, 89.9, 90, 99.9, 100)] == ["current", "current", "due", "due", "expired"]
        assert state(1).expires == START + timedelta(days=100)
        assert state(1).recheck == START + timedelta(days=90)
        empty = currency.matrix(session, drills, START, own).cells[(kept.person_id, "lamp-lies")]
        assert empty.state == "never"
        broken_off = _check(run, True)
        broken_off["sheet"]["finished"] = False
        attempts.keep(session, arrival(_signed(broken_off), at=START + timedelta(days=20)))
        assert (state(30).state, state(30).finished) == ("unsigned", False)
        broken = attempts.keep(
            session, arrival(_signed({**broken_off, "remarks": "x"}), at=START + timedelta(days=20.5))
        )
        assert broken.id == state(30).attempt and _off(session, broken).passed
        assert state(30).state == "unfinished"
        _off(session, attempts.keep(session, arrival(_signed(_check(run, True)), at=START + timedelta(days=21))))
        assert state(30).state == "current"
        lost = attempts.keep(session, arrival(_signed(_check(run, False)), at=START + timedelta(days=22)))
        assert state(30).state == "unsigned"
        _off(session, lost)
        assert state(30).state == "failed"
        with pytest.raises(ValueError, match="days of validity"):
            currency.set_terms(session, "lamp-lies", "The lamp lies", 0, 0)


def test_anonymising_leaves_scores_and_takes_the_name_everywhere(records: Records, run: dict[str, Any]) -> None:
    with records.work() as session:
        attempt = attempts.keep(session, arrival(run))
        audit.note(session, "Ona Tiller", "trainee", "joined", "Ona Tiller", "as Ona Tiller")
        score = attempt.score
        people.anonymise(session, attempt.person, "Ines Marlow")
        kept_id = attempt.id
    with records.work() as session:
        kept = attempts.get(session, kept_id)
        assert kept is not None
        assert kept.score == score
        assert kept.person.name == f"trainee {kept.person_id}"
        assert "Tiller" not in kept.evidence
        assert verify(documents.parse(kept.evidence), rebuilder()).ok
        assert not any("Tiller" in f"{row.who}{row.target}{row.detail}" for row in audit.latest(session))


def test_deleting_a_person_takes_their_attempts_and_keeps_their_marks_on_others(
    records: Records, run: dict[str, Any]
) -> None:
    with records.work() as session:
        one, _ = _assessors(session)
        attempt = attempts.keep(session, arrival(run))
        marks.give(session, attempt, attempt.criteria[0].criterion, 0, "Not seen", one)
        people.erase(session, one, "Bram Cole")
    with records.work() as session:
        mark = session.scalars(select(Mark)).one()
        assert "Ines" not in mark.assessor
        person = people.find(session, "Ona Tiller")
        assert person is not None
        people.erase(session, person, "Bram Cole")
    with records.work() as session:
        for table in (Attempt, Criterion, Mark):
            assert session.scalar(select(func.count()).select_from(table)) == 0


def test_csv_has_a_line_an_attempt_and_no_formula(records: Records, run: dict[str, Any]) -> None:
    with records.work() as session:
        attempts.keep(session, arrival(run, person="=2+5 Tiller"))
        found = attempts.search(session)
        (line,) = csv.DictReader(io.StringIO(csv_out.attempts_csv(found)))
        assert line["person"] == "'=2+5 Tiller"
        for sign in "＝＋－＠":
            # Full-width forms (Unicode, Halfwidth and Fullwidth Forms), which some spreadsheets read as the plain ones.
            found[0].title = f"{sign}2"
            (line,) = csv.DictReader(io.StringIO(csv_out.attempts_csv(found)))
            assert line["title"] == f"'{sign}2"
        assert float(line["score"]) == run["sheet"]["score"]
        rows = list(csv.DictReader(io.StringIO(csv_out.criteria_csv(found))))
        assert len(rows) == len(run["sheet"]["criteria"])


def test_tokens_end_and_run_out(records: Records) -> None:
    with records.work() as session:
        person = people.add(session, "Ona Tiller")
        token, other = logins.begin(session, person), logins.begin(session, person)
        old = logins.begin(session, person, hours=-1)
    with records.work() as session:
        held = logins.holder(session, token)
        assert held is not None
        assert held[0].name == "Ona Tiller"
        assert logins.holder(session, old) is None
        assert logins.holder(session, "made up") is None
        logins.end(session, token)
        assert logins.holder(session, token) is None
        assert logins.holder(session, other) is not None
        held[0].active = False
        session.flush()
        assert logins.holder(session, other) is None


def test_class_codes_open_and_close(records: Records) -> None:
    with records.work() as session:
        teacher = people.add(session, "Bram Cole", "instructor")
        first = logins.open_class(session, teacher)
        second = logins.open_class(session, teacher)
        assert logins.joins(session, first) is None
        assert logins.joins(session, f" {second[:4].lower()}-{second[4:]} ") == ""
        assert logins.joins(session, "") is None
        assert logins.joins(session, "%" * 8) is None
        logins.close_class(session)
        assert logins.joins(session, second) is None


def test_each_class_has_a_code_of_its_own(records: Records) -> None:
    with records.work() as session:
        teacher = people.add(session, "Bram Cole", "instructor")
        day, night = (logins.open_class(session, teacher, title) for title in (" Day \n shift", "Night shift"))
        assert logins.open_codes(session) == {"Day shift": day, "Night shift": night}
        newer = logins.open_class(session, teacher, "Day shift")
        assert logins.joins(session, day) is None and logins.joins(session, newer) == "Day shift"
        assert logins.joins(session, night) == "Night shift", "a new code for one class leaves the others alone"
        logins.close_class(session, "Day shift")
        assert logins.open_codes(session) == {"Night shift": night}
        pupil = people.add(session, "Ida Strand")
        held = logins.holder(session, logins.begin(session, pupil, joined="Night shift"))
        assert held is not None and held[1].joined == "Night shift"
