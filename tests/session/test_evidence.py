"""Evidence: sealed, re-computed, and every kind of tampering found and named."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

from tests.session.fakes import FakeMachine, rebuild, start
from tests.session.test_session import SCRIPT
from trainer.hydraulics.refusal import Refusal
from trainer.session import canonical, evidence, signing
from trainer.session.script import play
from trainer.session.verify import Verdict, verify


def made(**options: Any) -> evidence.Evidence:
    session = start(7)
    play(session, SCRIPT)
    return evidence.make(session, name="A. Trainee", role="driller", date="2026-01-02", **options)


def check(document: dict[str, Any]) -> Verdict:
    return verify(evidence.parse(json.dumps(document)), rebuild)


def resealed(document: dict[str, Any]) -> dict[str, Any]:
    """What a forger does who knows the seal's recipe."""
    head = evidence.head_hash(document)
    entries = [evidence.SealedEntry.model_validate(entry) for entry in document["log"]]
    links = evidence.chain(head, [*entries])
    log = [{**entry, "link": link} for entry, link in zip(document["log"], links, strict=True)]
    return {**document, "log": log, "seal": evidence.seal_of(document, links).model_dump()}


def test_untouched_evidence_verifies() -> None:
    verdict = check(made().record())
    assert verdict.ok
    assert verdict.finished
    assert "the same to the bit" in verdict.reason


def test_numbers_respelled_by_a_browser_are_the_same_evidence() -> None:
    source = re.sub(r'(?<![."\d])(\d+)\.0(?![."\d])', r"\1", json.dumps(made().record()))
    assert verify(evidence.parse(source), rebuild).ok


def swap_commands(document: dict[str, Any]) -> None:
    log = document["log"]
    log[0], log[1] = log[1], log[0]


def swap_commands_keeping_times(document: dict[str, Any]) -> None:
    swap_commands(document)
    log = document["log"]
    log[0]["tick"], log[1]["tick"] = log[1]["tick"], log[0]["tick"]


def edit_score(document: dict[str, Any]) -> None:
    document["sheet"]["criteria"][0]["earned"] = 3.0


def edit_value(document: dict[str, Any]) -> None:
    document["log"][2]["value"] = 36.0


def edit_entry_time(document: dict[str, Any]) -> None:
    document["log"][2]["tick"] += 5


def edit_reading(document: dict[str, Any]) -> None:
    document["log"][3]["value"] = 199.0


def drop_last_command(document: dict[str, Any]) -> None:
    document["log"].pop()


def edit_checkpoint(document: dict[str, Any]) -> None:
    document["checkpoints"][3]["state"] = "0" * 64


def edit_seed(document: dict[str, Any]) -> None:
    document["run"]["seed"] = 8


def edit_person(document: dict[str, Any]) -> None:
    document["person"]["name"] = "Somebody Else"


def edit_refusal(document: dict[str, Any]) -> None:
    document["log"][1] |= {"refused": None, "code": None}


def edit_code(document: dict[str, Any]) -> None:
    document["log"][1]["code"] = "no_power"


def edit_sheet_time(document: dict[str, Any]) -> None:
    document["sheet"]["criteria"][0]["t"] = 1.4


def edit_id(document: dict[str, Any]) -> None:
    document["sheet"]["criteria"][0]["id"] = "closed"


@pytest.mark.parametrize(
    ("tamper", "said"),
    [
        (swap_commands, "log entry 1 (12.0 s, push hatch) breaks the chain"),
        (swap_commands_keeping_times, "log entry 1 (1.3 s, push hatch) breaks the chain"),
        (edit_score, "the score sheet was altered"),
        (edit_value, "log entry 3 (20.1 s, set choke) breaks the chain"),
        (edit_entry_time, "log entry 3 (20.2 s, set choke) breaks the chain"),
        (edit_reading, "log entry 4 (33.3 s, read tank.volume) breaks the chain"),
        (drop_last_command, "the log was cut or extended"),
        (edit_checkpoint, "a checkpoint was altered"),
        (edit_seed, "the head (engine, date, plant, drill, seed, person or end) was altered"),
        (edit_person, "the head"),
        (edit_refusal, "log entry 2"),
        (edit_code, "log entry 2"),
    ],
)
def test_tampering_breaks_the_seal_and_is_named(tamper: Callable[[dict[str, Any]], None], said: str) -> None:
    document = made().record()
    tamper(document)
    verdict = check(document)
    assert not verdict.seal
    assert not verdict.ok
    assert said in verdict.reason


@pytest.mark.parametrize(
    ("tamper", "part", "said"),
    [
        (swap_commands, "states", "log entry 2 (1.3 s, set valve): time goes backwards"),
        (
            swap_commands_keeping_times,
            "states",
            "checkpoint at 10.0 s (tick 500): state differs; up to 0.0 s",
        ),
        (edit_score, "score", "criteria.opened.earned is 3.0, re-computed 10.0"),
        (
            edit_value,
            "states",
            "checkpoint at 30.0 s (tick 1500): state differs; up to 20.0 s all was the same",
        ),
        (edit_entry_time, "states", "checkpoint at 30.0 s (tick 1500): state differs"),
        (edit_reading, "states", "checkpoint at 40.0 s (tick 2000): state differs"),
        (edit_checkpoint, "states", "checkpoint at 30.0 s (tick 1500): state differs"),
        (drop_last_command, "states", "checkpoint at 40.0 s (tick 2000): entries differs"),
        (edit_refusal, "states", "recorded as carried out, re-computed as refused, bolted (The hatch is bolted.)"),
        (edit_code, "states", "recorded as refused, no_power (The hatch is bolted.), re-computed as refused, bolted"),
        (edit_sheet_time, "score", "criteria.opened.t is 1.4, re-computed 1.3"),
        (edit_id, "score", "criteria.opened.id is 'closed', re-computed 'opened'"),
    ],
)
def test_a_new_seal_does_not_hide_it(tamper: Callable[[dict[str, Any]], None], part: str, said: str) -> None:
    document = made().record()
    tamper(document)
    verdict = check(resealed(document))
    assert verdict.seal
    assert not getattr(verdict, part)
    assert said in verdict.reason


def test_words_may_change_and_nothing_else(monkeypatch: pytest.MonkeyPatch) -> None:
    document = made().record()
    assert document["log"][1]["refused"] == "The hatch is bolted."
    refuse, code = FakeMachine.apply, ""

    def reworded(machine: FakeMachine, command: Any) -> Refusal | None:
        said = refuse(machine, command)
        return said and Refusal(code or said.code, "Bolted: unbolt it first.")

    monkeypatch.setattr(FakeMachine, "apply", reworded)
    document["sheet"]["criteria"][0]["title"] = "Opened"
    document["engine"]["hash"] = "c" * 64
    verdict = check(resealed(document))
    assert verdict.ok, verdict.reason
    assert "some of its sentences read otherwise here" in verdict.reason
    assert not check(document).seal
    # The same words for another refusal are another run.
    code = "jammed"
    assert "re-computed as refused, jammed" in check(resealed(document)).reason


def test_any_altered_byte_is_found() -> None:
    # Every 37th byte of the file, each replaced by another character: the file is refused or does not verify.
    source = canonical.text(made().record())
    untouched = evidence.parse(source)
    for place in range(0, len(source), 37):
        other = "7" if source[place] != "7" else "8"
        try:
            altered = evidence.parse(source[:place] + other + source[place + 1 :])
        except evidence.EvidenceError:
            continue
        assert altered != untouched
        assert not verify(altered, rebuild).ok, source[max(0, place - 20) : place + 20]


def test_other_engine_is_named_when_it_gives_something_else() -> None:
    document = made().record()
    document["engine"] = {**document["engine"], "version": "0.0.9", "hash": "c" * 64}
    same = check(resealed(document))
    assert same.ok
    assert "engine 0.0.9 (cccccccccccc; here it is" in same.reason
    edit_checkpoint(document)
    assert "so verify it with that version" in check(resealed(document)).reason


def test_unknown_plant_is_told() -> None:
    document = made().record()
    document["run"]["plant"] = "elsewhere"
    verdict = check(resealed(document))
    assert not verdict.ok
    assert "cannot be re-computed here: there is no plant 'elsewhere' here" in verdict.reason


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda d: d.pop("sheet"), "sheet: Field required"),
        (lambda d: d.update(extra=1), "extra"),
        (lambda d: d["log"][0].update(tick=-5), "log.0.tick"),
        (lambda d: d.update(end=10**12), "end"),
        (lambda d: d.update(checkpoints=[]), "checkpoints"),
        (lambda d: d.update(version=0), "version"),
    ],
)
def test_what_is_no_evidence_is_refused(change: Callable[[dict[str, Any]], object], said: str) -> None:
    document = made().record()
    change(document)
    with pytest.raises(evidence.EvidenceError, match=f"not an evidence file: {said}"):
        evidence.parse(json.dumps(document))


def test_signature_shows_who_sealed(tmp_path: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    key = Ed25519PrivateKey.generate()
    pem = tmp_path / "key.pem"
    pem.write_bytes(key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))
    monkeypatch.setenv(signing.KEY_VARIABLE, str(pem))
    document = made(key=signing.configured_key()).record()
    assert check(document).signature == "valid"
    edit_person(document)
    forged = check(resealed(document))
    assert forged.signature == "invalid"
    assert not forged.seal
    assert "the signature does not belong to this document" in forged.reason


def test_unusable_key_is_told(tmp_path: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(signing.KEY_VARIABLE, str(tmp_path / "none.pem"))
    with pytest.raises(signing.SigningError, match="not an Ed25519 private key"):
        signing.configured_key()
    monkeypatch.delenv(signing.KEY_VARIABLE)
    assert signing.configured_key() is None


def test_assessors_marks_are_sealed_apart_from_what_the_machine_found() -> None:
    marked = evidence.marked(made(), [evidence.Mark(criterion="calls", points=4.0, remark="clear")], "good")
    assert check(marked.record()).ok
    document = marked.record()
    document["marks"][0]["points"] = 5.0
    verdict = check(document)
    assert (verdict.states, verdict.score, verdict.seal) == (True, True, False)
    assert "the assessor's marks, remarks or sign-off were altered" in verdict.reason


def test_only_plain_finite_data_can_be_hashed() -> None:
    assert canonical.text({"x": -0.0, "y": 1e300, "z": "é"}) == '{"x":0,"y":1e+300,"z":"\\u00e9"}'
    with pytest.raises(ValueError, match="only finite numbers"):
        canonical.digest([float("nan")])
    with pytest.raises(TypeError, match="a set cannot stand"):
        canonical.text({1, 2})


def test_a_number_too_large_in_a_sheet_is_told() -> None:
    text = json.dumps(made().record()).replace('"score": ', '"score": 1e308', 1)
    with pytest.raises(evidence.EvidenceError, match=r"not JSON: 1e308.* is too large for a number"):
        evidence.parse(text)
