"""A part of a replay from its runs to its counts and its rows of output: idempotent, whoever does it and when."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from advisor.archive import bank, instant, replay
from advisor.archive.changes import changes
from advisor.archive.extra import library
from advisor.archive.folder import no_room, seal, whole
from advisor.archive.gather import Run
from advisor.archive.held import Of
from advisor.archive.plan import WorkPart, load
from advisor.archive.reading import SAMPLE, Reader
from advisor.archive.tally import Tally
from advisor.archive.wants import Answered, wants
from advisor.archive.windows import ReportWindows
from advisor.checklist.evaluate import answers, each_time
from advisor.checklist.language.nodes import Evaluator
from advisor.checklist.profile import Profile
from advisor.checklist.rules import Checklist
from advisor.conditions import Codes, Conditions, Place

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


class ReplayWork(msgspec.Struct, frozen=True):
    """What is asked of every part. checklist, against: the rules, and those that they are held against.

    places: by station; folder: where results go; departures: off-block times by station where only those count.
    cells: keep reports to open for each month and hour.
    """

    checklist: Checklist
    profile: Profile
    places: Mapping[str, Place]
    folder: str
    rows_out: bool
    against: Checklist | None = None
    departures: Mapping[str, list[int]] | None = None
    sample: int = SAMPLE
    seed: int = 0
    cells: bool = False


class Done(msgspec.Struct, frozen=True):
    """What became of a part: its counts stand in a file beside its rows. whole: how many had to be read in full.

    replayed: of a bank, off-block times by station of the departures that go by a report of this part.
    """

    number: int
    refused: int
    nil: int
    doubled: int
    whole: int
    bad: tuple[tuple[str, str], ...] = ()
    replayed: dict[str, list[int]] = {}


def named(folder: str, number: int, what: str) -> Path:
    """A file of a part: "tally", "arrow" (its rows) or "done"."""
    return Path(folder) / f"part-{number:06d}.{what}"


def off_block_in_min(checklist: Checklist, profile: Profile) -> float:
    """Minutes from a report to off-block so that the middle of the walk round is an hour after the report."""
    start, end = checklist.windows[profile.windows].walk_round
    return instant.AHEAD_S / 60 - (start + end) / 2


def work(part: WorkPart, runs: Sequence[Run], asked: ReplayWork) -> Done:
    """Do a part: its counts and rows go into files of its own, whole or not at all."""
    # a departure early in the next month goes by a report there, if there is one: then by none here
    reports = load(part, runs, after_s=0 if asked.departures is None else bank.OLDEST_S)
    reading = _reader(asked.sample, asked.seed).read(reports.text, reports.names, reports.station, reports.at_s)
    usable = reading.usable
    rows = np.flatnonzero(usable)
    table, station, at_s = reading.table.picked(rows), reports.station[rows], reports.at_s[rows]
    raw = reports.text.picked(rows)
    rules = asked.checklist.for_class(asked.profile.class_id)
    ahead_min = off_block_in_min(asked.checklist, asked.profile)
    where = [asked.places[name] for name in reports.names]
    old = () if asked.against is None else asked.against.for_class(asked.profile.class_id)
    conditions = replay.derived(
        table,
        station,
        at_s,
        where,
        asked.profile.airframe(),
        off_block_in_min=ahead_min,
        wanted=replay.looked_at((*rules, *old)) | set(SHOWN),
    )
    of = Of(asked.profile, reports.names, station, at_s)
    evaluator = Evaluator(conditions.columns, conditions.shape)
    said = answers(rules, conditions, asked.profile.class_id, evaluator)
    status = of.held(each_time(said), rules)
    counts = reports.counts[rows]
    own, replayed = np.flatnonzero(counts), {}
    if asked.departures is not None:
        gone = bank.gone_by(asked.departures, reports.names, station, at_s, off_block_in_min=ahead_min).among(counts)
        own, replayed = gone.report, gone.by_station(reports.names)
    tally = Tally(tuple(rule.id for rule in rules), with_cells=asked.cells)
    texts = raw.picked(own)
    cut = status.take(own, axis=1), at_s[own], station[own]
    tally.count(*cut, reports.names, texts, table.partly[own], ahead_s=instant.AHEAD_S)
    numbers = (table.wind_kt, table.visibility_m, table.temperature_c, table.dew_point_c)
    unheard = [*(np.isnan(values) for values in numbers), ~table.sky_known, table.weather_missing]
    tally.count_silent(reports.names, station[own], [values[own] for values in unheard])
    tally.wants = wants(status, rules, conditions, own, _answers(), evaluator)
    if asked.against is not None:
        was = _old(asked.against, conditions, of)
        new = {rule.id: row for rule, row in zip(rules, cut[0], strict=True)}
        windows = ReportWindows(station, at_s)

        def history(at: int) -> tuple[str, ...]:
            return tuple(raw[windows.first[own[at]] : own[at]])

        was = {rule: row[own] for rule, row in was.items()}
        tally.changes = changes(new, was, at_s[own], station[own], reports.names, texts, history)
    if asked.rows_out:
        target = named(asked.folder, part.number, "arrow")
        rows_of(*cut, reports.names, tally.rules, conditions, own, target)
    whole(named(asked.folder, part.number, "tally"), tally.packed())
    unread = np.flatnonzero(reports.counts & ~usable).tolist()
    nil = sum(bool(reading.table.nil[row]) for row in unread)
    bad = tuple(
        (reports.text[row][:60], reading.refused.get(row, "no group could be used"))
        for row in unread
        if not reading.table.nil[row]
    )
    done = Done(part.number, len(unread) - nil, nil, reports.doubled, reading.whole, bad[:5], replayed)
    # the last file to be written says that the others are there, and what they are
    files = [named(asked.folder, part.number, what) for what in ("tally", *(("arrow",) if asked.rows_out else ()))]
    seal(named(asked.folder, part.number, "done"), msgspec.json.encode(done), files)
    return done


@lru_cache(maxsize=1)
def _reader(sample: int, seed: int) -> Reader:
    """The reader of this process, which remembers tokens from one part to the next."""
    return Reader(sample, seed)


@lru_cache(maxsize=1)
def _answers() -> Answered:
    """What was found missing so far in this process, which is the same for every report of its kind."""
    return {}


def _old(against: Checklist, conditions: Conditions, of: Of) -> dict[str, Codes]:
    """What another checklist says of the same conditions: rule to statuses, (report,)."""
    rules = against.for_class(of.profile.class_id)
    minutes = np.full((1, conditions.unix_s.size), off_block_in_min(against, of.profile))
    said = answers(rules, conditions.having({"off_block_in_min": minutes}), of.profile.class_id)
    status = of.held(each_time(said), rules)
    return {rule.id: row for rule, row in zip(rules, status, strict=True)}


def rows_of(
    status: Any,
    at_s: Any,
    station: Any,
    names: Sequence[str],
    rules: tuple[str, ...],
    conditions: Conditions,
    own: Any,
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
        values = np.broadcast_to(conditions.number(name), conditions.shape).take(own, axis=1)
        columns[name] = arrow.array(values[0].astype(np.float32))
        for which, end in (("low", np.fmin), ("high", np.fmax)):
            columns[f"{name}_{which}"] = arrow.array(end.reduce(values, axis=0).astype(np.float32))
    table = arrow.table(columns)
    half = target.with_name(f"{target.name}.{os.getpid()}.half")
    with no_room(target, half):
        with ipc.new_file(str(half), table.schema) as sink:
            sink.write_table(table)
        half.replace(target)
