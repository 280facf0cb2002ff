"""What the commands share: options, the texts that the user names, the present, and where a result goes."""

from __future__ import annotations

import sys
from collections.abc import Callable
from datetime import UTC, datetime
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import click

from advisor.cli.extras import not_installed
from advisor.errors import AdvisorError, ReportError

MOST_INPUT = 20_000_000


def texts_of(files: tuple[str, ...], reports: tuple[str, ...]) -> list[str]:
    """The report texts of files, "-" for standard input, and options."""
    texts = list(reports)
    for name in files:
        texts.append(read_file(name))
    if not texts:
        raise click.UsageError("no report: give a file, - for standard input, or --report TEXT")
    return texts


def read_file(name: str) -> str:
    """The text of a file, "-" for standard input. Raises ReportError where it is none."""
    hint = "give a text file with METAR or SPECI reports"
    try:
        if name == "-":
            data = sys.stdin.buffer.read(MOST_INPUT + 1)
        else:
            with Path(name).open("rb") as file:
                data = file.read(MOST_INPUT + 1)
    except OSError as error:
        raise ReportError(error.strerror or "cannot be read", where=name, hint=hint) from None
    where = "standard input" if name == "-" else name
    if len(data) > MOST_INPUT:
        raise ReportError(f"is larger than {MOST_INPUT // 1_000_000} MB", where=where, hint=hint)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise ReportError(f"is not text (byte {error.start + 1})", where=where, hint=hint) from None


def needs_record(otherwise: str = "") -> None:
    """Say how to install what a record needs, where it is not there."""
    for name in ("sqlalchemy", "alembic", "rfc8785", "PIL", "cryptography"):
        if find_spec(name) is None:
            error = not_installed(name)
            raise AdvisorError(error.what, hint=f"{error.hint}{otherwise}") if otherwise else error


def present(text: str | None) -> datetime:
    """The moment given as now, else the clock's."""
    from advisor.departure import read_moment

    return datetime.now(UTC) if text is None else read_moment(text, what="now")


def write(data: bytes, output: str | None) -> None:
    """To standard output, or to a file that is either whole or not there."""
    if output is None:
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
        return
    target = Path(output)
    half = target.with_name(f".{target.name}.part")
    try:
        half.write_bytes(data)
        half.replace(target)
    except OSError as error:
        half.unlink(missing_ok=True)
        raise click.UsageError(f"{output}: {error.strerror}; give a file in a folder that can be written") from None


files_argument = click.argument("files", metavar="[REPORT]...", nargs=-1)
report_option = click.option("--report", "reports", multiple=True, metavar="TEXT", help="Report text; may be repeated.")
now_option = click.option(
    "--now", metavar="TIME", help="Take this as the present, RFC 3339. Default: the system clock."
)
output_option = click.option("--output", metavar="FILE", help="Write to a file instead of standard output.")
checklist_option = click.option("--checklist", metavar="DIR", help="The operator's folder, laid over what is shipped.")


def format_option(*names: str) -> Callable[[Any], Any]:
    """The option `--format` with these names, the first one where none is given."""
    return click.option(
        "--format", "form", type=click.Choice(names), default=names[0], show_default=True, help="What to print."
    )
