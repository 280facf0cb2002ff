"""What the last walk of an aircraft knows, offered to its next brief: shown to be taken over, never taken by itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from advisor.departure import stamp
from advisor.quantities.units import HOUR_S
from advisor.render import words
from advisor.web.work import Work

# a walk from longer ago says nothing of the aircraft as it stands
NEWEST_S = 36 * HOUR_S
TAKE = "take_"
# the form's entry, and what is said of it
SAID = {
    "seen": "seen on the aircraft",
    "treated_at": "treated against ice at",
    "parked_since": "parked outside since",
}


@dataclass(frozen=True)
class Offered:
    """registration: as it was asked for; walk: whose walk it is, "" where none is known; rows: entry, words, value."""

    registration: str
    walk: str = ""
    rows: tuple[tuple[str, str, str], ...] = ()
    covered: str = ""


def offered(walks: Any, work: Work, registration: str) -> Offered:
    """What is known of a registration. Blocking: it asks the record. walks: where walks are recorded."""
    from advisor.record.walk import offers, read

    wanted = registration.strip()[:80]
    since = stamp(work.unix() - NEWEST_S) or ""
    for row in walks.record.walks(since=since, registration=wanted, most=1) if wanted else ():
        walk = read(walks.record.events(row["id"]))
        if walk is None:
            continue
        now = work.stamp()
        given = offers(walk)
        rows = tuple((name, said, _shown(given[name], now)) for name, said in SAID.items() if given.get(name))
        when = words.moment(walk.opened_at, now)
        return Offered(wanted, f"Walk of {when} by {walk.opened['by']}", rows, given.get("covered", ""))
    return Offered(wanted)


def _shown(value: str, now: str) -> str:
    return words.moment(value, now) if value[:2].isdigit() else value


def taken(values: Mapping[str, str]) -> dict[str, str]:
    """The form's fields with what was ticked in those that were left empty. What was typed counts before it."""
    ticked = {name: values[TAKE + name] for name in SAID if values.get(TAKE + name) and not values.get(name)}
    return {**values, **ticked}
