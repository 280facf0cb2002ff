"""The command `serve`. Only click is loaded here; the server is loaded when it starts."""

from __future__ import annotations

from contextlib import suppress
from ipaddress import ip_address
from pathlib import Path
from typing import Any

import click


@click.command("serve")
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option("--port", type=click.IntRange(0, 65535), default=8080, show_default=True, help="0 takes a free one.")
@click.option("--data", metavar="DIR", help="Keep briefs there for a day. Default: in memory.")
@click.option(
    "--rate-limit",
    type=click.IntRange(0, 100_000),
    default=0,
    show_default=True,
    metavar="N",
    help="Briefs and plans a minute and address; 0 for no limit.",
)
@click.option("--checklist", metavar="DIR", help="The operator's folder, laid over what is shipped.")
@click.option("--pads", metavar="FILE.toml", help="Plan de-icing slots too, at /slots, on these pads.")
def serve(host: str, port: int, data: str | None, rate_limit: int, checklist: str | None, pads: str | None) -> None:
    """Serve the page and the API, to this machine alone unless told otherwise.

    With --pads, also a page that plans de-icing slots. Plans are kept in memory for a day.
    """
    import uvicorn

    from advisor.web.app import create_app
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
    )
    if settings.pads is not None:
        from advisor.slots.files.pads import load

        load(settings.pads, int(settings.clock().timestamp()))
    try:
        app = create_app(settings)
    except OSError as error:
        raise click.UsageError(f"--data: {data}: {error.strerror}; give a folder that can be written") from None
    listener = _listen(host, port)
    shown = f"[{host}]" if ":" in host else host
    click.echo(f"http://{shown}:{listener.getsockname()[1]}/ (stop with Ctrl-C)", err=True)
    if not ip_address(listener.getsockname()[0]).is_loopback:
        click.echo("advisor: there is no login; whoever reaches this address can use it", err=True)
    # who is behind a proxy cannot be known here, so no header is believed; addresses of briefs stay out of logs
    config = uvicorn.Config(app, proxy_headers=False, server_header=False, access_log=False, log_level="warning")
    # the server has stopped in order when the interrupt comes out of it
    with suppress(KeyboardInterrupt):
        uvicorn.Server(config).run(sockets=[listener])


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
