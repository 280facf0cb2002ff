"""A trend is the forecast of its own report: what an earlier report foresaw is over when a newer one has come."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

import advisor

NOW = datetime(2027, 1, 10, 5, 25, tzinfo=UTC)
EARLIER, LATEST = (
    "METAR ZZZA 100450Z 24008KT 9999 OVC012 M01/M02 Q1011",
    "METAR ZZZA 100520Z 24008KT 9999 OVC012 M01/M02 Q1011",
)


def lines(*reports: str) -> dict[str, str]:
    brief = advisor.advise(list(reports), off_block="0640Z", now=NOW, place="61.4,9.8")
    return {line.id: line.status for line in brief.advice}


@pytest.mark.parametrize("trend", ["TEMPO FZRA", "BECMG 24040G60KT", "TEMPO 0300 +SN VV003"])
def test_trend_of_an_earlier_report_changes_nothing(trend: str) -> None:
    assert lines(f"{EARLIER} {trend}", f"{LATEST} NOSIG") == lines(f"{EARLIER} NOSIG", f"{LATEST} NOSIG")


@pytest.mark.parametrize("trend", ["TEMPO FZRA", "BECMG 24040G60KT", "TEMPO 0300 +SN VV003"])
def test_trend_of_the_latest_report_counts(trend: str) -> None:
    assert lines(f"{EARLIER} NOSIG", f"{LATEST} {trend}") != lines(f"{EARLIER} NOSIG", f"{LATEST} NOSIG")
