"""What was asked, read: texts of times, place and quantities as the numbers that a brief is made of."""

from __future__ import annotations

from collections.abc import Sequence

from advisor.brief import inputs
from advisor.brief.inputs import Asked, Moment, Span
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


def read(
    reports: str | Sequence[str | Report | Forecast],
    *,
    off_block: Moment,
    now: Moment,
    place: str | Place | None = None,
    gazetteer: Gazetteer,
    heading: float | str | None = None,
    parked_since: Moment | None = None,
    treated_at: Moment | None = None,
    seen: str | None = None,
    looked_at: Moment | None = None,
    fuel_temperature: float | str | None = None,
    fuel_fill: float | str | None = None,
    walk_round: Span | None = None,
    doors_open: Span | None = None,
    take_off: Moment | None = None,
) -> tuple[Read, Asked]:
    """Reports and forecasts, and what was asked; as for advise.

    Raises ReportError or DepartureError; each says what is wrong and what would be right.
    """
    now_s = to_unix(read_moment(now, what="now") if isinstance(now, str) else now, what="now")
    texts = inputs.read_texts(reports, from_unix(now_s))
    where = inputs.find_place(place, (*texts[0], *texts[1]), gazetteer)
    off_block_s = read_off_block(off_block, now_s)
    given = {name: span for name, span in (("walk_round", walk_round), ("doors_open", doors_open)) if span is not None}
    treated_s = None if treated_at is None else read_at_or_before(treated_at, now_s, what="treated-at")
    parked_s = None if parked_since is None else read_at_or_before(parked_since, now_s, what="parked-since")
    looked_s = None if looked_at is None else read_at_or_before(looked_at, now_s, what="looked-at")
    for label, moment in (("treated-at", treated_s), ("parked-since", parked_s), ("looked-at", looked_s)):
        if moment is not None and moment > now_s:
            said = f"{stamp(moment)} is after now"
            raise DepartureError(said, where=label, hint="give a time that has passed")
    if seen is not None and seen not in SEEN:
        raise DepartureError(f"{seen[:40]!r} is not known", where="seen", hint=f"give one of {', '.join(SEEN)}")
    if looked_s is not None and seen is None:
        raise DepartureError("what was seen is not said", where="looked-at", hint=f"give seen: {', '.join(SEEN)}")
    return texts, Asked(
        now=now_s,
        off_block=off_block_s,
        place=where,
        heading_deg=read_heading(heading),
        parked_since=parked_s,
        treated_at=treated_s,
        seen=seen,
        fuel_temperature_c=inputs.read_within(fuel_temperature, "degC", "fuel-temperature", -60, 60),
        fuel_fill_pct=inputs.read_within(fuel_fill, "percent", "fuel-fill", 0, 100),
        looked_at=now_s if seen is not None and looked_s is None else looked_s,
        given=given,
        take_off=take_off,
    )
