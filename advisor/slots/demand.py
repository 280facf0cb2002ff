"""Who will need treatment: the brief's own outlook, physics and rule, derived once for the night, read per departure.

`night` is the one place that builds conditions; everything else reads their columns.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import isnan, nan
from typing import Any

import msgspec
import numpy as np

from advisor import places
from advisor.brief import inputs, lines, missing
from advisor.brief.inputs import Weather
from advisor.brief.model import Because
from advisor.brief.order import TREATMENT_RULE
from advisor.checklist.evaluate import CANNOT_TELL, EXPECTED, LIKELY, NOT_INDICATED, POSSIBLE, Finding, evaluate
from advisor.checklist.profile import Profile
from advisor.checklist.rules import Checklist
from advisor.conditions import Conditions, Departure, Floats, Place, Windows
from advisor.departure import from_unix, hhmm, windows_of
from advisor.outlook import gaps
from advisor.quantities import TREATMENT_CATEGORIES
from advisor.quantities.units import HOUR_S
from advisor.report.forecast import Forecast
from advisor.report.model import Report
from advisor.slots.cases import CasePick, by_case, if_it_stood_there, only, untold
from advisor.slots.files.schedule import Row

AHEAD_S = 6 * 3600
FROZEN_CODES = ("SN", "SG", "PL", "GS", "GR", "IC", "FZ")
ICE = ("freezing_precipitation", "freezing_after_wet", "ice_pellets", "hail", "recent_freezing")
UNKNOWN_KIND = TREATMENT_CATEGORIES.index("unknown")
DEPOSITS = ("frost", "snow", "ice", "unknown")
SNOW = ("snow", "blowing_snow", "frozen_precipitation")
INPUTS = {"history": "what fell or froze while it stood there", "forecast": "what is forecast for then"}


@dataclass(frozen=True, slots=True)
class Need:
    """What one departure needs. Minutes are whole; all times seconds since 1970 UTC.

    status: as a finding's; deposit: "frost", "snow", "ice", "unknown" or "" ; steps: 0, 1 or 2; removal_min: first
    step; anti_icing_min: second step, 0 without; to_pad_min, to_runway_min: grown by the snow; earliest: when it
    could leave the stand; reason: why, in words; conditions: of its airframe and fuel; by_case: in which cases of those
    the rule says yes, empty where nobody asked; left_stand: it is on its way, and can be late no more; maybe: what may
    fall in some cases besides, "" where the status says that already.
    """

    row: Row
    profile: Profile
    status: str
    deposit: str
    steps: int
    removal_min: int
    anti_icing_min: int
    to_pad_min: int
    to_runway_min: int
    earliest: int
    reason: str
    because: tuple[Because, ...]
    conditions: Conditions
    by_case: tuple[bool, ...] = ()
    left_stand: bool = False
    maybe: str = ""

    @property
    def treatment_min(self) -> int:
        """Minutes on the pad."""
        return self.removal_min + self.anti_icing_min


def read_weather(
    reports: Sequence[str | Report | Forecast], now: int, until: int, place: str | Place | None
) -> Weather:
    """Reports read and the place settled, as a brief does it. until: end of the bank, what a forecast should cover.

    Raises ReportError and DepartureError.
    """
    read, forecasts = inputs.read_texts(reports, from_unix(now))
    where = inputs.find_place(place, (*read, *forecasts), places)
    known = inputs.weather(read, forecasts, where, now=now, until=until, gazetteer=places)
    newest, forecast = known.newest, known.forecast
    covered = now if newest is None else int(newest.issued.timestamp()) + gaps.WEATHER_HOLDS_S
    if forecast is not None:
        covered = max(covered, int(forecast.valid_to.timestamp()))
    if covered >= until:
        return known
    late = f"No forecast was given for later: what falls after {hhmm(covered)} is not known."
    return replace(known, notes=(*known.notes, late))


def night(
    weather: Weather, profile: Profile, end: int, parked_since: int | None, fuel_temperature_c: float
) -> Conditions:
    """Derived conditions of one airframe and fuel state from now to the end of the night, on the brief's grid."""
    now = weather.now
    windows = Windows((now, end), (now, end), end, end)
    whole = Departure(now, weather.place, windows, parked_since=parked_since, fuel_temperature_c=fuel_temperature_c)
    return inputs.conditions(weather, whole, profile.airframe()).between(now, end)


class Nights:
    """Conditions by airframe and fuel state, made when first asked for. pick: only these cases, None for all."""

    def __init__(self, weather: Weather, end: int, pick: CasePick | None = None) -> None:
        self.weather, self.end, self.pick = weather, end, pick
        self.made: dict[tuple[Any, ...], Conditions] = {}

    def of(self, row: Row, profile: Profile) -> Conditions:
        """The night of a departure."""
        parked = row.parked_since
        if parked is not None and parked > self.weather.now:
            parked = None
        if parked is not None:
            # to the hour before, so that a bank of departures shares one night; longer parked never reassures
            parked -= parked % HOUR_S
        return self._since(parked, row, profile)

    def _since(self, parked: int | None, row: Row, profile: Profile) -> Conditions:
        fuel = None if isnan(row.fuel_temperature_c) else row.fuel_temperature_c
        key = (profile.id, fuel, parked)
        if key not in self.made:
            found = night(self.weather, profile, self.end, parked, nan if fuel is None else fuel)
            self.made[key] = found if self.pick is None else only(found, self.pick)
        return self.made[key]

    def if_there_before(self, row: Row, profile: Profile) -> tuple[Conditions, int] | None:
        """The night as if a departure had stood there since the first report, and when something frozen was last
        reported. None where its history is told, or nothing frozen was reported: then there is nothing to miss.
        """
        if row.parked_since is not None:
            return None
        fell = [
            int(report.issued.timestamp())
            for report in self.weather.used
            if any(frozen in code for code in report.weather for frozen in FROZEN_CODES)
        ]
        if not fell:
            return None
        first = min(int(report.issued.timestamp()) for report in self.weather.used)
        return self._since(first, row, profile), max(fell)


def last_moment(rows: Sequence[Row], now: int) -> int:
    """Until when a night has to be looked at: six hours past the last departure."""
    latest = max(max(row.off_block, row.ready or 0, row.take_off_from or 0, now) for row in rows)
    return latest + AHEAD_S


def needs(
    rows: Sequence[Row], fleet: Mapping[str, Profile], checklist: Checklist, nights: Nights, pads: Any
) -> tuple[Need, ...]:
    """What each departure needs, in order. pads: as read, for minutes and margins.

    The brief's own de-icing rule decides, over the departure's own times: from now, or its arrival on the stand, to
    its take-off. Raises DepartureError where the checklist has no such rule.
    """
    return tuple(_need(row, fleet[row.aircraft], checklist, nights, pads) for row in rows)


def _need(row: Row, profile: Profile, checklist: Checklist, nights: Nights, pads: Any) -> Need:
    now = nights.weather.now
    # a rule that holds for other aircraft, stations or months alone is none here
    there = checklist.in_force(profile, nights.weather.indicators, inputs.months(now, row.off_block))
    rule = there.rule(TREATMENT_RULE)
    conditions = nights.of(row, profile)
    # windows before now count as over: who is late leaves now at the earliest
    leaving = max(row.off_block, row.ready or 0, now)
    plan = checklist.windows[profile.windows]
    windows, _ = windows_of(leaving, now, plan, treated=True)
    end = max(windows.take_off, leaving + (row.taxi_min + pads.margin.delay_min) * 60, row.take_off_from or 0)
    windows = msgspec.structs.replace(windows, take_off=min(end, nights.end))
    since = now if row.parked_since is None else min(max(now, row.parked_since), leaving)
    held = None if rule is None else rule.for_class(profile.class_id)
    because: tuple[Because, ...] = ()
    if held is None or rule is None:
        status, reason = CANNOT_TELL, "the checklist has no rule for de-icing of this class"
    else:
        finding = evaluate((rule,), conditions, windows, since, profile.class_id)[0]
        status = finding.status
        because = lines.because(finding, conditions)
        reason = _reason(finding, conditions, since, windows.take_off)
    lying = conditions
    earlier = nights.if_there_before(row, profile)
    if earlier is not None and held is not None:
        lying, fell = earlier
        if status == NOT_INDICATED:
            status, reason = if_it_stood_there(rule, lying, windows, now, profile.class_id, fell, reason)
        elif status in (LIKELY, POSSIBLE):
            reason = f"{reason}; {untold(fell)}"
    inside = (conditions.unix_s >= since) & (conditions.unix_s <= windows.take_off)
    late = (conditions.unix_s >= leaving) & (conditions.unix_s <= windows.take_off)
    to_pad, to_runway = _ways(row, conditions, late, pads.snow)
    if status == NOT_INDICATED:
        return Need(row, profile, status, "", 0, 0, 0, to_pad, to_runway, leaving, reason, because, conditions)
    deposit = _deposit(lying, inside, status)
    minutes = getattr(pads.treatment, profile.size)
    removal = getattr(minutes, "snow" if deposit == "unknown" else deposit)
    removal += max(_for_snow(conditions, leaving, pads.snow), _for_snow(lying, leaving, pads.snow))
    told, central = _falling(conditions, since, windows.take_off)
    maybe = told if status == EXPECTED and not central else ""
    reason = f"{reason}; {maybe}" if maybe and maybe not in reason else reason
    falls = bool((_category(conditions)[:, late] > 0).any())
    after = minutes.anti_icing if falls else 0
    return Need(
        row,
        profile,
        status,
        deposit,
        2 if after else 1,
        removal,
        after,
        to_pad,
        to_runway,
        leaving,
        reason,
        because,
        conditions,
        by_case(rule, conditions, windows, since, profile.class_id, status),
        maybe=maybe,
    )


def _table(conditions: Conditions, name: str) -> Any:
    """A column as a whole table, (case, time); 0 everywhere where there is none."""
    return np.broadcast_to(conditions.columns.get(name, np.zeros((1, 1))), conditions.shape)


def _category(conditions: Conditions) -> Any:
    """What falls as treatment tables name it, (case, time); what nobody told counts as of unknown kind."""
    code = _table(conditions, "treatment_category")
    return np.where(code < 0, UNKNOWN_KIND, code)


def _deposit(conditions: Conditions, inside: Any, status: str) -> str:
    """What to expect on the wing: of the central case, or of any where that has nothing; the worst of them."""
    for rows in (slice(0, 1), slice(None)):
        for name, flags in (("ice", ICE), ("snow", SNOW)):
            if any(bool((_table(conditions, flag)[rows][:, inside] == 1).any()) for flag in flags):
                return name
        if bool((_category(conditions)[rows][:, inside] == UNKNOWN_KIND).any()):
            # something falls, or may, and nobody says what
            return "unknown"
        margin = _table(conditions, "frost_margin_c")[rows][:, inside]
        if bool((margin > 0).any()):
            return "frost"
    return "unknown" if status == CANNOT_TELL else "frost"


def _at(conditions: Conditions, moment: int) -> int:
    return min(int(np.searchsorted(conditions.unix_s, moment)), conditions.unix_s.size - 1)


def _for_snow(conditions: Conditions, leaving: int, snow: Any) -> int:
    """Minutes that treatment takes longer for the snow that will have fallen; the most where that is not known."""
    fallen = float(_table(conditions, "snow_accumulated_mm")[0, _at(conditions, leaving)])
    if isnan(fallen):
        return int(snow.most_min)
    return int(min(snow.most_min, np.ceil(snow.min_per_mm * fallen - 1e-9)))


def _ways(row: Row, conditions: Conditions, late: Any, snow: Any) -> tuple[int, int]:
    """Minutes to the pad and to the runway, longer while snow falls: the central case, the heaviest while taxiing."""
    level = _table(conditions, "snow_intensity")[0, late]
    known = level[~np.isnan(level)]
    worst = int(known.max()) if known.size else 0
    factor = (1.0, snow.taxi_light, snow.taxi_light, snow.taxi_moderate, snow.taxi_heavy)[min(4, max(0, worst))]
    return int(np.ceil(row.to_pad_min * factor - 1e-9)), int(np.ceil(row.to_runway_min * factor - 1e-9))


def _reason(finding: Finding, conditions: Conditions, since: int, until: int) -> str:
    """Why, in words and numbers. What is not indicated is never said to be absent."""
    if finding.status == CANNOT_TELL:
        time = max(finding.time, 0)
        inputs = [name for each in finding.missing for name in missing.roots(each, conditions, time)]
        names = ", ".join(INPUTS.get(name, name.replace("_", " ")) for name in dict.fromkeys(inputs))
        return f"not known: {names or 'the weather at that time'}"
    if finding.status == NOT_INDICATED:
        inside = (conditions.unix_s >= since) & (conditions.unix_s <= until)
        margin = _table(conditions, "frost_margin_c")[:, inside]
        margin = margin[~np.isnan(margin)]
        untold = bool((_table(conditions, "rain")[:, inside] < 0).any())
        parts = ["nothing frozen or freezing reported or forecast"]
        if untold:
            parts = ["what falls is not known for all of that time, and by the temperature alone it would not freeze"]
        if margin.size:
            parts.append(f"skin at least {-float(margin.max()):.1f} °C above where frost could form")
        return ", ".join(parts) + f", until {hhmm(until)}: only the inspection can tell"
    falls, central = _falling(conditions, since, until)
    if falls and (central or finding.status in (LIKELY, POSSIBLE)):
        return falls
    clock_time = hhmm(conditions.unix_s[finding.time])
    for name, where in (("frost_margin_c", "skin"), ("tank_frost_margin_c", "skin over the tanks")):
        margin = float(_table(conditions, name)[finding.case, finding.time])
        if margin > 0:
            return f"{where} {margin:.1f} °C below where frost can form at {clock_time}"
    met = [
        name.replace("_", " ")
        for name in (*ICE, *SNOW, "freezing_fog", "deposit_seen", "deposit_possible")
        if _table(conditions, name)[finding.case, finding.time] == 1
    ]
    return f"{', '.join(met) or 'the checklist rule is met'} at {clock_time}"


def _falling(conditions: Conditions, since: int, until: int) -> tuple[str, bool]:
    """What falls in words, "" for nothing, and whether it does in the central case."""
    inside = np.flatnonzero((conditions.unix_s >= since) & (conditions.unix_s <= until))
    if not inside.size:
        return "", False
    codes = _category(conditions)[:, inside]
    central = [TREATMENT_CATEGORIES[int(code)] for code in dict.fromkeys(codes[0].tolist()) if code > 0]
    others = [TREATMENT_CATEGORIES[int(code)] for code in dict.fromkeys(codes.ravel().tolist()) if code > 0]
    names = central or others
    if not names:
        return "", False
    at = conditions.unix_s[inside[(codes[0] > 0 if central else (codes > 0).any(axis=0)).argmax()]]
    text = " or ".join(names).replace("unknown", "precipitation of unknown kind")
    return f"{text} from {hhmm(float(at))}{'' if central else ' in some cases'}", bool(central)


def holdover_codes(conditions: Conditions, frost_code: int) -> tuple[Any, Floats]:
    """Category codes, frost where nothing falls but frost can form, and air temperature; both (case, time)."""
    code = _category(conditions).astype(np.int64)
    margin = _table(conditions, "frost_margin_c")
    code = np.where((code == 0) & (margin > 0), frost_code, code)
    return code, _table(conditions, "air_temperature_c")
