"""Checks a plan against the departures, pads and prices it was made from, from definitions alone.

Shares no code with the planner: it reads the plan's JSON and counts minutes itself.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from itertools import pairwise
from math import inf, isnan

from advisor.quantities import TREATMENT_CATEGORIES
from advisor.slots.demand import Need
from advisor.slots.files.actuals import Actual
from advisor.slots.files.holdover import Holdover
from advisor.slots.files.pads import Pads
from advisor.slots.result import Plan, to_json


def unix(stamp: str | None) -> int | None:
    return None if stamp is None else int(datetime.fromisoformat(stamp).timestamp())


def held_for(need: Need, table: Holdover | None, begun: int, take_off: int) -> float:
    """Lowest minutes of the table over the samples around begun to take-off; NaN: no row, inf: nothing falls."""
    if table is None:
        return inf
    grid = [int(moment) for moment in need.conditions.unix_s]
    first = max([at for at, moment in enumerate(grid) if moment <= begun], default=0)
    last = min([at for at, moment in enumerate(grid) if moment >= take_off], default=len(grid) - 1)
    least = inf
    for case in range(len(need.conditions.cases)):
        for at in range(first, last + 1):
            name = TREATMENT_CATEGORIES[int(need.conditions.columns["treatment_category"][case, at])]
            air = float(need.conditions.columns["air_temperature_c"][case, at])
            if name == "none":
                continue
            rows = [row.low for row in table.rows if row.category == name and air >= row.from_c]
            if not rows:
                return float("nan")
            least = min(least, min(rows))
    return least


def take_off_of(need: Need, place: str, start: int, engines_min: int = 0) -> int:
    end = start + 60 * (need.treatment_min + engines_min)
    row = need.row
    if place == "remote":
        off = end + 60 * need.to_runway_min
    else:
        off = max(end, row.off_block) + 60 * (need.to_pad_min + need.to_runway_min)
    return max(off, row.take_off_from or 0)


def engines_of(pad: object, pads: Pads) -> int:
    """Minutes that shutting down and starting adds on a pad."""
    return pads.treatment.engines_off_min if pad.engines == "off" else 0  # type: ignore[attr-defined]


def first_start(need: Need, place: str, now: int, lead_min: int) -> int:
    row = need.row
    if place == "remote":
        return max(now, max(row.off_block, row.ready or 0, now) + 60 * need.to_pad_min)
    return max(now, row.ready if row.ready is not None else row.off_block - 60 * lead_min)


def there(need: Need, told: Actual | None, place: str, now: int, lead_min: int) -> int:
    """The first start by what has happened: where it waits already, where it has left its stand, else as planned."""
    if told is not None and told.at_pad is not None:
        return max(now, told.at_pad)
    if told is not None and told.off is not None:
        return max(now, told.off + 60 * need.to_pad_min)
    return first_start(need, place, now, lead_min)


def fits(need: Need, pad: object, now: int = 0) -> bool:
    return need.row.place in ("", pad.place) and (pad.size == "any" or need.profile.size == "small")  # type: ignore[attr-defined]


def open_for(need: Need, pad: object, pads: Pads, start: int) -> bool:
    """Whether a pad is open for the whole of a treatment."""
    end = start + 60 * need.treatment_min
    if (pad.from_s is not None and start < pad.from_s) or (pad.until_s is not None and end > pad.until_s):  # type: ignore[attr-defined]
        return False
    return all(end <= shut.from_s or start >= shut.until_s for shut in pads.closures if pad.name in shut.pads)  # type: ignore[attr-defined]


def cost_of(
    need: Need,
    pads: Pads,
    table: Holdover | None,
    place: str,
    start: int,
    now: int,
    best: int,
    engines_min: int = 0,
    take_off: int | None = None,
) -> float:
    """The price of a start, from the definitions in the pads file's comments; take_off: where the runway holds it."""
    price = pads.cost
    take_off = take_off_of(need, place, start, engines_min) if take_off is None else take_off
    wait = (take_off - best) / 60
    cost = getattr(price, need.profile.size) * (wait + price.late * max(0.0, wait - price.late_after_min))
    until = need.row.take_off_until
    if until is not None and take_off > until:
        cost += price.missed_window + price.missed_minute * (take_off - until) / 60
    begun = start + 60 * (need.removal_min if need.anti_icing_min else 0)
    held = held_for(need, table, begun, take_off)
    if isnan(held):
        cost += max(price.no_guideline, price.broken_holdover)
    elif held * 60 < take_off - begun:
        cost += price.broken_holdover
    return cost * (1.0 if need.status == "expected" else pads.margin.possible_share)


def best_take_off(need: Need, pads: Pads, now: int, begin: int) -> int:
    """The earliest take-off that the departure's own times allow at any pad that takes it."""
    found = [
        take_off_of(
            need,
            pad.place,
            max(begin, first_start(need, pad.place, now, pads.treatment.stand_lead_min)),
            engines_of(pad, pads),
        )
        for pad in pads.pads
        if fits(need, pad)
    ]
    return min(found)


def longest_row(spans: list[tuple[int, int]], pause: int) -> int:
    """How many treatments at most follow each other without a pause that long."""
    most, row, end = 0, 0, -(10**12)
    for first, last in sorted(spans):
        row = 1 if first - end >= pause else row + 1
        end, most = max(end, last), max(most, row)
    return most


def told_by_facts(actuals: Mapping[str, Actual], pads: Pads) -> set[str]:
    """Pads on which what has happened already has had more in a row than they should: no plan can undo that."""
    found = set()
    for pad in pads.pads:
        spans = [
            (one.begun, (one.finished or one.begun + 60) + 60 * pads.treatment.clear_min)
            for one in actuals.values()
            if one.begun is not None and one.truck == pad.name
        ]
        if pad.refill_after and longest_row(spans, 60 * pad.refill_min) > pad.refill_after:
            found.add(pad.name)
    return found


def validate(
    plan: Plan,
    needs: list[Need],
    pads: Pads,
    table: Holdover | None = None,
    *,
    now: int,
    previous: Plan | None = None,
    reserve_all: bool = False,
    actuals: Mapping[str, Actual] | None = None,
) -> None:
    """Raise AssertionError for the first thing that is wrong with a plan."""
    actuals = actuals or {}
    data = json.loads(to_json(plan))
    assert data["schema"] == "plan/1"
    by_flight = {need.row.flight: need for need in needs}
    assert sorted(one["flight"] for one in data["departures"]) == sorted(by_flight), "a flight is lost or doubled"
    named = {pad.name: pad for pad in pads.pads}
    unplanned = {one["flight"] for one in data["unplanned"]}
    busy: dict[str, list[tuple[int, int, str]]] = {name: [] for name in named}
    before = {} if previous is None else {one.flight: one for one in previous.departures}
    freeze = now + 60 * pads.margin.freeze_min
    begin = now if previous is None or actuals else freeze
    spacing = pads.runway.spacing_s
    rows: dict[str, list[tuple[int, int]]] = {name: [] for name in named}
    total = 0.0
    for one in data["departures"]:
        need = by_flight[one["flight"]]
        start, end = unix(one["start"]), unix(one["end"])
        take_off = unix(one["take_off"])
        told = actuals.get(one["flight"])
        assert one["state"] == ("" if told is None else told.state), "what has happened"
        if told is not None and told.departed is not None:
            assert start is None and one["pad"] is None and take_off == told.departed, "gone"
            assert one["flight"] not in unplanned
            if told.begun is not None and told.truck:
                end = told.finished or told.departed
                rows[told.truck].append((told.begun, end + 60 * pads.treatment.clear_min))
            continue
        if told is not None and told.begun is not None and one["frozen"]:
            assert (one["pad"], start) == (told.truck, told.begun), "begun elsewhere or at another time"
            assert told.finished is None or end == max(told.begun + 60, -(-told.finished // 60) * 60), "finished"
            busy[told.truck].append((start, end + 60 * pads.treatment.clear_min, one["flight"]))
            rows[told.truck].append((start, end + 60 * pads.treatment.clear_min))
            continue
        if need.status == "not indicated":
            late = take_off - max(
                need.earliest + 60 * (need.to_pad_min + need.to_runway_min), need.row.take_off_from or 0
            )
            assert late >= 0 and (spacing or not late), "off before it is there"
            assert one["pad"] is None and start is None and one["need"] == "not indicated" and one["reason"]
            assert one["flight"] not in unplanned
            continue
        assert (start is None) == (one["flight"] in unplanned), "unplanned and without a slot are the same"
        share = 1.0 if need.status == "expected" else pads.margin.possible_share
        if start is None:
            assert one["pad"] is None and take_off is None
            total += pads.cost.unplanned * max(share, 0.05)
            continue
        pad = named[one["pad"]]
        assert fits(need, pad), "size or place"
        assert end == start + 60 * need.treatment_min, "duration"
        assert start >= there(need, told, pad.place, 0 if one["frozen"] else now, pads.treatment.stand_lead_min), (
            "starts before it is there"
        )
        assert pad.from_s is None or start >= pad.from_s, "before the pad opens"
        assert pad.until_s is None or end <= pad.until_s, "after the pad closes"
        for shut in pads.closures:
            if pad.name in shut.pads:
                assert end <= shut.from_s or start >= shut.until_s, "while the pad is shut"
        ready = take_off_of(need, pad.place, start, engines_of(pad, pads))
        assert take_off is not None and take_off >= ready and (spacing or take_off == ready), "take-off"
        assert one["runway_wait_min"] == -(-(take_off - ready) // 60), "wait for the runway"
        assert one["not_before"] is None or unix(one["not_before"]) <= start, "starts before it is called"
        rows[pad.name].append((start, end + 60 * (pads.treatment.clear_min + engines_of(pad, pads))))
        begun = unix(one["last_step_start"])
        assert begun == start + 60 * (need.removal_min if need.anti_icing_min else 0), "last step"
        assert begun is not None and take_off is not None
        held = held_for(need, table, begun, take_off)
        if table is None or isnan(held) or held == inf:
            assert one["holdover_min"] is None and one["holdover_left_min"] is None and one["holdover_note"]
        else:
            assert one["holdover_min"] == held, "holdover"
            assert one["holdover_left_min"] == held - -(-(take_off - begun) // 60), "holdover left"
            assert one["holdover_broken"] == (held * 60 < take_off - begun)
        until = need.row.take_off_until
        assert one["window_missed"] == (until is not None and take_off > until), "window"
        planned = max(need.row.off_block + 60 * need.row.taxi_min, need.row.take_off_from or 0)
        assert one["delay_min"] == -(-max(0, take_off - planned) // 60), "delay"
        call = unix(one["latest_call"])
        assert call is not None and call <= start and call <= need.row.off_block, "latest call"
        busy[pad.name].append((start, end + 60 * (pads.treatment.clear_min + engines_of(pad, pads)), one["flight"]))
        old = before.get(one["flight"])
        if one["frozen"]:
            assert old is not None and old.pad == one["pad"] and unix(old.start) == start and start <= freeze, "frozen"
        else:
            assert start >= begin, "nothing new begins before the freeze ends"
            best = best_take_off(need, pads, now, begin)
            total += cost_of(need, pads, table, pad.place, start, now, best, engines_of(pad, pads), take_off)
            if old is not None and old.start is not None and unix(old.start) > freeze:
                shift = abs(start - unix(old.start)) / 60
                total += pads.cost.changed_pad if old.pad != one["pad"] else 0.0
                total += pads.cost.changed if shift >= max(1, pads.margin.shift_min) else 0.0
                total += pads.cost.changed_minute * shift
    sharing = 1 if reserve_all else int(1 / max(0.05, pads.margin.possible_share + pads.margin.extra) + 1e-9) or 1
    for name, spans in busy.items():
        for start, end, flight in spans:
            others = [span for span in spans if span[2] != flight and span[0] < end and start < span[1]]
            if by_flight[flight].status == "expected":
                assert not others, f"{name}: {flight} overlaps {others}"
            inside = [other for other in others if other[0] <= start < other[1]]
            assert len(inside) + 1 <= sharing or not inside, f"{name}: too many share with {flight}"
            assert all(by_flight[other[2]].status != "expected" for other in others)
    for name, treated in rows.items():
        pad = named[name]
        if pad.refill_after and pad.refill_min and name not in told_by_facts(actuals, pads):
            assert longest_row(treated, 60 * pad.refill_min) <= pad.refill_after, f"{name} does not fill up"
    if spacing:
        off = sorted((unix(one["take_off"]), one["flight"]) for one in data["departures"] if one["take_off"])
        for (first, one_flight), (second, other) in pairwise(off):
            both_gone = all(flight in actuals and actuals[flight].departed for flight in (one_flight, other))
            assert second - first >= spacing or both_gone, f"{one_flight} and {other} share the runway"
    if not actuals and not any(one["frozen"] for one in data["departures"]):
        assert abs(data["objective"] - total) < 1e-6, f"objective {data['objective']} is not {total}"
    assert data["bound"] <= data["objective"] + 1e-6
    if data["objective"] > 0:
        assert abs(data["gap"] - (data["objective"] - data["bound"]) / data["objective"]) < 1e-6
    else:
        assert data["gap"] == 0
