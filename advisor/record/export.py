"""The record as files that outlive the program: JSON lines, a walk each, and CSV, an event each. Pure."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence

import msgspec

from advisor.record.chain import Event

COLUMNS = (
    "seq",
    "at",
    "kind",
    "walk",
    "line",
    "zone",
    "found",
    "step",
    "by",
    "role",
    "note",
    "data",
    "previous",
    "hash",
)
# a cell that begins so is a formula to a spreadsheet
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def json_lines(walks: Iterable[Sequence[Event]]) -> Iterator[bytes]:
    """A walk a line: its id, and its events as the chain holds them."""
    for events in walks:
        yield msgspec.json.encode({"schema": "walk/1", "id": events[0].walk, "events": events}) + b"\n"


def table(events: Iterable[Event]) -> Iterator[bytes]:
    """CSV with a head, UTF-8; a text that a spreadsheet would take as a formula gets an apostrophe before it."""
    yield _line(COLUMNS)
    for event in events:
        data = event.data or {}
        cells = {
            "seq": event.seq,
            "at": event.at,
            "kind": event.kind,
            "data": "" if event.data is None else msgspec.json.encode(event.data, order="sorted").decode(),
            "previous": event.previous,
            "hash": event.hash,
        }
        yield _line([_plain(str(cells[name] if name in cells else data.get(name, ""))) for name in COLUMNS])


def _plain(text: str) -> str:
    return f"'{text}" if text.startswith(_FORMULA) else text


def _line(cells: Sequence[str]) -> bytes:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerow(cells)
    return out.getvalue().encode("utf-8")
