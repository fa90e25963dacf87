"""The list of sign-offs that a classroom has withdrawn: evidence with one of them was right once and is not the newest.

A classroom hands the list out signed with its key. It holds seals and dates, no names and no reasons.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from trainer.session import canonical, signing

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

MOST_BYTES = 20_000_000
"""A list of more is none: a hundred thousand withdrawn sign-offs are fewer."""


class WithdrawnError(ValueError):
    """A file that is no list of withdrawn sign-offs, or not one of this classroom, in one sentence."""


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Withdrawal(_Part):
    """One sign-off that no longer stands: the seal of the evidence that had it, and when it was opened again (ISO)."""

    seal: str = Field(pattern=r"^[0-9a-f]{64}$")
    signed: str
    withdrawn: str


class Withdrawals(_Part):
    """The whole list, with the moment it was made (ISO), signed where a key was given."""

    format: Literal["trainer-withdrawn"] = "trainer-withdrawn"
    version: Literal[1] = 1
    made: str
    rows: list[Withdrawal]
    signature: signing.Signature | None = None

    @property
    def whole(self) -> str:
        """SHA-256 (hexadecimal) of all but the signature: what is signed."""
        return hashlib.sha256(canonical.text(self.model_dump(exclude={"signature"})).encode("ascii")).hexdigest()


def listed(rows: Sequence[Withdrawal], made: str, key: Ed25519PrivateKey) -> Withdrawals:
    """The list of these sign-offs, made at that moment (ISO) and signed with the classroom's key."""
    bare = Withdrawals(made=made, rows=list(rows))
    return bare.model_copy(update={"signature": signing.sign(bare.whole, key)})


def read(path: Path, key: str) -> Mapping[str, str]:
    """When each sign-off was withdrawn, by the seal that had it. WithdrawnError unless ``key`` (public) signed it."""
    try:
        if path.stat().st_size > MOST_BYTES:
            raise WithdrawnError(f"{path}: larger than {MOST_BYTES} bytes: no list of withdrawn sign-offs")
        found = Withdrawals.model_validate_json(path.read_bytes())
    except OSError as error:
        raise WithdrawnError(f"{path}: cannot be read: {error.strerror or error}") from error
    except ValidationError as error:
        raise WithdrawnError(f"{path}: no list of withdrawn sign-offs: get it on the page Attempts") from error
    signature = found.signature
    if signature is None or signature.public_key != key or not signing.holds(found.whole, signature):
        raise WithdrawnError(f"{path}: it is not signed with the key given")
    return {row.seal: row.withdrawn for row in found.rows}
