"""The command `replay`."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from advisor.cli import STOPPED, memory
from advisor.cli.io import WholeOption, checklist_option, format_option, write
from advisor.cli.output import named


@click.command()
@click.argument("archives", metavar="ARCHIVE...", nargs=-1, required=True)
@checklist_option
@click.option(
    "--against", metavar="DIR", help='What changes from this folder\'s checklist; "shipped" names the shipped one.'
)
@click.option("--departures", metavar="FILE", help="CSV of off_block and station: count these, not every report.")
@click.option("--class", "aircraft", metavar="ID", help="Aircraft profile. Default: the checklist's.")
@click.option("--month", metavar="YYYY-MM", help="The month in which reports without a time beside them begin.")
@click.option(
    "--places", metavar="FILE", help="CSV of stations: station, latitude, longitude and, if known, elevation_m."
)
@click.option("--output", metavar="FILE", callback=named, help="Write a row a report to this Parquet file.")
@click.option("--workers", type=WholeOption(1, 256), default=1, show_default=True, help="Processes of this machine.")
@click.option("--cluster", metavar="ADDRESS", help="Scheduler of a Dask cluster that sees the same files.")
@click.option("--resume", is_flag=True, help="Go on with a run of the same output that was stopped.")
@format_option("text", "json", "html")
def replay(
    archives: tuple[str, ...],
    checklist: str | None,
    against: str | None,
    departures: str | None,
    aircraft: str | None,
    month: str | None,
    places: str | None,
    output: str | None,
    workers: int,
    cluster: str | None,
    resume: bool,
    form: str,
) -> None:
    """What a checklist would have said over years of reports.

    ARCHIVE is a file, folder or pattern: CSV, Parquet or text, one report a row, packed or not. Exit 7 where parts of
    it failed, 130 where it was stopped; what there is by then is printed and says so.
    """
    from advisor.archive import bank, carry, processes, result, run
    from advisor.archive.places import finder
    from advisor.checklist import aircraft as profiles
    from advisor.checklist import revision
    from advisor.departure import read_month
    from advisor.errors import DepartureError
    from advisor.render.replay import render

    if cluster is not None and output is None:
        raise click.UsageError("a cluster needs a folder that all see: give --output in one")
    memory.set_memory({memory.TRIM_THRESHOLD: processes.KEPT_B, memory.MMAP_THRESHOLD: processes.FETCHED_ALONE_B})
    rules = revision.load(checklist)
    other = None if against is None else revision.load(None if against == "shipped" else against)
    fleet = profiles.load_profiles(checklist)
    wanted = aircraft or rules.default_aircraft
    if wanted not in fleet:
        raise DepartureError(f"{wanted[:40]!r} is not known", where="class", hint=f"give one of {', '.join(fleet)}")
    with progress() as told:
        asked = run.ReplayAsked(
            archives,
            rules,
            fleet[wanted],
            finder(None if places is None else Path(places)),
            time.monotonic,
            month=None if month is None else read_month(month),
            output=None if output is None else Path(output),
            how=carry.How(workers, cluster),
            resume=resume,
            progress=told,
            against=other,
            cells=form == "html",
            departures=None if departures is None else bank.read(Path(departures)),
        )
        try:
            replayed, tally = run.replay_counted(asked)
        except KeyboardInterrupt:
            click.echo("advisor: replay: stopped while the archive was still read; nothing is done yet", err=True)
            click.get_current_context().exit(STOPPED)
    if form == "html":
        from advisor.render.replay_page import page

        write(page(replayed, tally).encode("utf-8"), None)
    else:
        write(result.to_json(replayed) if form == "json" else render(replayed).encode("utf-8"), None)
    if replayed.partial:
        click.get_current_context().exit(7 if replayed.failed else STOPPED)


@contextmanager
def progress() -> Iterator[Callable[[int, int], None]]:
    """A bar with rate and time left on a terminal, nothing elsewhere."""
    if not sys.stderr.isatty():
        yield lambda done, all_: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (
        TextColumn("{task.completed:,.0f} of {task.total:,.0f} reports"),
        BarColumn(),
        TextColumn("{task.fields[rate]:,.0f} a second"),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("replay", total=1, rate=0.0)
        begun = time.monotonic()
        first: list[int] = []

        def told(done: int, all_: int) -> None:
            # what an earlier run had done already counts for the bar, not for the rate
            first.append(done)
            passed = time.monotonic() - begun
            bar.update(task, completed=done, total=all_, rate=(done - first[0]) / passed if passed > 0 else 0.0)

        yield told
