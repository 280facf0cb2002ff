"""The commands about checklists and profiles."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from advisor.cli import (
    checklist_check,
    checklist_compare,
    checklist_coverage,
    checklist_print,
    checklist_start,
    checklist_try,
)
from advisor.cli.examples import HelpGroup
from advisor.cli.io import checklist_option, format_option, write

if TYPE_CHECKING:
    from advisor.checklist.rules import Checklist


@click.command("aircraft")
@checklist_option
@format_option("text", "json")
def aircraft_command(checklist: str | None, form: str) -> None:
    """The aircraft profiles: id, name, size and doors."""
    from advisor.checklist import aircraft, show

    profiles = aircraft.load_profiles(Path(checklist) if checklist else None)
    if form == "json":
        import msgspec

        write(msgspec.json.format(msgspec.json.encode(show.profiles_data(profiles)), indent=2) + b"\n", None)
    else:
        write(show.profiles_text(profiles).encode("utf-8"), None)


@click.group(cls=HelpGroup)
def checklist() -> None:
    """Learn, write, check, try and show checklists."""


for _command in (
    checklist_check.command,
    checklist_compare.command,
    checklist_coverage.command,
    checklist_print.command,
    checklist_start.start_command,
    checklist_start.copy_command,
    checklist_try.command,
):
    checklist.add_command(_command)


@checklist.command("show")
@click.argument("rule", required=False, metavar="[ID]")
@checklist_option
def checklist_show(rule: str | None, checklist: str | None) -> None:
    """All rules in a line each, or one rule's page."""
    from advisor.checklist import revision, show
    from advisor.render import example

    loaded: Checklist = revision.load(Path(checklist) if checklist else None)
    write(show.page(loaded, rule, example.of(loaded)).encode("utf-8"), None)


@checklist.command("terms")
@click.argument("word", required=False, metavar="[WORD]")
@checklist_option
@format_option("text", "json")
def checklist_terms(word: str | None, checklist: str | None, form: str) -> None:
    """The quantities that a condition may use, all of them or those that a word stands for, such as OAT or night."""
    import msgspec

    from advisor.checklist import revision
    from advisor.checklist.desk import terms
    from advisor.physics.derive import inputs

    listed = terms.terms(revision.load(Path(checklist) if checklist else None).rules, inputs)
    if word is not None:
        listed = terms.matching(listed, word)
    if form == "json":
        write(msgspec.json.format(msgspec.json.encode(listed), indent=2) + b"\n", None)
    else:
        write(terms.as_text(listed).encode("utf-8"), None)
