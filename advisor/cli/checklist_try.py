"""The command `checklist try`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from advisor.cli.io import format_option, now_option, present, report_option, write

if TYPE_CHECKING:
    from advisor.brief.advise import Weighed
    from advisor.checklist.revision import ReadChecklist

# of a brief, as there
_DEPARTURE = (
    ("--off-block", "TIME", "With --report: HHMMZ, HH:MMZ, or date and time with offset."),
    ("--place", "TEXT", 'Location indicator or "LAT,LON". Default: the report\'s station.'),
    ("--aircraft", "ID", "Profile. Default from the checklist."),
    ("--heading", "DEG", "Nose heading on the stand, true."),
    ("--parked-since", "TIME", "Standing outside since then."),
    ("--treated-at", "TIME", "Last treated against ice at that time."),
    ("--seen", "nothing|frost|snow|ice", "What somebody has seen on the aircraft."),
    ("--looked-at", "TIME", "When that was. Default: now."),
    ("--fuel-temperature", "QTY", "Fuel in the wing tanks."),
    ("--fuel-fill", "PERCENT", "How full the wing tanks are."),
    ("--walk-round", "START/END", "Replaces the checklist's usual window."),
    ("--doors-open", "START/END", "Replaces the checklist's usual window."),
    ("--take-off", "TIME", "Replaces the checklist's usual time."),
)


def _departure(command: Any) -> Any:
    for name, metavar, said in reversed(_DEPARTURE):
        command = click.option(name, metavar=metavar, help=said)(command)
    return command


@click.command("try")
@click.argument("folder", metavar="DIR")
@click.argument("rule", required=False, metavar="[ID]")
@report_option
@now_option
@_departure
@format_option("text", "json")
@click.pass_context
def command(
    ctx: click.Context,
    /,
    folder: str,
    rule: str | None,
    reports: tuple[str, ...],
    now: str | None,
    form: str,
    **asked: str | None,
) -> None:
    """Try a folder's rules on its own situations, or on a report, and draw how a condition comes to its answer.

    "shipped" as DIR names the shipped checklist. Exit 7 where a rule does not do what its situation says.
    """
    import msgspec

    from advisor.checklist import revision
    from advisor.checklist.desk import situations
    from advisor.render import tried

    reading = revision.read(None if folder == "shipped" else Path(folder))
    whole = reading.checklist
    given = {name: value for name, value in asked.items() if value is not None}
    rules = {one.id: one for one in whole.rules}
    without: tuple[str, ...] = ()
    if reports:
        if "off_block" not in given:
            raise click.UsageError("--report without --off-block: say when it leaves")
        weighed = _weigh(reading, {"reports": list(reports), "now": present(now), **given})
        situations.situations(reading, rule)
        chosen = [rules[rule]] if rule else [one for one in whole.rules if one.origin == "operator"]
        trials = tried.on_report(chosen, weighed)
    elif given or now is not None:
        names = ", ".join(f"--{name.replace('_', '-')}" for name in (*given, *(("now",) if now else ())))
        raise click.UsageError(f"{names} without --report: a situation says its own")
    else:
        written = situations.situations(reading, rule)
        if folder == "shipped" and rule is None:
            written = tuple(one for each in rules for one in situations.situations(reading, each))
        trials = tried.in_situations(written, rules, lambda what: _weigh(reading, what))
        without = situations.without(reading) if rule is None else ()
    tries = tried.Tries(
        checklist=whole.name, revision=whole.revision, fingerprint=whole.fingerprint, tried=trials, without=without
    )
    if form == "json":
        write(msgspec.json.format(msgspec.json.encode(tries), indent=2) + b"\n", None)
    else:
        write(tried.as_text(tries, trees=rule is not None).encode("utf-8"), None)
    if tries.failed:
        if form == "text":
            places = ", ".join(f"{one.file}:{one.line}" for one in tries.failed)
            click.echo(f"advisor: {len(tries.failed)} of {len(trials)} do not hold: {places}", err=True)
        ctx.exit(7)


def _weigh(reading: ReadChecklist, asked: dict[str, Any] | Any) -> Weighed:
    from advisor import places
    from advisor.brief.advise import weigh

    given = dict(asked)
    return weigh(
        given.pop("reports"),
        checklist=reading.checklist,
        fleet=reading.checklist.profiles,
        gazetteer=places,
        **given,
    )
