"""Who may: tokens of a file, a name, a role and a hash a line."""

from __future__ import annotations

import hashlib
import re
import secrets
from pathlib import Path

import msgspec

from advisor.errors import ChecklistError

# each may what those before it may: read; walk and make briefs; sign; edit what the operator wrote
MOST_BYTES = 10_000_000
ROLES = ("read", "walk", "sign", "edit")
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,39}\Z", re.ASCII)
_HASH = re.compile(r"sha256:([0-9a-f]{64})\Z", re.ASCII)


class Person(msgspec.Struct, frozen=True):
    """Whose token it is, and what for."""

    name: str
    role: str

    def may(self, role: str) -> bool:
        """Whether the role covers another."""
        return ROLES.index(self.role) >= ROLES.index(role)


def new_token(name: str, role: str) -> tuple[str, str]:
    """A token of 256 random bits, and the line for the file, which holds only its hash. Raises ValueError."""
    if not _NAME.match(name):
        raise ValueError(f"{name!r} is no name; letters, digits, dot, dash, 40 at most")
    if role not in ROLES:
        raise ValueError(f"{role!r} is no role; one of {', '.join(ROLES)}")
    token = secrets.token_urlsafe(32)
    return token, f"{name} {role} sha256:{_digest(token)}"


def _digest(token: str) -> str:
    # 256 random bits need no slow hash: there is nothing to guess
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()


def load(path: Path) -> dict[str, Person]:
    """Persons by the hash of their token. Raises ChecklistError with every fault, "file:line: what"."""
    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
        lines = data.decode("utf-8").splitlines()
    except OSError as error:
        what = error.strerror or "cannot be read"
        raise ChecklistError(what, where=str(path), hint="make it by: advisor record token NAME ROLE") from None
    except UnicodeDecodeError:
        raise ChecklistError("is not text", where=str(path), hint="a name, a role and a hash a line") from None
    if len(data) > MOST_BYTES:
        raise ChecklistError(f"over {MOST_BYTES:,} bytes", where=str(path), hint="a name, a role and a hash a line")
    persons: dict[str, Person] = {}
    faults: list[str] = []
    names: set[str] = set()
    for number, line in enumerate(lines, 1):
        parts = line.split()
        if not parts or parts[0].startswith("#"):
            continue
        match = _HASH.match(parts[2]) if len(parts) == 3 else None
        if match is None or parts[1] not in ROLES or not _NAME.match(parts[0]):
            right = f"NAME ROLE sha256:HASH, the role one of {', '.join(ROLES)}"
            faults.append(f"{path}:{number}: not a name, a role and a hash; write {right}")
            continue
        if parts[0] in names or match[1] in persons:
            faults.append(f"{path}:{number}: the name or the token stands twice; give each person one line")
        names.add(parts[0])
        persons[match[1]] = Person(parts[0], parts[1])
    if not persons and not faults:
        faults.append(f"{path}:1: names nobody; add a line by: advisor record token NAME ROLE")
    if faults:
        raise ChecklistError("a faulty token file", where=str(path), faults=tuple(faults))
    return persons


class TokenFile:
    """The tokens of a file, read again when it changes; while its new content is faulty, the old holds."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._found = load(path)
        self._stamp = self._changed()

    def _changed(self) -> tuple[int, int]:
        try:
            stat = self._path.stat()
        except OSError:
            return self._stamp
        return stat.st_mtime_ns, stat.st_size

    def _now(self) -> dict[str, Person]:
        stamp = self._changed()
        if stamp != self._stamp:
            self._stamp = stamp
            try:
                self._found = load(self._path)
            except ChecklistError:
                return self._found
        return self._found

    def person(self, token: str) -> Person | None:
        """Whose token this is; None for nobody's."""
        return self._now().get(_digest(token))

    def named(self, name: str) -> tuple[Person, str] | None:
        """A person by name, with the hash of the token; None where there is none any more."""
        return next(((who, digest) for digest, who in self._now().items() if who.name == name), None)
