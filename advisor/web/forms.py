"""The plain form: what people type, as the same structure that the API takes."""

from __future__ import annotations

import re
import secrets
from collections.abc import Mapping
from urllib.parse import parse_qsl

import msgspec

from advisor.errors import DepartureError
from advisor.web.model import FIELDS, Asked

TEXTS = tuple(name for name in FIELDS if name != "reports")
USUAL = ("place", "aircraft", "heading", "station", "feed")
_CLOCK = re.compile(r"\d{2}:?\d{2}\Z", re.ASCII)
_TIMES = ("off_block", "parked_since", "treated_at", "take_off")
_SPANS = ("walk_round", "doors_open")


def read_form(body: bytes) -> dict[str, str]:
    """Fields of a form sent urlencoded; the last one of a name counts."""
    try:
        pairs = parse_qsl(body.decode("utf-8"), keep_blank_values=True, max_num_fields=60)
    except ValueError:
        return {}
    return {name: value.strip() for name, value in pairs}


def asked_of(values: Mapping[str, str]) -> Asked:
    """What the form asks for. Raises DepartureError or msgspec.ValidationError with the field at fault."""
    if not values.get("off_block"):
        raise DepartureError("missing", where="off-block", hint="give the off-block time such as 0640Z")
    given: dict[str, object] = {name: values[name] for name in TEXTS if values.get(name)}
    for name in _TIMES:
        if name in given:
            given[name] = _zulu(values[name])
    for name in _SPANS:
        if name in given:
            given[name] = "/".join(_zulu(part.strip()) for part in re.split(r"[/–]|(?<=\d)-(?=\d)", values[name]))
    text = values.get("reports", "")
    if text:
        given["reports"] = (text,)
        given.pop("station", None)
        given.pop("feed", None)
    elif "station" not in given:
        given.pop("feed", None)
    return msgspec.convert(given, Asked)


def values_of(asked: Asked) -> dict[str, str]:
    """The form's fields of what was asked before."""
    found = {
        name: f"{value:g}" if isinstance(value, float) else str(value)
        for name in TEXTS
        if (value := getattr(asked, name)) is not None
    }
    if asked.reports:
        found["reports"] = "\n".join(asked.reports)
    return found


def _zulu(text: str) -> str:
    """Times of day on the form are UTC, with or without the letter."""
    text = text.strip()
    return f"{text}Z" if _CLOCK.match(text) else text


def new_token() -> str:
    """A form token: the cookie and the form must carry the same."""
    return secrets.token_urlsafe(24)


def tokens_match(cookie: str | None, field: str | None) -> bool:
    """Whether a form came from a page of ours."""
    return bool(cookie) and bool(field) and secrets.compare_digest(str(cookie).encode(), str(field).encode())
