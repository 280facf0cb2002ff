"""All commands under one name, and what becomes of an error. Each command loads its room only when it runs."""

from __future__ import annotations

import gc
import sys
from collections.abc import Iterator, MutableMapping
from importlib import import_module
from typing import Any

import click

from advisor import __version__
from advisor.cli import STOPPED, say_stopped
from advisor.cli.examples import CODES, HelpGroup, explained
from advisor.cli.io import said
from advisor.cli.output import quieted
from advisor.errors import AdvisorError, OutputError

# done before there is anything to collect; what runs longer turns collection on again
SHORT = ("brief", "decode", "schema", "aircraft")

# the file and the name of each command
COMMANDS = {
    "brief": ("brief", "brief"),
    "decode": ("decode", "decode"),
    "slots": ("slots", "command"),
    "checklist": ("checklist", "checklist"),
    "aircraft": ("checklist", "aircraft_command"),
    "serve": ("serve", "serve"),
    "watch": ("watch", "watch"),
    "replay": ("replay", "replay"),
    "record": ("record", "record"),
    "schema": ("schema", "schema_command"),
}


class _Known(MutableMapping[str, click.Command]):
    """Commands by name, each read from its file when it is asked for: a brief does not wait for the others."""

    def __init__(self) -> None:
        """None read yet."""
        self.read: dict[str, click.Command] = {}

    def __getitem__(self, name: str) -> click.Command:
        if name not in SHORT:
            gc.enable()
        if name not in self.read:
            file, attribute = COMMANDS[name]
            command: click.Command = getattr(import_module(f"advisor.cli.{file}"), attribute)
            explained(command, name)
            self.read[name] = command
        return self.read[name]

    def __setitem__(self, name: str, command: click.Command) -> None:
        self.read[name] = command

    def __delitem__(self, name: str) -> None:
        del self.read[name]

    def __iter__(self) -> Iterator[str]:
        return iter({**COMMANDS, **self.read})

    def __len__(self) -> int:
        return len({**COMMANDS, **self.read})


def _said(error: click.ClickException) -> click.ClickException:
    # final for type checkers; its own words are the only place where click keeps what was typed
    setattr(error, "message", said(error.message))  # noqa: B010
    return error


class _Commands(HelpGroup):
    """Turns every error of ours into one line on standard error and the documented exit code."""

    def main(self, *args: Any, **extra: Any) -> Any:
        collects = gc.isenabled()
        gc.disable()
        try:
            return super().main(*args, **extra)
        except OSError as error:
            # of click's own printing; a reader that has gone away it leaves quietly
            quieted()
            click.echo(
                f"advisor: {said(error.strerror or 'cannot be written')}; make room, or write elsewhere", err=True
            )
            sys.exit(OutputError.exit_code)
        finally:
            if collects:
                gc.enable()
            if not args and not extra:
                # a command of its own is over: what is left goes with the process, and need not be looked through
                gc.freeze()

    def make_context(self, *args: Any, **extra: Any) -> click.Context:
        try:
            return super().make_context(*args, **extra)
        except click.ClickException as error:
            raise _said(error) from None
        except BrokenPipeError:
            quieted()
            raise click.exceptions.Exit(0) from None
        except KeyboardInterrupt:
            say_stopped()
            raise click.exceptions.Exit(STOPPED) from None

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except AdvisorError as error:
            click.echo(f"advisor: {said(str(error))}", err=True)
            ctx.exit(error.exit_code)
        except click.ClickException as error:
            raise _said(error) from None
        except BrokenPipeError:
            quieted()
            ctx.exit(0)
        except KeyboardInterrupt:
            # click would say that it aborted, with the code of no fault of ours
            say_stopped()
            ctx.exit(STOPPED)
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


@click.group(
    cls=_Commands, commands=_Known(), context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100}
)
@click.version_option(__version__, message="%(version)s")
def main() -> None:
    """What the apron will be like during the walk round, and what follows from it.

    Nothing printed here says what is on the aircraft: only the inspection itself can tell.
    """


main.epilog = CODES

if __name__ == "__main__":
    main()
