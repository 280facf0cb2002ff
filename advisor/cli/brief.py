"""The command `brief`."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path
from typing import Any

import click

from advisor.cli.io import (
    checklist_option,
    files_argument,
    format_option,
    now_option,
    output_option,
    present,
    read_bytes,
    report_option,
    texts_of,
    write,
)


@click.command()
@files_argument
@report_option
@click.option("--off-block", required=True, metavar="TIME", help="HHMMZ, HH:MMZ, or date and time with offset.")
@now_option
@click.option("--station", metavar="ID", help="Fetch the reports of this station from a feed.")
@click.option("--feed", metavar="NAME", help="The feed of feeds.toml to fetch from. Default: the only one.")
@click.option("--place", metavar="TEXT", help='Location indicator or "LAT,LON". Default: the report\'s station.')
@click.option("--aircraft", metavar="ID", help="Profile, see `advisor aircraft`. Default from the checklist.")
@checklist_option
@click.option("--heading", metavar="DEG", help="Nose heading on the stand, true.")
@click.option("--parked-since", metavar="TIME", help="Standing outside since then.")
@click.option("--treated-at", metavar="TIME", help="Last treated against ice at that time.")
@click.option("--seen", metavar="nothing|frost|snow|ice", help="What somebody saw on the aircraft who looked.")
@click.option("--looked-at", metavar="TIME", help="When that was. Default: now.")
@click.option("--fuel-temperature", metavar="QTY", help='Fuel in the wing tanks, "-8 degC" or a number in °C.')
@click.option("--fuel-fill", metavar="PERCENT", help="How full the wing tanks are.")
@click.option("--walk-round", metavar="START/END", help="Replaces the checklist's usual window.")
@click.option("--doors-open", metavar="START/END", help="Replaces the checklist's usual window.")
@click.option("--take-off", metavar="TIME", help="Replaces the checklist's usual time.")
@click.option("--since", metavar="BRIEF.json", help="Say first what changed since that brief.")
@click.option("--full", is_flag=True, help="Text with the longer explanations.")
@format_option("text", "json", "html", "pdf")
@output_option
def brief(
    files: tuple[str, ...],
    reports: tuple[str, ...],
    form: str,
    output: str | None,
    now: str | None,
    since: str | None,
    full: bool,
    station: str | None,
    feed: str | None,
    **asked: Any,
) -> None:
    """Brief of a departure: what to take, look at, ask for and leave shut, and why."""
    from advisor import advise

    before = _earlier(since)
    moment = present(now)
    texts, notes = _fetched(station, feed, asked["checklist"], moment)
    if station is None or files or reports:
        texts = (*texts, *texts_of(files, reports))
    latest = advise(texts, now=moment, notes=notes, **asked)
    if before is not None:
        _follows(since, before, latest)
    if form == "json":
        from advisor.brief.model import to_json

        write(to_json(latest), output)
        return
    if form == "html":
        from advisor.render.html import render_html

        write(render_html(latest, before=before).encode("utf-8"), output)
        return
    if form == "pdf":
        from advisor.render.pdf import render_pdf

        if output is None and sys.stdout.isatty():
            raise click.UsageError("a PDF is not for a terminal: give --output FILE")
        write(render_pdf(latest, before=before), output)
        return
    if output is None and _coloured():
        from advisor.render.terminal import show

        show(latest, before=before, full=full)
        return
    from advisor.render.text import render

    write(render(latest, before=before, full=full).encode("utf-8"), output)


def _fetched(
    station: str | None, feed: str | None, folder: str | None, now: datetime
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Texts of a station's reports from a feed, and what has to be said about them."""
    if station is None:
        if feed is not None:
            raise click.UsageError("--feed without --station: say of which station")
        return (), ()
    import time

    from advisor.feeds.file import texts_from_feed

    texts, notes = texts_from_feed(
        station,
        feed,
        checklist_folder=Path(folder) if folder else None,
        now=now,
        ticks=time.monotonic,
        sleep=time.sleep,
    )
    return tuple(texts), tuple(notes)


def _earlier(since: str | None) -> Any:
    if since is None:
        return None
    import msgspec

    from advisor.brief.model import Brief

    hint = "give a file written by advisor brief --format json"
    try:
        data = read_bytes(since)
        return msgspec.json.decode(data, type=Brief)
    except OSError as error:
        raise click.UsageError(f"--since: {since}: {error.strerror}; {hint}") from None
    except msgspec.MsgspecError as error:
        raise click.UsageError(f"--since: {since} is not a brief ({error}); {hint}") from None


def _follows(since: str | None, before: Any, latest: Any) -> None:
    from advisor.brief.changes import incomparable

    why = incomparable(before, latest)
    if why:
        raise click.UsageError(f"--since: {since} is {why}; give an earlier brief of this departure")


def _coloured() -> bool:
    import os

    return sys.stdout.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"
