"""Which station is gone by, how it lies, and what is said at the top: distances by hand, invented stations.

A degree of latitude is 6371 km · π/180 = 111.19 km.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from math import isnan, nan

import pytest
from subject import Place, Site, metar, places, stations, taf
from worked import HERE, NOW, build, clock, departure

# 61.4 N 9.8 E, 300 m: one station 0.1° north at 80 m, one 0.5° south at 700 m, one at the field itself
FIELD = Place("an invented field", None, 61.4, 9.8, 300.0)
TABLE = {
    "ZZZN": Place("north", "ZZZN", 61.5, 9.8, 80.0),
    "ZZZS": Place("south", "ZZZS", 60.9, 9.8, 700.0),
    "ZZZF": Place("field", "ZZZF", 61.4, 9.8, 300.0),
}


@pytest.fixture(autouse=True)
def table(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(places, "look_up", TABLE.get)


def reports(*texts: str) -> list[object]:
    """Station and time, or station, time and NIL."""
    read = []
    for text in texts:
        station, time, *nil = text.split()
        body = "NIL" if nil else "24008KT CAVOK 03/01 Q1013"
        read.append(metar.read(f"METAR {station} 10{time}Z {body}", now=NOW + timedelta(minutes=10)))
    return read


def test_how_a_station_lies() -> None:
    north, south = stations.site("ZZZN", FIELD, places), stations.site("ZZZS", FIELD, places)
    assert (north.distance_km, north.height_difference_m) == (pytest.approx(11.12, abs=0.01), 220)
    assert (south.distance_km, south.height_difference_m) == (pytest.approx(55.6, abs=0.05), -400)
    # the place's own station needs no table, one that is not in the table is not known
    assert stations.site("ZZZX", Place("x", "ZZZX", 1.0, 2.0), places) == Site(0, 0)
    unknown = stations.site("ZZZX", FIELD, places)
    assert isnan(unknown.distance_km) and isnan(unknown.height_difference_m)


@pytest.mark.parametrize(
    ("given", "best"),
    [
        (("ZZZS 0530", "ZZZN 0500"), "ZZZN"),  # the nearest, though older
        (("ZZZS 0530", "ZZZN 0530 NIL"), "ZZZS"),  # a NIL says nothing
        (("ZZZX 0530", "ZZZS 0430"), "ZZZS"),  # where one is not known it is the farthest
        (("ZZZX 0500", "ZZZY 0530"), "ZZZY"),  # of two unknown the newer
        (("ZZZY 0530", "ZZZX 0530"), "ZZZX"),  # then by name
        (("ZZZN 0530 NIL", "ZZZS 0530 NIL"), "ZZZN"),
    ],
)
def test_the_station_that_is_gone_by(given: tuple[str, ...], best: str) -> None:
    for texts in (given, given[::-1]):
        station, lies, notes = stations.choose(reports(*texts), [], FIELD, places)  # type: ignore[arg-type]
        assert station == best
        assert str(lies) == str(stations.site(best, FIELD, places))
        other = next(text[:4] for text in given if not text.startswith(best))
        assert notes[0] == f"Reports of several stations were given: the brief goes by {best}. Not used: {other}."


def test_without_a_report_the_forecasts_station_is_gone_by() -> None:
    said = taf.read("TAF ZZZN 100500Z 1005/1111 24008KT CAVOK", now=NOW)
    station, lies, _ = stations.choose([], [said], FIELD, places)
    assert station == "ZZZN" and lies.distance_km == pytest.approx(11.12, abs=0.01)
    # a report's station counts even where a forecast's is nearer
    assert stations.choose(reports("ZZZS 0530"), [said], FIELD, places)[0] == "ZZZS"  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("station", "said"),
    [
        # 6.12 km beyond the first five at 0.03 °C, and 220 m at 9.8 °C a km: 0.18 + 2.16
        ("ZZZN", "ZZZN is 11 km away and 220 m below: temperatures here may differ by 2.3 °C more."),
        # 50.6 km at 0.03 are 1.52, 400 m are 3.92
        ("ZZZS", "ZZZS is 56 km away and 400 m above: temperatures here may differ by 5.4 °C more."),
        ("ZZZX", "The position of ZZZX is not known: its weather may be that of another place."),
        ("ZZZF", None),
    ],
)
def test_what_is_said_of_a_station_elsewhere(station: str, said: str | None) -> None:
    notes = stations.choose(reports(f"{station} 0530"), [], FIELD, places)[2]  # type: ignore[arg-type]
    assert notes == (() if said is None else (said,))
    own = Place("x", station, 61.4, 9.8)
    assert stations.choose(reports(f"{station} 0530"), [], own, places)[2] == ()  # type: ignore[arg-type]


def test_a_height_is_said_from_ten_metres_and_a_distance_from_one_kilometre() -> None:
    level = Place("level", None, 61.4, 9.8, 89.0)
    assert "above" not in stations.choose(reports("ZZZN 0530"), [], level, places)[2][0]  # type: ignore[arg-type]
    higher = Place("higher", None, 61.4, 9.8, 90.0)
    assert "and 10 m below" in stations.choose(reports("ZZZN 0530"), [], higher, places)[2][0]  # type: ignore[arg-type]
    unknown = Place("unknown", None, 61.4, 9.8)
    assert stations.choose(reports("ZZZN 0530"), [], unknown, places)[2] == (  # type: ignore[arg-type]
        "ZZZN is 11 km away: temperatures here may differ by 0.2 °C more.",
    )


@pytest.mark.parametrize(
    ("site", "temperature_c", "wind_kt", "away_km"),
    [
        (Site(0.0, 0.0), 0, 0, 0),
        (Site(5.0, 0.0), 0, 0, 0),
        (Site(15.0, 0.0), 0.3, 1.0, 10),
        (Site(15.0, 100.0), 0.3 + 0.98, 1.0, 10),
        (Site(15.0, -100.0), 0.3 + 0.98, 1.0, 10),
        (Site(500.0, nan), 2.0, 5.0, 495),  # both have an end
        (Site(), 0.15, 0.5, 5),  # not known: taken to be 10 km away
    ],
)
def test_the_doubt_of_distance_and_height(site: Site, temperature_c: float, wind_kt: float, away_km: float) -> None:
    assert (site.temperature_doubt_c, site.wind_doubt_kt, site.away_km) == pytest.approx(
        (temperature_c, wind_kt, away_km)
    )


# the clock


def test_reports_timed_after_now() -> None:
    early, late, later = reports("ZZZN 0539"), reports("ZZZN 0540"), reports("ZZZN 0541")
    now = int(clock(5.5))
    # ten minutes are the clock's
    assert stations.timely([*early, *late], now) == ((*early, *late), ())  # type: ignore[list-item]
    kept, notes = stations.timely([*early, *later], now)  # type: ignore[list-item]
    assert kept == tuple(early) and notes == ("Reports timed after now are not used: 0541Z. Check the clock.",)
    # where all are later, or what is not says nothing, the earliest of them is used
    kept, notes = stations.timely([*later, *reports("ZZZN 0550")], now)  # type: ignore[list-item]
    assert kept == tuple(later) and notes == ("The report is timed 11 min after now: check the clock.",)
    nil = reports("ZZZN 0530 NIL")
    kept, notes = stations.timely([*nil, *later], now)  # type: ignore[list-item]
    assert kept == (*nil, *later) and "11 min" in notes[0]


# what is said at the top


def top(text: str, *, forecast: str | None = None, ahead_min: float = 60, **said: object) -> tuple[str, ...]:
    used = metar.read_all(text, now=NOW) if text else []
    read = taf.read(forecast, now=NOW) if forecast else None
    found = build(text, forecast=forecast, ahead_min=ahead_min, **said)  # type: ignore[arg-type]
    notes = stations.notes(used, read, found, departure(ahead_min, **said))
    # a brief without a forecast says so, whatever else there is to say
    return tuple(note for note in notes if not note.startswith("No forecast was given: "))


def fair(*times: str) -> str:
    return "\n".join(f"METAR ZZZA 10{time}Z 24008KT 9999 SCT030 03/01 Q1013" for time in times)


def test_a_report_is_old_after_ninety_minutes() -> None:
    assert top(fair("0400"), ahead_min=10) == ()
    assert top(fair("0359"), ahead_min=1, forecast="TAF ZZZA 100300Z 1003/1109 24008KT 9999 SCT030") == (
        "The report is 1 h 31 min old: get a newer one.",
    )


def test_without_a_report_that_is_said() -> None:
    said = top("", forecast="TAF ZZZA 100500Z 1005/1111 24008KT 9999 SCT030")
    assert said == ("No report was given, only a forecast: dew point and what falls now are not known.",)


def test_what_no_forecast_covers_is_said_from_two_hours_after_the_report_or_the_end_of_the_forecast() -> None:
    # reported 05:30, take-off 15 minutes after off-block: 07:30 is the last moment that the report speaks for
    assert top(fair("0530"), ahead_min=105) == ()

    def from_when(*notes: str) -> list[str]:
        return [note.split("what falls after ")[1] for note in notes if "what falls after" in note]

    assert from_when(*top(fair("0530"), ahead_min=106)) == ["0730Z is not known."]
    short, long = (f"TAF ZZZA 100500Z 1005/10{hour} 24008KT 9999 SCT030" for hour in ("09", "12"))
    assert from_when(*top(fair("0530"), ahead_min=300, forecast=short)) == ["0900Z is not known."]
    assert top(fair("0530"), ahead_min=300, forecast=long) == ()
    # take-off at 09:00 to the minute
    assert top(fair("0530"), ahead_min=195, forecast=short) == ()
    # a forecast that ends before the report's two hours takes nothing from them
    sooner = top(fair("0530"), ahead_min=200, forecast=short.replace("1009", "1006"))
    assert from_when(*sooner) == ["0730Z is not known."]
    assert from_when(*top("", forecast=short, ahead_min=300)) == ["0900Z is not known."]
    # six hours back the day is told: reported at 21:31 and 21:30 of the day before, now 05:30
    for time, until in (("2131", "2331Z"), ("2130", "09/2330Z")):
        assert from_when(*top(fair(time).replace(" ZZZA 10", " ZZZA 09"))) == [f"{until} is not known."]


def test_report_and_forecast_that_differ_are_named() -> None:
    said = top(fair("0530"), forecast="TAF ZZZA 100500Z 1005/1111 24020KT 9999 SCT030")
    assert said == ("Report and forecast differ (wind 8 kt reported and 20 kt forecast): the worse of both counts.",)


def test_groups_that_share_a_lane_are_named() -> None:
    groups = " ".join(f"TEMPO 1006/101{n} 24012KT" for n in range(4))
    said = top(fair("0530"), forecast=f"TAF ZZZA 100500Z 1005/1111 24008KT 9999 SCT030 {groups}")
    assert said == (
        "The forecast has many groups at once: TEMPO 1006/1013 count together with others, the worse of each.",
    )


@pytest.mark.parametrize(
    ("times", "since", "spans"),
    [
        # hourly reports speak for 70 minutes, the last one for two hours
        (("0300", "0400", "0500"), 3.0, None),
        (("0300", "0500"), 3.0, "0300–0500Z"),
        (("0200", "0300", "0400"), 2.0, None),
        (("0200", "0300"), 2.0, "0300–0530Z"),
        (("0230", "0330"), 2.5, None),
        (("0229", "0329"), 2.5, "0329–0530Z"),
        # a report before the parking speaks for its beginning, if it is not too old
        (("0250", "0350", "0450"), 3.5, None),
        (("0219", "0450"), 3.5, "0330–0450Z"),
        (("0450",), 3.5, "0330–0450Z"),
        (("0415", "0515"), 3.5, None),
        (("0220", "0330", "0430"), 3.5, None),
        # two silences that meet are one, with the report that stands alone in it, and two that do not are two
        (("0100", "0300"), 1.0, "0100–0530Z but that of 0300Z"),
        (("0000", "0200", "0300", "0500"), 0.0, "0000–0200Z, 0300–0500Z"),
    ],
)
def test_gaps_of_the_time_parked(times: tuple[str, ...], since: float, spans: str | None) -> None:
    said = [note for note in top(fair(*times), parked_since=int(clock(since))) if "time parked" in note]
    wanted = [] if spans is None else [f"No reports of the time parked for {spans}: what fell then is not known."]
    assert said == wanted


def test_a_report_from_before_the_parking_speaks_for_its_beginning_and_for_no_more() -> None:
    # 02:25 speaks until 03:35; the next one came at 04:25
    (said,) = top(fair("0225", "0425"), ahead_min=15, parked_since=int(clock(3.5)))
    assert said.startswith("No reports of the time parked for ") and "–0425Z" in said


def test_a_gap_of_days_has_days_and_a_history_longer_than_48_hours_is_cut() -> None:
    said = top(fair("0500"), parked_since=int(clock(5, day=8)))
    assert said == (
        "Parked for longer than 48 h: what fell before 08/0530Z is not known.",
        "No reports of the time parked for 08/0500–10/0500Z: what fell then is not known.",
    )
    assert len(top(fair("0500"), parked_since=int(clock(5.5, day=8)))) == 1


def test_nothing_is_said_of_a_time_parked_that_was_not_stated() -> None:
    assert top(fair("0100", "0500")) == ()
    assert Site(0.0, 0.0) == HERE


# contradictions


@pytest.mark.parametrize(
    ("report", "forecast", "said"),
    [
        ("24008KT 9999 SCT030", "24008KT 9999 SCT030", ()),
        ("24008KT 9999 SCT030", "24018KT 9999 SCT030", ("wind 8 kt reported and 18 kt forecast",)),
        ("24018KT 9999 SCT030", "24008KT 9999 SCT030", ("wind 18 kt reported and 8 kt forecast",)),
        ("24008KT 9999 SCT030", "24017KT 9999 SCT030", ()),  # nine knots are not ten
        ("/////KT 9999 SCT030", "24018KT 9999 SCT030", ()),
        ("24008KT 9999 -SN SCT030", "24008KT 9999 SCT030", ("frozen or freezing precipitation reported only",)),
        ("24008KT 9999 SCT030", "24008KT 9999 -SN SCT030", ("frozen or freezing precipitation forecast only",)),
        ("24008KT 9999 TS SCT030", "24008KT 9999 SCT030", ("thunderstorm reported only",)),
        ("24008KT 9999 -RA SCT030", "24008KT 9999 SCT030", ()),
        # a third of the other, or less, is a difference; 9999 counts as 10 km
        ("24008KT 3000 BR SCT030", "24008KT 9999 SCT030", ("visibility 3000 m reported and 10000 m forecast",)),
        ("24008KT 9999 SCT030", "24008KT 3000 BR SCT030", ("visibility 10000 m reported and 3000 m forecast",)),
        ("24008KT 3500 BR SCT030", "24008KT 9999 SCT030", ()),
        ("24008KT 2000 BR SCT030", "24008KT 6000 SCT030", ()),  # three times is not more than three times
        ("AUTO 24008KT 9999 // SCT030", "24008KT 9999 -SN SCT030", ()),
        # beyond 10 km it makes no difference
        ("24008KT 10SM SCT030", "24008KT 3000 BR SCT030", ()),
    ],
)
def test_where_report_and_forecast_do_not_agree(report: str, forecast: str, said: tuple[str, ...]) -> None:
    seen = metar.read(f"METAR ZZZA 100530Z {report} 03/01 Q1013", now=NOW)
    expected = taf.read(f"TAF ZZZA 100500Z 1005/1111 {forecast}", now=NOW)
    assert stations.contradictions(seen, expected) == said


def test_a_forecast_for_another_time_contradicts_nothing() -> None:
    seen = metar.read("METAR ZZZA 100530Z 24008KT 9999 SCT030 03/01 Q1013", now=datetime(2027, 1, 10, 6, tzinfo=UTC))
    for validity in ("1006/1111", "1003/1005"):
        expected = taf.read(f"TAF ZZZA 100300Z {validity} 24040KT 9999 SCT030", now=NOW)
        assert stations.contradictions(seen, expected) == ()


# what nobody foresees


def unforeseen(text: str, ahead_min: float, forecast: str | None = None) -> tuple[str, ...]:
    used = metar.read_all(text, now=NOW) if text else []
    read = taf.read(forecast, now=NOW) if forecast else None
    return stations.notes(used, read, build(text, forecast=forecast, ahead_min=ahead_min), departure(ahead_min))


def test_without_a_forecast_later_weather_is_not_foreseen_from_31_minutes_ahead() -> None:
    assert unforeseen(fair("0530"), 30) == ()
    said = "No forecast was given: weather that begins later is not foreseen."
    assert unforeseen(fair("0530"), 31) == unforeseen(fair("0530"), 105) == (said,)
    # take-off after the two hours that the report speaks for: said once, with the time
    assert unforeseen(fair("0530"), 106) == (
        "No forecast was given for later: weather that begins later is not foreseen, and what falls after 0730Z is not "
        "known.",
    )
    long = "TAF ZZZA 100500Z 1005/1012 24008KT 9999 SCT030"
    assert unforeseen(fair("0530"), 106, long) == ()
    assert unforeseen(fair("0530"), 300, long.replace("1012 ", "1009 ")) == (
        "The forecast ends before take-off: what falls after 0900Z is not known.",
    )


def test_a_report_of_more_than_two_days_says_nothing_of_the_present() -> None:
    def old(hour: float) -> list[str]:
        text = f"METAR ZZZA 08{int(hour):02d}{round(hour % 1 * 60):02d}Z 24008KT 9999 SCT030 03/01 Q1013"
        return [note for note in unforeseen(text, 10) if "present" in note]

    assert old(5.5) == []
    assert old(5.5 - 1 / 60) == ["After 48 h a report says nothing about the present."]
