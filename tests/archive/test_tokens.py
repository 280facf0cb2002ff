"""Reading by token gives what the full reader gives, column by column: that reader is the oracle here."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

pytest.importorskip("pyarrow")

from advisor.archive import reading
from advisor.archive.reading import Reader, unequal
from advisor.archive.table import said
from advisor.errors import ReportError
from advisor.report import metar

CORPUS = Path(__file__).parents[3] / "shared" / "corpus"
AT = datetime(2027, 1, 10, 5, 50, tzinfo=UTC)

# invented: each shows something that a token alone does not settle, or that few reports have
REPORTS = (
    "METAR ZZZA 100550Z 27005KT 9999 SCT020 M01/M02 Q1012",
    "SPECI ZZZA 100550Z VRB02KT 0800 R27/1200N R09/0600 FZFG VV002 M03/M03 Q1019 NOSIG",
    "METAR COR ZZZA 100550Z 00000KT CAVOK 03/01 Q1013=",
    "ZZZA 100550Z AUTO /////KT //// // ////// ///// Q////",
    "ZZZA 100550Z AUTO 24006KT 9999 // SCT012/// BKN025/// 07/05 Q1009",
    "ZZZA 100550Z AUTO 24006KT //// // OVC003 M00/M00 Q1009",
    "ZZZA 100550Z 24016G28KT 200V280 4000 1200NE -SN BKN008 OVC014CB M01/M02 Q0998 RESN TEMPO 0800 +SN VV001",
    "ZZZA 100550Z 24010KT 3000 BR BKN/// 05/04 Q1000 BECMG 9999 NSW RMK QFE745",
    "KZZA 100551Z 31012KT 1 1/2SM -SN BR OVC008 M02/M03 A2990 RMK AO2 SLP132 SNB05E21B39 P0001 T10171033",
    "KZZA 100551Z AUTO 31012G22KT M1/4SM +FZRA FG VV001 M01/M02 A2990 RMK AO1 PK WND 31028/0520 I1003 T10061017 $",
    "KZZA 100551Z 18008KT 10SM CLR 06/01 A3010 RMK AO2 TSNO FZRANO LTG DSNT W AND NW CB DSNT N T00611011",
    "KZZA 100551Z 18008KT 10SM FEW040CB SCT070TCU 26/21 A3010 RMK AO2 FRQ LTGICCG OHD TS OHD MOV E GR 1 1/4",
    "CZZA 100550Z 09005KT 15SM FEW030 M12/M15 A2999 RMK SC1 SOG 12 SLP152",
    "KZZA 100551Z 18008KT 10SM SKC 06/01 A3010 RMK AO2 4/008 SNINCR 2/10 FROIN WX MISG PWINO VIS 1 1/2V3",
    "ZZZA 100550Z 24010KT 9999 SNOCLO Q1000",
    "ZZZA 100550Z 24010KT 9999 -RA SN FEW010 SCT020 OVC030 01/00 Q1000 A2953 R24/521050",
    "ZZZA 100550Z 24010KT 9999 -RA 25KT FEW010 01/00 02/01 Q1000",
    "ZZZA 100550Z 24010KT CAVOK FEW010 01/00 Q1000",
    "ZZZA 100550Z 24010KT 8000 CAVOK 01/00 Q1000",
    "ZZZA 100550Z 24020G15KT 9999 FEW010 01/09 Q1000",
    "ZZZA 100550Z 24010KT 9999 NSW 5N SN/ XXRA FEW010 01/00 Q1000 REXX RE//",
    "ZZZA 100550Z NIL",
    "ZZZA 100550Z 24010KT 9999 TSRA VCSH FEW015CB BKN/////// 21/19 Q1000 WS R24 W15/S3 NOSIG RERA",
    "ZZZA 100550Z 24010KT 9999 WS ALL RWY FEW015 21/19 Q1000",
    "metar zzza 100550z 24010kt 9999 -ra few015 21/19 q1000",
    "ZZZA 100550Z 24010KT 9999 FEW015 21/19 Q1000= EXTRA",
    "ZZZA 100550Z WORDS THAT NOBODY KNOWS",
    "METAR ZZZA NOTIME 24010KT",
    "KZZA 100551Z 18008KT 10SM SKC M 06/ A3010 RMK AO2 T0061//// T00610011",
    "KZZA 100551Z 18008KT 1/2SM R04R/4500VP6000FT SN FZFG VV004 M00/M01 RMK TWR VIS 1 1/2 SNB0455E20GSB10 BKN V SCT",
)


def table_of(texts: list[str], at: list[datetime], reader: Reader | None = None) -> reading.Read:
    names: list[str] = []
    station = []
    for text in texts:
        words = [word for word in text.upper().split() if word not in ("METAR", "SPECI", "COR")]
        name = words[0][:4] if words else "ZZZA"
        if name not in names:
            names.append(name)
        station.append(names.index(name))
    times = np.array([int(one.timestamp()) for one in at], dtype=np.int64)
    made = reader or Reader(sample=0)
    return made.read(texts, names, np.array(station, dtype=np.int32), times)


def check(texts: list[str], at: list[datetime], reader: Reader | None = None) -> reading.Read:
    found = table_of(texts, at, reader)
    for row, (text, moment) in enumerate(zip(texts, at, strict=True)):
        try:
            wanted = said(metar.read(text, now=moment))
        except ReportError as wrong:
            assert found.refused[row] == wrong.what, text
            continue
        assert row not in found.refused, text
        assert unequal(found.table.row(row), wanted) == [], text
    return found


def test_reports_with_everything_are_read_alike() -> None:
    times = [AT if "100550" in text.upper() else AT.replace(minute=51) for text in REPORTS]
    found = check(list(REPORTS), times)
    # most of these were made to need a look at the whole; still most do not
    assert found.whole < len(REPORTS) / 2


def test_a_second_reading_with_what_is_remembered_is_the_same() -> None:
    reader = Reader(sample=0)
    times = [AT if "100550" in text.upper() else AT.replace(minute=51) for text in REPORTS]
    check(list(REPORTS), times, reader)
    check(list(reversed(REPORTS)), list(reversed(times)), reader)


_WORDS = sorted(
    {word for text in REPORTS for word in text.split()[2:]}
    | {"=", "RMK", "//", "TEMPO", "1", "WS", "V", "RAB10", "E05"}
)


@settings(max_examples=150)
@given(
    st.lists(st.lists(st.sampled_from(_WORDS), max_size=14), min_size=1, max_size=12),
    st.sampled_from(("ZZZA", "KZZA", "CZZA")),
)
def test_tokens_in_any_order_are_read_alike(bodies: list[list[str]], station: str) -> None:
    check([f"{station} 100550Z {' '.join(words)}" for words in bodies], [AT] * len(bodies))


@pytest.mark.corpus
@pytest.mark.parametrize("name", ["metars.jsonl", "series.jsonl"])
def test_every_real_report_is_read_alike_and_nearly_all_by_token(name: str) -> None:
    if not (CORPUS / name).is_file():
        pytest.skip("no folder of real reports beside the checkout")
    texts, at = [], []
    for line in (CORPUS / name).read_text(encoding="utf-8").splitlines():
        row = json.loads(line)
        moment = datetime.fromisoformat(row["valid"])
        moment = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
        try:
            issued = metar.read(row["raw"], now=moment).issued
        except ReportError:
            continue
        if abs(issued - moment) < timedelta(hours=3):
            texts.append(row["raw"])
            at.append(issued)
    found = check(texts, at)
    assert found.whole <= 0.01 * len(texts)


def test_a_reading_that_differs_stops_the_run_and_shows_the_report(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reading, "said", lambda report: {**said(report), "wind_kt": 99.0})
    text = "METAR ZZZA 100550Z 27005KT 9999 SCT020 M01/M02 Q1012"
    with pytest.raises(ReportError, match="differ in wind_kt") as met:
        table_of([text], [AT], Reader(sample=1))
    assert text in str(met.value)


def test_one_report_in_a_thousand_is_read_again_and_which_depends_on_the_seed(monkeypatch: pytest.MonkeyPatch) -> None:
    again: list[str] = []
    monkeypatch.setattr(reading, "said", lambda report: again.append(report.raw) or said(report))
    at = [AT + timedelta(minutes=30 * step) for step in range(20_000)]
    texts = [f"ZZZA {one:%d%H%M}Z 27005KT 9999 SCT020 M01/M02 Q1012" for one in at]
    chosen = []
    for seed in (0, 1):
        again.clear()
        table_of(texts, at, Reader(seed=seed))
        chosen.append(tuple(again))
    assert all(5 <= len(one) <= 60 for one in chosen)
    assert chosen[0] != chosen[1]
