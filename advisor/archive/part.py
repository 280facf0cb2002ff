"""A part of a replay from its runs to its counts and its rows of output: idempotent, whoever does it and when."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from advisor.archive import instant, replay
from advisor.archive.extra import library
from advisor.archive.folder import no_room, whole
from advisor.archive.gather import Run
from advisor.archive.plan import Part, load
from advisor.archive.reading import Reader
from advisor.archive.tally import Tally
from advisor.checklist.evaluate import answers, each_time
from advisor.checklist.profile import Profile
from advisor.checklist.rules import Checklist
from advisor.conditions import Conditions, Place

# what decides most rules, for whoever wants to look further: central, or in the case that is named
SHOWN = (
    "air_temperature_c",
    "dew_point_c",
    "wind_kt",
    "gust_kt",
    "visibility_m",
    "illuminance_lx",
    "wing_skin_temperature_c",
    "frost_margin_c",
)


class Work(msgspec.Struct, frozen=True):
    """What is asked of every part. checklist, against: the rules; places: by station; folder: where results go."""

    checklist: Checklist
    profile: Profile
    places: Mapping[str, Place]
    folder: str
    rows_out: bool


class Done(msgspec.Struct, frozen=True):
    """What became of a part: its counts stand in a file beside its rows."""

    number: int
    read: int
    refused: int
    nil: int
    doubled: int
    bad: tuple[tuple[str, str], ...] = ()


def named(folder: str, number: int, what: str) -> Path:
    """A file of a part: "tally", "arrow" (its rows) or "done"."""
    return Path(folder) / f"part-{number:06d}.{what}"


def off_block_in_min(checklist: Checklist, profile: Profile) -> float:
    """Minutes from a report to off-block so that the middle of the walk round is an hour after the report."""
    start, end = checklist.windows[profile.windows].walk_round
    return instant.AHEAD_S / 60 - (start + end) / 2


def work(part: Part, runs: Sequence[Run], asked: Work) -> Done:
    """Do a part: its counts and rows go into files of its own, whole or not at all."""
    reports = load(part, runs)
    made = Reader().read(reports.text, reports.names, reports.station, reports.at_s)
    rows = np.flatnonzero(made.usable)
    counts = reports.counts[rows]
    table, station, at_s = made.table.picked(rows), reports.station[rows], reports.at_s[rows]
    rules = asked.checklist.for_class(asked.profile.class_id)
    conditions = replay.derived(
        table,
        station,
        at_s,
        [asked.places[name] for name in reports.names],
        asked.profile.airframe(),
        off_block_in_min=off_block_in_min(asked.checklist, asked.profile),
    )
    status = each_time(answers(rules, conditions, asked.profile.class_id))
    own = np.flatnonzero(counts)
    tally = Tally(tuple(rule.id for rule in rules))
    raw = [reports.text[row] for row in rows[own]]
    tally.count(status[:, own], at_s[own], station[own], reports.names, raw, table.partly[own], ahead_s=instant.AHEAD_S)
    if asked.rows_out:
        target = named(asked.folder, part.number, "arrow")
        rows_of(status[:, own], tally.rules, conditions, own, at_s[own], station[own], reports.names, target)
    whole(named(asked.folder, part.number, "tally"), tally.packed())
    unread = [row for row in range(len(reports.text)) if reports.counts[row] and not made.usable[row]]
    nil = sum(bool(made.table.nil[row]) for row in unread)
    bad = tuple(
        (reports.text[row][:60], made.refused.get(row, "no group could be used"))
        for row in unread
        if not made.table.nil[row]
    )
    done = Done(part.number, int(own.size), len(unread) - nil, nil, reports.doubled, bad[:5])
    # the last file to be written says that the others are there
    whole(named(asked.folder, part.number, "done"), msgspec.json.encode(done))
    return done


def rows_of(
    status: Any,
    rules: tuple[str, ...],
    conditions: Conditions,
    own: Any,
    at_s: Any,
    station: Any,
    names: Sequence[str],
    target: Path,
) -> None:
    """Write a part's rows: station, time, a status a rule, and the numbers that decide most of them."""
    arrow, ipc = library("pyarrow"), library("pyarrow.ipc")
    listed = arrow.DictionaryArray.from_arrays(arrow.array(station), arrow.array(list(names), arrow.string()))
    columns: dict[str, Any] = {
        "station": listed.cast(arrow.string()),
        "at": arrow.array(at_s.astype("datetime64[s]"), arrow.timestamp("s", tz="UTC")),
    }
    columns |= {f"status_{rule}": arrow.array(row) for rule, row in zip(rules, status, strict=True)}
    for name in SHOWN:
        values = np.broadcast_to(conditions.number(name), conditions.shape)[:, own]
        columns[name] = arrow.array(values[0].astype(np.float32))
        for which, end in (("low", np.fmin), ("high", np.fmax)):
            columns[f"{name}_{which}"] = arrow.array(end.reduce(values, axis=0).astype(np.float32))
    table = arrow.table(columns)
    half = target.with_name(f"{target.name}.{os.getpid()}.half")
    with no_room(target, half):
        with ipc.new_file(str(half), table.schema) as sink:
            sink.write_table(table)
        half.replace(target)
