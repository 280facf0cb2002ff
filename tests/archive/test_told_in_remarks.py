"""What only some reports have, read by token and in full, and told by a replay and by a brief: they are alike."""

from __future__ import annotations

import itertools
from datetime import timedelta

import numpy as np
import pytest

pytest.importorskip("pyarrow")

from advisor.report import metar
from tests.archive.test_same_as_brief import AT, NORTH, differing
from tests.archive.test_tokens import check, table_of
from tests.measures import replay as measure

_PRESSURES = ("Q1000", "Q99", "A2953", "A29", "Q////", "A9999", "QNH", "Q0000", "A2992", "Q1001")


@pytest.mark.parametrize("first", _PRESSURES)
def test_two_pressures_are_read_alike_also_where_one_cannot_be_read(first: str) -> None:
    texts = [f"ZZZA 100550Z 24010KT 9999 FEW010 01/00 {first} {other}" for other in _PRESSURES if other != first]
    check(texts, [AT] * len(texts))


def test_what_cannot_be_read_is_not_gone_by() -> None:
    found = table_of(
        ["METAR ZZZA NOTIME 24010KT", "ZZZA 100550Z 24010KT CAVOK 05/M02 Q1002", "ZZZA 100550Z NIL"], [AT] * 3
    )
    assert list(found.refused) == [0] and found.usable.tolist() == [False, True, False]


@pytest.mark.parametrize(
    ("remark", "minutes"),
    list(itertools.product(("RAB10E45", "FZRAB06E40", "SNB15E49", "SHRAE20B45"), (25, 40, 55, 70))),
)
def test_weather_that_remarks_tell_of_is_remembered_from_its_end_as_in_a_brief(remark: str, minutes: int) -> None:
    # remarks of a station of the United States, and two reports after that say nothing of it
    reports = []
    for step, more in enumerate((f" RMK AO2 {remark}", "", "")):
        at = AT + timedelta(minutes=minutes * step)
        reports.append(metar.read(f"KZZA {at:%d%H%M}Z 24008KT 9999 OVC040 01/M02 A3000{more}", now=at))
    at_s = np.array([int(one.issued.timestamp()) for one in reports], dtype=np.int64)
    told = measure.Series(reports, np.zeros(len(reports), dtype=np.int32), at_s, [NORTH])
    assert differing(told, [0, 1, 2]) == ([], 0)
