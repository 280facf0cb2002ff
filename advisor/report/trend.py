"""Trend groups of a METAR, kept apart from the observation.

Source: wmo-306 (FM 15), trend-type landing forecast.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from advisor.report.entries import Entry
from advisor.report.model import Trend


def read_trends(entries: Sequence[Entry], issued: datetime) -> tuple[Trend, ...]:
    """Gather the groups of each trend.

    entries: the groups of part "trend", in order. issued: aware UTC, the time of the report. Returns one Trend for each
    change word.
    """
    trends: list[Trend] = []
    change = ""
    texts: list[str] = []
    for one in entries:
        if one.group.kind == "trend":
            if change:
                trends.append(Trend(change, " ".join(texts)))
            change, texts = one.words[0], []
        texts.append(one.group.text)
    if change:
        trends.append(Trend(change, " ".join(texts)))
    return tuple(trends)
