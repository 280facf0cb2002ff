"""What is left of the holdover time after the last step of a treatment, from the operator's own file and no other."""

from __future__ import annotations

from dataclasses import dataclass
from math import isnan, nan
from pathlib import Path
from typing import Any

from advisor.brief.model import Brief
from advisor.checklist.profile import Profile
from advisor.departure import read_moment, stamp, to_unix
from advisor.errors import AdvisorError
from advisor.render import words

# no longer than this is looked ahead
LONGEST_MIN = 8 * 60


@dataclass(frozen=True)
class Left:
    """until: stamp of the end, "" where none can be told; said: the minutes left; more: by whose table, look again."""

    until: str
    said: str
    more: str
    over: bool


def left(walk: Any, now: str, pads: Path | None, brief: Brief | None, profile: Profile | None) -> Left | None:
    """What is left, as at a time. None without a file of the operator's, a brief, or a last step that was begun.

    The lowest value that holds over every case of the brief's reports counts, from the beginning of the last step.
    """
    last, gone = walk.last("last step started"), walk.last("cancelled")
    if last is None or pads is None or brief is None or profile is None:
        return None
    if gone is not None and gone["seq"] > last["seq"]:
        return None
    begun = _unix(last["at"])
    try:
        table = _table(pads, begun, last.get("fluid"), last.get("dilution"))
        if table is None:
            return None
        minutes, why = _minutes(table, begun, brief, profile)
    except AdvisorError as error:
        return Left("", "No holdover time:", f"{error.what or str(error).splitlines()[0]}. Ask for a decision.", True)
    whose = f"By {table.named()}, the lowest value of every case."
    if isnan(minutes):
        return Left("", "No holdover time:", f"{why}. {whose}", True)
    if minutes >= LONGEST_MIN:
        return Left(
            "", "No holdover time runs", f"by the reports of this brief; look again before take-off. {whose}", False
        )
    until = stamp(begun + 60 * minutes) or ""
    rest = int((_unix(until) - _unix(now)) // 60)
    said = f"About {rest} min of holdover left:" if rest >= 0 else "Holdover is over:"
    return Left(until, said, f"look again by {words.clock(until)}. {whose}", rest < 0)


def _unix(stamp: str) -> int:
    return to_unix(read_moment(stamp, what="at"))


def _table(pads_file: Path, begun: int, fluid: str | None, dilution: str | None) -> Any:
    from advisor.slots.files import holdover, pads

    de_icing_pads = pads.load(pads_file, begun)
    if de_icing_pads.holdover is None:
        return None
    # what was sprayed counts; where nobody said, what the operator uses
    used = fluid or de_icing_pads.treatment.fluid, dilution or de_icing_pads.treatment.dilution
    return holdover.load(de_icing_pads.holdover, begun, begun, *used)


def _minutes(table: Any, begun: int, brief: Brief, profile: Profile) -> tuple[float, str]:
    """Minutes from the beginning until the lowest value is used up; NaN and why where no guideline holds then."""
    from advisor.slots.demand import night, read_weather
    from advisor.slots.limits import limits

    end = begun + 60 * LONGEST_MIN
    place = f"{brief.place.latitude_deg},{brief.place.longitude_deg}"
    reports = [report.raw for report in brief.reports]
    # the reports were made before; from then on the outlook runs, and it is looked at from the last step on
    weather = read_weather(reports, min(begun, _unix(brief.now)), end, place)
    lowest_holdover = limits(night(weather, profile, end, None, nan), table, begun, LONGEST_MIN)
    first = float(lowest_holdover.over([0], [0])[0])
    if isnan(first):
        return nan, "no guideline holds for what falls, or it is not known"
    for minute in range(LONGEST_MIN):
        value = float(lowest_holdover.over([0], [minute])[0])
        if isnan(value) or value <= minute:
            return minute, ""
    return LONGEST_MIN, ""
