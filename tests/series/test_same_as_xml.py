"""The same report as traditional code and as XML gives the same brief.

ICAO Annex 3, examples A3-1, A3-2, A5-1 and A5-2, and an invented winter night put together in both forms.
"""

from __future__ import annotations

import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from advisor import advise

sys.path.insert(0, str(Path(__file__).parents[1] / "report"))
import iwxxm_samples as xml

ICAO_TIMES = {
    "A3-1": datetime(2012, 8, 22, 16, 40, tzinfo=UTC),
    "A3-2": datetime(2012, 8, 15, 11, 20, tzinfo=UTC),
    "A5-1": datetime(2012, 8, 15, 23, 50, tzinfo=UTC),
}


def pair(coded, marked, now, ahead_min, **asked):
    asked = {"place": "52.1,-4.6", "now": now, "off_block": now + timedelta(minutes=ahead_min), **asked}
    return advise(coded, **asked), advise(marked, **asked)


def assert_same(coded, marked):
    """Everything but the reports' own texts and the list of their groups."""
    for field in ("advice", "doors", "timeline", "windows", "missing", "notes", "not_stated", "loosened", "place"):
        assert getattr(coded, field) == getattr(marked, field), field
    assert [(one.kind, one.station, one.issued, one.used) for one in coded.reports] == [
        (one.kind, one.station, one.issued, one.used) for one in marked.reports
    ]


@pytest.mark.parametrize("ahead_min", [60, 120, 300])
@pytest.mark.parametrize("name", ICAO_TIMES)
def test_an_icao_example_gives_the_same_brief(name, ahead_min):
    coded, marked = xml.ICAO[name]
    assert_same(*pair(coded, marked, ICAO_TIMES[name], ahead_min, heading=120))


def test_a_cancelled_forecast_is_one_in_both_forms():
    coded, marked = xml.ICAO["A5-2"]
    report = "METAR YUDO 161450Z 24004MPS 9999 SCT010 17/16 Q1018"
    told = pair([report, coded], [report, marked], datetime(2012, 8, 16, 15, 10, tzinfo=UTC), 60)
    assert_same(*told)
    assert any("is cancelled" in note for note in told[1].notes)


NOW = datetime(2026, 1, 10, 6, 5, tzinfo=UTC)
CODED = (
    "METAR ZZZA 100550Z 36008KT 2000 SN OVC010 M03/M04 Q1002",
    "TAF ZZZA 100500Z 1006/1112 36008KT 2000 SN OVC010 BECMG 1008/1010 9999 NSW OVC030 "
    "TEMPO 1006/1008 36018G32KT 0800 +SN OVC006",
)
MARKED = (
    xml.metar(
        xml.air("-3.0", "-4.0", "1002")
        + xml.wind("360", "8")
        + xml.visibility("2000")
        + xml.weather("SN")
        + xml.cloud(xml.layer("OVC", "1000"))
    ),
    xml.taf(
        xml.forecast(
            "baseForecast",
            xml.prevailing("2000")
            + xml.wind("360", "8", forecast=True)
            + xml.weather("SN", "weather")
            + xml.cloud(xml.layer("OVC", "1000"), forecast=True),
        )
        + xml.forecast(
            "changeForecast",
            xml.prevailing("10000", above=True)
            + xml.empty("weather", "nothingOfOperationalSignificance")
            + xml.cloud(xml.layer("OVC", "3000"), forecast=True),
            indicator="BECOMING",
            when=xml.period("phenomenonTime", "2026-01-10T08:00:00Z", "2026-01-10T10:00:00Z", "p1"),
        )
        + xml.forecast(
            "changeForecast",
            xml.prevailing("800")
            + xml.wind("360", "18", "32", forecast=True)
            + xml.weather("+SN", "weather")
            + xml.cloud(xml.layer("OVC", "600"), forecast=True),
            indicator="TEMPORARY_FLUCTUATIONS",
            when=xml.period("phenomenonTime", "2026-01-10T06:00:00Z", "2026-01-10T08:00:00Z", "p2"),
        )
    ),
)


@pytest.mark.parametrize("aircraft", ["single-aisle-jet", "light-aircraft", "helicopter"])
@pytest.mark.parametrize("ahead_min", [60, 240])
def test_a_winter_night_gives_the_same_brief(aircraft, ahead_min):
    told = pair(list(CODED), list(MARKED), NOW, ahead_min, aircraft=aircraft, parked_since="0545Z", heading=310)
    assert_same(*told)
    assert any(line.id == "de-icing-request" for line in told[0].advice)


def test_both_forms_together_are_one_report():
    both = [*CODED, *MARKED]
    asked = {"place": "52.1,-4.6", "now": NOW, "off_block": NOW + timedelta(minutes=60)}
    assert advise(both, **asked).advice == advise(list(CODED), **asked).advice


def test_a_collected_document_is_its_reports():
    asked = {"place": "52.1,-4.6", "now": NOW, "off_block": NOW + timedelta(minutes=60)}
    assert_same(advise(list(MARKED), **asked), advise(xml.collected(*MARKED), **asked))


def test_a_correction_in_either_form_replaces_a_report_in_the_other():
    asked = {"place": "52.1,-4.6", "now": NOW, "off_block": NOW + timedelta(minutes=60)}
    inside = xml.air("-3.0", "-9.0", "1002") + xml.wind("360", "8") + xml.visibility("10000", above=True)
    inside += xml.cloud(xml.layer("OVC", "3000"))
    right = xml.metar(inside, attributes='reportStatus="CORRECTION"')
    coded = "METAR COR ZZZA 100550Z 36008KT 9999 OVC030 M03/M09 Q1002"
    for texts in ([CODED[0], right], [right, CODED[0]], [MARKED[0], coded], [coded, MARKED[0]]):
        made = advise(texts, **asked)
        assert "wing-upper-surface" not in {line.id for line in made.advice}, texts
        assert_same_numbers(made, advise(coded, **asked))


def assert_same_numbers(one, other):
    assert one.advice == other.advice and one.timeline == other.timeline
