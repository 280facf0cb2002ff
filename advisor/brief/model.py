"""The brief as data: what CONTRACT calls brief/1. The same structures are the JSON, the API and its schema."""

from __future__ import annotations

from math import isfinite
from typing import Annotated, Any, Literal

import msgspec

from advisor.brief.timeline import TIME_PATTERN, row_schema

Kind = Literal["gear", "checkpoint", "request", "door", "caution"]
Certain = Literal["expected", "likely", "possible"]
Status = Literal["expected", "likely", "possible", "cannot tell"]
Part = Literal["stop", "call", "take", "doors", "out", "walk", "start", "untold"]
Weight = Literal["must", "should"]
Origin = Literal["shipped", "operator"]
DoorStatus = Literal["within", "possible", "exceeded", "cannot tell"]
Time = Annotated[str, msgspec.Meta(pattern=TIME_PATTERN, description="RFC 3339, UTC")]
Number = float | None
TimelineRow = Annotated[dict[str, Any], msgspec.Meta(extra_json_schema=row_schema())]


class PlaceOut(msgspec.Struct, frozen=True):
    """Where the aircraft stands."""

    name: str
    indicator: str | None
    latitude_deg: float
    longitude_deg: float
    time_zone: str | None


class Named(msgspec.Struct, frozen=True):
    """An id and a name."""

    id: str
    name: str


class ChecklistOut(msgspec.Struct, frozen=True):
    """Which checklist spoke."""

    name: str
    revision: str
    fingerprint: str


class WindowsOut(msgspec.Struct, frozen=True):
    """The windows that were counted."""

    walk_round: tuple[Time, Time]
    doors_open: tuple[Time, Time]
    off_block: Time
    take_off: Time


class GroupOut(msgspec.Struct, frozen=True):
    """A group of a report and what became of it."""

    text: str
    status: Literal["decoded", "noted", "conflict", "not decoded"]
    meaning: str


class ReportOut(msgspec.Struct, frozen=True):
    """A report, group by group. used: the brief goes by it."""

    kind: str
    station: str
    issued: Time
    age_min: int
    raw: str
    groups: tuple[GroupOut, ...]
    used: bool = False


class Because(msgspec.Struct, frozen=True):
    """One number behind a line: band over the cases at one time, and the test that it met.

    decided: its value in the deciding case; sure: the test is met in every case at that time. cause: what a flag
    follows from, in words or weather codes, "" where it says so itself. since: of a frost margin that was above zero
    before now already, when that began in the deciding case; of what fell and lies there still, from when it fell.
    """

    quantity: str
    unit: str
    low: Number
    central: Number
    high: Number
    test: str
    at: Time | None
    decided: Number = None
    sure: bool = True
    cause: str = ""
    since: Time | None = None


class SourceOut(msgspec.Struct, frozen=True):
    """Where a rule comes from."""

    key: str
    title: str
    locator: str
    standing: str


class Advice(msgspec.Struct, frozen=True, rename={"from_": "from"}):
    """A line of the brief.

    during: the window in which it was decided; from, until: first and last time it holds in any case; by: a request's
    latest time, by_passed where that is over; more: what does not fit the short line; missing: the inputs whose lack
    left it untold; stop: shown before anything else; case: the deciding row of the table of cases. short: what to call
    it where several stand in one line. part: where it stands in a brief. standing: it holds before every flight.
    """

    id: str
    kind: Kind
    status: Status
    weight: Weight
    text: str
    during: str
    zone: str | None
    from_: Time | None
    until: Time | None
    by: Time | None
    because: tuple[Because, ...]
    source: SourceOut
    origin: Origin
    by_passed: bool = False
    more: str = ""
    stop: bool = False
    missing: tuple[str, ...] = ()
    case: str = ""
    short: str = ""
    part: Part = "walk"
    standing: bool = False


class HazardOut(msgspec.Struct, frozen=True, rename={"from_": "from"}):
    """A hazard between now and take-off: as it is said, how sure it is, and from when to when.

    from, until: in any case; surer_from, surer_until: in the central one, where that has it. groups: the temporary and
    probable groups that alone bring it.
    """

    key: str
    words: str
    status: Certain
    from_: Time
    until: Time
    surer_from: Time
    surer_until: Time
    groups: tuple[str, ...] = ()


class SunOut(msgspec.Struct, frozen=True):
    """The sunrise or sunset nearest to the walk, by the almanacs' convention."""

    event: Literal["sunrise", "sunset"]
    at: Time


class SectorOut(msgspec.Struct, frozen=True):
    """Other limits of a door, for wind from one angle to another, clockwise from the nose."""

    from_deg: float
    to_deg: float
    operate_kt: Number
    stay_open_kt: Number


class DoorAdvice(msgspec.Struct, frozen=True):
    """A door against the wind in its window.

    bearing_deg: where the door is, clockwise from the nose. counted_kt: the lowest operating limit that counted in the
    window, the profile's sectors included, counted_stay_open_kt: the same for staying open. margin_kt,
    stay_open_margin_kt: the least that was left below them in any case, below zero where a gust is over. beyond: what
    may bring gusts that no report bounds: "storm", "weather" that nobody told, or a "gust" that was lost. sectors:
    where the profile gives the door other limits.
    """

    door: str
    relative_wind_deg: Number
    worst_kt: Number
    operate_kt: Number
    stay_open_kt: Number
    status: DoorStatus
    at: Time | None
    stay_open_status: DoorStatus = "within"
    bearing_deg: Number = None
    counted_kt: Number = None
    beyond: str = ""
    sectors: tuple[SectorOut, ...] = ()
    counted_stay_open_kt: Number = None
    margin_kt: Number = None
    stay_open_margin_kt: Number = None


class Brief(msgspec.Struct, frozen=True, kw_only=True):
    """A whole brief."""

    #: Which form this is.
    schema: Literal["brief/1"] = "brief/1"
    #: The same as now, since no clock is read.
    made_at: Time
    #: The present that was given.
    now: Time
    #: Where the aircraft stands.
    place: PlaceOut
    #: Which profile.
    aircraft: Named
    #: Whose rules, with their fingerprint.
    checklist: ChecklistOut
    #: The times that were counted.
    windows: WindowsOut
    #: Each with its groups and what became of them; used says whether the brief goes by it.
    reports: tuple[ReportOut, ...]
    #: A row every five minutes and at each window's edge, with low, central and high over the cases, flags and words.
    timeline: tuple[TimelineRow, ...]
    #: The lines, in the order of a brief.
    advice: tuple[Advice, ...]
    #: Each door against the wind in its window.
    doors: tuple[DoorAdvice, ...]
    #: Groups that were not understood or are in conflict, as written.
    not_decoded: tuple[str, ...]
    #: The inputs that were not there.
    missing: tuple[str, ...]
    #: Ids of shipped must-rules that this checklist weakens or removes.
    loosened: tuple[str, ...]
    #: What holds for every brief.
    cautions: tuple[str, ...]
    #: What has to be said at the top of this one.
    notes: tuple[str, ...] = ()
    #: What nobody said of the aircraft, so that nothing is claimed of it.
    not_stated: tuple[str, ...] = ()
    #: The zones of the aircraft in walking order.
    walk_order: tuple[str, ...] = ()
    #: Of the nose, true; None where not given.
    heading_deg: Number = None
    #: Since when the aircraft stands outside; None where nobody said.
    parked_since: Time | None = None
    #: In what each of the loosened, and windows, leads and limits, say less than what is shipped.
    loosened_how: tuple[str, ...] = ()
    #: The first sunrise or sunset from an hour before the walk to three hours after its start, None without one.
    sun: SunOut | None = None
    #: What the night is about, the gravest first.
    hazards: tuple[HazardOut, ...] = ()


def number(value: float, decimals: int = 4) -> float | None:
    """A number for JSON: rounded, never -0.0, None where not finite."""
    value = float(value)
    if not isfinite(value):
        return None
    return round(value, decimals) + 0.0


def to_json(brief: Brief) -> bytes:
    """The brief as JSON, indented, the same bytes for the same brief.

    Parameters
    ----------
    brief
        As `advisor.advise` gives it.

    Returns
    -------
    bytes
        UTF-8, with a line feed at the end; `advisor schema brief` prints its JSON Schema. A number that is not known is
        null.
    """
    return msgspec.json.format(msgspec.json.encode(brief), indent=2) + b"\n"


def schema() -> dict[str, Any]:
    """JSON Schema of a brief."""
    return msgspec.json.schema(Brief)
