"""What stands below the options in the help of each command: an example, and the exit codes."""

from __future__ import annotations

import click

# by command; the files are the reader's own
EXAMPLES = {
    "brief": "advisor brief report.txt --off-block 0640Z --place 61.4,9.8 --heading 210",
    "decode": "advisor decode report.txt",
    "slots": "advisor slots schedule.csv report.txt --pads pads.toml",
    "aircraft": "advisor aircraft --format json",
    "serve": "advisor serve --port 8080 --data DIR --rate-limit 30",
    "watch": "advisor watch --station ZZZA --feed ours --off-block 0640Z",
    "replay": "advisor replay winter.csv --places places.csv",
    "schema": "advisor schema brief",
    "checklist check": "advisor checklist check DIR --strict",
    "checklist compare": "advisor checklist compare shipped DIR",
    "checklist copy": "advisor checklist copy strong-wind DIR",
    "checklist coverage": "advisor checklist coverage DIR --format html --output coverage.html",
    "checklist print": "advisor checklist print DIR --since shipped",
    "checklist show": "advisor checklist show torch",
    "checklist start": "advisor checklist start NEW",
    "checklist terms": "advisor checklist terms OAT",
    "checklist try": "advisor checklist try DIR",
    "record drop": "advisor record drop --data DIR --keep 400",
    "record export": "advisor record export --data DIR --format csv --output walks.csv",
    "record head": "advisor record head --data DIR --output HEAD.json",
    "record list": "advisor record list --data DIR",
    "record outcomes": "advisor record outcomes --data DIR",
    "record show": "advisor record show WALK --data DIR",
    "record token": "advisor record token AB sign",
    "record verify": "advisor record verify --data DIR --head HEAD.json",
}
CODES = """\b
Exit codes:
  0  done
  2  wrong use of the command, or an extra that is not installed
  3  report or departure that cannot be used
  4  checklist, aircraft, pads or holdover file that is not valid
  5  no plan exists
  6  a source or record not reached, or the result not written
  7  a check did not hold
  130  stopped from the keyboard"""


class HelpGroup(click.Group):
    """A group whose help says of each command the whole first sentence, on as many lines as it takes."""

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Name and first sentence of each command."""
        rows = [(name, self.commands[name].get_short_help_str(limit=1000)) for name in self.list_commands(ctx)]
        with formatter.section("Commands"):
            formatter.write_dl(rows)


def explained(command: click.Command, name: str = "") -> None:
    """Give a command, and all below it, their examples and the exit codes."""
    if isinstance(command, click.Group):
        for inner, below in command.commands.items():
            explained(below, f"{name} {inner}".strip())
        command.epilog = CODES
        return
    command.epilog = f"\b\nExample:\n  {_broken(EXAMPLES[name])}\n\n{CODES}"


def _broken(example: str) -> str:
    """An example within 80 columns, gone on with on a second line as in a shell."""
    if len(example) <= 74:
        return example
    cut = example.rindex(" ", 0, 72)
    return f"{example[:cut]} \\\n    {example[cut + 1 :]}"
