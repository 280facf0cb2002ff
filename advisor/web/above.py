"""What stands above the four answers: whose weather it is, a feed that is down, a treatment. Pure."""

from __future__ import annotations

from collections.abc import Callable
from math import isfinite, nan

from advisor.brief.model import Brief
from advisor.conditions import Place
from advisor.departure import read_at_or_before, read_moment, stamp, to_unix
from advisor.errors import DepartureError
from advisor.outlook.stations import distance_km
from advisor.render import text, words
from advisor.web.model import KeptBrief


def above(entry: KeptBrief, brief: Brief, look_up: Callable[[str], Place | None]) -> tuple[str, ...]:
    """Sentences without their full stop. look_up: where a station lies."""
    found = (_elsewhere(brief, look_up), *entry.feed, *_feed(brief), _treated(entry, brief), _seen(entry, brief))
    return tuple(dict.fromkeys(one.removesuffix(".") for one in found if one))


def _elsewhere(brief: Brief, look_up: Callable[[str], Place | None]) -> str:
    """The station of the weather where it is not the place itself, and how far it is."""
    stations = dict.fromkeys(report.station for report in brief.reports if report.used)
    station = next(iter(stations), brief.place.indicator)
    if station is None or station == brief.place.indicator:
        return ""
    there = look_up(station)
    if there is None:
        return f"Weather of {station}, distance not known"
    here = Place("", None, brief.place.latitude_deg, brief.place.longitude_deg, nan, "")
    away = distance_km(there, here)
    return "" if isfinite(away) and away < 1 else f"Weather of {station}, {words.amount(away, 0)} km away"


def _feed(brief: Brief) -> list[str]:
    """What the feed said of its own answer."""
    return [f"{note[:1].upper()}{note[1:]}" for note in brief.notes if note.startswith("feed ")]


def _treated(entry: KeptBrief, brief: Brief) -> str:
    at = _at(entry.asked.treated_at, brief)
    return f"Treated at {at}, as you said" if at else ""


def _seen(entry: KeptBrief, brief: Brief) -> str:
    seen, looked_at = entry.asked.seen, _at(entry.asked.looked_at, brief) or words.moment(brief.now, brief.now)
    if seen is None:
        return ""
    return f"{'Nothing' if seen == 'nothing' else seen.capitalize()} seen on it at {looked_at}, as you said"


def _at(time_text: str | None, brief: Brief) -> str:
    """A time that has passed, as it was said with the brief; "" where none was."""
    if time_text is None:
        return ""
    try:
        now = to_unix(read_moment(brief.now, what="now"))
        return words.moment(stamp(read_at_or_before(time_text, now, what="time")) or "", brief.now)
    except DepartureError:
        return ""


def weather_said(brief: Brief) -> str:
    """The weather of a brief in words, at the beginning of its walk."""
    return text.picture(brief)
