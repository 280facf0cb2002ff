"""The commands. The only room besides the web that reads the clock, opens what the user names and writes results."""

from __future__ import annotations

import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from advisor.errors import AdvisorError, ReportError

if TYPE_CHECKING:
    from advisor.checklist.revision import Checklist

MOST_INPUT = 20_000_000
FORMATS = ("text", "json")


class _Commands(click.Group):
    """Turns every error of ours into one line on standard error and the documented exit code."""

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except AdvisorError as error:
            click.echo(f"advisor: {error}", err=True)
            ctx.exit(error.exit_code)
        except RecursionError:
            click.echo("advisor: the input is nested too deeply; give plain reports", err=True)
            ctx.exit(3)


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="advisor", message="%(version)s")
def main() -> None:
    """What the apron will be like during the walk round, and what follows from it.

    Nothing printed here says what is on the aircraft: only the inspection itself can tell.
    """


def _texts(files: tuple[str, ...], reports: tuple[str, ...]) -> list[str]:
    """The report texts of files, "-" for standard input, and options."""
    texts = list(reports)
    for name in files:
        texts.append(_read_file(name))
    if not texts:
        raise click.UsageError("no report: give a file, - for standard input, or --report TEXT")
    return texts


def _read_file(name: str) -> str:
    hint = "give a text file with METAR or SPECI reports"
    try:
        if name == "-":
            data = sys.stdin.buffer.read(MOST_INPUT + 1)
        else:
            with Path(name).open("rb") as file:
                data = file.read(MOST_INPUT + 1)
    except OSError as error:
        raise ReportError(error.strerror or "cannot be read", where=name, hint=hint) from None
    where = "standard input" if name == "-" else name
    if len(data) > MOST_INPUT:
        raise ReportError(f"is larger than {MOST_INPUT // 1_000_000} MB", where=where, hint=hint)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise ReportError(f"is not text (byte {error.start + 1})", where=where, hint=hint) from None


def _now(text: str | None) -> datetime:
    from advisor.departure import read_moment

    return datetime.now(UTC) if text is None else read_moment(text, what="now")


def _write(data: bytes, output: str | None) -> None:
    """To standard output, or to a file that is either whole or not there."""
    if output is None:
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
        return
    target = Path(output)
    half = target.with_name(f".{target.name}.part")
    try:
        half.write_bytes(data)
        half.replace(target)
    except OSError as error:
        half.unlink(missing_ok=True)
        raise click.UsageError(f"{output}: {error.strerror}; give a file in a folder that can be written") from None


_reports = click.argument("files", metavar="[REPORT]...", nargs=-1)
_report = click.option("--report", "reports", multiple=True, metavar="TEXT", help="Report text; may be repeated.")
_at = click.option("--now", metavar="TIME", help="Take this as the present, RFC 3339. Default: the system clock.")
_out = click.option("--output", metavar="FILE", help="Write to a file instead of standard output.")
_folder = click.option("--checklist", metavar="DIR", help="The operator's folder, laid over what is shipped.")


def _format(*names: str) -> Callable[[Any], Any]:
    return click.option(
        "--format", "form", type=click.Choice(names), default=names[0], show_default=True, help="What to print."
    )


@main.command()
@_reports
@_report
@click.option("--off-block", required=True, metavar="TIME", help="HHMMZ, HH:MMZ, or date and time with offset.")
@_at
@click.option("--station", metavar="ID", help="Fetch the reports of this station from a feed.")
@click.option("--feed", metavar="NAME", help="The feed of feeds.toml to fetch from. Default: the only one.")
@click.option("--place", metavar="TEXT", help='Location indicator or "LAT,LON". Default: the report\'s station.')
@click.option("--aircraft", metavar="ID", help="Profile, see `advisor aircraft`. Default from the checklist.")
@_folder
@click.option("--heading", metavar="DEG", help="Nose heading on the stand, true.")
@click.option("--parked-since", metavar="TIME", help="Standing outside since then.")
@click.option("--treated-at", metavar="TIME", help="Last treated against ice at that time.")
@click.option("--seen", metavar="frost|snow|ice", help="A deposit that somebody has seen on the aircraft.")
@click.option("--fuel-temperature", metavar="QTY", help='Fuel in the wing tanks, "-8 degC" or a number in °C.')
@click.option("--fuel-fill", metavar="PERCENT", help="How full the wing tanks are.")
@click.option("--walk-round", metavar="START/END", help="Replaces the checklist's usual window.")
@click.option("--doors-open", metavar="START/END", help="Replaces the checklist's usual window.")
@click.option("--take-off", metavar="TIME", help="Replaces the checklist's usual time.")
@click.option("--since", metavar="BRIEF.json", help="Say first what changed since that brief.")
@click.option("--full", is_flag=True, help="Text with the longer explanations.")
@_format("text", "json", "html", "pdf")
@_out
def brief(
    files: tuple[str, ...], reports: tuple[str, ...], form: str, output: str | None, now: str | None,
    since: str | None, full: bool, station: str | None, feed: str | None, **asked: Any,
) -> None:  # fmt: skip
    """Brief of a departure: what to take, look at, ask for and leave shut, and why."""
    from advisor.brief import advise

    before = _earlier(since)
    moment = _now(now)
    texts, notes = _fetched(station, feed, asked["checklist"], moment)
    if station is None or files or reports:
        texts = (*texts, *_texts(files, reports))
    made = advise(texts, now=moment, notes=notes, **asked)
    if form == "json":
        from advisor.advice import to_json

        _write(to_json(made), output)
        return
    if form == "html":
        from advisor.render.html import render_html

        _write(render_html(made, before=before).encode("utf-8"), output)
        return
    if form == "pdf":
        from advisor.render.pdf import render_pdf

        if output is None and sys.stdout.isatty():
            raise click.UsageError("a PDF is not for a terminal: give --output FILE")
        _write(render_pdf(made, before=before), output)
        return
    from advisor.render.text import render

    body = render(made, before=before, full=full)
    if output is None and _coloured():
        from advisor.render.terminal import show

        show(body)
        return
    _write(body.encode("utf-8"), output)


def _fetched(
    station: str | None, feed: str | None, folder: str | None, now: datetime
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Texts of a station's reports from a feed, and what has to be said about them."""
    if station is None:
        if feed is not None:
            raise click.UsageError("--feed without --station: say of which station")
        return (), ()
    import time

    from advisor.feeds import texts_from_feed

    texts, notes = texts_from_feed(
        station, feed, checklist_folder=Path(folder) if folder else None, now=now, ticks=time.monotonic,
        sleep=time.sleep,
    )  # fmt: skip
    return tuple(texts), tuple(notes)


def _earlier(since: str | None) -> Any:
    if since is None:
        return None
    import msgspec

    from advisor.advice import Brief

    hint = "give a file written by advisor brief --format json"
    try:
        data = Path(since).read_bytes()
        return msgspec.json.decode(data, type=Brief)
    except OSError as error:
        raise click.UsageError(f"--since: {since}: {error.strerror}; {hint}") from None
    except msgspec.MsgspecError as error:
        raise click.UsageError(f"--since: {since} is not a brief ({error}); {hint}") from None


def _coloured() -> bool:
    import os

    return sys.stdout.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


@main.command()
@_reports
@_report
@_at
@_format("text", "json")
@_out
def decode(files: tuple[str, ...], reports: tuple[str, ...], now: str | None, form: str, output: str | None) -> None:
    """Every group of every report: its status and its meaning."""
    import msgspec

    from advisor.report import decode as decoding
    from advisor.report import reading

    moment = _now(now)
    read = [report for text in _texts(files, reports) for report in reading.read_all(text, now=moment)]
    if form == "json":
        data = msgspec.json.format(msgspec.json.encode(decoding.decode_data(read)), indent=2) + b"\n"
    else:
        data = decoding.decode_text(read).encode("utf-8")
    _write(data, output)


@main.command("aircraft")
@_folder
@_format("text", "json")
def aircraft_command(checklist: str | None, form: str) -> None:
    """The aircraft profiles: id, name, size and doors."""
    from advisor.checklist import aircraft, show

    profiles = aircraft.load_profiles(Path(checklist) if checklist else None)
    if form == "json":
        import msgspec

        _write(msgspec.json.format(msgspec.json.encode(show.profiles_data(profiles)), indent=2) + b"\n", None)
    else:
        _write(show.profiles_text(profiles).encode("utf-8"), None)


@main.group()
def checklist() -> None:
    """Check and show checklists."""


@checklist.command("check")
@click.argument("folder", metavar="DIR")
def checklist_check(folder: str) -> None:
    """Read an operator's folder and say every fault in it, or what it changes."""
    from advisor.checklist import show

    _write(show.check(Path(folder)).encode("utf-8"), None)


@checklist.command("show")
@click.argument("rule", required=False, metavar="[ID]")
@_folder
def checklist_show(rule: str | None, checklist: str | None) -> None:
    """All rules in a line each, or one rule's page."""
    from advisor.checklist import revision, show
    from advisor.render import example

    loaded: Checklist = revision.load(Path(checklist) if checklist else None)
    _write(show.page(loaded, rule, example.of(loaded)).encode("utf-8"), None)


@main.command("schema")
@click.argument("name", type=click.Choice(["brief", "plan", "checklist", "aircraft", "pads"]))
def schema_command(name: str) -> None:
    """JSON Schema of what is printed or read."""
    import msgspec

    if name == "brief":
        from advisor.advice import schema
    elif name == "plan":
        from advisor.slots.result import schema
    elif name == "pads":
        from advisor.slots.pads import pads_schema as schema
    elif name == "checklist":
        from advisor.checklist.rules import checklist_schema as schema
    else:
        from advisor.checklist.aircraft import profile_schema as schema
    _write(msgspec.json.format(msgspec.json.encode(schema()), indent=2) + b"\n", None)


# only the options are loaded here; planning and the server are loaded when they are asked for
from advisor.cli_serve import serve  # noqa: E402
from advisor.cli_slots import command as slots_command  # noqa: E402

main.add_command(slots_command)
main.add_command(serve)

if __name__ == "__main__":
    main()
