"""Whose key stands behind an evidence document."""

from __future__ import annotations

from trainer.session import evidence as documents
from trainer.session import signing
from trainer.session.verify import broken_seal


def signed_key(document: documents.Evidence) -> str:
    """The public key whose signature on this document holds; empty when there is none."""
    signature = document.signature
    if signature is None or broken_seal(document) is not None or not signing.holds(document.seal.whole, signature):
        return ""
    return signature.public_key
