"""The command `decode`."""

from __future__ import annotations

import click

from advisor.cli.io import (
    files_argument,
    format_option,
    now_option,
    output_option,
    present,
    report_option,
    texts_of,
    write,
)


@click.command()
@files_argument
@report_option
@now_option
@format_option("text", "json")
@output_option
def decode(files: tuple[str, ...], reports: tuple[str, ...], now: str | None, form: str, output: str | None) -> None:
    """Every group of every report: its status and its meaning."""
    import msgspec

    from advisor.report import decode as decoding
    from advisor.report import reading

    moment = present(now)
    read = [report for text in texts_of(files, reports) for report in reading.read_all(text, now=moment)]
    if form == "json":
        data = msgspec.json.format(msgspec.json.encode(decoding.decode_data(read)), indent=2) + b"\n"
    else:
        data = decoding.decode_text(read).encode("utf-8")
    write(data, output)
