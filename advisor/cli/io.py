"""What the commands share: options, numbers, the texts that the user names, the present, and what is said."""

from __future__ import annotations

import errno
import re
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import click

from advisor.cli.extras import not_installed
from advisor.cli.output import named, write
from advisor.errors import AdvisorError, ReportError

__all__ = ["write"]

MOST_INPUT = 20_000_000
MOST_LINE, MOST_WORD = 1000, 160


def texts_of(files: tuple[str, ...], reports: tuple[str, ...]) -> list[str]:
    """The report texts of files, "-" for standard input, and options."""
    for text in reports:
        if not _is_text(text):
            raise ReportError("is not text (a byte that is no UTF-8)", where="--report", hint="give a METAR or SPECI")
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
            if sys.stdin is None:
                raise ReportError("is closed", where="standard input", hint=hint)
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
        # what is decoded begins behind a byte order mark
        at = len(data) - len(error.object) + error.start + 1
        raise ReportError(f"is not text (byte {at})", where=where, hint=hint) from None


def read_bytes(name: str) -> bytes:
    """The bytes of a file. Raises OSError where it cannot be read or, as a device may, goes on for ever."""
    with Path(name).open("rb") as file:
        data = file.read(MOST_INPUT + 1)
    if len(data) > MOST_INPUT:
        raise OSError(errno.EFBIG, f"is larger than {MOST_INPUT // 1_000_000} MB")
    return data


def said(text: str) -> str:
    """A message as it may be shown: no sign that steers a terminal or turns the line, nothing of any length."""
    return "\n".join(_line(line) for line in text.split("\n"))


def _line(text: str) -> str:
    seen = "".join(sign if sign.isprintable() else ascii(sign)[1:-1] for sign in text[: 4 * MOST_LINE])
    seen = re.sub(rf"\S{{{MOST_WORD},}}", lambda word: f"{word[0][:100]}...{word[0][-40:]}", seen)
    return seen if len(seen) <= MOST_LINE else f"{seen[:MOST_LINE]}..."


def _is_text(text: str) -> bool:
    """Whether an option came as UTF-8: a byte that is none comes as half a sign."""
    return not any("\ud800" <= sign <= "\udfff" for sign in text)


class _Plain:
    """A number in the digits 0 to 9: Python itself also takes 1_0 and the digits of other scripts."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        if isinstance(value, str) and not re.fullmatch(r"[-+]?\d+(\.\d+)?", value, re.ASCII):
            self.fail(f"{value[:40]!r} is not a number.", param, ctx)  # type: ignore[attr-defined]
        return super().convert(value, param, ctx)  # type: ignore[misc]


class WholeOption(_Plain, click.IntRange):
    """A whole number within a range, in plain digits."""


class Decimal(_Plain, click.FloatRange):
    """A number within a range, in plain digits."""


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


files_argument = click.argument("files", metavar="[REPORT]...", nargs=-1)
report_option = click.option("--report", "reports", multiple=True, metavar="TEXT", help="Report text; may be repeated.")
now_option = click.option(
    "--now", metavar="TIME", help="Take this as the present, RFC 3339. Default: the system clock."
)
output_option = click.option(
    "--output", metavar="FILE", callback=named, help="Write to a file instead of standard output."
)
checklist_option = click.option("--checklist", metavar="DIR", help="The operator's folder, laid over what is shipped.")


def format_option(*names: str) -> Callable[[Any], Any]:
    """The option `--format` with these names, the first one where none is given."""
    return click.option(
        "--format", "form", type=click.Choice(names), default=names[0], show_default=True, help="What to print."
    )
