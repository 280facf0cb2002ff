"""Reports of an archive read into a table: each distinct token once, and in full where tokens do not settle it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.archive import effects as ef
from advisor.archive.lots import lots
from advisor.archive.split import Split, alike
from advisor.archive.table import (
    NO_STORM_CLOUD,
    NOT_DESCRIBED,
    STORM_CLOUD,
    TOWERING,
    Bools,
    Sets,
    Table,
    Told,
    empty,
    put,
    said,
)
from advisor.archive.texts import Texts
from advisor.archive.tokens import BODY, TREND, Tokens
from advisor.errors import ReportError
from advisor.outlook import ended
from advisor.outlook.track import COVERS, HIGH_CLOUD_M, UNKNOWN_BASE_M
from advisor.quantities.units import DAY_S, HOUR_S, M_PER_FT
from advisor.report import metar
from advisor.report.code.assemble import LARGEST_GAP_C, Assembly, moments_s
from advisor.report.code.entries import LedgerEntry
from advisor.report.code.words import united_states
from advisor.report.model import Report

_SOME_DAY = datetime(2000, 1, 15, tzinfo=UTC)
# one report in so many is read again in full, and has to be equal
SAMPLE = 1000
_BITS = {
    "weather_missing": ef.BIT_WEATHER_MISSING,
    "recent_missing": ef.BIT_RECENT_MISSING,
    "lightning": ef.BIT_LIGHTNING,
    "storm_remark": ef.BIT_STORM,
    "freezing_blind": ef.BIT_FREEZING_BLIND,
    "storm_blind": ef.BIT_STORM_BLIND,
    "closed": ef.BIT_CLOSED,
    "snow_lies": ef.BIT_SNOW,
    "frost": ef.BIT_FROST,
    "nil": ef.BIT_NIL,
    "gust_lost": ef.BIT_GUST_LOST,
    "partly": ef.BIT_NOT_DECODED,
    "usable": ef.BIT_USABLE,
}


@dataclass(frozen=True)
class Read:
    """What was read. table: a row a report, those that cannot be read empty; refused: their positions, and why.

    whole: how many were read in full.
    """

    table: Table
    refused: dict[int, str]
    whole: int = 0

    @property
    def usable(self) -> Bools:
        """Reports with anything to go by: read, and not NIL."""
        made: Bools = self.table.usable & ~self.table.nil
        made[list(self.refused)] = False
        return made


@dataclass
class Reader:
    """Reads reports by token, and remembers the tokens. sample: one in so many is read again in full, 0 for none."""

    sample: int = SAMPLE
    seed: int = 0
    _rules: dict[tuple[bool, bool], Tokens] = field(default_factory=dict)

    def read(
        self, texts: Sequence[str], stations: Sequence[str], station: NDArray[np.int32], at_s: NDArray[np.int64]
    ) -> Read:
        """Read reports. stations: names; station: position in them of each report; at_s: seconds since 1970 UTC.

        Raises ReportError where a report of the sample is read otherwise in full.
        """
        all_ = Texts.of(texts)
        weather, told = Sets(), Sets()
        table = empty(len(texts), weather, told)
        refused: dict[int, str] = {}
        rules = np.array([2 * united_states(name) + metar.in_canada(name) for name in stations], dtype=np.int8)[station]
        whole = 0
        for one in np.unique(rules):
            rows = np.flatnonzero(rules == one)
            key = bool(one & 2), bool(one & 1)
            tokens = self._rules.setdefault(key, Tokens(*key))
            if tokens.many:
                tokens.forget()
            here = all_ if rows.size == len(all_) else all_.picked(rows)
            left = _by_token(Split(here.column(), tokens), table, rows, at_s, weather, told)
            whole += left.size
            for row in left.tolist():
                _in_full(all_[row], int(at_s[row]), row, table, refused, weather, told)
        made = Read(table, refused, whole)
        self._check(made, all_, at_s)
        return made

    def _check(self, reading: Read, texts: Sequence[str], at_s: NDArray[np.int64]) -> None:
        if not self.sample:
            return
        for row in np.flatnonzero(lots(at_s, self.seed) % self.sample == 0).tolist():
            if row in reading.refused:
                continue
            differs = unequal(reading.table.row(row), said(_report(texts[row], int(at_s[row]))))
            if differs:
                raise ReportError(
                    f"read by token and in full differ in {', '.join(differs)}",
                    where=texts[row],
                    hint="this is a fault of the program: send the report to its maintainers",
                )


def unequal(row: dict[str, Any], other: dict[str, Any]) -> list[str]:
    """The names in which two rows differ; missing is equal to missing."""
    return [
        name for name, value in row.items() if value != other[name] and (value == value or other[name] == other[name])
    ]


def _report(text: str, at_s: int) -> Report:
    return metar.read(text, now=datetime.fromtimestamp(at_s, UTC))


def _in_full(text: str, at_s: int, row: int, table: Table, refused: dict[int, str], weather: Sets, told: Sets) -> None:
    try:
        report = _report(text, at_s)
    except ReportError as wrong:
        refused[row] = wrong.what
        return
    put(table, [row], [report], weather, told)


def _by_token(
    split: Split, table: Table, rows: NDArray[np.intp], at_s: NDArray[np.int64], weather: Sets, told: Sets
) -> NDArray[np.intp]:
    """Put what tokens say into rows of a table. Returns the rows that have to be read in full."""
    size = split.whole.size
    known = split.effect >= 0
    row, effect = split.row[known], split.effect[known]
    body = split.part[known] == BODY
    effects = split.tokens.table()
    bits, what, numbers = effects.bits[effect], effects.what[effect], effects.numbers
    whole = split.whole.copy()
    whole |= _twice(effects.once[effect] * body, bits, row, size)
    gathered = _or_of(bits, row, size)
    for name, bit in _BITS.items():
        getattr(table, name)[rows] = (gathered & bit) > 0
    # a trend or NOSIG is a group of its own that says something of what comes
    table.special[rows] = split.special
    # the groups of each kind, in their order; what a trend says is none of the report's own
    kinds = np.where(split.part[known] != TREND, what, -1).astype(np.int8)
    by_kind = np.argsort(kinds, kind="stable")
    edges = np.searchsorted(kinds[by_kind], np.arange(ef.OTHER + 2))

    def of(kind: int) -> tuple[NDArray[np.intp], NDArray[np.float64], NDArray[np.int32]]:
        here = by_kind[edges[kind] : edges[kind + 1]]
        return row[here], numbers.take(effect[here], axis=0), effect[here]

    where, values, _ = of(ef.WIND)
    for at, name in enumerate(("wind_kt", "gust_kt", "direction_deg")):
        getattr(table, name)[rows[where]] = values[:, at]
    where, values, _ = of(ef.VISIBILITY)
    table.visibility_m[rows[where]] = values[:, 0]
    where, values, _ = of(ef.RUNWAY)
    lowest = np.full(size, np.inf)
    np.minimum.at(lowest, where, np.where(np.isnan(values[:, 0]), np.inf, values[:, 0]))
    table.runway_visual_range_m[rows] = np.where(np.isinf(lowest), np.nan, lowest)
    where, values, _ = of(ef.ICE)
    longest = np.zeros(size, dtype=np.int8)
    np.maximum.at(longest, where, values[:, 0].astype(np.int8))
    table.ice_h[rows] = longest
    where, _, _ = of(ef.DEPTH)
    whole |= np.bincount(where, minlength=size) > 1
    whole |= _temperatures(of(ef.BODY_TEMPERATURE), of(ef.TENTHS), table, rows, size)
    whole |= _sky(of(ef.LAYER), of(ef.SKY), table, rows, size)
    _words(of(ef.WEATHER), split, table, rows, weather)
    _told(of(ef.TOLD), split, table, rows, at_s, told)
    where, values, _ = of(ef.PEAK)
    # of several the last one stands
    table.peak_wind_kt[rows[where]] = values[:, 0]
    issued = at_s[rows[where]]
    table.peak_wind_s[rows[where]] = moments_s(issued, values[:, 1], values[:, 2]) - issued
    return rows[whole]


def _or_of(bits: NDArray[np.int32], row: NDArray[np.intp], size: int) -> NDArray[np.int32]:
    """The bits of all groups of each report."""
    all_bits = np.zeros(size, dtype=np.int32)
    if row.size:
        starts = np.flatnonzero(np.r_[True, row[1:] != row[:-1]])
        all_bits[row[starts]] = np.bitwise_or.reduceat(bits, starts)
    return all_bits


def _twice(once: NDArray[np.int8], bits: NDArray[np.int32], row: NDArray[np.intp], size: int) -> Bools:
    """Reports with two groups of a kind that stands once: what becomes of them is settled by the whole."""
    kinds = max(ef.ONCE_CODES.values()) + 1
    some = np.flatnonzero(once)
    several = np.bincount(row[some] * kinds + once[some], minlength=size * kinds).reshape(size, kinds) > 1
    pressure = ef.ONCE_CODES["pressure"]
    doubled = several[:, pressure]
    if doubled.any():
        # a second pressure in another unit changes nothing in the table, unless one of them was not read
        here = once == pressure
        odd = np.bincount(row[here & ((bits & ef.BIT_CONFLICT) > 0)], minlength=size) > 0
        others = np.bincount(row[~here & ((bits & ef.BIT_USABLE) > 0)], minlength=size) > 0
        several[:, pressure] &= odd | ~others
    twice: Bools = np.asarray(several.any(axis=1))
    return twice


def _temperatures(body: Any, fine: Any, table: Table, rows: NDArray[np.intp], size: int) -> Bools:
    """Temperature and dew point, the finer of body and remarks. Returns reports in which the two contradict."""
    whole = np.bincount(fine[0], minlength=size) > 1
    pairs = {}
    for at, name in enumerate(("temperature", "dew_point")):
        coarse, tenths = np.full(size, np.nan), np.full(size, np.nan)
        coarse[body[0]], tenths[fine[0]] = body[1][:, at], fine[1][:, at]
        whole |= np.abs(coarse - tenths) > LARGEST_GAP_C
        value = np.where(np.isnan(tenths), coarse, tenths)
        pairs[name] = value
        getattr(table, f"{name}_c")[rows] = value
        doubt = np.where(np.isnan(value) | np.isnan(tenths), 0.5, 0.05)
        getattr(table, f"{name}_doubt_c")[rows] = doubt
    return whole | (pairs["dew_point"] > pairs["temperature"] + LARGEST_GAP_C)


def _sky(layers: Any, skies: Any, table: Table, rows: NDArray[np.intp], size: int) -> Bools:
    """Cover, base and storm cloud. Returns reports with both a word for the sky and layers, or odd layers."""
    where, values, _ = layers
    covered, base, kind, described = values.T if where.size else np.zeros((4, 0))
    count = np.bincount(where, minlength=size)
    words = np.bincount(skies[0], minlength=size)
    hidden = np.bincount(where[(covered == COVERS["VV"][1]) & ~np.isnan(base)], minlength=size)
    unknown = np.bincount(where[np.isnan(base) & (covered >= 0)], minlength=size)
    whole: Bools = (words > 1) | ((words > 0) & (count > 0)) | ((hidden > 0) & (unknown > 0) & (count > 1))
    layered = np.bincount(where[described > 0], minlength=size) > 0
    most = np.full(size, -1.0)
    np.maximum.at(most, where, covered)
    known = layered & (most >= 0)
    low, high, central, base_m = np.zeros(size), np.ones(size), np.zeros(size), np.full(size, 300.0)
    for ends in set(COVERS.values()):
        here = known & (most == ends[1])
        low[here], central[here], high[here] = ends[0], ends[1], max(ends[2], 7 / 8)
    first = np.flatnonzero(covered == most[where])[::-1]
    chosen = np.full(size, np.nan)
    chosen[where[first]] = base[first]
    base_m = np.where(known, np.where(np.isnan(chosen), UNKNOWN_BASE_M / M_PER_FT, chosen) * M_PER_FT, base_m)
    clear = np.zeros(size)
    clear[skies[0]] = skies[1][:, 0] if skies[0].size else 0.0
    told = np.isin(clear, (1.0, 2.0))
    central = np.where(clear == 2.0, 0.25, central)
    high = np.where(clear == 2.0, 7 / 8, np.where(clear == 1.0, 1 / 8, high))
    low = np.where(told, 0.0, low)
    base_m = np.where(told, HIGH_CLOUD_M, base_m)
    visible = skies[1][:, 1] if skies[0].size else np.zeros(0)
    seen = ~np.isnan(visible)
    table.visibility_m[rows[skies[0][seen]]] = visible[seen]
    sky_known = known | told
    kinds = np.zeros(size, dtype=np.int8)
    np.bitwise_or.at(kinds, where, kind.astype(np.int8))
    untold = ~sky_known | ((kinds & int(ef.UNKNOWN_TYPE)) > 0)
    storm = np.where(untold, NOT_DESCRIBED, NO_STORM_CLOUD)
    storm = np.where((kinds & int(ef.TOWERING_TYPE)) > 0, TOWERING, storm)
    storm = np.where((kinds & int(ef.STORM_TYPE)) > 0, STORM_CLOUD, storm)
    table.cloud_low[rows], table.cloud_central[rows], table.cloud_high[rows] = low, central, high
    table.base_m[rows], table.sky_known[rows], table.storm_cloud[rows] = base_m, sky_known, storm
    return whole


def _words(found: Any, split: Split, table: Table, rows: NDArray[np.intp], weather: Sets) -> None:
    """Present weather, the codes of each report in order."""
    for where, several in _by_report(found):
        codes = tuple(split.tokens.effects[one].code for one in several)
        table.weather[rows[where]] = weather.at(tuple(code for code in codes if code != "NSW"))


def _by_report(found: Any) -> list[tuple[NDArray[np.intp], tuple[int, ...]]]:
    """Which reports have which effects, in order: reports that have the same ones together."""
    where, _, effect = found
    if not where.size:
        return []
    starts = np.flatnonzero(np.r_[True, where[1:] != where[:-1]])
    count = np.diff(np.r_[starts, where.size])
    by_effects = []
    for number in np.unique(count).tolist():
        first = starts[count == number]
        table = effect[first[:, None] + np.arange(number)]
        which, first_of = alike(table)
        order = np.argsort(which, kind="stable")
        edges = np.searchsorted(which[order], np.arange(first_of.size + 1))
        distinct = table[first_of]
        for at, several in enumerate(distinct.tolist()):
            by_effects.append((where[first[order[edges[at] : edges[at + 1]]]], tuple(several)))
    return by_effects


def _told(found: Any, split: Split, table: Table, rows: NDArray[np.intp], at_s: NDArray[np.int64], told: Sets) -> None:
    """What is told of the weather before the report's own time: recent weather, begins and ends, hailstones."""
    known, sets = split.tokens.spells, _by_report(found)
    if not sets:
        return
    where = np.concatenate([rows[one] for one, _ in sets])
    which = np.repeat(np.arange(len(sets)), [one.size for one, _ in sets])
    entries = [[split.tokens.effects[one].entry for one in several] for _, several in sets]
    # what begins and ends hangs on the report's time of the day, or of the hour where no hour is said
    period = np.array([max((_period_s(one) for one in several), default=1) for several in entries])
    distinct, of = np.unique(which * DAY_S + at_s[where] % period[which], return_inverse=True)
    spells = np.zeros(distinct.size, dtype=np.int32)
    for position, packed in enumerate(distinct.tolist()):
        number, second = divmod(packed, DAY_S)
        key = sets[number][1], second
        if key not in known:
            known[key] = _spells(entries[number], second)
        spells[position] = told.at(known[key])
    table.told[where] = spells[of]


def _period_s(entry: LedgerEntry) -> int:
    """After how long the same groups say the same of the time before them, s."""
    if entry.kind != "weather times":
        return 1
    return DAY_S if any(entry.words[2::4]) else HOUR_S


def _spells(entries: Sequence[LedgerEntry], second: int) -> Told:
    """What groups tell of the weather before a report that was made at a second of the day or of its hour."""
    issued = _SOME_DAY + timedelta(seconds=second)
    assembly = Assembly(issued)
    for one in entries:
        assembly.take(one)
    at, remarks = issued.timestamp(), assembly.remarks
    spells = ended.told_of(at, assembly.recent, remarks.get("precipitation_events", ()), remarks.get("hail_mm", np.nan))
    return tuple((code, start - at, last - at) for code, start, last in spells)
