"""The command `serve`. Only click is loaded here; the server is loaded when it starts."""

from __future__ import annotations

from pathlib import Path

import click


@click.command("serve")
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option("--port", type=click.IntRange(0, 65535), default=8080, show_default=True, help="Port to listen on.")
@click.option("--data", metavar="DIR", help="Keep briefs there for a day. Default: in memory.")
@click.option(
    "--rate-limit", type=click.IntRange(0, 100_000), default=0, show_default=True, metavar="N",
    help="Briefs a minute and address; 0 for no limit.",
)  # fmt: skip
@click.option("--checklist", metavar="DIR", help="The operator's folder, laid over what is shipped.")
def serve(host: str, port: int, data: str | None, rate_limit: int, checklist: str | None) -> None:
    """The page and the API, on this machine unless told otherwise."""
    try:
        import uvicorn

        from advisor.web.app import create_app
    except ModuleNotFoundError as error:
        raise click.UsageError(f"{error.name} is not installed; pip install 'advisor[web]'") from None
    from advisor.web.model import Settings

    folder = None if data is None else Path(data)
    settings = Settings(data=folder, rate_limit=rate_limit, checklist=None if checklist is None else Path(checklist))
    try:
        app = create_app(settings)
    except OSError as error:
        raise click.UsageError(f"--data: {data}: {error.strerror}; give a folder that can be written") from None
    click.echo(f"http://{f'[{host}]' if ':' in host else host}:{port}/", err=True)
    # who is behind a proxy cannot be known here, so no header is believed
    uvicorn.run(
        app, host=host, port=port, proxy_headers=False, server_header=False, access_log=False, log_level="warning"
    )
