"""Where stations lie: the table of location indicators, and before it a file of the operator's own."""

from __future__ import annotations

import csv
import errno
from collections.abc import Callable
from functools import cache
from io import StringIO
from math import nan
from pathlib import Path

from advisor import places
from advisor.conditions import Place
from advisor.errors import DepartureError, ReportError
from advisor.quantities import read_number

MOST_BYTES = 100_000_000
# of more stations than this the whole table is read
FEW = 100
_HINT = 'give columns station, latitude, longitude and, if known, elevation_m, as in "ZZZA,61.4,9.8,120"'


def finder(file: Path | None) -> Callable[[str], Place | None]:
    """Where a station lies, None where nobody knows. file: CSV that goes before the table, None for none.

    Raises ReportError where the file cannot be used.
    """
    own = {} if file is None else read(file)
    asked: set[str] = set()

    @cache
    def find(station: str) -> Place | None:
        if station in own:
            return own[station]
        asked.add(station)
        return places.look_up(station) if len(asked) <= FEW else places.whole().get(station)

    return find


def read(file: Path) -> dict[str, Place]:
    """The stations of a file of places.

    Raises ReportError, naming the row, for a position that is none, and for a station with two positions.
    """
    stations: dict[str, Place] = {}
    rows: dict[str, int] = {}
    try:
        with opened(file) as lines:
            for number, row in enumerate(csv.DictReader(lines), 2):
                place = _place(row, f"{file}: row {number}")
                name = place.indicator or ""
                if name in stations and stations[name] != place:
                    raise ReportError(
                        f"row {number}: {name} lies elsewhere than in row {rows[name]}",
                        where=str(file),
                        hint="give each station one position; replay the years before a move by themselves",
                    )
                stations[name], rows[name] = place, rows.get(name, number)
    except (OSError, UnicodeDecodeError, csv.Error) as wrong:
        what = wrong.strerror if isinstance(wrong, OSError) and wrong.strerror else str(wrong)
        raise ReportError(f"cannot be read: {what}", where=str(file), hint=_HINT) from None
    return stations


def opened(file: Path) -> StringIO:
    """The lines of a table, read whole. Raises OSError where it cannot be read or, as a device may, has no end."""
    with file.open("rb") as stream:
        data = stream.read(MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise OSError(errno.EFBIG, f"over {MOST_BYTES:,} bytes")
    return StringIO(data.decode("utf-8-sig"), newline="")


def _place(row: dict[str, str | None], where: str) -> Place:
    station = (row.get("station") or "").strip().upper()
    try:
        latitude, longitude = (read_number(row.get(name) or "") for name in ("latitude", "longitude"))
        height = row.get("elevation_m") or ""
        elevation = read_number(height) if height.strip() else nan
        position = places.at(latitude, longitude)
    except (ValueError, DepartureError):
        raise ReportError("no position", where=where, hint=_HINT) from None
    if not station:
        raise ReportError("no station", where=where, hint=_HINT)
    return Place(station, station, position.latitude_deg, position.longitude_deg, elevation)
