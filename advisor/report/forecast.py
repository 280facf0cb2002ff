"""What a TAF said, as data, and what it says to hold at a time.

A Forecast keeps its groups as written: periods (the base and each FM) and changes (BECMG, TEMPO, PROB). `spans` turns
them into stretches of time with everything that is forecast in each, `prevailing` looks those up for an array of times.

A BECMG comes about at some time between its start and its end. Both readings are kept: the late one (from its end) is
"prevailing", the early one (from its start) is "becoming" until then. For anything that gets worse count from the early
reading, for anything that gets better from the late one: the worse of the two at each time. TEMPO is "temporary", PROB
is "probable", with or without TEMPO.
Source: wmo-306-fm-51.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from math import nan

import numpy as np
from msgspec import field
from msgspec.structs import replace
from numpy.typing import ArrayLike, NDArray

from advisor.report.model import CloudLayer, Group, Reported

WIND, VISIBILITY, WEATHER, CLOUD = "wind", "visibility", "weather", "cloud"
ALL = frozenset((WIND, VISIBILITY, WEATHER, CLOUD))
PREVAILING, BECOMING, TEMPORARY, PROBABLE = "prevailing", "becoming", "temporary", "probable"


class Elements(Reported, frozen=True, eq=False, gc=False):
    """What is forecast, by the names and meanings of Report.

    mentioned: which of "wind", "visibility", "weather" and "cloud" the group sets; what it does not mention stays as
    it was (here NaN, () or ""). Mentioned and NaN: coded missing, not read or in conflict, so not known from here on.
    gust_kt: NaN where none is forecast, gust_lost where one is and its value cannot be had.
    weather: () where none is forecast or by NSW; weather_missing: coded // or not
    read. sky: "layers", "CAVOK", "NSC", "NCD", "CLR", "SKC", "missing", or "" where not mentioned. unread: groups of
    the same stretch that were not decoded or in conflict.
    """

    mentioned: frozenset[str] = frozenset()
    wind_direction_deg: float = nan
    wind_variable: bool = False
    wind_kt: float = nan
    wind_is: str = "exactly"
    gust_kt: float = nan
    gust_lost: bool = False
    visibility_m: float = nan
    visibility_is: str = "exactly"
    visibility_text: str = ""
    weather: tuple[str, ...] = ()
    weather_missing: bool = False
    sky: str = ""
    cloud: tuple[CloudLayer, ...] = ()
    vertical_visibility_ft: float = nan
    unread: tuple[str, ...] = ()


class Period(Reported, frozen=True, eq=False, gc=False):
    """The base forecast or an FM group: everything that holds from start until end. label: "base" or as written."""

    label: str
    start: datetime
    end: datetime
    elements: Elements


class ChangeGroup(Reported, frozen=True, eq=False, gc=False):
    """A change group.

    indicator: BECMG, TEMPO, INTER, PROB30, PROB40, "PROB30 TEMPO" …, or FM where its time could not be read: then it
    comes about at some time of its period. label: as written, with its time. probability: 0.3 or 0.4, NaN where not
    given. period: index of the period that it belongs to. timed: False where its time was not given or not read, and
    start and end are those of its period.
    """

    indicator: str
    label: str
    start: datetime
    end: datetime
    elements: Elements
    probability: float = nan
    period: int = 0
    timed: bool = True

    @property
    def certain(self) -> str:
        """How sure it is: "becoming", "temporary" or "probable"."""
        if self.indicator.startswith("PROB"):
            return PROBABLE
        return BECOMING if self.indicator in ("BECMG", "FM") else TEMPORARY


class Extreme(Reported, frozen=True, eq=False, gc=False):
    """A forecast temperature. kind: TX (highest), TN (lowest) or T. at: aware UTC."""

    kind: str
    value_c: float
    at: datetime


class Forecast(Reported, frozen=True, eq=False, gc=False):
    """One TAF as read."""

    #: TAF.
    kind: str
    #: Its location indicator.
    station: str
    #: Aware UTC.
    issued: datetime
    #: Aware UTC; a NIL without a validity has both at the time of issue, an empty stretch.
    valid_from: datetime
    #: Aware UTC.
    valid_to: datetime
    #: As written, spaces and line breaks apart.
    raw: str
    #: Joined by spaces they are raw; part says which part of the forecast each belongs to.
    groups: tuple[Group, ...]
    #: Whether it replaces one that no longer held.
    amended: bool = False
    #: Whether it replaces one that was wrong.
    corrected: bool = False
    #: Whether it takes back one before.
    cancelled: bool = False
    #: Whether it says only that there is none.
    nil: bool = False
    #: The base first, then each FM, in order of writing; none where cancelled or NIL.
    periods: tuple[Period, ...] = ()
    #: BECMG, TEMPO and PROB groups.
    changes: tuple[ChangeGroup, ...] = ()
    #: Highest and lowest that are forecast.
    temperatures: tuple[Extreme, ...] = ()
    #: False where it does not say when it was issued; issued is then the earlier of valid_from and now.
    issued_given: bool = True


class ForecastSpan(Reported, frozen=True, eq=False, gc=False):
    """A stretch of a forecast with everything that it says for it.

    start_s, end_s: seconds since 1970 UTC, end not included. elements: whole, with what the group does not mention
    taken from the late reading. own: what the group itself mentions, to be laid over another state with `over`.
    certain: "prevailing", "becoming", "temporary" or "probable". label: "base", "FM161230", "TEMPO 0608/0612", …
    probability: 0.3 or 0.4, else NaN.
    """

    start_s: float
    end_s: float
    elements: Elements
    certain: str
    label: str
    probability: float = nan
    own: Elements = field(default_factory=Elements)


@dataclass(frozen=True)
class Prevailing:
    """What prevails at each of some times.

    spans: as of `spans`. late, early: index into spans, shape of the times, −1 outside the validity. late counts a
    BECMG from its end, early from its start; they differ only while something is becoming.
    """

    spans: tuple[ForecastSpan, ...]
    late: NDArray[np.intp]
    early: NDArray[np.intp]


def over(state: Elements, change: Elements) -> Elements:
    """Lay a change over a state: what the change mentions replaces, the rest stays. Mentioned adds up."""
    if change.mentioned >= ALL:
        return change
    new: dict[str, object] = {}
    for name in change.mentioned:
        for key in _FIELDS[name]:
            new[key] = getattr(change, key)
    mentioned = state.mentioned | change.mentioned
    return replace(state, mentioned=mentioned, unread=state.unread + change.unread, **new)


_FIELDS = {
    WIND: ("wind_direction_deg", "wind_variable", "wind_kt", "wind_is", "gust_kt", "gust_lost"),
    VISIBILITY: ("visibility_m", "visibility_is", "visibility_text"),
    WEATHER: ("weather", "weather_missing"),
    CLOUD: ("sky", "cloud", "vertical_visibility_ft"),
}


def spans(forecast: Forecast) -> tuple[ForecastSpan, ...]:
    """Stretches of time with what is forecast for each.

    Returns first the prevailing ones (late reading), which cover the validity once without gaps, then those becoming
    (only while early and late reading differ), then each TEMPO and PROB over the late reading, all cut to the validity.
    Empty for a cancelled or NIL forecast.
    """
    settled: list[ForecastSpan] = []
    coming: list[ForecastSpan] = []
    for index, period in enumerate(forecast.periods):
        becoming = [c for c in forecast.changes if c.period == index and c.certain == BECOMING]
        start, end = period.start.timestamp(), period.end.timestamp()
        becoming.sort(key=lambda c: c.start)
        early = [(max(start, c.start.timestamp()), c) for c in becoming]
        late = [(max(start, c.end.timestamp()), c) for c in becoming]
        cuts = sorted({start, end, *(at for at, _ in early + late if at < end)})
        for begin_s, until in pairwise(cuts):
            state, labels = _state(period, late, begin_s)
            settled.append(ForecastSpan(begin_s, until, state, PREVAILING, labels[-1], nan, state))
            sooner, other = _state(period, early, begin_s)
            if other != labels:
                new = [label for label in other if label not in labels]
                coming.append(
                    ForecastSpan(begin_s, until, sooner, BECOMING, " and ".join(new) or other[-1], nan, sooner)
                )
    settled = sorted(_joined(settled), key=lambda span: span.start_s)
    coming = sorted(_joined(coming), key=lambda span: span.start_s)
    passing = [
        ForecastSpan(
            max(span.start_s, start),
            min(span.end_s, end),
            over(span.elements, change.elements),
            change.certain,
            change.label,
            change.probability,
            change.elements,
        )
        for change in forecast.changes
        if change.certain != BECOMING
        for start, end in [(change.start.timestamp(), change.end.timestamp())]
        for span in settled
        if span.start_s < end and start < span.end_s
    ]
    return (*settled, *coming, *passing)


def _state(
    period: Period, changes: list[tuple[float, ChangeGroup]], moment_s: float
) -> tuple[Elements, tuple[str, ...]]:
    """Lay the changes that count at a time over their period, in the order of their starts."""
    state, labels = period.elements, [period.label]
    for since, change in changes:
        if since <= moment_s:
            state = over(state, change.elements)
            labels.append(change.label)
    return state, tuple(labels)


def _joined(parts: Iterable[ForecastSpan]) -> list[ForecastSpan]:
    """Join neighbours that say the same."""
    joined: list[ForecastSpan] = []
    for part in parts:
        last = joined[-1] if joined else None
        same = last is not None and last.label == part.label and last.elements == part.elements
        if last is not None and same and last.end_s == part.start_s:
            joined[-1] = replace(last, end_s=part.end_s)
        else:
            joined.append(part)
    return joined


def prevailing(forecast: Forecast, unix_s: ArrayLike) -> Prevailing:
    """What prevails at each time, by the late and the early reading of BECMG.

    unix_s: seconds since 1970 UTC, scalar or array; NaN is outside. Returns spans and two index arrays of its shape.
    """
    times = np.asarray(unix_s, dtype=np.float64)
    stretches = spans(forecast)
    late = np.full(times.shape, -1, dtype=np.intp)
    early = late.copy()
    for index, span in enumerate(stretches):
        if span.certain in (PREVAILING, BECOMING):
            inside = (times >= span.start_s) & (times < span.end_s)
            early[inside] = index
            if span.certain == PREVAILING:
                late[inside] = index
    return Prevailing(stretches, late, early)
