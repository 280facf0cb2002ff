"""What the time on the stand leaves behind: deposits that stay, treatment, inspections, and reports in any order."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from parked import NOW, brief, conditions, gone, line, lying, night, statuses, when

CENTRAL = 0
CLEARED = "24006KT 9999 OVC025 M02/M07 Q1008"
SNOW = "24006KT 2000 SN OVC010 M02/M03 Q1003"


def hours(start: int, count: int) -> list[int]:
    return [(start + i) % 24 for i in range(count)]


PARKED_IN_SNOW = night(f"2200 {SNOW}", f"2300 {SNOW}", *(f"{hour:02d}00 {CLEARED}" for hour in hours(0, 6)))


def test_snow_that_stopped_five_hours_ago_still_lies_at_minus_two():
    told = brief(PARKED_IN_SNOW, parked_since="2130Z")
    names = ("wing-upper-surface", "de-icing-request", "fuselage-snow")
    assert {statuses(told)[name] for name in names} == {"expected"}
    assert "precipitation" not in told.missing and told.timeline[0]["snow"] is False
    # without the history nothing of it is known, and what is said to be known is not claimed
    alone = brief(PARKED_IN_SNOW[-1])
    assert "fuselage-snow" not in statuses(alone)
    assert "parked since" in alone.not_stated


def test_snow_lies_until_the_skin_has_been_above_zero_long_enough_to_melt_it():
    # 3.5 mm (two hours of moderate snow, 1.75 mm/h). A skin at +3 °C carries 10 W/m²K × 3 K = 30 W/m² to it, against
    # 333.6 kJ/kg that is 30 / 333 600 × 3600 = 0.32 mm/h: in two hours most of it lies, in sixteen none would
    thaw = [f"{hour:02d}00 24015KT 9999 OVC010 03/02 Q1001" for hour in hours(0, 6)]
    short = conditions(night(f"2200 {SNOW}", f"2300 {SNOW}", *thaw), since="2130Z")
    stores = lying(short)
    skin = short.columns["wing_skin_temperature_c"][CENTRAL, when(short, "0300")]
    assert 2.0 < skin < 3.5
    hour_mm = stores.snow_mm[CENTRAL, when(short, "0200")] - stores.snow_mm[CENTRAL, when(short, "0300")]
    assert hour_mm == pytest.approx(10 * skin * 3600 / 333_600, rel=0.15)
    assert (stores.lying[:, when(short, "0500")] == 1).all()

    # a mild day: the same snow, 20 hours at +9 °C: 10 × 9 × 3600 / 333 600 is 1 mm/h
    mild = [f"{hour:02d}00 24015KT 9999 OVC010 09/05 Q1001" for hour in hours(13, 17)]
    long = conditions(night(f"1100 {SNOW}", f"1200 {SNOW}", *mild), since="1030Z")
    assert (lying(long).lying[CENTRAL, when(long, "0500")] == 0).all()


def test_a_deposit_of_which_nobody_knows_whether_it_melted_still_lies():
    lost = "24006KT 9999 OVC025 ///// Q1008"
    told = brief(
        night(f"2200 {SNOW}", f"2300 {SNOW}", *(f"{hour:02d}00 {lost}" for hour in hours(0, 6))), parked_since="2130Z"
    )
    assert statuses(told)["wing-upper-surface"] in ("possible", "likely", "expected")


def test_treatment_takes_away_what_lay_and_not_what_goes_on_falling():
    dry = statuses(brief(PARKED_IN_SNOW, parked_since="2130Z", treated_at="0030Z"))
    assert "fuselage-snow" not in dry and dry["treatment-record"] == "expected"
    falling = night(*(f"{hour:02d}00 {SNOW}" for hour in hours(22, 8)))
    told = statuses(brief(falling, parked_since="2130Z", treated_at="0500Z"))
    for name in ("de-icing-request", "wing-upper-surface", "fuselage-snow", "retreat", "pre-take-off-check"):
        assert told[name] == "expected", name


def test_treatment_before_the_snow_does_nothing_for_it():
    told = statuses(brief(PARKED_IN_SNOW, parked_since="2130Z", treated_at="2145Z"))
    assert told["wing-upper-surface"] == "expected" and told["fuselage-snow"] == "expected"


@pytest.mark.parametrize(
    ("said", "rule"),
    [
        ("24012KT 5000 GR BKN020CB 12/08 Q1004", "hail-inspection"),
        ("24030G48KT 9999 BKN020 12/08 Q0991", "gust-damage-inspection"),
        ("24012KT 5000 TSRA BKN020CB 12/08 Q1004", "lightning-inspection"),
        ("24022G33KT 9999 BKN020 12/08 Q0998", "loose-covers"),
    ],
    ids=["hail", "gale", "storm", "wind"],
)
@pytest.mark.parametrize("treated", [None, "0400Z"])
def test_what_happened_while_parked_asks_for_its_inspection(said, rule, treated):
    quiet = "24006KT 9999 FEW030 12/08 Q1010"
    rows = [f"{hour:02d}00 {quiet}" for hour in hours(0, 6)]
    asked = {"parked_since": "0040Z", "treated_at": treated}
    assert rule not in statuses(brief(night(*rows), **asked))
    rows[2] = f"0200 {said}"
    assert statuses(brief(night(*rows), **asked))[rule] == "expected"
    # it happened before the aircraft came: nothing of it is asked
    after = {"parked_since": "0310Z", "treated_at": treated}
    assert rule not in statuses(brief(night(*rows), **after))


def test_hail_that_passed_does_not_ask_for_treatment_in_warm_air():
    rows = [f"{hour:02d}00 24006KT 9999 OVC030 19/09 Q1010" for hour in hours(0, 6)]
    rows[2] = "0200 24012KT 5000 TSGR OVC020CB 16/12 Q1004"
    told = statuses(brief(night(*rows), parked_since="0010Z"))
    assert told["hail-inspection"] == "expected" and "de-icing-request" not in told


def test_rain_that_fell_before_a_frost_is_asked_about_and_rain_in_the_warm_is_not():
    rain = "24006KT 6000 RA OVC012 04/03 Q0998"
    cold = [f"{hour:02d}00 24006KT 9999 OVC030 M03/M08 Q1008" for hour in hours(1, 5)]
    warm = [f"{hour:02d}00 24006KT 9999 OVC030 08/04 Q1008" for hour in hours(1, 5)]
    assert statuses(brief(night(f"0000 {rain}", *cold), parked_since="2350Z"))["refrozen-water"] == "expected"
    assert "refrozen-water" not in statuses(brief(night(f"0000 {rain}", *warm), parked_since="2350Z"))


def numbers(made):
    return made.advice, made.timeline, made.doors, made.notes


def test_duplicates_and_order_change_nothing():
    base = brief(PARKED_IN_SNOW, parked_since="2130Z")
    texts = PARKED_IN_SNOW + PARKED_IN_SNOW[2:5] + [text.replace("METAR ", "") for text in PARKED_IN_SNOW[:2]]
    for seed in range(3):
        random.Random(seed).shuffle(texts)
        assert numbers(brief(texts, parked_since="2130Z")) == numbers(base)
    assert numbers(brief("\n".join(PARKED_IN_SNOW), parked_since="2130Z")) == numbers(base)


def test_a_correction_replaces_whatever_the_order():
    wrong = night("0200 24006KT 2000 +SN OVC010 M02/M03 Q1003")
    right = night("0200 COR 24006KT 9999 OVC025 M02/M07 Q1008")
    rest = night(*(f"{hour:02d}00 {CLEARED}" for hour in (0, 1, 3, 4, 5)))
    for texts in (rest + wrong + right, right + rest + wrong):
        told = brief(texts, parked_since="2355Z")
        assert "fuselage-snow" not in statuses(told)
        assert numbers(told) == numbers(brief(rest + right, parked_since="2355Z"))
    assert "fuselage-snow" in statuses(brief(rest + wrong, parked_since="2355Z"))


def test_reports_timed_after_now_are_not_used_and_that_is_said():
    later = [f"METAR ZZZA 100550Z {SNOW}", f"METAR ZZZA 100620Z {SNOW}"]
    told = brief(PARKED_IN_SNOW + later, parked_since="2130Z")
    base = brief(PARKED_IN_SNOW, parked_since="2130Z")
    assert told.timeline == base.timeline and told.advice == base.advice
    assert any("timed after now are not used: 0550Z, 0620Z" in note for note in told.notes)
    # what is said of each report: those are not the ones gone by
    used = [report.raw for report in told.reports if report.used]
    assert used == [PARKED_IN_SNOW[-1]]


def test_a_missing_wind_in_the_history_leaves_the_gale_that_was_reported():
    quiet = "24006KT 9999 FEW030 12/08 Q1010"
    rows = [f"{hour:02d}00 {quiet}" for hour in hours(0, 6)]
    rows[2] = "0200 24035G52KT 9999 BKN020 12/08 Q0991"
    blown = brief(night(*rows), parked_since="0010Z")
    rows[3] = "0300 /////KT 9999 FEW030 12/08 Q1010"
    lost = brief(night(*rows), parked_since="0010Z")
    assert statuses(blown)["gust-damage-inspection"] == "expected"
    # it blew in any case; what blew more after it is not known
    assert statuses(lost)["gust-damage-inspection"] in ("expected", "likely", "possible")
    rows[2] = f"0200 {quiet}"
    assert statuses(brief(night(*rows), parked_since="0010Z"))["gust-damage-inspection"] == "cannot tell"


def test_a_history_longer_than_two_days_is_cut_and_the_brief_says_since_when():
    made = brief(PARKED_IN_SNOW, parked_since="2027-01-06T12:00:00Z")
    assert statuses(made)["wing-upper-surface"] == "expected"
    assert line(made, "loose-covers").status == "expected"
    assert any(note.startswith("No reports of the time parked for") for note in made.notes)


def test_one_hourly_report_that_is_missing_is_a_gap_and_a_late_one_is_none():
    rows = [f"{hour:02d}00 {CLEARED}" for hour in hours(0, 6)]
    whole = brief(night(*rows), parked_since="2355Z")
    assert not any("No reports" in note for note in whole.notes)
    holed = brief(night(*rows[:2], *rows[3:]), parked_since="2355Z")
    assert "No reports of the time parked for 0100–0300Z: what fell then is not known." in holed.notes
    assert "fuselage-snow" not in statuses(whole) and statuses(holed)["fuselage-snow"] == "cannot tell"
    # a report that is five minutes late, as some are, speaks for the hour all the same
    late = brief(night(*rows[:2], f"0205 {CLEARED}", *rows[3:]), parked_since="2355Z")
    assert late.notes == whole.notes and statuses(late) == statuses(whole)


def test_half_hourly_reports_are_missed_sooner():
    rows = [f"{hour:02d}{minute:02d} {CLEARED}" for hour in hours(1, 4) for minute in (20, 50)]
    holed = brief(night(*rows[:3], *rows[4:]), parked_since="0115Z")
    assert "No reports of the time parked for 0220–0320Z: what fell then is not known." in holed.notes
    assert statuses(holed)["fuselage-snow"] == "cannot tell"


def test_every_column_of_a_long_night_has_a_value_or_is_known_to_be_missing():
    found = conditions(PARKED_IN_SNOW, since="2130Z")
    for name, column in found.columns.items():
        values = np.broadcast_to(column, found.shape)
        if values.dtype == np.int8 and name not in ("light", "treatment_category"):
            assert set(np.unique(values)) <= {-1, 0, 1}, name
    assert gone(brief(PARKED_IN_SNOW, parked_since="2130Z"), brief(PARKED_IN_SNOW, parked_since="2130Z")) == []
    assert NOW.tzinfo is not None


def days(count: int, *first: str, rest: str) -> list[str]:
    """Hourly reports over some days up to 0500Z of the tenth: the first ones as given, the others alike."""
    start = NOW.replace(minute=0) - timedelta(hours=24 * count)
    said = [*first, *[rest] * (24 * count + 1 - len(first))]
    return [f"METAR ZZZA {start + timedelta(hours=i):%d%H%M}Z {text}" for i, text in enumerate(said)]


@pytest.mark.parametrize("treated", [None, "0300Z"])
def test_what_fell_longer_ago_than_the_history_goes_back_is_not_known_until_treated(treated):
    reports = days(3, SNOW, SNOW, rest="24006KT 9999 OVC025 M05/M12 Q1008")
    told = brief(reports, parked_since=NOW - timedelta(hours=71), treated_at=treated)
    if treated:
        assert "wing-upper-surface" not in statuses(told) and "fuselage-snow" not in statuses(told)
    else:
        assert {statuses(told)[name] for name in ("wing-upper-surface", "fuselage-snow")} == {"cannot tell"}
        assert {statuses(told)[name] for name in ("hail-inspection", "gust-damage-inspection")} == {"cannot tell"}
    assert any("before 08/0510Z" in note and "not known" in note for note in told.notes)
    # two days are looked at in full
    whole = brief(days(1, SNOW, rest=CLEARED), parked_since=NOW - timedelta(hours=23))
    assert not any("longer" in note for note in whole.notes)


def test_a_special_report_counts_however_soon_the_next_one_came():
    # hail at 0216Z, over by 0226Z: between two quarters of an hour
    rows = [f"{hour:02d}00 24006KT 9999 BKN030 12/08 Q1010" for hour in hours(0, 6)]
    squall = "0216 24035G52KT 3000 TSGR BKN020CB 12/08 Q0998"
    told = statuses(
        brief(night(*rows[:3], squall, "0226 24006KT 9999 BKN030 12/08 Q1010", *rows[3:]), parked_since="0010Z")
    )
    for name in ("hail-inspection", "gust-damage-inspection", "lightning-inspection"):
        assert told[name] == "expected", name


def test_snow_that_the_sun_melts_in_frosty_air_is_water_that_freezes_again():
    # noon in April at 61 N: a dark skin in the sun is above 0 °C in air of -1 °C, the gaps in the shade are not
    noon = datetime(2027, 4, 10, 11, 10, tzinfo=UTC)
    sunny = [f"{hour:02d}00 24004KT 9999 SKC M01/M08 Q1020" for hour in (7, 8, 9, 10, 11)]
    rows = night("0400 24004KT 2000 SN OVC010 M02/M03 Q1010", f"0500 {CLEARED}", f"0600 {CLEARED}", *sunny, now=noon)
    found = conditions(rows, since="0330", now=noon)
    at = when(found, "1100", now=noon)
    assert found.columns["wing_skin_temperature_c"][CENTRAL, at] > 0.0
    assert lying(found).water_mm[CENTRAL, at] > 0.0 and lying(found).ice_mm[CENTRAL, at] == 0.0
    told = statuses(brief(rows, now=noon, parked_since="0330Z"))
    assert told["refrozen-water"] in ("possible", "likely", "expected")
    dry = night(*(f"{hour:02d}00 {CLEARED}" for hour in (4, 5, 6)), *sunny, now=noon)
    assert "refrozen-water" not in statuses(brief(dry, now=noon, parked_since="0330Z"))


@pytest.mark.parametrize("extremes", ["TX12/1013Z TNM15/1007Z", "TX19/1007Z TN18/1013Z"])
def test_the_cold_case_is_never_warmer_than_a_forecast_extreme_nor_the_warm_one_colder(extremes):
    found = conditions(
        night(f"0500 {CLEARED}"),
        since="0450",
        ahead_min=240,
        forecast=f"TAF ZZZA 100500Z 1005/1106 24006KT 9999 OVC025 {extremes}",
    )
    air = found.columns["air_temperature_c"]
    # cases: central; cold, moist; clear; warm, dry, windy; cold, windy
    assert (air[[1, 4]] <= air[CENTRAL]).all() and (air[3] >= air[CENTRAL]).all()
    assert abs(air[CENTRAL] - air[CENTRAL, 0]).max() > 10


def test_a_night_without_dew_points_may_have_formed_frost():
    clear = [f"{hour:02d}00 24002KT 9999 SKC M01/// Q1022" for hour in hours(23, 7)]
    told = statuses(brief(night(*clear), parked_since="2310Z"))
    assert told["wing-upper-surface"] in ("possible", "likely", "expected")
