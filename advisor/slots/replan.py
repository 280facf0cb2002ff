"""What a previous plan leaves open: what is frozen, where the others stood, what is treated again. Pure but `read`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import nan
from pathlib import Path

import msgspec
from msgspec import structs

from advisor.departure import hhmm, read_moment, stamp, to_unix
from advisor.errors import DepartureError
from advisor.slots.build import Held, Wish
from advisor.slots.demand import DEPOSITS, Need
from advisor.slots.files.pads import Closure, Pad, Pads
from advisor.slots.result import DepartureOut, Plan

MOST_BYTES = 50_000_000
SAME_BANK_S = 24 * 3600
FORGOTTEN_S = 12 * 3600
LONGEST_S = 8 * 3600


@dataclass(slots=True)
class Before:
    """A previous plan against the new schedule.

    needs: of the new schedule, those that are frozen with the minutes they were planned with; held, wishes: by
    flight; again: flight to why it has to be treated again; gone: flights that left the schedule; old: by flight;
    same: nothing is new, only the clock moved; lost_pads: no longer listed, kept for what was treated on them.
    """

    needs: tuple[Need, ...]
    held: dict[str, Held] = field(default_factory=dict)
    wishes: dict[str, Wish] = field(default_factory=dict)
    again: dict[str, str] = field(default_factory=dict)
    gone: tuple[str, ...] = ()
    old: Mapping[str, DepartureOut] = field(default_factory=dict)
    same: bool = False
    lost_pads: tuple[Pad, ...] = ()


def read(path: Path) -> Plan:
    """A plan written before. Raises DepartureError for anything else."""
    hint = "give a file written by advisor slots --format json"
    try:
        with path.open("rb") as stream:
            raw = stream.read(MOST_BYTES + 1)
        if len(raw) > MOST_BYTES:
            raise DepartureError("is too large for a plan", where=f"previous: {path}", hint=hint)
        return msgspec.json.decode(raw, type=Plan)
    except OSError as error:
        raise DepartureError(error.strerror or "cannot be read", where=f"previous: {path}", hint=hint) from None
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as error:
        raise DepartureError(f"is not a plan ({error})", where=f"previous: {path}", hint=hint) from None


def seconds(text: str) -> int:
    """Seconds since 1970 UTC of a plan's time."""
    return to_unix(read_moment(text, what="previous"), what="previous")


def compare(previous: Plan, needs: Sequence[Need], pads: Pads, closures: Sequence[Closure], now: int) -> Before:
    """What of a previous plan holds. Raises DepartureError where it is of another schedule, or made after now."""
    if seconds(previous.now) > now:
        raise DepartureError(
            f"was made for {previous.now}, after now", where="previous", hint="give the plan before this one"
        )
    old = {one.flight: one for one in previous.departures}
    rows = {need.row.flight: need.row for need in needs}
    same = [
        flight
        for flight, one in old.items()
        if flight in rows and abs(seconds(one.off_block) - rows[flight].off_block) <= SAME_BANK_S
    ]
    ahead = [flight for flight, one in old.items() if seconds(one.take_off or one.off_block) > now] or list(old)
    if len(same) * 2 < min(len(ahead), len(rows)):
        raise DepartureError(
            f"is of another schedule: {len(same)} of its {len(old)} flights stand in this one",
            where="previous",
            hint="give the last plan of the same departures, or none",
        )
    before = Before(tuple(needs), old=old, gone=tuple(flight for flight in old if flight not in rows))
    freeze = now + pads.margin.freeze_min * 60
    needs_now = []
    for need in needs:
        planned = old.get(need.row.flight)
        if (
            planned is None
            or planned.start is None
            or planned.end is None
            or planned.pad is None
            or need.row.flight not in same
        ):
            needs_now.append(need)
            continue
        start = seconds(planned.start)
        if start > freeze:
            if need.steps:
                before.wishes[planned.flight] = Wish(planned.pad, start)
            needs_now.append(need)
            continue
        why = _lost(need, planned, start, pads, closures, now) or _taken(planned, start, before, pads)
        if why:
            before.again[planned.flight] = why
            needs_now.append(need)
            continue
        before.held[planned.flight] = Held(planned.pad, start)
        needs_now.append(_as_planned(need, planned, start))
    before.needs = tuple(needs_now)
    before.lost_pads = _lost_pads(previous, before, pads)
    before.same = _only_clock_moved(previous, before, needs, pads, closures, now)
    return before


def _lost_pads(previous: Plan, before: Before, pads: Pads) -> tuple[Pad, ...]:
    """Pads of what is held that the file no longer lists: open for nobody else."""
    listed = {pad.name for pad in pads.pads}
    was = {pad.name: pad for pad in previous.pads}
    names = dict.fromkeys(held.pad for held in before.held.values() if held.pad not in listed)
    return tuple(Pad(name, was[name].size, was[name].place, 0, 1, nan) for name in names if name in was)


def _only_clock_moved(
    previous: Plan, before: Before, needs: Sequence[Need], pads: Pads, closures: Sequence[Closure], now: int
) -> bool:
    """Whether departures, needs, pads and closures are what the previous plan was made from."""
    if before.gone or before.again or len(needs) != len(before.old):
        return False
    if [(one.name, one.size, one.place) for one in previous.pads] != [
        (one.name, one.size, one.place) for one in pads.pads
    ]:
        return False
    shut_then = {(one.pads, one.until, one.why) for one in previous.closures if not one.possible}
    shut_now = {(one.pads, stamp(one.until_s), one.why) for one in closures}
    if {one for one in shut_then ^ shut_now if seconds(str(one[1])) > now}:
        return False
    return all(_same(need, before.old.get(need.row.flight)) for need in before.needs)


def _same(need: Need, planned: DepartureOut | None) -> bool:
    row = need.row
    times = (stamp(row.off_block), stamp(row.ready), stamp(row.take_off_from), stamp(row.take_off_until))
    return (
        planned is not None
        and planned.need == need.status
        and (planned.off_block, planned.ready, planned.take_off_from, planned.take_off_until) == times
        and planned.treatment_min == need.treatment_min
    )


def pad_name(name: str) -> str:
    """A pad in a sentence: "pad P1", but a name that says what it is as it stands."""
    return name if name.lower().startswith(("pad ", "truck")) else f"pad {name}"


def _lost(need: Need, planned: DepartureOut, start: int, pads: Pads, closures: Sequence[Closure], now: int) -> str:
    """Why a start that should be frozen cannot be; "" where it can."""
    assert planned.end is not None and planned.pad is not None
    end = seconds(planned.end)
    pad = next((pad for pad in pads.pads if pad.name == planned.pad), None)
    if pad is None and end > now:
        return f"{pad_name(planned.pad)} is no longer listed"
    if not 60 <= end - start <= LONGEST_S or start < now - FORGOTTEN_S:
        return "its slot in the previous plan is too long ago, or not possible"
    there = _there(need, pad, pads.treatment.stand_lead_min)
    planned_for = seconds(planned.ready) if planned.ready is not None else seconds(planned.off_block)
    if there > start and max(need.row.off_block, need.row.ready or 0) > planned_for:
        return f"the slot at {hhmm(start)} is missed: ready later than planned, to be treated again"
    if end > now:
        for closure in closures:
            if planned.pad in closure.pads and closure.from_s < end and closure.until_s > max(now, start):
                return f"{pad_name(planned.pad)} is shut: {closure.why}"
        if pad is not None and pad.until_s is not None and end > pad.until_s:
            return f"{pad_name(planned.pad)} closes before the end"
    if end <= now and planned.holdover_min is not None and planned.last_step_start is not None:
        begun = seconds(planned.last_step_start)
        latest = max(need.row.take_off_from or 0, end + need.to_runway_min * 60)
        if need.row.take_off_from is not None and latest - begun > planned.holdover_min * 60:
            return f"holdover from {hhmm(begun)} runs out before the take-off window: to be treated again"
    return ""


def _there(need: Need, pad: Pad | None, lead_min: int) -> int:
    """When it can have been at its pad: by the way as the schedule gives it, which has not grown since."""
    row = need.row
    if pad is not None and pad.place == "stand":
        return row.off_block - 60 * lead_min if row.ready is None else row.ready
    return max(row.off_block, row.ready or 0) + row.to_pad_min * 60


def _taken(planned: DepartureOut, start: int, before: Before, pads: Pads) -> str:
    """Why a start cannot be frozen beside those that are: more on its pad at once than may be; "" where it can."""
    end = start if planned.end is None else seconds(planned.end)
    beside = 0
    for flight, held in before.held.items():
        other = before.old[flight]
        if held.pad == planned.pad and other.end is not None and held.start_s < end and start < seconds(other.end):
            if "expected" in (planned.need, other.need):
                return f"the previous plan has {flight} on {pad_name(planned.pad)} at the same time"
            beside += 1
    return "the previous plan has too many on its pad at once" if beside >= pads.margin.sharing else ""


def _as_planned(need: Need, planned: DepartureOut, start: int) -> Need:
    """The need with the minutes, steps and deposit with which it was frozen."""
    assert planned.end is not None
    whole = (seconds(planned.end) - start) // 60
    last = 0 if planned.last_step_start is None else (seconds(planned.last_step_start) - start) // 60
    removal = last if planned.steps == 2 and 0 < last < whole else whole
    status = need.status if need.steps else planned.need
    return replace(
        need,
        status=status,
        deposit=planned.deposit if planned.deposit in DEPOSITS else need.deposit or "unknown",
        steps=1 if whole == removal else 2,
        removal_min=removal,
        anti_icing_min=whole - removal,
    )


def with_changes(
    before: Before, departures: Sequence[DepartureOut], closures: Sequence[Closure], shift_min: int
) -> list[DepartureOut]:
    """The departures with what differs from the previous plan and why, and the start that was given out last.

    shift_min: a start that has moved by less from the one given out is no change.
    """
    compared = []
    for new in departures:
        planned = before.old.get(new.flight)
        text = None
        if planned is None:
            text = "new in the schedule" if before.old else None
        elif new.state != "departed":
            text = _changed(before, planned, new, departures, closures, shift_min)
        given = None if planned is None or _moved(planned, new, shift_min) else _given_out(planned, shift_min)
        compared.append(structs.replace(new, changed=text, told=given or new.start))
    return compared


def _moved(planned: DepartureOut, new: DepartureOut, shift_min: int) -> list[str]:
    """Start and pad where they are others than were given out."""
    if new.state in ("under way", "treated"):
        # whoever began it knows when and where
        return []
    given = _given_out(planned, shift_min)
    same = given == new.start or _near(given, new.start, shift_min)
    moved = [] if same else [f"start {_hm(given) or 'none'} -> {_hm(new.start) or 'none'}"]
    return moved + ([] if planned.pad == new.pad else [f"{pad_name(planned.pad or 'none')} -> {new.pad or 'none'}"])


def _given_out(planned: DepartureOut, shift_min: int) -> str | None:
    """The start that was given out last; that of the plan itself where somebody has edited it."""
    return planned.told if _near(planned.told, planned.start, shift_min) else planned.start


def _near(one: str | None, other: str | None, shift_min: int) -> bool:
    return one is not None and other is not None and abs(seconds(one) - seconds(other)) < 60 * shift_min


def _changed(
    before: Before,
    planned: DepartureOut,
    new: DepartureOut,
    departures: Sequence[DepartureOut],
    closures: Sequence[Closure],
    shift_min: int,
) -> str | None:
    parts = []
    if planned.need != new.need and new.state not in ("under way", "treated"):
        parts.append(f"need {planned.need} -> {new.need}")
    if planned.off_block != new.off_block:
        parts.append(f"off-block {_hm(planned.off_block)} -> {_hm(new.off_block)}")
    moved = _moved(planned, new, shift_min)
    if moved:
        why = before.again.get(new.flight) or _because(before, planned, new, departures, closures)
        parts.append(f"{', '.join(moved)} ({why})")
    return "; ".join(parts) or None


def _because(
    before: Before,
    planned: DepartureOut,
    new: DepartureOut,
    departures: Sequence[DepartureOut],
    closures: Sequence[Closure],
) -> str:
    if planned.need != new.need:
        return "the need changed"
    if planned.off_block != new.off_block or planned.ready != new.ready:
        return "its own times changed"
    if planned.start is not None and planned.end is not None:
        for closure in closures:
            if (
                planned.pad in closure.pads
                and closure.from_s < seconds(planned.end)
                and closure.until_s > seconds(planned.start)
            ):
                return f"{pad_name(planned.pad)} is shut: {closure.why}"
    if planned.treatment_min != new.treatment_min:
        return f"treatment takes {new.treatment_min} min, was {planned.treatment_min}"
    if new.start is None:
        return "no room"
    first = _in_the_way(before, planned, new, departures)
    if first is not None:
        return f"{first.flight} is on {pad_name(first.pad or '')} until {_hm(first.end)}"
    if planned.start is not None and new.start < planned.start:
        return "room became free"
    return "to make room for others"


def _in_the_way(
    before: Before, planned: DepartureOut, new: DepartureOut, departures: Sequence[DepartureOut]
) -> DepartureOut | None:
    """Who is on the old pad at the old start, later than was planned for it; None where nobody is."""
    for other in departures:
        if other.flight == new.flight or other.pad != planned.pad or other.start is None or other.end is None:
            continue
        was = before.old.get(other.flight)
        held_longer = was is None or was.end is None or was.pad != other.pad or other.end > was.end
        if held_longer and planned.start is not None and other.start <= planned.start < other.end:
            return other
    return None


def _hm(stamp: str | None) -> str | None:
    return None if stamp is None else f"{stamp[11:13]}{stamp[14:16]}Z"
