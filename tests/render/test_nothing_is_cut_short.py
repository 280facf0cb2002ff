"""What cannot be told is named whole, what stops people first; a reason is said once."""

from __future__ import annotations

from advisor import advise
from advisor.render.headline import headline
from advisor.render.listing import listing
from advisor.render.text import render

# a weather group that looks like weather and is not understood, after rain, in a gust, in the dark
TORN = (
    "METAR ZZZA 151620Z 24018G31KT 6000 -SN/BR OVC012 01/00 Q0998",
    "METAR ZZZA 151520Z 24012KT 9999 -RA OVC015 02/01 Q0999",
)
ASKED = {"now": "2027-01-15T16:30:00Z", "off_block": "2027-01-15T17:45:00Z", "place": "56.2,3.1"}


def test_every_line_that_cannot_be_told_is_named_and_what_stops_people_stands_first() -> None:
    made = advise(TORN, **ASKED)
    entries = {part.key: part.entries for part in listing(made)}["untold"]
    weather = next(one for one in entries if one.text.startswith("Without present weather"))
    untold = [line for line in made.advice if line.part == "untold" and "precipitation" in line.missing]
    assert len(untold) > 15
    shown = " ".join(render(made).split())
    assert all(line.short in shown for line in untold)
    stops = [line.stop for line in weather.lines]
    assert sum(stops) >= 4 and stops == sorted(stops, reverse=True)


def test_the_headline_says_that_stopping_cannot_be_told() -> None:
    said = " ".join(headline(advise(TORN, **ASKED)))
    assert "Whether to wait or stop cannot be told without present weather." in said


def test_a_margin_is_in_figures_once_and_then_as_above() -> None:
    # frost on the tank skin and the wing, an old report: the same margins bear on lines of four parts
    report = "METAR ZZZA 100020Z 27005KT 9999 FEW030 03/01 Q1015"
    asked = {"now": "2027-01-10T05:40:00Z", "off_block": "2027-01-10T06:40:00Z", "place": "61.4,9.8"}
    made = advise(report, aircraft="regional-jet", fuel_temperature=-6, **asked)
    parts = listing(made)
    whys = [why for part in parts for why in (part.why, *(one.why for one in part.entries)) if " at worst " in why]
    assert len(whys) == len(set(whys)) >= 2
    assert any("as above" in one.why for part in parts for one in part.entries)
