"""What stands behind the validity of a forecast: its stretches, the groups of each, temperatures and footers.

A change group whose time cannot be read is not lost: it may come at any time of the period in which it stands.
Source: wmo-306-fm-51; footers by common practice.
"""

from __future__ import annotations

import re
from datetime import timedelta
from math import nan

from advisor.report.code.entries import as_written
from advisor.report.code.group.air import plausible
from advisor.report.code.taf.groups import IMPLAUSIBLE_EXTREME, extremes, group
from advisor.report.code.taf.header import Header
from advisor.report.code.taf.stretch import Stretch, StretchElements
from advisor.report.code.taf.times import Calendar, after
from advisor.report.code.taf.tokens import DIGITS, FULL_PERIOD, TokenReader
from advisor.report.code.taf.words import CANCELLED_SAID, NIL_SAID, extreme_said, said_change, said_from
from advisor.report.code.words import united_states
from advisor.report.forecast import Extreme
from advisor.report.model import CONFLICT, DECODED, NOT_DECODED, NOTED, Group

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
_DAY = timedelta(days=1)


class Body:
    """Reads the groups of one forecast, token by token.

    periods: the base, then each FM; changes: BECMG, TEMPO, PROB, and an FM whose time could not be read.
    """

    def __init__(self, tokens: TokenReader, header: Header) -> None:
        self.tokens, self.header = tokens, header
        self.us = united_states(header.station)
        # a NIL without a validity has no stretch: its days are those about the time of issue, the same
        self.calendar = Calendar(header.valid_from)
        self.periods = [Stretch("", "base", header.valid_from, header.valid_to)]
        self.changes: list[Stretch] = []
        self.temperatures: list[Extreme] = []
        self.cancelled = self.nil = False

    def read(self) -> None:
        """Read everything up to the end."""
        tokens, current, part = self.tokens, self.periods[0], "base"
        while tokens.at < len(tokens.upper):
            token = tokens.upper[tokens.at]
            first = token[0]
            if first in "FBTIP" and (opened := self._opened(token)) is not None:
                current = opened
                part = current.indicator
            elif first == "T" and self._temperature(token, part):
                continue
            elif token in ("RMK", "RMKS"):
                tokens.add(len(tokens.upper) - tokens.at, "remarks", NOTED, "remarks, not used", "remarks")
            elif token in _CANCELLED:
                self.cancelled = True
                tokens.add(1, "modifier", DECODED, CANCELLED_SAID, "header")
            elif token == "NIL" and tokens.groups[-1].part == "header":
                self.nil = True
                tokens.add(1, "modifier", DECODED, NIL_SAID, "header")
            elif token in _FOOTERS:
                self._footer()
            else:
                self._element(token, part, current.gathering)
        self._without_words()

    def _without_words(self) -> None:
        """Say of change groups behind which nothing stands that what they change is not known: the text may be cut."""
        if self.cancelled or self.nil:
            return
        for change in self.changes:
            if change.indicator != "FM" and change.gathering.empty:
                change.gathering.tell_nothing()
                head = self.tokens.groups[change.at]
                said = f"{head.meaning}: nothing that can be read stands behind it, so what changes is not known"
                self.tokens.groups[change.at] = Group(head.text, CONFLICT, said, head.part, head.kind)

    def _element(self, token: str, part: str, gathering: StretchElements) -> None:
        """Read one group of a stretch, a visibility in two tokens too."""
        tokens, count = self.tokens, 1
        if len(token) <= 2 and token.isdigit():
            following = tokens.ahead(1)
            if following.endswith("SM") or following == "KM":
                both = group(f"{token} {following}", self.us, part)
                if both.kind == "visibility":
                    token, count = both.group.text, 2
        entry = gathering.take(group(token, self.us, part))
        written = " ".join(tokens.written[tokens.at : tokens.at + count])
        tokens.groups.append(entry.group if written == entry.group.text else as_written(entry, written).group)
        tokens.at += count

    def _opened(self, token: str) -> Stretch | None:
        """Read the head of an FM or change group, with its time; None where the token is none."""
        if token.startswith("FM"):
            return self._from(token)
        joined = _JOINED.fullmatch(token) if len(token) > 9 else None
        if joined is not None:
            return self._change(joined[1], nan, 0, joined[2])
        if token.startswith("PROB"):
            return self._probable(token)
        return self._change(token, nan, 1, None) if token in _CHANGES else None

    def _probable(self, token: str) -> Stretch | None:
        """Read the head of a PROB group, with TEMPO or without."""
        match, following, count = _PROBABILITY.fullmatch(token), self.tokens.ahead(1), 1
        if match is not None:
            percent = int(match[1])
        elif token == "PROB" and len(following) == 2 and DIGITS.fullmatch(following):
            percent, count = int(following), 2
        else:
            return None
        indicator, following = f"PROB{percent:02}", self.tokens.ahead(count)
        if following in ("TEMPO", "INTER"):
            indicator, count = f"{indicator} {following}", count + 1
        return self._change(indicator, percent / 100, count, None)

    def _change(self, indicator: str, probability: float, count: int, glued: str | None) -> Stretch:
        """Read the time of a change group. count: tokens of its head; glued: a time that was run into it."""
        tokens, header = self.tokens, self.header
        text, took = (glued, 1) if glued else tokens.period(tokens.at + count, self.calendar)
        start = end = None
        full = FULL_PERIOD.fullmatch(text)
        if full is not None:
            parts = [int(part or 0) for part in full.groups()]
            start, end = self.calendar.at(*parts[:3]), self.calendar.at(*parts[3:])
        elif header.old_style and len(text) == 4:
            start = after(self.periods[-1].start or header.valid_from, int(text[:2]))
            end = None if start is None else after(start + _HOUR, int(text[2:]))
        else:
            # FM and TL behind a change word are the times of a trend: the group is kept, its time is not read
            took = 0
            while took < 2 and _BETWEEN.fullmatch(tokens.ahead(count + took)):
                took += 1
        label = " ".join(tokens.upper[tokens.at : tokens.at + count + took])
        if start is None or end is None or not (start < end and start < header.valid_to and end > header.valid_from):
            start = end = None
        status = CONFLICT if start is None else DECODED
        tokens.add(count + took, "change", status, said_change(indicator, start, end), indicator)
        change = Stretch(indicator, label, start, end, probability=probability, period=len(self.periods) - 1)
        change.at = len(tokens.groups) - 1
        self.changes.append(change)
        return change

    def _from(self, token: str) -> Stretch | None:
        tokens, header, count = self.tokens, self.header, 1
        if token == "FM" and tokens.ahead(1):
            token, count = token + tokens.ahead(1), 2
        match = _FROM.fullmatch(token)
        if match is None:
            return None
        day, hour, minute, bare_hour, bare_minute = match.groups()
        if day is None and not header.old_style and int(bare_hour) in (header.valid_from.day, header.valid_to.day):
            # where the others have a day this may be one that lost its hours
            start = None
        elif day is not None:
            start = self.calendar.at(int(day), int(hour), int(minute))
        else:
            start = after(self.periods[-1].start or header.valid_from, int(bare_hour), int(bare_minute or 0))
        label = " ".join(tokens.upper[tokens.at : tokens.at + count])
        if start is None or not header.valid_from <= start < header.valid_to:
            tokens.add(count, "from", CONFLICT, said_from(None), "FM")
            untimed = Stretch("FM", label, None, None, period=len(self.periods) - 1)
            self.changes.append(untimed)
            return untimed
        tokens.add(count, "from", DECODED, said_from(start), "FM")
        period = Stretch("FM", label, start, None)
        self.periods.append(period)
        return period

    def _temperature(self, token: str, part: str) -> bool:
        """Read TX and TN groups; False where the token is none."""
        header, meanings, status = self.header, [], DECODED
        read = extremes(token)
        for kind, value, day, hour in read:
            time = after(header.valid_from, hour) if day is None else self.calendar.at(day, hour)
            if time is None or not header.valid_from - _DAY <= time <= header.valid_to + _DAY:
                meanings.append("a temperature at a time that cannot be read, not used")
                status = CONFLICT
                continue
            meaning = extreme_said(kind, value, time.day if day is None else day, hour)
            if not plausible(value, nan):
                meanings.append(f"{meaning}: {IMPLAUSIBLE_EXTREME}, not used")
                status = CONFLICT
                continue
            self.temperatures.append(Extreme(kind, value, time))
            meanings.append(meaning)
        if read:
            self.tokens.add(1, "temperature", status, "; ".join(meanings), part)
        return bool(read)

    def _footer(self) -> None:
        """Gather words about amendments and the next forecast, up to where the forecast goes on."""
        upper = self.tokens.upper
        end = self.tokens.at + 1
        while end < len(upper):
            token = upper[end]
            if token in _ENDS_FOOTER or token.startswith(("PROB", "FM")) or extremes(token):
                break
            entry = group(token, self.us, "footer")
            time = entry.kind == "visibility" and token.isdigit() and upper[end - 1] in _BEFORE_TIME
            if entry.group.status == DECODED and not time:
                break
            if entry.group.status == NOT_DECODED and not all(c.isalnum() for c in token):
                break
            end += 1
        said = "about amendments and the next forecast, not used"
        self.tokens.add(end - self.tokens.at, "footer", NOTED, said, "footer")
