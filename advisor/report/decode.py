"""Every group of a report with status and meaning, as aligned text and as plain data."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from datetime import datetime
from typing import Any, Protocol

from advisor.report.model import CONFLICT, NOT_DECODED, Group

WIDTH = 80
_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
_PARTS = {"trend": "forecast trend, not observed", "remarks": "remarks"}
_LONGEST_COLUMN = 24


class Decoded(Protocol):
    """What a report or forecast must have to be listed."""

    @property
    def kind(self) -> str:
        """METAR, SPECI or TAF."""

    @property
    def station(self) -> str:
        """Location indicator."""

    @property
    def issued(self) -> datetime:
        """Aware UTC."""

    @property
    def raw(self) -> str:
        """The text."""

    @property
    def groups(self) -> tuple[Group, ...]:
        """Every group, in order."""


def decode_data(reports: Sequence[Decoded]) -> list[dict[str, Any]]:
    """List reports with all their groups as data that JSON can hold.

    reports: in any order, kept. Returns one dict a report: kind, station, issued (RFC 3339, Z), raw, groups (text,
    status, meaning, part).
    """
    return [
        {
            "kind": report.kind,
            "station": report.station,
            "issued": report.issued.strftime("%Y-%m-%dT%H:%M:%SZ"),
            "raw": report.raw,
            "groups": [
                {"text": group.text, "status": group.status, "meaning": group.meaning, "part": group.part}
                for group in report.groups
            ],
        }
        for report in reports
    ]


def _line(first: str, status: str, meaning: str, column: int) -> list[str]:
    lead = f"  {first:<{column}}  {status:<11}  "
    body = textwrap.wrap(meaning, WIDTH - len(f"  {'':<{column}}  {'':<11}  "), break_on_hyphens=False) or [""]
    lines = []
    if len(first) > column:
        lines += textwrap.wrap("  " + first, WIDTH, subsequent_indent="    ", break_on_hyphens=False)
        lead = f"  {'':<{column}}  {status:<11}  "
    lines.append((lead + body[0]).rstrip())
    lines += [" " * len(lead) + more for more in body[1:]]
    return lines


def decode_text(reports: Sequence[Decoded]) -> str:
    """List reports with all their groups as text, 80 columns wide, without colour.

    reports: in any order, kept. Returns lines ended by newlines; groups that were not used are counted at the end.
    """
    lines: list[str] = []
    for report in reports:
        if lines:
            lines.append("")
        at = report.issued
        date = f"{at.day} {_MONTHS[at.month - 1]} {at.year}, {at:%H:%M}Z"
        given = "" if getattr(report, "issued_given", True) else ", time of issue not given"
        lines.append(f"{report.kind} {report.station}, {date}{given}")
        column = min(max((len(group.text) for group in report.groups), default=0), _LONGEST_COLUMN)
        part = ""
        for group in report.groups:
            if group.part != part and group.part in _PARTS and group.text.upper() not in ("RMK", "RMKS"):
                if not (group.part == "remarks" and part == "remarks"):
                    lines.append(f" {_PARTS[group.part]}:")
            elif group.part != part and group.part == "remarks":
                lines.append(f" {_PARTS['remarks']}:")
            part = group.part
            lines += _line(group.text, group.status, group.meaning, column)
        unused = [group.text for group in report.groups if group.status in (CONFLICT, NOT_DECODED)]
        if unused:
            said = f"{len(unused)} not used, read them yourself: {' · '.join(unused)}"
            lines += textwrap.wrap(said, WIDTH, initial_indent=" ", subsequent_indent="   ", break_on_hyphens=False)
    return "\n".join(lines) + "\n" if lines else ""
