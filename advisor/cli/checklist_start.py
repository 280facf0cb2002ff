"""The commands `checklist start` and `checklist copy`."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import click

from advisor.cli.io import said, write


@click.command("start")
@click.argument("folder", metavar="DIR")
def start_command(folder: str) -> None:
    """Write a folder to begin with: commented, without a fault but for limits left blank."""
    from advisor.checklist.desk import start

    _say(start.start(Path(folder)), f"advisor checklist check {folder} says what is left to fill in")


@click.command("copy")
@click.argument("rule", metavar="ID")
@click.argument("folder", metavar="DIR")
def copy_command(rule: str, folder: str) -> None:
    """Copy a shipped rule into a folder, with its words for each class, its page and its situations."""
    from advisor.checklist.desk import start

    _say(start.copy(rule, Path(folder)), f"advisor checklist check {folder} says what your changes do")


def _say(paths: Iterable[Path], then: str) -> None:
    write("".join(f"written: {path}\n" for path in paths).encode("utf-8", "surrogateescape"), None)
    click.echo(said(then), err=True)
