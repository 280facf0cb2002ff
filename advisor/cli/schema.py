"""The command `schema`."""

from __future__ import annotations

import click

from advisor.cli.io import (
    write,
)


@click.command("schema")
@click.argument("name", type=click.Choice(["brief", "plan", "checklist", "aircraft", "pads"]))
def schema_command(name: str) -> None:
    """JSON Schema of what is printed or read."""
    import msgspec

    if name == "brief":
        from advisor.brief.model import schema
    elif name == "plan":
        from advisor.slots.result import schema
    elif name == "pads":
        from advisor.slots.files.pads import pads_schema as schema
    elif name == "checklist":
        from advisor.checklist.rules import checklist_schema as schema
    else:
        from advisor.checklist.aircraft import profile_schema as schema
    write(msgspec.json.format(msgspec.json.encode(schema()), indent=2) + b"\n", None)
