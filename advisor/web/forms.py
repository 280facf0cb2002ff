"""The plain form: what people type, as the same structure that the API takes, and every fault of it at once."""

from __future__ import annotations

import re
import secrets
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import parse_qsl

import msgspec

from advisor import places
from advisor.errors import DepartureError
from advisor.web import typed
from advisor.web.model import FIELDS, Asked
from advisor.web.problems import Refused

TEXTS = tuple(name for name in FIELDS if name != "reports")
# what the next brief starts from when it is another departure: nothing of the aircraft itself, or of its hour
USUAL = ("place", "aircraft", "station", "feed")
NEXT = (*USUAL, "reports", "off_block")
# a form's body may be longer than what it may say, so that what is too long comes back to be shortened
MOST_FORM = 1_000_000
MOST_TEXT, MOST_ENTRY = 60_000, 80
_TIMES = ("off_block", "parked_since", "looked_at", "treated_at", "take_off")
_SPANS = ("walk_round", "doors_open")
_INDICATOR = re.compile(r"([A-Z0-9]{4})\s+(\S.*)\Z", re.ASCII)


@dataclass(frozen=True)
class ReadForm:
    """What a form asks for, None where that cannot be told; faults: of each field that cannot be read."""

    asked: Asked | None
    faults: dict[str, Exception]


def read_form(body: bytes) -> dict[str, str]:
    """Fields of a form sent urlencoded; the last one of a name counts."""
    try:
        pairs = parse_qsl(body.decode("utf-8"), keep_blank_values=True, max_num_fields=60)
    except ValueError:
        return {}
    return {name: value.strip() for name, value in pairs}


def read(values: Mapping[str, str], now: datetime) -> ReadForm:
    """What the form asks for, field by field. now: the clock, for times with a day."""
    given = {name: _plain(name, values[name], now) for name in TEXTS if values.get(name)}
    faults: dict[str, Exception] = {}
    asked: dict[str, object] = {}
    text = values.get("reports", "")
    if len(text) > MOST_TEXT:
        faults["reports"] = too_long("reports", text, MOST_TEXT, 413)
    elif text:
        asked["reports"] = (text,)
        given.pop("station", None)
        given.pop("feed", None)
    elif "station" not in given:
        given.pop("feed", None)
    if not given.get("off_block"):
        faults["off_block"] = DepartureError("missing", where="off-block", hint="give a time such as 0640Z")
    for name, value in given.items():
        if len(value) > MOST_ENTRY:
            faults[name] = too_long(name, value, MOST_ENTRY)
            continue
        try:
            msgspec.convert({"off_block": "0000Z", name: value}, Asked)
            asked[name] = value
        except msgspec.ValidationError as error:
            faults[name] = error
    return ReadForm(msgspec.convert(asked, Asked) if "off_block" in asked else None, faults)


_READ: Mapping[str, Callable[[str], str]] = {
    "heading": typed.heading,
    "fuel_temperature": typed.celsius,
    "fuel_fill": typed.percent,
    "place": lambda text: place(text),
}


def _plain(name: str, text: str, now: datetime) -> str:
    if name in _TIMES:
        return typed.moment(text, now)
    if name in _SPANS:
        return typed.span(text, now)
    if name == "now":
        return typed.present(text, now)
    return _READ.get(name, str)(text)


def place(text: str) -> str:
    """Where it stands; an indicator with the name of its place behind it, as pages print it, is the indicator."""
    match = _INDICATOR.match(text.strip().upper())
    if match:
        known = places.look_up(match[1])
        if known is not None and known.name.upper() == match[2]:
            return match[1]
    return typed.place(text)


def too_long(field: str, text: str, most: int, status: int = 422) -> Refused:
    """That a text is longer than anything that could be meant."""
    hint = f"send {most:,} at most; leave out what is not needed"
    return Refused(status, f"{len(text):,} letters are too many", field=field, hint=hint)


def values_of(asked: Asked) -> dict[str, str]:
    """The form's fields of what was asked before."""
    values = {
        name: f"{value:g}" if isinstance(value, float) else str(value)
        for name in TEXTS
        if (value := getattr(asked, name)) is not None
    }
    if asked.reports:
        values["reports"] = "\n".join(asked.reports)
    return values


def new_token() -> str:
    """A form token: the cookie and the form must carry the same."""
    return secrets.token_urlsafe(24)


def tokens_match(cookie: str | None, field: str | None) -> bool:
    """Whether a form came from a page of ours."""
    return bool(cookie) and bool(field) and secrets.compare_digest(str(cookie).encode(), str(field).encode())
