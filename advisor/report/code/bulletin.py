"""Single reports out of a file or bulletin, whatever stands around them.

A report begins with METAR, SPECI or TAF, or with station and time at the start of a line; it ends at "=" or where the
next one begins. Headings of bulletins are left out.
"""

from __future__ import annotations

import re

from advisor.errors import ReportError

_HEADING = re.compile(r"[A-Z]{4}\d{2} [A-Z0-9]{4} \d{6}(?: [A-Z]{3})?", re.ASCII)
_ENVELOPE = re.compile(r"ZCZC.*|N{4}|\d{1,5}|[A-Z]{2,3}\d{3,4} \d{6}", re.ASCII)
_LIST_HEAD = re.compile(r"(METAR|SPECI|TAF)( (?:COR|AMD))?", re.ASCII)
_TYPE = frozenset(("METAR", "SPECI", "TAF"))
_MARKS = frozenset(("COR", "CORR", "AMD", "AUTO"))
_STATION = re.compile(r"[A-Z][A-Z0-9]{3}", re.ASCII)
_TIME = re.compile(r"\d{6}Z?", re.ASCII)
_PERIOD = re.compile(r"\d{4}/\d{4}", re.ASCII)
_NOT_STATIONS = frozenset(("NEXT", "LAST", "TEMPO", "BECMG", "NOSIG", "AUTO", "PROB", "FROM"))
_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1a\x7f\ufffd]")
_ENVELOPE_CONTROL = str.maketrans("", "", "\x01\x02\x03\x1c\x1d\x1e\x1f\ufeff")
LONGEST_TEXT = 20_000_000
LONGEST_LINE = 20_000


def kind(text: str) -> str:
    """Tell what a single text is: "METAR", "SPECI", "TAF", or "" where it does not begin like any."""
    tokens = text.upper().split(None, 6)[:6]
    first = tokens[0] if tokens else ""
    if first in _TYPE:
        return first
    index = _station_at(tokens, 0)
    if index < 0:
        return "TAF" if _untimed_at(tokens, 0) >= 0 else ""
    return "TAF" if index + 2 < len(tokens) and _PERIOD.fullmatch(tokens[index + 2]) else "METAR"


def _station_at(tokens: list[str], index: int) -> int:
    """Return where station and time stand, from `index` on over words such as COR; −1 where they do not."""
    while index < len(tokens) and tokens[index] in _MARKS:
        index += 1
    if index + 1 >= len(tokens) or not _STATION.fullmatch(tokens[index]) or tokens[index] in _NOT_STATIONS:
        return -1
    return index if _TIME.fullmatch(tokens[index + 1]) else -1


def _untimed_at(tokens: list[str], index: int) -> int:
    """Return where a forecast without its time of issue has its station, before a validity; −1 where none stands."""
    while index < len(tokens) and tokens[index] in _MARKS:
        index += 1
    if index + 1 >= len(tokens) or not _STATION.fullmatch(tokens[index]) or tokens[index] in _NOT_STATIONS:
        return -1
    return index if _PERIOD.fullmatch(tokens[index + 1]) else -1


def _begins(tokens: list[str], index: int, line_start: bool, forecasts: bool) -> bool:
    """Whether a report begins at this token. forecasts: in a list of forecasts, which may lack their times of issue."""
    token = tokens[index]
    if token in _TYPE:
        after = index + 1
        while after < min(len(tokens), index + 6) and (tokens[after] in _MARKS or tokens[after] in _TYPE):
            after += 1
        if after >= len(tokens):
            return line_start
        pair = tokens[after : after + 2]
        return line_start or _station_at(pair, 0) == 0 or (token == "TAF" and _untimed_at(pair, 0) == 0)
    ahead = tokens[index : index + 5]
    return line_start and (_station_at(ahead, 0) >= 0 or (forecasts and _untimed_at(ahead, 0) >= 0))


def split(text: str) -> list[str]:
    """Split a text into single reports, METAR, SPECI and TAF alike, in the order they stand.

    text: a report, a file of them, or a bulletin; line breaks inside reports, "=" and headings allowed. Returns texts
    with single spaces, without "="; a heading METAR, SPECI or TAF over a list is put before each report of that list.
    Raises ReportError for a text that is no text, is too long, or holds nothing.
    """
    text = text.translate(_ENVELOPE_CONTROL)
    if len(text) > LONGEST_TEXT:
        raise ReportError(f"{len(text)} characters are too many", where="report", hint=f"at most {LONGEST_TEXT}")
    bad = _CONTROL.search(text)
    if bad is not None:
        line = text.count("\n", 0, bad.start()) + 1
        raise ReportError("this is not text", where=f"line {line}", hint="give METAR, SPECI or TAF as plain text")
    reports: list[str] = []
    current: list[str] = []
    head: list[str] = []

    def close() -> None:
        if current:
            reports.append(" ".join(current))
            current.clear()

    for count, row in enumerate(text.splitlines(), 1):
        if len(row) > LONGEST_LINE and "=" not in row:
            raise ReportError(
                f"a line of {len(row)} characters is no report",
                where=f"line {count}",
                hint="give METAR, SPECI or TAF as plain text",
            )
        plain = " ".join(row.split())
        upper = plain.upper()
        if not plain:
            continue
        if _HEADING.fullmatch(upper) or _ENVELOPE.fullmatch(upper):
            close()
            head = []
            continue
        listed = _LIST_HEAD.fullmatch(upper)
        if listed is not None:
            close()
            head = plain.split()
            continue
        start = True
        for piece in re.split(r"(=)", plain):
            if piece == "=":
                close()
                start = True
                continue
            tokens = piece.split()
            raised = [token.upper() for token in tokens]
            for index, word in enumerate(tokens):
                if _begins(raised, index, start, head[:1] == ["TAF"]):
                    if not (0 < len(current) <= 6 and all(w.upper() in _TYPE | _MARKS for w in current)):
                        close()
                    if not current and raised[index] not in _TYPE:
                        current.extend(head)
                current.append(word)
                start = False
    close()
    if not reports:
        raise ReportError("no report found", where="report", hint="a report begins as in METAR ZZZA 100550Z")
    return reports
