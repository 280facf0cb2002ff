"""The command `replay`."""

from __future__ import annotations

from pathlib import Path

import click

from advisor.cli.io import checklist_option, format_option, write


@click.command()
@click.argument("archives", metavar="ARCHIVE...", nargs=-1, required=True)
@checklist_option
@click.option("--class", "aircraft", metavar="ID", help="Aircraft profile. Default: the checklist's.")
@click.option("--month", metavar="YYYY-MM", help="The month in which reports without a time beside them begin.")
@click.option("--output", metavar="FILE", help="Write a row a report to this Parquet file.")
@format_option("text", "json")
def replay(
    archives: tuple[str, ...],
    checklist: str | None,
    aircraft: str | None,
    month: str | None,
    output: str | None,
    form: str,
) -> None:
    """What a checklist would have said over years of reports."""
    from advisor import places
    from advisor.archive import result, run
    from advisor.checklist import aircraft as profiles
    from advisor.checklist import revision
    from advisor.departure import read_month
    from advisor.errors import DepartureError
    from advisor.render.replay import render

    rules = revision.load(checklist)
    fleet = profiles.load_profiles(checklist)
    wanted = aircraft or rules.default_aircraft
    if wanted not in fleet:
        raise DepartureError(f"{wanted[:40]!r} is not known", where="class", hint=f"give one of {', '.join(fleet)}")
    asked = run.Asked(
        archives,
        rules,
        fleet[wanted],
        places.look_up,
        month=None if month is None else read_month(month),
        output=None if output is None else Path(output),
    )
    made = run.replay(asked)
    write(result.to_json(made) if form == "json" else render(made).encode("utf-8"), None)
