"""What changed since an earlier brief: the weather first, then lines by name; another departure is refused."""

from __future__ import annotations

import json
from pathlib import Path

from click.testing import CliRunner

from advisor import advise, to_json
from advisor.brief.changes import incomparable
from advisor.cli.main import main
from advisor.render.changed import changes_said

ASKED = {"now": "2027-01-10T05:30:00Z", "off_block": "2027-01-10T06:40:00Z", "place": "61.4,9.8"}
DRY = "METAR ZZZA 100520Z 24006KT 9999 OVC030 02/M04 Q1010"
FOG = "METAR ZZZA 100520Z 24006KT 0300 FG VV001 M01/M01 Q1010"


def test_the_weather_that_came_is_said_before_the_lines_that_follow_from_it() -> None:
    said = changes_said(advise(DRY, **ASKED), advise(FOG, **ASKED))
    assert "fog came" in said[0].lower() and "air at the walk now −1 °C, was 2" in said[0]
    assert any(one.startswith("de-icing: new (") for one in said[1:])
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
