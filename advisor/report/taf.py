"""One TAF read into a Forecast, by our own reader on the same table of groups as reports.

Every token goes into exactly one group, in order. A group whose time cannot be read is not lost: it may come at any
time of the period in which it stands. Days are found from the time of issue and hours from the validity, so that ends
of months and years and hour 24 need no special case. The machine's clock is never read.
Source: wmo-306-fm-51.
"""

from __future__ import annotations

from datetime import datetime

from advisor.errors import ReportError
from advisor.report.code.taf.body import Body
from advisor.report.code.taf.header import HINT, read_header
from advisor.report.code.taf.stretch import settle
from advisor.report.code.taf.tokens import TokenReader
from advisor.report.code.words import beginning
from advisor.report.forecast import ChangeGroup, Forecast, Period
from advisor.report.model import NOT_DECODED, Group
from advisor.report.moments import utc

LONGEST_REPORT = 8000


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
            where=beginning(text),
            hint=f"at most {LONGEST_REPORT}",
        )
    forecast, ended, rest = text.partition("=")
    written = forecast.split()
    if not written:
        raise ReportError("empty forecast", where=beginning(text), hint=HINT)
    late = rest.replace("=", " ").split() if ended else []
    tokens = TokenReader(written, text)
    header = read_header(tokens, now)
    body = Body(tokens, header)
    body.read()
    periods: tuple[Period, ...] = ()
    changes: tuple[ChangeGroup, ...] = ()
    if not (body.cancelled or body.nil):
        periods, changes = settle(body.periods, body.changes, header.valid_from, header.valid_to)
    after_end = [Group(token, NOT_DECODED, "stands after the end of the forecast") for token in late]
    return Forecast(
        kind="TAF",
        station=header.station,
        issued=header.issued,
        valid_from=header.valid_from,
        valid_to=header.valid_to,
        raw=" ".join([*written, *late]),
        groups=(*tokens.groups, *after_end),
        amended=header.amended,
        corrected=header.corrected,
        cancelled=body.cancelled,
        nil=body.nil,
        periods=periods,
        changes=changes,
        temperatures=tuple(body.temperatures),
        issued_given=header.issued_given,
    )
