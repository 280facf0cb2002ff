"""Invented situations for the properties: reports put together out of groups, and what was asked.

Examples are the same in every run. ADVISOR_EXPLORE=4 looks for new ones, four times as many;
ADVISOR_NO_SHRINK=1 shows the first failure as it was found.
"""

from __future__ import annotations

import json
import os
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st

from advisor import advise
from advisor.brief.model import Brief

ROOT = Path(__file__).parents[2]
CORPUS = ROOT.parent / "shared" / "corpus" / "metars.jsonl"
RANK = {None: 0, "cannot tell": 1, "possible": 2, "likely": 3, "expected": 4}
DOOR_RANK = {"within": 0, "cannot tell": 1, "possible": 2, "exceeded": 3}
CLASSES = (
    "single-aisle-jet",
    "light-aircraft",
    "helicopter",
    "glider",
    "twin-turboprop",
    "uncrewed",
    "regional-jet",
    "wide-body-jet",
)
COVER = ("SKC", "FEW", "SCT", "BKN", "OVC")


def steady(examples: int) -> settings:
    """Settings of a property: the same examples every time, no time limit on one of them."""
    phases = [Phase.explicit, Phase.generate] if os.environ.get("ADVISOR_NO_SHRINK") else list(Phase)
    more = int(os.environ.get("ADVISOR_EXPLORE", "0"))
    return settings(
        phases=phases,
        max_examples=examples * max(1, more),
        deadline=None,
        database=None,
        derandomize=not more,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large],
    )


@dataclass(frozen=True)
class Situation:
    """A report by its groups, the time it was made, and what was asked."""

    wind: str = "24008KT"
    visibility: str = "9999"
    weather: str = ""
    cloud: str = "FEW020"
    temperature: str = "05/01"
    tail: str = "Q1013"
    now: datetime = datetime(2027, 1, 10, 5, 25, tzinfo=UTC)
    age_min: int = 5
    ahead_min: int = 75
    place: str = "61.4,9.8"
    asked: dict[str, Any] = field(default_factory=dict)

    @property
    def report(self) -> str:
        """The report's text."""
        issued = self.now - timedelta(minutes=self.age_min)
        groups = (self.wind, self.visibility, self.weather, self.cloud, self.temperature, self.tail)
        return " ".join(["METAR ZZZA", f"{issued:%d%H%M}Z", *(group for group in groups if group)])

    def brief(self, **other: Any) -> Brief:
        """Its brief."""
        asked = {"place": self.place, **self.asked, **other}
        return advise(self.report, now=self.now, off_block=self.now + timedelta(minutes=self.ahead_min), **asked)

    def but(self, **changes: Any) -> Situation:
        """The same with other groups."""
        return replace(self, **changes)


def degrees(value: int) -> str:
    """A temperature as a report codes it."""
    return f"M{-value:02d}" if value < 0 else f"{value:02d}"


def body(air: int, spread: int) -> str:
    """The temperature group of an air temperature and how far the dew point lies below."""
    return f"{degrees(air)}/{degrees(air - spread)}"


def wind(direction: int, mean: int, gust: int | None) -> str:
    """A wind group; calm where the mean is 0."""
    if mean == 0:
        return "00000KT"
    return f"{direction:03d}{mean:02d}{f'G{gust:02d}' if gust else ''}KT"


AIRS = st.integers(-30, 38)
SPREADS = st.sampled_from([0, 0, 1, 1, 2, 3, 5, 9, 15])
TEMPERATURES = st.builds(body, st.one_of(AIRS, st.integers(-6, 8)), SPREADS)
DIRECTIONS = st.integers(1, 36).map(lambda tens: tens * 10)
WINDS = st.builds(
    lambda direction, mean, over: wind(direction, mean, mean + over if over else None),
    DIRECTIONS,
    st.one_of(st.integers(0, 15), st.integers(0, 55)),
    st.sampled_from([0, 0, 0, 10, 14, 25]),
)
WEATHERS = st.sampled_from(
    [
        "",
        "",
        "",
        "",
        "-SN",
        "SN",
        "+SN",
        "-RA",
        "RA",
        "+RA",
        "DZ",
        "-FZDZ",
        "FZRA",
        "-FZRA",
        "PL",
        "SHGS",
        "TSGR",
        "TSRA",
        "BR",
        "FG",
        "FZFG",
        "BLSN",
        "-RASN",
        "VCTS",
        "VCSH",
        "UP",
        "FZUP",
        "-SHSN BLSN",
        "DU",
        "SQ",
        "HZ",
        "SG",
        "IC",
        "VA",
    ]
)
VISIBILITIES = st.sampled_from(["9999", "8000", "5000", "3000", "1500", "0800", "0300", "0100"])
CLOUDS = st.one_of(
    st.builds("{}{:03d}".format, st.sampled_from(COVER[1:]), st.integers(1, 60)),
    st.sampled_from(["NSC", "NCD", "SKC", "CLR", "VV002", "FEW010 BKN025", "SCT008CB OVC040"]),
)
TAILS = st.sampled_from(["Q1013", "Q0987", "Q1013", "Q1013 REFZRA", "Q1013 RERA", "Q1013 RESN", "Q1002 NOSIG"])
NOWS = st.datetimes(datetime(2027, 1, 1), datetime(2027, 12, 30)).map(  # noqa: DTZ001
    lambda at: at.replace(tzinfo=UTC, second=0, microsecond=0)
)
PLACES = st.sampled_from(["61.4,9.8", "52.1,-4.6", "69.9,24.2", "-41.2,148.3", "8.4,-3.3", "47.5,12.9", "35.7,-101.2"])
ASKED = st.fixed_dictionaries(
    {"aircraft": st.sampled_from(CLASSES)},
    optional={
        "heading": st.sampled_from([0, 90, 210, 305]),
        "fuel_temperature": st.sampled_from(["-9", "-2", "12"]),
        "seen": st.sampled_from(["frost", "snow", "ice"]),
    },
)
SITUATIONS = st.builds(
    Situation,
    wind=WINDS,
    visibility=VISIBILITIES,
    weather=WEATHERS,
    cloud=CLOUDS,
    temperature=TEMPERATURES,
    tail=TAILS,
    now=NOWS,
    age_min=st.integers(0, 110),
    ahead_min=st.integers(20, 400),
    place=PLACES,
    asked=ASKED,
)


def lines(brief: Brief) -> dict[str, str]:
    """Status by id."""
    return {line.id: line.status for line in brief.advice}


def gone(before: Brief, after: Brief) -> list[str]:
    """Lines and door warnings of before that after no longer has in any form."""
    left = lines(after)
    doors = {door.door: door for door in after.doors}
    found = [name for name in lines(before) if name not in left]
    for door in before.doors:
        found += [f"{door.door} to operate"] * (door.status != "within" and doors[door.door].status == "within")
        stays = door.stay_open_status != "within" and doors[door.door].stay_open_status == "within"
        found += [f"{door.door} to stay open"] * stays
    return found


def lowered(before: Brief, after: Brief, only: set[str] | None = None) -> list[str]:
    """Lines, or some of them, that after takes less seriously than before; gone ones count."""
    left = lines(after)
    return [
        f"{name}: {status} to {left.get(name)}"
        for name, status in lines(before).items()
        if (only is None or name in only) and RANK[left.get(name)] < RANK[status]
    ]


def corpus(count: int, skip: int = 0) -> list[tuple[str, datetime]]:
    """About count real reports with the times at which they were collected; [] where the folder is not there."""
    if not CORPUS.exists():
        return []
    rows = CORPUS.read_text(encoding="utf-8").splitlines()
    step = max(1, len(rows) // count)
    made = []
    for row in rows[skip % step :: step]:
        data = json.loads(row)
        made.append((data["raw"], datetime.fromisoformat(data["valid"]).replace(tzinfo=UTC)))
    return made
