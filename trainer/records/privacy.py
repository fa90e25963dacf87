"""Taking a name out of an evidence document without touching what it proves."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from trainer.records.proof import signed_key
from trainer.session import evidence as documents
from trainer.session import signing

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey


def without_name(text: str, name: str, stand_in: str, key: Ed25519PrivateKey | None = None) -> tuple[str, str]:
    """(document, seal) with ``stand_in`` for ``name`` as operator and as assessor.

    The document is sealed anew, since the seal covers the name; log, states and score are as they were and
    re-compute as before. A signature falls away, since it was given for the name too; one by ``key`` that holds is
    given again.
    """
    given = documents.parse(text)
    again = key if key is not None and signed_key(given) == signing.public_hex(key) else None
    document = given.record()
    if document["person"]["name"] == name:
        document["person"]["name"] = stand_in
    for member in (document.get("crew") or {}).get("people", ()):
        if member["name"] == name:
            member["name"] = stand_in
    for mark in document["marks"]:
        if mark["assessor"] == name:
            mark["assessor"] = stand_in
        mark["remark"] = mark["remark"].replace(name, stand_in)
    document["remarks"] = document["remarks"].replace(name, stand_in)
    if (sign_off := document.get("sign_off")) is not None:
        for row in (sign_off, *sign_off["corrections"]):
            row.update({part: stand_in for part in ("assessor", "by") if row.get(part) == name})
        for row in sign_off["corrections"]:
            row["reason"] = row["reason"].replace(name, stand_in)
    custody = document.get("custody")
    if custody is not None and custody["started_by"] == name:
        custody["started_by"] = stand_in
    return sealed(document, again)


def sealed(document: dict[str, Any], key: Ed25519PrivateKey | None = None) -> tuple[str, str]:
    """(JSON text, seal) of a document changed in head or marks on purpose; signed by ``key`` if there is one."""
    entries = [documents.SealedEntry.model_validate(entry) for entry in document["log"]]
    links = documents.chain(documents.head_hash(document), [*entries])
    for entry, link in zip(document["log"], links, strict=True):
        entry["link"] = link
    seal = documents.seal_of(document, links)
    document["seal"] = seal.model_dump()
    document["signature"] = signing.sign(seal.whole, key).model_dump() if key is not None else None
    checked = documents.Evidence.model_validate(document)
    return json.dumps(checked.record(), ensure_ascii=False), checked.seal.whole
