"""The head of the chain, signed: printed and kept elsewhere, it pins everything that came before it."""

from __future__ import annotations

import base64
import os
from pathlib import Path
from typing import Any

import msgspec
import rfc8785
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from advisor.errors import RecordError

KEY_FILE = "head.key"


class RecordHead(msgspec.Struct, frozen=True, kw_only=True):
    """The last event's number and hash at a time. key: public key; signature: Ed25519 over the canonical JSON of the
    rest; both in base64.
    """

    schema: str = "head/1"
    seq: int
    hash: str
    at: str
    key: str = ""
    signature: str = ""


def sign(seq: int, digest: str, moment: str, key: Ed25519PrivateKey) -> RecordHead:
    """A signed head."""
    public = key.public_key().public_bytes(serialization.Encoding.Raw, serialization.PublicFormat.Raw)
    head = RecordHead(seq=seq, hash=digest, at=moment, key=base64.b64encode(public).decode())
    return msgspec.structs.replace(head, signature=base64.b64encode(key.sign(_signed(head))).decode())


def holds(head: RecordHead) -> bool:
    """Whether the signature is that of the key named in the head, over what it says."""
    try:
        public = Ed25519PublicKey.from_public_bytes(base64.b64decode(head.key))
        public.verify(base64.b64decode(head.signature), _signed(head))
    except (InvalidSignature, ValueError):
        return False
    return True


def _signed(head: RecordHead) -> bytes:
    rest: dict[str, Any] = msgspec.to_builtins(msgspec.structs.replace(head, signature=""))
    del rest["signature"]
    return rfc8785.dumps(rest)


def key_at(path: Path) -> Ed25519PrivateKey:
    """The key of a file, PEM; made there, for the owner's eyes only, where there is none. Raises RecordError."""
    hint = "give --key FILE, a place that can be written and that is not with the database's copies"
    try:
        if path.exists():
            key = serialization.load_pem_private_key(path.read_bytes(), None)
            if not isinstance(key, Ed25519PrivateKey):
                raise RecordError("is a key of another kind", where=str(path), hint="give an Ed25519 key")
            return key
        new_key = Ed25519PrivateKey.generate()
        data = new_key.private_bytes(
            serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
        )
        path.parent.mkdir(parents=True, exist_ok=True)
        with os.fdopen(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "wb") as file:
            file.write(data)
        return new_key
    except OSError as error:
        raise RecordError(error.strerror or "cannot be read", where=str(path), hint=hint) from None
    except (ValueError, TypeError):
        raise RecordError("is no key", where=str(path), hint="give an Ed25519 key as PEM without a password") from None
