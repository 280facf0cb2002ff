"""A plan as it is written: one model for JSON and its schema, and what every renderer reads."""

from __future__ import annotations

from typing import Annotated, Any, Literal

import msgspec
from msgspec import Meta

from advisor.brief.model import Because, Named, PlaceOut

Time = Annotated[str, Meta(pattern=r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ$")]
NeedWord = Literal["expected", "likely", "possible", "not indicated", "cannot tell"]


class DepartureOut(msgspec.Struct, frozen=True, kw_only=True):
    """One departure.

    pad, start, end: None where nothing is planned. delay_min: take-off against off-block and taxi (or its window);
    wait_min: of it, waiting for a pad, runway_wait_min: of that, for the runway. latest_call: when to have called;
    call_passed: that has passed, call now. holdover_min: the worse of the cases from the last step to take-off; None
    with holdover_note saying why. no_guideline: no holdover can be given though one is needed, which is not the same as
    that none runs. order: 1, 2, … in which a coordinator calls those that are there; latest_start: later than that its
    window, or what the order keeps for it, is lost; not_before: treated sooner, its holdover would run out before it
    can take off. state: the last that has happened to it. changed: what differs from the previous plan and why, None
    for nothing; told: the start that was given out last, from which a start may move a little before it is a change.
    shared_with: possible treatments that share the pad's time. pad_line: what to pass on to the pad.
    """

    flight: str
    need: NeedWord
    aircraft: str
    size: str
    stand: str | None = None
    off_block: Time
    ready: Time | None = None
    pad: str | None = None
    start: Time | None = None
    end: Time | None = None
    last_step_start: Time | None = None
    take_off: Time | None = None
    take_off_from: Time | None = None
    take_off_until: Time | None = None
    delay_min: int | None = None
    wait_min: int | None = None
    runway_wait_min: int | None = None
    latest_call: Time | None = None
    call_passed: bool = False
    steps: int = 0
    treatment_min: int = 0
    deposit: str | None = None
    surfaces: str | None = None
    holdover_min: int | None = None
    holdover_left_min: int | None = None
    holdover_note: str | None = None
    window_missed: bool = False
    no_guideline: bool = False
    holdover_broken: bool = False
    frozen: bool = False
    state: Literal["", "off", "at pad", "under way", "treated", "departed"] = ""
    order: int | None = None
    latest_start: Time | None = None
    not_before: Time | None = None
    told: Time | None = None
    changed: str | None = None
    shared_with: tuple[str, ...] = ()
    reason: str = ""
    because: tuple[Because, ...] = ()
    pad_line: str | None = None


class UnplannedOut(msgspec.Struct, frozen=True):
    """A departure that may need treatment and has no slot."""

    flight: str
    why: str


class PadOut(msgspec.Struct, frozen=True, rename={"from_": "from"}):
    """A pad or truck with its hours; None where it is open all the time."""

    name: str
    size: str
    place: str
    from_: Time | None
    until: Time | None


class ClosureOut(msgspec.Struct, frozen=True, rename={"from_": "from"}):
    """When pads are shut and why. possible: only in some of the cases; told, not planned around."""

    pads: tuple[str, ...]
    from_: Time
    until: Time
    why: str
    possible: bool = False


class LoadOut(msgspec.Struct, frozen=True):
    """A quarter of an hour: pad minutes asked for (a possible treatment by its share) and pad minutes open."""

    at: Time
    load_min: float
    capacity_min: int


class PlanReportOut(msgspec.Struct, frozen=True):
    """A report that the plan rests on."""

    kind: str
    station: str
    issued: Time
    raw: str


class VariantOut(msgspec.Struct, frozen=True):
    """One what-if beside the plan: the published order carried out on the same drawn nights, means over them."""

    name: str
    objective: float
    treatments: float
    unplanned: float
    delay_min: float
    longest_delay_min: float
    missed_windows: float
    broken_holdovers: float
    note: str = ""


class SpreadOut(msgspec.Struct, frozen=True):
    """A figure of a night over the rehearsed nights: mean and 90th percentile."""

    mean: float
    p90: float


class SpreadsOut(msgspec.Struct, frozen=True):
    """One way of carrying the night out: sum and worst of its delays, broken holdovers, windows missed, and cost.

    cost_tenths: the cost's least, tenths and most over the nights.
    """

    delay_min: SpreadOut
    worst_delay_min: SpreadOut
    broken_holdovers: SpreadOut
    missed_windows: SpreadOut
    cost: SpreadOut
    cost_tenths: tuple[float, ...] = ()


class RehearsalOut(msgspec.Struct, frozen=True):
    """The plan's order, first come first served, latest finish first, and the best found with everything known, on the
    same drawn nights.
    """

    nights: int
    seed: int
    plan: SpreadsOut
    first_come: SpreadsOut
    latest_finish: SpreadsOut
    known: SpreadsOut


class OrderOut(msgspec.Struct, frozen=True):
    """Which order the plan is, and why: mean cost over drawn nights of each that was tried, by name.

    yields: who can no longer make its take-off window goes after those that can. held: how many are not called before
    a time of their own. cut: the time was over before every order had been tried.
    """

    name: str
    yields: bool
    mean_cost: float
    tried: dict[str, float]
    held: int = 0
    cut: bool = False


class Plan(msgspec.Struct, frozen=True, kw_only=True):
    """A whole plan. objective: minutes of waiting of a medium aircraft and what is priced in them; it is minimised.

    bound: no plan costs less; gap: (objective - bound) / objective. for_holdover: what of the objective is for starts
    later than they could be, so that no holdover runs out on a night that is not as planned. first_come: what first
    come, first served costs.
    """

    schema: Literal["plan/1"] = "plan/1"
    made_at: Time
    now: Time
    place: PlaceOut
    checklist: Named
    reports: tuple[PlanReportOut, ...]
    pads: tuple[PadOut, ...]
    closures: tuple[ClosureOut, ...]
    holdover: str | None
    holdover_invented: bool = False
    departures: tuple[DepartureOut, ...]
    objective: float
    bound: float
    gap: float
    status: Literal["optimal", "time limit", "stopped"]
    for_holdover: float = 0.0
    first_come: float
    unplanned: tuple[UnplannedOut, ...]
    changes: tuple[str, ...] = ()
    load: tuple[LoadOut, ...] = ()
    variants: tuple[VariantOut, ...] = ()
    order: OrderOut | None = None
    rehearsal: RehearsalOut | None = None
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


def to_json(plan: Plan) -> bytes:
    """The plan as JSON, indented, the same bytes for the same plan."""
    return msgspec.json.format(msgspec.json.encode(plan), indent=2) + b"\n"


def schema() -> dict[str, Any]:
    """JSON Schema of a plan."""
    return msgspec.json.schema(Plan)
