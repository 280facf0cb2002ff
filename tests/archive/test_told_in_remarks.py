"""What only some reports have, read by token and in full, and told by a replay and by a brief: they are alike."""

from __future__ import annotations

import itertools
import random
from datetime import timedelta

import numpy as np
import pytest

pytest.importorskip("pyarrow")

from advisor.report import metar
from tests.archive.test_same_as_brief import AT, NORTH, differing
from tests.archive.test_tokens import check, table_of
from tests.measures import replay as measure

_WINDS = ("24008KT", "24025G35KT", "00000KT")
_WINTER = ("", "-SN", "SN", "+SN BLSN", "DRSN", "BLSN", "RA", "-RA", "FZRA", "-FZDZ", "UP", "PL", "//", "BR")
_COLD = ("M03/M04", "01/00", "M08/M09", "00/M01")
_PRESSURES = ("Q1000", "Q99", "A2953", "A29", "Q////", "A9999", "QNH", "Q0000", "A2992", "Q1001")


def _series(name: str, bodies: list[str], minutes: int) -> measure.Series:
    reports = []
    for step, body in enumerate(bodies):
        at = AT + timedelta(minutes=minutes * step)
        reports.append(metar.read(" ".join(f"{name} {at:%d%H%M}Z {body}".split()), now=at))
    at_s = np.array([int(one.issued.timestamp()) for one in reports], dtype=np.int64)
    return measure.Series(reports, np.zeros(len(reports), dtype=np.int32), at_s, [NORTH])


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
    bodies = [f"24008KT 9999 OVC040 01/M02 A3000{more}" for more in (f" RMK AO2 {remark}", "", "")]
    told = _series("KZZA", bodies, minutes)
    assert differing(told, [0, 1, 2]) == ([], 0)


@pytest.mark.parametrize(
    "remark", ["TS OHD MOV E", "FRQ LTGICCG OHD", "CB OHD", "CB DSNT W", "LTG DSNT W", "TCU NE", "TSNO", "VIRGA"]
)
def test_a_storm_in_the_remarks_is_told_as_in_a_brief(remark: str) -> None:
    told = _series("KZZA", [f"24008KT 9999 SCT040 21/12 A3000 RMK AO2 {remark}"], 60)
    assert differing(told, [0]) == ([], 0)


def test_what_lies_after_drawn_winter_weather_is_nearly_always_that_of_a_brief() -> None:
    # what lies is gathered in another way: a status differs now and then (tests/measures/REPLAY.md says how often)
    draw, gathered, in_all = random.Random(5), 0, 0
    for _ in range(8):
        bodies = [
            f"{draw.choice(_WINDS)} 4000 {draw.choice(_WINTER)} OVC010 {draw.choice(_COLD)} Q1000" for _ in range(8)
        ]
        told = _series("ZZZA", bodies, draw.choice((30, 60, 100, 150)))
        plain, others = differing(told, list(range(8)))
        assert plain == []
        gathered, in_all = gathered + others, in_all + 8 * len(measure.RULES)
    assert gathered <= 0.005 * in_all
