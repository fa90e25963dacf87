"""Whose key signed: a folder's own key, and what ``trainer verify --key`` tells apart."""

from __future__ import annotations

import json
import stat
from pathlib import Path

import pytest
from typer.testing import CliRunner

from trainer.cli import app
from trainer.records.privacy import sealed
from trainer.session import evidence, signing
from trainer.session.custody import Custody
from trainer.simulator import Session


@pytest.fixture(scope="module")
def run() -> Session:
    session = Session.start(None)
    session.advance(1.0)
    return session


def test_a_key_is_made_once_and_for_its_owner_only(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(signing.KEY_VARIABLE, raising=False)
    first = signing.folder_key(tmp_path)
    assert signing.public_hex(signing.folder_key(tmp_path)) == signing.public_hex(first)
    assert stat.S_IMODE((tmp_path / signing.KEY_FILE).stat().st_mode) == 0o600
    assert signing.read_public(tmp_path / "signing.pub.pem") == signing.public_hex(first)
    with pytest.raises(signing.SigningError, match="public key"):
        signing.read_public(tmp_path / signing.KEY_FILE)


def test_verify_tells_signed_from_sealed_again(tmp_path: Path, run: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(signing.KEY_VARIABLE, raising=False)
    key = signing.folder_key(tmp_path)
    other = signing.folder_key(_folder(tmp_path / "other"))
    made = evidence.make(run, name="Ona Tiller", date="2031-05-06", key=key, custody=Custody(started_by="Mara Quill"))
    signed = made.record()
    forged = json.loads(json.dumps(signed))
    forged["person"]["name"] = "Another Name"
    forged["custody"]["interventions"] = []
    files = {
        "signed": json.dumps(signed),
        "sealed again": sealed(forged)[0],
        "sealed and signed by another": sealed(forged, other)[0],
    }
    for name, text in files.items():
        (tmp_path / f"{name}.json").write_text(text)
    public = str(tmp_path / "signing.pub.pem")
    paths = [str(tmp_path / f"{name}.json") for name in files]
    without = json.loads(CliRunner().invoke(app, ["verify", "--json", *paths]).stdout)
    # Sealed again it verifies: that proves what was done, and says so.
    assert [row["ok"] for row in without] == [True, True, True]
    assert "not by whom" in without[1]["signed"]
    # Who it says it is of, and that the three are one run under other names.
    assert [row["about"]["person"] for row in without] == ["Ona Tiller", "Another Name", "Another Name"]
    assert without[1]["same_run_as"] == paths[0] == without[2]["same_run_as"]
    plain = CliRunner().invoke(app, ["verify", *paths]).stdout
    assert "started by Mara Quill, 2031-05-06: NOT passed, 0, not finished" in plain
    assert "unsigned, so name, date, start and marks are unproven" in plain and "the same run as" in plain
    found = CliRunner().invoke(app, ["verify", "--json", "--key", public, *paths])
    assert [row["ok"] for row in json.loads(found.stdout)] == [True, False, False]
    assert [row["signed"] for row in json.loads(found.stdout)][2] == "by another key"
    assert found.exit_code == 1
    assert CliRunner().invoke(app, ["verify", "--key", public, paths[0]]).exit_code == 0
    # One that was altered and not sealed again is not called signed, and nothing that stands in it is taken as proven.
    altered = tmp_path / "altered.json"
    altered.write_text(json.dumps({**signed, "person": {"name": "Another Name", "role": ""}}))
    said = CliRunner().invoke(app, ["verify", "--key", public, str(altered)]).stdout
    assert "the signature does not cover what stands here" in said and "signed: by this key" not in said
    assert "altered, so none of this is proven" in said


@pytest.mark.parametrize(
    ("part", "harm"),
    [
        ("person", {"name": "Another Name", "role": ""}),
        ("date", "2040-01-01"),
        ("marks", [{"criterion": "x", "points": 5.0, "remark": "", "assessor": "A"}]),
        ("custody", {"started_by": "Another"}),
    ],
)
def test_a_signature_covers_person_date_marks_and_custody(
    tmp_path: Path, run: Session, part: str, harm: object
) -> None:
    key = signing.folder_key(tmp_path)
    document = evidence.make(run, name="Ona Tiller", date="2031-05-06", key=key, custody=Custody()).record()
    again = json.loads(sealed({**document, part: harm})[0])
    whole = again["seal"]["whole"]
    assert not signing.holds(whole, signing.Signature.model_validate(document["signature"]))


def _folder(path: Path) -> Path:
    path.mkdir()
    return path
