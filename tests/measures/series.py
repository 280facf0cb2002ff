"""Did what a brief said come true? The reports that followed are the answer; writes SERIES.md to standard output.

Run: python tests/measures/series.py PATH/series.jsonl [EVERY] > tests/measures/SERIES.md
Bands and briefs are made at every EVERYth report (default 3), rare things (what ended, what began) at every report.
Take an odd number: an even one sees the same few hours of each day.
"""

from __future__ import annotations

import sys
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Sequence
from math import isfinite
from pathlib import Path
from typing import NamedTuple

import answers
import numpy as np
from answers import Series

from advisor.brief.model import Brief
from advisor.report.model import Report

LEADS_H = (1, 2, 3, 6)
# a report this far from the lead still answers for it, minutes; it is held against the band at its own time
NEAR_MIN = 10
WIND_CLASSES = ((0, 5), (6, 10), (11, 15), (16, 20), (21, 99))
FROST_CLASSES = ((-99, -5), (-5, 0), (0, 4), (4, 8), (8, 15), (15, 99))
FROST_LINES = ("de-icing-request", "wing-upper-surface")
HIGH_SUN_DEG, NIGHT_DEG, WINDY_KT = 15.0, -6.0, 10.0


class Answer(NamedTuple):
    """A later report beside the band that held for its time: lowest and highest over the cases."""

    now: Report
    later: Report
    lead_min: float
    low: dict[str, float]
    high: dict[str, float]


class Event(NamedTuple):
    """Something that may begin within two hours, and the lines that would have warned of it."""

    name: str
    seen: Callable[[Report], bool]
    lines: tuple[str, ...]


EVENTS = (
    Event("frozen or freezing precipitation", answers.falls_frozen, ("de-icing-request",)),
    Event("fog", answers.foggy, ("low-visibility-apron",)),
    Event("28 kt or more", answers.gusty, ("strong-wind",)),
    Event("thunderstorm", answers.stormy, ("thunderstorm",)),
    Event("thunderstorm, by the milder line too", answers.stormy, ("thunderstorm", "lightning-about")),
)


def share(part: int, whole: int) -> str:
    """A share in percent, a dash of nothing."""
    return f"{100 * part / whole:.1f} %" if whole else "–"


def table(*rows: Sequence[object]) -> list[str]:
    """Rows as a Markdown table, the first one its head; an empty line after it."""
    lines = ["| " + " | ".join(str(cell) for cell in row) + " |" for row in rows]
    return [lines[0], "|" + "---|" * len(rows[0]), *lines[1:], ""]


def asked(series: Series, at: int) -> list[int]:
    """The later reports that bands are held against: 30 to 90 minutes ahead, and near each whole lead."""
    wanted = set(series.between(at, 30, 90))
    for lead_h in LEADS_H:
        near = series.between(at, 60 * lead_h - NEAR_MIN, 60 * lead_h + NEAR_MIN)
        wanted |= set(sorted(near, key=lambda i: abs(series.unix_s[i] - series.unix_s[at] - 3600 * lead_h))[:1])
    return sorted(wanted)


def held(series: Series, every: int) -> Iterator[Answer]:
    """Every later report that is asked about, beside its band."""
    for at in range(0, len(series.reports), every):
        later = asked(series, at)
        if not later:
            continue
        found = answers.bands(series, at, ("gust_kt", "dew_point_c", "air_temperature_c"), series.unix_s[later])
        for place, i in enumerate(later):
            yield Answer(
                series.reports[at],
                series.reports[i],
                (series.unix_s[i] - series.unix_s[at]) / 60,
                {name: float(low[place]) for name, (low, _) in found.items()},
                {name: float(high[place]) for name, (_, high) in found.items()},
            )


def gusts(pairs: Sequence[Answer]) -> tuple[list[list[object]], list[object]]:
    """Rows by wind class, and the row of the 28 kt alarm, of pairs whose first report has no gust group."""
    plain = [
        (pair, answers.strongest_kt(pair.later), pair.high["gust_kt"])
        for pair in pairs
        if 30 <= pair.lead_min <= 90 and not isfinite(pair.now.gust_kt) and not pair.now.gust_lost
    ]
    plain = [(pair, blew, high) for pair, blew, high in plain if isfinite(blew) and isfinite(high)]
    rows: list[list[object]] = []
    for low, high in WIND_CLASSES:
        some = [(blew, bound) for pair, blew, bound in plain if low <= pair.now.wind_kt <= high]
        rows.append(
            [
                f"{low} to {high} kt" if high < 99 else f"{low} kt and more",
                len(some),
                share(sum(blew > bound for blew, bound in some), len(some)),
            ]
        )
    rows.append(["all", len(plain), share(sum(blew > bound for _, blew, bound in plain), len(plain))])
    alarms = [blew >= answers.STRONG_GUST_KT for _, blew, bound in plain if bound >= answers.STRONG_GUST_KT]
    came = sum(blew >= answers.STRONG_GUST_KT for _, blew, _ in plain)
    alarm = [len(plain), len(alarms), sum(alarms), share(sum(alarms), len(alarms)), came, came - sum(alarms)]
    return rows, alarm


def beyond(pairs: Sequence[Answer], column: str, read: Callable[[Report], float]) -> Iterator[list[object]]:
    """Rows by lead: how many later reports, above the highest and below the lowest of the cases."""
    for lead_h in LEADS_H:
        near = [
            (read(pair.later), pair.low[column], pair.high[column])
            for pair in pairs
            if abs(pair.lead_min - 60 * lead_h) <= NEAR_MIN
        ]
        known = np.array([row for row in near if all(isfinite(value) for value in row)]).reshape(-1, 3)
        value, low, high = known.T
        width = f"{np.mean(high - low):.1f} °C" if value.size else "–"
        above, below = int((value > high).sum()), int((value < low).sum())
        yield [f"{lead_h} h", value.size, share(above, value.size), share(below, value.size), width]


def storm_cloud(series: Series) -> Iterator[list[object]]:
    """Rows by cloud: of reports without a storm, how often one was reported within two hours."""
    tally: dict[str, Counter[bool]] = defaultdict(Counter)
    for at, report in enumerate(series.reports):
        if answers.stormy(report) or not series.answered(at, 120):
            continue
        types = {layer.type for layer in report.cloud}
        remarks = report.remarks.cumulonimbus or report.remarks.lightning
        cloud = "CB" if "CB" in types else "TCU" if "TCU" in types else "remarks only" if remarks else "neither"
        tally[cloud][any(answers.stormy(series.reports[i]) for i in series.between(at, 1, 120))] += 1
    for cloud in ("CB", "TCU", "remarks only", "neither"):
        came, reports = tally[cloud][True], tally[cloud].total()
        yield [series.label, cloud, reports, came, share(came, reports)]


def ended(all_series: Sequence[Series]) -> list[str]:
    """Frozen precipitation that ended within two hours, and whether the brief still asks for de-icing."""
    cases: dict[tuple[str, str, str], Counter[str]] = defaultdict(Counter)
    for series in all_series:
        for at, report in enumerate(series.reports):
            if not report.temperature_c <= 3 or answers.falls_frozen(report) or report.weather_missing:
                continue
            itself = answers.said_ended(report)
            if not itself and not any(answers.falls_frozen(series.reports[i]) for i in series.between(at, -120, -1)):
                continue
            warmth = "at or below 0 °C" if report.temperature_c <= 0 else "above 0 to +3 °C"
            by = "the report itself" if itself else "earlier reports only"
            for given, minutes in (("it alone", 0), ("three hours", 180)):
                brief = answers.brief_in_an_hour(series, at, earlier_min=minutes)
                status = answers.told(brief, "de-icing-request")
                cases[warmth, by, given][status] += 1
                cases[warmth, by, given]["frost"] += status == "possible" and answers.for_frost_alone(
                    brief, "de-icing-request"
                )
    rows = [
        [
            *key,
            count.total() - count["frost"],
            count["expected"] + count["likely"],
            count["possible"],
            count["frost"],
            count["cannot tell"],
            count["silent"],
        ]
        for key, count in sorted(cases.items(), reverse=True)
    ]
    head = (
        "air",
        "who says that it ended",
        "given",
        "reports",
        "expected or likely",
        "possible",
        "of these for frost alone",
        "cannot tell",
        "silent",
    )
    return table(head, *rows)


class Told:
    """How the briefs of two hours stood to what began, and to wind, counted over the stations."""

    def __init__(self) -> None:
        self.began: Counter[str] = Counter()
        self.warned: Counter[str] = Counter()
        self.first: dict[str, set[tuple[str, int]]] = defaultdict(set)
        self.said: Counter[str] = Counter()
        self.true: Counter[str] = Counter()
        self.wind: dict[str, Counter[bool]] = defaultdict(Counter)

    def count(self, series: Series, every: int) -> None:
        """Brief at each sampled report, and at each that something follows which was not there yet."""
        for at, report in enumerate(series.reports):
            if not series.answered(at, 120):
                continue
            after = series.between(at, 1, 120)
            coming = {
                event.name: next((i for i in after if event.seen(series.reports[i])), -1)
                for event in EVENTS
                if not event.seen(report)
            }
            sampled = at % every == 0
            if sampled or any(i >= 0 for i in coming.values()):
                self._add(series, at, coming, answers.brief_of_two_hours(series, at), sampled=sampled)

    def _add(self, series: Series, at: int, coming: dict[str, int], brief: Brief, *, sampled: bool) -> None:
        for event in EVENTS:
            if event.name not in coming:
                continue
            came, warned = coming[event.name] >= 0, answers.warned(brief, *event.lines)
            if came:
                self.began[event.name] += 1
                self.warned[event.name] += warned
                self.first[event.name].add((series.label, coming[event.name]))
            if sampled:
                self.said[event.name] += warned
                self.true[event.name] += warned and came
                self.said["briefs of " + event.name] += 1
        if sampled and not answers.strong(series.reports[at]):
            blew = any(answers.strong(series.reports[i]) for i in series.between(at, 1, 120))
            self.wind[answers.told(brief, "strong-wind")][blew] += 1

    def onsets(self) -> list[str]:
        """Table of what began."""
        head = (
            "what began",
            "times",
            "reports before it",
            "at least possible",
            "silent",
            "briefs without it now",
            "said possible",
            "of these true",
        )
        rows = [
            [
                event.name,
                len(self.first[event.name]),
                self.began[event.name],
                self.warned[event.name],
                self.began[event.name] - self.warned[event.name],
                self.said["briefs of " + event.name],
                share(self.said[event.name], self.said["briefs of " + event.name]),
                share(self.true[event.name], self.said[event.name]),
            ]
            for event in EVENTS
        ]
        return table(head, *rows)

    def strong_wind(self) -> list[str]:
        """Table of the strong-wind line."""
        rows = [
            [status, count.total(), count[True], share(count[True], count.total())]
            for status, count in sorted(self.wind.items())
        ]
        return table(("the line is", "briefs", "it blew so", "share"), *rows)


def frost(all_series: Sequence[Series], every: int) -> list[str]:
    """Dry briefs with possible frost, by temperature, sun and wind."""
    tally: dict[tuple[int, int], dict[str, list[bool]]] = {row: defaultdict(list) for row in FROST_CLASSES}
    for series in all_series:
        for at in range(0, len(series.reports), every):
            report = series.reports[at]
            if not answers.dry(report) or not isfinite(report.temperature_c):
                continue
            brief = answers.brief_in_an_hour(series, at)
            lines = [line for line in brief.advice if line.id in FROST_LINES and line.status != "cannot tell"]
            possible = any(item.quantity in answers.FROST for line in lines for item in line.because)
            sun = [step["sun_elevation_deg"] for step in brief.timeline]
            kinds = {
                "all": True,
                "night": max(sun) < NIGHT_DEG,
                "sun": min(sun) > HIGH_SUN_DEG,
                "wind": report.wind_kt >= WINDY_KT,
            }
            row = next(row for row in FROST_CLASSES if row[0] <= report.temperature_c < row[1])
            for kind in (kind for kind, is_so in kinds.items() if is_so):
                tally[row][kind].append(possible)
    rows: list[list[object]] = []
    for (low, high), kinds_of in tally.items():
        name = f"below {high} °C" if low == -99 else f"{low} °C and more" if high == 99 else f"{low} to under {high} °C"
        cells: list[object] = [name]
        for kind in ("all", "night", "sun", "wind"):
            cells += [len(kinds_of[kind]), share(sum(kinds_of[kind]), len(kinds_of[kind]))]
        rows.append(cells)
    head = (
        "air",
        "dry briefs",
        "frost possible",
        "night",
        "frost possible",
        "sun above 15°",
        "frost possible",
        "wind 10 kt and more",
        "frost possible",
    )
    return table(head, *rows)


def main(path: Path, every: int) -> str:
    """The whole page as Markdown."""
    all_series = answers.read(path)
    pairs = {series.label: list(held(series, every)) for series in all_series}
    told = Told()
    for series in all_series:
        told.count(series, every)
    out = ["# Did it come true?", "", f"Made by `python tests/measures/series.py {path.name} {every}`."]
    out += [
        f"Station {series.label}: {len(series.reports)} reports, {series.reports[0].issued:%Y-%m-%d} to "
        f"{series.reports[-1].issued:%Y-%m-%d}."
        for series in all_series
    ]
    out += [PREFACE, GUSTS]
    found = {label: gusts(some) for label, some in pairs.items()}
    for label, (rows, _) in found.items():
        out += [f"Station {label}:", "", *table(("mean wind now", "later reports", "above the bound"), *rows)]
    head = ("station", "later reports", "alarms", "hits", "hits of alarms", "28 kt came", "missed")
    out += [ALARM, *table(head, *([label, *alarm] for label, (_, alarm) in found.items())), STRONG, *told.strong_wind()]
    columns = ("dew_point_c", "air_temperature_c")
    reads: tuple[Callable[[Report], float], ...] = (lambda one: one.dew_point_c, lambda one: one.temperature_c)
    for text, column, read, above, below in zip(
        (DEW, AIR), columns, reads, ("moister", "warmer"), ("drier", "colder"), strict=True
    ):
        rows = [[label, *row] for label, some in pairs.items() for row in beyond(some, column, read)]
        out += [text, *table(("station", "ahead", "later reports", above, below, "band is wide"), *rows)]
    storms = [row for series in all_series for row in storm_cloud(series)]
    out += [CLOUD, *table(("station", "cloud now", "reports", "storm came", "share"), *storms)]
    out += [ENDED, *ended(all_series), ONSETS, *told.onsets(), FREE, *frost(all_series, every)]
    return "\n".join(out).rstrip() + "\n"


PREFACE = """
Each report is taken as the newest one; the reports after it say what came. No forecast is given but the trend in the
report itself. Bands: the lowest and highest value over all cases at the time of the later report, which is held against
them as it was reported, rounding and all. Lines: the default aircraft, at the station, parked since nobody knows when.
A warning is a line that is at least possible; "cannot tell" is not one. Reports that follow each other share their
weather, so the cases are far fewer than the counts say.
"""
GUSTS = """## Gusts that no report gave
The report has no gust group. Of the reports 30 to 90 minutes later: how many had a gust (where none was given, a mean
wind) above the highest gust of the cases. 10 % is meant. An unreported gust may lie 9 kt over the mean, so the true
shares are higher than these.
"""
ALARM = """The same pairs against 28 kt. An alarm is a bound of 28 kt or more, a hit one with 28 kt reported; a miss is
28 kt reported where the bound is lower.
"""
STRONG = """### The strong-wind line
Briefs of two hours from the report, outside all the time; at the report itself neither a mean of 20 kt nor 28 kt. A
hit: either was reported within the two hours (28 kt as a gust, or as a peak in the remarks). The row "silent" holds the
misses.
"""
DEW = """## Dew point
Later reports moister than the highest and drier than the lowest of the cases. 10 % each is meant.
"""
AIR = """## Temperature
Later reports warmer than the highest and colder than the lowest of the cases. 10 % each is meant.
"""
CLOUD = """## Storm cloud
Every report without a storm (TS, VCTS): how often one is reported within two hours, by what its cloud groups say.
"Remarks only": storm cloud or lightning in the remarks and in no cloud group.
"""
ENDED = """## What ended
Every report up to +3 °C in which nothing frozen or freezing falls, but did within two hours before: by its own RE
groups, begin and end remarks or hourly ice accretion, or else by the reports of those two hours. How the request for
de-icing stands, off-block in an hour, given that report alone or those of three hours. Silent is a miss. "For frost
alone": the line stands for a frost margin and knows nothing of what ended.
"""
ONSETS = """## What began
Not there in the report, there in one within two hours. The brief is of those two hours. A hit: its line is at least
possible; silent is a miss. The line for frozen precipitation is the request for de-icing, which other reasons raise as
well; that for 28 kt is strong wind, raised by a mean of 20 kt too; that for fog is low visibility. "Times": how many
different reports it began with. The last columns: how often the line stands where the thing is not there yet, and how
often the thing comes then.
"""
FREE = """## Possible frost on dry reports
Nothing in the air and no recent weather; off-block in an hour. Share of briefs in which the request or the look at the
wing is at least possible with a frost margin among its reasons. "Night", "sun above 15°": throughout the brief's time.
Whether frost came, no report says.
"""

if __name__ == "__main__":
    sys.stdout.write(main(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 3))
