"""Random situations with a history and a forecast, by plain seeded chance: series, corrections, remarks, trends, TAF.

made_up.py has what hypothesis draws: one report. Here every situation has its number, so that 20,000 of them run in
bounded time and each can be had again.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from random import Random
from typing import Any

from made_up import CLASSES, COVER, body, degrees, wind

from advisor import advise
from advisor.brief.model import Brief

PARTS = ("wind", "visibility", "weather", "cloud")
FULL = {"wind": "/////KT", "visibility": "////", "weather": "//", "cloud": "//////", "temperature": "/////"}
FROZEN = re.compile("SN|PL|(?<!T)SG|GS|FZ|IC")
COLD_WEATHER = (
    "",
    "",
    "",
    "",
    "-SN",
    "SN",
    "+SN",
    "-RA",
    "RA",
    "DZ",
    "-FZDZ",
    "FZDZ",
    "FZRA",
    "-FZRA",
    "PL",
    "SHGS",
    "-RASN",
    "BR",
    "FG",
    "FZFG",
    "BLSN",
    "DRSN",
    "VCSH",
    "UP",
    "FZUP",
    "-SHSN BLSN",
    "SG",
    "IC",
    "TSSN",
    "VA",
    "SN FZFG",
)
WARM_WEATHER = (
    "",
    "",
    "",
    "",
    "-RA",
    "RA",
    "+RA",
    "DZ",
    "SHRA",
    "TSRA",
    "+TSRA",
    "TSGR",
    "GR",
    "VCTS",
    "VCSH",
    "BR",
    "FG",
    "UP",
    "DU",
    "SQ",
    "HZ",
    "VA",
    "TS",
)
VISIBILITIES = ("9999", "9999", "8000", "5000", "3000", "1500", "0800", "0300", "0100")
ODD_SKIES = ("NSC", "NCD", "SKC", "CLR", "VV002", "FEW010 BKN025", "SCT008CB OVC040", "FEW020CB", "BKN025TCU")
COLD_REMARKS = (
    "FZRAB04E40",
    "SNE14",
    "SNB10E25",
    "PLE20",
    "FZDZB05",
    "SGE31",
    "I1003",
    "I3010",
    "I6021",
    "FROIN",
    "4/003",
    "FZRANO",
    "UPE22",
    "RAE12SNB12E44",
)
WARM_REMARKS = ("RAE41", "RAB05E40", "DZE17", "TSB10E30", "TSE25", "GRB14E18", "LTG DSNT W", "CB NE", "TSNO")
EITHER_REMARKS = ("PK WND 28047/12", "PWINO", "AO2", "SLP125")
PLACES_EAST = (9.8, -4.6, 24.2, 148.3, -101.2, -150.0, 77.5)


@dataclass(frozen=True)
class Part:
    """A stretch of a forecast or a trend, by its groups; name tells it from the others, and is not written."""

    name: str
    head: str = ""
    wind: str = ""
    visibility: str = ""
    weather: str = ""
    cloud: str = ""

    @property
    def text(self) -> str:
        return joined(self.head, self.wind, self.visibility, self.weather, self.cloud)


@dataclass(frozen=True)
class Said:
    """A report by its groups; name tells it from the others, and is not written. age_min: before now."""

    name: str
    age_min: int = 5
    kind: str = "METAR"
    wind: str = "24008KT"
    visibility: str = "9999"
    weather: str = ""
    cloud: str = "FEW020"
    temperature: str = "05/01"
    recent: str = ""
    trend: tuple[Part, ...] = ()
    remarks: tuple[str, ...] = ()

    def text(self, now: datetime) -> str:
        issued = now - timedelta(minutes=self.age_min)
        said = (self.wind, self.visibility, self.weather, self.cloud, self.temperature, "Q1013", self.recent)
        remarks = ("RMK", *self.remarks) if self.remarks else ()
        return joined(f"{self.kind} ZZZA {issued:%d%H%M}Z", *said, *(part.text for part in self.trend), *remarks)


@dataclass(frozen=True)
class Foretold:
    """A forecast: its heading without TAF, the base and its changes, and the extremes as written."""

    head: str
    parts: tuple[Part, ...]
    extremes: str = ""

    @property
    def text(self) -> str:
        base, *changes = self.parts
        return joined("TAF ZZZA", self.head, base.text, self.extremes, *(part.text for part in changes))


@dataclass(frozen=True)
class Night:
    """A situation: reports from the oldest to the newest, a forecast or none, and what was asked."""

    reports: tuple[Said, ...] = (Said("r0"),)
    forecast: Foretold | None = None
    now: datetime = datetime(2027, 1, 10, 5, 25, tzinfo=UTC)
    ahead_min: int = 75
    place: str = "61.4,9.8"
    asked: dict[str, Any] = field(default_factory=dict)

    @property
    def texts(self) -> list[str]:
        """Every text as it is handed in."""
        return [one.text(self.now) for one in self.reports] + ([self.forecast.text] if self.forecast else [])

    @property
    def newest(self) -> Said:
        """The report to go by."""
        return self.reports[-1]

    @property
    def off_block(self) -> datetime:
        return self.now + timedelta(minutes=self.ahead_min)

    def brief(self, texts: list[str] | None = None, **other: Any) -> Brief:
        """Its brief. texts: in another order, or others."""
        asked: dict[str, Any] = {"place": self.place, **self.asked, **other}
        given = self.texts if texts is None else texts
        return made(tuple(given), self.now, self.off_block, tuple(asked.items()))

    def but(self, **changes: Any) -> Night:
        """The same with something else."""
        return replace(self, **changes)

    def parts(self) -> Iterator[Said | Part]:
        """Everything that has groups: reports, their trends, stretches of the forecast."""
        for one in self.reports:
            yield one
            yield from one.trend
        if self.forecast:
            yield from self.forecast.parts

    def find(self, name: str) -> Any:
        """A report or stretch by its name; KeyError where it is not there."""
        for one in self.parts():
            if one.name == name:
                return one
        raise KeyError(name)

    def swap(self, name: str, change: Callable[[Any], Any]) -> Night:
        """The same with one report or stretch replaced, taken out where change gives None."""
        self.find(name)

        def each(items: tuple[Any, ...]) -> tuple[Any, ...]:
            changed = (change(item) if item.name == name else item for item in items)
            return tuple(item for item in changed if item is not None)

        reports = tuple(replace(one, trend=each(one.trend)) for one in each(self.reports))
        forecast = replace(self.forecast, parts=each(self.forecast.parts)) if self.forecast else None
        return self.but(reports=reports, forecast=forecast)

    def said(self, name: str, **groups: Any) -> Night:
        """The same with some groups of one report or stretch replaced."""
        return self.swap(name, lambda one: replace(one, **groups))


@lru_cache(maxsize=16)
def made(texts: tuple[str, ...], now: datetime, off_block: datetime, asked: tuple[tuple[str, Any], ...]) -> Brief:
    """A brief; several trials begin with the same."""
    return advise(list(texts), now=now, off_block=off_block, **dict(asked))


def joined(*groups: str) -> str:
    """Groups with one blank between them."""
    return " ".join(group for group in groups if group)


def air_c(temperature: str) -> int | None:
    """The air temperature of a group, None where it is missing."""
    match = re.match(r"(M?)(\d\d)/", temperature)
    return None if match is None else int(match[2]) * (-1 if match[1] else 1)


def a_wind(rng: Random) -> str:
    """A wind group."""
    mean = rng.choice([rng.randint(0, 15), rng.randint(0, 15), rng.randint(0, 50)])
    over = rng.choice([0, 0, 0, 10, 14, 25])
    if 0 < mean < 7 and rng.random() < 0.2:
        return f"VRB{mean:02d}KT"
    return wind(10 * rng.randint(1, 36), mean, mean + over if over and mean else None)


def a_sky(rng: Random) -> str:
    """Cloud groups."""
    if rng.random() < 0.25:
        return rng.choice(ODD_SKIES)
    return f"{rng.choice(COVER[1:])}{rng.randint(1, 60):03d}"


def a_weather(rng: Random, air: int) -> str:
    """Weather that the air allows: nothing frozen above 4 °C, where a lost code cannot have meant snow."""
    return rng.choice(COLD_WEATHER if air <= 4 else WARM_WEATHER)


def some_remarks(rng: Random, air: int) -> tuple[str, ...]:
    """Remarks that the air allows."""
    pool = (COLD_REMARKS if air <= 4 else WARM_REMARKS) + EITHER_REMARKS
    return tuple(rng.sample(pool, rng.choice([1, 1, 2, 3])))


def a_part(rng: Random, name: str, head: str, air: int, whole: bool) -> Part:
    """A stretch of a forecast: all four groups, or some of them."""
    made = Part(name, head, a_wind(rng), rng.choice(VISIBILITIES), a_weather(rng, air), a_sky(rng))
    if whole:
        return made
    kept = rng.sample(PARTS, rng.randint(1, 3))
    made = replace(made, **{group: "" for group in PARTS if group not in kept})
    if "weather" in kept and not made.weather:
        made = replace(made, weather="NSW")
    return made


def a_series(rng: Random, air: int) -> tuple[Said, ...]:
    """Up to six earlier reports and the newest: half-hourly or hourly, with gaps, specials and corrections."""
    step, spread = rng.choice([30, 60]), rng.choice([0, 0, 1, 1, 2, 3, 5, 9])
    age, weather, made = rng.choice([2, 5, 15, 25, 40, 55, 80, 110]), a_weather(rng, air), []
    for index in range(1 + rng.choice([0, 1, 2, 3, 4, 5, 6])):
        temperature = body(air, spread)
        if FROZEN.search(weather) and air > 4:
            weather = a_weather(rng, air)
        one = Said(
            f"r{index}",
            age,
            "METAR",
            a_wind(rng),
            rng.choice(VISIBILITIES),
            weather,
            a_sky(rng),
            temperature,
        )
        if rng.random() < 0.2:
            recent = a_weather(rng, air).split(" ")[0].lstrip("+-")
            one = replace(one, recent=f"RE{recent}" if recent and not recent.startswith("VC") else "")
        if rng.random() < 0.35:
            one = replace(one, remarks=some_remarks(rng, air))
        if rng.random() < 0.08:
            group = rng.choice(sorted(FULL))
            one = replace(one, **{group: FULL[group]})
        made.append(one)
        if rng.random() < 0.08:
            right = replace(one, name=f"{one.name}c", kind="METAR COR", weather=a_weather(rng, air), wind=a_wind(rng))
            made.append(right)
        special = rng.random() < 0.12
        age += rng.randint(4, 25) if special else step * rng.choice([1, 1, 1, 1, 2, 4])
        if special:
            made[-1] = replace(made[-1], kind="SPECI")
        air += rng.choice([-1, 0, 0, 0, 1])
        spread = max(0, spread + rng.choice([-1, 0, 0, 1]))
        weather = weather if rng.random() < 0.55 else a_weather(rng, air)
    # by time, a correction after what it corrects
    return tuple(sorted(made, key=lambda one: (-one.age_min, one.kind == "METAR COR")))


def a_trend(rng: Random, now: datetime, air: int) -> tuple[Part, ...]:
    """NOSIG or one or two trend groups."""
    if rng.random() < 0.3:
        return (Part("t0", "NOSIG"),)
    heads = ("BECMG", "TEMPO", f"BECMG FM{now:%H%M}", f"TEMPO TL{now + timedelta(minutes=90):%H%M}")
    return tuple(a_part(rng, f"t{at}", rng.choice(heads), air, False) for at in range(rng.choice([1, 1, 2])))


def a_forecast(rng: Random, now: datetime, air: int) -> Foretold:
    """A forecast with up to four changes and perhaps its extremes."""
    starts = now.replace(minute=0) - timedelta(hours=rng.randint(0, 8))
    ends = starts + timedelta(hours=rng.choice([9, 12, 24, 30]))
    issued = min(now - timedelta(minutes=2), starts - timedelta(minutes=rng.choice([20, 50, 60])))
    # what a lost code may have meant hangs on the air: no more than what is forecast in it
    parts = [a_part(rng, "f0", "", air + 3, True)]
    for index in range(rng.choice([0, 1, 1, 2, 3, 4])):
        begins = now.replace(minute=0) + timedelta(hours=rng.randint(-2, 5))
        begins = max(begins, starts)
        until = min(begins + timedelta(hours=rng.choice([1, 2, 4])), ends)
        kind = rng.choice(["FM", "BECMG", "TEMPO", "TEMPO", "PROB30", "PROB40", "PROB30 TEMPO"])
        if begins >= until:
            continue
        span = f"{begins:%d%H%M}" if kind == "FM" else f" {begins:%d%H}/{end_of(begins, until)}"
        parts.append(a_part(rng, f"f{index + 1}", kind + span, air + 3, kind == "FM"))
    # a period that begins later stands later, its changes after it
    base, *changes = parts
    changes.sort(key=lambda part: re.sub(r"\D", "", part.head.replace("PROB30", "").replace("PROB40", ""))[:4])
    extremes = ""
    if rng.random() < 0.3:
        high, low = air + rng.randint(0, 3), air - rng.randint(1, 8)
        noon = starts + timedelta(hours=rng.randint(1, 7))
        later = noon + timedelta(hours=1)
        extremes = f"TX{degrees(high)}/{noon:%d%H}Z TN{degrees(low)}/{later:%d%H}Z"
    head = f"{issued:%d%H%M}Z {starts:%d%H}/{end_of(starts, ends)}"
    return Foretold(head, (base, *changes), extremes)


def end_of(begins: datetime, until: datetime) -> str:
    """Day and hour of an end; midnight as 24 of the day before."""
    if until.hour == 0 and until > begins:
        return f"{until - timedelta(hours=1):%d}24"
    return f"{until:%d%H}"


def night(seed: int, number: int) -> Night:
    """The situation of a number: all seasons, latitudes and classes, with or without history and forecast."""
    rng = Random(f"{seed}:{number}")
    now = datetime(2027, 1, 1, tzinfo=UTC) + timedelta(minutes=rng.randrange(363 * 1440))
    air = rng.choice([rng.randint(-30, 38), rng.randint(-6, 8), rng.randint(-6, 8), rng.randint(-2, 3)])
    reports = a_series(rng, air)
    if rng.random() < 0.25:
        newest = replace(reports[-1], trend=a_trend(rng, now - timedelta(minutes=reports[-1].age_min), air))
        reports = (*reports[:-1], newest)
    forecast = a_forecast(rng, now, air) if rng.random() < 0.5 else None
    asked: dict[str, Any] = {"aircraft": rng.choice(CLASSES)}
    often: tuple[tuple[str, float, Callable[[], Any]], ...] = (
        ("heading", 0.5, lambda: rng.choice([0, 90, 210, 305])),
        ("parked_since", 0.55, lambda: now - timedelta(minutes=rng.choice([20, 45, 90, 240, 500, 840, 2000]))),
        ("treated_at", 0.12, lambda: now - timedelta(minutes=rng.choice([4, 20, 60, 110]))),
        ("seen", 0.12, lambda: rng.choice(["frost", "snow", "ice"])),
        ("fuel_temperature", 0.4, lambda: rng.choice([-9, -2, 1, 4, 12])),
        ("fuel_fill", 0.25, lambda: rng.choice([5, 40, 100])),
    )
    asked |= {name: made() for name, chance, made in often if rng.random() < chance}
    place = f"{rng.choice([61.4, 69.9, 52.1, 47.5, 35.7, 8.4, -20.3, -41.2, -54.8])},{rng.choice(PLACES_EAST)}"
    return Night(reports, forecast, now, rng.randint(20, 400), place, asked)


def simpler(one: Night) -> Iterator[Night]:
    """The same with one thing less, or one thing plainer."""
    if one.forecast:
        yield one.but(forecast=None)
        yield one.but(forecast=replace(one.forecast, extremes=""))
        for part in one.forecast.parts[1:]:
            yield one.swap(part.name, lambda _: None)
    for report in one.reports:
        if len(one.reports) > 1:
            yield one.swap(report.name, lambda _: None)
    for report in one.reports:
        for part in report.trend:
            yield one.swap(part.name, lambda _: None)
        for at in range(len(report.remarks)):
            yield one.said(report.name, remarks=report.remarks[:at] + report.remarks[at + 1 :])
        plain = {
            "recent": "",
            "kind": "METAR",
            "weather": "",
            "cloud": "FEW020",
            "wind": "24008KT",
            "visibility": "9999",
        }
        for group, text in plain.items():
            yield one.said(report.name, **{group: text})
    for part in one.forecast.parts if one.forecast else ():
        whole = part.name == "f0" or part.head.startswith("FM")
        for group, text in (("cloud", "FEW020"), ("wind", "24008KT"), ("visibility", "9999"), ("weather", "")):
            yield one.said(part.name, **{group: text if whole or group == "weather" else ""})
    for name in one.asked:
        if name != "aircraft":
            yield one.but(asked={key: value for key, value in one.asked.items() if key != name})
    yield one.but(asked={**one.asked, "aircraft": "single-aisle-jet"})
    yield one.but(ahead_min=75)
    yield one.but(place="61.4,9.8")
