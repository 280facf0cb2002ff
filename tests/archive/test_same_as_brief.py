"""The statuses of a replay beside those of a brief with the same cases: the brief's own outlook is the oracle.

What differs, and by how much, over 10,000 reports stands in tests/measures/REPLAY.md.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("pyarrow")

from advisor.checklist.evaluate import NOT_INDICATED, STATUSES
from advisor.conditions import Place
from advisor.report import metar
from advisor.report.model import Report
from tests.measures import replay as measure

CORPUS = Path(__file__).parents[3] / "shared" / "corpus"
AT = datetime(2027, 1, 10, 5, 50, tzinfo=UTC)
NORTH = Place("an invented field", "ZZZA", 61.4, 9.8, 120.0)
# invented: each body at four hours of a day
BODIES = (
    "24008KT 9999 OVC040 05/M02 Q1002",
    "00000KT CAVOK M01/M03 Q1030",
    "24030G45KT 4000 -SN BKN008 M01/M02 Q0990 RESN",
    "/////KT //// // ////// ///// Q////",
    "24008KT 0800 FZFG VV001 M03/M03 Q1002",
    "24008KT 5000 TSRAGR BKN030CB 12/10 Q1009",
    "VRB02KT 9999 VCSH FEW020TCU 08/06 Q1009",
    "24016KT 9999 FEW040 M25/M30 Q1022",
    "20012KT 6000 -FZDZ OVC006 00/M00 Q1002",
    "24010KT 9999 NCD 31/24 Q1009",
    "24008KT 3000 UP OVC010 01/00 Q1002",
    "12008KT 9999 BKN/// //// Q1002",
)


def series_of(bodies: list[str], minutes: int) -> measure.Series:
    """Reports of one invented field, so many minutes apart."""
    reports: list[Report] = []
    for step, body in enumerate(bodies):
        at = AT + timedelta(minutes=minutes * step)
        reports.append(metar.read(f"ZZZA {at:%d%H%M}Z {body}", now=at))
    at_s = np.array([int(one.issued.timestamp()) for one in reports], dtype=np.int64)
    return measure.Series(reports, np.zeros(len(reports), dtype=np.int32), at_s, [NORTH])


def differing(told: measure.Series, rows: list[int]) -> tuple[list[tuple[str, str]], int]:
    """Rules on which nothing gathered bears that differ, with the report; and how many of the others do."""
    found = measure.replayed(told)
    plain, gathered = [], 0
    for at in rows:
        wanted = measure.same_cases(told, at)
        for which in np.flatnonzero(wanted != found[:, at]).tolist():
            rule = measure.RULES[which].id
            if rule in measure.GATHERED:
                gathered += 1
            else:
                plain.append((rule, told.reports[at].raw))
    return plain, gathered


def test_invented_reports_alone_have_the_statuses_of_a_brief() -> None:
    every = [body for body in BODIES for _ in range(4)]
    told = series_of(every, 60 * 24 * 2 + 6 * 60)
    # two days and six hours apart: without any history of each other, at four hours of the day
    plain, gathered = differing(told, list(range(len(every))))
    assert plain == []
    assert gathered <= 0.01 * len(every) * len(measure.RULES)


def test_an_invented_night_has_the_statuses_of_a_brief_with_its_history() -> None:
    bodies = [*BODIES[:3], *BODIES[4:9], *BODIES[:6], BODIES[8], BODIES[10], BODIES[1], BODIES[1], BODIES[0]]
    told = series_of(bodies, 50)
    plain, gathered = differing(told, list(range(len(bodies))))
    assert plain == []
    assert gathered <= 0.05 * len(bodies) * len(measure.RULES)


@pytest.mark.corpus
def test_real_reports_have_the_statuses_of_a_brief() -> None:
    if not (CORPUS / "metars.jsonl").is_file():
        pytest.skip("no folder of real reports beside the checkout")
    told = measure.alone(measure.read(CORPUS / "metars.jsonl", every=130))
    plain, gathered = differing(told, list(range(len(told.reports))))
    assert plain == []
    assert gathered <= 0.002 * len(told.reports) * len(measure.RULES)
    told = measure.together(measure.read(CORPUS / "series.jsonl"))
    rows = list(range(40, len(told.reports), 150))
    plain, gathered = differing(told, rows)
    assert plain == []
    assert gathered <= 0.01 * len(rows) * len(measure.RULES)


def test_a_line_that_a_brief_shows_as_sure_is_not_lost() -> None:
    told = series_of(list(BODIES), 60 * 24 * 3)
    found = measure.replayed(told)
    for at in range(len(BODIES)):
        wanted = measure.whole_brief(told, at)
        sure = wanted == STATUSES.index("expected")
        assert not (found[sure, at] == STATUSES.index(NOT_INDICATED)).any(), told.reports[at].raw
