"""An invented aircraft that stands outside: its conditions and briefs from a series of reports."""

from __future__ import annotations

from dataclasses import fields
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

from advisor import advise
from advisor.brief.model import Advice, Brief
from advisor.conditions import Airframe, Conditions, Departure, Place, Windows
from advisor.outlook import build as outlook
from advisor.outlook.cases import Site
from advisor.physics import derive
from advisor.physics import lying as stores
from advisor.physics.deposits import Deposits
from advisor.report import metar, taf

# the station stands where the aircraft does
PLACE = Place("an invented field", "ZZZA", 61.4, 9.8)
NOW = datetime(2027, 1, 10, 5, 10, tzinfo=UTC)
RANK = {None: 0, "cannot tell": 1, "possible": 2, "likely": 3, "expected": 4}


def moment(text: str, now: datetime = NOW) -> datetime:
    """The last time before now that a clock showed HHMM."""
    at = now.replace(hour=int(text[:2]), minute=int(text[2:4]))
    return at if at <= now else at - timedelta(days=1)


def night(*rows: str, now: datetime = NOW) -> list[str]:
    """METARs out of "HHMM groups"; "HHMM COR groups" is a correction."""
    made = []
    for row in rows:
        at, said = row.split(" ", 1)
        kind = "METAR COR" if said.startswith("COR ") else "METAR"
        made.append(f"{kind} ZZZA {moment(at, now):%d%H%M}Z {said.removeprefix('COR ')}")
    return made


def conditions(
    reports: list[str],
    *,
    since: str,
    treated: str | None = None,
    now: datetime = NOW,
    ahead_min: int = 60,
    forecast: str | None = None,
) -> Conditions:
    """Columns with what follows from them, over the time parked and ahead."""
    at, off = int(now.timestamp()), int(now.timestamp()) + 60 * ahead_min
    windows = Windows((max(at, off - 2700), off - 1500), (max(at, off - 3000), off - 300), off, off + 900)
    asked = Departure(
        at,
        PLACE,
        windows,
        parked_since=int(moment(since, now).timestamp()),
        treated_at=None if treated is None else int(moment(treated, now).timestamp()),
    )
    read = [metar.read(text, now=now) for text in reports]
    ahead = taf.read(forecast, now=now) if forecast else None
    return derive.derive(outlook.build(read, asked, site=Site(0.0, 0.0), forecast=ahead), Airframe())


def lying(found: Conditions) -> Deposits:
    """What the loop over time has gathered on the wing, of what is known to have fallen, from the derived columns."""
    made = stores.gathered(found)
    return Deposits(**{field.name: getattr(made, field.name)[0] for field in fields(made)})


def when(found: Conditions, text: str, now: datetime = NOW) -> int:
    """Index of the time at which a clock showed HHMM before now."""
    index = int(np.searchsorted(found.unix_s, moment(text, now).timestamp()))
    assert found.unix_s[index] == moment(text, now).timestamp()
    return index


def brief(reports: list[str] | str, *, now: datetime = NOW, ahead_min: int = 90, **asked: Any) -> Brief:
    """A brief of the aircraft; times of day without a date are the last ones before now."""
    off_block = now + timedelta(minutes=ahead_min)
    return advise(reports, now=now, off_block=off_block, **({"place": PLACE} | asked))


def statuses(made: Brief) -> dict[str, str]:
    """Status by id."""
    return {line.id: line.status for line in made.advice}


def line(made: Brief, name: str) -> Advice:
    """A line by its id."""
    return next(one for one in made.advice if one.id == name)


def gone(before: Brief, after: Brief) -> list[str]:
    """Lines of before that after no longer has in any form."""
    left = statuses(after)
    return [name for name in statuses(before) if name not in left]
