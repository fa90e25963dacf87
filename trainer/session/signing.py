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
KEY_FILE = "signing.pem"


class Signature(BaseModel):
    """A signature over the evidence's whole seal, with the public key that checks it."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    algorithm: str = Field(default="Ed25519", pattern="^Ed25519$")
    public_key: str = Field(pattern=r"^[0-9a-f]{64}$")
    signature: str = Field(pattern=r"^[0-9a-f]{128}$")


class SigningError(ValueError):
    """A signing key that cannot be used, as one sentence with where it was looked for."""


def configured_key() -> Ed25519PrivateKey | None:
    """The key that the environment names, or None. SigningError when it names no usable key."""
    named = os.environ.get(KEY_VARIABLE, "")
    return _read(Path(named), f"{KEY_VARIABLE}={named}") if named else None


def _read(path: Path, said: str) -> Ed25519PrivateKey:
    """A private key from a PEM file."""
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    try:
        key = load_pem_private_key(path.read_bytes(), password=None)
    except (OSError, TypeError, ValueError, UnsupportedAlgorithm) as error:
        raise SigningError(f"{said}: not an Ed25519 private key in PEM form without a password: {error}") from error
    if not isinstance(key, Ed25519PrivateKey):
        raise SigningError(f"{said}: the key is of another kind; make an Ed25519 key")
    return key


def folder_key(folder: Path) -> Ed25519PrivateKey:
    """The key that the environment names, or else this folder's, made at the first start and readable to its owner
    only. Its public half lies beside it, to be given to whoever verifies. SigningError for a key that is none."""
    named = configured_key()
    if named is not None:
        return named
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

    path = folder / KEY_FILE
    if not path.exists():
        made = Ed25519PrivateKey.generate().private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
        part = path.with_name(f"{KEY_FILE}.{os.getpid()}")
        with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(made)
        try:
            # Made whole or not at all, by whoever comes first.
            os.link(part, path)
        except FileExistsError:
            pass
        finally:
            part.unlink()
    key = _read(path, str(path))
    public = path.with_suffix(".pub.pem")
    if not public.exists():
        public.write_bytes(public_pem(key))
    return key


def public_pem(key: Ed25519PrivateKey) -> bytes:
    """The public half of an Ed25519 key in PEM form, to be given to whoever verifies."""
    from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

    return key.public_key().public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo)


def public_hex(key: Ed25519PrivateKey) -> str:
    """The public half of an Ed25519 key as it stands in a signature: 64 hexadecimal digits."""
    return key.public_key().public_bytes_raw().hex()


def read_public(path: Path) -> str:
    """The public key in a PEM file, as it stands in a signature. SigningError when it is none."""
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
    from cryptography.hazmat.primitives.serialization import load_pem_public_key

    try:
        key = load_pem_public_key(path.read_bytes())
    except (OSError, ValueError, UnsupportedAlgorithm) as error:
        raise SigningError(f"{path}: not an Ed25519 public key in PEM form: {error}") from error
    if not isinstance(key, Ed25519PublicKey):
        raise SigningError(f"{path}: the key is of another kind; give the classroom's Ed25519 public key")
    return key.public_bytes_raw().hex()


def sign(whole: str, key: Ed25519PrivateKey) -> Signature:
    """An Ed25519 signature over the hexadecimal hash of the whole seal (RFC 8032)."""
    return Signature(public_key=public_hex(key), signature=key.sign(whole.encode("ascii")).hex())


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
