"""The command `watch`: looks at a station's reports again until off-block, and says what changed."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click

from advisor.cli.io import Decimal, checklist_option

# the clock and the waiting, so that a test need not wait
now: Callable[[], datetime] = lambda: datetime.now(UTC)  # noqa: E731
sleep: Callable[[float], None] = time.sleep


@click.command("watch")
@click.option("--station", metavar="ID", required=True, help="Whose reports to fetch.")
@click.option("--feed", metavar="NAME", help="By which feed; the only one where there is one.")
@click.option("--off-block", metavar="TIME", required=True, help="RFC 3339 with offset, or HH:MMZ.")
@click.option("--place", metavar="TEXT", help='Location indicator, or "LAT,LON". Default: the station.')
@click.option("--aircraft", metavar="ID", help="Profile; default from the checklist.")
@click.option("--heading", metavar="DEG", help="Nose heading on the stand, true.")
@click.option("--every", type=Decimal(30), default=120, show_default=True, metavar="S", help="Seconds between.")
@click.option("--bell/--no-bell", default=False, help="Ring the terminal's bell when something changed.")
@checklist_option
def watch(station: str, feed: str | None, off_block: str, every: float, bell: bool, **asked: Any) -> None:
    """Look at the reports again until off-block, and say in a line each what came, went or changed its status."""
    from advisor import advise
    from advisor.departure import from_unix, read_off_block, to_unix
    from advisor.errors import FeedError, ReportError

    until = from_unix(read_off_block(off_block, to_unix(now())))
    before, told = None, ""
    while (moment := now()) < until:
        try:
            texts, notes = _fetched(station, feed, asked["checklist"], moment)
            after = advise(texts, now=moment, off_block=until.isoformat(), notes=notes, **asked)
            before, told = _say(before, after, moment, bell), ""
        except (FeedError, ReportError) as error:
            # said once, and looked at again: the brief before still stands
            if before is None:
                raise
            if str(error) != told:
                click.echo(f"{moment:%H%MZ} no newer report: {error}", err=True)
            told = str(error)
        sleep(min(every, max(0.0, (until - now()).total_seconds())))
    click.echo(f"{now():%H%MZ} off-block: the watch is over")


def _fetched(station: str, feed: str | None, folder: str | None, moment: datetime) -> tuple[Any, Any]:
    from advisor.feeds.file import texts_from_feed

    return texts_from_feed(
        station,
        feed,
        checklist_folder=Path(folder) if folder else None,
        now=moment,
        ticks=time.monotonic,
        sleep=time.sleep,
    )


def _say(before: Any, after: Any, moment: datetime, bell: bool) -> Any:
    """Say what changed since the brief before; the brief that stands from now on."""
    from advisor.render.changed import sentences
    from advisor.render.text import render

    if before is None:
        click.echo(render(after))
        return after
    if {report.raw for report in after.reports} == {report.raw for report in before.reports}:
        return before
    changed = sentences(before, after)
    for one in changed or ("a newer report; no must-line and no door changed",):
        click.echo(f"{moment:%H%MZ} {one}")
    if changed and bell and sys.stdout.isatty():
        click.echo("\a", nl=False)
    return after
