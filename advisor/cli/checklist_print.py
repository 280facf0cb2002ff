"""The command `checklist print`."""

from __future__ import annotations

import sys

import click

from advisor.cli.io import format_option, output_option, write


@click.command("print")
@click.argument("folder", metavar="DIR")
@click.option("--since", metavar="OLD", help='Mark what changed since that folder; "shipped" names what is shipped.')
@click.option(
    "--made",
    "printed_at",
    metavar="TIME",
    help="Say when it was printed, RFC 3339. Default: no date, so that prints are equal.",
)
@format_option("text", "html", "pdf")
@output_option
def command(folder: str, since: str | None, printed_at: str | None, form: str, output: str | None) -> None:
    """The checklist of a folder as a chapter of a manual: cover, effective pages, conditions in words, limits.

    Two prints of the same content are equal byte for byte; the fingerprint on every page is the one in the briefs.
    "shipped" names what is shipped.
    """
    from advisor.checklist.desk.manual import manual
    from advisor.cli import desk
    from advisor.departure import read_moment, rfc3339
    from advisor.render import manual as printed

    moment = "" if printed_at is None else rfc3339(read_moment(printed_at, what="made").timestamp())
    checklist, _ = desk.read(folder)
    told = manual(checklist, None if since is None else desk.read(since)[0], printed_at=moment)
    if form == "html":
        write(printed.render_html(told).encode("utf-8"), output)
        return
    if form == "pdf":
        if output is None and sys.stdout.isatty():
            raise click.UsageError("a PDF is not for a terminal: give --output FILE")
        write(printed.render_pdf(told), output)
        return
    write(printed.render_text(told).encode("utf-8"), output)
