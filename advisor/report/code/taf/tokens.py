"""The tokens of one forecast, and how far they are read: every token goes into exactly one group, in order."""

from __future__ import annotations

import re

from advisor.report.code.taf.times import LONGEST_VALIDITY, Calendar
from advisor.report.code.words import beginning
from advisor.report.model import Group

FULL_PERIOD = re.compile(r"(\d\d)(\d\d)(\d\d)?/(\d\d)(\d\d)(\d\d)?Z?", re.ASCII)
DIGITS = re.compile(r"\d+", re.ASCII)


class TokenReader:
    """Tokens as written and in upper case, read from left to right.

    at: the next one to read. groups: what was made of those before. text: the whole, for errors.
    """

    def __init__(self, tokens: list[str], text: str) -> None:
        self.written, self.upper = tokens, [token.upper() for token in tokens]
        self.at = 0
        self.groups: list[Group] = []
        self.text = text

    def where(self) -> str:
        """Say which forecast this is, for an error."""
        return beginning(self.text)

    def ahead(self, count: int) -> str:
        """The token so many after the next one, "" where there is none."""
        return self.upper[self.at + count] if self.at + count < len(self.upper) else ""

    def add(self, count: int, kind: str, status: str, meaning: str, part: str) -> None:
        """Make the next tokens one group."""
        written = self.written[self.at] if count == 1 else " ".join(self.written[self.at : self.at + count])
        self.groups.append(Group(written, status, meaning, part, kind))
        self.at += count

    def period(self, at: int, calendar: Calendar) -> tuple[str, int]:
        """Join a period that blanks have split. Returns its text and how many tokens it took, "" and 0 for none."""
        upper = self.upper[at : at + 3]
        if not upper:
            return "", 0
        first = upper[0]
        if FULL_PERIOD.fullmatch(first):
            return first, 1
        for count in (2, 3):
            joined = "".join(upper[:count])
            if len(upper) >= count and "/" in joined and "//" not in joined and FULL_PERIOD.fullmatch(joined):
                return joined, count
        if not DIGITS.fullmatch(first):
            return "", 0
        if len(first) == 4 and len(upper) > 1 and len(upper[1]) == 4 and DIGITS.fullmatch(upper[1]):
            joined = f"{first}/{upper[1]}"
            if _fits(calendar, first, upper[1]):
                return joined, 2
        if len(first) == 2 and len(upper) > 1 and len(upper[1]) == 4 and DIGITS.fullmatch(upper[1]):
            return first + upper[1], 2
        return (first, 1) if len(first) in (4, 6) else ("", 0)


def _fits(calendar: Calendar, first: str, second: str) -> bool:
    """Whether two numbers of four digits are a period with its slash left out: days and hours that fit."""
    start, end = calendar.at(int(first[:2]), int(first[2:])), calendar.at(int(second[:2]), int(second[2:]))
    return start is not None and end is not None and start < end <= start + LONGEST_VALIDITY
