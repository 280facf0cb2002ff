"""What ended and may still lie or cling, and what an aircraft outside has stood through, by a station's own series.

The same as outlook/ended.py and physics/lying.py say of one brief, for every report of a series at its own instant: a
spell of weather is remembered for two hours after it was last seen, a report speaks for at most an hour, and a gap of
more than two hours is not known.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from advisor.archive.said import Said
from advisor.archive.table import Bools, Table
from advisor.archive.windows import ReportWindows
from advisor.conditions import NO, UNKNOWN, YES, Codes, Columns, Floats
from advisor.outlook import ended
from advisor.outlook.cases import Choice
from advisor.outlook.gaps import WEATHER_HOLDS_S
from advisor.physics import flags, lying, precipitation, wind
from advisor.quantities import COLUMNS

HISTORY_STEP_S = 900
_KINDS = tuple(dict.fromkeys(ended.REMEMBERED.values()))


def columns(course: Said, windows: ReportWindows, choices: tuple[Choice, ...], ahead_s: int) -> Columns:
    """What is remembered at an instant after each report, each (1, report), or (case, report) while parked.

    course, windows: of the same reports. ahead_s: from the report to the instant, s, at most an hour. The columns are
    those of outlook/seen.py before the temperature is looked at.
    """
    table, at_s = course.table, windows.at_s
    own = _own(table)
    rank = {kind: _rank(own[kind]) for kind in _KINDS}
    lately = {kind: rank[kind].copy() for kind in _KINDS}
    gone_s = at_s + ahead_s - int(ended.RECENT_S)
    for row, last_s, told in _spells(table, windows, own):
        _reach(lately, windows, row, last_s, told, gone_s)
    remembered: Columns = {}
    for name, kind in ended.REMEMBERED.items():
        column = _flag(lately[kind])
        now = course.flags[kind] if name in ended.ALSO_NOW else column
        remembered[name] = flags.any_of(column, now)[None, :]
        remembered[ended.seen_name(name)] = np.zeros((1, at_s.size), dtype=np.int8)
    for name, there in (("ice_reported", table.ice_h > 0), ("frost_reported", table.frost)):
        remembered[name] = _within(windows, there, gone_s).astype(np.int8)[None, :]
    remembered["snow_depth"] = windows.ever(table.snow_lies).astype(np.int8)[None, :]
    peak = np.maximum(windows.most(table.peak_wind_kt), 0.0)
    remembered["peak_wind_kt"] = peak[None, :]
    return remembered | _while_parked(course, windows, choices, own, peak)


def _own(table: Table) -> dict[str, Codes]:
    """The flags of what each station saw at itself, without the vicinity, (report,)."""
    here = Table(**{name: getattr(table, name) for name in table.__slots__})
    plain = [tuple(code for code in codes if not ended.passes_by(code)) for codes in table.weather_sets]
    here.weather_sets = plain
    return Said(here, np.zeros(len(table), dtype=np.bool_)).flags


def _spells(
    table: Table, windows: ReportWindows, own: dict[str, Codes]
) -> list[tuple[NDArray[np.intp], NDArray[np.int64], dict[str, NDArray[np.int8]]]]:
    """Spells of weather that are over: the report that tells of each, when it was last seen, and ranks by kind."""
    at_s = windows.at_s
    following = np.r_[at_s[1:], at_s[-1:]]
    last_of_station = np.r_[windows.station[1:] != windows.station[:-1], True]
    until = np.where(last_of_station, at_s + int(ended.SPEAKS_S), np.minimum(following, at_s + int(ended.SPEAKS_S)))
    any_own = np.zeros(at_s.size, dtype=np.bool_)
    for kind in _KINDS:
        any_own |= own[kind] != NO
    rows = np.flatnonzero(any_own)
    spells = [(rows, until[rows], {kind: _rank(own[kind][rows]) for kind in _KINDS})]
    rows = np.flatnonzero(table.recent_missing)
    if rows.size:
        spells.append((rows, at_s[rows], {kind: np.full(rows.size, 1, dtype=np.int8) for kind in _KINDS}))
    rows = np.flatnonzero(table.told)
    if rows.size:
        # all that any set tells, one after the other, and which of it each report tells
        each = [one for told in table.told_sets for one in told]
        counts = np.array([len(told) for told in table.told_sets])
        begins = np.cumsum(counts) - counts
        how_many = counts[table.told[rows]]
        where = np.repeat(rows, how_many)
        which = np.arange(where.size) - np.repeat(np.cumsum(how_many) - how_many, how_many)
        which += begins[table.told[where]]
        last = at_s[where] + np.array([round(one[2]) for one in each], dtype=np.int64)[which]
        flag = {kind: np.array([_flags(code)[kind] for code, _, _ in each], dtype=np.int8) for kind in _KINDS}
        spells.append((where, last, {kind: _rank(flag[kind])[which] for kind in _KINDS}))
    return spells


@lru_cache(maxsize=4096)
def _flags(code: str) -> dict[str, int]:
    return precipitation.flags((code,))


def _reach(
    lately: dict[str, NDArray[np.int8]],
    windows: ReportWindows,
    row: NDArray[np.intp],
    last_s: NDArray[np.int64],
    told: dict[str, NDArray[np.int8]],
    gone_s: NDArray[np.int64],
) -> None:
    """Raise, in place, the flags of the report that tells of each spell and of those that come soon enough after it."""
    step = 0
    while row.size:
        target = row + step
        inside = target < windows.at_s.size
        row, last_s, target = row[inside], last_s[inside], target[inside]
        told = {kind: ranks[inside] for kind, ranks in told.items()}
        near = (windows.station[target] == windows.station[row]) & (last_s >= gone_s[target])
        row, last_s, target = row[near], last_s[near], target[near]
        told = {kind: ranks[near] for kind, ranks in told.items()}
        for kind, ranks in told.items():
            np.maximum.at(lately[kind], target, ranks)
        step += 1


def _within(windows: ReportWindows, there: Bools, gone_s: NDArray[np.int64]) -> Bools:
    """Whether something was so in a report of the station not older than gone_s, (report,)."""
    recent = np.zeros(there.size, dtype=np.bool_)
    rows = np.flatnonzero(there)
    step = 0
    while rows.size:
        rows = rows[rows + step < there.size]
        target = rows + step
        near = (windows.station[target] == windows.station[rows]) & (windows.at_s[rows] >= gone_s[target])
        rows = rows[near]
        recent[target[near]] = True
        step += 1
    return recent


def silent_before(windows: ReportWindows) -> Bools:
    """Where more than two hours passed since the report before, so that a history has a time of which nobody knows."""
    at_s = windows.at_s
    held = np.r_[at_s[:1], at_s[:-1]] + WEATHER_HOLDS_S
    asked = held - held % HISTORY_STEP_S + HISTORY_STEP_S
    same = np.r_[False, windows.station[1:] == windows.station[:-1]]
    silent: Bools = same & (asked < at_s)
    return silent


def _while_parked(
    course: Said, windows: ReportWindows, choices: tuple[Choice, ...], own: dict[str, Codes], peak: Floats
) -> Columns:
    """The worst that was observed since the aircraft may have stood there: the window in adverse cases, else now."""
    table = course.table
    gust, mean = table.gust_kt, table.wind_kt
    known = np.nan_to_num(np.where(np.isnan(gust), mean, gust))
    strong = np.where(np.isnan(gust), np.where(table.gust_lost, np.nan, wind.unreported_gust_kt(mean)), gust)
    lost = windows.ever(np.isnan(strong))
    gap = windows.since_first(silent_before(windows))
    gusts, rows = [], []
    for choice in choices:
        value = strong if choice.wind == 1 else known
        if not choice.lasts:
            gusts.append(np.maximum(value, peak))
            continue
        most = np.maximum(windows.most(value), peak)
        gusts.append(np.where(lost, np.nan, most) if choice.wind == 1 else most)
    worst: Columns = {"gust_while_parked_kt": np.stack(gusts)}
    for name, (reported, observed) in lying.WHILE_PARKED.items():
        kind = ended.REMEMBERED[f"recent_{observed.removeprefix('seen_')}"]
        told = course.flags["thunderstorm" if reported == "storm_said" else reported]
        now = flags.any_of(own[kind], -(told == UNKNOWN).view(np.int8))
        fades = COLUMNS[reported].foretold
        unknown = windows.ever(now == UNKNOWN) | (gap & fades)
        seen = windows.ever(now == YES) | windows.since_first(_told(table, kind))
        before = flags.coded(seen, unknown)
        rows = [before if choice.lasts else now for choice in choices]
        worst[name] = np.stack(rows)
    return worst


def _told(table: Table, kind: str) -> Bools:
    """Where a report tells of a kind of weather that was there before it."""
    yes = [any(_flags(code)[kind] == YES for code, _, _ in told) for told in table.told_sets]
    return np.array(yes, dtype=np.bool_)[table.told]


def _rank(flag: Codes) -> NDArray[np.int8]:
    """Flags as numbers that rise from no over not known to yes."""
    ranked: NDArray[np.int8] = np.array([0, 2, 1], dtype=np.int8)[flag]
    return ranked


def _flag(rank: NDArray[np.int8]) -> Codes:
    return np.array([NO, UNKNOWN, YES], dtype=np.int8)[rank]
