"""Properties 1 and 2 of the design for forecasts and series: missing never reassures, worse never reassures.

Forecasts and nights are invented. Missing forms of groups are those of the code (slashes).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from parked import PLACE, RANK, gone, statuses

from advisor import advise
from advisor.brief.model import Brief

QUICK = settings(
    max_examples=40,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
START = datetime(2027, 1, 9, 18, 0, tzinfo=UTC)
CLASSES = st.sampled_from(["single-aisle-jet", "light-aircraft", "helicopter", "twin-turboprop", "glider"])
WINDY = {
    "door-operate",
    "door-stay-open",
    "strong-wind",
    "too-windy-outside",
    "loose-covers",
    "gust-damage-inspection",
    "tie-downs",
    "eye-protection",
    "push-back-blast",
    "canopy-wind-and-sun",
}
HEAVIER = [
    ("-SN", "+SN"),
    ("-RA", "RA"),
    ("RA", "+RA"),
    ("-FZRA", "FZRA"),
    ("-FZDZ", "FZDZ"),
    ("-PL", "PL"),
    ("-RASN", "RASN"),
    ("-TSRA", "TSRA"),
    ("-SHSN", "SHSN"),
    ("-SN", "SN"),
]


def degrees(value: int) -> str:
    return f"M{-value:02d}" if value < 0 else f"{value:02d}"


@dataclass(frozen=True)
class Row:
    """A METAR of the night, or what a forecast says: its groups."""

    wind: str = "24008KT"
    visibility: str = "9999"
    weather: str = ""
    cloud: str = "OVC025"
    temperature: str = ""

    @property
    def text(self) -> str:
        return " ".join(
            group for group in (self.wind, self.visibility, self.weather, self.cloud, self.temperature) if group
        )

    def lose(self, group: str) -> Row:
        form = {"wind": "/////KT", "visibility": "////", "weather": "//", "cloud": "//////", "temperature": "/////"}
        return replace(self, **{group: form[group]})


@dataclass(frozen=True)
class Night:
    """Reports an interval apart from START, the last at or before now, and a forecast for what comes."""

    rows: tuple[Row, ...]
    every_min: int = 60
    base: Row | None = None
    changes: tuple[tuple[str, Row], ...] = ()
    ahead_min: int = 90
    asked: dict[str, Any] = field(default_factory=dict)

    @property
    def now(self) -> datetime:
        return START + timedelta(minutes=self.every_min * (len(self.rows) - 1) + 10)

    def reports(self) -> list[str]:
        made = []
        for i, row in enumerate(self.rows):
            at = START + timedelta(minutes=self.every_min * i)
            made.append(f"METAR ZZZA {at:%d%H%M}Z {row.text} Q1005")
        return made

    def forecast(self) -> list[str]:
        if self.base is None:
            return []
        start = self.now.replace(minute=0) - timedelta(hours=1)
        end = start + timedelta(hours=24)
        parts = [f"TAF ZZZA {start:%d%H%M}Z {start:%d%H}/{end:%d%H} {self.base.text}"]
        for head, row in self.changes:
            begin, until = start + timedelta(hours=1), start + timedelta(hours=5)
            when = f"FM{begin + timedelta(minutes=90):%d%H%M}" if head == "FM" else f"{head} {begin:%d%H}/{until:%d%H}"
            parts.append(f"{when} {row.text}")
        return [" ".join(parts)]

    def brief(self, drop: int | None = None, forecast: bool = True) -> Brief:
        texts = self.reports()
        if drop is not None:
            del texts[drop]
        asked = {"place": PLACE, "parked_since": START + timedelta(minutes=5), **self.asked}
        return advise(
            texts + (self.forecast() if forecast else []),
            now=self.now,
            off_block=self.now + timedelta(minutes=self.ahead_min),
            **asked,
        )


WINDS = st.one_of(
    st.builds("{:02d}0{:02d}KT".format, st.integers(1, 36), st.integers(1, 40)),
    st.builds(lambda mean, over: f"240{mean:02d}G{mean + over:02d}KT", st.integers(5, 40), st.integers(10, 20)),
    st.sampled_from(["00000KT", "VRB03KT"]),
)
SIGHTS = st.sampled_from(["9999", "8000", "4000", "2000", "0800", "0300"])
WEATHERS = st.sampled_from(
    ["", "", "", "-SN", "SN", "+SN", "-RA", "RA", "FZRA", "-FZDZ", "FG", "BR", "TSRA", "PL", "BLSN"]
)
CLOUDS = st.sampled_from(["OVC008", "BKN020", "SCT030", "FEW040", "SKC", "NSC"])


SKIES = st.builds(Row, WINDS, SIGHTS, WEATHERS, CLOUDS)
HEADS = st.lists(st.sampled_from(["BECMG", "TEMPO", "PROB30", "PROB40 TEMPO", "FM"]), max_size=2)


@st.composite
def nights(draw, rows=(4, 7), plain=False):
    """A night whose temperature drifts by at most two degrees from report to report."""
    count, air = draw(st.integers(*rows)), draw(st.integers(-12, 9))
    made = []
    for _ in range(count):
        made.append(replace(draw(SKIES), temperature=f"{degrees(air)}/{degrees(air - draw(st.integers(0, 5)))}"))
        air += draw(st.integers(-2, 2))
    base, changes = None, ()
    if not plain:
        base = draw(SKIES)
        # an FM goes last: what stands behind it would be of its own period
        changes = tuple((head, draw(SKIES)) for head in sorted(draw(HEADS), key="FM".__eq__))
    asked = {"aircraft": draw(CLASSES)}
    return Night(tuple(made), draw(st.sampled_from([30, 60])), base, changes, draw(st.integers(45, 300)), asked)


def warm_rain(night: Night) -> bool:
    """Whether it is so warm that a lost code cannot have been a frozen one, while frozen precipitation is coded."""
    codes = {row.weather for row in (*night.rows, *(row for _, row in night.changes), night.base or Row())}
    warm = any(not row.temperature.startswith("M") and int(row.temperature[:2]) >= 8 for row in night.rows)
    return warm and any(mark in code for code in codes for mark in ("SN", "FZ", "PL"))


def cold_enough(draw) -> Night:
    night = draw(nights())
    return (
        night
        if not warm_rain(night)
        else replace(
            night,
            rows=tuple(replace(row, weather="") for row in night.rows),
            changes=tuple((head, replace(row, weather="-RA")) for head, row in night.changes),
            base=replace(night.base or Row(), weather=""),
        )
    )


BELIEVABLE = st.composite(cold_enough)()
GROUPS = st.sampled_from(["wind", "visibility", "weather", "cloud", "temperature"])


@QUICK
@given(BELIEVABLE, GROUPS, st.integers(0, 6))
def test_a_lost_group_of_a_report_of_the_night_takes_no_line_away(night, group, which):
    at = which % len(night.rows)
    rows = tuple(row.lose(group) if i == at else row for i, row in enumerate(night.rows))
    after = replace(night, rows=rows)
    assert gone(night.brief(), after.brief()) == [], (night.reports()[at], night.forecast())


@QUICK
@given(BELIEVABLE, GROUPS.filter(lambda group: group != "temperature"), st.integers(0, 2))
def test_a_lost_group_of_a_forecast_takes_no_line_away(night, group, which):
    at = which % (1 + len(night.changes))
    if at == 0:
        after = replace(night, base=night.base.lose(group))
    else:
        changes = list(night.changes)
        changes[at - 1] = (changes[at - 1][0], changes[at - 1][1].lose(group))
        after = replace(night, changes=tuple(changes))
    assert gone(night.brief(), after.brief()) == [], (night.reports()[-1], night.forecast(), after.forecast())


@QUICK
@given(nights(plain=True), st.integers(1, 5))
def test_a_report_missing_from_the_middle_takes_no_line_away(night, which):
    at = 1 + which % (len(night.rows) - 2)
    assert gone(night.brief(), night.brief(drop=at)) == [], night.reports()[at]


def worse(night: Night, at: int, **groups: str) -> Night:
    changes = list(night.changes)
    changes[at] = (changes[at][0], replace(changes[at][1], **groups))
    return replace(night, changes=tuple(changes))


def lowered(before: Brief, after: Brief, only: set[str] | None = None) -> list[str]:
    left = statuses(after)
    return [
        name
        for name, status in statuses(before).items()
        if (only is None or name in only) and RANK[left.get(name)] < RANK[status]
    ]


@QUICK
@given(nights().filter(lambda night: night.changes), st.sampled_from(HEAVIER), st.integers(0, 1))
def test_heavier_weather_in_a_group_takes_no_line_away(night, kinds, which):
    at = which % len(night.changes)
    light, heavy = (worse(night, at, weather=code) for code in kinds)
    assert lowered(light.brief(), heavy.brief()) == [], light.forecast()


@QUICK
@given(nights().filter(lambda night: night.changes), st.integers(2, 40), st.integers(1, 20), st.integers(0, 1))
def test_more_wind_in_a_group_takes_no_line_of_wind_away(night, mean, more, which):
    at = which % len(night.changes)
    calmer, windier = (worse(night, at, wind=f"240{knots:02d}KT") for knots in (mean, mean + more))
    before, after = calmer.brief(), windier.brief()
    assert lowered(before, after, WINDY) == [], calmer.forecast()
    assert all((b.worst_kt or 0) >= (a.worst_kt or 0) for a, b in zip(before.doors, after.doors, strict=True))


@QUICK
@given(nights(plain=True), st.booleans())
def test_a_forecast_that_says_the_same_as_the_report_takes_only_doubt_away(night, soon):
    night = replace(night, ahead_min=60) if soon else night
    last = night.rows[-1]
    with_forecast = replace(night, base=replace(last, temperature=""))
    before, after = night.brief(), with_forecast.brief()
    lost = gone(before, after)
    # what could not be told for want of a forecast may go, and what the wind might have grown to hours later; in the
    # two hours for which a report speaks nothing else may
    hold = ("expected", "likely", "possible") if night.ahead_min <= 70 else ("expected",)
    kept = {line.id for line in before.advice if line.weight == "must" and line.status in hold}
    assert kept.isdisjoint(lost), with_forecast.forecast()


@QUICK
@given(nights(), st.integers(1, 5))
def test_the_same_night_as_one_text_in_any_order_is_the_same_brief(night, shift):
    texts = night.reports() + night.forecast()
    turned = texts[shift:] + texts[:shift]
    asked = {
        "now": night.now,
        "off_block": night.now + timedelta(minutes=night.ahead_min),
        "place": PLACE,
        "parked_since": START + timedelta(minutes=5),
        **night.asked,
    }
    one, other = advise("\n".join(texts), **asked), advise(turned, **asked)
    assert one.advice == other.advice and one.timeline == other.timeline and one.notes == other.notes
