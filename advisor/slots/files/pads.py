"""Reads pads.toml: the pads and trucks, how long treatment takes, margins, stops, closures and prices."""

from __future__ import annotations

from datetime import date, datetime, time
from math import nan
from pathlib import Path
from typing import Annotated, Any, Literal, TypeVar

import msgspec
from msgspec import Meta

from advisor.checklist.rules import FilePart, Line
from advisor.checklist.toml.files import Document, Fault, raise_faults, read_file
from advisor.departure import read_at_or_after, read_at_or_before
from advisor.errors import DepartureError
from advisor.quantities import read_quantity
from advisor.slots.files.schedule import MOST_FAULTS

Model = TypeVar("Model")
Whole = Annotated[int, Meta(ge=0, le=240, description="whole minutes from 0 to 240")]
Least = Annotated[int, Meta(ge=1, le=240, description="whole minutes from 1 to 240")]
Price = Annotated[float, Meta(ge=0, le=100_000, description="a number from 0 to 100,000")]
Share = Annotated[float, Meta(ge=0, le=1, description="a number from 0 to 1")]
Factor = Annotated[float, Meta(ge=1, le=5, description="a number from 1 to 5")]
Limit = Annotated[str | float, Meta(description='a number in knots, or a text such as "18 m/s"')]
Size = Literal["small", "medium", "large"]
KINDS = ("frost", "snow", "ice")


class PadRow(FilePart, frozen=True, rename={"from_": "from"}):
    """One `[[pad]]`: size "small" takes the small class only; place "stand" is a truck that comes to the aircraft.

    from, until: hours, RFC 3339 or HH:MMZ; open all the time where not given. wind_limit: in knots. engines: whether
    they run during treatment; shut down and started again they hold the pad for longer. refill_after: treatments after
    which it fills up for refill_min at the latest (sooner where it stands idle for so long), 0 for never. A crew's
    hours are from and until, its breaks a [[closure]].
    """

    name: Line
    size: Literal["small", "any"] = "any"
    from_: str | None = None
    until: str | None = None
    place: Literal["remote", "stand"] = "remote"
    wind_limit: Limit | None = None
    engines: Literal["running", "off"] = "running"
    refill_after: Annotated[int, Meta(ge=0, le=200, description="a whole number from 0 to 200")] = 0
    refill_min: Whole = 15


class Minutes(FilePart, frozen=True):
    """Minutes of one size class: of taking off frost, snow or ice, and of the anti-icing step after it."""

    frost: Least
    snow: Least
    ice: Least
    anti_icing: Least


class Treatment(FilePart, frozen=True):
    """`[treatment]`: minutes by size class and contamination; clear_min between two aircraft on one pad.

    stand_lead_min: a truck may begin at a stand so long before off-block where `ready` is not given (common practice
    10 to 20). engines_off_min: what shutting down and starting adds on a pad with engines = "off".
    fluid, dilution: which rows of the holdover file hold; the file's own where not given.
    """

    small: Minutes = Minutes(4, 6, 9, 3)
    medium: Minutes = Minutes(6, 9, 13, 4)
    large: Minutes = Minutes(9, 14, 20, 6)
    clear_min: Whole = 2
    stand_lead_min: Whole = 15
    engines_off_min: Whole = 5
    fluid: Line | None = None
    dilution: Line | None = None


class Snow(FilePart, frozen=True):
    """`[snow]`: treatment grows by minutes for each mm of water that has fallen, taxi by a factor while it falls."""

    min_per_mm: Annotated[float, Meta(ge=0, le=30, description="minutes from 0 to 30")] = 1.5
    most_min: Whole = 8
    taxi_light: Factor = 1.1
    taxi_moderate: Factor = 1.3
    taxi_heavy: Factor = 1.6


class Margin(FilePart, frozen=True):
    """`[margin]`: what a treatment that is only possible reserves of a resource, and how far ahead nothing moves.

    possible_share: of those possible, how many come to be needed; extra: added to it; likely_share: the same of what
    is likely, which reserves a resource whole. freeze_min: what begins within it does not change in a later plan.
    shift_min: a start that moves by less is no change, and nobody is told. delay_min: need is looked for this much
    beyond the usual take-off.
    """

    possible_share: Share = 0.4
    likely_share: Share = 0.8
    extra: Share = 0.1
    freeze_min: Whole = 10
    shift_min: Whole = 5
    delay_min: Whole = 20

    @property
    def load(self) -> float:
        """Part of a resource that a possible treatment reserves: as many share one as the share and margin allow."""
        return 1.0 / self.sharing

    @property
    def sharing(self) -> int:
        """How many possible treatments may hold one resource at the same time."""
        return max(1, min(20, int(1.0 / max(0.05, self.possible_share + self.extra) + 1e-9)))


class Stops(FilePart, frozen=True):
    """`[stops]`: when pads close by themselves: gusts above a limit, lightning and the minutes after it."""

    wind_limit: Limit | None = None
    lightning: bool = True
    after_lightning_min: Whole = 30


class ClosureRow(FilePart, frozen=True, rename={"from_": "from"}):
    """One `[[closure]]` by hand. pads: names, all of them where not given."""

    from_: str
    until: str
    why: Line
    pads: tuple[Line, ...] = ()


class Cost(FilePart, frozen=True):
    """`[cost]`: prices in minutes of waiting of a medium aircraft, which is 1 each.

    late_after_min: from there each minute costs late more. missed_window: a take-off after its window, and each
    minute of it; broken_holdover: holdover that ends before take-off; no_guideline: a take-off without a guideline, at
    least a broken holdover; unplanned: a treatment without a slot; changed: a start that moves by shift_min or
    more from that of the previous plan, each minute that it moves, and another pad.
    """

    small: Price = 0.5
    medium: Price = 1.0
    large: Price = 2.0
    late_after_min: Whole = 30
    late: Price = 1.0
    missed_window: Price = 60.0
    missed_minute: Price = 1.0
    broken_holdover: Price = 90.0
    no_guideline: Price = 120.0
    unplanned: Price = 1500.0
    changed: Price = 4.0
    changed_minute: Price = 0.25
    changed_pad: Price = 2.0

    @property
    def without_guideline(self) -> float:
        """Price of a take-off for which no holdover can be given: never under that of a broken holdover."""
        return max(self.no_guideline, self.broken_holdover)


class Noise(FilePart, frozen=True):
    """`[noise]`: how a night differs from its plan; ours, to be replaced from the operator's own record.

    off_block_late_min, off_block_spread_min: mean and standard deviation of how late off-block is, never early;
    taxi_spread, treatment_spread: standard deviation of the ways and of treatment, as a share of them; common_cause:
    how often one cause decides for all departures together whether a possible treatment is needed; adverse_share: how
    often the night is one of the adverse cases; group_share: how often a temporary group without a stated probability
    comes about.
    """

    off_block_late_min: Annotated[float, Meta(ge=0, le=60, description="minutes from 0 to 60")] = 3.0
    off_block_spread_min: Annotated[float, Meta(ge=0, le=60, description="minutes from 0 to 60")] = 5.0
    taxi_spread: Share = 0.15
    treatment_spread: Share = 0.2
    common_cause: Share = 0.8
    adverse_share: Share = 0.4
    group_share: Share = 0.4


class Runway(FilePart, frozen=True):
    """`[runway]`: seconds between two take-offs, and most take-offs in a quarter of an hour; 0 for no such limit."""

    separation_s: Annotated[int, Meta(ge=0, le=900, description="whole seconds from 0 to 900")] = 0
    quarter_capacity: Annotated[int, Meta(ge=0, le=60, description="a whole number from 0 to 60")] = 0

    @property
    def spacing_s(self) -> int:
        """Seconds between two take-offs that hold both limits."""
        return max(self.separation_s, -(-900 // self.quarter_capacity) if self.quarter_capacity else 0)


class PadsFile(FilePart, frozen=True):
    """A pads file. place: location indicator or "LAT,LON" of the apron; holdover: name of a file beside this one."""

    pad: tuple[PadRow, ...]
    treatment: Treatment = Treatment()
    snow: Snow = Snow()
    margin: Margin = Margin()
    stops: Stops = Stops()
    cost: Cost = Cost()
    noise: Noise = Noise()
    runway: Runway = Runway()
    closure: tuple[ClosureRow, ...] = ()
    holdover: Line | None = None
    place: Line | None = None
    note: Line | None = None


class Pad(msgspec.Struct, frozen=True):
    """A pad or truck as read: hours in seconds since 1970 UTC, None where open; wind limit in knots, NaN for none."""

    name: str
    size: str
    place: str
    from_s: int | None
    until_s: int | None
    wind_limit_kt: float
    engines: str = "running"
    refill_after: int = 0
    refill_min: int = 0

    @property
    def kind(self) -> str:
        """Pads of one kind mean the same times for a departure: where they are, and whether engines run."""
        return self.place if self.engines == "running" else f"{self.place}, engines off"


class Closure(msgspec.Struct, frozen=True):
    """When something is shut, seconds since 1970 UTC. pads: names; open_end: nobody knows when it opens again, and
    until_s is only how far was looked.
    """

    pads: tuple[str, ...]
    from_s: int
    until_s: int
    why: str
    open_end: bool = False


class Pads(msgspec.Struct, frozen=True):
    """A pads file as read. holdover: path of the holdover file, None for none."""

    file: str
    pads: tuple[Pad, ...]
    closures: tuple[Closure, ...]
    treatment: Treatment
    snow: Snow
    margin: Margin
    stops: Stops
    cost: Cost
    holdover: Path | None
    place: str | None
    note: str = ""
    noise: Noise = Noise()
    runway: Runway = Runway()


def load(path: Path, now: int) -> Pads:
    """The pads of a file. now: seconds since 1970 UTC, hours such as 04:00Z are those around it.

    Raises ChecklistError with every fault, "file:line:column: field: what; what would be right".
    """
    faults: list[Fault] = []
    document = read_file(path, faults)
    pads_file = None if document is None else model_of(document, PadsFile, faults)
    pads: list[Pad] = []
    closures: list[Closure] = []
    if pads_file is not None and document is not None:
        pads = _pads(document.file, pads_file, now, faults)
        closures = _closures(document.file, pads_file, now, faults)
    raise_faults((faults, [document] if document else []), most=MOST_FAULTS)
    assert pads_file is not None
    return Pads(
        str(path),
        tuple(pads),
        tuple(closures),
        pads_file.treatment,
        pads_file.snow,
        pads_file.margin,
        pads_file.stops,
        pads_file.cost,
        None if pads_file.holdover is None else path.parent / pads_file.holdover,
        pads_file.place,
        pads_file.note or "",
        pads_file.noise,
        pads_file.runway,
    )


def model_of(document: Document, model: type[Model], faults: list[Fault]) -> Model | None:
    """What a file says, as a model; None and its faults where it does not fit. Times may be bare or quoted."""
    if document.data is None:
        return None
    data = _as_text(document.data)
    try:
        return msgspec.convert(data, model)
    except msgspec.ValidationError as error:
        from advisor.checklist.toml.faults import field_faults

        found = list(field_faults(document.file, data, model))
        faults.extend(found or [Fault(document.file, (), str(error), "compare it with the example")])
        return None


def _as_text(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _as_text(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_as_text(inner) for inner in value]
    return value.isoformat() if isinstance(value, (date, datetime, time)) else value


def _pads(file: str, pads_file: PadsFile, now: int, faults: list[Fault]) -> list[Pad]:
    if not pads_file.pad:
        faults.append(Fault(file, ("pad",), "no pads", "give a [[pad]] for each"))
    pads: list[Pad] = []
    default = _knots(file, pads_file.stops.wind_limit, ("stops", "wind_limit"), faults)
    for number, row in enumerate(pads_file.pad):
        path = ("pad", number)
        if row.name in [pad.name for pad in pads]:
            faults.append(Fault(file, (*path, "name"), f"a second pad {row.name!r}", "choose another name"))
        until = _time(file, row.until, now, (*path, "until"), faults, after=True)
        from_ = _time(file, row.from_, now if until is None else until, (*path, "from"), faults, after=False)
        if from_ is not None and until is not None and from_ >= until:
            faults.append(Fault(file, (*path, "until"), "lies at or before from", "give the earlier time first"))
        limit = _knots(file, row.wind_limit, (*path, "wind_limit"), faults)
        limit = default if row.wind_limit is None else limit
        pads.append(
            Pad(row.name, row.size, row.place, from_, until, limit, row.engines, row.refill_after, row.refill_min)
        )
    return pads


def _closures(file: str, pads_file: PadsFile, now: int, faults: list[Fault]) -> list[Closure]:
    known = tuple(row.name for row in pads_file.pad)
    closures = []
    for at, row in enumerate(pads_file.closure):
        path = ("closure", at)
        for number, name in enumerate(row.pads):
            if name not in known:
                faults.append(
                    Fault(file, (*path, "pads", number), f"no pad {name!r}", f"give names of {', '.join(known)}")
                )
        until = _time(file, row.until, now, (*path, "until"), faults, after=True)
        from_ = _time(file, row.from_, now if until is None else until, (*path, "from"), faults, after=False)
        if from_ is None or until is None:
            continue
        if from_ >= until:
            faults.append(Fault(file, (*path, "until"), "lies at or before from", "give the earlier time first"))
        closures.append(Closure(row.pads or known, from_, until, row.why))
    return closures


def _time(
    file: str, text: str | None, near: int, path: tuple[str | int, ...], faults: list[Fault], *, after: bool
) -> int | None:
    if text is None:
        return None
    try:
        return (read_at_or_after if after else read_at_or_before)(text, near, what="")
    except DepartureError as error:
        faults.append(Fault(file, path, error.what, error.hint))
        return None


def _knots(file: str, value: str | float | None, path: tuple[str | int, ...], faults: list[Fault]) -> float:
    if value is None:
        return nan
    try:
        limit_kt = read_quantity(value, "knot")
    except ValueError as error:
        faults.append(Fault(file, path, str(error), 'write a number in knots, or a text such as "18 m/s"'))
        return nan
    if not 1 <= limit_kt <= 200:
        faults.append(Fault(file, path, f"{limit_kt:g} knots is out of range", "1 to 200 is possible"))
    return limit_kt


def pads_schema() -> dict[str, Any]:
    """JSON Schema of a pads file."""
    return msgspec.json.schema(PadsFile)
