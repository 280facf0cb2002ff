"""The commands `record …`: what was found on walks, and whether the record still is what was written."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from advisor.cli.examples import HelpGroup
from advisor.cli.io import Decimal, format_option, needs_record, output_option, read_bytes, write

if TYPE_CHECKING:
    from advisor.record.head import RecordHead
    from advisor.record.store import Record


def _options(function: Callable[..., Any]) -> Callable[..., Any]:
    for option in (
        click.option("--database", metavar="URL", help="postgresql://USER@HOST/NAME or sqlite:///FILE."),
        click.option("--data", metavar="DIR", help="The folder that a server keeps its record in."),
    ):
        function = option(function)
    return function


def _open(data: str | None, database: str | None) -> Record:
    needs_record()
    from advisor.record.database import address
    from advisor.record.store import Record

    if data is None and database is None:
        raise click.UsageError("no record was named; give --data DIR or --database URL")
    return Record(address(data, database), lambda: datetime.now(UTC), make=False)


@click.group("record", cls=HelpGroup)
def record() -> None:
    """What was found on walks, who signed, what came of the advice.

    Nothing in it says that an aircraft is clean: "nothing seen" is what somebody said, and no more.
    """


@record.command("list")
@_options
@click.option("--since", metavar="TIME", default="", help="Opened at or after, RFC 3339 UTC.")
@click.option("--registration", metavar="TEXT", help="Of one aircraft only.")
@format_option("text", "json")
def list_command(data: str | None, database: str | None, since: str, registration: str | None, form: str) -> None:
    """The walks, the newest first."""
    import msgspec

    kept = _open(data, database)
    rows = kept.walks(since=since, registration=registration)
    kept.close()
    if form == "json":
        write(msgspec.json.format(msgspec.json.encode(rows), indent=2) + b"\n", None)
        return
    for row in rows:
        state = "signed" if row["signed_seq"] else "open"
        who = row["registration"] or row["aircraft"]
        click.echo(
            f"{row['id']}  {row['opened_at']}  {row['station'] or '?':6} {who}  off-block {row['off_block']}  {state}"
        )
    if not rows:
        click.echo("no walks")


@record.command("show")
@click.argument("walk")
@_options
@format_option("text", "json")
def show_command(walk: str, data: str | None, database: str | None, form: str) -> None:
    """One walk: what was found, the treatment, the signature."""
    from advisor.record.export import json_lines
    from advisor.render.walk import as_text

    kept = _open(data, database)
    events = kept.events(walk)
    kept.close()
    if not events:
        raise click.UsageError(f"no walk {walk}; the ids are listed by: advisor record list")
    if form == "json":
        import msgspec

        write(msgspec.json.format(b"".join(json_lines([events])).strip(), indent=2) + b"\n", None)
    else:
        click.echo(as_text(events))


@record.command("export")
@_options
@format_option("json", "csv", "text")
@output_option
def export_command(data: str | None, database: str | None, form: str, output: str | None) -> None:
    """All of it: JSON lines, a walk each; CSV, an event each; or text to read."""
    kept = _open(data, database)
    from advisor.record.export import json_lines, table
    from advisor.render.walk import as_text

    pieces: Iterable[bytes]
    if form == "text":
        pieces = (f"{as_text(events)}\n\n".encode() for events in kept.by_walk())
    else:
        pieces = json_lines(kept.by_walk()) if form == "json" else table(kept.stream())
    write(b"".join(pieces), output)
    kept.close()


@record.command("verify")
@_options
@click.option("--head", "head_file", metavar="FILE", help="A head kept elsewhere: the record has to hold it still.")
@click.option(
    "--photos", multiple=True, metavar="DIR", help="Photos of another server of this record; may be repeated."
)
@format_option("text", "json")
@click.pass_context
def verify_command(
    ctx: click.Context,
    data: str | None,
    database: str | None,
    head_file: str | None,
    photos: tuple[str, ...],
    form: str,
) -> None:
    """Whether the record is as it was written: events, the list of walks, answers to keys, photos.

    Photos are looked for in the folder photos of --data and in each --photos. Exits 7 and names what does not hold.
    """
    import msgspec

    for name in photos:
        if not Path(name).is_dir():
            raise click.UsageError(f"--photos: {name} is no folder; give the folder photos of a server's --data")
    kept = _open(data, database)
    from advisor.record.derived import has_photos
    from advisor.record.verify import check

    head = _head(head_file) if head_file is not None else None
    folders = [*([] if data is None else [Path(data) / "photos"]), *map(Path, photos)]
    faults = list(check(kept, None if head is None else (head.seq, head.hash), folders))
    seq, digest = kept.head()
    unseen = not folders and has_photos(kept.engine)
    kept.close()
    if unseen:
        click.echo("photos were not looked at; give --data DIR, or --photos DIR where they lie", err=True)
    if form == "json":
        found = {"schema": "verify/1", "holds": not faults, "events": seq, "hash": digest, "faults": faults}
        write(msgspec.json.encode({**found, "photos_looked_at": not unseen}) + b"\n", None)
    elif faults:
        click.echo(f"the record does not hold: {faults[0]}" + (f" ({len(faults)} faults)" if len(faults) > 1 else ""))
        for fault in faults[1:50]:
            click.echo(fault, err=True)
    else:
        click.echo(f"the record holds: {seq} events, the last hash is {digest}")
    if faults:
        ctx.exit(7)


def _head(name: str) -> RecordHead:
    """A head from a file. Refused where its signature does not hold: then it pins nothing."""
    import msgspec

    from advisor.record.head import RecordHead, holds

    try:
        head = msgspec.json.decode(read_bytes(name), type=RecordHead)
    except OSError as error:
        raise click.UsageError(f"--head: {name}: {error.strerror}") from None
    except msgspec.MsgspecError:
        raise click.UsageError(f"--head: {name} is no head; make one by: advisor record head") from None
    if not holds(head):
        raise click.UsageError(f"--head: the signature in {name} does not hold; take the head as it was printed")
    return head


@record.command("head")
@_options
@click.option("--key", "key_file", metavar="FILE", help="The key to sign with; made there where there is none.")
@format_option("json", "text")
@output_option
def head_command(data: str | None, database: str | None, key_file: str | None, form: str, output: str | None) -> None:
    """The last event's number and hash, signed. Print it, and keep it away from the record."""
    import msgspec

    kept = _open(data, database)
    from advisor.record.head import KEY_FILE, key_at, sign

    seq, digest = kept.head()
    kept.close()
    if key_file is None and data is None:
        raise click.UsageError("no key was named; give --key FILE")
    path = Path(key_file) if key_file is not None else Path(str(data)) / KEY_FILE
    head = sign(seq, digest, f"{datetime.now(UTC):%Y-%m-%dT%H:%M:%SZ}", key_at(path))
    if form == "json":
        write(msgspec.json.format(msgspec.json.encode(head), indent=2) + b"\n", output)
        return
    said = f"record: event {head.seq} of {head.at}\nhash       {head.hash}\n"
    said += f"key        {head.key}\nsignature  {head.signature}\n"
    write(said.encode(), output)


@record.command("outcomes")
@_options
@click.option("--since", metavar="TIME", default="", help="Walks opened at or after, RFC 3339 UTC.")
@format_option("text", "json")
def outcomes_command(data: str | None, database: str | None, since: str, form: str) -> None:
    """For each rule how often it was found, not found, not looked at, and missed, with 95 % intervals."""
    import msgspec

    kept = _open(data, database)
    from advisor.record.outcomes import outcomes
    from advisor.record.walk import read
    from advisor.render.outcomes import as_text

    walks = (walk for events in kept.by_walk() if (walk := read(events)) is not None and walk.opened_at >= since)
    counted = outcomes(walks)
    kept.close()
    if form == "json":
        write(msgspec.json.format(msgspec.json.encode(counted), indent=2) + b"\n", None)
    else:
        click.echo(as_text(counted))


@record.command("drop")
@_options
@click.option("--keep", "days", type=Decimal(1), required=True, metavar="DAYS", help="Keep walks so long.")
def drop_command(data: str | None, database: str | None, days: float) -> None:
    """Drop what was said on older walks. Their hashes stay, and the record says that it was dropped."""
    kept = _open(data, database)
    from advisor.record.keeping import drop_older

    count = drop_older(kept, days, datetime.now(UTC), None if data is None else Path(data) / "photos")
    kept.close()
    click.echo(f"dropped {count} walk{'' if count == 1 else 's'}")


@record.command("token")
@click.argument("name")
@click.argument("role", type=click.Choice(("read", "walk", "sign", "edit")))
def token_command(name: str, role: str) -> None:
    """A token for a person: the line for the token file, and on standard error the token, which is shown only once."""
    from advisor.record.tokens import new_token

    try:
        token, line = new_token(name, role)
    except ValueError as error:
        raise click.UsageError(str(error)) from None
    click.echo(line)
    click.echo(f"token of {name}, shown only now: {token}", err=True)
