"""The head of a forecast: type, station, time of issue, marks and validity.

Source: wmo-306-fm-51; heads without a time of issue, and validities in the old style, by common practice.
"""

from __future__ import annotations

import re
from datetime import datetime, timedelta

from msgspec import Struct

from advisor.errors import ReportError
from advisor.report.code.taf.times import LONGEST_VALIDITY, TIME, Calendar, after, begins_at, issued_at
from advisor.report.code.taf.tokens import FULL_PERIOD, TokenReader
from advisor.report.code.taf.words import day_time, said_issued, said_valid
from advisor.report.model import DECODED, NOTED

HINT = "a forecast begins with station, day and time, and validity, as in TAF ZZZA 100500Z 1006/1112"
_STATION = re.compile(r"[A-Z][A-Z0-9]{3}", re.ASCII)
_MARK = re.compile(r"(AMD|COR|CORR|CC[A-Z]|RTD|TEST|AUTO)\d{0,2}", re.ASCII)
_NOT_STATIONS = frozenset(("CORR", "TEST", "AUTO", "TAF"))
_MARKS = {"AMD": "amended", "RTD": "sent late", "TEST": "a test message", "AUTO": "made automatically"}
_HOUR = timedelta(hours=1)


class Header(Struct, frozen=True):
    """What stands before the groups.

    issued_given: whether the time of issue was. old_style: the validity was written in hours, and the times of change
    groups are too.
    """

    station: str
    issued: datetime
    issued_given: bool
    valid_from: datetime
    valid_to: datetime
    old_style: bool
    amended: bool
    corrected: bool


def read_header(tokens: TokenReader, now: datetime) -> Header:
    """Read the head. now: aware UTC. Raises ReportError where station, times or validity are missing or impossible."""
    station, issue, marks = _words(tokens)
    if not station:
        raise ReportError("no station indicator", where=tokens.where(), hint=HINT)
    issued = issued_at(issue, now, tokens.where) if issue else _issued_by_validity(tokens, station, now)
    valid_from, valid_to, old_style = _validity(tokens, issued, issue != "")
    return Header(
        station,
        issued,
        issue != "",
        valid_from,
        valid_to,
        old_style,
        amended="AMD" in marks,
        corrected=any(mark.startswith("C") for mark in marks),
    )


def _words(tokens: TokenReader) -> tuple[str, str, set[str]]:
    """Read what stands before the validity. Returns station, time of issue ("" where there is none) and marks."""
    station, issue, marks = "", "", set[str]()
    while tokens.at < len(tokens.upper):
        token = tokens.upper[tokens.at]
        if token in ("TAF", "TAFOR") and not station:
            tokens.add(1, "type", DECODED, "aerodrome forecast", "header")
        elif _MARK.fullmatch(token):
            mark = token.rstrip("0123456789")
            marks.add(mark)
            tokens.add(1, "modifier", DECODED, _MARKS.get(mark, "corrected"), "header")
        elif len(token) == 1 and token.isdigit() and tokens.at and _MARK.fullmatch(tokens.upper[tokens.at - 1]):
            tokens.add(1, "modifier", NOTED, f"number {token}", "header")
        elif not station and _STATION.fullmatch(token) and token not in _NOT_STATIONS:
            station = token
            tokens.add(1, "station", DECODED, f"station {token}", "header")
        elif station and not issue and TIME.fullmatch(token):
            issue = token
            tokens.add(1, "time", DECODED, said_issued(token), "header")
        else:
            break
    return station, issue, marks


def _issued_by_validity(tokens: TokenReader, station: str, now: datetime) -> datetime:
    """Find a time of issue from the validity, for a forecast that does not give it."""
    text, count = tokens.period(tokens.at, Calendar(now))
    full = FULL_PERIOD.fullmatch(text)
    if full is None or tokens.at + count == len(tokens.written):
        raise ReportError(f"no day and time after the station {station}", where=tokens.where(), hint=HINT)
    return min(begins_at(int(full[1]), int(full[2]), int(full[3] or 0), now, tokens.where), now)


def _validity(tokens: TokenReader, issued: datetime, issued_given: bool) -> tuple[datetime, datetime, bool]:
    """Read the validity: with or without a slash, a day or blanks. Returns from, to, and whether in the old style."""
    calendar = Calendar(issued)
    text, count = tokens.period(tokens.at, calendar)
    start = end = None
    full = FULL_PERIOD.fullmatch(text)
    old_style = full is None and len(text) in (4, 6)
    behind = tokens.upper[tokens.at + count :]
    if old_style and len(text) == 4 and any(FULL_PERIOD.fullmatch(token) for token in behind):
        raise ReportError(f"{text} is half a validity: changes behind it have days", where=tokens.where(), hint=HINT)
    if full is not None:
        parts = [int(part or 0) for part in full.groups()]
        start, end = calendar.at(*parts[:3]), calendar.at(*parts[3:])
    elif old_style:
        first, last = int(text[-4:-2]), int(text[-2:])
        start = calendar.at(int(text[:2]), first) if len(text) == 6 else after(issued - 3 * _HOUR, first)
        end = None if start is None else after(start + _HOUR, last)
    elif tokens.ahead(0) == "NIL":
        return issued, issued, False
    else:
        raise ReportError("no validity", where=tokens.where(), hint=HINT)
    if start is None or end is None or not start < end <= start + LONGEST_VALIDITY:
        raise ReportError(
            f"{text} is no validity of a forecast issued at {issued:%d %H:%M}",
            where=tokens.where(),
            hint="from and to as day and hour, at most 72 hours apart",
        )
    meaning = said_valid(start, end)
    if not issued_given:
        meaning += f"; time of issue not given, taken as {day_time(issued)} UTC"
    tokens.add(count, "validity", DECODED, meaning, "header")
    return start, end, old_style
