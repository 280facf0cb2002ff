"""What people say on a walk, as it comes in: the shapes, and what is refused at once. Pure."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Annotated, Any, Literal, get_args

import msgspec
from msgspec import Meta

from advisor.errors import DepartureError

Short = Annotated[str, Meta(max_length=80)]
# a letter that is seen, in words that every reader of a schema takes alike
_SEEN = r"[!-~\u00c0-\uffff]"
Name = Annotated[str, Meta(min_length=1, max_length=80, pattern=_SEEN)]
Note = Annotated[str, Meta(max_length=500)]
Moment = Annotated[str, Meta(max_length=40, description="RFC 3339 with offset")]
Found = Literal["nothing seen", "frost", "snow", "ice", "damage", "other"]
Step = Literal["standby", "asked", "confirmed", "last step started", "finished", "checked", "cancelled"]
# a database may refuse them, and paper shows nothing of them
_UNPRINTABLE = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]")
FOUND: tuple[str, ...] = get_args(Found)
STEPS: tuple[str, ...] = get_args(Step)


class _Said(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """at, and every other moment: as the person or the telephone says it; kept in UTC."""

    at: Moment | None = None

    def __post_init__(self) -> None:
        for name in self.__struct_fields__:
            text = getattr(self, name)
            if isinstance(text, str) and _UNPRINTABLE.search(text):
                hint = "write letters, and lines in a note"
                raise DepartureError("holds a letter that cannot be printed", where=name, hint=hint)
        for name in ("at", "cancel_by", "parked_since"):
            if (text := getattr(self, name, None)) is not None:
                msgspec.structs.force_setattr(self, name, _utc(text, name))


class FoundSaid(_Said, frozen=True, kw_only=True):
    """What somebody saw at a line of the brief, or at a zone of the aircraft.

    "nothing seen" is what it says, and no more: nobody saw anything.
    """

    line: Short | None = None
    zone: Short | None = None
    found: Found
    note: Note = ""
    by: Short = ""

    def __post_init__(self) -> None:
        super().__post_init__()
        if not (self.line or self.zone):
            raise ValueError("neither line nor zone is given; name the line of the brief, or the zone looked at")


class TreatmentSaid(_Said, frozen=True, kw_only=True):
    """A step of the treatment. cancel_by: until when it may be cancelled without cost, as the pad says."""

    step: Step
    pad: Short | None = None
    slot: Short | None = None
    fluid: Short | None = None
    dilution: Short | None = None
    by: Short | None = None
    cancel_by: Moment | None = None
    note: Note = ""


class NoteSaid(_Said, frozen=True, kw_only=True):
    """A few words, before or after the signature."""

    text: Annotated[str, Meta(min_length=1, max_length=1000, pattern=_SEEN)]
    by: Short = ""


class SignSaid(_Said, frozen=True, kw_only=True):
    """The signature: name or initials, and role. covered, parked_since: what the next brief may want to know."""

    by: Name
    role: Name
    covered: bool | None = None
    parked_since: Moment | None = None


class OpenSaid(_Said, frozen=True, kw_only=True):
    """Begins the walk of a brief. registration: whose next brief may be offered what was found."""

    brief: Annotated[str, Meta(min_length=1, max_length=64)]
    by: Name
    registration: Short | None = None


KINDS: dict[str, type[_Said]] = {
    "found": FoundSaid,
    "treatment": TreatmentSaid,
    "note": NoteSaid,
    "signed": SignSaid,
}
# what a signed walk still takes
AFTER_SIGNATURE = ("treatment", "note")


def data_of(walk: str, said: _Said) -> dict[str, Any]:
    """The content of an event: the walk, and what was said, without what was left out."""
    return {"walk": walk, **msgspec.to_builtins(said)}


def _utc(text: str, name: str) -> str:
    try:
        moment = datetime.fromisoformat(text)
        if moment.tzinfo is None:
            raise ValueError
        return f"{moment.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}"
    except (ValueError, OverflowError):
        hint = "write such as 2027-01-10T06:05:00Z"
        raise DepartureError(f"{text!r} is no moment", where=name, hint=hint) from None
