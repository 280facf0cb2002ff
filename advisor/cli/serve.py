"""The command `serve`. Only click is loaded here; the server is loaded when it starts."""

from __future__ import annotations

from contextlib import suppress
from importlib.util import find_spec
from ipaddress import ip_address
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from advisor.cli import memory
from advisor.cli.extras import not_installed
from advisor.cli.io import Decimal, WholeOption, needs_record

if TYPE_CHECKING:
    from advisor.web.model import Settings


@click.command("serve")
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option("--port", type=WholeOption(0, 65535), default=8080, show_default=True, help="0 takes a free one.")
@click.option("--data", metavar="DIR", help="Keep briefs and plans there a day, and record walks. Default: in memory.")
@click.option("--database", metavar="URL", help="Record walks there, postgresql://…. Default: under --data.")
@click.option("--record/--no-record", default=None, help="Record walks. Default: with --data or --database.")
@click.option("--keep", type=Decimal(1), metavar="DAYS", help="Keep walks so long. Default: for ever.")
@click.option("--tokens", metavar="FILE", help="Who may: a name, a role, a hash a line. Default: this machine.")
@click.option("--proxy", "proxies", multiple=True, metavar="ADDRESS", help="Believe its forwarded headers; repeatable.")
@click.option(
    "--rate-limit",
    type=WholeOption(0, 100_000),
    default=0,
    show_default=True,
    metavar="N",
    help="Briefs and plans a minute and address; 0 for no limit.",
)
@click.option("--checklist", metavar="DIR", help="The operator's folder, laid over what is shipped.")
@click.option("--pads", metavar="FILE.toml", help="Plan de-icing slots too, at /slots, on these pads.")
@click.option("--edit", metavar="DIR", help="Edit the rules of a folder, at /edit; on this machine alone.")
def serve(
    host: str,
    port: int,
    data: str | None,
    database: str | None,
    record: bool | None,
    keep: float | None,
    tokens: str | None,
    proxies: tuple[str, ...],
    rate_limit: int,
    checklist: str | None,
    pads: str | None,
    edit: str | None,
) -> None:
    """Serve the page and the API, to this machine alone unless told otherwise.

    With --pads, also a page that plans de-icing slots. Briefs and plans are kept for a day. Walks are recorded where
    --data or --database says where to; on another address than this machine's own only with --tokens.
    """
    memory.set_memory(_MEMORY)
    import uvicorn

    from advisor.web.app import create_app
    from advisor.web.connections import Bounded, quieted, served
    from advisor.web.feed import from_files
    from advisor.web.model import Settings

    folder = None if checklist is None else Path(checklist)
    fetch, feeds = from_files(folder)
    settings = Settings(
        data=None if data is None else Path(data),
        rate_limit=rate_limit,
        checklist=folder,
        fetch=fetch,
        feeds=feeds,
        pads=None if pads is None else Path(pads),
        database=_database(data, database, record),
        keep_days=keep,
        tokens=None if tokens is None else Path(tokens),
        proxies=_proxies(proxies),
        edit=_edited(edit),
    )
    if settings.pads is not None:
        from advisor.slots.files.pads import load

        load(settings.pads, int(settings.clock().timestamp()))
    listener = _listen(host, port)
    here = ip_address(listener.getsockname()[0]).is_loopback
    if settings.database is not None and settings.tokens is None and not here:
        listener.close()
        hint = "give --tokens FILE (made by: advisor record token NAME ROLE), or --no-record"
        raise click.UsageError(f"--host {host}: others could write to the record; {hint}")
    if settings.edit is not None and not here:
        listener.close()
        raise click.UsageError(f"--host {host}: --edit is for this machine alone; leave --host out")
    app = served(_made(create_app, settings, data, listener), settings.proxies)
    shown = f"[{host}]" if ":" in host else host
    click.echo(f"http://{shown}:{listener.getsockname()[1]}/{'edit' if edit else ''} (stop with Ctrl-C)", err=True)
    if not here and settings.tokens is None:
        click.echo("advisor: there is no login: whoever reaches this address can use it", err=True)
    quieted()
    # forwarded headers are read by `served`, from the proxies named; addresses of briefs stay out of logs
    config = uvicorn.Config(
        app,
        http=Bounded,
        ws="none",
        proxy_headers=False,
        server_header=False,
        access_log=False,
        log_level="warning",
        backlog=BACKLOG,
        timeout_graceful_shutdown=10,
    )
    # the server has stopped in order when the interrupt comes out of it
    with suppress(KeyboardInterrupt):
        uvicorn.Server(config).run(sockets=[listener])


# threads share two pools of memory, one a core of a small server, and give back what a plan or a sheet needed once.
# Else each thread keeps a pool of its own as large as its largest plan: the thresholds by themselves grow with the
# largest block that was ever let go
_MEMORY = {memory.ARENA_MAX: 2, memory.MMAP_THRESHOLD: 131_072, memory.TRIM_THRESHOLD: 131_072}


# so many connections are taken at once before they are counted
BACKLOG = 64


def _database(data: str | None, database: str | None, record: bool | None) -> str | None:
    """Where walks are recorded; None where they are not."""
    if record is False:
        return None
    if data is None and database is None:
        if record:
            raise click.UsageError("--record: no place for the record; give --data DIR or --database URL")
        return None
    needs_record(", or give --no-record")
    from advisor.record.database import address

    return address(data, database)


def _edited(folder: str | None) -> Path | None:
    """The folder to edit; None where none is."""
    if folder is None:
        return None
    if find_spec("tomlkit") is None:
        raise not_installed("tomlkit")
    if not Path(folder).is_dir():
        raise click.UsageError(f"--edit {folder}: no such folder; advisor checklist start DIR begins one")
    return Path(folder)


def _proxies(given: tuple[str, ...]) -> tuple[str, ...]:
    for text in given:
        try:
            ip_address(text)
        except ValueError:
            raise click.UsageError(f"--proxy: {text!r} is no address; give one such as 127.0.0.1") from None
    return given


def _made(create_app: Any, settings: Settings, data: str | None, listener: Any) -> Any:
    try:
        return create_app(settings)
    except OSError as error:
        listener.close()
        raise click.UsageError(f"--data: {data}: {error.strerror}; give a folder that can be written") from None


def _listen(host: str, port: int) -> Any:
    import socket

    try:
        family = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0][0]
        listener = socket.create_server((host, port), family=family, backlog=256)
    except OSError as error:
        raise click.UsageError(
            f"cannot listen on {host} port {port}: {error.strerror}; give another --host or --port"
        ) from None
    # connections inherit it; without it an answer's second part waits 40 ms for the first to be acknowledged
    listener.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    return listener
