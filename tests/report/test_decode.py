"""The listing of every group, as text and as data."""

import json
from datetime import UTC, datetime

from advisor.report.decode import decode_data, decode_text
from advisor.report.metar import read

NOW = datetime(2026, 1, 10, 6, tzinfo=UTC)
TEXT = (
    "METAR KZZA 100550Z AUTO 24008G22KT 210V270 1 1/2SM R04R/4000V5500FT -FZRA BR BKN005 OVC012CB M01/M02 A2990 "
    "TEMPO 0800 FZRA RMK AO2 PK WND 28045/15 OCNL LTGICCG DSNT SW-NW AND OHD RAB05 SLP123 T10111022 what $"
)


def test_data_has_kind_station_time_text_and_every_group():
    (found,) = decode_data([read(TEXT, now=NOW)])
    assert {key: found[key] for key in ("kind", "station", "issued", "raw")} == {
        "kind": "METAR",
        "station": "KZZA",
        "issued": "2026-01-10T05:50:00Z",
        "raw": TEXT,
    }
    assert " ".join(group["text"] for group in found["groups"]) == TEXT
    assert {"text": "what", "status": "not decoded", "meaning": "not understood", "part": "remarks"} in found["groups"]
    assert all(group["meaning"] for group in found["groups"])
    assert json.loads(json.dumps(found)) == found


def test_text_shows_every_group_with_status_and_meaning_in_eighty_columns():
    report = read(TEXT, now=NOW)
    lines = decode_text([report]).splitlines()
    assert lines[0] == "METAR KZZA, 10 January 2026, 05:50Z"
    assert max(map(len, lines)) <= 80
    assert not any("\x1b" in line or line != line.rstrip() for line in lines)
    flat = " ".join(" ".join(lines).split())
    for group in report.groups:
        assert group.text in flat
        assert group.status in flat
        assert group.meaning.split(",")[0] in flat


def test_text_keeps_the_trend_apart_and_ends_with_what_was_not_used():
    lines = decode_text([read(TEXT, now=NOW)]).splitlines()
    assert " forecast trend, not observed:" in lines
    assert lines[-1] == " 1 not used, read them yourself: what"


def test_text_of_several_reports_keeps_their_order():
    other = read("SPECI ZZZB 100555Z 00000KT CAVOK 02/01 Q1013", now=NOW)
    lines = decode_text([other, read(TEXT, now=NOW)]).splitlines()
    assert [line for line in lines if line.startswith(("METAR ", "SPECI "))] == [
        "SPECI ZZZB, 10 January 2026, 05:55Z",
        "METAR KZZA, 10 January 2026, 05:50Z",
    ]
    assert decode_text([]) == ""


def test_a_group_longer_than_its_column_stays_whole_and_within_the_width():
    long = "ABCDEFGH" * 7
    lines = decode_text([read(f"METAR ZZZA 100550Z 24008KT 9999 {long} 02/01 Q1013", now=NOW)]).splitlines()
    assert max(map(len, lines)) <= 80
    assert any(long in line for line in lines)
