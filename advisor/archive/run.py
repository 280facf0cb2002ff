"""A replay from files to its result: gather, plan, work out each part, add up."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

import msgspec

from advisor.archive import bank, files, folder, result
from advisor.archive.alike import Against, against
from advisor.archive.carry import How, crew
from advisor.archive.gather import Found, Run, gather
from advisor.archive.part import Done, ReplayWork, named, off_block_in_min, work
from advisor.archive.pieces import Crew, Failed
from advisor.archive.plan import WorkPart, parts
from advisor.archive.reading import SAMPLE
from advisor.archive.tally import Tally, unpacked
from advisor.checklist.profile import Profile
from advisor.checklist.rules import Checklist
from advisor.conditions import Place
from advisor.departure import rfc3339
from advisor.errors import AdvisorError, ReportError

# a part has so many reports: few enough for the memory of a worker, and so that there are some for each worker to do
LEAST_ROWS, MOST_ROWS, PARTS = 25_000, 100_000, 8
# what a run has done so far: reports, and how many there are
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class ReplayAsked:
    """What is asked for. month: in which rows without a time begin; output: a Parquet file of all rows, or None.

    find: where a station lies, None where that is not known. resume: go on with a run of the same output that was
    stopped. clock: seconds, for how long it took. progress: told after every part. against: another checklist;
    departures: off-block times by station, where only those count. sample, seed: how many reports are read again.
    cells: keep reports to open for each month and hour.
    """

    archives: Sequence[str]
    checklist: Checklist
    profile: Profile
    find: Callable[[str], Place | None]
    clock: Callable[[], float]
    month: datetime | None = None
    output: Path | None = None
    rows: int | None = None
    how: How = field(default_factory=How)
    resume: bool = False
    progress: Progress = lambda done, all_: None
    against: Checklist | None = None
    departures: Mapping[str, list[int]] | None = None
    sample: int = SAMPLE
    seed: int = 0
    cells: bool = False


def replay(asked: ReplayAsked) -> result.Replay:
    """The result of a replay, as replay_counted gives it."""
    return replay_counted(asked)[0]


def replay_counted(asked: ReplayAsked) -> tuple[result.Replay, Tally]:
    """The result of a replay, and the counts behind it.

    Stopped from the keyboard it gives what is done so far, marked as partial; its folder stays for --resume. Raises
    ReportError where an archive cannot be read or has no report that can be used, or none for any departure.
    """
    started = asked.clock()
    inputs = files.find_files(asked.archives)
    with _folder(asked, inputs) as place, crew(asked.how) as hands:
        gathered = _gathered(asked, inputs, place, hands)
        runs = [run for one in gathered for run in one.runs]
        known, left_out = _places(asked, runs)
        planned = parts(runs, known, rows=asked.rows or _rows(runs))
        todo = ReplayWork(
            asked.checklist,
            asked.profile,
            known,
            str(place),
            asked.output is not None,
            asked.against,
            asked.departures,
            asked.sample,
            asked.seed,
            asked.cells,
        )
        done, failed, stopped = _carried(asked, planned, runs, todo, hands)
        tally = _added(asked, done, place)
        partial = stopped or bool(failed)
        departures = _bank(asked, planned, done)
        if departures is not None and not tally.reports and not partial:
            # its counts would be zeros, which read as if nothing had been told
            if asked.output is not None:
                shutil.rmtree(place, ignore_errors=True)
            raise _no_departure(asked, departures, planned, left_out)
        replayed = _result(asked, gathered, done, tally, left_out, departures)
        if asked.output is not None:
            folder.join((named(str(place), one.number, "arrow") for one in done), asked.output)
            if not partial:
                shutil.rmtree(place, ignore_errors=True)
    replayed = msgspec.structs.replace(
        replayed,
        partial=partial,
        failed=[f"{_part(planned[one.at])}: {one.why}" for one in failed],
        seconds=round(asked.clock() - started, 3),
    )
    return replayed, tally


def _gathered(asked: ReplayAsked, inputs: Sequence[Path], place: Path, hands: Crew) -> list[Found]:
    """What is in each file, in the order of the files. What is there already, and not spoilt, is kept."""
    by_number: dict[int, Found] = {}
    missing = []
    for number in range(len(inputs)):
        known = folder.sealed(place / f"file-{number:05d}.found")
        if known is not None:
            by_number[number] = msgspec.json.decode(known, type=Found)
        else:
            missing.append(number)
    pieces = []
    for number in missing:
        sub = place / f"file-{number:05d}"
        sub.mkdir(exist_ok=True)
        pieces.append((inputs[number], sub, asked.month))
    for which, outcome in hands.each(_gather, pieces):
        if isinstance(outcome, Failed):
            raise ReportError(f"cannot be read: {outcome.why}", where=str(pieces[which][0]))
        by_number[missing[which]] = outcome
        # a folder that goes with the run is never gone on with, and need not tell what is spoilt in it
        if asked.output is not None:
            label = place / f"file-{missing[which]:05d}.found"
            folder.seal(label, msgspec.json.encode(outcome), [Path(run.file) for run in outcome.runs])
    return [by_number[at] for at in sorted(by_number)]


def _gather(file: Path, sub: Path, month: datetime | None) -> Found:
    return gather(file, sub, rows=files.ROWS_A_PARTITION, month=month)


def _places(asked: ReplayAsked, runs: Sequence[Run]) -> tuple[dict[str, Place], dict[str, int]]:
    """Where the stations lie, and how many reports there are of those of which nobody knows."""
    counts: dict[str, int] = {}
    for run in runs:
        for station in run.stations:
            counts[station.name] = counts.get(station.name, 0) + station.end - station.start
    known = {name: place for name in sorted(counts) if (place := asked.find(name)) is not None}
    if not known:
        why = f"no station of it has a position: {', '.join(sorted(counts)[:5])}" if counts else "no report in it"
        hint = "give positions with --places FILE" if counts else "give files with one report a row, raw and valid"
        raise ReportError(why, where=asked.archives[0], hint=hint)
    return known, {name: number for name, number in sorted(counts.items()) if name not in known}


def _rows(runs: Sequence[Run]) -> int:
    """How many reports a part has: by the archive alone, so that a run goes on with any number of workers."""
    total = sum(station.end - station.start for run in runs for station in run.stations)
    return min(max(total // PARTS, LEAST_ROWS), MOST_ROWS)


def _carried(
    asked: ReplayAsked, planned: Sequence[WorkPart], runs: Sequence[Run], todo: ReplayWork, hands: Crew
) -> tuple[list[Done], list[Failed], bool]:
    """Every part done that can be, in order; those that failed twice; and whether it was stopped."""
    done: dict[int, Done] = {}
    for part in planned:
        known = folder.sealed(named(todo.folder, part.number, "done"))
        if known is not None:
            done[part.number] = msgspec.json.decode(known, type=Done)
    left = [part for part in planned if part.number not in done]
    total = sum(part.rows for part in planned)
    so_far = total - sum(part.rows for part in left)
    asked.progress(so_far, total)
    failed: list[Failed] = []
    pieces = [(part, _needed(part, runs), todo) for part in left]
    try:
        for which, outcome in hands.each(work, pieces):
            number = left[which].number
            if isinstance(outcome, Failed):
                failed.append(Failed(number, outcome.why))
            else:
                done[number] = outcome
            so_far += left[which].rows
            asked.progress(so_far, total)
    except KeyboardInterrupt:
        return [done[at] for at in sorted(done)], failed, True
    return [done[at] for at in sorted(done)], sorted(failed, key=lambda one: one.at), False


def _needed(part: WorkPart, runs: Sequence[Run]) -> list[Run]:
    """The runs that have a station of a part."""
    names = {span.station for span in part.spans}
    return [run for run in runs if any(one.name in names for one in run.stations)]


def _part(part: WorkPart) -> str:
    first, last = part.spans[0], part.spans[-1]
    names = first.station if first.station == last.station else f"{first.station} to {last.station}"
    return f"{names}, {rfc3339(first.from_s)[:7]} to {rfc3339(last.until_s - 1)[:7]}"


def _added(asked: ReplayAsked, done: Sequence[Done], place: Path) -> Tally:
    tally = Tally(tuple(rule.id for rule in asked.checklist.for_class(asked.profile.class_id)))
    for one in done:
        tally.add(unpacked(named(str(place), one.number, "tally").read_bytes()))
    return tally


def _bank(asked: ReplayAsked, planned: Sequence[WorkPart], done: Sequence[Done]) -> result.BankCount | None:
    """What became of the departures of a bank, None without one."""
    if asked.departures is None:
        return None
    finished = {one.number for one in done}
    missing = [span for part in planned if part.number not in finished for span in part.spans]
    ahead_s = round(off_block_in_min(asked.checklist, asked.profile) * 60)
    left = bank.without(asked.departures, (one.replayed for one in done))
    without = [one for one in left if not any(bank.may_lie_in(span, *one, ahead_s=ahead_s) for span in missing)]
    first = [result.BankDeparture(rfc3339(off_block), station) for off_block, station in without[:5]]
    given = sum(map(len, asked.departures.values()))
    return result.BankCount(given, len(without), len(left) - len(without), first)


def _no_departure(
    asked: ReplayAsked, departures: result.BankCount, planned: Sequence[WorkPart], left_out: Mapping[str, int]
) -> ReportError:
    """None of the departures has a report: what they are, and what the archive has."""
    spans = [span for part in planned for span in part.spans]
    months = [rfc3339(min(one.from_s for one in spans))[:7], rfc3339(max(one.until_s for one in spans) - 1)[:7]]
    has = f"{_some({one.station for one in spans})} from {months[0]} to {months[1]}"
    lost = left_out.keys() & (asked.departures or {}).keys()
    places = f"; {_some(lost)} without a position: give it with --places FILE" if lost else ""
    shown = ", ".join(f"{one.off_block} {one.station}" for one in departures.first_without)
    minutes = off_block_in_min(asked.checklist, asked.profile)
    return ReportError(
        f"none of {departures.given:,} has a report in the {bank.OLDEST_S // 3600} h before its brief, {minutes:g} min "
        f"before off-block: {shown}",
        where="departures",
        hint=f"give departures of what the archive has: {has}{places}",
    )


def _some(names: Iterable[str]) -> str:
    listed = sorted(names)
    return ", ".join(listed[:5]) + (f" and {len(listed) - 5} more" if len(listed) > 5 else "")


def _result(
    asked: ReplayAsked,
    gathered: Sequence[Found],
    done: Sequence[Done],
    tally: Tally,
    left_out: dict[str, int],
    departures: result.BankCount | None,
) -> result.Replay:
    used = asked.checklist
    bad = [pair for one in gathered for pair in one.bad] + [pair for one in done for pair in one.bad]
    return result.Replay(
        reports=sum(one.rows for one in gathered),
        read=tally.reports,
        partly=tally.partly,
        refused=sum(one.refused for one in gathered) + sum(one.refused for one in done),
        doubled=sum(one.doubled for one in done),
        nil=sum(one.nil for one in done),
        stations=len(tally.by_station),
        from_=rfc3339(tally.first_s) if tally.reports else None,
        until=rfc3339(tally.last_s) if tally.reports else None,
        seconds=0.0,
        checklist=result.ReplayChecklist(used.name, used.revision, used.fingerprint),
        aircraft=asked.profile.id,
        rules=result.rule_counts(tally),
        by_month=result.months(tally),
        examples=result.examples(tally),
        against=None if asked.against is None else _against(asked, asked.against, tally),
        left_out=left_out,
        departures=None if departures is None else tally.reports,
        bank=departures,
        read_in_full=sum(one.whole for one in done),
        bad_rows=[result.BadRow(*pair) for pair in bad[:5]],
    )


def _against(asked: ReplayAsked, old: Checklist, tally: Tally) -> Against:
    minutes = off_block_in_min(asked.checklist, asked.profile)
    return against(tally.changes, asked.checklist, old, asked.profile, asked.find, off_block_in_min=minutes)


@contextmanager
def _folder(asked: ReplayAsked, inputs: Sequence[Path]) -> Iterator[Path]:
    """Where a run keeps what is done: beside its output, else in a folder that goes with it."""
    if asked.output is None:
        if asked.resume:
            raise AdvisorError("there is nothing to go on with", where="resume", hint="give the --output of that run")
        place = Path(tempfile.mkdtemp(prefix="replay-"))
        try:
            yield place
        finally:
            shutil.rmtree(place, ignore_errors=True)
        return
    if asked.output.exists() and not asked.output.is_file():
        # a finished file takes the place of what stood there, which a device or a pipe would not come back from
        raise AdvisorError("is no ordinary file", where=str(asked.output), hint="give a new file, or one to replace")
    place = asked.output.with_name(f"{asked.output.name}.work")
    label = folder.fingerprint(
        [
            folder.of_files(inputs),
            asked.checklist.fingerprint,
            asked.against and asked.against.fingerprint,
            asked.profile,
            asked.rows,
            str(asked.month),
            asked.departures,
            asked.cells,
        ]
    )
    with folder.prepared(place, label, resume=asked.resume):
        yield place
