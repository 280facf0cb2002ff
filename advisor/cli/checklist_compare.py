"""The command `checklist compare`."""

from __future__ import annotations

import click

from advisor.cli.io import format_option, output_option, write


@click.command("compare")
@click.argument("old", metavar="OLD")
@click.argument("new", metavar="NEW")
@format_option("text", "json")
@output_option
@click.pass_context
def command(ctx: click.Context, old: str, new: str, form: str, output: str | None) -> None:
    """What NEW changes against OLD, rule by rule, each with a report in which the two briefs differ.

    OLD and NEW are folders; "shipped" names what is shipped. Ends with exit code 7 where NEW says less in anything.
    """
    import msgspec

    from advisor.checklist.desk import compare
    from advisor.cli import desk

    before, after = desk.read(old), desk.read(new)
    comparison = compare.compare(before[0], after[0], desk.search(before, after).find)
    if form == "json":
        write(msgspec.json.format(msgspec.json.encode(comparison), indent=2) + b"\n", output)
    else:
        write(compare.as_text(comparison).encode("utf-8"), output)
    if comparison.looser:
        ctx.exit(7)
