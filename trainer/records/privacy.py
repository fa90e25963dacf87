"""Taking a name out of an evidence document without touching what it proves."""

from __future__ import annotations

import json
from typing import Any

from trainer.session import evidence as documents


def without_name(text: str, name: str, stand_in: str) -> tuple[str, str]:
    """(document, seal) with ``stand_in`` for ``name`` as operator and as assessor.

    The document is sealed anew, since the seal covers the name; log, states and score are as they were and
    re-compute as before. A signature falls away: it was given for the name too.
    """
    document = documents.parse(text).record()
    if document["person"]["name"] == name:
        document["person"]["name"] = stand_in
    for mark in document["marks"]:
        if mark["assessor"] == name:
            mark["assessor"] = stand_in
        mark["remark"] = mark["remark"].replace(name, stand_in)
    document["remarks"] = document["remarks"].replace(name, stand_in)
    return sealed(document)


def sealed(document: dict[str, Any]) -> tuple[str, str]:
    """(JSON text, seal) of a document whose head or marks were changed on purpose; unsigned."""
    entries = [documents.SealedEntry.model_validate(entry) for entry in document["log"]]
    links = documents.chain(documents.head_hash(document), [*entries])
    for entry, link in zip(document["log"], links, strict=True):
        entry["link"] = link
    document["seal"] = documents.seal_of(document, links).model_dump()
    document["signature"] = None
    checked = documents.Evidence.model_validate(document)
    return json.dumps(checked.record(), ensure_ascii=False), checked.seal.whole
