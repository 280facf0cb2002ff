"""What only observation tells, as columns: what ended, what storm cloud may bring, what blew, what lies there."""

from __future__ import annotations

from collections.abc import Sequence
from math import nan

import numpy as np

from advisor.conditions import Columns, Floats, Masks
from advisor.outlook import ended
from advisor.outlook.cases import BASE_CASES
from advisor.outlook.track import Track
from advisor.physics import flags, wind
from advisor.report.model import Report

# code of runway deposits from which it is frozen: rime or frost (WMO-No. 306, table 0919, from memory)
FROZEN_DEPOSIT = 3


def windy() -> Masks:
    """Which base cases take the strong end of the wind, (case, 1)."""
    return np.array([row.wind == 1 for row in BASE_CASES])[:, None]


def remembered(
    columns: Columns, used: Sequence[Report], unix_s: Floats, since_s: float, treated_s: float | None = None
) -> Columns:
    """What ended, as columns; what falls now has also fallen lately. since_s: since when the aircraft may stand.

    columns: as the tables have them, over the cases. treated_s: as for ended.columns.
    """
    ended_columns: Columns = {}
    for name, column in ended.columns(used, unix_s, since_s, treated_s).items():
        now = columns[ended.REMEMBERED[name]] if name in ended.ALSO_NOW else column[None, :]
        ended_columns[name] = flags.any_of(column[None, :], now)
    ended_columns["peak_wind_kt"] = ended.peak_wind_kt(used, unix_s, since_s)[None, :]
    ended_columns["snow_depth"] = np.full((1, unix_s.size), int(snow_lies(used)), dtype=np.int8)
    return ended_columns


def brewing(columns: Columns, lasts: Masks) -> Columns:
    """What storm cloud may bring: a storm in the adverse cases of cumulonimbus or lightning that is not far off.

    There a funnel cloud or tornado may come again for two hours after one was seen.

    columns: over the cases, with what is remembered; lasts: the adverse cases, (case, 1). Towering cumulus, after
    which a storm is five times rarer, may still become one: that is for the lightning line.
    """
    near = flags.any_of(columns["storm_remark"], columns["cumulonimbus"])
    storm = np.where(lasts, flags.any_of(columns["thunderstorm"], near), columns["thunderstorm"])
    # a storm that has just passed may come back, one that stays possible brings lightning, and so may what grows now
    later = flags.any_of(columns["towering_cumulus"], columns["recent_storm"], storm)
    lightning = flags.any_of(columns["lightning"], columns["cumulonimbus"], np.where(lasts, later, 0))
    # one whose end nobody told, or that left a sky for another
    funnel = np.where(lasts, flags.any_of(columns["funnel_cloud"], columns["recent_funnel"]), columns["funnel_cloud"])
    return {"thunderstorm": storm, "lightning": lightning, "funnel_cloud": funnel}


def seen_gust(track: Track, unknown: Masks) -> Floats:
    """What blew, by the reports alone: a gust as reported, one that was not as much as 9 kt over the mean.

    unknown: where nobody reported; not known in the windy cases, and the others keep what is known.
    """
    mean, gust = track.numbers("wind_kt"), track.numbers("gust_kt")
    unreported = np.where(track.numbers("gust_lost") == 1.0, nan, wind.unreported_gust_kt(mean))
    most = np.where(np.isnan(gust), unreported, gust)
    known = np.nan_to_num(np.where(np.isnan(gust), mean, gust))
    return np.where(windy(), np.where(unknown, nan, most), known)


def snow_lies(used: Sequence[Report]) -> bool:
    """Whether a report has snow or ice on the ground or the runways; the apron may have been cleared of it."""
    return any(
        report.remarks.snow_depth_cm > 0 or max(report.runway_deposits, default=0) >= FROZEN_DEPOSIT for report in used
    )
