"""Ed25519 signatures on evidence, where a key is configured. The library is only loaded when one is used."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import BaseModel, ConfigDict, Field

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

KEY_VARIABLE = "TRAINER_SIGNING_KEY"
"""Environment variable with the path of an Ed25519 private key in PEM form."""


class Signature(BaseModel):
    """A signature over the evidence's whole seal, with the public key that checks it."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    algorithm: str = Field(default="Ed25519", pattern="^Ed25519$")
    public_key: str = Field(pattern=r"^[0-9a-f]{64}$")
    signature: str = Field(pattern=r"^[0-9a-f]{128}$")


class SigningError(ValueError):
    """A signing key that cannot be used; one sentence."""


def configured_key() -> Ed25519PrivateKey | None:
    """The key that the environment names, or None. SigningError when it names no usable key."""
    named = os.environ.get(KEY_VARIABLE, "")
    if not named:
        return None
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    try:
        key = load_pem_private_key(Path(named).read_bytes(), password=None)
    except (OSError, TypeError, ValueError, UnsupportedAlgorithm) as error:
        raise SigningError(
            f"{KEY_VARIABLE}={named}: not an Ed25519 private key in PEM form without a password: {error}"
        ) from error
    if not isinstance(key, Ed25519PrivateKey):
        raise SigningError(f"{KEY_VARIABLE}={named}: the key is of another kind; make an Ed25519 key")
    return key


def sign(whole: str, key: Ed25519PrivateKey) -> Signature:
    """Sign the hexadecimal whole seal."""
    return Signature(
        public_key=key.public_key().public_bytes_raw().hex(), signature=key.sign(whole.encode("ascii")).hex()
    )


def holds(whole: str, signature: Signature) -> bool:
    """True when the signature was made over ``whole`` with the private half of its public key."""
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(signature.public_key))
    try:
        key.verify(bytes.fromhex(signature.signature), whole.encode("ascii"))
    except InvalidSignature:
        return False
    return True
