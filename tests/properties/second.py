"""A second reading of a whole situation: from the columns to the lines and the doors, slow, value by value.

Written from DESIGN.md, docs/rule-language.md and the files of the checklist, which it reads as plain TOML; of the
package it takes the columns alone, and no accessor of them. many.py --property 8 compares it with the brief.
"""

from __future__ import annotations

import math
import sys
import tomllib
from datetime import datetime
from functools import cache
from pathlib import Path

from made_up import ROOT

from advisor import places
from advisor.brief.advise import weigh
from advisor.checklist import aircraft, revision
from advisor.quantities import QUANTITIES

sys.path.append(str(Path(__file__).parents[1] / "checklist"))
import slow_rules

SHIPPED = ROOT / "advisor" / "data" / "checklists"
AIRCRAFT = ROOT / "advisor" / "data" / "aircraft"
# docs/rule-language.md: in air that mild or calm there is none
EXISTS_NOT = {"wind_chill_c": "wind_chill_absent", "frostbite_min": "frostbite_absent"}
WORDS = {name: row.values for name, row in QUANTITIES.items() if row.values}
SURE = ("expected", "likely", "possible")
COLUMNS_OF_DOORS = ("gust_kt", "relative_wind_deg", "storm_near")


@cache
def written(text):
    """The tree of a condition's text."""
    return slow_rules.read(text, WORDS)


@cache
def shipped():
    """The shipped rules as their files say them."""
    found = []
    for path in sorted(SHIPPED.glob("*.toml")):
        if not path.name.startswith("pages-"):
            found += tomllib.loads(path.read_text(encoding="utf-8")).get("advice", [])
    return found


@cache
def rules(class_id):
    """The rules of a class of aircraft, with what differs for it: id, when, during, weight, must_when."""
    made = []
    for one in shipped():
        if class_id not in one.get("classes", [class_id]):
            continue
        one = {**one, **one.get("class", {}).get(class_id, {})}
        during = one["during"] if isinstance(one["during"], list) else [one["during"]]
        made.append((one["id"], one["when"], tuple(during), one["weight"], one.get("must_when")))
    return made


@cache
def doors(aircraft_id):
    """The doors of a shipped profile as its file says them."""
    return tomllib.loads((AIRCRAFT / f"{aircraft_id}.toml").read_text(encoding="utf-8")).get("door", [])


@cache
def loaded():
    """The checklist and the profiles, as weigh wants them."""
    return revision.load(), aircraft.load_profiles()


def columns_of(night):
    """The columns from now on that a brief of a situation rests on."""
    checklist, fleet = loaded()
    asked = {"place": night.place, **night.asked}
    what = {"checklist": checklist, "fleet": fleet, "gazetteer": places, **asked}
    return weigh(night.texts, now=night.now, off_block=night.off_block, **what).future


def table_of(conditions, wanted):
    """Values [case][time] by name: NaN where not known, None where there is no such value."""
    count, size = len(conditions.cases), len(conditions.unix_s)
    rows = [[{} for _ in range(size)] for _ in range(count)]
    for name in wanted:
        values, without = (spread(conditions, one, count, size) for one in (name, EXISTS_NOT.get(name, "")))
        listed = name not in QUANTITIES or QUANTITIES[name].kind != "number"
        for row, told, gone in zip(rows, values, without, strict=True):
            for at, value in enumerate(told):
                # one and the same NaN: what was answered for a row is found again by its values
                known = value == value and not (listed and value < 0)
                row[at][name] = None if gone[at] == 1 else value if known else math.nan
    return rows


def spread(conditions, name, count, size):
    """A column's values [case][time], which may be the same in all cases or at all times; NaN where there is none."""
    column = conditions.columns.get(name)
    if column is None:
        return [[math.nan] * size] * count
    while column.ndim < 2:
        column = column[None]
    made = [one * size if len(one) == 1 else one for one in column.astype(float).tolist()]
    return made * count if len(made) == 1 else made


def windows_of(brief):
    """The windows of a brief in seconds, and its now."""

    def at(text):
        return datetime.fromisoformat(text).timestamp()

    shown = brief.windows
    made = {"walk": tuple(map(at, shown.walk_round)), "doors": tuple(map(at, shown.doors_open))}
    return {**made, "off_block": at(shown.off_block), "take_off": at(shown.take_off)}, at(brief.now)


def lines_of(conditions, class_id, windows, now):
    """Status, weight, first and last time of every line that comes up, by id."""
    asked = rules(class_id)
    wanted = set().union(*(slow_rules.names(written(when)) for one in asked for when in (one[1], one[4]) if when))
    rows, times = table_of(conditions, sorted(wanted)), [float(one) for one in conditions.unix_s]
    made = {}
    for name, when, during, weight, must_when in asked:
        status, _, span = slow_rules.evaluate(written(when), during, rows, times, windows, now)
        if status == "not indicated":
            continue
        if must_when and status in SURE:
            graver, _, other = slow_rules.evaluate(written(must_when), during, rows, times, windows, now)
            if graver in SURE:
                weight = "must"
                # what always holds has no time of its own
                span = span or other
        made[name] = (status, weight, *(span or (None, None)))
    return made


def doors_of(conditions, aircraft_id, windows, now):
    """Status of each door for being moved and for standing open, by name; {} where no time of the window is left."""
    start, end = max(windows["doors"][0], now), max(windows["doors"][1], now)
    inside = [at for at, time in enumerate(conditions.unix_s) if start <= time <= end]
    rows = table_of(conditions, COLUMNS_OF_DOORS)
    storm = any(row[at]["storm_near"] != 0 for row in rows for at in inside)
    made = {}
    for door in doors(aircraft_id) if inside else []:
        found = []
        for limit in ("operate", "stay_open"):
            beyond = [[over(door, limit, row[at]) for at in inside] for row in rows]
            cases = ["yes" if "yes" in one else "unknown" if "unknown" in one else "no" for one in beyond]
            if all(one == "yes" for one in cases):
                found.append("exceeded")
            elif "yes" in cases:
                found.append("possible")
            else:
                found.append("cannot tell" if storm or "unknown" in cases else "within")
        made[door["name"]] = tuple(found)
    return made


def over(door, limit, values):
    """Whether the gust is over a door's limit from where it blows; from anywhere, the lowest counts."""
    gust, relative = values["gust_kt"], values["relative_wind_deg"]
    sectors = [(one["from_deg"], one["to_deg"], knots(one[limit])) for one in door.get("sector", [])]
    limits = [kt for start, end, kt in sectors if math.isnan(relative) or between(relative, start, end)]
    if math.isnan(relative) or not limits:
        limits.append(knots(door[limit]))
    if math.isnan(gust):
        return "unknown"
    return "yes" if gust > min(limits) else "no"


def between(angle, start, end):
    """Whether an angle lies clockwise from start to end."""
    return (angle - start) % 360 <= (end - start) % 360


def knots(said):
    """A limit in knots; shipped ones are plain numbers or "40 kt"."""
    return float(str(said).removesuffix(" kt"))


def differing(night):
    """In what the brief of a situation is not what the second reading says of the same columns."""
    brief, conditions = night.brief(), columns_of(night)
    windows, now = windows_of(brief)
    class_id = night.asked["aircraft"]
    second = lines_of(conditions, class_id, windows, now)
    first = {one.id: (one.status, one.weight, seconds(one.from_), seconds(one.until)) for one in brief.advice}
    found = [
        f"{name}: {first.get(name)} and not {second.get(name)}"
        for name in sorted(first.keys() | second.keys())
        if first.get(name) != second.get(name)
    ]
    moved = {one.door: (one.status, one.stay_open_status) for one in brief.doors}
    opened = doors_of(conditions, class_id, windows, now)
    found += [
        f"door {name}: {moved.get(name)} and not {opened[name]}" for name in opened if opened[name] != moved.get(name)
    ]
    if conditions.cases[0].lane:
        found.append("the central case has temporary or probable groups")
    return found


def seconds(text):
    """A time as seconds, None where there is none."""
    return None if text is None else datetime.fromisoformat(text).timestamp()
