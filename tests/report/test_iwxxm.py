"""IWXXM read: the ICAO examples as text and as XML, units, what is missing, collections, failed translations.

Units: 1 m/s is 3600/1852 kt, 1 km/h is 1000/1852 kt, 1 ft is 0.3048 m (definitions). nilReasons: WMO code list
common/nil, by which CHECKS of the schema's examples mean NSW, NSC, NCD or "not reported".
"""

from datetime import UTC, datetime, timedelta
from math import copysign, isnan, nan
from pathlib import Path

import iwxxm_samples as x
import pytest
from msgspec.structs import fields

from advisor.errors import ReportError
from advisor.report import iwxxm, metar, taf
from advisor.report.forecast import Forecast
from advisor.report.model import CloudLayer, Report

FOLDER = Path(__file__).parents[3] / "shared" / "corpus" / "iwxxm"


def only(xml):
    (one,) = iwxxm.read(xml)
    assert " ".join(group.text for group in one.groups) == one.raw
    return one


def as_text(text, one):
    reader = taf.read if text.startswith("TAF") else metar.read
    return reader(text, now=one.issued + timedelta(minutes=5))


def differing(one, other):
    """Names of the fields that differ; repr, since NaN is not equal to NaN."""
    return [
        f.name
        for f in fields(one)
        if repr(getattr(one, f.name)) != repr(getattr(other, f.name)) and getattr(one, f.name) != getattr(other, f.name)
    ]


@pytest.mark.parametrize("name", x.ICAO)
def test_an_icao_example_reads_the_same_as_text_and_as_xml(name):
    text, xml = x.ICAO[name]
    one = only(xml)
    assert type(one) is (Forecast if text.startswith("TAF") else Report)
    assert differing(one, as_text(text, one)) == []
    assert one.raw == text
    assert {group.status for group in one.groups} == {"decoded"}


@pytest.mark.corpus
@pytest.mark.skipif(not FOLDER.exists(), reason="the folder of real reports is not beside the checkout")
@pytest.mark.parametrize(
    "name",
    [
        "metar-A3-1",
        "speci-A3-2",
        "taf-A5-1",
        "taf-A5-2",
        "metar-NIL-collect",
        "taf-NIL-collect",
        "metar-translation-failed",
        "taf-translation-failed",
    ],
)
def test_an_example_of_the_schema_repository_reads_the_same_as_text_and_as_xml(name):
    one = only((FOLDER / f"{name}.xml").read_bytes())
    text = metar.split((FOLDER / f"{name}.tac").read_text(encoding="utf-8"))[0]
    assert differing(one, as_text(text, one)) == []


@pytest.mark.parametrize("version", ["3.0", "2021-2", "2023-1", "2025-2", "2031-1"])
def test_every_version_since_3_is_read_by_local_names(version):
    one = only(x.metar(x.wind("240", "8"), version=version))
    assert (one.station, one.wind_kt) == ("ZZZA", 8.0)


@pytest.mark.parametrize("version", ["1.1", "2.1", "2.0"])
def test_an_older_version_is_refused(version):
    with pytest.raises(ReportError, match=f"IWXXM {version} is too old"):
        iwxxm.read(x.metar(x.wind("240", "8"), version=version))


@pytest.mark.parametrize(
    ("speed", "unit", "kt"),
    [
        ("4.0", "m/s", 4 * 3600 / 1852),
        ("4", "[kn_i]", 4.0),
        ("36", "km/h", 36 * 1000 / 1852),
        ("4.5", "m/s", 4.5 * 3600 / 1852),
    ],
)
def test_speeds_are_converted_once_and_exactly(speed, unit, kt):
    one = only(x.metar(x.wind("240", speed, unit=unit)))
    assert one.wind_kt == pytest.approx(kt, rel=1e-12)
    assert isnan(one.gust_kt)


def test_a_value_finer_than_the_code_is_carried_and_said():
    one = only(x.metar(x.air("-0.4", "-2.6", "1013.2") + x.wind("240", "8")))
    assert (one.temperature_c, one.dew_point_c, one.pressure_hpa) == (-0.4, -2.6, 1013.2)
    assert (one.temperature_doubt_c, one.dew_point_doubt_c) == (0.05, 0.05)
    group = next(g for g in one.groups if g.kind == "temperature")
    assert group.text == "M00/M03"
    assert "to be exact: -0.4 °C, -2.6 °C" in group.meaning


@pytest.mark.parametrize(("said", "text", "sign"), [("-0.0", "M00", -1), ("0.0", "00", 1), ("0", "00", 1)])
def test_just_below_zero_keeps_its_sign(said, text, sign):
    one = only(x.metar(x.air(said, "-5", "1013")))
    assert next(g for g in one.groups if g.kind == "temperature").text == f"{text}/M05"
    assert copysign(1, one.temperature_c) == sign
    assert one.temperature_doubt_c == 0.5


def test_a_base_in_metres_is_converted_to_feet():
    inside = x.cloud(x.layer("BKN", "300").replace("[ft_i]", "m"))
    (layer,) = only(x.metar(inside)).cloud
    assert layer.base_ft == pytest.approx(300 / 0.3048, rel=1e-12)


@pytest.mark.parametrize(
    ("inside", "field", "text"),
    [
        (x.empty("surfaceWind", "notObservable"), "wind_kt", "/////KT"),
        (x.wind(speed="8", more=x.empty("meanWindDirection", "notObservable")), "wind_direction_deg", "///08KT"),
        (x.empty("visibility", "notObservable"), "visibility_m", "////"),
        (x.empty("airTemperature", "missing") + x.empty("dewpointTemperature", "missing"), "temperature_c", "/////"),
        (x.value("airTemperature", "1.0", "Cel") + x.empty("dewpointTemperature", "missing"), "dew_point_c", "01///"),
        (x.empty("qnh", "missing"), "pressure_hpa", "Q////"),
    ],
)
def test_what_is_empty_for_a_reason_is_missing_and_never_a_default(inside, field, text):
    one = only(x.metar(inside))
    assert isnan(getattr(one, field))
    assert text in [group.text for group in one.groups]
    assert next(group for group in one.groups if group.text == text).status == "decoded"


@pytest.mark.parametrize(
    ("inside", "expected"),
    [
        (x.empty("presentWeather", "notObservable"), {"weather_missing": True, "weather": ()}),
        ("", {"weather_missing": False, "weather": (), "sky": "missing"}),
        (x.empty("cloud", "nothingOfOperationalSignificance"), {"sky": "NSC", "cloud": ()}),
        (x.empty("cloud", "notDetectedByAutoSystem"), {"sky": "NCD", "cloud": ()}),
        (x.empty("cloud", "notObservable"), {"sky": "missing"}),
        (x.cloud(x.empty("layer", "notDetectedByAutoSystem")), {"sky": "NCD"}),
        (x.cloud(x.layer("SKC", "0")), {"sky": "SKC"}),
        (x.cloud(x.value("verticalVisibility", "100", "[ft_i]")), {"vertical_visibility_ft": 100.0, "sky": "layers"}),
        (x.weather("%2BSHSN"), {"weather": ("+SHSN",)}),
        (x.weather("XYZ"), {"weather": ()}),
        (x.weather("FZRA", "recentWeather"), {"recent_weather": ("FZRA",), "weather": ()}),
    ],
)
def test_weather_and_cloud_are_read_by_their_codes(inside, expected):
    one = only(x.metar(inside))
    assert {name: getattr(one, name) for name in expected} == expected


def test_a_code_that_is_none_is_shown_as_not_decoded():
    assert [g.text for g in only(x.metar(x.weather("XYZ"))).groups if g.status == "not decoded"] == ["XYZ"]


@pytest.mark.parametrize("code", ["XYZ", "OVC010", "SNX"])
def test_a_weather_element_that_holds_no_weather_leaves_the_weather_unknown(code):
    one = only(x.metar(x.weather(code)))
    assert (one.weather, one.weather_missing) == ((), True)
    assert not [layer for layer in one.cloud if layer.base_ft == 1000]


def test_a_layer_without_amount_base_or_type_is_not_a_clear_sky():
    inside = "<iwxxm:layer><iwxxm:CloudLayer>" + "".join(
        x.empty(name, "notObservable") for name in ("amount", "base", "cloudType")
    )
    one = only(x.metar(x.cloud(inside + "</iwxxm:CloudLayer></iwxxm:layer>", x.layer("BKN", "1000"))))
    assert [layer.cover for layer in one.cloud] == ["///", "BKN"]
    assert isnan(one.cloud[0].base_ft)
    assert one.cloud[1] == CloudLayer("BKN", 1000.0, "")


def test_cavok_and_an_automatic_station_are_read_from_attributes():
    one = only(
        x.metar(
            x.wind("240", "8"),
            observed='cloudAndVisibilityOK="true"',
            attributes='reportStatus="CORRECTION" automatedStation="true"',
        )
    )
    assert (one.automatic, one.corrected, one.sky, one.visibility_m, one.visibility_is) == (
        True,
        True,
        "CAVOK",
        10_000,
        "at least",
    )
    assert one.raw == "METAR COR ZZZA 100550Z AUTO 24008KT CAVOK"


@pytest.mark.parametrize(
    ("inside", "text", "expected"),
    [
        (x.wind(None, "3", variable="true"), "VRB03KT", {"wind_variable": True, "wind_kt": 3.0}),
        (x.wind("0", "0"), "00000KT", {"wind_direction_deg": 0.0, "wind_kt": 0.0}),
        (
            x.wind("270", "99", more="<iwxxm:meanWindSpeedOperator>ABOVE</iwxxm:meanWindSpeedOperator>"),
            "270P99KT",
            {"wind_is": "at least", "wind_kt": 99.0},
        ),
        (
            x.wind(
                "270",
                "12",
                more=x.value("extremeClockwiseWindDirection", "300", "deg")
                + x.value("extremeCounterClockwiseWindDirection", "220", "deg"),
            ),
            "27012KT 220V300",
            {"wind_from_deg": 220.0, "wind_to_deg": 300.0},
        ),
    ],
)
def test_winds_are_written_out_as_the_code_has_them(inside, text, expected):
    one = only(x.metar(inside))
    assert one.raw == f"METAR ZZZA 100550Z {text}"
    assert {name: getattr(one, name) for name in expected} == expected


@pytest.mark.parametrize(
    ("inside", "shown"),
    [
        (
            x.value("airTemperature", "280.1", "K") + x.value("dewpointTemperature", "1", "Cel"),
            "airTemperature 280.1 K",
        ),
        (x.wind("240", "8", unit="furlong/fortnight"), "meanWindSpeed 8 furlong/fortnight"),
        (x.value("airTemperature", "warm", "Cel"), "airTemperature warm Cel"),
        (x.value("airTemperature", "1e999", "Cel"), "airTemperature 1e999 Cel"),
        (x.value("airTemperature", "NaN", "Cel"), "airTemperature NaN Cel"),
        (x.value("moonTemperature", "3", "Cel"), "moonTemperature 3 Cel"),
    ],
)
def test_a_value_that_is_not_understood_is_shown_and_not_used(inside, shown):
    one = only(x.metar(inside))
    assert shown in [group.text for group in one.groups if group.status == "not decoded"]
    assert isnan(one.temperature_c) and isnan(one.wind_kt)


@pytest.mark.parametrize(
    ("inside", "status"),
    [
        (x.wind("990", "8"), "conflict"),
        (x.wind("240", "20", "12"), "conflict"),
        (x.wind("240", "900"), "conflict"),
        (x.air("99", "1", "1013"), "conflict"),
        (x.visibility("-5"), "conflict"),
    ],
)
def test_impossible_values_are_no_better_than_in_text(inside, status):
    assert status in {group.status for group in only(x.metar(inside)).groups}


def test_a_nil_report_is_nil_single_or_collected():
    nil = x.report("METAR", "ZZZB", "2026-01-10T05:50:00Z", x.empty("observation", "missing"))
    none = x.report("TAF", "ZZZB", "2026-01-10T05:00:00Z", x.empty("baseForecast", "missing"))
    first, second = iwxxm.read(x.collected(nil, none))
    assert (first.kind, first.nil, first.raw) == ("METAR", True, "METAR ZZZB 100550Z NIL")
    assert (second.kind, second.nil, second.raw) == ("TAF", True, "TAF ZZZB 100500Z NIL")
    assert second.valid_from == second.valid_to == second.issued


def test_a_bulletin_gives_every_report_in_order():
    found = iwxxm.read(x.collected(x.ICAO["A3-1"][1], x.ICAO["A5-1"][1], x.ICAO["A3-2"][1], x.ICAO["A5-2"][1]))
    assert [(one.kind, one.raw) for one in found] == [
        (text.split()[0], text) for text in (x.ICAO[name][0] for name in ("A3-1", "A5-1", "A3-2", "A5-2"))
    ]


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        ("METAR", "METAR ZZZA 100550Z 24008KT 9999 SHROOMS 01/M00 Q1013"),
        ("TAF", "TAF ZZZA 100500Z 1006/1112 24008KT 9999 SHROOMS TEMPO 1008/1010 SN"),
    ],
)
def test_a_failed_translation_is_read_from_its_text(kind, text):
    time = "2026-01-10T05:50:00Z" if kind == "METAR" else "2026-01-10T05:00:00Z"
    one = only(x.report(kind, "ZZZA", time, "", attributes=f'translationFailedTAC="{text}"'))
    assert differing(one, as_text(text, one)) == []


@pytest.mark.parametrize("kind", ["METAR", "TAF"])
@pytest.mark.parametrize("text", ["nothing of use", "", "METAR", "TAF"])
def test_a_failed_translation_without_a_readable_text_is_one_group_that_is_not_decoded(kind, text):
    one = only(x.report(kind, "ZZZA", "2026-01-10T05:00:00Z", "", attributes=f'translationFailedTAC="{text}"'))
    assert (one.station, one.kind, [group.status for group in one.groups]) == ("ZZZA", kind, ["not decoded"])


def test_a_test_message_says_that_it_is_not_for_use():
    usage = 'permissibleUsage="NON-OPERATIONAL" permissibleUsageReason="EXERCISE"'
    for one in (only(x.metar(x.wind("240", "8"), attributes=usage)), only(x.taf("", attributes=usage))):
        assert [g.meaning for g in one.groups if g.kind == "usage"] == ["a test or an exercise: not for use"]


@pytest.mark.parametrize(
    ("indicator", "expected", "probability"),
    [
        ("BECOMING", "BECMG", nan),
        ("TEMPORARY_FLUCTUATIONS", "TEMPO", nan),
        ("PROBABILITY_30", "PROB30", 0.3),
        ("PROBABILITY_40", "PROB40", 0.4),
        ("PROBABILITY_30_TEMPORARY_FLUCTUATIONS", "PROB30 TEMPO", 0.3),
        ("PROBABILITY_40_TEMPORARY_FLUCTUATIONS", "PROB40 TEMPO", 0.4),
    ],
)
def test_every_kind_of_change_reads_as_in_text(indicator, expected, probability):
    xml = x.taf(
        x.forecast("baseForecast", x.wind("240", "8", forecast=True), attributes='cloudAndVisibilityOK="true"')
        + x.forecast(
            "changeForecast",
            x.prevailing("800") + x.weather("-SN", "weather"),
            indicator=indicator,
            when=x.period("phenomenonTime", "2026-01-10T22:00:00Z", "2026-01-11T00:00:00Z"),
        )
    )
    one = only(xml)
    text = f"TAF ZZZA 100500Z 1006/1112 24008KT CAVOK {expected} 1022/1024 0800 -SN"
    assert differing(one, as_text(text, one)) == []
    assert one.changes[0].probability == pytest.approx(probability, nan_ok=True)


def test_temperatures_of_a_forecast_read_as_in_text():
    inside = (
        "<iwxxm:temperature><iwxxm:AirTemperatureForecast>"
        + x.value("maximumAirTemperature", "2", "Cel")
        + x.instant("maximumAirTemperatureTime", "2026-01-10T14:00:00Z")
        + x.value("minimumAirTemperature", "-5", "Cel")
        + x.instant("minimumAirTemperatureTime", "2026-01-11T06:00:00Z")
        + "</iwxxm:AirTemperatureForecast></iwxxm:temperature>"
    )
    base = (
        x.wind("240", "8", forecast=True)
        + x.prevailing("10000", above=True)
        + x.cloud(x.layer("BKN", "2000"), forecast=True)
    )
    one = only(x.taf(x.forecast("baseForecast", base + inside)))
    text = "TAF ZZZA 100500Z 1006/1112 24008KT 9999 BKN020 TX02/1014Z TNM05/1106Z"
    assert differing(one, as_text(text, one)) == []
    assert len(one.temperatures) == 2


UNREADABLE = [
    "",
    x.period("phenomenonTime", "soon", "later"),
    x.period("phenomenonTime", "2026-01-12T10:00:00Z", "2026-01-12T08:00:00Z"),
]


@pytest.mark.parametrize("when", UNREADABLE)
@pytest.mark.parametrize("indicator", ["TEMPORARY_FLUCTUATIONS", "BECOMING", "FROM"])
def test_a_change_without_a_readable_time_may_come_at_any_time_of_its_period(when, indicator):
    base = x.forecast("baseForecast", x.prevailing("9000"))
    change = x.forecast("changeForecast", x.weather("SN", "weather"), indicator=indicator, when=when)
    one = only(x.taf(base + change))
    (change,) = one.changes
    assert (change.start, change.end, change.timed) == (one.valid_from, one.valid_to, False)
    assert change.elements.weather == ("SN",)
    assert "conflict" in {group.status for group in one.groups}


def test_an_unknown_kind_of_change_is_kept_as_possible():
    when = x.period("phenomenonTime", "2026-01-10T08:00:00Z", "2026-01-10T10:00:00Z")
    change = x.forecast("changeForecast", x.weather("SN", "weather"), indicator="SOMETIMES", when=when)
    one = only(x.taf(x.forecast("baseForecast", x.prevailing("9000")) + change))
    assert [(c.certain, c.elements.weather) for c in one.changes] == [("temporary", ("SN",))]
    assert [g.status for g in one.groups if "SOMETIMES" in g.meaning] == ["conflict"]


@pytest.mark.parametrize(
    ("xml", "word"),
    [
        (x.report("METAR", "", "2026-01-10T05:50:00Z", ""), "no station"),
        (x.report("METAR", "ZZ<!-- -->", "2026-01-10T05:50:00Z", ""), "no station"),
        (x.report("METAR", "ZZZA", "", ""), "no time of observation"),
        (x.report("TAF", "ZZZA", "2026-01-10T05:50:00", ""), "no time of issue"),
        (x.report("TAF", "ZZZA", "2026-13-10T05:50:00Z", ""), "no time of issue"),
        ("<weather/>", "no METAR, SPECI or TAF"),
        (x.report("TAF", "ZZZA", "2026-01-10T05:00:00Z", x.forecast("baseForecast", "")), "no validity for ZZZA"),
        (x.taf(x.forecast("baseForecast", ""), valid=("2026-01-10T06:00:00Z", "2026-02-10T06:00:00Z")), "no validity"),
    ],
)
def test_a_document_without_a_report_station_or_time_is_refused(xml, word):
    with pytest.raises(ReportError, match=word):
        iwxxm.read(xml)


def test_a_report_is_as_old_as_its_observation_and_not_as_its_issue():
    xml = x.metar("").replace("05:50:00Z", "05:58:00Z", 1)
    assert xml.index("05:58:00Z") < xml.index("observationTime")
    assert only(xml).issued == datetime(2026, 1, 10, 5, 50, tzinfo=UTC)


def test_the_report_at_fault_in_a_bulletin_is_named():
    with pytest.raises(ReportError, match="XML report 2 of 2: no station"):
        iwxxm.read(x.collected(x.metar(""), x.report("METAR", "", "2026-01-10T05:50:00Z", "")))


def test_times_with_another_offset_and_hour_24_are_utc():
    assert only(x.report("TAF", "ZZZA", "2026-01-10T07:00:00+02:00", "")).issued == datetime(2026, 1, 10, 5, tzinfo=UTC)
    one = only(
        x.taf(x.forecast("baseForecast", x.prevailing("9000")), valid=("2026-01-10T06:00:00Z", "2026-01-10T24:00:00Z"))
    )
    assert one.valid_to == datetime(2026, 1, 11, tzinfo=UTC)
    assert one.raw == "TAF ZZZA 100500Z 1006/1024 9000"


@pytest.mark.parametrize("year", ["9999", "0001"])
@pytest.mark.parametrize("which", ["issue", "validity", "change", "highest", "observation", "trend"])
def test_a_date_at_an_end_of_the_calendar_is_refused_in_one_line(year, which):
    change = x.forecast(
        "changeForecast",
        x.weather("SN", "weather"),
        indicator="TEMPORARY_FLUCTUATIONS",
        when=x.period("phenomenonTime", "2026-01-10T08:00:00Z", "2026-01-10T10:00:00Z"),
    )
    highest = (
        "<iwxxm:temperature><iwxxm:AerodromeAirTemperatureForecast>"
        + x.value("maximumAirTemperature", "2", "Cel")
        + x.instant("maximumAirTemperatureTime", "2026-01-10T14:00:00Z")
        + "</iwxxm:AerodromeAirTemperatureForecast></iwxxm:temperature>"
    )
    forecast = x.taf(x.forecast("baseForecast", x.prevailing("9000") + highest) + change)
    trend = x.trend("BECOMING", x.instant("phenomenonTime", "2026-01-10T07:00:00Z"), "AT", x.prevailing("800"))
    report = x.metar("", after=trend)
    text, time = {
        "issue": (forecast, "2026-01-10T05:00:00Z"),
        "validity": (forecast, "2026-01-11T12:00:00Z"),
        "change": (forecast, "2026-01-10T10:00:00Z"),
        "highest": (forecast, "2026-01-10T14:00:00Z"),
        "observation": (report, "2026-01-10T05:50:00Z"),
        "trend": (report, "2026-01-10T07:00:00Z"),
    }[which]
    assert time in text
    edge = f"{year}-12-31T23:59:59Z" if year == "9999" else f"{year}-01-01T00:00:00Z"
    for at in (edge, edge.replace("Z", "-14:00"), edge.replace("Z", "+14:00")):
        with pytest.raises(ReportError, match="outside the calendar") as caught:
            iwxxm.read(text.replace(time, at))
        assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("inside", "kind"),
    [
        (x.cloud(x.layer("OVC", "-500")), "cloud"),
        (x.cloud(x.layer("OVC", "-40")), "cloud"),
        (x.cloud(x.layer("OVC", "200000")), "cloud"),
        (x.cloud(x.value("verticalVisibility", "-40", "[ft_i]")), "vertical visibility"),
        (x.wind("240", "-0.4"), "wind"),
        (x.wind("-0.4", "8"), "wind"),
        (x.wind("240", "8", "-0.4"), "wind"),
        (x.wind("240", "-8"), "wind"),
        (x.visibility("-0.3"), "visibility"),
        (x.visibility("999999999"), "visibility"),
        (x.value("qnh", "-1013", "hPa"), "pressure"),
    ],
)
def test_what_lies_below_zero_or_beyond_what_can_be_is_in_conflict_and_not_used(inside, kind):
    one = only(x.metar(inside))
    assert [group.status for group in one.groups if group.kind == kind] == ["conflict"]
    assert not one.cloud
    assert isnan(one.wind_kt) and isnan(one.visibility_m) and isnan(one.pressure_hpa)
    assert isnan(one.vertical_visibility_ft)


def test_cloud_below_ground_leaves_the_cloud_of_a_change_unknown():
    when = x.period("phenomenonTime", "2026-01-10T08:00:00Z", "2026-01-10T10:00:00Z")
    layers = x.cloud(x.layer("OVC", "-500"), forecast=True)
    change = x.forecast("changeForecast", layers, indicator="TEMPORARY_FLUCTUATIONS", when=when)
    (found,) = only(x.taf(x.forecast("baseForecast", x.prevailing("9000")) + change)).changes
    assert (found.elements.mentioned, found.elements.sky) == ({"cloud"}, "missing")


@pytest.mark.parametrize("value", ["99", "-95"])
def test_a_forecast_temperature_in_xml_has_the_bounds_of_one_in_text(value):
    inside = (
        "<iwxxm:temperature><iwxxm:AerodromeAirTemperatureForecast>"
        + x.value("maximumAirTemperature", value, "Cel")
        + x.instant("maximumAirTemperatureTime", "2026-01-10T14:00:00Z")
        + "</iwxxm:AerodromeAirTemperatureForecast></iwxxm:temperature>"
    )
    one = only(x.taf(x.forecast("baseForecast", x.prevailing("9000") + inside)))
    assert one.temperatures == ()
    assert [group.status for group in one.groups if group.kind == "temperature"] == ["conflict"]
