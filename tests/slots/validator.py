"""Checks a plan against the departures, pads and prices it was made from, from definitions alone.

Shares no code with the planner: it reads the plan's JSON and counts minutes itself.
"""

from __future__ import annotations

import json
from datetime import datetime
from math import inf, isnan

from advisor.quantities import TREATMENT_CATEGORIES
from advisor.slots.demand import Need
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


def fits(need: Need, pad: object, now: int = 0) -> bool:
    return need.row.place in ("", pad.place) and (pad.size == "any" or need.profile.size == "small")  # type: ignore[attr-defined]


def open_for(need: Need, pad: object, pads: Pads, start: int) -> bool:
    """Whether a pad is open for the whole of a treatment."""
    end = start + 60 * need.treatment_min
    if (pad.from_s is not None and start < pad.from_s) or (pad.until_s is not None and end > pad.until_s):  # type: ignore[attr-defined]
        return False
    return all(end <= shut.from_s or start >= shut.until_s for shut in pads.closures if pad.name in shut.pads)  # type: ignore[attr-defined]


def cost_of(
    need: Need, pads: Pads, table: Holdover | None, place: str, start: int, now: int, best: int, engines_min: int = 0
) -> float:
    """The price of a start, from the definitions in the pads file's comments."""
    price = pads.cost
    take_off = take_off_of(need, place, start, engines_min)
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


def validate(
    plan: Plan,
    needs: list[Need],
    pads: Pads,
    table: Holdover | None = None,
    *,
    now: int,
    previous: Plan | None = None,
    reserve_all: bool = False,
) -> None:
    """Raise AssertionError for the first thing that is wrong with a plan."""
    data = json.loads(to_json(plan))
    assert data["schema"] == "plan/1"
    by_flight = {need.row.flight: need for need in needs}
    assert sorted(one["flight"] for one in data["departures"]) == sorted(by_flight), "a flight is lost or doubled"
    named = {pad.name: pad for pad in pads.pads}
    unplanned = {one["flight"] for one in data["unplanned"]}
    busy: dict[str, list[tuple[int, int, str]]] = {name: [] for name in named}
    before = {} if previous is None else {one.flight: one for one in previous.departures}
    freeze = now + 60 * pads.margin.freeze_min
    begin = now if previous is None else freeze
    total = 0.0
    for one in data["departures"]:
        need = by_flight[one["flight"]]
        start, end = unix(one["start"]), unix(one["end"])
        take_off = unix(one["take_off"])
        if need.status == "not indicated":
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
        assert start >= first_start(need, pad.place, now if not one["frozen"] else 0, pads.treatment.stand_lead_min), (
            "starts before it is there"
        )
        assert pad.from_s is None or start >= pad.from_s, "before the pad opens"
        assert pad.until_s is None or end <= pad.until_s, "after the pad closes"
        for shut in pads.closures:
            if pad.name in shut.pads:
                assert end <= shut.from_s or start >= shut.until_s, "while the pad is shut"
        assert take_off == take_off_of(need, pad.place, start, engines_of(pad, pads)), "take-off"
        begun = unix(one["last_step_start"])
        assert begun == start + 60 * (need.removal_min if need.anti_icing_min else 0), "last step"
        assert begun is not None and take_off is not None
        held = held_for(need, table, begun, take_off)
        if table is None or isnan(held) or held == inf:
            assert one["holdover_min"] is None and one["holdover_left_min"] is None and one["holdover_note"]
        else:
            assert one["holdover_min"] == held, "holdover"
            assert one["holdover_left_min"] * 60 == held * 60 - (take_off - begun), "holdover left"
            assert one["holdover_broken"] == (held * 60 < take_off - begun)
        until = need.row.take_off_until
        assert one["window_missed"] == (until is not None and take_off > until), "window"
        planned = max(need.row.off_block + 60 * need.row.taxi_min, need.row.take_off_from or 0)
        assert one["delay_min"] * 60 == max(0, take_off - planned), "delay"
        call = unix(one["latest_call"])
        assert call is not None and call <= start and call <= need.row.off_block, "latest call"
        busy[pad.name].append((start, end + 60 * (pads.treatment.clear_min + engines_of(pad, pads)), one["flight"]))
        old = before.get(one["flight"])
        if one["frozen"]:
            assert old is not None and old.pad == one["pad"] and unix(old.start) == start and start <= freeze, "frozen"
        else:
            assert start >= begin, "nothing new begins before the freeze ends"
            best = best_take_off(need, pads, now, begin)
            total += cost_of(need, pads, table, pad.place, start, now, best, engines_of(pad, pads))
            if old is not None and old.start is not None and unix(old.start) > freeze:
                shift = abs(start - unix(old.start)) / 60
                total += pads.cost.changed_pad if old.pad != one["pad"] else 0.0
                total += pads.cost.changed + pads.cost.changed_minute * shift if shift else 0.0
    sharing = 1 if reserve_all else int(1 / max(0.05, pads.margin.possible_share + pads.margin.extra) + 1e-9) or 1
    for name, spans in busy.items():
        for start, end, flight in spans:
            others = [span for span in spans if span[2] != flight and span[0] < end and start < span[1]]
            if by_flight[flight].status == "expected":
                assert not others, f"{name}: {flight} overlaps {others}"
            inside = [other for other in others if other[0] <= start < other[1]]
            assert len(inside) + 1 <= sharing or not inside, f"{name}: too many share with {flight}"
            assert all(by_flight[other[2]].status != "expected" for other in others)
    if not any(one["frozen"] for one in data["departures"]):
        assert abs(data["objective"] - total) < 1e-6, f"objective {data['objective']} is not {total}"
    assert data["bound"] <= data["objective"] + 1e-6
    if data["objective"] > 0:
        assert abs(data["gap"] - (data["objective"] - data["bound"]) / data["objective"]) < 1e-6
    else:
        assert data["gap"] == 0
