"""What goes over the wire and into the store. The brief itself is advisor.advice.Brief."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Literal

import msgspec
from msgspec import Meta

# station and the feed's name -> report texts, and what the reader must be told about them; raises FeedError
Fetch = Callable[[str, str], tuple[Sequence[str], Sequence[str]]]
Short = Annotated[str, Meta(max_length=80)]
MOST_BODY = 65_536


class Asked(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """What a brief is asked for: the names of the command's options, underscored."""

    reports: Annotated[
        tuple[Annotated[str, Meta(max_length=MOST_BODY)], ...],
        Meta(max_length=50, description="report texts; or station and feed instead"),
    ] = ()
    off_block: Annotated[str, Meta(max_length=80, description="RFC 3339 with offset, or HH:MMZ / HHMMZ")]
    now: Annotated[str | None, Meta(description="RFC 3339; default: the server's clock")] = None
    place: Annotated[Short | None, Meta(description='location indicator or "LAT,LON"')] = None
    aircraft: Annotated[Short | None, Meta(description="profile id")] = None
    heading: Annotated[float, Meta(ge=0, le=360)] | Short | None = None
    parked_since: Short | None = None
    treated_at: Short | None = None
    seen: Literal["nothing", "frost", "snow", "ice"] | None = None
    looked_at: Annotated[Short | None, Meta(description="when that was; default: now")] = None
    fuel_temperature: float | Short | None = None
    fuel_fill: Annotated[float, Meta(ge=0, le=100)] | Short | None = None
    walk_round: Annotated[Short | None, Meta(description="START/END")] = None
    doors_open: Annotated[Short | None, Meta(description="START/END")] = None
    take_off: Short | None = None
    station: Annotated[Short | None, Meta(description="fetch the reports of this station instead")] = None
    feed: Annotated[Short | None, Meta(description="by the feed of this name")] = None


FIELDS = Asked.__struct_fields__


class Wanted(Asked, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """The same, and the id of an earlier brief: the answer then also says what changed since."""

    since: Annotated[Short | None, Meta(description="id of an earlier brief")] = None


class PlanAsked(msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """What a plan is asked for. schedule: CSV as text."""

    schedule: Annotated[str, Meta(max_length=MOST_BODY)]
    reports: Annotated[tuple[Annotated[str, Meta(max_length=MOST_BODY)], ...], Meta(max_length=50)]
    place: Short | None = None
    now: Short | None = None


class Problem(msgspec.Struct, frozen=True, omit_defaults=True):
    """RFC 9457 problem details. field: the input at fault; hint: what would be right."""

    title: str
    status: Annotated[int, Meta(ge=400, le=599)]
    detail: str
    type: str = "about:blank"
    field: str | None = None
    hint: str | None = None


class Lost(msgspec.Struct, frozen=True, omit_defaults=True):
    """Problem details of a brief that was made and could not be kept, with the brief."""

    title: str
    status: Annotated[int, Meta(ge=400, le=599)]
    detail: str
    brief: msgspec.Raw
    type: str = "about:blank"
    hint: str | None = None


class Health(msgspec.Struct, frozen=True):
    """That the server answers."""

    status: Literal["ok"] = "ok"


class KeptBrief(msgspec.Struct, frozen=True, kw_only=True):
    """A brief as it is kept.

    made: unix seconds; live: made for the clock's own time, so that its age means something; brief: JSON of brief/1;
    since: the brief that it was made after; newer: the one made after it; checked: unix seconds of the last look for
    a newer report; feed: what the feed's last answer was, where it was not as it should be.
    """

    id: str
    made: float
    live: bool
    asked: Asked
    brief: msgspec.Raw
    since: str | None = None
    newer: str | None = None
    checked: float = 0.0
    feed: tuple[str, ...] = ()


def clock() -> datetime:
    """The wall clock."""
    return datetime.now(UTC)


@dataclass(frozen=True)
class Settings:
    """How the server is set up.

    rate_limit: briefs and plans a minute and address, 0 for none. fetch: None where no feed is. pads: None where no
    slots are planned; plan_seconds: the longest that a plan is looked for. database: URL of the record, None where no
    walk is recorded; keep_days: how long what was said on walks is kept, None for ever; tokens: the file that says who
    may, None where writing is for this machine alone; proxies: addresses whose forwarded headers are believed. edit: a
    folder of rules to edit, None for none.
    """

    data: Path | None = None
    checklist: Path | None = None
    rate_limit: int = 0
    fetch: Fetch | None = None
    feeds: tuple[str, ...] = ()
    clock: Callable[[], datetime] = field(default=clock)
    pads: Path | None = None
    plan_seconds: float = 10.0
    database: str | None = None
    keep_days: float | None = None
    tokens: Path | None = None
    proxies: tuple[str, ...] = ()
    edit: Path | None = None
