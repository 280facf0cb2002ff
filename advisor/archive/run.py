"""A replay from files to its result: gather, plan, work out each part, add up."""

from __future__ import annotations

import shutil
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from advisor.archive import files, result
from advisor.archive.gather import Found, gather
from advisor.archive.part import Done, Work, work
from advisor.archive.plan import parts
from advisor.archive.tally import Tally, unpacked
from advisor.checklist.profile import Profile
from advisor.checklist.rules import Checklist
from advisor.conditions import Place
from advisor.departure import rfc3339
from advisor.errors import ReportError

ROWS_A_PART = 50_000


@dataclass(frozen=True)
class Asked:
    """What is asked for. month: in which rows without a time begin; output: a Parquet file of all rows, or None."""

    archives: Sequence[str]
    checklist: Checklist
    profile: Profile
    find: Callable[[str], Place | None]
    month: datetime | None = None
    output: Path | None = None
    rows: int = ROWS_A_PART


def replay(asked: Asked) -> result.Replay:
    """The result of a replay. Raises ReportError where an archive cannot be read or has no report that can be used."""
    started = time.monotonic()
    with _folder(asked) as folder:
        found = [
            gather(file, _sub(folder, at), rows=files.ROWS_A_PARTITION, month=asked.month)
            for at, file in enumerate(files.find_files(asked.archives))
        ]
        runs = [run for one in found for run in one.runs]
        counts: dict[str, int] = {}
        for run in runs:
            for station in run.stations:
                counts[station.name] = counts.get(station.name, 0) + station.end - station.start
        places = {name: place for name in sorted(counts) if (place := asked.find(name)) is not None}
        left_out = {name: number for name, number in sorted(counts.items()) if name not in places}
        if not places:
            why = f"no station of it has a position: {', '.join(sorted(counts)[:5])}" if counts else "no report in it"
            raise ReportError(why, where=asked.archives[0], hint="give positions with --places FILE")
        planned = parts(runs, places, rows=asked.rows)
        todo = Work(asked.checklist, asked.profile, places, str(folder), asked.output is not None)
        done = [work(part, runs, todo) for part in planned]
        tally = Tally(tuple(rule.id for rule in asked.checklist.for_class(asked.profile.class_id)))
        for one in done:
            tally.add(unpacked((folder / f"part-{one.number:06d}.tally").read_bytes()))
        return _result(asked, found, done, tally, left_out, time.monotonic() - started)


def _result(
    asked: Asked, found: Sequence[Found], done: Sequence[Done], tally: Tally, left_out: dict[str, int], seconds: float
) -> result.Replay:
    list_ = asked.checklist
    bad = [pair for one in found for pair in one.bad] + [pair for one in done for pair in one.bad]
    return result.Replay(
        reports=sum(one.rows for one in found),
        read=tally.reports,
        partly=tally.partly,
        refused=sum(one.refused for one in found) + sum(one.refused for one in done),
        doubled=sum(one.doubled for one in done),
        nil=sum(one.nil for one in done),
        stations=len(tally.by_station),
        from_=rfc3339(tally.first_s) if tally.reports else None,
        until=rfc3339(tally.last_s) if tally.reports else None,
        seconds=round(seconds, 3),
        checklist=result.Named(list_.name, list_.revision, list_.fingerprint),
        aircraft=asked.profile.id,
        rules=result.rule_counts(tally),
        by_month=result.months(tally),
        examples=result.examples(tally),
        left_out=left_out,
        bad_rows=[result.BadRow(*pair) for pair in bad[:5]],
    )


@contextmanager
def _folder(asked: Asked) -> Iterator[Path]:
    folder = Path(tempfile.mkdtemp(prefix="replay-"))
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _sub(folder: Path, at: int) -> Path:
    made = folder / f"file-{at:05d}"
    made.mkdir()
    return made
