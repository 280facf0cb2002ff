"""All commands under one name, and what becomes of an error. Each command loads its room only when it runs."""

from __future__ import annotations

from typing import Any

import click

from advisor import __version__
from advisor.cli.brief import brief
from advisor.cli.checklist import aircraft_command, checklist
from advisor.cli.decode import decode
from advisor.cli.record import record
from advisor.cli.replay import replay
from advisor.cli.schema import schema_command
from advisor.cli.serve import serve
from advisor.cli.slots import command as slots_command
from advisor.cli.watch import watch
from advisor.errors import AdvisorError


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
        except ModuleNotFoundError as error:
            if error.name is None or error.name.startswith("advisor"):
                raise
            from advisor.cli.extras import not_installed

            missing = not_installed(error.name)
            click.echo(f"advisor: {missing}", err=True)
            ctx.exit(missing.exit_code)


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, message="%(version)s")
def main() -> None:
    """What the apron will be like during the walk round, and what follows from it.

    Nothing printed here says what is on the aircraft: only the inspection itself can tell.
    """


for _command in (
    brief,
    decode,
    slots_command,
    checklist,
    aircraft_command,
    serve,
    watch,
    replay,
    record,
    schema_command,
):
    main.add_command(_command)

if __name__ == "__main__":
    main()
