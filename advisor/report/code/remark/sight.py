"""Remarks on cloud, visibility elsewhere and what hides or shows the hills.

Source: fmh-1 chapter 12; Canadian, Italian, Mexican and Russian remarks by common practice.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from math import isnan

from advisor.report.code import words as w
from advisor.report.code.entries import LedgerEntry, fraction
from advisor.report.code.group.sight import NO_FRACTION
from advisor.report.code.groups import ROWS
from advisor.report.code.remark.making import Say, remark, where
from advisor.report.model import CONFLICT, NOTED


def sunshine(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read the minutes of sunshine of the day before."""
    return remark(m, "sunshine", NOTED, f"sunshine {int(m[1])} minutes on the day before")


def oktas_by_type(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read oktas of cloud by type, as SC5AC2."""
    parts = re.findall(r"([A-Z]{2,4})(\d)", m[0])
    said = w.listed([f"{w.GENERA[name]} {n} okta{'' if n == '1' else 's'}" for name, n in parts if name in w.GENERA])
    return remark(m, "cloud remark", NOTED, f"cloud by type: {said}")


def cloud_type(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read one type of cloud, with its amount or base."""
    kind = m[2] or m[1]
    base = f", base {int(m[3]) * 100} ft" if m[3] else ""
    amount = f"{m[1]} okta{'' if m[1] == '1' else 's'} of " if m[1] and m[1].isdigit() else ""
    return remark(m, "cloud remark", NOTED, f"{amount}{w.GENERA.get(kind, kind)}{base}")


def cloud_codes(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read 8/ and the codes of low, middle and high cloud."""
    return remark(m, "cloud remark", NOTED, "codes of low, middle and high cloud types")


def lowest_base(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read QBB."""
    return remark(m, "cloud remark", NOTED, f"lowest cloud base {int(m[1])} m")


def layer(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read a layer of cloud as the body has it."""
    inner = next((f for row in ROWS if row.kind == "cloud" and (f := row.read(m[0], us))), None)
    said = inner.group.meaning if inner is not None else m[0]
    return remark(m, "cloud remark", NOTED, said)


_FRACTION = re.compile(r"\d{1,2}/\d{1,2}", re.ASCII)


def elsewhere(say: Callable[[re.Match[str]], str]) -> Say:
    """Say a visibility elsewhere; a fraction over zero is in conflict."""

    def visibility(m: re.Match[str], us: bool) -> LedgerEntry:
        if any(isnan(fraction(text)) for text in _FRACTION.findall(m[0])):
            return remark(m, "visibility elsewhere", CONFLICT, f"visibility elsewhere of {NO_FRACTION}")
        return remark(m, "visibility elsewhere", NOTED, say(m))

    return visibility


def lowest_visibility(m: re.Match[str]) -> str:
    """Say VIS MIN."""
    return f"lowest visibility {int(m[1])} m" if m[1] != "9999" else "lowest visibility 10 km or more"


def ceiling(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read CIG."""
    low = int(m[1]) * 100
    if m[2]:
        meaning = f"cloud ceiling varies from {low} to {int(m[2]) * 100} ft"
    else:
        meaning = f"cloud ceiling {low} ft" + (f" {where(m[3])}" if m[3] else "")
    return remark(m, "cloud base", NOTED, meaning)


def varying_cloud(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read an amount of cloud that varies."""
    return remark(m, "cloud remark", NOTED, f"cloud varies between {m[1]} and {m[2]}")


def trace(m: re.Match[str], us: bool) -> LedgerEntry:
    """Read a type of cloud of which there is a trace."""
    return remark(m, "cloud remark", NOTED, f"{w.GENERA[m[1]]}, a trace")
