"""The command `checklist check`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from advisor.cli.io import format_option, write

if TYPE_CHECKING:
    from advisor.checklist.desk.check import Checked


@click.command("check")
@click.argument("folder", metavar="DIR")
@click.option("--strict", is_flag=True, help="Notes fail as well, and a controlled document has to say what it is.")
@format_option("text", "json")
@click.pass_context
def command(ctx: click.Context, folder: str, strict: bool, form: str) -> None:
    """Read an operator's folder and say every fault in it, or what it changes and what it says less."""
    from advisor.checklist.desk import check
    from advisor.feeds.file import files_of

    checked = check.check(Path(folder), strict=strict, feeds=files_of)
    if form == "json":
        _as_json(checked)
        if checked.faults:
            ctx.exit(4)
    else:
        checked.raise_faults()
        write(check.as_text(checked).encode("utf-8"), None)
    if strict and checked.notes:
        if form == "text":
            count = f"{len(checked.notes)} notes" if len(checked.notes) > 1 else "1 note"
            click.echo(f"advisor: {folder}: {count}, and --strict allows none", err=True)
        ctx.exit(7)


def _as_json(checked: Checked) -> None:
    import msgspec

    write(msgspec.json.format(msgspec.json.encode(checked), indent=2) + b"\n", None)
