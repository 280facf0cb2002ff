"""The command `checklist coverage`."""

from __future__ import annotations

import click

from advisor.cli.io import format_option, output_option, write


@click.command("coverage")
@click.argument("folder", metavar="DIR")
@click.option(
    "--strict", is_flag=True, help="Fail where a rule is never reached, two overlap, or a hazard has no rule."
)
@format_option("text", "json", "html")
@output_option
@click.pass_context
def command(ctx: click.Context, folder: str, strict: bool, form: str, output: str | None) -> None:
    """Which hazards the checklist of a folder speaks to, for which class of aircraft and in which phase.

    "shipped" names what is shipped.
    """
    import msgspec

    from advisor.cli import desk
    from advisor.render import coverage as shown

    coverage = desk.coverage_of(folder)
    if form == "json":
        write(msgspec.json.format(msgspec.json.encode(coverage), indent=2) + b"\n", output)
    elif form == "html":
        write(shown.render_html(coverage).encode("utf-8"), output)
    else:
        write(shown.as_text(coverage).encode("utf-8"), output)
    if strict and (coverage.never or coverage.overlaps or coverage.open):
        click.echo(f"advisor: {folder}: {_why(coverage)}, and --strict allows none", err=True)
        ctx.exit(7)


def _why(coverage: object) -> str:
    named = (
        ("never", "rules never reached"),
        ("overlaps", "rules in the same weather"),
        ("open", "hazards without a rule"),
    )
    return ", ".join(said for field, said in named if getattr(coverage, field))
