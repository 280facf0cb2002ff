"""Temporary, probable and becoming groups as lanes: what may hold at some times on top of a case.

A lane is a row of the table of choices: one group, or several that never hold at the same time. Groups come from a
forecast (TEMPO, PROB) and from the trend of a METAR, which is a forecast of two hours.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from msgspec import Struct

from advisor.report.forecast import ALL, Elements, Forecast, spans
from advisor.report.model import TREND_HOLDS, Report, Trend

PASSING = ("temporary", "probable")


class PassingGroup(Struct, frozen=True):
    """A group that may hold from start to end, seconds since 1970 UTC, with what it mentions."""

    start_s: float
    end_s: float
    label: str
    said: Elements


class Lane(Struct, frozen=True):
    """Groups that do not hold at the same time, or, where there were too many, the worse of those that do."""

    groups: tuple[PassingGroup, ...]

    @property
    def label(self) -> str:
        """The groups' labels, in order of time."""
        return "; ".join(dict.fromkeys(group.label for group in self.groups))


def of_forecast(forecast: Forecast, start_s: float, end_s: float) -> list[PassingGroup]:
    """The forecast's temporary and probable groups that touch a stretch of time."""
    return [
        PassingGroup(span.start_s, span.end_s, span.label, span.own)
        for span in spans(forecast)
        if span.certain in PASSING and span.start_s <= end_s and span.end_s > start_s
    ]


def of_trend(report: Report, start_s: float, end_s: float) -> list[PassingGroup]:
    """The trend groups of a METAR that touch a stretch of time; a becoming one lasts to the end of the two hours."""
    groups = []
    last = (report.issued + TREND_HOLDS).timestamp()
    for trend in report.trends:
        if trend.change == "NOSIG":
            continue
        elements = _elements(trend)
        if not elements.mentioned:
            continue
        begins = trend.begins.timestamp() if trend.begins else report.issued.timestamp()
        ends = trend.ends.timestamp() if trend.ends and trend.change == "TEMPO" else last
        if begins <= end_s and ends > start_s and ends > begins:
            groups.append(PassingGroup(begins, ends, f"trend {trend.change}", elements))
    return groups


def _elements(trend: Trend) -> Elements:
    weather = tuple(code for code in trend.weather if code != "NSW")
    return Elements(
        mentioned=trend.mentioned & ALL,
        wind_direction_deg=trend.wind_direction_deg,
        wind_kt=trend.wind_kt,
        gust_kt=trend.gust_kt,
        gust_lost=trend.gust_lost,
        visibility_m=trend.visibility_m,
        visibility_is=trend.visibility_is,
        weather=weather,
        weather_missing=trend.weather_missing,
        sky=trend.sky,
        cloud=trend.cloud,
    )


def lanes(groups: Iterable[PassingGroup], most: int) -> tuple[tuple[Lane, ...], tuple[str, ...]]:
    """Groups on as few lanes as their times allow, and the labels of those that had to share a lane.

    Groups are taken in order of time, each onto the first lane that is free: the fewest lanes that can be. Where none
    is left, a group goes onto the last one all the same, so that no group is ever without a case.
    """
    taken: list[list[PassingGroup]] = []
    left: list[str] = []
    for group in sorted(groups, key=lambda one: (one.start_s, one.end_s, one.label)):
        free = next((lane for lane in taken if lane[-1].end_s <= group.start_s), None)
        if free is not None:
            free.append(group)
        elif len(taken) < most:
            taken.append([group])
        else:
            taken[-1].append(group)
            left.append(group.label)
    return tuple(Lane(tuple(lane)) for lane in taken), tuple(dict.fromkeys(left))


def usable(
    forecasts: Sequence[Forecast], station: str | None, now: int, start_s: float, end_s: float
) -> tuple[Forecast | None, tuple[str, ...]]:
    """The forecast to go by, and what has to be said of those that are not.

    The newest that is neither cancelled, nil, over nor of another station; one that covers off-block before one that
    does not. station: None where no report says which.
    """
    notes: list[str] = []
    fit: list[Forecast] = []
    for forecast in forecasts:
        issue_text = f"of {forecast.issued:%d/%H%MZ}" if forecast.issued_given else "without its time of issue"
        name = f"The forecast for {forecast.station} {issue_text}"
        if station is not None and forecast.station != station:
            notes.append(f"{name} is for another station and is not used.")
        elif forecast.cancelled or forecast.nil:
            notes.append(f"{name} {'is cancelled' if forecast.cancelled else 'says nothing (NIL)'} and is not used.")
        elif forecast.issued.timestamp() > now + 600:
            notes.append(f"{name} is timed after now and is not used.")
        else:
            fit.append(forecast)
    # one that does not say when it was issued never outranks one that does
    fit.sort(key=lambda one: (one.issued_given, one.issued, one.amended, one.corrected, one.raw), reverse=True)
    ended = [one.issued for one in forecasts if one.cancelled and station in (None, one.station)]
    newest_cancelled = max(ended, default=None)
    if newest_cancelled is not None:
        fit = [one for one in fit if one.issued_given and one.issued > newest_cancelled]
    current = [one for one in fit if one.valid_to.timestamp() > start_s]
    if fit and not current:
        notes.append(f"The forecast for {fit[0].station} ended at {fit[0].valid_to:%d/%H%MZ} and is not used.")
    covering = [one for one in current if one.valid_from.timestamp() <= end_s]
    if current and not covering:
        notes.append(
            f"The forecast for {current[0].station} begins at {current[0].valid_from:%d/%H%MZ} and is not used."
        )
    if not covering:
        return None, tuple(notes)
    chosen = covering[0]
    if not chosen.issued_given:
        notes.append(f"The forecast for {chosen.station} was sent without its time of issue: its age is not known.")
    if chosen.valid_to.timestamp() < end_s:
        notes.append(f"The forecast ends at {chosen.valid_to:%d/%H%MZ}: after that nothing is forecast.")
    return chosen, tuple(notes)
