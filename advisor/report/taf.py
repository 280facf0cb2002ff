"""One TAF read into a Forecast, by our own reader on the same table of groups as reports.

Every token goes into exactly one group, in order. A group whose time cannot be read is not lost: it may come at any
time of the period in which it stands. Days are found from the time of issue and hours from the validity, so that ends
of months and years and hour 24 need no special case. The machine's clock is never read.
Source: wmo-306-fm-51.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime, timedelta
from math import nan

from advisor.errors import ReportError
from advisor.report.code.entries import as_written
from advisor.report.code.group.air import plausible
from advisor.report.code.stretch import Gathering, Stretch, settle
from advisor.report.code.taf_groups import IMPLAUSIBLE_EXTREME, extremes, group
from advisor.report.code.taf_words import (
    CANCELLED_SAID,
    NIL_SAID,
    day_time,
    extreme_said,
    said_change,
    said_from,
    said_issued,
    said_valid,
)
from advisor.report.code.times import LONGEST_VALIDITY, TIME, Clock, after, begins_at, issued_at
from advisor.report.code.words import united_states
from advisor.report.forecast import Change, Extreme, Forecast, Period
from advisor.report.model import CONFLICT, DECODED, NOT_DECODED, NOTED, Group
from advisor.report.moments import utc

LONGEST_REPORT = 8000
_HINT = "a forecast begins with station, day and time, and validity, as in TAF ZZZA 100500Z 1006/1112"
_STATION = re.compile(r"[A-Z][A-Z0-9]{3}", re.ASCII)
_MARK = re.compile(r"(AMD|COR|CORR|CC[A-Z]|RTD|TEST|AUTO)\d{0,2}", re.ASCII)
_NOT_STATIONS = frozenset(("CORR", "TEST", "AUTO", "TAF"))
_MARKS = {"AMD": "amended", "RTD": "sent late", "TEST": "a test message", "AUTO": "made automatically"}
_FULL = re.compile(r"(\d\d)(\d\d)(\d\d)?/(\d\d)(\d\d)(\d\d)?Z?", re.ASCII)
_DIGITS = re.compile(r"\d+", re.ASCII)
_FROM = re.compile(r"FM(?:(\d\d)/?(\d\d)(\d\d)|(\d\d)(\d\d)?)Z?", re.ASCII)
_JOINED = re.compile(r"(BECMG|TEMPO|INTER)(\d{4}/\d{4})", re.ASCII)
_PROBABILITY = re.compile(r"PROB(\d\d)%?", re.ASCII)
_CHANGES = frozenset(("BECMG", "TEMPO", "INTER"))
_FOOTERS = frozenset(("LAST", "NEXT", "NXT", "AMD", "AMDS", "COR", "FCST", "LTD", "LIMITED", "METWATCH", "CNCLD"))
_BEFORE_TIME = frozenset(("AMD", "AMDS", "AFT", "NEXT", "NXT", "TIL", "UNTIL", "BY", "COR", "LAST", "FROM", "AT", "TO"))
_CANCELLED = frozenset(("CNL", "CNCL", "CANCELLED"))
_ENDS_FOOTER = _CHANGES | _CANCELLED | {"RMK", "RMKS"}
_BETWEEN = re.compile(r"(?:FM|TL|AT)\d{4}", re.ASCII)
_HOUR = timedelta(hours=1)


def _shown(text: str) -> str:
    start = " ".join(text[:200].split())[:40]
    return (
        start if start.isprintable() and start else "".join(c if c.isprintable() else "?" for c in start) or "(nothing)"
    )


def read(text: str, *, now: datetime) -> Forecast:
    """Read one TAF.

    text: one forecast, the word TAF may be absent, line breaks and one "=" at the end allowed. now: aware; gives month
    and year. A forecast without its time of issue, which begins with its validity, counts as issued when it begins, or
    now where that is sooner. Returns a Forecast whose groups, joined by spaces, are its raw text. Raises ReportError
    where there is no station, neither time of issue nor validity, no validity (a NIL needs none), an impossible one, a
    naive now or one at an end of the calendar, or more than 8000 characters.
    Source: wmo-306-fm-51.
    """
    now = utc(now)
    if len(text) > LONGEST_REPORT:
        raise ReportError(
            f"{len(text)} characters are too many for one forecast",
            where=_shown(text),
            hint=f"at most {LONGEST_REPORT}",
        )
    said, ended, rest = text.partition("=")
    tokens = said.split()
    if not tokens:
        raise ReportError("empty forecast", where=_shown(text), hint=_HINT)
    late = rest.replace("=", " ").split() if ended else []
    reader = _Reader(tokens, now, text)
    reader.header()
    reader.body()
    return reader.finish(late)


class _Reader:
    """Reads the tokens of one forecast from left to right."""

    def __init__(self, tokens: list[str], now: datetime, text: str) -> None:
        self.tokens, self.upper = tokens, [token.upper() for token in tokens]
        self.now, self.text, self.at = now, text, 0
        self.groups: list[Group] = []
        self.amended = self.corrected = self.cancelled = self.nil = False
        self.issued_given = True
        self.station = ""
        self.old_style = False
        self.periods: list[Stretch] = []
        self.changes: list[Stretch] = []
        self.temperatures: list[Extreme] = []

    def where(self) -> str:
        """Say which forecast this is, for an error."""
        return _shown(self.text)

    def add(self, count: int, kind: str, status: str, meaning: str, part: str) -> None:
        """Make the next tokens one group."""
        text = self.tokens[self.at] if count == 1 else " ".join(self.tokens[self.at : self.at + count])
        self.groups.append(Group(text, status, meaning, part, kind))
        self.at += count

    def header(self) -> None:
        """Read the type, station, time of issue, marks and validity. Raises ReportError as `read`."""
        upper, issue = self.upper, ""
        while self.at < len(upper):
            token = upper[self.at]
            if token in ("TAF", "TAFOR") and not self.station:
                self.add(1, "type", DECODED, "aerodrome forecast", "header")
            elif _MARK.fullmatch(token):
                self._mark(token)
            elif len(token) == 1 and token.isdigit() and self.at and _MARK.fullmatch(upper[self.at - 1]):
                self.add(1, "modifier", NOTED, f"number {token}", "header")
            elif not self.station and _STATION.fullmatch(token) and token not in _NOT_STATIONS:
                self.station = token
                self.add(1, "station", DECODED, f"station {token}", "header")
            elif self.station and not issue and TIME.fullmatch(token):
                issue = token
                self.add(1, "time", DECODED, said_issued(token), "header")
            else:
                break
        if not self.station:
            raise ReportError("no station indicator", where=self.where(), hint=_HINT)
        self.issued = issued_at(issue, self.now, self.where) if issue else self._without_issue()
        self.us = united_states(self.station)
        self._validity()

    def _without_issue(self) -> datetime:
        """Find a time of issue from the validity, for a forecast that does not give it."""
        self.issued_given, self.issued = False, self.now
        text, count = self._period_text(self.at)
        full = _FULL.fullmatch(text)
        if full is None or self.at + count == len(self.tokens):
            raise ReportError(f"no day and time after the station {self.station}", where=self.where(), hint=_HINT)
        start = begins_at(int(full[1]), int(full[2]), int(full[3] or 0), self.now, self.where)
        return min(start, self.now)

    def _mark(self, token: str) -> None:
        word = token.rstrip("0123456789")
        if word == "AMD":
            self.amended = True
        elif word.startswith("C"):
            self.corrected = True
        self.add(1, "modifier", DECODED, _MARKS.get(word, "corrected"), "header")

    def _validity(self) -> None:
        """Read the validity: with or without a slash, a day or blanks."""
        text, count = self._period_text(self.at)
        clock = Clock(self.issued)
        start = end = None
        full = _FULL.fullmatch(text)
        if full is not None:
            parts = [int(part or 0) for part in full.groups()]
            start, end = clock.at(*parts[:3]), clock.at(*parts[3:])
        elif len(text) in (4, 6) and text.isascii() and text.isdigit():
            self.old_style = True
            hours = int(text[-4:-2]), int(text[-2:])
            start = clock.at(int(text[:2]), hours[0]) if len(text) == 6 else after(self.issued - 3 * _HOUR, hours[0])
            end = None if start is None else after(start + _HOUR, hours[1])
        else:
            nil = self.at < len(self.upper) and self.upper[self.at] == "NIL"
            if not nil:
                raise ReportError("no validity", where=self.where(), hint=_HINT)
            self.valid_from = self.valid_to = self.issued
            self.clock = clock
            return
        if start is None or end is None or not start < end <= start + LONGEST_VALIDITY:
            said = f"{text} is no validity of a forecast issued at {self.issued:%d %H:%M}"
            hint = "from and to as day and hour, at most 72 hours apart"
            raise ReportError(said, where=self.where(), hint=hint)
        self.valid_from, self.valid_to = start, end
        self.clock = Clock(start)
        said = said_valid(start, end)
        if not self.issued_given:
            said += f"; time of issue not given, taken as {day_time(self.issued)} UTC"
        self.add(count, "validity", DECODED, said, "header")

    def _period_text(self, at: int) -> tuple[str, int]:
        """Join a period that blanks have split. Returns its text and how many tokens it took, "" and 0 for none."""
        upper = self.upper[at : at + 3]
        if not upper:
            return "", 0
        first = upper[0]
        if _FULL.fullmatch(first):
            return first, 1
        for count in (2, 3):
            joined = "".join(upper[:count])
            if len(upper) >= count and "/" in joined and "//" not in joined and _FULL.fullmatch(joined):
                return joined, count
        if not _DIGITS.fullmatch(first):
            return "", 0
        if len(first) == 4 and len(upper) > 1 and len(upper[1]) == 4 and _DIGITS.fullmatch(upper[1]):
            joined = f"{first}/{upper[1]}"
            if self._spaced(first, upper[1]):
                return joined, 2
        if len(first) == 2 and len(upper) > 1 and len(upper[1]) == 4 and _DIGITS.fullmatch(upper[1]):
            return first + upper[1], 2
        return (first, 1) if len(first) in (4, 6) else ("", 0)

    def _spaced(self, first: str, second: str) -> bool:
        """Whether two numbers of four digits are a period with its slash left out: days and hours that fit."""
        clock = getattr(self, "clock", None) or Clock(self.issued)
        start, end = clock.at(int(first[:2]), int(first[2:])), clock.at(int(second[:2]), int(second[2:]))
        return start is not None and end is not None and start < end <= start + LONGEST_VALIDITY

    def body(self) -> None:
        """Read everything behind the validity."""
        upper, n = self.upper, len(self.upper)
        current = Stretch("", "base", self.valid_from, self.valid_to)
        self.periods.append(current)
        part, us = "base", self.us
        while self.at < n:
            token = upper[self.at]
            first = token[0]
            if first in "FBTIP" and (opened := self._opened(token)) is not None:
                current = opened
                part = current.indicator
                continue
            if first == "T" and self._temperature(token, part):
                continue
            if token in ("RMK", "RMKS"):
                self.add(n - self.at, "remarks", NOTED, "remarks, not used", "remarks")
                break
            if token in _CANCELLED:
                self.cancelled = True
                self.add(1, "modifier", DECODED, CANCELLED_SAID, "header")
            elif token == "NIL" and self.groups[-1].part == "header":
                self.nil = True
                self.add(1, "modifier", DECODED, NIL_SAID, "header")
            elif token in _FOOTERS:
                self._footer()
            else:
                self._element(token, us, part, current.gathering)

    def _element(self, token: str, us: bool, part: str, gathering: Gathering) -> None:
        """Read one group of a stretch, a visibility in two tokens too."""
        count = 1
        if len(token) <= 2 and self.at + 1 < len(self.upper) and token.isdigit():
            following = self.upper[self.at + 1]
            if following.endswith("SM") or following == "KM":
                both = group(f"{token} {following}", us, part)
                if both.kind == "visibility":
                    token, count = both.group.text, 2
        one = gathering.take(group(token, us, part))
        written = self.tokens[self.at] if count == 1 else " ".join(self.tokens[self.at : self.at + 2])
        made = one.group
        self.groups.append(made if written == made.text else as_written(one, written).group)
        self.at += count

    def _opened(self, token: str) -> Stretch | None:
        """Read the head of an FM or change group, with its time; None where the token is none."""
        if token.startswith("FM"):
            return self._from(token)
        indicator, probability, count = token, nan, 1
        joined = _JOINED.fullmatch(token) if len(token) > 9 else None
        if joined is not None:
            return self._change(joined[1], nan, 0, joined[2])
        if token.startswith("PROB"):
            match = _PROBABILITY.fullmatch(token)
            following = self.upper[self.at + 1] if self.at + 1 < len(self.upper) else ""
            if match is not None:
                percent = int(match[1])
            elif token == "PROB" and len(following) == 2 and _DIGITS.fullmatch(following):
                percent, count = int(following), 2
            else:
                return None
            indicator, probability = f"PROB{percent:02}", percent / 100
            following = self.upper[self.at + count] if self.at + count < len(self.upper) else ""
            if following in ("TEMPO", "INTER"):
                indicator, count = f"{indicator} {following}", count + 1
        elif token not in _CHANGES:
            return None
        return self._change(indicator, probability, count, None)

    def _change(self, indicator: str, probability: float, count: int, glued: str | None) -> Stretch:
        text, took = (glued, 1) if glued else self._period_text(self.at + count)
        start = end = None
        full = _FULL.fullmatch(text)
        if full is not None:
            parts = [int(p or 0) for p in full.groups()]
            start, end = self.clock.at(*parts[:3]), self.clock.at(*parts[3:])
        elif self.old_style and len(text) == 4:
            start = after(self.periods[-1].start or self.valid_from, int(text[:2]))
            end = None if start is None else after(start + _HOUR, int(text[2:]))
        else:
            # FM and TL behind a change word are the times of a trend: the group is kept, its time is not read
            took = 0
            while (
                took < 2
                and self.at + count + took < len(self.upper)
                and _BETWEEN.fullmatch(self.upper[self.at + count + took])
            ):
                took += 1
        label = " ".join(self.upper[self.at : self.at + count + took])
        if start is None or end is None or not (start < end and start < self.valid_to and end > self.valid_from):
            start = end = None
        status = CONFLICT if start is None else DECODED
        self.add(count + took, "change", status, said_change(indicator, start, end), indicator)
        made = Stretch(indicator, label, start, end, probability=probability, period=len(self.periods) - 1)
        self.changes.append(made)
        return made

    def _from(self, token: str) -> Stretch | None:
        count = 1
        if token == "FM" and self.at + 1 < len(self.upper):
            token, count = token + self.upper[self.at + 1], 2
        match = _FROM.fullmatch(token)
        if match is None:
            return None
        day, hour, minute, bare_hour, bare_minute = match.groups()
        if day is not None:
            start = self.clock.at(int(day), int(hour), int(minute))
        else:
            start = after(self.periods[-1].start or self.valid_from, int(bare_hour), int(bare_minute or 0))
        label = " ".join(self.upper[self.at : self.at + count])
        if start is None or not self.valid_from <= start < self.valid_to:
            self.add(count, "from", CONFLICT, said_from(None), "FM")
            made = Stretch("FM", label, None, None, period=len(self.periods) - 1)
            self.changes.append(made)
            return made
        self.add(count, "from", DECODED, said_from(start), "FM")
        made = Stretch("FM", label, start, None)
        self.periods.append(made)
        return made

    def _temperature(self, token: str, part: str) -> bool:
        found = extremes(token)
        said, status = [], DECODED
        for kind, value, day, hour in found:
            at = after(self.valid_from, hour) if day is None else self.clock.at(day, hour)
            if at is None or not self.valid_from - 24 * _HOUR <= at <= self.valid_to + 24 * _HOUR:
                said.append("a temperature at a time that cannot be read, not used")
                status = CONFLICT
                continue
            told = extreme_said(kind, value, at.day if day is None else day, hour)
            if not plausible(value, nan):
                said.append(f"{told}: {IMPLAUSIBLE_EXTREME}, not used")
                status = CONFLICT
                continue
            self.temperatures.append(Extreme(kind, value, at))
            said.append(told)
        if found:
            self.add(1, "temperature", status, "; ".join(said), part)
        return bool(found)

    def _footer(self) -> None:
        """Gather words about amendments and the next forecast, up to where the forecast goes on."""
        end = self.at + 1
        while end < len(self.upper):
            token = self.upper[end]
            if token in _ENDS_FOOTER or token.startswith(("PROB", "FM")) or extremes(token):
                break
            one = group(token, self.us, "footer")
            time = one.kind == "visibility" and token.isdigit() and self.upper[end - 1] in _BEFORE_TIME
            if one.group.status == DECODED and not time:
                break
            if one.group.status == NOT_DECODED and not all(c.isalnum() for c in token):
                break
            end += 1
        self.add(end - self.at, "footer", NOTED, "about amendments and the next forecast, not used", "footer")

    def finish(self, late: Sequence[str]) -> Forecast:
        """Put the forecast together."""
        groups = self.groups + [Group(token, NOT_DECODED, "stands after the end of the forecast") for token in late]
        periods: tuple[Period, ...] = ()
        changes: tuple[Change, ...] = ()
        if not (self.cancelled or self.nil):
            periods, changes = settle(self.periods, self.changes, self.valid_from, self.valid_to)
        return Forecast(
            "TAF",
            self.station,
            self.issued,
            self.valid_from,
            self.valid_to,
            " ".join([*self.tokens, *late]),
            tuple(groups),
            self.amended,
            self.corrected,
            self.cancelled,
            self.nil,
            periods,
            changes,
            tuple(self.temperatures),
            self.issued_given,
        )
