"""From findings, doors and columns to the lines and doors of a brief. Pure."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from math import isfinite
from typing import cast

import numpy as np

from advisor.brief import order
from advisor.brief.missing import roots
from advisor.brief.model import Advice, Because, DoorAdvice, DoorStatus, Origin, SectorOut, SourceOut, Status, number
from advisor.checklist.evaluate import Decided, Finding, explain
from advisor.checklist.rules import Checklist, Rule, compiled
from advisor.conditions import NO, UNKNOWN, YES, Airframe, Conditions, Departure, Floats
from advisor.departure import stamp
from advisor.physics import flags, lying, precipitation
from advisor.quantities import CODE, FLAG, QUANTITIES
from advisor.quantities.units import HOUR_S

# reasons by quantity, test, case and time
Known = dict[tuple[str, str, int, int], Because]


def lines(
    findings: Iterable[Finding],
    checklist: Checklist,
    conditions: Conditions,
    departure: Departure,
    position: Callable[[str], int],
    history: Conditions | None = None,
) -> tuple[Advice, ...]:
    """Findings as advice, in the order in which people need them.

    position: of a zone in the walk. history: the same conditions with what reports tell of the time before now.
    """
    told = (finding for finding in findings if finding.status != "not indicated")
    known: Known = {}
    return order.in_order((_line(one, checklist, conditions, departure, history, known) for one in told), position)


def _line(
    finding: Finding,
    checklist: Checklist,
    conditions: Conditions,
    departure: Departure,
    history: Conditions | None,
    known: Known,
) -> Advice:
    rule = finding.rule
    by = latest(finding, checklist, departure) if rule.kind == "request" else None
    passed = by is not None and by <= departure.now
    source = checklist.sources[rule.source]
    missing: tuple[str, ...] = ()
    if finding.status == "cannot tell":
        time = max(finding.time, 0)
        missing = tuple(dict.fromkeys(root for name in finding.missing for root in roots(name, conditions, time)))
        missing = missing or finding.missing
    return Advice(
        id=rule.id,
        kind=rule.kind,
        status=cast(Status, finding.status),
        weight=rule.weight,
        text=fill(rule.said(finding.status), finding, conditions),
        during=finding.phase or rule.during[0],
        zone=rule.zone or None,
        from_=_when(finding.from_s),
        until=_when(finding.until_s),
        by=stamp(by),
        because=because(finding, conditions, history, known),
        source=SourceOut(source.key, source.title, source.locator, source.standing),
        origin=cast(Origin, rule.origin),
        by_passed=passed,
        more=fill(rule.more, finding, conditions),
        stop=rule.stop,
        missing=missing,
        case=conditions.cases[finding.case].name if finding.case >= 0 else "",
        short=_short(rule, checklist),
        part=order.part_of(rule, finding.status, finding.phase or rule.during[0], missing),
        standing=rule.condition.always,
    )


def _short(rule: Rule, checklist: Checklist) -> str:
    """What a line is called; a standing line that says something else in this weather, by the first thing it says."""
    plain = checklist.rule(rule.id)
    if plain is not None and plain.condition.always and not rule.condition.always:
        first = rule.text.partition(".")[0]
        return f"{first[:1].lower()}{first[1:]}"
    return rule.short or rule.id.replace("-", " ")


def because(
    finding: Finding, conditions: Conditions, history: Conditions | None = None, known: Known | None = None
) -> tuple[Because, ...]:
    """The numbers behind a finding, each with its band, its test and what decided it.

    history: the same conditions from the first report on, for how long a margin has been above zero. known: reasons of
    other findings of the same conditions, added to: many lines share theirs.
    """
    shared = {} if known is None else known
    reasons = []
    for item in explain(finding.rule, conditions, finding):
        key = item.quantity, item.test, finding.case, finding.time
        if key not in shared:
            shared[key] = _reason(item, finding, conditions, history)
        reasons.append(shared[key])
    return tuple(reasons)


def _reason(item: Decided, finding: Finding, conditions: Conditions, history: Conditions | None) -> Because:
    cause = _cause(item.quantity, finding, conditions)
    fell, begun = ("", None) if cause else _fallen(item.quantity, finding, conditions, history)
    return Because(
        item.quantity,
        QUANTITIES[item.quantity].unit,
        number(item.low, 2),
        number(item.central, 2),
        number(item.high, 2),
        item.test,
        stamp(item.at),
        _decided(item.quantity, finding, conditions),
        _in_every_case(item.test, finding, conditions),
        cause or fell,
        begun or _since(item.quantity, finding, conditions, history),
    )


def _when(unix_s: float) -> str | None:
    return stamp(unix_s) if isfinite(unix_s) else None


def _in_every_case(test: str, finding: Finding, conditions: Conditions) -> bool:
    condition, time = compiled(test), max(finding.time, 0)
    return all(condition.truth(conditions.columns, case, time) == 1 for case in range(len(conditions.cases)))


# flags that weather codes speak for
WEATHER = frozenset(name for name in precipitation.FLAGS if not name.startswith("recent_"))


# what follows from frozen or freezing precipitation while it falls
FOLLOWS = frozenset(
    {
        "recent_freezing",
        "recent_frozen",
        "recent_precipitation",
        "freezing_after_wet",
        "slippery_surface",
        "deposit_possible",
        "deposit_lies",
        "snow_on_aircraft",
        "snow_on_ground",
    }
)


def _falls(quantity: str, case: int, time: int, conditions: Conditions) -> bool:
    """Whether frozen or freezing precipitation falls where a flag is yes: in the deciding case, or wherever it is."""
    falls = flags.any_of(conditions.flag("frozen_precipitation"), conditions.flag("freezing_precipitation"))[:, time]
    sure = bool((conditions.flag(quantity)[:, time] == YES).all())
    return bool((falls == YES).all()) if sure else bool(falls[case] == YES)


def _codes(quantity: str, case: int, time: int, conditions: Conditions) -> str:
    """The weather codes of a case at a time that a flag rests on, "" where they do not say it."""
    lanes = list(dict.fromkeys(one.lane for one in conditions.cases))
    row = lanes.index(conditions.cases[case].lane)
    if row >= len(conditions.precipitation_text):
        return ""
    codes, air_c = conditions.precipitation_text[row][time].split(), conditions.value("air_temperature_c", 0, time)
    meant = {code: precipitation.flags(precipitation.in_air((code,), air_c)) for code in codes}
    return " ".join(code for code in codes if meant[code][quantity] == YES)


# what a flag follows from, the first that holds: (flag, column, words)
CAUSES = (
    (("thunderstorm",), "storm_said", ""),
    (("thunderstorm",), "cumulonimbus", "storm cloud (CB)"),
    (("thunderstorm",), "storm_remark", "lightning or storm cloud in the remarks"),
    (("slippery_surface",), "freezing_after_wet", ""),
    (("snow_on_ground",), "blowing_snow", ""),
    (("slippery_surface", "snow_on_ground"), "snow_depth", "snow or ice reported on ground or runways"),
    (("deposit_possible", "deposit_lies"), "deposit_seen", ""),
    (("deposit_possible", "deposit_lies"), "ice_reported", "ice built up at the station"),
    (("deposit_possible", "deposit_lies"), "frost_reported", "frost seen at the station"),
    (("deposit_possible", "deposit_lies"), "recent_snow", "snow within two hours"),
    (("deposit_possible", "deposit_lies"), "recent_pellets", "ice pellets within two hours"),
    (("deposit_possible", "deposit_lies"), "recent_frozen", "frozen or freezing precipitation within two hours"),
)


def _cause(quantity: str, finding: Finding, conditions: Conditions) -> str:
    """In words what made a flag yes in the deciding case, where the flag itself does not say it.

    Where the flag is yes in every case, only what holds in every case is its cause: a sure line rests on nothing that
    is only possible.
    """
    time, case = max(finding.time, 0), max(finding.case, 0)
    coded = _codes(quantity, case, time, conditions) if quantity in WEATHER else ""
    if coded:
        return coded
    if quantity in FOLLOWS and _falls(quantity, case, time, conditions):
        return _codes("frozen_precipitation", case, time, conditions) or _codes(
            "freezing_precipitation", case, time, conditions
        )
    for followers, column, cause in CAUSES:
        if quantity in followers and column in conditions.columns:
            holds = conditions.flag(column)[:, time] == YES
            sure = bool((conditions.flag(quantity)[:, time] == YES).all())
            if holds[case] and (holds.all() or not sure):
                return cause
    return ""


# what fell on an aircraft outside, the gravest first, and the column that says that some of it is still there
FELL = (
    ("freezing_rain", "freezing rain", "freezing_after_wet"),
    ("freezing_drizzle", "freezing drizzle", "freezing_after_wet"),
    ("freezing_precipitation", "freezing precipitation", "freezing_after_wet"),
    ("ice_pellets", "ice pellets", "snow_on_aircraft"),
    ("snow", "snow", "snow_on_aircraft"),
)
LYING = ("deposit_possible", "deposit_lies")


def _fallen(
    quantity: str, finding: Finding, conditions: Conditions, history: Conditions | None
) -> tuple[str, str | None]:
    """What fell on the aircraft before now and still lies there, and from when; as surely as the flag itself is so."""
    if history is None or quantity not in (*LYING, "freezing_after_wet"):
        return "", None
    time, case = max(finding.time, 0), max(finding.case, 0)
    sure = bool((conditions.flag(quantity)[:, time] == YES).all())
    outside = np.fmax(lying.outside_since_s(history), -np.inf if history.treated_at_s is None else history.treated_at_s)
    met = (history.unix_s >= outside) & (history.unix_s < history.now_s)
    # ice that may have melted and frozen again is water that froze
    thawed = np.maximum.accumulate((history.number("wing_skin_temperature_c")[0] > 0.0)[::-1])[::-1]
    for name, words, left in FELL:
        if quantity not in LYING and quantity != left:
            continue
        # as it was told, whatever may have come in a gap
        told = (history.flag(name)[0] == YES) & ~(thawed & (left == "freezing_after_wet"))
        fell = met & told
        holds = (conditions.flag(left)[:, time] == YES) & fell.any(axis=1)
        if holds[case] and (holds.all() or not sure):
            last = int(np.flatnonzero(fell[case])[-1])
            breaks = np.flatnonzero(~told[:last])
            return f"{words} fell", stamp(float(history.unix_s[int(breaks[-1]) + 1 if breaks.size else 0]))
    return "", None


# what is over when the doors are shut, and how long it takes somebody to do it, s (ours)
ON_STAND = (("parked",), ("parked", "walk_round", "doors_open"))
DONE_IN_S = 1800
# a margin that the first report had already is told of where that lies an hour back (ours)
LONG_S = HOUR_S
MARGINS = ("frost_margin_c", "tank_frost_margin_c")


def _since(quantity: str, finding: Finding, conditions: Conditions, history: Conditions | None) -> str | None:
    """Since when a margin has been above zero in the deciding case, where that began before now."""
    if history is None or quantity not in MARGINS:
        return None
    index = int(np.searchsorted(history.unix_s, conditions.unix_s[max(finding.time, 0)]))
    above = history.number(quantity)[max(finding.case, 0), : index + 1] > 0
    if not above.size or not above[-1]:
        return None
    looked_at = conditions.nothing_seen_at_s
    if looked_at is not None:
        # what formed before would have been seen
        above &= history.unix_s[: index + 1] >= looked_at
    if conditions.treated_at_s is not None:
        # what formed before was taken off
        above &= history.unix_s[: index + 1] >= conditions.treated_at_s
    gaps = np.flatnonzero(~above)
    first = float(history.unix_s[int(gaps[-1]) + 1 if gaps.size else 0])
    # of what was so from the first report on only that much is known
    seen = history.now_s - first > (0 if gaps.size else LONG_S)
    return stamp(first) if seen else None


def _decided(quantity: str, finding: Finding, conditions: Conditions) -> float | None:
    column = conditions.columns.get(quantity)
    if column is None:
        return None
    value = float(np.broadcast_to(column, conditions.shape)[max(finding.case, 0), max(finding.time, 0)])
    return None if QUANTITIES[quantity].kind in (FLAG, CODE) and value < 0 else number(value, 2)


def latest(finding: Finding, checklist: Checklist, departure: Departure) -> int:
    """A request's latest time.

    What concerns only the time on the stand has to be done well before it begins. With a lead of its own a request is
    counted back from off-block; else the first window says: the walk or the doors at their start, anything else the
    checklist's call lead.
    """
    rule, windows = finding.rule, departure.windows
    if rule.during in ON_STAND and isfinite(finding.from_s):
        lead = checklist.call_lead_min if rule.lead_min is None else rule.lead_min
        before = 0 if finding.from_s <= departure.now else DONE_IN_S
        return min(int(finding.from_s) - before, windows.off_block - round(lead * 60))
    if rule.lead_min is not None:
        return windows.off_block - round(rule.lead_min * 60)
    if rule.during[0] in ("walk_round", "doors_open"):
        return windows.phase(rule.during[0], departure.now)[0]
    return windows.off_block - round(checklist.call_lead_min * 60)


def fill(text: str, finding: Finding, conditions: Conditions) -> str:
    """Put quantities into a text: the value at the deciding time with its unit; codes and flags as words."""
    if "{" not in text:
        return text
    case, time = max(finding.case, 0), max(finding.time, 0)
    for name, row in QUANTITIES.items():
        mark = "{" + name + "}"
        if mark in text:
            column = conditions.columns.get(name)
            value = float(np.broadcast_to(column, conditions.shape)[case, time]) if column is not None else float("nan")
            text = text.replace(mark, row.said(value))
    return text


def doors(airframe: Airframe, conditions: Conditions, departure: Departure) -> tuple[DoorAdvice, ...]:
    """Each door against the wind in its window, over the cases."""
    start, end = departure.windows.phase("doors_open", departure.now)
    inside = (conditions.unix_s >= start) & (conditions.unix_s <= end)
    if not airframe.doors or not inside.any():
        return ()
    times = np.flatnonzero(inside)
    gust = np.broadcast_to(conditions.columns["gust_kt"], conditions.shape)[:, inside]
    relative = np.broadcast_to(conditions.columns["relative_wind_deg"], conditions.shape)[:, inside]
    unknown = bool(np.isnan(gust).any())
    near = np.broadcast_to(conditions.columns["storm_near"], conditions.shape)[:, inside]
    storm = bool((near != NO).any())
    # a wind that is not known is reason enough, but for a report that does not tell the weather either
    untold = storm and (not unknown or bool((near[0] == UNKNOWN).any()))
    lost = "gust" if unknown and not np.isnan(conditions.columns["wind_kt"][:, inside]).any() else ""
    why = "storm" if bool((near == YES).any()) else "weather" if untold else lost
    tables = [conditions.doors(name)[..., inside] for name in ("operate_margins_kt", "stay_open_margins_kt")]
    over = any(bool((table < 0).any()) for table in tables)
    # the highest of some cases only is no highest gust, unless it is over a limit already
    worst = float(np.nanmax(gust)) if not unknown or (over and not np.isnan(gust).all()) else float("nan")
    case, where = _strongest(gust) if not unknown or isfinite(worst) else (0, None)
    advised = []
    for index, door in enumerate(airframe.doors):
        margin = tables[0][index]
        status = _against(margin, storm)
        stays = _against(tables[1][index], storm)
        # a group of the forecast has a direction of its own; what is only a doubt about the wind has none
        told = case if conditions.cases[case].lane else 0
        direction = float(relative[told, where]) if where is not None else float("nan")
        advised.append(
            DoorAdvice(
                door.name,
                number(direction, 0),
                number(worst, 1),
                number(door.operate_kt),
                number(door.stay_open_kt),
                status,
                stamp(float(conditions.unix_s[times[where]])) if where is not None else None,
                stays,
                number(door.bearing_deg),
                number(_lowest(margin + gust)),
                why,
                tuple(
                    SectorOut(one.from_deg, one.to_deg, number(one.operate_kt), number(one.stay_open_kt))
                    for one in door.sectors
                ),
                number(_lowest(tables[1][index] + gust)),
                number(_lowest(margin), 1),
                number(_lowest(tables[1][index]), 1),
            )
        )
    return tuple(advised)


def _strongest(gust: Floats) -> tuple[int, int]:
    """Case and time of the strongest gust, the earliest of those alike."""
    known = np.where(np.isnan(gust), -1.0, gust)
    where = int(np.argmax(known.max(axis=0)))
    return int(np.argmax(known[:, where])), where


def _lowest(limits: Floats) -> float:
    """The lowest of those known, NaN where none is."""
    known = limits[~np.isnan(limits)]
    return float(known.min()) if known.size else float("nan")


def _against(margin: Floats, storm: bool) -> DoorStatus:
    """Status of a (case, time) table of margins, below zero is beyond the limit; a storm's gusts have no bound."""
    beyond = (np.nan_to_num(margin, nan=1.0) < 0).any(axis=1)
    if beyond.all():
        return "exceeded"
    if beyond.any():
        return "possible"
    return "cannot tell" if storm or bool(np.isnan(margin).any()) else "within"
