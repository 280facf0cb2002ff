"""Lays what has happened over what was planned: who is gone, treated, under way, at its pad or off its stand. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from math import isfinite

from advisor.departure import from_unix
from advisor.slots.build import Held, Wish
from advisor.slots.demand import Need
from advisor.slots.files.actuals import Actual
from advisor.slots.files.holdover import Holdover
from advisor.slots.files.pads import Pads
from advisor.slots.limits import limits
from advisor.slots.replan import Before, pad_name

SPAN_MIN = 12 * 60


def applied(
    before: Before, needs: Sequence[Need], actuals: Mapping[str, Actual], pads: Pads, table: Holdover | None, now: int
) -> Before:
    """The previous plan, or none, with what has happened: that goes before what was planned.

    needs: as looked at now. Treatment under way or finished is held where and when it was; a flight that is gone needs
    nothing more; one whose holdover has run out is treated again.
    """
    actuals = _one_after_another(actuals, 60 * pads.treatment.clear_min)
    planned = {need.row.flight: need for need in before.needs}
    begun = {
        need.row.flight: _begun(before, need, actuals[need.row.flight], pads, table, now)
        for need in needs
        if need.row.flight in actuals and actuals[need.row.flight].state in ("under way", "treated")
    }
    busy = _busy(before, begun, pads)
    needs_now = []
    for need in needs:
        flight = need.row.flight
        actual = actuals.get(flight, Actual(flight))
        if actual.departed is not None:
            _forget(before, flight)
            needs_now.append(replace(need, steps=0, removal_min=0, anti_icing_min=0))
        elif flight in begun:
            needs_now.append(begun[flight])
        else:
            needs_now.append(_not_begun(before, need, planned.get(flight, need), actual, busy, pads, now))
    before.needs = tuple(needs_now)
    before.same = before.same and not actuals
    return before


def done_by_pad(actuals: Mapping[str, Actual], pads: Pads) -> dict[str, tuple[tuple[int, int], ...]]:
    """When those that are gone were treated on each pad, seconds since 1970 UTC, clearing included."""
    spans_by_pad: dict[str, list[tuple[int, int]]] = {}
    for actual in _one_after_another(actuals, 60 * pads.treatment.clear_min).values():
        if actual.departed is not None and actual.begun is not None and actual.truck:
            end = actual.departed if actual.finished is None else actual.finished
            spans_by_pad.setdefault(actual.truck, []).append((actual.begun, end + 60 * pads.treatment.clear_min))
    return {name: tuple(sorted(spans)) for name, spans in spans_by_pad.items()}


def _one_after_another(actuals: Mapping[str, Actual], clear_s: int) -> Mapping[str, Actual]:
    """What has happened, with each treatment over when the next one began on the same pad or with the same truck.

    Whoever is at work there has finished with the one before, whether that was reported or not. clear_s: between two.
    """
    corrected = dict(actuals)
    by_truck: dict[str, list[Actual]] = {}
    for actual in sorted((one for one in actuals.values() if one.begun is not None), key=lambda one: one.begun or 0):
        by_truck.setdefault(actual.truck, []).append(actual)
    for truck, turns in by_truck.items():
        for earlier, later in pairwise(turns):
            assert earlier.begun is not None and later.begun is not None
            # nobody is treated after taking off, however much later the next one comes
            over = later.begun - clear_s if earlier.departed is None else min(earlier.departed, later.begun - clear_s)
            latest = max(earlier.begun + 60, over)
            if truck and (earlier.finished is None or earlier.finished > latest):
                corrected[earlier.flight] = replace(earlier, finished=latest)
    return corrected


def _busy(before: Before, begun: Mapping[str, Need], pads: Pads) -> dict[str, int]:
    """Until when each pad is taken by what has begun on it."""
    busy: dict[str, int] = {}
    for flight, need in begun.items():
        held = before.held.get(flight)
        if held is not None:
            end = held.start_s + 60 * (need.treatment_min + pads.treatment.clear_min)
            busy[held.pad] = max(end, busy.get(held.pad, 0))
    return busy


def _forget(before: Before, flight: str) -> None:
    before.held.pop(flight, None)
    before.wishes.pop(flight, None)
    before.again.pop(flight, None)


def _begun(before: Before, need: Need, actual: Actual, pads: Pads, table: Holdover | None, now: int) -> Need:
    """Under way or treated: held at its own times; treated again where its holdover has run out."""
    assert actual.begun is not None
    flight = need.row.flight
    _forget(before, flight)
    steps = need if need.steps else replace(need, steps=1, removal_min=_usual(need, pads))
    if actual.finished is not None:
        whole = max(1, -(-(actual.finished - actual.begun) // 60))
        treated = _lasting(steps, whole)
        over = _ran_out(treated, actual, pads, table, now)
        if over is not None:
            before.again[flight] = f"holdover ran out at {from_unix(over):%H%MZ}: to be treated again"
            return _back(steps, now)
    else:
        # not done when it should have been: it goes on for at least another minute
        treated = _lasting(steps, max(steps.treatment_min, (now - actual.begun) // 60 + 1))
    before.held[flight] = Held(actual.truck, actual.begun)
    # what has begun is no longer only possible: it shares its pad with nobody
    return replace(treated, status="expected", left_stand=True)


def _usual(need: Need, pads: Pads) -> int:
    return int(getattr(pads.treatment, need.profile.size).frost)


def _lasting(need: Need, whole: int) -> Need:
    """The need with so many minutes on the pad, its last step as long as usual where that fits."""
    last = min(need.anti_icing_min, whole - 1) if need.anti_icing_min else 0
    return replace(need, removal_min=whole - last, anti_icing_min=last, deposit=need.deposit or "unknown")


def _back(need: Need, now: int) -> Need:
    """On its way back from the runway for the whole treatment."""
    row = replace(need.row, place="remote")
    return replace(need, row=row, earliest=now, to_pad_min=need.to_runway_min, left_stand=True)


def _ran_out(need: Need, actual: Actual, pads: Pads, table: Holdover | None, now: int) -> int | None:
    """When the holdover of a treated flight ran out, None while it may still take off within it."""
    if table is None or actual.begun is None or actual.finished is None:
        return None
    last_step = actual.begun + 60 * (need.removal_min if need.anti_icing_min else 0)
    gone = max(now, actual.finished + 60 * need.to_runway_min, need.row.take_off_from or 0)
    base_s = last_step - last_step % 60
    minutes = float(limits(need.conditions, table, base_s, SPAN_MIN).over(0, (gone - base_s) // 60))
    if not isfinite(minutes) or last_step + 60 * minutes >= gone:
        return None
    return int(last_step + 60 * minutes)


def _not_begun(
    before: Before, need: Need, planned: Need, actual: Actual, busy: Mapping[str, int], pads: Pads, now: int
) -> Need:
    """Nothing was begun: a slot that has passed is only a wish, and where the aircraft is now counts."""
    flight = need.row.flight
    where = need
    if actual.at_pad is not None:
        where = replace(
            need, row=replace(need.row, place="remote"), earliest=actual.at_pad, to_pad_min=0, left_stand=True
        )
    elif actual.off is not None:
        where = replace(need, row=replace(need.row, place="remote"), earliest=actual.off, left_stand=True)
    held = before.held.get(flight)
    if held is None:
        return where
    there = where.earliest + 60 * where.to_pad_min
    on_stand = any(pad.name == held.pad and pad.place == "stand" for pad in pads.pads)
    if on_stand and not where.left_stand:
        # a truck comes to it before it leaves
        row = need.row
        there = row.off_block - 60 * pads.treatment.stand_lead_min if row.ready is None else row.ready
    taken = busy.get(held.pad, 0) > held.start_s
    gone = on_stand and where.left_stand
    if held.start_s > now and there <= held.start_s and not taken and not gone:
        return planned if actual.state == "" else where
    del before.held[flight]
    if where.steps:
        slot = f"{from_unix(held.start_s):%H%MZ}"
        why = f"{pad_name(held.pad)} is still taken at {slot}" if taken else f"not begun at {slot} as planned"
        if gone:
            why = f"it has left its stand, where {held.pad} was to come"
        elif held.start_s > now and not taken:
            why = f"it cannot be there at {slot}"
        if not gone:
            before.wishes[flight] = Wish(held.pad, held.start_s)
        before.again.setdefault(flight, why)
    return where
