"""What changed since an earlier brief: the weather first, then lines by name; another departure is refused."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from advisor import advise, to_json
from advisor.brief.changes import Change, changes, incomparable
from advisor.cli.main import main
from advisor.render.changed import change_said, changes_said

ASKED = {"now": "2027-01-10T05:30:00Z", "off_block": "2027-01-10T06:40:00Z", "place": "61.4,9.8"}
DRY = "METAR ZZZA 100520Z 24006KT 9999 OVC030 02/M04 Q1010"
FOG = "METAR ZZZA 100520Z 24006KT 0300 FG VV001 M01/M01 Q1010"


def test_the_weather_that_came_is_said_before_the_lines_that_follow_from_it() -> None:
    said = changes_said(advise(DRY, **ASKED), advise(FOG, **ASKED))
    assert "fog came" in said[0].lower() and "air at the walk now −1 °C, was 2" in said[0]
    assert any("de-icing" in one and ": new (" in one for one in said[1:])
    # and by no rule's id
    assert not any("-request" in one for one in said)


def test_nothing_is_said_of_what_stayed() -> None:
    assert changes_said(advise(DRY, **ASKED), advise(DRY, **ASKED)) == ["nothing changed in the lines below"]


def test_a_brief_of_another_place_aircraft_or_day_does_not_go_before() -> None:
    made = advise(DRY, **ASKED)
    assert incomparable(made, made) == ""
    other = advise(DRY, **{**ASKED, "place": "52.1,-4.6"})
    assert incomparable(other, made).startswith("of another place")
    assert incomparable(advise(DRY, aircraft="glider", **ASKED), made).startswith("of another aircraft")
    later = {**ASKED, "now": "2027-01-11T05:30:00Z", "off_block": "2027-01-11T06:40:00Z"}
    assert incomparable(advise(DRY.replace("100520Z", "110520Z"), **later), made).startswith("of another day")


def test_the_command_refuses_it_in_one_line(tmp_path: Path) -> None:
    kept = tmp_path / "before.json"
    kept.write_bytes(to_json(advise(DRY, aircraft="glider", **ASKED)))
    assert json.loads(kept.read_bytes())["hazards"]
    asked = ["brief", "--report", DRY, "--since", str(kept)]
    for name, value in ASKED.items():
        asked += [f"--{name.replace('_', '-')}", value]
    done = CliRunner().invoke(main, asked)
    assert done.exit_code == 2 and "of another aircraft: glider" in done.output


STORM = "METAR ZZZA 100520Z 24028G48KT 4000 TSRA BKN020CB 15/13 Q1005"
BLIND = "METAR ZZZA 100620Z AUTO /////KT 4000 // ////// 15/13 Q1005"
LATER = {"now": "2027-01-10T06:25:00Z", "off_block": "2027-01-10T07:30:00Z", "place": "61.4,9.8"}
EARLIER = {**LATER, "now": "2027-01-10T05:30:00Z"}


def test_a_lost_sensor_is_no_end_of_a_storm() -> None:
    # by the pilot's rule of the trade: what is not reported is not absent (common practice, no source)
    first, *rest = changes_said(advise(STORM, **EARLIER), advise(BLIND, **LATER))
    assert first.startswith(
        "Present weather no longer known: thunderstorm, rain not ruled out; "
        "wind no longer known: gusts to 54 kt not ruled out"
    )
    assert "no longer foreseen" not in first
    # the storm's report was not given again: what may be on the aircraft by it is not counted, and that is said
    assert first.endswith("the report of 0520Z was not given this time: what it told does not count")
    # what was there stands before what nobody can tell of either
    assert "thunderstorm" in rest[0] and rest[-2].startswith("funnel cloud or tornado, volcanic ash"), rest
    # a new brief is asked for before that time alone
    assert rest[-1] == "brief again: gone"
    assert any("thunderstorm" in one and one.endswith(": cannot be told now, was expected") for one in rest)
    assert not any("lowered" in one and one.endswith("to cannot tell") for one in rest)
    assert any(one.endswith("cargo door, right rear: cannot be told now, was exceeded") for one in rest)


def test_what_was_missing_before_already_is_said_to_be_not_known() -> None:
    first, *_ = changes_said(
        advise([STORM.replace("100520Z", "100500Z"), BLIND.replace("100620Z", "100520Z")], **EARLIER),
        advise(BLIND, **LATER),
    )
    assert "no longer foreseen" not in first and "no longer known: thunder" not in first


@pytest.mark.parametrize("lost", ["// OVC006///", "OVC006///"])
def test_freezing_rain_ends_only_where_the_weather_is_told(lost: str) -> None:
    freezing = advise("METAR ZZZA 100520Z AUTO 05006KT 4000 -FZRA OVC015 M01/M01 Q1008", **EARLIER)
    after = advise(f"METAR ZZZA 100620Z AUTO 05006KT 3000 {lost} M01/M02 Q1004", **LATER)
    first, *_ = changes_said(freezing, after)
    told = lost.startswith("OVC")
    assert ("present weather no longer known: freezing rain not ruled out" in first.lower()) is not told
    assert ("freezing rain no longer foreseen; what formed or fell may lie" in first.lower()) is told


def test_what_could_not_be_told_and_is_not_indicated_now_has_not_gone() -> None:
    said = changes_said(advise(BLIND, **LATER), advise(DRY.replace("100520Z", "100620Z"), **LATER))
    assert any(one.endswith(": not indicated now, could not be told before") and "volcanic ash" in one for one in said)
    assert not any(one.endswith(": gone") and "volcanic ash" in one for one in said)
    doors = next(one for one in said if "door" in one and "limit" not in one)
    assert doors.endswith(": within now, could not be told before")


def test_frost_that_freezing_rain_covers_is_not_said_to_be_over() -> None:
    frost = "METAR ZZZA 100520Z 05006KT 9999 OVC015 01/M01 Q1008"
    rain = "METAR ZZZA 100620Z 05012KT 3000 -FZRA OVC006 M01/M02 Q1004"
    first, *_ = changes_said(advise(frost, **EARLIER), advise([frost, rain], **LATER))
    assert first.startswith("Freezing rain came") and "frost no longer" not in first
    # 6 kt to 12 kt, and no gust in either
    assert "wind at the walk now 12 kt, was 6" in first and "not given this time" not in first


def test_what_came_stands_before_what_went_and_what_stops_everything_before_all() -> None:
    calm = advise(DRY, **ASKED)
    storm = advise(DRY.replace("24006KT 9999", "24028G48KT 4000 TSRA"), **ASKED)
    came = [change for change in changes(calm, storm) if change.after != "cannot tell"]
    kinds = [change.what for change in came]
    assert kinds == sorted(kinds, key="added raised".index) and set(kinds) == {"added", "raised"}
    stops = [line.id for line in storm.advice if line.stop and line.id in {change.id for change in came}]
    assert stops and {change.id for change in came[: len(stops)]} == set(stops)
    assert changes(storm, calm)[-1].what == "gone"
    # within those that came: what has to be done before what is advised
    weights = {line.id: line.weight for line in storm.advice}
    added = [weights[change.id] for change in came if change.what == "added" and change.id in weights]
    assert added == sorted(added, key=["must", "should"].index)


def test_wind_is_called_a_gust_where_either_brief_has_one() -> None:
    steady, gusty = (advise(DRY.replace("24006KT", wind), **ASKED) for wind in ("24006KT", "24012G30KT"))
    stronger, lost = (advise(DRY.replace("24006KT", wind), **ASKED) for wind in ("24014KT", "/////KT"))
    assert "gust at the walk now 30 kt, was 6" in changes_said(steady, gusty)[0].lower()
    assert "gust at the walk now 6 kt, was 30" in changes_said(gusty, steady)[0].lower()
    assert "wind at the walk now 14 kt, was 6" in changes_said(steady, stronger)[0].lower()
    assert "wind now known" in changes_said(lost, steady)[0].lower()


def test_a_line_that_can_still_not_be_told_and_is_due_at_another_time_has_moved() -> None:
    untold = Change("moved", "de-icing-request", "", "2027-01-10T06:00:00Z", "2027-01-10T06:10:00Z")
    assert change_said(untold) == "latest time now 0610Z, was 0600Z"
    assert change_said(Change("added", "hail", "", None, "cannot tell")) == "cannot be told now"
    assert change_said(Change("lowered", "hail", "", "likely", "cannot tell")) == "cannot be told now, was likely"
    assert change_said(Change("gone", "hail", "", "cannot tell", None)) == "not indicated now, could not be told before"
    assert change_said(Change("raised", "hail", "", "cannot tell", "likely")) == "likely now, could not be told before"
    assert change_said(Change("raised", "hail", "", "possible", "likely")) == "raised from possible to likely"
    assert change_said(Change("gone", "hail", "", "possible", None)) == "gone"


def test_a_forecast_that_was_not_given_again_ends_nothing() -> None:
    taf = "TAF ZZZA 100500Z 1005/1012 24006KT 9999 OVC030 BECMG 1006/1007 1500 SN OVC008"
    first, *_ = changes_said(advise([DRY, taf], **EARLIER), advise([DRY], **EARLIER))
    assert "no forecast was given this time: snow" in first.lower() and "no longer foreseen" not in first
    other = "TAF ZZZA 100520Z 1005/1012 24006KT 9999 OVC030"
    first, *_ = changes_said(advise([DRY, taf], **EARLIER), advise([DRY, other], **EARLIER))
    assert "snow no longer foreseen" in first.lower()
