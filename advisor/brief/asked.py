"""What was asked, read: texts of times, place and quantities as the numbers that a brief is made of."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Required, TypedDict, Unpack

from advisor.brief import inputs
from advisor.brief.inputs import BriefAsked, Moment, Span
from advisor.conditions import NOTHING_SEEN, Place
from advisor.departure import (
    from_unix,
    read_at_or_before,
    read_heading,
    read_moment,
    read_off_block,
    stamp,
    to_unix,
)
from advisor.errors import DepartureError
from advisor.outlook.stations import Gazetteer
from advisor.report.forecast import Forecast
from advisor.report.model import Report

SEEN = (NOTHING_SEEN, "frost", "snow", "ice")
Read = tuple[tuple[Report, ...], tuple[Forecast, ...]]


class What(TypedDict, total=False):
    """What can be asked of a departure, as `advisor.advise` has it."""

    off_block: Required[Moment]
    now: Required[Moment]
    place: str | Place | None
    heading: float | str | None
    parked_since: Moment | None
    treated_at: Moment | None
    seen: str | None
    looked_at: Moment | None
    fuel_temperature: float | str | None
    fuel_fill: float | str | None
    walk_round: Span | None
    doors_open: Span | None
    take_off: Moment | None


def read(
    reports: str | Sequence[str | Report | Forecast], gazetteer: Gazetteer, **what: Unpack[What]
) -> tuple[Read, BriefAsked]:
    """Reports and forecasts, and what was asked.

    Raises ReportError or DepartureError; each says what is wrong and what would be right.
    """
    now, seen = what["now"], what.get("seen")
    now_s = to_unix(read_moment(now, what="now") if isinstance(now, str) else now, what="now")
    texts = inputs.read_texts(reports, from_unix(now_s))
    where = inputs.find_place(what.get("place"), (*texts[0], *texts[1]), gazetteer)
    off_block_s = read_off_block(what["off_block"], now_s)
    windows = (("walk_round", what.get("walk_round")), ("doors_open", what.get("doors_open")))
    treated_s = _past(what.get("treated_at"), now_s, "treated-at")
    parked_s = _past(what.get("parked_since"), now_s, "parked-since")
    looked_s = _past(what.get("looked_at"), now_s, "looked-at")
    if looked_s is not None and parked_s is not None and looked_s < parked_s:
        said = f"{stamp(looked_s)} is before the aircraft was parked, {stamp(parked_s)}"
        raise DepartureError(said, where="looked-at", hint="give the time of a look at the parked aircraft")
    if seen is not None and seen not in SEEN:
        raise DepartureError(f"{seen[:40]!r} is not known", where="seen", hint=f"give one of {', '.join(SEEN)}")
    if looked_s is not None and seen is None:
        raise DepartureError("what was seen is not said", where="looked-at", hint=f"give seen: {', '.join(SEEN)}")
    return texts, BriefAsked(
        now=now_s,
        off_block=off_block_s,
        place=where,
        heading_deg=read_heading(what.get("heading")),
        parked_since=parked_s,
        treated_at=treated_s,
        seen=seen,
        fuel_temperature_c=inputs.read_within(what.get("fuel_temperature"), "degC", "fuel-temperature", -60, 60),
        fuel_fill_pct=inputs.read_within(what.get("fuel_fill"), "percent", "fuel-fill", 0, 100),
        looked_at=now_s if seen is not None and looked_s is None else looked_s,
        given={name: span for name, span in windows if span is not None},
        take_off=what.get("take_off"),
    )


def _past(text: Moment | None, now_s: int, label: str) -> int | None:
    """A time that has passed; None where none was given."""
    if text is None:
        return None
    moment = read_at_or_before(text, now_s, what=label)
    if moment > now_s:
        raise DepartureError(f"{stamp(moment)} is after now", where=label, hint="give a time that has passed")
    return moment
