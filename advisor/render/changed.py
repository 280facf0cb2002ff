"""What changed since an earlier brief, in sentences: the weather first, then lines and doors by name. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from advisor.brief.changes import Change, changes
from advisor.brief.hazards import BESIDE, PAST
from advisor.brief.model import Brief, HazardOut
from advisor.render import words
from advisor.render.words import is_gust

# smaller changes are within what a report rounds to, and say nothing (ours)
AIR_C, GUST_KT = 1.0, 5.0
# hazards that leave something on the aircraft
LYING = (
    "frost",
    "snow",
    "ice-pellets",
    "freezing-rain",
    "freezing-drizzle",
    "freezing-precipitation",
    "freezing-fog",
    "lying-snow",
    "deposit",
)


# what has to be known before a hazard can be said to be no longer foreseen; of all others the present weather
NEEDS = {
    "gust": ("wind_kt", "gust_kt"),
    "heat": ("air_temperature_c", "dew_point_c"),
    "cold": ("air_temperature_c", "wind_kt"),
    "frost": ("air_temperature_c", "dew_point_c"),
    "lying-snow": ("precipitation", "air_temperature_c"),
    "deposit": ("precipitation", "air_temperature_c"),
    "refreezing": ("precipitation", "air_temperature_c"),
    "slippery": ("precipitation", "air_temperature_c"),
    "fog": ("precipitation", "visibility_m"),
}
# hazards of which nothing stays once they are over
PASSING = ("dark", "fog", "heat", "cold")


def change_said(change: Change) -> str:
    """What became of a line since an earlier brief; that it could not be told, then or now, is no grade of danger."""
    untold = "cannot tell"
    if change.after == untold and change.what != "moved":
        return "cannot be told now" + (f", was {change.before}" if change.before else "")
    if change.before == untold and change.what != "moved":
        return f"{change.after or 'not indicated'} now, could not be told before"
    return {
        "added": f"new ({change.after})",
        "gone": "gone",
        "raised": f"raised from {change.before} to {change.after}",
        "lowered": f"lowered from {change.before} to {change.after}",
        "moved": f"latest time now {words.clock(change.after)}, was {words.clock(change.before)}",
    }[change.what]


def changes_said(before: Brief, brief: Brief) -> list[str]:
    """What changed since an earlier brief: the weather first, then lines and doors by name, alike ones together."""
    names = {line.id: line.short for one in (before, brief) for line in one.advice}
    weather = weather_said(before, brief)
    told = [
        (names.get(change.id) or change.id.removeprefix("door: "), change_said(change))
        for change in changes(before, brief)
    ]
    lines = [f"{_listed(alike)}: {said}" for said, alike in together(told).items()]
    return [*([weather] if weather else []), *lines] or ["nothing changed in the lines below"]


def _listed(names: list[str]) -> str:
    return ("; " if any("," in name for name in names) else ", ").join(names)


def together(rows: Iterable[tuple[str, str]]) -> dict[str, list[str]]:
    """(name, what became of it) as what became of it, once, and the names; each stands where its first one does."""
    names_of: dict[str, list[str]] = {}
    for name, said in rows:
        names_of.setdefault(said, []).append(name)
    return names_of


def weather_said(before: Brief, after: Brief) -> str:
    """What changed in the weather, as "fog came; air at the walk now −1 °C, was 2"; "" where nothing did."""
    old = {one.key: one for one in before.hazards if one.key != "dark"}
    new = {one.key: one for one in after.hazards if one.key != "dark"}
    phrases = []
    for key, hazard in new.items():
        was = old.get(key)
        if was is None and (key == "seen" or key in PAST):
            phrases.append(hazard.words)
        elif was is None:
            phrases.append(
                f"{hazard.words} came" if hazard.status == "expected" else f"{hazard.words} now {hazard.status}"
            )
        elif was.status != hazard.status:
            phrases.append(f"{hazard.words} {hazard.status}, was {was.status}")
    # what another hazard says as well is not over
    over = [
        one for key, one in old.items() if key not in new | dict.fromkeys(PAST) and not new.keys() & set(BESIDE[key])
    ]
    open_ = _not_ruled_out([one for one in over if _lacking(one, before, after)], before, after)
    phrases += [_ended(one) for one in over if not _lacking(one, before, after)]
    text = "; ".join([*open_, *phrases, *_values(before, after), *_left_out(before, after)])
    return f"{text[:1].upper()}{text[1:]}"


def _values(before: Brief, after: Brief) -> list[str]:
    """Air and wind at the walk, where they are others."""
    phrases = []
    gusting = any(is_gust(row) for row in map(_at_the_walk, (before, after)) if row is not None)
    for name, word, unit, least in (
        ("air_temperature_c", "air", "°C", AIR_C),
        ("gust_kt", "gust" if gusting else "wind", "kt", GUST_KT),
    ):
        first, last = _central(before, name), _central(after, name)
        if first is not None and last is not None and abs(last - first) >= least:
            phrases.append(f"{word} at the walk now {words.amount(last, 0)} {unit}, was {words.amount(first, 0)}")
        elif first is None and last is not None:
            phrases.append(f"{word} now known")
        elif last is None and first is not None and not (word != "air" and "wind_kt" in after.missing):
            phrases.append(f"{word} at the walk no longer known")
    return phrases


def _lacking(hazard: HazardOut, before: Brief, after: Brief) -> tuple[str, ...]:
    """What is not known now, without which nobody can say that a hazard is over."""
    lacking = tuple(name for name in NEEDS.get(hazard.key, ("precipitation",)) if name in after.missing)
    return lacking or (("forecast",) if _has_forecast(before) and not _has_forecast(after) else ())


def _has_forecast(brief: Brief) -> bool:
    return any(report.used and report.kind == "TAF" for report in brief.reports)


def _not_ruled_out(over: list[HazardOut], before: Brief, after: Brief) -> list[str]:
    """Hazards of the earlier brief of which nothing is known now: a lost sensor is no end of a storm."""
    rows = ((hazard.words, _lacking(hazard, before, after)[0]) for hazard in over)
    return [f"{_lost(name, before)}: {', '.join(hazards)} not ruled out" for name, hazards in together(rows).items()]


def _lost(name: str, before: Brief) -> str:
    if name == "forecast":
        return "no forecast was given this time"
    return f"{words.INPUTS[name]} {'not' if name in before.missing else 'no longer'} known"


def _left_out(before: Brief, after: Brief) -> list[str]:
    """The earlier brief's report, where this one was not given it and what it told may still matter."""
    if all(one.key in PASSING for one in before.hazards):
        return []
    given = {(report.station, report.issued) for report in after.reports}
    return [
        f"the report of {words.moment(report.issued, after.now)} was not given this time: what it told does not count"
        for report in before.reports
        if report.used and report.kind != "TAF" and (report.station, report.issued) not in given
    ]


def _ended(hazard: HazardOut) -> str:
    """A hazard that is no longer foreseen; of what may lie, and of what was seen, that says nothing."""
    if hazard.key == "seen":
        return f"{hazard.words} was stated before and is not now"
    lies = "; what formed or fell may lie" if hazard.key in LYING else ""
    return f"{hazard.words} no longer foreseen{lies}"


def _at_the_walk(brief: Brief) -> dict[str, Any] | None:
    """The row of the timeline at the start of the walk."""
    start = brief.windows.walk_round[0]
    return next((row for row in brief.timeline if row["at"] >= start), None)


def _central(brief: Brief, name: str) -> float | None:
    """A value at the start of the walk, in the central case."""
    row = _at_the_walk(brief)
    value = None if row is None else row.get(name)
    return value.get("central") if isinstance(value, dict) else value


def sentences(before: Brief, after: Brief) -> tuple[str, ...]:
    """Each must-line, and each door, that came, went or changed its status, the graver changes first."""
    musts = {line.id: line.short for brief in (before, after) for line in brief.advice if line.weight == "must"}
    texts = []
    for change in changes(before, after):
        if change.what == "moved" or not (change.id in musts or change.id.startswith("door: ")):
            continue
        name = musts.get(change.id) or change.id.removeprefix("door: ")
        texts.append(f"{name[:1].upper()}{name[1:]}: {change_said(change)}")
    return tuple(texts)
