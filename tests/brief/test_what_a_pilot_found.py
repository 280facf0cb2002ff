"""What a pilot stumbled over in 74 briefs of invented places: each as the brief that showed it, worked by hand."""

from __future__ import annotations

import re

import pytest

from advisor import advise
from advisor.brief.model import Advice, Brief
from advisor.render.headline import headline
from advisor.render.reasons import reason
from advisor.render.text import render

JUNE = {"now": "2027-06-07T14:00:00Z", "off_block": "2027-06-07T15:00:00Z", "place": "47.5,11.0", "heading": 200}


def at_the_top(brief: Brief) -> str:
    return " ".join(headline(brief))


def line(brief: Brief, name: str) -> Advice:
    return next(one for one in brief.advice if one.id == name)


def statuses(brief: Brief) -> dict[str, str]:
    return {one.id: one.status for one in brief.advice}


# fuel that somebody gave as -20 °C, at 90 %, under rain of 18 °C: water at 18 °C does not warm a skin that lies on it
# by 18 °C at once, and the skin over the tanks is reckoned below zero. That cold-soaked fuel makes ice in warm, humid
# air is common practice; the usual +15 °C is a rule of thumb for fuel that nobody measured [second-hand]
@pytest.mark.parametrize("groups", ["20005KT 9999 RA OVC012 18/17 Q1011", "19003KT 9999 FEW010 25/24 Q1009"])
def test_stated_cold_fuel_counts_in_warm_air_as_well(groups: str) -> None:
    asked = {"now": "2027-09-15T05:00:00Z", "off_block": "2027-09-15T06:00:00Z", "place": "50.0,8.0"}
    asked |= {"aircraft": "single-aisle-jet", "parked_since": "2027-09-15T04:30:00Z", "fuel_fill": 90}
    report = f"METAR ZZYG 150450Z {groups}"
    cold = advise(report, fuel_temperature=-20, **asked)
    for name in ("de-icing-request", "wing-upper-surface", "underwing-frost", "cold-soaked-wing"):
        assert statuses(cold)[name] in ("likely", "expected"), name
    assert "Ice or frost over the tanks" in at_the_top(cold) and "othing frozen" not in at_the_top(cold)
    # nobody gave the fuel, or it is warm: nothing is made of the air alone
    assert "de-icing-request" not in statuses(advise(report, **asked))
    assert "de-icing-request" not in statuses(advise(report, fuel_temperature=12, **asked))


@pytest.mark.parametrize(
    ("reports", "said"),
    [
        (
            ("071350Z 24008KT 9999 FEW025 15/13 Q1005 RETSGR",),
            ("Thunderstorm within two hours; hail within two hours",),
        ),
        (
            ("071320Z 18012KT 9999 -TSRAGR FEW025CB BKN040 16/13 Q1004", "071350Z 24008KT 9999 FEW025 15/13 Q1005"),
            ("Thunderstorm since parked", "hail since parked"),
        ),
        (
            ("070950Z 31035G62KT 0800 +TSRA SQ BKN012CB 17/16 Q0996", "071350Z 25004KT CAVOK 18/15 Q1010"),
            ("Thunderstorm since parked", "squalls since parked", "gusts to 62 kt since parked"),
        ),
    ],
)
def test_what_has_just_ended_stands_at_the_top(reports: tuple[str, ...], said: tuple[str, ...]) -> None:
    parked = {} if len(reports) == 1 else {"parked_since": "2027-06-07T08:00:00Z"}
    brief = advise([f"METAR ZZYN {one}" for one in reports], aircraft="regional-jet", **JUNE, **parked)
    assert all(one in at_the_top(brief) for one in said), at_the_top(brief)
    assert "othing frozen" not in at_the_top(brief)
    # it is over: no time is given to it
    assert not re.search(r"(parked|two hours) (throughout|until|from)", at_the_top(brief))


@pytest.mark.parametrize(
    ("texts", "told"),
    [
        (("METAR ZZYN 071350Z 24008KT CAVOK 15/09 Q1015",), "reported for"),
        (("METAR ZZYN 071350Z 24008KT CAVOK 15/09 Q1015 NOSIG",), "reported or forecast for"),
        (
            ("METAR ZZYN 071350Z 24008KT CAVOK 15/09 Q1015", "TAF ZZYN 071100Z 0712/0812 24008KT CAVOK"),
            "reported or forecast for",
        ),
    ],
)
def test_nothing_is_said_to_be_forecast_where_nobody_forecast(texts: tuple[str, ...], told: str) -> None:
    top = at_the_top(advise(list(texts), aircraft="regional-jet", **JUNE))
    assert f"Nothing frozen, freezing or stormy {told} this time" in top


NIGHT = (
    "TAF ZZYJ 280500Z 2806/0112 22012KT 9999 SCT030 TX08/2813Z TNM02/0105Z "
    "FM282000 30005KT CAVOK BECMG 0103/0105 0300 FZFG VV001"
)


def test_a_reason_is_dated_by_itself_and_not_by_another_that_came_first() -> None:
    # frost from dusk on, freezing fog for sure from the end of the change, 0500Z, and at the earliest from 0300Z
    asked = {"now": "2027-02-28T10:00:00Z", "off_block": "2027-03-01T06:30:00Z", "place": "51.0,12.0"}
    brief = advise(NIGHT, aircraft="twin-turboprop", parked_since="2027-02-28T09:00:00Z", **asked)
    assert "De-icing expected: FZFG from 01/0500Z." in at_the_top(brief)
    assert "Freezing fog from 01/0500Z, possible from 01/0300Z" in at_the_top(brief)
    # a time parked is told of the moment that it is a reason, as a time and not as a beginning
    drained = reason(line(brief, "water-drain"), brief)
    assert re.fullmatch(r"parked for \d+ h \d\d min by \d\d\d\dZ", drained)
    # what is only advised, and is due before the first that has to be done, is said before it
    assert (
        "First call by 1730Z: protection for the night; by 1750Z: water and waste drained; by 01/0545Z: de-icing."
        in at_the_top(brief)
    )


def test_a_gust_that_is_sure_later_is_said_so() -> None:
    texts = ["METAR ZZYQ 150450Z 24010KT 9999 FEW030 06/02 Q1012"]
    texts += ["TAF ZZYQ 150400Z 1505/1605 24012KT 9999 SCT030 BECMG 1505/1507 27028G46KT"]
    asked = {"now": "2027-03-15T05:00:00Z", "off_block": "2027-03-15T06:45:00Z", "place": "54.0,9.0"}
    top = at_the_top(advise(texts, aircraft="regional-jet", **asked))
    assert re.search(r"[Gg]usts to \d\d kt from 0700Z, possible throughout", top), top


def test_a_door_and_the_line_about_it_name_the_same_worst() -> None:
    # 41 kt reported against 30 kt: 11 over; the worst gust beside the doors is what the line counts with as well
    asked = {"now": "2027-05-04T12:00:00Z", "off_block": "2027-05-04T13:00:00Z", "place": "40.0,20.0", "heading": 30}
    brief = advise("METAR ZZYU 041150Z 30024G41KT CAVOK 10/02 Q1008", aircraft="helicopter", **asked)
    worst = max(door.worst_kt or 0.0 for door in brief.doors)
    over = round(worst - min(door.counted_kt for door in brief.doors if door.counted_kt is not None))
    assert f"to {over} kt over the lowest limit" in reason(line(brief, "door-operate"), brief)
    stays = round(worst - min(door.counted_stay_open_kt or 99.0 for door in brief.doors))
    assert f"to {stays} kt over the stay-open limit" in reason(line(brief, "door-stay-open"), brief)


def test_a_limit_for_staying_open_from_the_worst_side_is_named() -> None:
    # no direction: every side counts, the one astern of the cabin doors too, 20 and 25 kt in the invented profile
    asked = {"now": "2027-05-04T13:00:00Z", "off_block": "2027-05-04T14:00:00Z", "place": "40.0,20.0", "heading": 90}
    brief = advise("METAR ZZYB 041250Z VRB18G34KT 9999 SCT040 22/08 Q1006", aircraft="helicopter", **asked)
    text = " ".join(render(brief).split())
    assert "operate 30 kt, from its worst side 20 kt, stay open 40 kt, from its worst side 25 kt" in text


def test_ash_wants_a_mask_and_goggles_and_hides_who_walks() -> None:
    asked = {"now": "2027-05-12T06:10:00Z", "off_block": "2027-05-12T07:30:00Z", "place": "-38.5,-71.4"}
    ash = advise("METAR ZZZH 120600Z 31015KT 0600 VA BKN010 08/06 Q1010", aircraft="twin-turboprop", **asked)
    assert line(ash, "eye-protection").weight == "must" and "mask" in line(ash, "eye-protection").text
    assert statuses(ash)["low-visibility-apron"] == "expected"
    dust = advise("METAR ZZZH 120600Z 31015KT 2000 DU BKN010 28/06 Q1010", aircraft="twin-turboprop", **asked)
    assert "mask" not in line(dust, "eye-protection").text and "low-visibility-apron" not in statuses(dust)


def test_water_is_drained_soon_in_deep_cold() -> None:
    asked = {"now": "2027-12-25T05:00:00Z", "off_block": "2027-12-25T06:00:00Z", "place": "60.0,125.0"}
    asked |= {"aircraft": "single-aisle-jet", "parked_since": "2027-12-25T03:30:00Z"}
    assert statuses(advise("METAR ZZYX 250450Z 35004KT CAVOK M38/M42 Q1030", **asked))["water-drain"] == "expected"
    assert "water-drain" not in statuses(advise("METAR ZZYX 250450Z 35004KT CAVOK M08/M12 Q1030", **asked))


def test_what_cannot_all_be_so_is_said() -> None:
    asked = {**JUNE, "aircraft": "regional-jet"}
    notes = " ".join(advise("METAR ZZYN 071350Z 24010KT 9999 SN SCT030 24/10 Q1012", **asked).notes)
    assert "SN was reported in air of 24 °C: one of the two is wrong." in notes
    for plain in ("SN SCT030 02/00", "RA SCT030 24/10", "SHGS SCT030 12/10", "SN SCT030 ///// "):
        notes = " ".join(advise(f"METAR ZZYN 071350Z 24010KT 9999 {plain.strip()} Q1012", **asked).notes)
        assert "is wrong" not in notes, plain


def test_what_was_stated_and_does_not_count_is_said_so() -> None:
    report = "METAR ZZYN 071350Z 24010KT 9999 SCT030 01/M01 Q1012"
    asked = {**JUNE, "aircraft": "regional-jet", "parked_since": "2027-06-07T10:00:00Z"}
    before = advise(report, seen="snow", looked_at="1310Z", treated_at="1330Z", **asked)
    assert "snow seen on the aircraft at 1310Z, before the treatment: it does not count" in before.notes[0]
    after = advise(report, seen="snow", looked_at="1340Z", treated_at="1330Z", **asked)
    assert "which counts for more than every estimate here" in after.notes[0]
    # what was seen is the reason by its name
    assert "De-icing expected: snow seen at 1340Z." in at_the_top(after)
    # nothing that was seen before a treatment is still that: what follows from it is not taken back
    looked = advise(report, seen="nothing", looked_at="1310Z", treated_at="1330Z", **asked)
    assert "nothing seen on the aircraft at 1310Z." in looked.notes[0]
    earlier = advise(report, treated_at="0930Z", **asked)
    assert "treated at 0930Z, before it stood here: what fell since then counts" in earlier.notes[0]


def test_a_look_that_is_due_already_is_due_now() -> None:
    asked = {**JUNE, "aircraft": "regional-jet", "seen": "nothing"}
    report = "METAR ZZYN 071350Z 24010KT 9999 SCT030 01/M01 Q1012"
    assert "look again now, and before off-block" in " ".join(advise(report, looked_at="1200Z", **asked).notes)
    assert "look again by 1430Z, and before off-block" in " ".join(advise(report, looked_at="1330Z", **asked).notes)


def test_frost_since_a_treatment_began_no_earlier() -> None:
    # one night of frost without a break; treated at 2210Z: since then, to a step of five minutes
    reports = [
        f"METAR ZZZU {day}{hour:02d}20Z 06004KT CAVOK M03/M04 Q1001"
        for day, hour in ((27, 20), (27, 21), (27, 22), (27, 23), (28, 0), (28, 1))
    ]
    asked = {"now": "2027-02-28T01:25:00Z", "off_block": "2027-02-28T02:20:00Z", "place": "46.3,14.0"}
    asked |= {"aircraft": "twin-turboprop", "parked_since": "2027-02-27T19:30:00Z"}
    long = reason(line(advise(reports, **asked), "de-icing-request"), advise(reports, **asked))
    assert "since about 27/2020Z" in long
    treated = advise(reports, treated_at="2027-02-27T22:10:00Z", **asked)
    assert re.search("since about 27/221[05]Z", reason(line(treated, "de-icing-request"), treated))


def test_one_report_alone_in_a_long_silence_is_named_and_the_silence_told_once() -> None:
    asked = {"now": "2027-03-15T10:00:00Z", "off_block": "2027-03-15T11:10:00Z", "place": "55.0,-3.0"}
    report = "METAR ZZZR 150150Z 24012KT 9999 OVC010 03/02 Q1002"
    brief = advise(report, aircraft="regional-jet", parked_since="2027-03-14T20:00:00Z", **asked)
    assert (
        "No reports of the time parked for 14/2000–1000Z but that of 0150Z: what fell then is not known." in brief.notes
    )
    # and what is told of the walk is told as reckoned
    assert "wind 12 kt, all reckoned from a report 8 h 35 min before" in " ".join(render(brief).split())


def test_a_night_that_ends_now_is_not_told() -> None:
    # sunrise in Munich on 7 June is some hours before; at this place civil twilight has long begun
    top = at_the_top(advise("METAR ZZYN 071350Z 24010KT CAVOK 15/09 Q1012", aircraft="regional-jet", **JUNE))
    assert "dark" not in top


def test_blowing_snow_wants_a_hood() -> None:
    asked = {"now": "2027-12-20T23:10:00Z", "off_block": "2027-12-21T00:20:00Z", "place": "78.2,15.5"}
    brief = advise("METAR ZZZQ 202250Z 35018G29KT 3000 DRSN BLSN SCT040 M21/M24 Q1002", aircraft="helicopter", **asked)
    assert statuses(brief)["no-umbrella"] == "expected"


def test_there_may_be_no_lee() -> None:
    asked = {"now": "2027-05-04T13:00:00Z", "off_block": "2027-05-04T14:00:00Z", "place": "40.0,20.0", "heading": 90}
    for aircraft in ("helicopter", "light-aircraft"):
        brief = advise("METAR ZZYB 041250Z VRB18G34KT 9999 SCT040 22/08 Q1006", aircraft=aircraft, **asked)
        assert re.search("in the lee,? if there is any", line(brief, "door-operate").text)


def test_what_was_seen_is_told_with_its_own_time_alone() -> None:
    asked = {"now": "2027-10-15T08:10:00Z", "off_block": "2027-10-15T18:00:00Z", "place": "51.0,12.0"}
    brief = advise("METAR ZZYK 150750Z 22004KT 9999 FEW035 09/08 Q1018", aircraft="glider", seen="frost", **asked)
    assert "- Frost seen at 0810Z.\n" in render(brief)
    # a line that is due in hours orders nothing "at once"
    assert "at once" not in " ".join(one.text for one in brief.advice)
