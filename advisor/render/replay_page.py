"""A replay as one HTML page: months by hours for every rule, each cell opening its dates; what each station left out.

Nothing is fetched from elsewhere, no script. A share is a number and a shade, never a shade alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from markupsafe import Markup

from advisor.archive.result import Replay
from advisor.archive.tally import SENSORS, TOLD, Tally
from advisor.checklist.evaluate import STATUSES
from advisor.departure import stamp
from advisor.render import design
from advisor.render.picture import drawing
from advisor.render.replay import MONTHS, departures, render, title

_CANNOT_TELL = STATUSES.index("cannot tell")


def page(replay: Replay, tally: Tally) -> str:
    """The page. Whatever comes from a report, a checklist or a file is escaped."""
    return (
        drawing.environment()
        .get_template("replay.html.jinja")
        .render(
            made=replay,
            style=Markup(design.css() + drawing.source("replay.css")),
            title=title(replay),
            departures=departures(replay),
            text=render(replay),
            months=MONTHS,
            hours=range(24),
            rules=[_matrix(tally, at) for at in _varying(tally)],
            sensors=SENSORS,
            stations=_stations(tally),
        )
    )


def _varying(tally: Tally) -> Sequence[int]:
    """Rules that are told in some reports and not in all, the most frequent first."""
    total = tally.total()
    told = total[:, list(TOLD)].sum(axis=1)
    order = np.argsort(-told, kind="stable")
    return [int(at) for at in order if 0 < told[at] < total[at].sum()]


def _matrix(tally: Tally, index: int) -> dict[str, object]:
    """One rule: for each month with reports a row of cells, None where there was none in that hour."""
    counts, rule = tally.by_hour[index], tally.rules[index]
    cells = tally.cells.get(rule, {})
    rows = []
    for month in range(12):
        if not counts[month].sum():
            continue
        row: list[dict[str, object] | None] = []
        for hour in range(24):
            size = int(counts[month, hour].sum())
            if not size:
                row.append(None)
                continue
            told = int(counts[month, hour, list(TOLD)].sum())
            dates = [f"{one.station} {stamp(one.at_s)} {one.raw}" for one in cells.get(24 * month + hour, ())]
            row.append({"share": told / size, "told": told, "of": size, "dates": dates})
        rows.append({"month": MONTHS[month], "cells": row})
    total = tally.total()[index]
    return {"id": rule, "rows": rows, "told": int(total[list(TOLD)].sum()), "untold": int(total[_CANNOT_TELL])}


def _stations(tally: Tally) -> list[dict[str, Any]]:
    """Each station: how much could not be told, and how often each sensor said nothing; the worst first."""
    stations: list[dict[str, Any]] = []
    for name, counts in tally.by_station.items():
        silent = tally.silent.get(name, np.zeros(len(SENSORS) + 1, dtype=np.int64))
        reports = max(1, int(silent[0]))
        stations.append(
            {
                "name": name,
                "reports": int(silent[0]),
                "untold": float(counts[:, _CANNOT_TELL].sum() / max(1, counts.sum())),
                "silent": [float(number) / reports for number in silent[1:]],
            }
        )
    return sorted(stations, key=lambda one: (-max(one["silent"]), one["name"]))
