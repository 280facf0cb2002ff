"""One METAR or SPECI read into a Report: ledger, second reader, and what the whole report adds.

A value is taken where the ledger and python-metar agree on it; anything else stays in its group, verbatim, and is NaN
in the Report. What only the whole can tell is settled here: body temperature against the T-group, gust below the
mean, dew point above the temperature, the full date. The machine's clock is never read.
Source: wmo-306-fm-15, fmh-1.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from functools import lru_cache

from advisor.errors import ReportError
from advisor.report.code import second_reader as decoder
from advisor.report.code.assemble import Assembly
from advisor.report.code.bulletin import kind, split
from advisor.report.code.entries import LedgerEntry, changed, entry
from advisor.report.code.ledger import header_entry, modifier, sort
from advisor.report.code.trend import read_trends
from advisor.report.code.words import beginning, united_states
from advisor.report.model import CONFLICT, DECODED, NO_REMARKS, NOT_DECODED, Remarks, Report
from advisor.report.moments import utc

__all__ = ["kind", "read", "read_all", "split"]

LONGEST_REPORT = 4000
AHEAD = timedelta(hours=6)
# a day and time of this month so near to now lies nearer than the same day of any other
SAME_MONTH = timedelta(hours=6)
OLDEST = timedelta(days=32)
_HINT = "a report begins with a station's four letters and day and time, as in METAR ZZZA 100550Z"
STATION = re.compile(r"[A-Z][A-Z0-9]{3}", re.ASCII)
TIME = re.compile(r"(\d\d)(\d\d)(\d\d)Z?", re.ASCII)
TYPES = {"METAR": "routine report", "SPECI": "special report"}
_NOT_STATIONS = frozenset(("AUTO", "CORR", "TEST", "FINO", "CAVOK"))


def _date(token: str, now: datetime, text: str) -> datetime:
    """Find the month and year of a day and time.

    Of the months before, of and after `now`, the one in which the time lies nearest to it, not more than 6 hours ahead
    and 32 days back. python-metar must read the same day and time.
    """
    day, hour, minute = int(token[:2]), int(token[2:4]), int(token[4:6])
    if not 1 <= day <= 31 or hour > 23 or minute > 59:
        hint = "day 01 to 31, hour 00 to 23, minute 00 to 59"
        raise ReportError(f"{token} is no day and time", where=beginning(text), hint=hint)
    best = _in_month(now, day, hour, minute)
    if best is None or abs(best - now) > SAME_MONTH:
        best = _nearest(now, day, hour, minute)
    if best is None:
        hint = "check the day of the report, and the time given as now"
        raise ReportError(f"no day {day:02} within the month before {now:%Y-%m-%d}", where=beginning(text), hint=hint)
    if decoder.day_and_time(token) != (day, hour, minute):
        raise ReportError(f"{token} was read in two ways", where=beginning(text), hint=_HINT)
    return best


def _in_month(now: datetime, day: int, hour: int, minute: int) -> datetime | None:
    try:
        return datetime(now.year, now.month, day, hour, minute, tzinfo=UTC)
    except ValueError:
        return None


def _nearest(now: datetime, day: int, hour: int, minute: int) -> datetime | None:
    best: datetime | None = None
    for shift in (0, -1, 1):
        year, month = divmod(now.year * 12 + now.month - 1 + shift, 12)
        try:
            candidate = datetime(year, month + 1, day, hour, minute, tzinfo=UTC)
        except ValueError:
            continue
        ahead = candidate - now
        if -OLDEST <= ahead <= AHEAD and (best is None or abs(ahead) < abs(best - now)):
            best = candidate
    return best


@lru_cache(maxsize=8192)
def _station_entry(token: str, station: str) -> LedgerEntry:
    return entry(token, "station", DECODED, f"station {station}", None, (token,), "header")


@lru_cache(maxsize=8192)
def _time_entry(token: str) -> LedgerEntry:
    said = f"observed on day {token[:2]} at {token[2:4]}:{token[4:6]} UTC"
    return entry(token, "time", DECODED, said, None, (token,), "header")


def could_be_station(token: str) -> bool:
    """Whether a token, upper case, may be a station's indicator."""
    return STATION.fullmatch(token) is not None and token not in _NOT_STATIONS


def _header(tokens: list[str], text: str) -> tuple[list[LedgerEntry], str, str, str, int]:
    """Read type, station, time and the words between them. Returns entries, kind, station, time, tokens taken."""
    entries: list[LedgerEntry] = []
    name, station, index = "METAR", "", 0
    for index, token in enumerate(tokens[:8]):
        upper = token.upper()
        if not station and upper in TYPES:
            name = upper
            entries.append(header_entry(token, "type", TYPES[upper]))
        elif not station and could_be_station(upper):
            station = upper
            entries.append(_station_entry(token, upper))
        elif station and TIME.fullmatch(upper):
            entries.append(_time_entry(token))
            return entries, name, station, upper, index + 1
        elif (word := modifier(token)) is not None:
            entries.append(word)
        else:
            break
    if not station:
        raise ReportError("no station indicator", where=beginning(text), hint=_HINT)
    raise ReportError(f"no day and time after the station {station}", where=beginning(text), hint=_HINT)


def in_canada(station: str) -> bool:
    """Whether a station follows the Canadian rules, told from its indicator."""
    return station[:1] == "C"


def settled(ledger_entry: LedgerEntry, canada: bool) -> LedgerEntry:
    """What an entry of the ledger is once the second reader has been asked; snow on the ground is cm in Canada."""
    if canada and ledger_entry.group.kind == "snow on ground":
        ledger_entry = changed(
            ledger_entry, status=DECODED, meaning=f"snow on the ground {ledger_entry.numbers['cm']:.0f} cm"
        )
    if ledger_entry.group.status == DECODED and not decoder.agrees(ledger_entry):
        ledger_entry = changed(
            ledger_entry, status=CONFLICT, meaning=f"{ledger_entry.group.meaning}: the two readers differ, not used"
        )
    return ledger_entry


def read(text: str, *, now: datetime) -> Report:
    """Read one METAR or SPECI. The machine's clock is never read.

    Parameters
    ----------
    text
        One report; the type word may be absent, line breaks and one "=" at the end are allowed. At most 4000
        characters.
    now
        Aware; gives month and year.

    Returns
    -------
    Report
        Its groups, joined by spaces, are its raw text.

    Raises
    ------
    ReportError
        Where there is no text, no station, no time or an impossible date, where now is naive or at an end of the
        calendar, and where the text is too long.

    References
    ----------
    wmo-306-fm-15, fmh-1
    """
    now = utc(now)
    if len(text) > LONGEST_REPORT:
        raise ReportError(
            f"{len(text)} characters are too many for one report",
            where=beginning(text),
            hint=f"at most {LONGEST_REPORT}",
        )
    observed, ended, rest = text.partition("=")
    tokens = observed.split()
    if not tokens:
        raise ReportError("empty report", where=beginning(text), hint=_HINT)
    header, report_type, station, time, taken = _header(tokens, text)
    issued = _date(time, now, text)
    us = united_states(station)
    entries = header + sort(tokens[taken:], us)
    late = rest.replace("=", " ").split() if ended else []
    assembly = Assembly(issued)
    for read_entry in entries:
        assembly.take(settled(read_entry, in_canada(station)))
    for token in late:
        assembly.take(entry(token, "", NOT_DECODED, "stands after the end of the report"))
    assembly.finish()
    return Report(
        kind=report_type,
        station=station,
        issued=issued,
        raw=" ".join([*tokens, *late]),
        groups=tuple(assembly.groups),
        trends=read_trends(assembly.trend, issued) if assembly.trend else (),
        remarks=Remarks(**assembly.remarks) if assembly.remarks else NO_REMARKS,
        **assembly.fields,
    )


def read_all(text: str, *, now: datetime) -> list[Report]:
    """Read every METAR and SPECI of a text; forecasts are passed over.

    text: a file or bulletin. now: aware. Raises ReportError as `read` and `split` do, naming which report.
    """
    return [read(report, now=now) for report in split(text) if kind(report) != "TAF"]
