"""Situations that can be written for a place on the grid of conditions: a METAR, times, what is known of the aircraft.

A place says what quantities are to be; the settings say what a report or a departure has to be for that. They are
proposals: whoever asks tries each of them. Place and weather are invented.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from math import inf, isfinite, isnan
from typing import Any

import numpy as np

from advisor.brief import settings
from advisor.brief.settings import Setting
from advisor.checklist.language.cells import KNOWN, MISSING, Cell
from advisor.checklist.rules import Situation
from advisor.conditions import NO, YES
from advisor.physics import exposure, light, moisture, sun
from advisor.quantities import FLAG, NUMBER, QUANTITIES
from advisor.quantities.units import KM_H_PER_KT

LATITUDE_DEG, LONGITUDE_DEG = 52.1, -4.6
PLACE, STATION = f"{LATITUDE_DEG},{LONGITUDE_DEG}", "ZZZA"
DAY = datetime(2027, 2, 10, tzinfo=UTC)
NOON_MIN = 12 * 60 + 30
# minutes from off-block at which a phase is well under way
MIDDLE_MIN = {"parked": -52, "walk_round": -35, "doors_open": -30, "off_block": -12, "take_off": 8}
LEAD_MIN, AGE_MIN = 60, 8
# half of a usual window
HALF_WINDOW_MIN = 10
_LIT = ("dark", "light", "sun_elevation_deg", "illuminance_lx")
# a setting a quantity at most
MOST_SETTINGS = 10


def proposals(
    place: Sequence[Cell], phase: str, lowest_limit_kt: float, most: int, month: int = DAY.month
) -> Iterator[Situation]:
    """Situations for a place, the likeliest first, each once. phase: in which the place is to be met.

    lowest_limit_kt: of the doors of the aircraft, NaN where there are none. month: 1 to 12.
    """
    lit = [cell for cell in place if cell.quantity in _LIT and cell.state == KNOWN]
    each_cell = [list(_settings(cell, lowest_limit_kt)) for cell in place if cell not in lit]
    options = [found[:MOST_SETTINGS] for found in (list(_times(lit, phase)), *each_cell) if found]
    seen: set[Situation] = set()
    for turn in range(max([most, *map(len, options)])):
        chosen: Setting = {}
        for at, each in enumerate(options):
            # every quantity goes through its settings at a pace of its own
            chosen = _joined(chosen, each[(turn // (1 + at % 2) + (turn if at > 1 else 0)) % len(each)])
        proposal = situation(chosen, DAY.replace(month=month))
        if proposal is not None and proposal not in seen:
            seen.add(proposal)
            yield proposal
        if len(seen) >= most:
            return


def _joined(first: Setting, second: Setting) -> Setting:
    codes = (*first.get("codes", ()), *(code for code in second.get("codes", ()) if code not in first.get("codes", ())))
    joined = {**first, **second}
    return {**joined, "codes": codes} if codes else joined


def situation(chosen: Mapping[str, Any], day: datetime = DAY) -> Situation | None:
    """A setting as a departure of a day; None where it contradicts itself."""
    codes = tuple(chosen.get("codes", ()))
    mean, gust = chosen.get("mean"), chosen.get("gust")
    if mean is None:
        mean = 8 if gust is None else max(0, int(gust) - 12)
    if gust is not None and gust < mean:
        return None
    air = chosen.get("air", settings.usual_air(codes))
    dew = min(chosen.get("dew", settings.usual_dew(air, codes)), air)
    off_block = day + timedelta(minutes=chosen.get("off_block_min", NOON_MIN))
    now = off_block - timedelta(minutes=chosen.get("lead_min", LEAD_MIN))
    issued = now - timedelta(minutes=chosen.get("age_min", AGE_MIN))
    groups = (
        chosen.get("wind_group") or _wind(int(mean), gust, chosen.get("direction", 240)),
        chosen.get("visibility", settings.usual_visibility(codes)),
        chosen.get("weather", " ".join(codes)),
        chosen.get("cloud", settings.usual_cloud(codes)),
        chosen.get("temperature") or f"{_degrees(air)}/{_degrees(dew)}",
        "Q1010",
        chosen.get("tail", ""),
    )
    reports = [f"METAR {STATION} {issued:%d%H%M}Z {' '.join(group for group in groups if group)}"]
    before = chosen.get("before")
    since = now - timedelta(hours=chosen["parked_h"]) if "parked_h" in chosen else None
    if before is not None:
        earlier = issued - timedelta(minutes=60)
        reports.insert(0, f"METAR {STATION} {earlier:%d%H%M}Z {before} {_degrees(air)}/{_degrees(dew)} Q1010")
        since = since or now - timedelta(hours=5)
    return Situation(
        report=reports[0] if len(reports) == 1 else tuple(reports),
        now=_stamp(now),
        off_block=_stamp(off_block),
        place=PLACE,
        heading=chosen.get("heading"),
        parked_since=None if since is None else _stamp(since),
        treated_at=_stamp(now - timedelta(minutes=chosen["treated_min"])) if "treated_min" in chosen else None,
        seen=chosen.get("seen"),
        fuel_temperature=chosen.get("fuel"),
    )


def _wind(mean: int, gust: float | None, direction: int) -> str:
    if mean == 0 and gust is None:
        return "00000KT"
    blown = f"G{int(gust):02d}" if gust is not None and gust > mean else ""
    return f"{direction:03d}{mean:02d}{blown}KT"


def _degrees(value: float) -> str:
    whole = round(value)
    return f"M{-whole:02d}" if whole < 0 else f"{whole:02d}"


def _stamp(moment: datetime) -> str:
    return moment.strftime("%Y-%m-%dT%H:%M:%SZ")


def _settings(cell: Cell, limit_kt: float) -> Iterator[Setting]:
    row = QUANTITIES[cell.quantity]
    if cell.state == MISSING:
        yield settings.MISSING.get(row.part or settings.PART.get(cell.quantity, ""), {})
    elif cell.state != KNOWN:
        yield from settings.ABSENT.get(cell.quantity, ())
    elif row.kind == FLAG:
        found = settings.FLAGS.get(cell.quantity, ())
        yield from found if cell.code == YES else settings.NOT.get(cell.quantity, ())
    elif row.kind != NUMBER:
        yield from settings.CATEGORIES.get(row.values[cell.code], ())
    else:
        yield from _numbered(cell, limit_kt)


def _numbered(cell: Cell, limit_kt: float) -> Iterator[Setting]:
    name = cell.quantity
    low, high = cell.span[0], cell.span[2]
    if name in ("door_margin_kt", "door_stay_open_margin_kt"):
        limit = 40.0 if isnan(limit_kt) else limit_kt
        for value in inside(cell, 1, -60, 40):
            gust = max(0, round(limit - value))
            yield {"gust": gust} if gust >= 10 else {"mean": gust}
    elif name == "wind_chill_c":
        for air in range(8, -45, -4):
            for mean in (8, 15, 25, 40):
                if low <= float(exposure.wind_chill_c(float(air), mean * KM_H_PER_KT)) <= high:
                    yield {"air": air, "mean": mean}
                    break
    elif name == "heat_index_c":
        yield from _hot(low, high)
    elif name in settings.MADE:
        for value in inside(cell, *settings.GRID.get(name, (1, 0, 1000))):
            yield from settings.MADE[name](value)
    else:
        yield from settings.TRIED.get(name, ())


def _hot(low: float, high: float) -> Iterator[Setting]:
    """Air and dew points whose heat index lies in a stretch or a little below, where the warm case alone reaches it."""
    ranked = []
    for air in range(27, 48):
        for dew in (10, 16, 20, 24, 27):
            humid = moisture.relative_humidity_pct(float(air), float(dew))
            index = float(exposure.heat_index_c(float(air), humid))
            if low - 6 <= index <= high:
                ranked.append((abs(index - (low - 2)), air, dew))
    yield from ({"air": air, "dew": dew} for _, air, dew in sorted(ranked))


def inside(cell: Cell, step: float, least: float, most: float) -> list[float]:
    """Up to three numbers on a grid that lie in a cell, one well inside first; the nearest where none does."""
    low, shut, high, end = cell.span
    low, high = max(low, least), min(high, most)
    if high < low:
        return [least if high < least else most]
    first, last = np.ceil(low / step) * step, np.floor(high / step) * step
    if first == cell.span[0] and not shut:
        first += step
    if last == cell.span[2] and not end:
        last -= step
    if first > last:
        return [round(low / step) * step]
    # without an upper end well inside is twenty steps from where it begins, without a lower one five below its end
    until = last if isfinite(cell.span[2]) else min(last, first + 40 * step)
    middle = round((first + until) / 2 / step) * step
    if cell.span[0] == -inf:
        middle = max(first, last - round(min(10, (last - first) / step) / 2) * step)
    return list(dict.fromkeys(float(value) for value in (middle, first, last)))


@lru_cache(maxsize=1)
def _heights() -> tuple[Any, Any]:
    """Minutes of the day and the sun's height then."""
    minutes = np.arange(0, 24 * 60, 5, dtype=np.float64)
    return minutes, sun.elevation_deg(DAY.timestamp() + minutes * 60, LATITUDE_DEG, LONGITUDE_DEG)


def _times(lit: Sequence[Cell], phase: str) -> Iterator[Setting]:
    """Off-block times at which the light of a phase is as all the cells have it, and the cloud that goes with it."""
    if not lit:
        return
    minutes, heights = _heights()
    clouded = any(cell.quantity == "illuminance_lx" for cell in lit)
    # a clear sky may hold thin cloud that takes half, and a window is longer than the twilight that is looked for:
    # its dark end is to meet it, in the evening or in the morning
    skies = ((2.0, "SKC"), (1.0, "SKC"), (3.0, "OVC040"), (10.0, "OVC010")) if clouded else ((1.0, "SKC"),)
    for share in (0.5, 0.75, 0.25, 1.0, 0.0):
        for divisor, cloud in skies:
            fits = np.logical_and.reduce([_fits(cell, heights, divisor) for cell in lit])
            fitting_min = minutes[fits]
            if not fitting_min.size:
                continue
            chosen_min = int(fitting_min[round(share * (fitting_min.size - 1))])
            shift = (
                0 if share == 0.5 and not clouded else HALF_WINDOW_MIN if chosen_min < NOON_MIN else -HALF_WINDOW_MIN
            )
            yield {"off_block_min": chosen_min + shift - MIDDLE_MIN[phase], "cloud": cloud}


def _fits(cell: Cell, heights: Any, divisor: float) -> Any:
    """At which heights of the sun the light is as a cell has it."""
    if cell.quantity == "dark":
        return (heights < sun.CIVIL_DEG) == (cell.code != NO)
    if cell.quantity == "light":
        return light.light_code(heights) == cell.code
    values = heights if cell.quantity == "sun_elevation_deg" else light.sun_illuminance_lx(heights) / divisor
    return (values >= cell.span[0]) & (values <= cell.span[2])
