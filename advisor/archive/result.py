"""The result of a replay as data: what `advisor replay --format json` prints."""

from __future__ import annotations

import msgspec
import numpy as np

from advisor.archive.alike import Against
from advisor.archive.tally import Tally, percentile
from advisor.checklist.evaluate import STATUSES
from advisor.departure import rfc3339

REQUEST = "de-icing-request"
EXPECTED, LIKELY, POSSIBLE, CANNOT_TELL, _ = range(len(STATUSES))


class RuleCount(msgspec.Struct, frozen=True):
    """How often a rule came up. wants: what was missing where it could not be told, the most frequent first."""

    id: str
    expected: int
    likely: int
    possible: int
    cannot_tell: int
    wants: dict[str, int] = {}


class Month(msgspec.Struct, frozen=True):
    """One month: lines are those told (expected, likely or possible), de-icing counts briefs with that request."""

    month: str
    briefs: int
    lines_median: int
    lines_p90: int
    lines_worst: int
    de_icing_expected: int
    de_icing_likely: int
    de_icing_possible: int
    rules: dict[str, tuple[int, int, int, int]] = {}


class ExampleOut(msgspec.Struct, frozen=True):
    """A report to open, with the departure that a brief of it takes."""

    rule: str
    station: str
    at: str
    raw: str


class ReplayChecklist(msgspec.Struct, frozen=True):
    """Which checklist."""

    name: str
    revision: str
    fingerprint: str


class BadRow(msgspec.Struct, frozen=True):
    """A row that could not be used: where it stands, and why."""

    where: str
    why: str


class BankDeparture(msgspec.Struct, frozen=True):
    """One departure of a bank."""

    off_block: str
    station: str


class BankCount(msgspec.Struct, frozen=True):
    """What became of the departures of a bank beside those that were replayed.

    given: all of them; without_report: those for which the archive has none, first_without: the first few of them by
    time; not_done: those whose report may lie in parts that are missing.
    """

    given: int
    without_report: int
    not_done: int
    first_without: list[BankDeparture]


class Replay(msgspec.Struct, frozen=True):
    """All of it.

    reports: rows found; read: reports that were replayed (or departures, where a bank was given); partly: with a group
    that was not decoded; refused: rows that could not be used; doubled: another report of the same minute stands for
    them; nil: those that say only that there is none. departures: how many of a bank were counted, None without one;
    bank: what became of the others. left_out: reports by station of those without a position. failed: parts that
    failed twice. partial: some are missing. read_in_full: reports that tokens alone did not settle.
    """

    reports: int
    read: int
    partly: int
    refused: int
    doubled: int
    nil: int
    stations: int
    from_: str | None = msgspec.field(name="from")
    until: str | None
    seconds: float
    checklist: ReplayChecklist
    aircraft: str
    rules: list[RuleCount]
    by_month: list[Month]
    examples: list[ExampleOut]
    against: Against | None = None
    partial: bool = False
    left_out: dict[str, int] = {}
    bad_rows: list[BadRow] = []
    failed: list[str] = []
    departures: int | None = None
    bank: BankCount | None = None
    read_in_full: int = 0
    schema: str = "replay/1"


def rule_counts(tally: Tally) -> list[RuleCount]:
    """The counts of all months, a row a rule."""
    wants: dict[str, dict[str, int]] = {}
    for (rule, name), number in sorted(tally.wants.items(), key=lambda one: (-one[1], one[0])):
        wants.setdefault(rule, {})[name] = number
    return [
        RuleCount(
            id=rule,
            expected=int(row[EXPECTED]),
            likely=int(row[LIKELY]),
            possible=int(row[POSSIBLE]),
            cannot_tell=int(row[CANNOT_TELL]),
            wants=wants.get(rule, {}),
        )
        for rule, row in zip(tally.rules, tally.total(), strict=True)
    ]


_SHOWN = [EXPECTED, LIKELY, POSSIBLE, CANNOT_TELL]


def months(tally: Tally) -> list[Month]:
    """The months in order."""
    request = tally.rules.index(REQUEST) if REQUEST in tally.rules else -1
    every_month = []
    for name in sorted(tally.by_month):
        counts, lines = tally.by_month[name], tally.lines[name]
        asked = counts[request] if request >= 0 else np.zeros(counts.shape[1], dtype=np.int64)
        every_month.append(
            Month(
                name,
                int(lines.sum()),
                percentile(lines, 0.5),
                percentile(lines, 0.9),
                int(np.flatnonzero(lines)[-1]),
                int(asked[EXPECTED]),
                int(asked[LIKELY]),
                int(asked[POSSIBLE]),
                dict(zip(tally.rules, map(tuple, counts[:, _SHOWN].tolist()), strict=True)),
            )
        )
    return every_month


def examples(tally: Tally) -> list[ExampleOut]:
    """Reports to open, up to three a rule."""
    return [
        ExampleOut(rule, one.station, rfc3339(one.at_s), one.raw)
        for rule in tally.rules
        for one in tally.examples.get(rule, ())
    ]


def to_json(made: Replay) -> bytes:
    """The JSON of a replay, indented, with a line end."""
    return msgspec.json.format(msgspec.json.encode(made), indent=2) + b"\n"
